"""A fitted law as a resin model file, ready for predict and chart."""

from __future__ import annotations

import copy
import json
import tempfile
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from libcure import _core, documents
from libcure.errors import input_error
from libcure.fitting.law_fit import LawFit
from libcure.fitting.laws import Parameter
from libcure.fitting.model_free.schemes import SchemeFit
from libcure.models import read_resin, resin_path

__all__ = ["covariance_block", "law_document", "model_document", "scheme_document", "write_model"]

ZERO_CELSIUS = 273.15
TAKEN = ("density", "specific_heat", "conductivity", "variation", "glass_transition", "gel", "viscosity", "modulus",
         "shrinkage", "working_limit", "release", "temperature_limit")


def _quantity(value: float, unit: str, where: str, note: str, interval: tuple[float, float] | None = None,
              basis: str = "estimated") -> dict[str, Any]:
    found: dict[str, Any] = {"value": value, "unit": unit, "basis": basis, "source": "none", "where": where}
    if interval is not None and 0.0 < interval[0] < value < interval[1] < (10.0 if unit == "1" else np.inf):
        found["range"] = list(interval)
    found["note"] = note
    return found


def _place(document: dict[str, Any], path: str, value: Any) -> None:
    *steps, last = path.replace("[", ".").replace("]", "").split(".")
    node: Any = document
    for step in steps:
        node = node[int(step)] if isinstance(node, list) else node.setdefault(step, {})
    node[last] = value


def _value(document: Mapping[str, Any], path: str) -> float:
    node: Any = document
    for step in path.replace("[", ".").replace("]", "").split("."):
        node = node[int(step)] if isinstance(node, list) else node[step]
    return float(node["value"])


def _marked(node: Any, origin: str) -> Any:
    """Quantities of another model, each saying where it was taken from."""
    if isinstance(node, dict):
        if "value" in node and "unit" in node:
            note = f"Taken from the model {origin}, not measured here. {node.get('note', '')}".strip()
            return {**node, "note": note}
        return {key: _marked(value, origin) for key, value in node.items()}
    return [_marked(value, origin) for value in node] if isinstance(node, list) else node


def model_document(fit: LawFit, about: Mapping[str, Any], data: str) -> dict[str, Any]:
    """The document ``libcure/resin/1`` of a fitted law.

    Args:
        about: ``id``, ``title``, ``family``, ``properties_from``, and optionally ``hazards`` and ``note``.
        data: what was fitted, in a few words, for the provenance of each number.

    Raises:
        CureError: ``properties_from`` names no single resin model, or the data do not hold the law's constants.
    """
    if fit.unfit:
        raise input_error(f"law {fit.law.label}", fit.unfit, "a law whose constants the data hold")
    document = law_document(fit, about, data)
    block = covariance_block(fit, document, where_of(fit, data))
    if block is not None:
        document["covariance"] = block
    return document


def where_of(fit: LawFit, data: str) -> str:
    """What a number is said to come from."""
    return f"fit of the law {fit.law.label} to {data}"


def law_document(fit: LawFit, about: Mapping[str, Any], data: str) -> dict[str, Any]:
    """The same without its covariance, of any constants.

    Raises:
        CureError: ``properties_from`` names no single resin model.
    """
    base_path = resin_path(about["properties_from"])
    base = documents.read_object(base_path)
    if base.get("format") != "libcure/resin/1":
        raise input_error("model.properties_from", f'"{about["properties_from"]}"', "a single resin model, not a blend")
    origin = str(base["id"])
    where = where_of(fit, data)
    document: dict[str, Any] = {
        "format": "libcure/resin/1", "id": about["id"], "title": about["title"], "family": about["family"],
        "status": "estimated", "note": (_note(fit, data, origin) + about.get("note", "")).strip(),
        "hazards": list(about.get("hazards", base.get("hazards", []))),
        "rate": {"law": fit.law.base},
        "diffusion": {"form": fit.law.diffusion_form},
    }
    _place_constants(document, fit, where)
    if "initial_degree_of_cure" not in document:
        document["initial_degree_of_cure"] = _quantity(0.0, "1", "choice of the fit", "fresh mix", None, "assumption")
    document["heat_of_reaction"] = _heat(fit) or _marked(copy.deepcopy(base["heat_of_reaction"]), origin)
    for key in TAKEN:
        if key in base:
            document[key] = _marked(copy.deepcopy(base[key]), origin)
    document["validity"] = _validity(fit)
    document["reference_outcomes"] = []
    return document


