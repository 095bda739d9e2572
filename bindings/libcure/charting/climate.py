"""The year of a town: ground at the depth of the pipe, air, and the stores and vans that follow the air.

That stores lag behind the air, by how much, and how warm a heated or sunlit van is, are statements of the chart's
document (common practice, no source); its sheet repeats them.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core

__all__ = ["DAYS_A_YEAR", "MONTHS", "NAMED_SEASONS", "POINTS", "ZERO_CELSIUS", "Air", "Climate", "Stores", "month_days", "named_season"]

Floats = NDArray[np.float64]

ZERO_CELSIUS = 273.15  # [K]
DAYS_A_YEAR = 365.0
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS_BEFORE_MONTH = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365)
NAMED_SEASONS = ("winter", "spring", "summer", "autumn")
POINTS = 61
"""Moments looked at in a month, evenly spaced."""


def month_days(month: int) -> tuple[float, float]:
    """First and last moment of a month, 1 to 12, as days of the year; day 1 is 1 January."""
    return DAYS_BEFORE_MONTH[month - 1] + 1.0, DAYS_BEFORE_MONTH[month] + 1.0


def named_season(name: str, day_of_minimum: float) -> tuple[int, ...]:
    """The three months of a season as weather services count them; winter is the one with the coldest day."""
    north = not 91.0 <= day_of_minimum < 274.0
    first = (12 if north else 6) + 3 * NAMED_SEASONS.index(name)
    return tuple((first + k - 1) % 12 + 1 for k in range(3))


@dataclass(frozen=True)
class Air:
    """Mean air temperature over the year, and how far a day or an hour leaves it."""

    annual_mean_C: float
    amplitude_K: float
    day_of_minimum: float
    monthly_mean_C: tuple[float, ...]
    """Twelve, in place of mean and amplitude, reached in the middle of each month; empty for a wave."""
    day_swing_K: float
    """Within a month any warmer and any colder than the mean of the day, evenly."""

    def temperature_C(self, day: Any) -> Any:
        """[°C] on days of the year, any shape; they may leave the year at either end."""
        day = np.asarray(day, dtype=float)
        if self.monthly_mean_C:
            middles = [0.5 * sum(month_days(m)) for m in range(1, 13)]
            return np.interp(day, middles, self.monthly_mean_C, period=DAYS_A_YEAR)
        return self.annual_mean_C - self.amplitude_K * np.cos(2.0 * np.pi * (day - self.day_of_minimum) / DAYS_A_YEAR)


@dataclass(frozen=True)
class Stores:
    """What resin, packer and fibre take in store and van: the air, late, and warmed, heated or cooled."""

    lag_days: float
    above_air_K: float
    swing_share: float
    """Of the air's swing within days."""
    at_least_C: float
    """-infinite without heating."""
    at_most_C: float
    """Infinite without cooling."""


@dataclass(frozen=True)
class Climate:
    """Ground temperature over the year at the depth of the pipe (Kusuda & Achenbach 1965); air and stores where known."""

    annual_mean_C: float
    amplitude_K: float
    day_of_minimum: float
    diffusivity_mm2_s: float
    depth_m: float
    air: Air | None = None
    stores: Stores | None = None
    """Given when ``air`` is."""
    fill: str = "ground"
    """What the medium in the bladder is as warm as: ``ground``, ``air`` or ``stores``."""

    def temperature_C(self, day: Any, depth_m: float | None = None) -> Any:
        """Of the ground [°C] on days of the year, any shape, at the pipe's depth unless another is given."""
        depth = self.depth_m if depth_m is None else depth_m
        return (
            _core.ground_temperature(
                self.annual_mean_C + ZERO_CELSIUS,
                self.amplitude_K,
                self.day_of_minimum,
                1e-6 * self.diffusivity_mm2_s,
                depth,
                day,
            )
            - ZERO_CELSIUS
        )

    def month_C(self, month: int, depth_m: float | None = None) -> tuple[float, float, float]:
        """Coldest, middle and warmest of the ground [°C] in a month, 1 to 12."""
        first, last = month_days(month)
        T = self.through_C("ground", (month,), depth_m)
        return float(T[0]), float(self.temperature_C(0.5 * (first + last), depth_m)), float(T[-1])

    def through_C(self, what: str, months: tuple[int, ...], depth_m: float | None = None) -> Floats:
        """Of ``ground``, ``air`` or ``stores`` through months [°C], evenly spaced in time, sorted from cold to warm.

        Means of days: without the swing of the air, and of stores without heating and cooling.
        """
        days = np.concatenate([np.linspace(*month_days(month), POINTS) for month in months])
        if what == "ground":
            return np.sort(self.temperature_C(days, depth_m))
        assert self.air is not None and self.stores is not None
        if what == "air":
            return np.sort(self.air.temperature_C(days))
        return np.sort(self.air.temperature_C(days - self.stores.lag_days) + self.stores.above_air_K)

    def at_C(self, what: str, months: tuple[int, ...], rank: Any, weather: Any) -> Any:
        """Of ``ground``, ``air``, ``stores`` or ``fill`` [°C] in months.

        Args:
            what: whose temperature.
            months: 1 to 12.
            rank: share of the time in these months that is colder, 0 to 1. So months compare sample by sample.
            weather: from the coldest, 0, to the warmest hour, 1, within the day.
        """
        what = self.fill if what == "fill" else what
        through = self.through_C(what, months)
        T = np.interp(rank, np.linspace(0.0, 1.0, len(through)), through)
        if what == "ground":
            return T
        assert self.air is not None and self.stores is not None
        swing = self.air.day_swing_K * (2.0 * np.asarray(weather) - 1.0)
        if what == "air":
            return T + swing
        return np.clip(T + self.stores.swing_share * swing, self.stores.at_least_C, self.stores.at_most_C)

    def middle_C(self, what: str, months: tuple[int, ...]) -> float:
        """What stands for months [°C]: of the ground in one month that of its middle day, else the median."""
        if len(months) == 1 and (self.fill if what == "fill" else what) == "ground":
            return self.month_C(months[0])[1]
        return float(self.at_C(what, months, 0.5, 0.5))

    def span_C(self, what: str, months: tuple[int, ...]) -> tuple[float, float]:
        """Coldest and warmest [°C] that months bring, swing and all."""
        return float(self.at_C(what, months, 0.0, 0.0)), float(self.at_C(what, months, 1.0, 1.0))
