"""The model file of a study: the middle of what is known of each constant, and how they move together."""

from __future__ import annotations

import json
import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.studying.posterior import BATCH_SD, placed
from libcure.studying.study import Study

__all__ = ["model_document"]

Floats = NDArray[np.float64]
SPEEDS = ("rate.k1.k_ref", "rate.k2.k_ref", "rate.k.k_ref", "inhibitor.k_z.k_ref")
MEASURED_SHARE = 0.7
"""A quantity counts as measured when its spread has fallen to this share of the family's."""


def _to_scale(scale: str, limits: tuple[float, float], x: Floats) -> Floats:
    if scale == "log":
        return np.asarray(np.log(x))
    low, high = limits
    return np.asarray(np.log((x - low) / (high - x)))


def _from_scale(scale: str, limits: tuple[float, float], y: float) -> float:
    if scale == "log":
        return math.exp(y)
    low, high = limits
    return low + (high - low) / (1.0 + math.exp(-y))


def model_document(study: Study) -> dict[str, Any]:
    """The document ``libcure/resin/1`` of a study.

    Its covariance is that of the rows, on scales on which no draw can leave what a value may be. A batch of a job varies
    against that of the study, so that the speeds vary more than the study alone says.

    Raises:
        CureError: constants that a model file may not have.
    """
    p, family = study.posterior, study.family
    values = family.values(p.rows.x[:, : family.dimensions])
    document = family.document()
    middle = {path: float(v[0]) for path, v in family.values(np.zeros((1, family.dimensions))).items()}
    limits = _core.resin_limits(json.dumps(placed(document, middle)), study.about["id"])
    scales, columns, nominal = [], [], {}
    for path, x in values.items():
        low, high = limits[path]
        # Scales that no draw leaves the limits on.
        scale = "logit" if math.isfinite(low) and math.isfinite(high) else "log"
        y = _to_scale(scale, (low, high), x)
        scales.append(scale)
        columns.append(y)
        nominal[path] = _from_scale(scale, (low, high), float(p.weight @ y))
    off = np.column_stack(columns)
    off = off - p.weight @ off
    matrix = (off * p.weight[:, None]).T @ off
    speeds = np.array([path in SPEEDS for path in values], float)
    matrix = matrix + 2.0 * BATCH_SD**2 * np.outer(speeds, speeds)
    document = placed(document, nominal)
    _say_what_was_measured(document, study, list(values))
    foretold = verified(study)
    document |= {
        "id": study.about["id"], "title": study.about["title"], "family": family.name, "status": "verified" if foretold else "estimated",
        "note": _note(study), "validity": _validity(study), "evidence": _evidence(study, foretold), "reference_outcomes": [],
    }  # fmt: skip
    document["covariance"] = {
        "parameters": list(values), "scale": scales, "matrix": [[float(v) for v in row] for row in 0.5 * (matrix + matrix.T)],
        "basis": "estimated", "source": "none", "where": "study of measurements with the prior of the family",
        "note": f"{p.effective:.0f} different rows; batch to batch {100.0 * BATCH_SD:.0f} % of the speed in addition, twice.",
    }  # fmt: skip
    return document


# The constants that a quantity of the family stands for.
_OF = {
    "rate.k1.k_ref": "gel_time", "rate.k2.k_ref": "gel_time", "rate.k.k_ref": "gel_time", "inhibitor.k_z.k_ref": "induction", "rate.k1.E": "E",
    "rate.k2.E": "E", "rate.k.E": "E", "inhibitor.k_z.E": "E_more", "rate.m": "m", "rate.n": "n", "diffusion.k_d0": "arrest", "diffusion.C1": "C1",
    "glass_transition.Tg0": "Tg0", "glass_transition.Tg_inf": "Tg_inf", "glass_transition.lambda": "lambda", "gel.alpha_gel": "alpha_gel",
    "heat_of_reaction": "heat", "specific_heat": "specific_heat", "viscosity.eta0": "viscosity", "viscosity.E": "E_viscosity", "viscosity.A": "A",
    "modulus.glass": "modulus", "modulus.width": "modulus_width", "shrinkage": "shrinkage",
}  # fmt: skip