def scheme_document(document: Mapping[str, Any], scheme: SchemeFit, data: str) -> dict[str, Any]:
    """A law's document with the branches of a scheme in the place of its rate; no covariance is known of them.

    Raises:
        CureError: the format holds no such scheme.
    """
    if not scheme.writable:
        raise input_error("model.law", f'"{scheme.name}"', "a law or parallel steps: model files hold no reactions in series")
    where = f"fit of the scheme {scheme.name} to {data}"
    values = {key: value for key, value, _ in scheme.constants}
    branches = []
    for i in (1, 2, 3):
        k = {"k_ref": _quantity(values[f"k{i}_1_s"], "1/s", where, "fitted"), "E": _quantity(values[f"E{i}_kJ_mol"], "kJ/mol", where, "fitted"),
             "T_ref": _quantity(scheme.T_ref - ZERO_CELSIUS, "degC", "middle of the data", "reference temperature", None, "assumption")}
        branches.append({"share": _quantity(values[f"share{i}"], "1", where, "fitted"), "law": "nth-order", "k": k,
                         "n": _quantity(values[f"n{i}"], "1", where, "fitted")})
    made = {key: value for key, value in document.items() if key != "covariance"}
    return made | {
        "rate": {"law": "parallel", "branches": branches}, "diffusion": {"form": "none"},
        "initial_degree_of_cure": _quantity(0.0, "1", "choice of the fit", "fresh mix", None, "assumption"),
        "note": f"Fitted by libcure to {data}. Scheme {scheme.name}, as asked for; root mean square misfit {100 * scheme.rms_rate:.2f} % of the "
                "peak rate; its constants have no covariance. No diffusion control was fitted. Heat and properties as in the best law's model.",
    }  # fmt: skip


def _note(fit: LawFit, data: str, origin: str) -> str:
    """What was fitted to what, and what was not measured."""
    note = (f"Fitted by libcure to {data}. Law {fit.law.label}; root mean square misfit "
            f"{100 * fit.rms_rate:.2f} % of the peak rate. " if np.isfinite(fit.rms_rate) else
            f"Fitted by libcure to {data}. Law {fit.law.label}. ")
    note += (f"Thermal properties, glass transition, gel point, viscosity and criteria are those of the model {origin}, "
             "not measured here. ")
    if np.isfinite(fit.weight):
        note += f"Weight of this law among those compared {fit.weight:.3g} (Akaike). "
    if not fit.law.vitrifies:
        note += ("No diffusion control was fitted: below its final glass transition the resin is cured too far by this "
                 "model. ")
    return note


def _place_constants(document: dict[str, Any], fit: LawFit, where: str) -> None:
    """The law's parameters, each at its path, as the resin file has them."""
    if fit.law.base == "parallel":
        document["rate"]["branches"] = [{"law": "nth-order"}, {"law": "nth-order"}]
    T_ref = fit.T_ref - ZERO_CELSIUS
    free = {i: k for k, i in enumerate(fit.law.free)}
    values = {p.name: float(v) for p, v in zip(fit.law.parameters, fit.values, strict=True)}
    for i, p in enumerate(fit.law.parameters):
        value = p.outside(float(fit.values[i]))
        interval = fit.interval(free[i]) if i in free else None
        said = _said(p, interval)
        if p.name == "alpha_c":
            value, interval = value - values["alpha_cT"] * fit.T_ref, None
            said = f"extrapolated to 0 K; at {T_ref:g} degC it is {values['alpha_c']:.4g}"
        if p.ratio_to:
            value, interval = value * np.exp(values[p.ratio_to]), None
            said = f"{values[p.name]:.6g} times {p.ratio_to.removeprefix('ln_')}" + (
                "" if i not in free else "; 95 % interval of that {:.4g} to {:.4g}".format(*fit.interval(free[i])))
        unit = "1/s" if p.ratio_to else p.unit
        _place(document, p.path, _quantity(value, unit, where, said, interval,
                                           "estimated" if i in free else "assumption"))
        if unit == "1/s" and p.path.endswith(".k_ref"):
            _place(document, p.path.removesuffix("k_ref") + "T_ref", _quantity(
                T_ref, "degC", "middle of the data", "reference temperature of the centred Arrhenius form", None,
                "assumption"))
    if fit.law.base == "parallel":
        _place(document, "rate.branches[1].share", _quantity(1.0 - values["share_a"], "1", where,
                                                             "the rest of the heat"))


def _heat(fit: LawFit) -> dict[str, Any] | None:
    """Heat of reaction from the ramps; None without them."""
    if not np.isfinite(fit.heat):
        return None
    half = fit.heat_half_width if np.isfinite(fit.heat_half_width) else 0.0
    return _quantity(
        fit.heat / 1e3, "J/g", "mean of the ramps", "above the baselines, completed by the share that the law says "
        "the ramps show; the interval is from the scatter between ramps",
        ((fit.heat - half) / 1e3, (fit.heat + half) / 1e3) if half else None)


