"""Goes through what can be changed in a job, and puts together what does it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from libcure.advising import levers
from libcure.advising.levers import Lever
from libcure.advising.needs import LATEST_MIN, down, step_up, up
from libcure.advising.result import Advice, Hardener, NoValue, Outcome, Proposal
from libcure.advising.search import Found, look
from libcure.advising.trials import Trials
from libcure.case import Case
from libcure.errors import CureError
from libcure.verdict_view import usual_cautions

__all__ = ["Advisor"]


class Advisor:
    """Goes through what can be changed, and puts together what does it."""

    def __init__(self, trials: Trials) -> None:
        self.trials = trials
        self.proposals: list[Proposal] = []
        self.none: list[NoValue] = []

    def advice(self, resins: Sequence[str]) -> Advice:
        trials = self.trials
        planned = trials.in_full({})
        knife_edge = any(code == "knife_edge" for code, _ in planned.troubles)
        if ("release" in planned.unmet or knife_edge) and planned.release_state != "gelled_before_held":
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
            trials.uncertainty.samples if known else 0, exact, trials.open_min,
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
        shaded = [("shade", "wet-out in the shade", sun)] if sun else []
        done = [self._turn({}, [], ice, "working"), self._turn({}, [], cool, "working")]
        if sun:
            done.append(self._set(*shaded[0]))
        if sun and not any(done):
            done += [self._turn(sun, shaded, cool, "working"), self._turn(sun, shaded, ice, "working")]
        if not cool.values or any(done[: 2 + bool(sun)]):
            return
        cooled = cool.changes(cool.values[-1])
        said = ("packer_temperature", cool.said.format(f"{cool.values[-1]:g}"), cooled)
        done.append(self._turn(cooled, [said], ice, "working"))
        if sun and not any(done):
            self._turn({**sun, **cooled}, [*shaded, said], ice, "working")

    def _earlier_release(self) -> None:
        """A warmer fill, or a longer hold."""
        trials = self.trials
        self._turn({}, [], levers.fill(trials, {}), "release")
        hold, planned = trials.needed_hold({}), trials.planned_hold_min
        if hold is None:
            why = "the resin vitrifies first" if trials.trial({}).release_state == "vitrified" else "not cured by then"
            self.none.append(NoValue(("hold",), "a longer hold", (planned, trials.longest_hold_min), "min", why))
            return
        if hold <= planned:
            return  # the hold as planned is long enough, only the deadline is not
        changes = {trials.hold_path: hold}
        recommended = trials.trial({}).times.release_recommended_min
        middle = None if recommended is None else recommended - trials.held_from_min
        self._add(Proposal(
            ("hold",), trials.hold_words(changes), changes, hold, "min", None if middle is None else step_up(middle),
            middle, None, (planned, trials.longest_hold_min), trials.in_full(changes),
        ))  # fmt: skip

    def _hardeners(self, names: Sequence[str], planned: Outcome) -> list[Hardener]:
        trials = self.trials
        own = trials.case.resin
        shown = trials.case.document["resin"]
        rows = [Hardener(shown if isinstance(shown, str) else own.id, own.title, own.estimated, True, planned)]
        for name in names:
            change = {"resin": name}
            resin = trials.case.replace(change).resin
            changes, outcome = trials.finished(change)
            rows.append(Hardener(name, resin.title, resin.estimated, False, outcome))
            if not planned.unmet:
                continue
            words = f"hardener {resin.id}"
            said = [("hardener", words, change)]
            if not outcome.unmet:
                self._add(_plain("hardener", _joined([words, trials.hold_words(changes)]), changes, outcome))
            elif outcome.unmet == ("release",):
                self._turn(change, said, levers.fill(trials, change), "release", quietly=True)
            elif outcome.release_state == "gelled_before_held" or "release" not in outcome.unmet:
                for lever in (levers.resin(trials), levers.packer(trials)):
                    if self._turn(change, said, lever, "working", quietly=True):
                        break
        return sorted(rows, key=lambda h: _or_last(h.outcome.latest_in_place_min))

    def _set(self, kind: str, words: str, change: Mapping[str, Any]) -> bool:
        """A change that is made or not, without a value."""
        changes, outcome = self.trials.finished(change)
        if "working" in outcome.unmet or "hot" in outcome.unmet:
            self.none.append(NoValue((kind,), words, None, "", ""))
            return False
        self._add(_plain(kind, _joined([words, self.trials.hold_words(changes)]), changes, outcome))
        return not outcome.unmet

    def _turn(
        self,
        base: Mapping[str, Any],
        before: Sequence[tuple[str, str, Mapping[str, Any]]],
        lever: Lever,
        need: str,
        *,
        quietly: bool = False,
    ) -> bool:
        """Looks for the value of a lever; whether that, or a warmer fill with it, meets every need.

        Args:
            before: what is changed already: kind, words and changes.
            quietly: do not list it when no value does it.
        """
        kinds = (*(kind for kind, _, _ in before), lever.kind)
        words = [said for _, said, _ in before]
        if not lever.values:
            if not quietly:
                best = f"planned at {lever.start_C:g} °C, {lever.why_end}"
                self.none.append(NoValue(kinds, _joined([*words, lever.name]), None, "", best))
            return False
        trials = self.trials
        found = look(trials, base, lever, need)
        searched = (lever.values[0], lever.values[-1])
        value = found.value if found.value is not None else found.harmful
        if value is None:
            if not quietly:
                said = _joined([*words, lever.name])
                self.none.append(NoValue(kinds, said, searched, "C", _best(found, lever, need)))
            return False
        changes, outcome = trials.finished({**base, **lever.changes(value)})
        turned = f"{lever.said.format(f'{value:g}')} (planned {lever.start_C:g} °C)"
        said = _joined([*words, turned, trials.hold_words(changes)])
        self._add(Proposal(kinds, said, changes, value, "C", found.middle, found.edge, found.works_to, searched, outcome,
                           _notes(trials.case.replace(base), lever, value)))  # fmt: skip
        fill_fails = any(n.kind == ("fill_temperature",) for n in self.none)
        if outcome.unmet == ("release",) and lever.kind != "fill_temperature" and not fill_fails:
            own = {**base, **lever.changes(value)}
            done = [*before, (lever.kind, lever.said.format(f"{value:g}"), own)]
            return self._turn(own, done, levers.fill(trials, own), "release", quietly=True)
        return not outcome.unmet

    def _add(self, proposal: Proposal) -> None:
        self.proposals.append(proposal)


def _plain(kind: str, words: str, changes: Mapping[str, Any], outcome: Outcome) -> Proposal:
    """A change without a value."""
    return Proposal((kind,), words, changes, None, "", None, None, None, None, outcome)


def _rank(p: Proposal, exact: Sequence[str]) -> tuple[bool, int, bool, float]:
    """Those that do it first, then few changes, then resins whose constants are not taken as exact, which would look surer than
    they are, then an early release."""
    o = p.outcome
    release = o.times.release_recommended_min if o.band is None else o.band.release_recommended_min
    return not p.does_it, len(p.kind), p.changes.get("resin") in exact, _or_last(release)


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
