"""A case that the tests of ground, surfaces and fill share, and short names for what they look at."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import numpy as np
from hypothesis import settings
from hypothesis import strategies as st

import libcure

MODELS = Path(__file__).parents[2] / "models"

CASE: dict[str, Any] = {
    "format": "libcure/case/1",
    "resin": "epoxy-amine-medium",
    "pipe": {"inner_diameter_mm": 150, "wall_mm": 10, "material": "vitrified-clay"},
    "liner": {"thickness_mm": 4, "length_mm": 900, "fibre_volume_fraction": 0.25},
    "ground": {"material": "moist-sand", "temperature_C": 8},
    "initial_temperature_C": {"resin": 18, "fibre": 14, "packer": 12, "air": 10},
    "stages": [
        {"kind": "wet_out", "duration_min": 10},
        {"kind": "held", "duration_min": 1440, "fill_temperature_C": 25, "h_W_m2K": 20},
        {"kind": "after_release", "duration_min": 60},
    ],
    "release": {"alpha_min": 0.7, "Tg_margin_K": 5, "safety_factor": 1.25},
}
CLIMATE = {"annual_mean_C": 10, "amplitude_K": 9, "day_of_minimum": 35, "depth_m": 1.5, "day": 60}
few = settings(max_examples=20, deadline=None, derandomize=True)


def numbers(low: float, high: float) -> st.SearchStrategy[float]:
    """Numbers that a document may hold: none closer to 0 than any quantity is."""
    return st.floats(low, high).filter(lambda x: x == 0.0 or abs(x) > 1e-100)


def point(job: libcure.Case) -> libcure.Prediction:
    """The prediction without ranges and without its numerical error: a tenth of the time, for properties of the times themselves."""
    return libcure.predict(job, uncertain="none", numerical_error=False)


def case(**changes: Any) -> libcure.Case:
    """CASE with whole sections, or stages by ``wet_out``, ``held``, ``after_release``, replaced or added to."""
    document = json.loads(json.dumps(CASE))
    for key, value in changes.items():
        stage = next((s for s in document["stages"] if s["kind"] == key), None)
        if stage is not None:
            stage.update(value)
            for gone in [k for k, v in stage.items() if v is None]:
                del stage[gone]
        elif isinstance(value, dict) and key in ("pipe", "liner", "initial_temperature_C"):
            document[key].update(value)
        else:
            document[key] = value
    return libcure.Case.from_dict(document)


def ground(**changes: Any) -> dict[str, Any]:
    given = {"material": "moist-sand", "temperature_C": 8, **changes}
    return {k: v for k, v in given.items() if v is not None}


def verdict(**changes: Any) -> dict[str, Any]:
    return libcure.predict(case(**changes), uncertain="none").verdict


def codes(v: dict[str, Any]) -> set[str]:
    return {c["code"] for c in v["cautions"]}


def release(v: dict[str, Any]) -> float:
    return np.inf if v["criterion_met_min"] is None else v["criterion_met_min"]