def _validity(fit: LawFit) -> dict[str, Any]:
    """Where the data react."""
    low, high, most = _seen(fit)
    return {
        "temperature_min": _quantity(low, "degC", "data", "lowest temperature at which the data react; below it the "
                                     "law is extrapolated", None, "assumption"),
        "temperature_max": _quantity(high, "degC", "data", "highest temperature at which the data react", None,
                                     "assumption"),
        "alpha_max": _quantity(most, "1", "data", "highest degree of cure that the data show, at most 0.98", None,
                               "assumption"),
    }


def _said(p: Parameter, interval: tuple[float, float] | None) -> str:
    if interval is None:
        return "held, not fitted"
    return f"95 % interval {interval[0]:.6g} to {interval[1]:.6g} {p.unit}"


def _seen(fit: LawFit) -> tuple[float, float, float]:
    """Range of the data: temperatures [degC] between alpha 0.01 and 0.99, greatest degree of cure."""
    low, high, most = [], [], []
    for run in fit.runs:
        inside = (run.alpha > 0.01) & (run.alpha < 0.99)
        if inside.any():
            low.append(float(run.T[inside].min()))
            high.append(float(run.T[inside].max()))
        most.append(float(run.alpha.max()))
    if not low:
        return -10.0, 60.0, 0.9
    return (round(min(low) - ZERO_CELSIUS, 1), round(max(high) - ZERO_CELSIUS, 1),
            round(min(max(most), 0.98), 3))


def _scale(path: str, value: float, limits: tuple[float, float], positive: bool) -> tuple[str, float]:
    """Scale on which a constant can be drawn without leaving its limits, and its slope with the value there."""
    low, high = limits
    if np.isfinite(low) and np.isfinite(high):
        if not low < value < high:
            raise input_error(path, f"{value:g}", f"between {low:g} and {high:g}, or held (fixed)")
        return "logit", (high - low) / ((value - low) * (high - value))
    return ("log", 1.0 / value) if positive or low == 0.0 else ("linear", 1.0)


def covariance_block(fit: LawFit, document: Mapping[str, Any], where: str) -> dict[str, Any] | None:
    """The ``covariance`` of a model file; None when all its constants are held.

    Shares of parallel reactions are left out: they must add up to 1 and cannot be drawn alone.

    Args:
        document: the model file without it.
    """
    parameters = [fit.law.parameters[i] for i in fit.law.free]
    # Of the values in the file.
    turn = np.diag([p.outside(float(x)) if p.log else 1.0 / p.factor for p, x in zip(parameters, fit.x, strict=True)])
    names = [p.name for p in parameters]
    if "alpha_c" in names and "alpha_cT" in names:
        turn[names.index("alpha_c"), names.index("alpha_cT")] = -fit.T_ref
    values = {p.name: float(v) for p, v in zip(fit.law.parameters, fit.values, strict=True)}
    for i, p in enumerate(parameters):
        if p.ratio_to:
            # k2 itself, in 1/s: d(k2) = k1 d(ratio) + k2 d(ln k1).
            k1 = float(np.exp(values[p.ratio_to]))
            turn[i, i] = k1
            if p.ratio_to in names:
                turn[i, names.index(p.ratio_to)] = k1 * values[p.name]
    limits = _core.resin_limits(json.dumps(document), str(document["id"]))
    keep = [i for i, name in enumerate(names) if name != "share_a"]
    paths = [parameters[i].path for i in keep]
    scales = []
    for i, path in zip(keep, paths, strict=True):
        scale, slope = _scale(path, _value(document, path), limits[path], parameters[i].log)
        scales.append(scale)
        turn[i] *= slope
    cov = (turn @ fit.covariance @ turn.T)[np.ix_(keep, keep)]
    if np.isfinite(fit.heat) and np.isfinite(fit.heat_error):
        cov = np.pad(cov, (0, 1))
        cov[-1, -1] = (fit.heat_error / fit.heat) ** 2
        paths.append("heat_of_reaction")
        scales.append("log")
    if not paths:
        return None
    cov = 0.5 * (cov + cov.T)
    note = ("sandwich covariance: noise of the heat flow carried through baseline, normalisation and integration, "
            "widened where residuals are autocorrelated")
    if np.isfinite(fit.heat) and np.isfinite(fit.heat_error):
        note += "; heat of reaction from the scatter between ramps, taken as independent"
    if "share_a" in names:
        note += "; the shares are taken as known"
    return {"parameters": paths, "scale": scales, "matrix": [[float(v) for v in row] for row in cov],
            "basis": "estimated", "source": "none", "where": where, "note": note}


def write_model(document: Mapping[str, Any], folder: Path) -> Path:
    """Writes a model file whole or not at all, after the core has read it.

    Raises:
        CureError: the document is no valid resin model, or cannot be written.
    """
    documents.validate(document)
    with tempfile.TemporaryDirectory() as place:
        trial = Path(place) / f"{document['id']}.json"
        trial.write_text(json.dumps(document), encoding="utf-8")
        read_resin(trial)
    path = folder / f"{document['id']}.json"
    documents.write_json(document, path)
    return path
