"""What the advice says: needs, times as planned, changes that were tried, and hardeners; read from the core's document."""

from __future__ import annotations

import copy
import os
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from libcure import documents, rendering
from libcure.case import Case
from libcure.documents.frames import WithFrames
from libcure.result import Times

if TYPE_CHECKING:
    import pandas as pd
    from rich.console import RenderableType

__all__ = ["Advice", "ConservativeSides", "Hardener", "Needs", "NoValue", "Outcome", "Proposal", "SearchLimits"]


@dataclass(frozen=True)
class Needs:
    """What must hold, in minutes from mixing."""

    working_min: float
    """The liner may be held against the pipe as late as this, and is still workable."""
    working_stated: bool
    """False: the moment at which the case holds it, and ``reserve_min``."""
    reserve_min: float
    release_by_min: float | None
    """The bladder must come out by this moment, as stated. None: at any moment while it is held, and a longer hold is a
    change that counts."""
    held_from_min: float
    """When the case holds the liner against the pipe."""


@dataclass(frozen=True)
class SearchLimits:
    """How far changes are looked for. Limits of the models may stop them sooner."""

    coldest_resin_C: float = 2.0
    hottest_fill_C: float = 60.0
    longest_hold_min: float | str = 4320.0
    """[min], or ``"h:mm"`` where it is asked for."""


@dataclass(frozen=True)
class ConservativeSides:
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
    wrong: tuple[str, ...]
    """The same, a few words each."""
    band: ConservativeSides | None
    """None for a point estimate."""

    @classmethod
    def from_json(cls, o: Mapping[str, Any]) -> Outcome:
        """An outcome of a document ``libcure/advice/1``."""
        band = o["conservative_sides"]
        return cls(
            times=Times(**{name: o[name] for name in Times.__dataclass_fields__}),
            release_min=o["release_min"],
            latest_in_place_min=o["latest_in_place_min"],
            release_state=o["release_state"],
            peak_temperature_C=o["peak_temperature_C"],
            peak_time_min=o["peak_time_min"],
            peak_place=o["peak_place"],
            status=o["status"],
            troubles=tuple((t["code"], t["text"]) for t in o["troubles"]),
            unmet=tuple(o["unmet"]),
            wrong=tuple(o["wrong"]),
            band=None if band is None else ConservativeSides(**band),
        )

    @property
    def sides(self) -> ConservativeSides:
        """The conservative sides, or the times of the one simulation where they are not known."""
        t = self.times
        return self.band or ConservativeSides(self.latest_in_place_min, t.working_min, self.release_min or t.criterion_met_min, self.peak_temperature_C)


@dataclass(frozen=True)
class Proposal:
    """A change that was found and computed in full."""

    kind: tuple[str, ...]
    """What is changed: ``resin_temperature``, ``packer_temperature``, ``smaller_mix``, ``spread``, ``shade``, ``wrap``,
    ``in_place``, ``fill_temperature``, ``hold``, ``hardener``."""
    words: str
    changes: Mapping[str, Any]
    """For :meth:`libcure.Case.replace`."""
    value: float | None
    """The value looked for, a round one with a step in reserve; None for what is done or not."""
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
    notes: tuple[str, ...]
    said: str
    """``words`` as a sentence begins, with what to mind."""

    @property
    def does_it(self) -> bool:
        """True when every need is met."""
        return not self.outcome.unmet

    @classmethod
    def from_json(cls, p: Mapping[str, Any]) -> Proposal:
        """A proposal of a document ``libcure/advice/1``."""
        unit = next((unit for unit in ("C", "min") if f"value_{unit}" in p), "")
        return cls(
            kind=tuple(p["kind"]),
            words=p["words"],
            changes=p["changes"],
            value=p.get(f"value_{unit}"),
            unit=unit,
            middle_value=p.get(f"middle_value_{unit}"),
            edge=p.get(f"edge_{unit}"),
            works_to=p.get(f"works_to_{unit}"),
            searched=_searched(p, unit),
            outcome=Outcome.from_json(p["outcome"]),
            notes=tuple(p["notes"]),
            said=p["said"],
        )


