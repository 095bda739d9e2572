"""Reads the climate of a chart document, and what stands in where it says nothing."""

from __future__ import annotations

import math
from typing import Any

from libcure import _core
from libcure.case import Case
from libcure.charting.climate import Air, Climate, Stores
from libcure.documents.part import Part

__all__ = ["climate_of_case", "read_climate"]


def read_climate(c: Part) -> Climate:
    """The object ``climate`` of a chart document, as the core has filled it in.

    Raises:
        CureError: months that look as if none were known, or stores warmer at least than at most.
    """
    ground = (c["annual_mean_C"], c["amplitude_K"], c["day_of_minimum"], c["diffusivity_mm2_s"], c["depth_m"])
    if "air" not in c:
        return Climate(*ground, None, None, "ground")
    a = c.part("air")
    if allowed := _core.unfilled_months(a.get("monthly_mean_C", ())):
        raise a.refuse_words("monthly_mean_C", "0, four months or more", allowed)
    air = Air(a.get("annual_mean_C", 0.0), a.get("amplitude_K", 0.0), a.get("day_of_minimum", 1.0), tuple(a.get("monthly_mean_C", ())),
              a["day_swing_K"])
    return Climate(*ground, air, _stores(c.part("stores")), c["fill"])


def _stores(s: Part) -> Stores:
    least, most = s.get("at_least_C", -math.inf), s.get("at_most_C", math.inf)
    if most < least:
        raise s.refuse("at_most_C", most, f"at least at_least_C, {least:g}")
    return Stores(s["lag_days"], s["above_air_K"], s["swing_share"], least, most)


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
