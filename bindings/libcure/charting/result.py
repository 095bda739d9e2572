"""A computed chart: its numbers, and what a crew may read off it."""

from __future__ import annotations

import math
import os
from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from libcure import documents, rendering
from libcure.charting import tables, words
from libcure.charting.cells import CellRecord, Task
from libcure.charting.document import ChartDocument
from libcure.charting.sanity import Violation, violations_of
from libcure.charting.tables import QUANTITIES
from libcure.charting.words import fahrenheit
from libcure.documents.frames import WithFrames
from libcure.sampling import PERCENTILES
from libcure.words.rounding import short_duration, whole

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["DO_NOT_USE", "SHORT", "Answer", "ChartResult", "Sensitivity"]

Floats = NDArray[np.float64]

DO_NOT_USE, SHORT, TOO_LATE, SETS_TOO_SOON = "DO NOT USE", "SHORT", "TOO LATE", "SETS TOO SOON"
TOO_HOT, TOO_SLOW, NOT_IN = "TOO HOT", "TOO SLOW", "NOT IN"

# Why a sample has no release, the gravest first, and what the cell says.
_NO_RELEASE = ("gelled_before_held", "failed", "vitrified", "outside_model", "not_in_hold", "no_held_stage")


@dataclass(frozen=True)
class Answer:
    """What one cell tells the crew, rounded to the safe side."""

    index: tuple[int, ...]
    in_place_min: float | None
    """Latest moment in place: the same side and rounding [min], no later than the end of the working time; infinite where no
    limit was met, None where nothing comes before the hold."""
    working_min: float
    """5 % low side with its sampling error, rounded down [min]."""
    release_min: float
    """95 % high side of the release with its sampling error, rounded up [min]; infinite where the cell must not be used."""
    working_word: str
    """``SHORT``, ``TOO LATE``, or empty when there is time enough."""
    release_word: str
    """``NEVER``, ``NOT IN 48 h``, ``SETS TOO SOON``, ``NOT KNOWN``, ``NO ANSWER``, or empty when it releases."""
    hot_word: str
    """``TOO HOT 100 °C (95 %)``, with the 95 % high side of the hottest resin, or empty."""

    @property
    def why_not(self) -> tuple[str, ...]:
        """Why the cell must not be used: then it shows no time. Empty where it may be used; SHORT is left to the crew."""
        # What gels before it is held is too late: one reason, told once.
        release = "" if self.working_word == TOO_LATE and self.release_word == SETS_TOO_SOON else self.release_word
        return tuple(w for w in (self.working_word, release, self.hot_word) if w and w != SHORT)

    @property
    def short_why(self) -> tuple[str, ...]:
        """:attr:`why_not` as a cell shows it: without how hot, or in which hold, as a number there is taken for a time."""
        short = {self.hot_word: TOO_HOT} | ({self.release_word: TOO_SLOW} if self.release_word.startswith(NOT_IN) else {})
        return tuple(short.get(word, word) for word in self.why_not)

    @property
    def use(self) -> bool:
        """Whether the cell may be used."""
        return not self.why_not

    @property
    def working_text(self) -> str:
        """The working time in words, or why the cell must not be used."""
        if not self.use:
            return self._stop
        return f"{self.working_word} {_limit(self.working_min)}".strip()

    @property
    def in_place_text(self) -> str:
        """The latest moment in place in words, or why the cell must not be used; empty where nothing comes before the hold."""
        if not self.use:
            return self._stop
        return "" if self.in_place_min is None else _limit(self.in_place_min)

    @property
    def release_text(self) -> str:
        """The release in words, or why the cell must not be used."""
        return short_duration(self.release_min) if self.use else self._stop

    @property
    def _stop(self) -> str:
        return f"{DO_NOT_USE}: {', '.join(self.why_not)}"


def _limit(minutes: float) -> str:
    return short_duration(minutes) if math.isfinite(minutes) else "no limit met"


@dataclass(frozen=True)
class Sensitivity:
    """Sobol' indices of one cell."""

    index: tuple[int, ...]
    inputs: tuple[str, ...]
    samples: int
    runs: int
    release: dict[str, Any]
    """``first``, ``total`` and their standard errors ``first_error``, ``total_error`` (a list each, in the order of
    ``inputs``, None where nothing varies), and ``measure``: of what the variance is."""
    working: dict[str, Any]

    def dominant(self, quantity: str = "release") -> tuple[str, float] | None:
        """The input with the largest total index, and the index; None when nothing varies."""
        total = self.release["total"] if quantity == "release" else self.working["total"]
        found = [(share, name) for share, name in zip(total, self.inputs, strict=True) if share is not None]
        if not found:
            return None
        share, name = max(found)
        return name, share


