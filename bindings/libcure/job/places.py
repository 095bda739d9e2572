"""Places to compare a job with: what is likely there, and how far it may be off. Invented; assumptions of this project, no source."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from libcure import _core
from libcure.errors import input_error

__all__ = ["PLACES", "Place", "find_place"]

ZERO_CELSIUS = 273.15
DIFFUSIVITY = 5e-7  # m2/s; 0.33 to 0.64e-6 in three soils (validation/ground-stations and its like)


@dataclass(frozen=True)
class Place:
    """A place and its season."""

    title: str
    year_mean_C: float
    """Of the ground."""
    year_swing_K: float
    """Of the ground's surface: half of the way from coldest to warmest."""
    day: int
    """Of the year; the surface is coldest on day 25."""
    ground_sd_K: float
    depth_mm: float
    air_C: float
    pipe: str
    bore_mm: float
    water: str

    def ground_C(self, depth_mm: float) -> float:
        """Likely temperature at a depth [°C]; under a floor the swing is small."""
        mean = self.year_mean_C + ZERO_CELSIUS
        found = _core.ground_temperature(mean, self.year_swing_K, 25.0, DIFFUSIVITY, max(depth_mm, 0.0) / 1e3, float(self.day))
        return float(found) - ZERO_CELSIUS


PLACES: Mapping[str, Place] = MappingProxyType({
    "winter-road": Place("a drain under a road in winter", 10.0, 10.0, 35, 2.0, 1200.0, 3.0, "clay", 150.0, "damp"),
    "spring-garden": Place("a drain in a garden in spring or autumn", 10.0, 9.0, 110, 2.0, 1000.0, 12.0, "clay", 100.0, "damp"),
    "summer-road": Place("a drain under a road in summer", 11.0, 10.0, 205, 2.0, 1200.0, 26.0, "clay", 150.0, "damp"),
    "house": Place("a drain in or under a house", 16.0, 1.0, 110, 2.5, 500.0, 18.0, "pvc", 100.0, "dry"),
    "anywhere": Place("any drain at any season", 10.0, 0.0, 110, 4.0, 1200.0, 12.0, "pvc", 100.0, "damp"),
})  # fmt: skip


def find_place(name: str) -> Place:
    """A place by its name.

    Raises:
        CureError: there is none of that name.
    """
    if name not in PLACES:
        raise input_error("like", f'"{name}"', "one of " + ", ".join(PLACES))
    return PLACES[name]
