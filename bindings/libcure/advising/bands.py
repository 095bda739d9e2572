"""The conservative sides of an outcome."""

from __future__ import annotations

import math

from libcure.advising.needs import step_up
from libcure.advising.result import Band
from libcure.case import Case
from libcure.sampling import lower_bound, percentiles, upper_bound
from libcure.uncertainty import Uncertainty

__all__ = ["sides"]


def sides(uncertainty: Uncertainty, case: Case, resin_of: Case) -> Band:
    """The conservative sides of a case.

    Args:
        uncertainty: what is uncertain.
        case: to be run; its working time counts as its latest moment in place.
        resin_of: the case whose resin's constants are uncertain.
    """
    safe = uncertainty.outcomes(case, resin_of).safe_sides()
    low = _minutes(lower_bound(safe.working_time_s))
    release = _minutes(upper_bound(safe.release_time_s))
    peak = percentiles(safe.peak_temperature_K, up=True)[2]
    return Band(low, low, None if release is None else step_up(release), peak - 273.15 if math.isfinite(peak) else None)


def _minutes(seconds: float) -> float | None:
    return seconds / 60.0 if math.isfinite(seconds) else None
