"""Reads the climate of a chart document, and what stands in where it says nothing."""

from __future__ import annotations

import math
from typing import Any

from libcure.case import Case
from libcure.charting.climate import Air, Climate, Stores
from libcure.documents.fields import Fields

__all__ = ["climate_of_case", "read_climate"]

# Where the document says nothing of stores and vans: common practice, no source.
LAG_DAYS, SWING_K = 3.0, 5.0


def read_climate(c: Fields) -> Climate:
    """The object ``climate`` of a chart document.

    Raises:
        CureError: with the field, its value, what is allowed and the file.
    """
    ground = (
        c.number("annual_mean_C", -20.0, 40.0),
        c.number("amplitude_K", 0.0, 40.0),
        c.number("day_of_minimum", 1.0, 365.0),
        c.number("diffusivity_mm2_s", 0.05, 5.0),
        c.number("depth_m", 0.0, 30.0),
    )
    air = _air(c.object("air")) if c.has("air") else None
    for key in ("stores", "fill"):
        if air is None and c.has(key):
            raise c.refuse_words("air", "missing", f"the air's year, because there is {key}")
    stores = _stores(c.object("stores") if c.has("stores") else None) if air is not None else None
    fill = c.choice("fill", ("ground", "air", "stores"), default="ground")
    c.finish()
    return Climate(*ground, air, stores, fill)


def _air(a: Fields) -> Air:
    monthly: tuple[float, ...] = ()
    mean = amplitude = 0.0
    day = 1.0
    if a.has("monthly_mean_C"):
        values = a.items("monthly_mean_C", 12, 12, "numbers, January first")
        for value in values:
            if isinstance(value, bool) or not isinstance(value, int | float) or not -60.0 <= value <= 60.0:
                raise a.refuse("monthly_mean_C", value, "numbers, -60 to 60")
        monthly = tuple(float(v) for v in values)
        for key in ("annual_mean_C", "amplitude_K", "day_of_minimum"):
            if a.has(key):
                raise a.refuse_words(key, "given", "a wave or monthly_mean_C, not both")
    else:
        mean = a.number("annual_mean_C", -40.0, 45.0)
        amplitude = a.number("amplitude_K", 0.0, 40.0)
        day = a.number("day_of_minimum", 1.0, 365.0)
    swing = a.number("day_swing_K", 0.0, 30.0, default=SWING_K)
    a.finish()
    return Air(mean, amplitude, day, monthly, swing)


def _stores(s: Fields | None) -> Stores:
    if s is None:
        return Stores(LAG_DAYS, 0.0, 1.0, -math.inf, math.inf)
    lag = s.number("lag_days", 0.0, 90.0, default=LAG_DAYS)
    above = s.number("above_air_K", -20.0, 40.0, default=0.0)
    share = s.number("swing_share", 0.0, 1.0, default=1.0)
    least = s.number("at_least_C", -40.0, 60.0) if s.has("at_least_C") else -math.inf
    most = s.number("at_most_C", -40.0, 80.0) if s.has("at_most_C") else math.inf
    if most < least:
        raise s.refuse("at_most_C", most, f"at least at_least_C, {least:g}")
    s.finish()
    return Stores(lag, above, share, least, most)


def climate_of_case(base: Case) -> tuple[Climate, dict[str, Any]] | None:
    """The climate that a case states for its ground, and the same as a chart document states it; None without one."""
    found = base.conditions["ground"]["climate"]
    if found is None:
        return None
    # The wave is late by z/2 sqrt(365/(pi a)) days at depth z (Kusuda & Achenbach 1965), a in m2/day.
    diffusivity = 365.0 / math.pi * (0.5 * found["depth_m"] / found["lag_days"]) ** 2
    given = {key: found[key] for key in ("annual_mean_C", "amplitude_K", "day_of_minimum")}
    given |= {"diffusivity_mm2_s": 1e6 * diffusivity / 86400.0, "depth_m": found["depth_m"]}
    return Climate(**given), given
