"""How far a prediction can be trusted: the same case many times over, with what is not known exactly."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, ensemble
from libcure.case import Case
from libcure.models import limit_C
from libcure.rounding import duration
from libcure.sampling import Band, percentiles
from libcure.uncertainty import Uncertainty

__all__ = ["FEW_SAMPLES", "MOST", "Ranges", "per_hundred", "ranges_of", "samples_for", "why_none"]

MOST = 0.05
"""Share of samples that may go wrong before it is said: what lies beyond a 95 % side."""
FEW_SAMPLES = 16
"""Of rows that the packed solver does not take: each costs a whole prediction. 5 and 95 % are their lowest and highest."""
# Cautions of a verdict that say already what a caution here would.
HOT = frozenset({"mixed_mass_too_hot", "liner_too_hot", "pipe_too_hot", "bladder_too_hot", "fill_above_bladder_limit"})
NOT_RELEASED = {
    "not_in_hold": ("the release criterion is not met while held", "{measure}, hold longer, or warm it"),
    "vitrified": ("the resin vitrifies before it may be released", "warm the wall, time will not do it, and measure it"),
    "gelled_before_held": ("the resin sets before it is held", "be quicker, or keep resin and packer cooler (libcure advise)"),
    "failed": ("there is no answer", "take none of these times as sure"),
}
"""By release state: what happens, and what to do; ``measure`` stands for how to measure the wall."""


@dataclass(frozen=True)
class Ranges:
    """5, 50 and 95 % of what a verdict says, each a sample, the next one to the safe side.

    Times count from mixing [min]; infinite is never, or not up to the end of the hold, or of the last stage for the return
    to service. The hottest resin is that up to the end of the hold.
    """

    working_min: Band
    working_margin_min: Band | None
    """Working time less the moment from which the liner is held; None without a held stage."""
    gel_first_min: Band
    gel_last_min: Band
    release_min: Band
    release_recommended_min: Band
    """Each sample's own: with the safety factor, up to the next 5 min."""
    service_min: Band | None
    """Return to service, each sample released at its own time; None without a stage after the release."""
    peak_temperature_C: Band
    shares: Mapping[str, float]
    """Share of samples by release state: all names of :data:`libcure.ensemble.RELEASE_STATES`."""
    too_late: float
    """Share that pass their working limit before the liner is held."""
    later_than_recommended: float | None
    """Share whose release by the physics is later than the release that the verdict recommends, or never; None where
    it recommends none."""
    uncertain: str
    """What was uncertain, in words."""
    constants: bool
    """Whether the resin's constants varied too; False: they count as exact."""
    samples: int
    seed: int
    cautions: tuple[tuple[str, str], ...]
    """Code and text, all urgent."""

    @property
    def not_released(self) -> float:
        """Share that are not released up to the end of the hold."""
        return 1.0 - self.shares["reached"]

    @property
    def usual_failure(self) -> str:
        """Release state of most of those that are not released; empty when all are."""
        others = {name: share for name, share in self.shares.items() if name != "reached" and share > 0.0}
        return max(others, key=others.__getitem__, default="")

    def to_json(self) -> dict[str, Any]:
        """The object ``ranges`` beside a verdict; what is infinite is None."""
        margin = self.working_margin_min
        return {
            "working_time_min": self.working_min.to_json(),
            "working_margin_min": None if margin is None else margin.to_json(),
            "gel_time_first_min": self.gel_first_min.to_json(),
            "gel_time_last_min": self.gel_last_min.to_json(),
            "release_time_min": self.release_min.to_json(),
            "release_time_recommended_min": self.release_recommended_min.to_json(),
            "service_time_min": None if self.service_min is None else self.service_min.to_json(),
            "peak_temperature_C": self.peak_temperature_C.to_json(),
            "release_state_share": dict(self.shares),
            "too_late_share": self.too_late,
            "later_than_recommended_share": self.later_than_recommended,
            "uncertain": self.uncertain,
            "resin_constants": self.constants,
            "samples": self.samples,
            "seed": self.seed,
            "cautions": [{"code": code, "text": text} for code, text in self.cautions],
        }


def samples_for(case: Case) -> int | None:
    """How many samples a case gets when nobody says; None for the usual number."""
    return None if _core.packed(case.core) else FEW_SAMPLES


def why_none(case: Case, uncertainty: Uncertainty) -> str:
    """Why a case is a point estimate, as part of a sentence; empty when it need not be."""
    if not uncertainty.known:
        return uncertainty.why_none
    if all(stage["kind"] == "after_release" for stage in case.document["stages"]):
        return "the time after release is not sampled"
    return ""