def _say_what_was_measured(document: dict[str, Any], study: Study, paths: list[str]) -> None:
    """Each constant with how much of it is the family's prior."""
    priors = {prior.name: prior for prior in study.family.priors}
    for path in paths:
        prior = priors[_OF[path]]
        kept = study.posterior.kept(prior.name)
        measured = kept <= MEASURED_SHARE
        node = document
        for step in path.split("."):
            node = node[step]
        node["basis"] = "estimated" if measured else "assumption"
        node["where"] = "study: measured" if measured else "study: prior of the family"
        node["note"] = (f"{prior.title}: prior {prior.words} ({prior.source}); the measurements leave {100.0 * min(kept, 1.0):.0f} % of its spread.")


def _note(study: Study) -> str:
    unknown = [p.title for p in study.family.priors if study.posterior.kept(p.name) > MEASURED_SHARE]
    done = ", ".join(m.name for m in study.measurements if not m.hold_back)
    said = f"From a study of measurements ({done}) with the priors of the family {study.family.title}."
    if unknown:
        said += f" Hardly measured, so as wide as the family: {'; '.join(unknown)}."
    if not _cold_is_measured(study):
        said += " Nothing was measured about setting in the cold: releases below some 15 °C rest on the family's prior."
    return f"{said} {study.about['note']}".strip()


SETTING = ("releasable", "Tg", "conversion", "residual_heat", "modulus", "job")
"""Kinds that look at the cure after gelation."""
COLD_C = 15.0
"""Setting that was looked at up to there [°C] says how far a cold film cures (choice of this project)."""
ABOUT_K = 2.0
"""A measurement speaks for temperatures so close to its own (choice of this project)."""


def verified(study: Study) -> tuple[float, float] | None:
    """Temperatures [°C] between which what was held back came out as foretold, None where none did.

    All that was held back must be inside of what the rest foretells, and at both ends something must have looked at the cure after gelation:
    a gel time says nothing of the release.
    """
    held = [m for m in study.measurements if m.hold_back]
    if not held or not all(check.inside for check in study.checks if check.held_back):
        return None
    seen = [m.temperature_C for m in held if m.kind in SETTING and not math.isnan(m.temperature_C)]
    return (min(seen) - ABOUT_K, max(seen) + ABOUT_K) if seen else None


def _cold_is_measured(study: Study) -> bool:
    seen = any(m.kind in SETTING and m.temperature_C <= COLD_C and m.components[0].side <= 0 for m in study.measurements if not m.hold_back)
    return seen or study.posterior.kept("arrest") <= MEASURED_SHARE


def _evidence(study: Study, foretold: tuple[float, float] | None) -> dict[str, Any]:
    """What was measured, for every page and chart of the model."""
    kept = study.posterior.kept
    bulk = any(m.kind == "cup" for m in study.measurements if not m.hold_back) or kept("heat") <= MEASURED_SHARE
    found: dict[str, Any] = {
        "setting_in_the_cold": "measured" if _cold_is_measured(study) else "family",
        "heat_in_bulk": "measured" if bulk else "family",
    }
    if foretold:
        low, high = ({"value": T, "unit": "degC", "basis": "estimated", "source": "none", "where": "study: what was held back",
                      "note": "inside its band"} for T in foretold)  # fmt: skip
        found["verified"] = {"from": low, "to": high}
    return found


def _validity(study: Study) -> dict[str, Any]:
    seen = [m.temperature_C for m in study.measurements if not math.isnan(m.temperature_C)]
    said = f"measured from {min(seen):g} to {max(seen):g} degC; beyond, the spread of the activation energies speaks" if seen else "not measured"

    def quantity(value: float, unit: str) -> dict[str, Any]:
        return {"value": value, "unit": unit, "basis": "assumption", "source": "none", "where": "study", "note": said}

    low = min([0.0, *(math.floor(T) for T in seen)])
    return {
        "temperature_min": quantity(max(low, -10.0), "degC"), "temperature_max": quantity(100.0, "degC"), "alpha_max": quantity(0.98, "1"),
    }  # fmt: skip
