"""The axes of a chart: what each value sets in the case, and what it is called."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Any

from libcure.charting.climate import Climate

__all__ = ["SEASON_PATHS", "Axis", "Follows", "follows"]


@dataclass(frozen=True)
class Follows:
    """What a path of the case follows through the year."""

    what: str
    """``ground``, ``air``, ``stores`` or ``fill`` of the climate."""
    moves: str
    """The ensemble's input that goes with it within the season."""


_FOLLOWS = {
    r"ground\.temperature_C": Follows("ground", "ground.temperature_offset_K"),
    r"initial_temperature_C\.pipe": Follows("ground", "initial_temperature.pipe_offset_K"),
    r"initial_temperature_C\.air": Follows("air", "ambient_offset_K"),
    r"stages\[\d+\]\.ambient_temperature_C": Follows("air", "ambient_offset_K"),
    r"initial_temperature_C\.resin": Follows("stores", "initial_temperature.resin_offset_K"),
    r"initial_temperature_C\.packer": Follows("stores", "initial_temperature.packer_offset_K"),
    r"initial_temperature_C\.fibre": Follows("stores", "initial_temperature.fibre_offset_K"),
    r"stages\[\d+\]\.fill_temperature_C": Follows("fill", "fill_temperature_offset_K"),
}
SEASON_PATHS = (
    "ground.temperature_C, initial_temperature_C.pipe, .air, .resin, .packer or .fibre, stages[i].ambient_temperature_C, "
    "stages[i].fill_temperature_C"
)
"""In words, for messages."""


def follows(path: str) -> Follows | None:
    """What a path follows through the year; None for what no season sets."""
    return next((found for pattern, found in _FOLLOWS.items() if re.fullmatch(pattern, path)), None)


@dataclass(frozen=True)
class Axis:
    """One direction of the grid."""

    name: str
    title: str
    unit: str
    """``°C``, ``mm`` and so on, as the document gives the values; empty for words."""
    sets: tuple[str, ...]
    """Paths in the case that each value sets."""
    values: tuple[Any, ...]
    """As the document gives them."""
    labels: tuple[str, ...]
    settings: tuple[tuple[Any, ...], ...]
    """What each value sets, a value a path in the unit of the path; None where a season says it."""
    seasons: tuple[tuple[int, ...], ...] = ()
    """The months, 1 to 12, that each value stands for; empty on other axes."""
    faster: bool = False
    """Stated by the author: each resin is faster than the one before."""

    @property
    def numeric(self) -> bool:
        """True when the values are numbers, the same for all paths."""
        return not self.seasons and all(isinstance(v, int | float) for v in self.values)

    def number(self, i: int) -> float:
        """A value of an axis of numbers in the unit of its paths."""
        return float(self.settings[i][0])

    def coordinate(self, i: int) -> float | str:
        """What tables name the value: the number as given, or the label."""
        return float(self.values[i]) if self.numeric else self.labels[i]

    def changes(self, i: int, climate: Climate | None) -> dict[str, Any]:
        """What a value sets: value by path."""
        if not self.seasons:
            return dict(zip(self.sets, self.settings[i], strict=True))
        assert climate is not None
        return {path: round(climate.middle_C(f.what, self.seasons[i]), 6) for path in self.sets if (f := follows(path))}

    def whats(self, climate: Climate) -> set[str]:
        """What of the climate an axis of seasons follows: ``ground``, ``air``, ``stores``."""
        found = {f.what for path in self.sets if (f := follows(path))}
        return {climate.fill if what == "fill" else what for what in found}