@dataclass(frozen=True)
class NoValue:
    """A change of which no value in the range does it."""

    kind: tuple[str, ...]
    words: str
    searched: tuple[float, float] | None
    unit: str
    best: str
    """How near the best of them comes, in words; may be empty."""

    @classmethod
    def from_json(cls, n: Mapping[str, Any]) -> NoValue:
        """What a document ``libcure/advice/1`` has no value for."""
        unit = next((unit for unit in ("C", "min") if f"searched_{unit}" in n), "")
        return cls(tuple(n["kind"]), n["words"], _searched(n, unit), unit, n["best"])


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
class Advice(WithFrames):
    """What to change in a job, or that nothing needs changing. Can be pickled."""

    case: Case
    document: Mapping[str, Any]
    """As the core says it, ``libcure/advice/1``."""

    @cached_property
    def needs(self) -> Needs:
        """What was asked for."""
        return Needs(**self.document["needs"])

    @cached_property
    def limits(self) -> SearchLimits:
        """How far changes were looked for."""
        return SearchLimits(**self.document["searched"])

    @cached_property
    def planned(self) -> Outcome:
        """The job as the case has it."""
        return Outcome.from_json(self.document["as_planned"])

    @cached_property
    def proposals(self) -> tuple[Proposal, ...]:
        """Those that meet every need first, then those that break another."""
        return tuple(Proposal.from_json(p) for p in self.document["proposals"])

    @cached_property
    def no_values(self) -> tuple[NoValue, ...]:
        """Changes of which no value does it."""
        return tuple(NoValue.from_json(n) for n in self.document["no_value"])

    @cached_property
    def hardeners(self) -> tuple[Hardener, ...]:
        """By working time, shortest first."""
        return tuple(Hardener(**{**h, "outcome": Outcome.from_json(h["outcome"])}) for h in self.document["hardeners"])

    @property
    def headline(self) -> str:
        """The answer in one line or two."""
        return str(self.document["headline"])

    @property
    def planned_cautions(self) -> tuple[str, ...]:
        """Cautions that hold whatever the times."""
        return tuple(self.document["cautions"])

    @property
    def uncertain(self) -> str:
        """What the bands are from, in words; empty for a point estimate."""
        return str(self.document["uncertain"]["ranges"])

    @property
    def why_no_band(self) -> str:
        """Why there are no bands; empty when there are."""
        return str(self.document["uncertain"]["none_because"])

    @property
    def samples(self) -> int:
        """Of the job as planned; 0 without."""
        return int(self.document["uncertain"]["samples"])

    @property
    def without_constants(self) -> tuple[str, ...]:
        """Resins whose constants have no covariance, so that their conservative sides lack them."""
        return tuple(self.document["uncertain"]["without_constants"])

    @property
    def open_min(self) -> float:
        """Longest wet-out looked at [min from mixing]."""
        return float(self.document["longest_wet_out_min"])

    @property
    def nothing_to_change(self) -> bool:
        """True when the job as planned meets every need, and nothing is red on the page of ``predict``."""
        return bool(self.document["nothing_to_change"])

    @property
    def good(self) -> tuple[Proposal, ...]:
        """The proposals that meet every need."""
        return tuple(p for p in self.proposals if p.does_it)

    def to_dict(self) -> dict[str, Any]:
        """A document ``libcure/advice/1``; the unit is in the key."""
        return {**copy.deepcopy(dict(self.document)), **self.case.said_changes()}

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
        return rendering.html(self)

    def __rich__(self) -> RenderableType:
        return rendering.page(self)


def _searched(entry: Mapping[str, Any], unit: str) -> tuple[float, float] | None:
    """First and last value looked at."""
    found = entry.get(f"searched_{unit}")
    return None if found is None else (found[0], found[1])
