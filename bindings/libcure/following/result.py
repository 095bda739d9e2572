"""What the readings of a running job come to."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from libcure import ensemble, rendering
from libcure.case import Case
from libcure.following.faults import Screened, Statement
from libcure.following.inference import Weighted
from libcure.sampling import PERCENTILES, Band, normal

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.console import RenderableType

__all__ = ["Band", "FollowResult", "Sure", "TemperatureBand", "Unknown", "percentile", "round_up", "sure_of"]

Floats = NDArray[np.float64]
ZERO_CELSIUS = 273.15
TIME_SD = 0.05  # of the logarithm of the model's times, with all constants known; assumption, no source
TIME_POINTS = np.array([0.1, 0.3, 0.5, 0.7, 0.9])  # middles of equal parts of that error's distribution
STEP = 5.0  # min, of what must be waited for
SIDE = 0.97
"""Share of likely jobs that a release with readings is late enough for. More than :func:`libcure.predict`'s 95 %: nothing
comes after it, and readings do not see where the cure stops. With its sampling bound, 3 of 600 jobs of an independent
solver were let out too early (``tests/python/follow_wall.py``); with 0.95 10 of 600 were."""
FURTHEST_SIDE = 0.995  # beyond it single rows of next to no weight would decide; choice of this project
ASSUMPTION = "assumption, no source"
"""Where a range comes from that nobody gave."""


@dataclass(frozen=True)
class Sure:
    """Times from mixing, as far as they are known at some stage of knowledge."""

    working_min: Band
    gel_last_min: Band
    criterion_met_min: Band
    wait_until_min: float
    """What to wait for, rounded up to 5 min: before the readings as :func:`libcure.predict` says it; with them the 97 % side
    with its sampling error, likewise."""
    never: Mapping[str, float]
    """Share of rows without a release, by why: the names of ``libcure.ensemble.RELEASE_STATES``."""

    def to_json(self) -> dict[str, Any]:
        return {
            "working_time_min": self.working_min.to_json(),
            "gel_time_last_min": self.gel_last_min.to_json(),
            "criterion_met_min": self.criterion_met_min.to_json(),
            "wait_until_min": _json(self.wait_until_min),
            "no_release_share": {name: round(share, 4) for name, share in self.never.items()},
        }


@dataclass(frozen=True)
class Unknown:
    """One thing that was not known, before and after."""

    name: str
    title: str
    unit: str
    """``K``, ``min``, ``%``, or ``1`` for a factor."""
    before: Band
    """Its assumed range: an offset on what the case says, or a factor."""
    after: Band
    moved: float
    """By how many of its standard deviations the middle went."""
    kept: float
    """Standard deviation after over before: 1 means that the readings say nothing about it."""
    source: str
    """Where the range comes from."""


@dataclass(frozen=True, eq=False)
class TemperatureBand:
    """What the probe should read: 5, 50 and 95 %, (n,) each [K], at times from mixing [s]."""

    time: Floats
    p5: Floats
    p50: Floats
    p95: Floats


def percentile(values: Floats, weights: Floats, percent: float, *, up: bool) -> float:
    """A weighted percentile that is one of the values, the next one to the safe side; infinity sorts last.

    Args:
        values: (n,)
        weights: (n,) adding to 1.
        up: from the high side on, for what must be waited for; else from the low side.
    """
    order = np.argsort(values, kind="stable")
    share = np.cumsum(weights[order])
    if up:
        i = int(np.searchsorted(share, percent / 100.0 - 1e-9))
    else:
        i = int(np.searchsorted(share, percent / 100.0 + 1e-9, side="right"))
        i = max(i - 1, 0) if percent < 50.0 else i
    return float(values[order[min(i, values.size - 1)]])


def sure_of(outcomes: ensemble.Outcomes, rows: Weighted) -> Sure:
    """Bands of the times of rows that readings have weighed, with the error that the model's times keep when its constants
    are known; a failed row has no working time and no release."""
    safe = outcomes.safe_sides()
    weight = np.repeat(rows.weight / TIME_POINTS.size, TIME_POINTS.size)

    def minutes(seconds: Floats) -> Floats:
        return np.outer(seconds / 60.0, np.exp(TIME_SD * normal(TIME_POINTS))).ravel()

    def band(seconds: Floats, *, up: bool) -> Band:
        return Band(*(percentile(minutes(seconds), weight, p, up=up) for p in PERCENTILES))

    side = percentile(minutes(safe.release_time_s), weight, safe_percent(rows.effective), up=True)
    shares = {name: float(rows.weight[outcomes.state(name)].sum()) for name in ensemble.RELEASE_STATES if name != "reached"}
    return Sure(
        band(safe.working_time_s, up=False),
        band(safe.gel_time_last_s, up=True),
        band(safe.release_time_s, up=True),
        round_up(side),
        {name: part for name, part in shares.items() if part > 0.0},
    )


def safe_percent(effective: float) -> float:
    """Where the side :data:`SIDE` of weighted rows may lie at most, with 95 % confidence: by the normal limit of the binomial
    distribution, for the rows of equal weight that they are worth; at most :data:`FURTHEST_SIDE`."""
    return 100.0 * min(SIDE + 1.645 * math.sqrt(SIDE * (1.0 - SIDE) / effective), FURTHEST_SIDE)


def round_up(minutes: float) -> float:
    """Up to the next :data:`STEP`."""
    return STEP * math.ceil(minutes / STEP - 1e-9) if math.isfinite(minutes) else math.inf


def _json(value: float) -> float | None:
    return round(value, 4) if math.isfinite(value) else None


@dataclass(frozen=True, eq=False)
class FollowResult:
    """The release of a running job, before its readings and with them. Times count from mixing."""

    case: Case
    at: str
    """Where the probe lies."""
    file: str
    """Of the readings; empty when they came from code."""
    now_min: float
    """The moment that the answer is for."""
    now_given: bool
    """Whether a person gave it; else it is the last row's, and no better than the logger's clock."""
    before: Sure
    after: Sure
    relied_on: bool
    """Whether the readings passed all checks, so that they may move the release earlier."""
    release_min: float
    """The answer, rounded up to 5 min: ``after.wait_until_min``, which is the later of those with and without the readings
    when they are not relied on. Infinite is never within the hold."""
    working_min: float
    """5 % side, likewise; the earlier one when the readings are not relied on."""
    reasons: tuple[Statement, ...]
    """Why the readings are not relied on; empty when they are."""
    faults: tuple[Statement, ...]
    """What was found wrong with single readings, and left out."""
    cautions: tuple[str, ...]
    """Urgent ones of the plan itself, without readings."""
    usual_cautions: tuple[str, ...]
    """What to mind at any such job, and who has the last word."""
    unknowns: tuple[Unknown, ...]
    readings: Screened
    effective_readings: float
    """Independent ones that they are worth."""
    effective_rows: float
    """Rows of equal weight that the band after the readings rests on."""
    samples: int
    seed: int
    band_before: TemperatureBand
    band_after: TemperatureBand

    @property
    def used(self) -> int:
        """Readings that count."""
        return int(self.readings.used.sum())

    @property
    def passed(self) -> bool:
        """Whether the answer has passed: only readings that are relied on can tell, and the last good one if nobody
        says what time it is."""
        if not self.relied_on:
            return False
        now = self.now_min if self.now_given else float(self.readings.time[self.readings.used][-1]) / 60.0
        return self.release_min <= now

    @property
    def status(self) -> str:
        """``may_come_out``, ``keep_in``, ``not_on_these_readings`` (not relied on), or ``no_release``."""
        if math.isinf(self.release_min):
            return "no_release"
        if not self.relied_on:
            return "not_on_these_readings"
        return "may_come_out" if self.passed else "keep_in"

    def to_json(self) -> dict[str, Any]:
        """A document ``libcure/follow/1``; null is never, or not in two days of holding."""
        return {
            "format": "libcure/follow/1",
            "case": self.case.title or self.case.name,
            "readings": {
                "file": self.file,
                "at": self.at,
                "rows": int(self.readings.time.size),
                "used": self.used,
                "worth": round(self.effective_readings, 2),
            },
            "status": self.status,
            "now_min": _json(self.now_min),
            "now_from": "given" if self.now_given else "last row",
            "release_min": _json(self.release_min),
            "working_time_min": _json(self.working_min),
            "release_passed": self.passed,
            "relied_on": self.relied_on,
            "reasons": [{"code": s.code, "text": s.text} for s in self.reasons],
            "faults": [{"code": s.code, "text": s.text, "readings": s.count} for s in self.faults],
            "cautions": list(self.cautions),
            "usual_cautions": list(self.usual_cautions),
            "before": self.before.to_json(),
            "after": self.after.to_json(),
            "unknowns": [
                {
                    "name": u.name,
                    "title": u.title,
                    "unit": u.unit,
                    "before": u.before.to_json(),
                    "after": u.after.to_json(),
                    "moved_sd": round(u.moved, 3),
                    "kept_sd_share": round(u.kept, 3),
                    "range_from": u.source,
                }
                for u in self.unknowns
            ],
            "sampling": {"rows": self.samples, "effective_rows": round(self.effective_rows, 1), "seed": self.seed},
            **self.case.said_changes(),
        }

    def plot(self) -> Figure:
        """The readings over the band of what the probe should read, and the release before and after."""
        return rendering.figure(self)

    def __repr__(self) -> str:
        return (
            f"<FollowResult: {self.status}, release {self.release_min:g} min, was "
            f"{self.before.wait_until_min:g} min; relied on: {self.relied_on}>"
        )

    def _repr_html_(self) -> str:
        return rendering.html(self)

    def __rich__(self) -> RenderableType:
        return rendering.page(self)