class ChartResult(WithFrames):
    """A chart and its numbers."""

    def __init__(self, chart: ChartDocument, tasks: list[Task], records: list[CellRecord], kept: int) -> None:
        self.chart = chart
        self.kept = kept
        """How many ensembles came from an earlier run."""
        self.records = {t.index: r for t, r in zip(tasks, records, strict=True) if t.kind == "cell"}
        self.sensitivities = [
            Sensitivity(t.index, tuple(r["inputs"]), r["samples"], r["runs"], r["release"], r["working"])
            for t, r in zip(tasks, records, strict=True)
            if t.kind == "sensitivity"
        ]

    @cached_property
    def pages(self) -> list[tuple[str, ChartResult]]:
        """The chart page by page, each with the name of its value; the chart itself where it has no axis of pages."""
        chart = self.chart
        if chart.pages is None:
            return [("", self)]
        k = next(k for k, axis in enumerate(chart.axes) if axis.name == chart.pages)
        found = []
        for i in range(chart.shape[k]):
            page = ChartResult(chart.page_of(i), [], [], self.kept)
            page.records = {(*index[:k], *index[k + 1 :]): r for index, r in self.records.items() if index[k] == i}
            page.sensitivities = self.sensitivities
            found.append((chart.page_name(i), page))
        return found

    @cached_property
    def numbers(self) -> dict[str, Floats]:
        """5, 50 and 95 % of each quantity, (axes..., 3); what never happens is infinite."""
        found = {name: np.empty((*self.chart.shape, len(PERCENTILES))) for name in QUANTITIES}
        for index, record in self.records.items():
            for name in QUANTITIES:
                found[name][index] = [math.inf if v is None else v for v in record[name]]
        return found

    @cached_property
    def answers(self) -> dict[tuple[int, ...], Answer]:
        """What each cell tells the crew."""
        return {index: self._answer(index, record) for index, record in self.records.items()}

    def _answer(self, index: tuple[int, ...], record: CellRecord) -> Answer:
        chart = self.chart
        keys = ("in_place_bound_min", "working_bound_min", "release_bound_min")
        latest, low, high = (math.inf if record[key] is None else record[key] for key in keys)
        working, release = chart.working_steps.down(low), chart.release_steps.up(high)
        begins_held = chart.case_documents[index]["stages"][0]["kind"] == "held"
        # Put on a cold pipe the resin may be too thick at once: never later than the working time.
        in_place = None if begins_held else min(chart.working_steps.down(latest), working)
        word = TOO_LATE if record["late"] else SHORT if (working if in_place is None else in_place) < chart.need_min else ""
        answer = Answer(index, in_place, working, release, word, self._no_release(index, record, release), self._hot(index))
        return answer if answer.use else replace(answer, release_min=math.inf)

    def _no_release(self, index: tuple[int, ...], record: CellRecord, release_min: float) -> str:
        """Why a cell has no release; empty where it has one."""
        hold = self.chart.cases[index].core.planned_hold
        assert hold is not None  # the reader has seen to it
        begins, ends = hold
        hold_min = (ends - begins) / 60.0
        not_in_hold = f"{NOT_IN} {short_duration(whole(hold_min, up=False))}"
        if math.isfinite(release_min):
            # Of the number as printed: what is later than the hold was not simulated.
            end_min = float(self.numbers["held_from_min"][index][0]) + hold_min
            return not_in_hold if release_min > end_min else ""
        states = record["states"]
        reason = max(_NO_RELEASE, key=lambda name: (states[name], -_NO_RELEASE.index(name)))
        words = {
            "vitrified": "NEVER",
            "gelled_before_held": SETS_TOO_SOON,
            "outside_model": "NOT KNOWN",
            "not_in_hold": not_in_hold,
        }
        return words.get(reason, "NO ANSWER")

    def not_released(self, index: tuple[int, ...]) -> float:
        """Share of the samples of a cell that do not release."""
        record = self.records[index]
        return 1.0 - float(record["states"]["reached"]) / float(record["samples"])

    def _hot(self, index: tuple[int, ...]) -> str:
        """Words where the resin may get hotter than the bladder, the pipe or itself can bear; else empty.

        The 95 % high side of the hottest resin point with its sampling error, which is on the safe side for its neighbours.
        """
        bound = self.records[index]["peak_bound_C"]
        peak = math.inf if bound is None else float(bound)
        if not peak > self.chart.limits_C[index]:
            return ""
        if not math.isfinite(peak):
            return TOO_HOT
        first = self.chart.temperature
        return f"{TOO_HOT} {whole(fahrenheit(peak) if first == '°F' else peak, up=True)} {first} (95 %)"

    def where(self, index: tuple[int, ...]) -> str:
        """A cell in words."""
        # Two axes of one unit cannot be told apart by it.
        units = [axis.unit for axis in self.chart.axes]
        parts = (
            f"{axis.title.lower() if not axis.unit or units.count(axis.unit) > 1 else ''} {self.chart.label(axis, i)} {axis.unit}".strip()
            for axis, i in zip(self.chart.axes, index, strict=True)
        )
        return ", ".join(parts)

    @cached_property
    def violations(self) -> list[Violation]:
        """Neighbours that contradict each other."""
        return violations_of(self)

    @property
    def dominant(self) -> str | None:
        """The input that moves the release time most: the largest mean total Sobol' index."""
        sums: dict[str, float] = {}
        for s in self.sensitivities:
            for name, share in zip(s.inputs, s.release["total"], strict=True):
                sums[name] = sums.get(name, 0.0) + (share or 0.0)
        return max(sums, key=lambda name: sums[name]) if any(sums.values()) else None

    @cached_property
    def cautions(self) -> list[str]:
        """Cautions of the whole chart, and the general ones of each resin's verdict."""
        return words.cautions(self)

    @cached_property
    def assumptions(self) -> list[str]:
        """What the numbers rest on, one sentence each."""
        return words.assumptions(self.chart)

    @property
    def samples(self) -> str:
        """How many samples a cell's bounds rest on: ``2048``, or from fewest to most, ``512–2048``."""
        return "–".join(str(n) for n in sorted({f(r["samples_most"] for r in self.records.values()) for f in (min, max)}))

    @property
    def date(self) -> str:
        """The day that goes on a sheet: of SOURCE_DATE_EPOCH when that is set, else of the clock (UTC)."""
        epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
        when = datetime.fromtimestamp(int(epoch), UTC) if epoch.isdigit() else datetime.now(UTC)
        return when.date().isoformat()

    @property
    def inputs_hash(self) -> str:
        """Short hash of everything the numbers depend on, as on the sheet."""
        return self.chart.inputs_hash[:10]

    # Tables

    def to_xarray(self) -> xr.Dataset:
        """The numbers on the chart's axes and ``percentile``; never is infinite, units are attributes."""
        return tables.to_xarray(self)

    def to_dataframe(self) -> pd.DataFrame:
        """One row a cell: the axes, all percentiles, what is printed, and why. Never is ``inf``."""
        return tables.to_dataframe(self)

    def to_json(self) -> dict[str, Any]:
        """The chart as a document ``libcure/chart-result/1``; null is never."""
        return tables.to_json(self)

    # Pictures and files

    def draw(self) -> Figure:
        """The sheet to print, one page; of a chart with an axis of pages the first.

        Raises:
            CureError: more rows or columns than fit legibly.
        """
        return rendering.figure(self)

    def save(self, folder: str | os.PathLike[str], kit: bool = False) -> list[Path]:
        """Writes chart.pdf, .svg, .html, .csv and .json; each whole or not at all.

        A chart with an axis of pages is a booklet: chart.pdf has an index and a page for each value, chart-1.svg and so on one each.

        Args:
            folder: made when it is not there.
            kit: also poster.pdf (a page a panel for the wall, to be read at 2 m) and labels.pdf (a label for each pail).

        Returns:
            The files.

        Raises:
            CureError: a folder that cannot be written, or a chart too large for its page.
        """
        target = documents.output_folder(folder)
        pictures = rendering.publication(self, kit)
        contents: dict[str, Callable[[], bytes]] = {
            **pictures,
            "chart.html": lambda: rendering.document(self).encode(),
            "chart.csv": lambda: tables.to_csv(self).encode(),
            "chart.json": lambda: documents.to_json(self.to_json()).encode(),
        }
        for name, content in contents.items():
            with documents.replacing(target / name) as temporary:
                temporary.write_bytes(content())
        return [target / name for name in contents]

    def __repr__(self) -> str:
        shape = " x ".join(f"{len(axis.values)} {axis.name}" for axis in self.chart.axes)
        return f"<ChartResult {self.chart.title!r}: {shape}, {self.samples} samples a cell>"

    def _repr_html_(self) -> str:
        return rendering.html(self)
