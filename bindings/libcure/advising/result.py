"""What the advice says: needs, times as planned, changes that were tried, and hardeners."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from libcure import documents
from libcure.advising.needs import Needs, Ranges
from libcure.case import Case
from libcure.result import Times

if TYPE_CHECKING:
    import pandas as pd

__all__ = ["Advice", "Band", "Hardener", "NoValue", "Outcome", "Proposal"]

FORMAT = "libcure/advice/1"


@dataclass(frozen=True)
class Band:
    """The conservative sides of what is uncertain; times in minutes from mixing."""

    latest_in_place_min: float | None
    """5 % low side; None: not reached in the longest wet-out looked at."""
    working_min: float | None
    """5 % low side of the working time as it goes; None: not reached."""
    release_min: float | None
    """95 % high side with its sampling error, rounded up to 5 min; None: there is none in the longest hold."""
    peak_temperature_C: float | None
    """95 % high side of the hottest resin [°C]; None: too many samples could not be computed."""


@dataclass(frozen=True)
class Outcome:
    """One whole simulation, held against the needs."""

    times: Times
    release_min: float | None
    """When the bladder may come out, as the answer of ``predict`` says; None where the job must not be done so."""
    latest_in_place_min: float | None
    """Latest moment [min from mixing] at which the liner may be held against the pipe and is still
    workable, when the wet-out goes on until then. None: later than the longest wet-out looked at."""
    release_state: str
    """As ``release_state`` of a verdict."""
    peak_temperature_C: float
    """Hottest resin point."""
    peak_time_min: float
    peak_place: str
    status: str
    """``ok``, ``wait`` or ``stop``, as on the page that ``predict`` gives of it."""
    troubles: tuple[tuple[str, str], ...]
    """Code and text of what makes it so."""
    unmet: tuple[str, ...]
    """Any of ``working``, ``release``, ``hot``, ``model``, ``reserve`` (it is not met with a target one step to the bad
    side); empty when every need is met, where known on the conservative sides too."""
    band: Band | None = None
    """None for a point estimate."""

    @property
    def sides(self) -> Band:
        """The conservative sides, or the times of the one simulation where they are not known."""
        t = self.times
        return self.band or Band(self.latest_in_place_min, t.working_min, self.release_min or t.criterion_met_min, self.peak_temperature_C)


@dataclass(frozen=True)
class Proposal:
    """A change that was found and computed in full."""

    kind: tuple[str, ...]
    """What is changed: ``resin_temperature``, ``packer_temperature``, ``shade``, ``fill_temperature``,
    ``hold``, ``hardener``."""
    words: str
    changes: Mapping[str, Any]
    """For :meth:`libcure.Case.replace`."""
    value: float | None
    """The value looked for, a round one with a step in reserve; None for a hardener or shade."""
    unit: str
    """``C``, ``min`` or empty."""
    middle_value: float | None
    """The same if only the middle values had to meet the need; ``value`` goes by the conservative sides, where known."""
    edge: float | None
    """Where the middle values only just meet the need, before rounding; None when nothing was searched."""
    works_to: float | None
    """Farthest round value, without a gap, at which the middle values still meet it; None when not searched."""
    searched: tuple[float, float] | None
    """First and last value looked at."""
    outcome: Outcome
    notes: tuple[str, ...] = ()

    @property
    def does_it(self) -> bool:
        """True when every need is met."""
        return not self.outcome.unmet


@dataclass(frozen=True)
class NoValue:
    """A change of which no value in the range does it."""

    kind: tuple[str, ...]
    words: str
    searched: tuple[float, float] | None
    unit: str
    best: str
    """How near the best of them comes, in words; may be empty."""


@dataclass(frozen=True)
class Hardener:
    """The same job with another resin model, nothing else changed."""

    resin: str
    """Id or path."""
    title: str
    estimated: bool
    own: bool
    """True for the resin of the case."""
    outcome: Outcome


@dataclass(frozen=True, eq=False)
class Advice:
    """What to change in a job, or that nothing needs changing. Can be pickled."""

    case: Case
    needs: Needs
    ranges: Ranges
    planned: Outcome
    """The job as the case has it."""
    planned_cautions: tuple[str, ...]
    proposals: tuple[Proposal, ...]
    """Those that meet every need first, then those that break another."""
    no_values: tuple[NoValue, ...]
    hardeners: tuple[Hardener, ...]
    """By working time, shortest first."""
    uncertain: str
    """What the bands are from, in words; empty for a point estimate."""
    why_no_band: str
    """Why there are no bands; empty when there are."""
    samples: int
    """Of the job as planned; 0 without."""
    without_constants: tuple[str, ...]
    """Resins whose constants have no covariance, so that their conservative sides lack them."""
    open_min: float
    """Longest wet-out looked at [min from mixing]."""

    @property
    def nothing_to_change(self) -> bool:
        """True when the job as planned meets every need, and nothing is red on the page of ``predict``."""
        return not self.planned.unmet and self.planned.status == "ok"

    @property
    def good(self) -> tuple[Proposal, ...]:
        """The proposals that meet every need."""
        return tuple(p for p in self.proposals if p.does_it)

    def to_dict(self) -> dict[str, Any]:
        """A document ``libcure/advice/1``; the unit is in the key."""
        return {
            "format": FORMAT,
            "title": self.case.title,
            "needs": asdict(self.needs),
            "searched": asdict(self.ranges),
            "nothing_to_change": self.nothing_to_change,
            "as_planned": _outcome(self.planned),
            "proposals": [
                {
                    "kind": list(p.kind),
                    "words": p.words,
                    "does_it": p.does_it,
                    "changes": dict(p.changes),
                    **_valued("value", p.value, p.unit),
                    **_valued("middle_value", p.middle_value, p.unit),
                    **_valued("edge", p.edge, p.unit),
                    **_valued("works_to", p.works_to, p.unit),
                    **_range(p.searched, p.unit),
                    "outcome": _outcome(p.outcome),
                    "notes": list(p.notes),
                }
                for p in self.proposals
            ],
            "no_value": [
                {"kind": list(n.kind), "words": n.words, "best": n.best, **_range(n.searched, n.unit)} for n in self.no_values
            ],
            "hardeners": [
                {"resin": h.resin, "title": h.title, "estimated": h.estimated, "own": h.own, "outcome": _outcome(h.outcome)}
                for h in self.hardeners
            ],
            "uncertain": {"ranges": self.uncertain, "none_because": self.why_no_band, "samples": self.samples,
                          "without_constants": list(self.without_constants)},
            "longest_wet_out_min": self.open_min,
            "cautions": list(self.planned_cautions),
            **self.case.said_changes(),
        }

    def write_json(self, path: str | os.PathLike[str]) -> None:
        """Writes ``libcure/advice/1``, whole or not at all.

        Raises:
            CureError: the path does not end in ``.json`` or cannot be written.
        """
        documents.write_json(self.to_dict(), path)

    def to_dataframe(self) -> pd.DataFrame:
        """One row for the job as planned, each proposal and each hardener; times in minutes from mixing."""
        import pandas as pd

        rows: list[tuple[str, str, Outcome]] = [("planned", "as planned", self.planned)]
        rows += [("proposal", p.words, p.outcome) for p in self.proposals]
        rows += [("hardener", h.resin, h.outcome) for h in self.hardeners]
        return pd.DataFrame(
            [
                {
                    "what": what,
                    "change": words,
                    "latest_in_place_min": o.latest_in_place_min,
                    **asdict(o.times),
                    "release_min": o.release_min,
                    "peak_temperature_C": o.peak_temperature_C,
                    "unmet": ", ".join(o.unmet),
                }
                for what, words, o in rows
            ]
        )

    def __repr__(self) -> str:
        if self.planned.unmet:
            said = f"{len(self.good)} of {len(self.proposals)} changes do it"
        else:
            said = "nothing to change" if self.nothing_to_change else "wait for the release"
        return f"<Advice {self.case.title!r}: {said}>"

    def _repr_html_(self) -> str:
        from libcure.advising import view

        return view.html(self)


def _outcome(o: Outcome) -> dict[str, Any]:
    return {
        "latest_in_place_min": o.latest_in_place_min,
        **asdict(o.times),
        "release_min": o.release_min,
        "release_state": o.release_state,
        "peak_temperature_C": o.peak_temperature_C,
        "peak_time_min": o.peak_time_min,
        "peak_place": o.peak_place,
        "status": o.status,
        "troubles": [{"code": code, "text": text} for code, text in o.troubles],
        "unmet": list(o.unmet),
        "conservative_sides": None if o.band is None else asdict(o.band),
    }


def _valued(name: str, value: float | None, unit: str) -> dict[str, float]:
    return {} if value is None else {f"{name}_{unit}": value}


def _range(searched: tuple[float, float] | None, unit: str) -> dict[str, list[float]]:
    return {} if searched is None else {f"searched_{unit}": list(searched)}
