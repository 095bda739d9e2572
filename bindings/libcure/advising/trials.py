"""Trial runs of a job: with changes, and with a wet-out that goes on until the resin is workable no longer.

Nothing that happens before the liner is held depends on what comes after. So one run without a held stage
tells the latest moment at which the liner may be held and is still workable.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, ensemble
from libcure.advising.bands import sides
from libcure.advising.needs import Needs, Ranges, status_of, step_up
from libcure.advising.result import Band, Outcome
from libcure.case import Case
from libcure.errors import input_error
from libcure.models import limit_C
from libcure.result import Prediction, Times, predict, predict_many
from libcure.rounding import short_duration
from libcure.sampling import UncertainInput
from libcure.uncertainty import Uncertainty
from libcure.verdict_view import place_of

__all__ = ["Trials"]

Floats = NDArray[np.float64]
Changes = Mapping[str, Any]

LONGEST_WET_OUT_MIN = 1440.0
HOLD_STEP_MIN = 30.0
"""Holds are advised in steps of this [min], with one in reserve: a choice of this project."""
NEEDS = ("working", "release", "hot", "model")


class Trials:
    """One case, what is needed of it, and runs of it with changes. Runs are kept, so asking twice costs once."""

    def __init__(
        self, case: Case, ranges: Ranges, uncertain: str | os.PathLike[str] | Sequence[UncertainInput] | None, samples: int | None
    ) -> None:
        """Runs the case as planned.

        Args:
            case: the job.
            ranges: how far changes are looked for.
            uncertain, samples: as for :func:`libcure.predict`.
        """
        document = case.document
        kinds = [stage["kind"] for stage in document["stages"]]
        if "held" not in kinds:
            raise input_error("stages", "no held stage", "a held stage, because advice is on release", case.name)
        self.case, self.ranges, self._asked = case, ranges, (uncertain, samples)
        self.uncertainty = Uncertainty(uncertain, samples)
        self.stages: list[dict[str, Any]] = document["stages"]
        self.held = kinds.index("held")
        self.section = "section" in document
        self.hold_path = f"stages[{self.held}].duration_min"
        self.held_from_min = sum(stage["duration_min"] for stage in self.stages[: self.held])
        self.planned_hold_min = float(self.stages[self.held]["duration_min"])
        self.planned_end_min = self.held_from_min + self.planned_hold_min
        self.open_min = LONGEST_WET_OUT_MIN
        planned = self._predict(case)
        self.planned = planned
        """The job as the case has it."""
        self.factor = 1.0 if self.uncertainty.known else float(planned.verdict["criterion"]["safety_factor"])
        """On the time at which the criterion is met: ranges take the place of the safety factor."""
        self._needs: Needs | None = None
        self._runs: dict[str, Outcome] = {}
        self._full: dict[str, Outcome] = {}
        self._latest: dict[str, float | None] = {}
        self._opened_low: dict[str, float | None] = {}
        self._bands: dict[str, Band] = {}

    def _predict(self, case: Case) -> Prediction:
        uncertain, samples = self._asked
        return predict(case, uncertain=uncertain, samples=samples)

    @property
    def needs(self) -> Needs:
        """What is needed; set once."""
        assert self._needs is not None
        return self._needs

    @needs.setter
    def needs(self, needs: Needs) -> None:
        self._needs = needs
        self.open_min = max(LONGEST_WET_OUT_MIN, 2.0 * needs.working_min)

    @property
    def release_target_min(self) -> float:
        """Latest release that a search aims at [min]: what is needed, or else the end of the planned hold,
        down to whole 5 min."""
        by = self.needs.release_by_min
        return 5.0 * math.floor((self.planned_end_min if by is None else by) / 5.0 + 1e-9)

    @property
    def longest_hold_min(self) -> float:
        """Longest hold that is looked at [min]."""
        return max(self.ranges.longest_hold_min, self.planned_hold_min)

    def uncertainty_of(self, case: Case) -> Uncertainty:
        """What is uncertain, with as many samples as ``predict`` takes of such a case where each is a whole prediction."""
        uncertain, samples = self._asked
        if samples is not None or _core.packed(case.core):
            return self.uncertainty
        return Uncertainty(uncertain, 16 if "section" in case.document else 128)

    def release_of(self, t: Times) -> float | None:
        """When the bladder may come out by the times of one simulation, up to 5 min [min]; None: never."""
        return None if t.criterion_met_min is None else step_up(self.factor * t.criterion_met_min)

    def hold_words(self, changes: Changes) -> str:
        """The hold in words where it is changed, else nothing."""
        if self.hold_path not in changes:
            return ""
        return f"bladder held for {short_duration(changes[self.hold_path])} (planned {short_duration(self.planned_hold_min)})"

    def changed(self, changes: Changes, *, longest_hold: bool = True) -> Case:
        """The case with changes; held as long as may be, so that a late release is seen too."""
        if longest_hold and self.hold_path not in changes:
            changes = {**changes, self.hold_path: self.longest_hold_min}
        return self.case.replace(changes) if changes else self.case

    def opened(self, changes: Changes) -> Case:
        """The changed case, its last stage before the pipe going on and on; itself when there is no such stage."""
        if self.held == 0:
            return self.changed(changes)
        document = self.case.replace(changes).document
        document.pop("section", None)  # before the liner is held all of it is even
        document["stages"] = document["stages"][: self.held]
        document["stages"][-1]["duration_min"] = self.open_min
        return Case.from_dict(document, self.case.beside, self.case.name)

    def _before_held(self, changes: Changes) -> dict[str, Any]:
        """Those changes that matter before the liner is held."""
        if self.held == 0:
            return dict(changes)
        return {path: value for path, value in changes.items() if not path.startswith(f"stages[{self.held}].")}

    def latest(self, changes: Changes) -> float | None:
        """Latest moment at which the liner may be held and is workable [min]; None: none in ``open_min``."""
        before = self._before_held(changes)
        key = _key(before)
        if key not in self._latest:
            self._latest[key] = predict(self.opened(before), numerical_error=False, uncertain="none").times.working_min
        return self._latest[key]

    def band(self, changes: Changes) -> Band | None:
        """The conservative sides of the changed case; None for a point estimate."""
        if not self.uncertainty.known:
            return None
        changes = {path: value for path, value in changes.items() if path != self.hold_path}
        key, case = _key(changes), self.changed(changes)
        if key not in self._bands:
            found = sides(self.uncertainty_of(case), case, case)
            self._bands[key] = replace(found, latest_in_place_min=self._latest_low(changes))
        return self._bands[key]

    def _latest_low(self, changes: Changes) -> float | None:
        """The conservative side of :meth:`latest`."""
        before = self._before_held(changes)
        key = _key(before)
        if key not in self._opened_low:
            opened = self.opened(before)
            self._opened_low[key] = sides(self.uncertainty_of(opened), opened, self.case.replace(changes)).working_min
        return self._opened_low[key]

    def trial(self, changes: Changes) -> Outcome:
        """One run with changes, held as long as may be; without conservative sides."""
        key = _key(changes)
        if key not in self._runs:
            p = predict(self.changed(changes), numerical_error=False, uncertain="none")
            self._runs[key] = self._judged(p, self.release_of(p.times), self.release_target_min, self.latest(changes))
        return self._runs[key]

    def needed_hold(self, changes: Changes) -> float | None:
        """Hold up to the release, up to 5 min [min]; None: never.

        By the conservative side where it is known and does release.
        """
        release, band = self.release_of(self.trial(changes).times), self.band(changes)
        if band is not None and band.release_min is not None:
            release = max(band.release_min, release or 0.0)
        return None if release is None else step_up(release - self.held_from_min)

    def advised_hold(self, needed_min: float) -> float | None:
        """A hold to tell a crew [min]: half hours, one of them in reserve; None: too long, or past the deadline."""
        hold = step_up(needed_min + HOLD_STEP_MIN, HOLD_STEP_MIN)
        by = self.needs.release_by_min
        late = by is not None and self.held_from_min + hold > by
        return None if late or hold > self.longest_hold_min else hold

    def finished(self, changes: Changes, missed: Sequence[Changes] = ()) -> tuple[dict[str, Any], Outcome]:
        """The changes with the hold that they need, and their run in full, with its numerical error.

        Args:
            changes: without a hold.
            missed: what they may become when a target is missed; the hold is long enough for that too.
        """
        found = dict(changes)
        needed = max(_or_infinite(self.needed_hold(c)) for c in (changes, *missed))
        hold = self.advised_hold(needed) if self.planned_hold_min < needed < math.inf else None
        if hold is not None:
            found[self.hold_path] = hold
        return found, self.in_full(found)

    def in_full(self, changes: Changes) -> Outcome:
        """What :func:`libcure.predict` says of the changed case, with its ranges, held against the needs."""
        key = _key(changes)
        if key not in self._full:
            p = self._predict(self.changed(changes, longest_hold=False)) if changes else self.planned
            self._full[key] = self._in_full(p, changes)
        return self._full[key]

    def _in_full(self, p: Prediction, changes: Changes) -> Outcome:
        end, by = self.held_from_min + p.case.document["stages"][self.held]["duration_min"], self.needs.release_by_min
        by = end if by is None else min(by, end)
        release = p.answer.release_min  # None also of a job that is stopped by something else
        if p.ranges is None:
            return self._judged(p, release or self.release_of(p.times), by, self.latest(changes))
        bound, peak = p.ranges.release_bound_min, p.ranges.peak_temperature_C.p95
        if release is None and math.isfinite(bound):
            release = step_up(bound)
        band = Band(self._latest_low(changes), p.answer.working_until_min, release, peak if math.isfinite(peak) else None)
        return self._judged(p, release, by, self.latest(changes), band)

    def _judged(
        self, p: Prediction, release: float | None, release_by: float, latest: float | None, band: Band | None = None
    ) -> Outcome:
        """A prediction, and where known its conservative sides, held against the needs."""
        v, status = p.verdict, status_of(p)
        unmet = set(status.unmet)
        earliest = _or_infinite(latest)
        if band is not None:
            earliest = min(earliest, _or_infinite(band.latest_in_place_min))
        if earliest < self.needs.working_min:
            unmet.add("working")
        if _or_infinite(release) > release_by:
            unmet.add("release")
        return Outcome(
            p.times, p.answer.release_min, latest, v["release_state"], v["peak_temperature_C"], v["peak_time_min"], place_of(v["peak"]),
            status.name, status.reasons, tuple(need for need in NEEDS if need in unmet), band,
        )  # fmt: skip

    def in_time(self, changes: Changes, need: str) -> bool:
        """Whether the conservative side meets the need too; true for a point estimate."""
        if need == "working":  # a tenth of a whole band, of a section still less
            return not self.uncertainty.known or _or_infinite(self._latest_low(changes)) >= self.needs.working_min
        band = self.band(changes)
        return band is None or _or_infinite(band.release_min) <= self.release_target_min

    def cool(self, changes: Changes) -> bool:
        """Whether the conservative side stays below the limits of resin, bladder and pipe; true for a point estimate."""
        band = self.band(changes)
        case = self.case.replace(changes)
        return band is None or _or_infinite(band.peak_temperature_C) <= limit_C(case.document, case.beside)

    def working_room(self, o: Outcome) -> float:
        """Minutes by which the working need is met, negative when it is missed or something gets too hot."""
        room = self.open_min if o.latest_in_place_min is None else o.latest_in_place_min - self.needs.working_min
        bad = any(need != "release" for need in o.unmet)
        return min(room, -0.01) if bad else max(room, 0.0)

    def release_room(self, o: Outcome) -> float:
        """The same for the release; it runs smoothly where the release goes by 5 min."""
        if o.times.criterion_met_min is None:
            return -self.ranges.longest_hold_min
        room = self.release_target_min - self.factor * o.times.criterion_met_min
        return min(room, -0.01) if "hot" in o.unmet or "model" in o.unmet else room

    def scan(self, changes: Changes, name: str, offsets: Floats, need: str) -> Floats:
        """Latest moment in place (need ``working``) or release [min] at many offsets of one input.

        Infinite is never.
        """
        if need == "working":
            return _minutes(ensemble.simulate_many(self.opened(changes), {name: offsets}).working_time_s)
        return self.factor * _minutes(ensemble.simulate_many(self.changed(changes), {name: offsets}).release_time_s)

    def scan_cases(self, all_changes: Sequence[Changes], need: str) -> Floats:
        """The same for changes that are no offsets of an input, or with a section: whole predictions."""
        if need == "working":
            found = [self.latest(changes) for changes in all_changes]
        else:
            rows = predict_many([self.changed(changes) for changes in all_changes], uncertain="none")
            found = [None if row.times is None else self.release_of(row.times) for row in rows]
        return np.array([_or_infinite(v) for v in found])


def _key(changes: Changes) -> str:
    return json.dumps(dict(changes), sort_keys=True)


def _minutes(seconds: Floats) -> Floats:
    return np.where(np.isnan(seconds), np.inf, seconds / 60.0)


def _or_infinite(value: float | None) -> float:
    return math.inf if value is None else value
