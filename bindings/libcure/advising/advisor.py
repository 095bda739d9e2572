"""Goes through what can be changed in a job, and puts together what does it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from libcure.advising import levers
from libcure.advising.levers import Lever
from libcure.advising.needs import LATEST_MIN, down, up
from libcure.advising.result import Advice, Hardener, NoValue, Outcome, Proposal
from libcure.advising.search import Found, look
from libcure.advising.trials import Trials
from libcure.case import Case
from libcure.errors import CureError
from libcure.verdict_view import usual_cautions

__all__ = ["Advisor"]


@dataclass(frozen=True)
class _Step:
    """One of the changes that a proposal puts together."""

    kind: str
    words: str
    changes: Mapping[str, Any]
    weaker: Mapping[str, Any] | None = None
    """The same one step to the bad side; None where there are no steps."""


class Advisor:
    """Goes through what can be changed, and puts together what does it."""

    def __init__(self, trials: Trials) -> None:
        self.trials = trials
        self.proposals: list[Proposal] = []
        self.none: list[NoValue] = []

    def advice(self, resins: Sequence[str]) -> Advice:
        trials = self.trials
        planned = trials.in_full({})
        # What the model does not cover may be its cold end.
        if ("release" in planned.unmet or planned.unmet == ("model",)) and planned.release_state != "gelled_before_held":
            self._earlier_release()
        if {"working", "hot"} & set(planned.unmet):
            self._more_working_time()
        hardeners = self._hardeners(resins, planned)
        known = trials.uncertainty.known
        exact = self._without_constants(hardeners) if known else ()
        proposals = sorted(self._distinct(), key=lambda p: _rank(p, exact))
        said = trials.uncertainty.words(trials.case) if known else ""
        return Advice(
            trials.case, trials.needs, trials.ranges, planned, usual_cautions(trials.planned.verdict), tuple(proposals),
            tuple(self.none), tuple(hardeners), said, trials.uncertainty.why_none,
            trials.planned.ranges.samples if trials.planned.ranges is not None else 0, exact, trials.open_min,
        )  # fmt: skip

    def _without_constants(self, hardeners: Sequence[Hardener]) -> tuple[str, ...]:
        trials = self.trials
        cases = [trials.case if h.own else trials.case.replace({"resin": h.resin}) for h in hardeners]
        return tuple(
            h.resin for h, case in zip(hardeners, cases, strict=True) if not trials.uncertainty.has_constants(case)
        )

    def _distinct(self) -> list[Proposal]:
        seen: dict[str, Proposal] = {}
        for p in self.proposals:
            seen.setdefault(p.words, p)
        return list(seen.values())

    def _more_working_time(self) -> None:
        """Ice the resin, cool the packer, keep the sun off; two together where one is not enough."""
        trials = self.trials
        ice, cool, sun = levers.resin(trials), levers.packer(trials), levers.shade(trials)
        shaded = [_Step("shade", "wet-out in the shade", sun)] if sun else []
        done = [self._turn([], ice, "working"), self._turn([], cool, "working")]
        if sun:
            done.append(self._set(shaded[0]))
        if sun and not any(done):
            done += [self._turn(shaded, cool, "working"), self._turn(shaded, ice, "working")]
        if not cool.values or any(done[: 2 + bool(sun)]):
            return
        cooled = _step(cool, cool.values[-1])
        done.append(self._turn([cooled], ice, "working"))
        if sun and not any(done):
            self._turn([*shaded, cooled], ice, "working")

    def _earlier_release(self) -> None:
        """A warmer fill, or a longer hold."""
        trials = self.trials
        self._turn([], levers.fill(trials, {}), "release")
        needed, planned = trials.needed_hold({}), trials.planned_hold_min
        if needed is not None and needed <= planned:
            return  # the hold as planned is long enough, only the deadline is not
        hold = None if needed is None else trials.advised_hold(needed)
        if hold is None:
            if needed is not None:
                why = f"{up(needed)} are needed, and half an hour in reserve"
            else:
                why = "the resin vitrifies first" if trials.trial({}).release_state == "vitrified" else "not cured by then"
            self.none.append(NoValue(("hold",), "a longer hold", (planned, trials.longest_hold_min), "min", why))
            return
        changes = {trials.hold_path: hold}
        middle = trials.release_of(trials.trial({}).times)
        middle = None if middle is None else middle - trials.held_from_min
        self._add(Proposal(
            ("hold",), trials.hold_words(changes), changes, hold, "min", None if middle is None else trials.advised_hold(middle),
            middle, None, (planned, trials.longest_hold_min), trials.in_full(changes),
        ))  # fmt: skip

    def _hardeners(self, names: Sequence[str], planned: Outcome) -> list[Hardener]:
        trials = self.trials
        own = trials.case.resin
        shown = trials.case.document["resin"]
        rows = [Hardener(shown if isinstance(shown, str) else own.id, own.title, own.estimated, True, planned)]
        for name in names:
            step = _Step("hardener", "", {"resin": name})
            resin = trials.case.replace(step.changes).resin
            step = replace(step, words=f"hardener {resin.id}")
            rows.append(Hardener(name, resin.title, resin.estimated, False, trials.in_full(step.changes)))
            if not planned.unmet:
                continue
            _, outcome = trials.finished(step.changes)
            if not outcome.unmet:
                self._set(step)
            elif outcome.unmet == ("release",):
                self._turn([step], levers.fill(trials, step.changes), "release", quietly=True)
            elif outcome.release_state == "gelled_before_held" or "release" not in outcome.unmet:
                for lever in (levers.resin(trials), levers.packer(trials)):
                    if self._turn([step], lever, "working", quietly=True):
                        break
        return sorted(rows, key=lambda h: _or_last(h.outcome.latest_in_place_min))

    def _set(self, step: _Step) -> bool:
        """A change that is made or not, without a value."""
        changes, outcome = self.trials.finished(step.changes)
        if "working" in outcome.unmet or "hot" in outcome.unmet:
            self.none.append(NoValue((step.kind,), step.words, None, "", ""))
            return False
        words = _joined([step.words, self.trials.hold_words(changes)])
        self._add(Proposal((step.kind,), words, changes, None, "", None, None, None, None, outcome))
        return not outcome.unmet

    def _turn(self, before: Sequence[_Step], lever: Lever, need: str, *, quietly: bool = False) -> bool:
        """Looks for the value of a lever; whether that, or a warmer fill with it, meets every need.

        Args:
            before: what is changed already.
            quietly: do not list it when no value does it.
        """
        trials, kinds = self.trials, (*(step.kind for step in before), lever.kind)
        name = _joined([*(step.words for step in before), lever.name])
        if not lever.values:
            if not quietly:
                best = f"planned at {lever.start_C:g} °C, {lever.why_end}"
                self.none.append(NoValue(kinds, name, None, "", best))
            return False
        # The working time must be there too when what is changed already is missed by a step.
        found = look(trials, _merged(before, weaker=need == "working"), lever, need)
        searched = (lever.values[0], lever.values[-1])
        value = found.value if found.value is not None else found.harmful
        if value is None:
            if not quietly:
                self.none.append(NoValue(kinds, name, searched, "C", _best(found, lever, need)))
            return False
        steps = [*before, _step(lever, value)]
        changes, outcome = self._with_reserve(steps)
        turned = f"{steps[-1].words} (planned {lever.start_C:g} °C)"
        said = _joined([*(step.words for step in before), turned, trials.hold_words(changes)])
        self._add(Proposal(kinds, said, changes, value, "C", found.middle, found.edge, found.works_to, searched, outcome,
                           _notes(trials.case.replace(_merged(before)), lever, value)))  # fmt: skip
        fill_fails = any(n.kind == ("fill_temperature",) for n in self.none)
        if outcome.unmet == ("release",) and lever.kind != "fill_temperature" and not fill_fails:
            return self._turn(steps, levers.fill(trials, _merged(steps)), "release", quietly=True)
        return not outcome.unmet

    def _with_reserve(self, steps: Sequence[_Step]) -> tuple[dict[str, Any], Outcome]:
        """The changes with the hold that they need, and their run, which must do it too with any target missed by a step."""
        weaker = [step.weaker for step in steps if step.weaker is not None]
        planned = _merged(steps)
        changes, outcome = self.trials.finished(planned, [{**planned, **missed} for missed in weaker])
        if not outcome.unmet and any(self.trials.in_full({**changes, **missed}).unmet for missed in weaker):
            outcome = replace(outcome, unmet=("reserve",))
        return changes, outcome

    def _add(self, proposal: Proposal) -> None:
        self.proposals.append(proposal)


def _step(lever: Lever, value_C: float) -> _Step:
    """A lever turned to a value."""
    words = lever.said.format(f"{value_C:g}")
    return _Step(lever.kind, words, lever.changes(value_C), lever.changes(lever.weaker(value_C)))


def _merged(steps: Sequence[_Step], *, weaker: bool = False) -> dict[str, Any]:
    """The changes of all steps together."""
    merged: dict[str, Any] = {}
    for step in steps:
        merged |= step.weaker if weaker and step.weaker is not None else step.changes
    return merged


def _rank(p: Proposal, exact: Sequence[str]) -> tuple[bool, int, bool, float]:
    """Those that do it first, then few changes, then resins whose constants are not taken as exact, which would look surer than
    they are, then an early release."""
    return not p.does_it, len(p.kind), p.changes.get("resin") in exact, _or_last(p.outcome.release_min)


def _joined(words: Sequence[str]) -> str:
    return ", ".join(filter(None, words))


def _or_last(minutes: float | None) -> float:
    return LATEST_MIN * 10.0 if minutes is None else minutes


def _best(found: Found, lever: Lever, need: str) -> str:
    # The range is shown anyway; only what else ended it needs words.
    end = "" if lever.why_end.endswith("looked at") else f"; {lever.values[-1]:g} °C is {lever.why_end}"
    if need == "working":
        return f"at best in place by {down(found.best_min)}, at {found.best_at:g} °C{end}"
    if found.best_min >= LATEST_MIN:
        return f"no release at any{end}"
    return f"at best released at {up(found.best_min)}, at {found.best_at:g} °C{end}"


def _notes(case: Case, lever: Lever, value_C: float) -> tuple[str, ...]:
    if lever.kind != "resin_temperature":
        return ()
    resin = case.resin
    try:
        thin, thick = resin.viscosity([lever.start_C + 273.15, value_C + 273.15], [resin.initial_degree_of_cure] * 2)
    except CureError:  # a model without viscosity
        return ()
    return (f"the mix is {thick / thin:.1f} times as thick, {thick:.1f} Pa s",)