def ranges_of(case: Case, verdict: Mapping[str, Any], uncertainty: Uncertainty) -> Ranges:
    """The ranges of a case that :func:`why_none` has nothing against.

    Args:
        case: the case.
        verdict: its verdict, ``libcure/verdict/1``.
        uncertainty: what is uncertain.
    """
    out = uncertainty.outcomes(case, case)
    safe = out.safe_sides()
    recommended, held_from = verdict["release_time_recommended_min"], verdict["held_from_min"]
    margin, too_late = None, 0.0
    if held_from is not None:
        # A sample that failed may have been held at no time.
        held = np.where(np.isfinite(safe.held_from_s), safe.held_from_s, 60.0 * held_from)
        margin = _band((safe.working_time_s - held) / 60.0, up=False)
        too_late = _share(safe.working_time_s < held)
    found = Ranges(
        working_min=_band(safe.working_time_s / 60.0, up=False),
        working_margin_min=margin,
        gel_first_min=_band(safe.gel_time_first_s / 60.0, up=False),
        gel_last_min=_band(safe.gel_time_last_s / 60.0, up=True),
        release_min=_band(safe.release_time_s / 60.0, up=True),
        release_recommended_min=_band(safe.release_time_recommended_s / 60.0, up=True),
        service_min=_service(case, uncertainty),
        peak_temperature_C=_band(safe.peak_temperature_K - 273.15, up=True),
        shares={name: _share(out.state(name)) for name in ensemble.RELEASE_STATES},
        too_late=too_late,
        later_than_recommended=None if recommended is None else _share(safe.release_time_s > 60.0 * recommended),
        uncertain=uncertainty.words(case),
        constants=uncertainty.has_constants(case),
        samples=uncertainty.samples,
        seed=uncertainty.seed,
        cautions=(),
    )
    limit = limit_C(case.document, case.beside)
    too_hot = _share(safe.peak_temperature_K - 273.15 > limit)
    # A probe in a section cannot be followed.
    measure = "measure the wall" + ("" if "section" in case.document else " (libcure follow)")
    cautions = (_release(found, verdict, measure), _working(found, verdict), _hot(too_hot, limit, verdict))
    return replace(found, cautions=tuple(caution for caution in cautions if caution is not None))


def _service(case: Case, uncertainty: Uncertainty) -> Band | None:
    if all(stage["kind"] != "after_release" for stage in case.document["stages"]):
        return None
    times = uncertainty.service_times(case) / 60.0
    return _band(np.where(np.isnan(times), np.inf, times), up=True)


def per_hundred(share: float) -> str:
    """``23 of 100``, rounded up; all only when it is all."""
    return f"{100 if share == 1.0 else min(99, math.ceil(100.0 * share - 1e-9))} of 100"


def _share(rows: NDArray[np.bool_]) -> float:
    return float(np.mean(rows))


def _band(values: NDArray[np.float64], *, up: bool) -> Band:
    return Band(*percentiles(values, up=up))


def _jobs(share: float) -> str:
    return f"In {per_hundred(share)} jobs like it, with what is not known exactly,"


def _release(r: Ranges, verdict: Mapping[str, Any], measure: str) -> tuple[str, str] | None:
    """That the recommended release does not cover what is not known; a release that is none is in the verdict."""
    if r.later_than_recommended is None or r.later_than_recommended <= MOST:
        return None
    by = f"by the recommended {duration(verdict['release_time_recommended_min'], up=True)}"
    if r.not_released <= MOST:
        wait = duration(r.release_recommended_min.p95, up=True)
        text = f"the resin is not ready {by}: keep the bladder in until {wait}, or {measure}."
        return "release_not_covered", f"{_jobs(r.later_than_recommended)} {text}"
    why, todo = NOT_RELEASED[r.usual_failure]
    also = f", and in {per_hundred(r.later_than_recommended)} not {by}" if r.later_than_recommended > r.not_released else ""
    todo = todo.format(measure=measure)
    return "release_not_sure", f"{_jobs(r.not_released)} {why}{also}: {todo}."


def _working(r: Ranges, verdict: Mapping[str, Any]) -> tuple[str, str] | None:
    margin = verdict["working_margin_min"]
    if r.too_late <= MOST or (margin is not None and margin < 0.0):
        return None
    return "working_time_not_sure", (
        f"{_jobs(r.too_late)} the resin passes its working limit before the liner is held: be quicker, or keep resin and "
        "packer cooler (libcure advise)."
    )


def _hot(share: float, limit: float, verdict: Mapping[str, Any]) -> tuple[str, str] | None:
    """As on a chart: the hottest resin against the lowest limit, which is the safe side for its neighbours."""
    if share <= MOST or any(caution["code"] in HOT for caution in verdict["cautions"]):
        return None
    return "heat_not_sure", (
        f"{_jobs(share)} the resin passes {limit:g} °C, the lowest temperature limit of resin, bladder and pipe: cool it, or "
        "take a slower hardener (libcure advise)."
    )
