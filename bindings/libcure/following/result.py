"""What the readings of a running job come to, as Python reads it."""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, rendering
from libcure.case import Case
from libcure.sampling import Band

if TYPE_CHECKING:
    from matplotlib.figure import Figure
    from rich.console import RenderableType

__all__ = ["Band", "FollowResult", "Screened", "Statement", "Sure", "TemperatureBand", "Unknown"]

Floats = NDArray[np.float64]


def _number(value: float | None) -> float:
    """Of a document; infinite for never."""
    return math.inf if value is None else value


def _band(found: Mapping[str, float | None]) -> Band:
    return Band(_number(found["p5"]), _number(found["p50"]), _number(found["p95"]))


@dataclass(frozen=True)
class Statement:
    """A plain sentence about readings or result."""

    code: str
    text: str
    count: int = 0
    """Readings it is about; 0 when it is about no single ones."""


@dataclass(frozen=True, eq=False)
class Screened:
    """Readings in order of time, each with what is wrong with it."""

    time: Floats
    """(n,) rising [s]."""
    temperature: Floats
    """(n,) [K]; NaN where missing."""
    status: NDArray[np.str_]
    """(n,) ``used``, or the code of a fault."""

    @property
    def used(self) -> NDArray[np.bool_]:
        return np.asarray(self.status == "used")


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

    @classmethod
    def read(cls, found: Mapping[str, Any]) -> Sure:
        """Of a document."""
        working, gel_last, met = (_band(found[key]) for key in ("working_time_min", "gel_time_last_min", "criterion_met_min"))
        return cls(working, gel_last, met, _number(found["wait_until_min"]), found["no_release_share"])


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

    @classmethod
    def read(cls, u: Mapping[str, Any]) -> Unknown:
        """Of a document."""
        before, after = _band(u["before"]), _band(u["after"])
        return cls(u["name"], u["title"], u["unit"], before, after, u["moved_sd"], u["kept_sd_share"], u["range_from"])


@dataclass(frozen=True, eq=False)
class TemperatureBand:
    """What the probe should read: 5, 50 and 95 %, (n,) each [K], at times from mixing [s]."""

    time: Floats
    p5: Floats
    p50: Floats
    p95: Floats


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
    status: str
    """``may_come_out``, ``keep_in``, ``not_on_these_readings`` (not relied on), or ``no_release``."""
    passed: bool
    """Whether the answer has passed: only readings that are relied on can tell, and the last good one if nobody says what
    time it is."""
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
    """What to mind at any such job, and whose word takes precedence."""
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

    document: Mapping[str, Any]
    """The same as the core writes it, ``libcure/follow/1``."""

    @classmethod
    def from_core(cls, case: Case, core: _core.FollowResult) -> FollowResult:
        """From what the core found."""
        d = json.loads(core.document_json(case.title or case.name))
        return cls(
            case=case,
            at=d["readings"]["at"],
            file=d["readings"]["file"],
            now_min=d["now_min"],
            now_given=d["now_from"] == "given",
            before=Sure.read(d["before"]),
            after=Sure.read(d["after"]),
            relied_on=d["relied_on"],
            status=d["status"],
            passed=d["release_passed"],
            release_min=_number(d["release_min"]),
            working_min=_number(d["working_time_min"]),
            reasons=tuple(Statement(s["code"], s["text"]) for s in d["reasons"]),
            faults=tuple(Statement(s["code"], s["text"], s["readings"]) for s in d["faults"]),
            cautions=tuple(d["cautions"]),
            usual_cautions=tuple(d["usual_cautions"]),
            unknowns=tuple(Unknown.read(u) for u in d["unknowns"]),
            readings=Screened(core.time, core.temperature, np.array(core.status, dtype=np.str_)),
            effective_readings=d["readings"]["worth"],
            effective_rows=d["sampling"]["effective_rows"],
            samples=d["sampling"]["rows"],
            seed=d["sampling"]["seed"],
            band_before=TemperatureBand(*core.band_before),
            band_after=TemperatureBand(*core.band_after),
            document=d,
        )

    @property
    def used(self) -> int:
        """Readings that count."""
        return int(self.readings.used.sum())

    def to_json(self) -> dict[str, Any]:
        """A document ``libcure/follow/1``; null is never, or not in two days of holding."""
        return {**self.document, **self.case.said_changes()}

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
