"""The kinds of measurements that a study takes, by their names in its document."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from pathlib import Path
from types import MappingProxyType

from libcure.documents.part import Part
from libcure.studying.cups import read_cup
from libcure.studying.films import read_doubling, read_film_gel, read_releasable, read_viscosity
from libcure.studying.instruments import (
    read_conversion,
    read_heat,
    read_isothermal,
    read_modulus,
    read_peak,
    read_ramp,
    read_residual_heat,
    read_shrinkage,
    read_tg,
    read_tg_full,
)
from libcure.studying.jobs import read_job
from libcure.studying.reading import Made, Measurement, Reading

__all__ = ["KINDS", "NEEDS_VISCOSITY", "read_measurement"]

KINDS: Mapping[str, Callable[[Reading], Made]] = MappingProxyType({
    "film_gel": read_film_gel, "cup": read_cup, "releasable": read_releasable, "Tg": read_tg, "Tg_full": read_tg_full, "conversion": read_conversion,
    "residual_heat": read_residual_heat, "heat": read_heat, "peak": read_peak, "ramp": read_ramp, "viscosity": read_viscosity, "doubling": read_doubling,
    "isothermal": read_isothermal, "modulus": read_modulus, "shrinkage": read_shrinkage, "job": read_job,
})  # fmt: skip
NEEDS_VISCOSITY = ("viscosity", "doubling")


def read_measurement(fields: Part, number: int, beside: Path) -> Measurement:
    """Reads one measurement.

    Args:
        fields: its object.
        number: its place, from 1, for its name.
        beside: folder that logs are named from.

    Raises:
        CureError: a kind, key or value that cannot be.
    """
    kind: str = fields["kind"]
    components, ask, T, cost = KINDS[kind](Reading(fields, beside))
    name = fields.get("name", f"{number}. {kind.replace('_', ' ')}" + ("" if math.isnan(T) else f" at {T:g} °C"))
    return Measurement(name, kind, tuple(components), ask, fields["hold_back"], fields.get("cup", ""), T, cost)
