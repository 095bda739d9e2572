"""A computed chart: its numbers as arrays and tables, and what a crew may read off it."""

from __future__ import annotations

import math
import os
import re
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, documents
from libcure.charting.cells import PERCENTILES, Record, Task
from libcure.charting.document import ZERO_CELSIUS, Axis, ChartDocument, limit_C
from libcure.charting.rounding import short_duration
from libcure.charting.sanity import TOLERANCE, Violation, checks_of, violations_of
from libcure.errors import input_error
from libcure.result import predict

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr
    from matplotlib.figure import Figure

__all__ = ["Answer", "ChartResult", "Sensitivity", "today"]

Floats = NDArray[np.float64]

TIMES = ("working_min", "gel_first_min", "gel_last_min", "release_min", "release_recommended_min", "held_from_min")
QUANTITIES = (*TIMES, "peak_temperature_C")
LONG_NAMES = {
    "working_min": "working time ends, from mixing",
    "gel_first_min": "first resin point gels, from mixing",
    "gel_last_min": "last resin point gels, from mixing",
    "release_min": "safe release by the physics alone, from mixing; inf: never",
    "release_recommended_min": "safe release with the safety factor, from mixing; inf: never",
    "held_from_min": "liner is pressed against the pipe, from mixing",
    "peak_temperature_C": "hottest resin",
}
# Cautions of a verdict that hold for every cell, whatever its times.
GENERAL = ("model_estimated", "criterion_is_assumed", "mixed_mass", "amine",
           "isocyanate", "styrene", "peroxide", "confined_space", "stored_air")
# Why a sample has no release, the gravest first, and what the cell says.
_NO_RELEASE = ("gelled_before_held", "failed", "vitrified", "not_in_hold", "no_held_stage")


@dataclass(frozen=True)
class Answer:
    """What one cell tells the crew, rounded to the safe side."""

    index: tuple[int, ...]
    working_min: float
    """5 % low side, rounded down [min]."""
    release_min: float
    """95 % high side of the recommended release, rounded up [min]; infinite when it does not release."""
    working_word: str
    """``SHORT``, ``TOO LATE``, or empty when there is time enough."""
    release_word: str
    """``NEVER``, ``NOT IN 48 h``, ``SETS TOO SOON``, ``NO ANSWER``, or empty when it releases."""

    @property
    def working_text(self) -> str:
        """The working time in words."""
        return short_duration(self.working_min) if math.isfinite(self.working_min) else "no limit met"

    @property
    def release_text(self) -> str:
        """The release in words."""
        return self.release_word or short_duration(self.release_min)


@dataclass(frozen=True)
class Sensitivity:
    """Sobol' indices of one cell."""

    index: tuple[int, ...]
    inputs: tuple[str, ...]
    samples: int
    runs: int
    release: dict[str, Any]
    """``first``, ``total`` (a list each, in the order of ``inputs``, None where nothing varies), ``measure``."""
    working: dict[str, Any]

    def dominant(self, quantity: str = "release") -> tuple[str, float] | None:
        """The input with the largest total index, and the index; None when nothing varies."""
        total = self.release["total"] if quantity == "release" else self.working["total"]
        found = [(share, name) for share, name in zip(total, self.inputs, strict=True) if share is not None]
        if not found:
            return None
        share, name = max(found)
        return name, share


def today() -> str:
    """The day that goes on a sheet: of SOURCE_DATE_EPOCH when that is set, else of the clock (UTC)."""
    epoch = os.environ.get("SOURCE_DATE_EPOCH", "")
    when = datetime.fromtimestamp(int(epoch), UTC) if epoch.isdigit() else datetime.now(UTC)
    return when.date().isoformat()


class ChartResult:
    """A chart and its numbers."""

    def __init__(self, chart: ChartDocument, tasks: list[Task], records: list[Record], kept: int) -> None:
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

    def _answer(self, index: tuple[int, ...], record: Record) -> Answer:
        chart, n = self.chart, self.chart.samples
        working = chart.working_steps.down(float(self.numbers["working_min"][index][0]))
        release = chart.release_steps.up(float(self.numbers["release_recommended_min"][index][-1]))
        late = record["too_late"] > 0.05 * n
        word = "TOO LATE" if late else "SHORT" if working < chart.need_min else ""
        return Answer(index, working, release, word, "" if math.isfinite(release) else self._never(index, record))

    def _never(self, index: tuple[int, ...], record: Record) -> str:
        states = record["states"]
        reason = max(_NO_RELEASE, key=lambda name: (states[name], -_NO_RELEASE.index(name)))
        if reason == "not_in_hold":
            held = next(s for s in self.chart.cases[index].document["stages"] if s["kind"] == "held")
            return f"NOT IN {short_duration(math.floor(held['duration_min']))}"
        return {"vitrified": "NEVER", "gelled_before_held": "SETS TOO SOON"}.get(reason, "NO ANSWER")

    def not_released(self, index: tuple[int, ...]) -> float:
        """Share of the samples of a cell that do not release."""
        return 1.0 - float(self.records[index]["states"]["reached"]) / self.chart.samples

    def hot(self, index: tuple[int, ...]) -> str | None:
        """Words where the resin may get hotter than the bladder, the pipe or itself can bear; else None.

        The 95 % high side of the hottest resin point, which is on the safe side for its neighbours.
        """
        peak = float(self.numbers["peak_temperature_C"][index][-1])
        if not peak > self.limits_C[index]:
            return None
        return f"TOO HOT {math.ceil(peak)} °C" if math.isfinite(peak) else "TOO HOT"

    @cached_property
    def limits_C(self) -> dict[tuple[int, ...], float]:
        """Lowest temperature limit of resin, bladder and pipe in each cell [°C]; infinite when none is known."""
        return {index: limit_C(case.document, self.chart.beside) for index, case in self.chart.cases.items()}

    def where(self, index: tuple[int, ...]) -> str:
        """A cell in words."""
        parts = (
            f"{axis.title.lower() if not axis.unit else ''} {axis.labels[i]} {axis.unit}".strip()
            for axis, i in zip(self.chart.axes, index, strict=True)
        )
        return ", ".join(parts)

    @cached_property
    def violations(self) -> list[Violation]:
        """Neighbours that go against what the physics lets expect."""
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
        chart = self.chart
        seen: dict[str, str] = {}
        for case in {case.resin.id: case for case in chart.cases.values()}.values():
            for caution in predict(case).verdict["cautions"]:
                if caution["code"] in GENERAL:
                    seen.setdefault(caution["code"], caution["text"])
        return [*self._outside_validity(), *(seen[code] for code in GENERAL if code in seen)]

    def _outside_validity(self) -> list[str]:
        """Cells whose resin leaves the temperatures that its model is valid for."""
        hot = cold = 0
        for index, case in self.chart.cases.items():
            hot += bool(self.numbers["peak_temperature_C"][index][-1] > case.resin.temperature_max - ZERO_CELSIUS)
            start = [*case.document.get("initial_temperature_C", {}).values(), case.document["ground"]["temperature_C"]]
            coldest = min((float(T) for T in start if isinstance(T, int | float)), default=math.inf)
            cold += coldest < case.resin.temperature_min - ZERO_CELSIUS
        count = len(self.chart.cases)
        texts = [f"In {n} of {count} cells the resin may be {side} than its model is valid for: read those with care."
                 for n, side in ((hot, "hotter"), (cold, "colder")) if n]
        hot_limit = sum(self.hot(index) is not None for index in self.chart.cases)
        if hot_limit:
            texts.insert(0, f"In {hot_limit} of {count} cells, marked TOO HOT, the resin may pass the temperature limit of resin, "
                            "bladder or pipe: do not use them without looking closer.")
        return texts

    @cached_property
    def assumptions(self) -> list[str]:
        """What the numbers rest on, one sentence each."""
        return _assumptions(self.chart)

    @property
    def inputs_hash(self) -> str:
        """Short hash of everything the numbers depend on, as on the sheet."""
        return self.chart.inputs_hash[:10]

    # Tables

    def to_xarray(self) -> xr.Dataset:
        """The numbers on the chart's axes and ``percentile``; never is infinite, units are attributes."""
        import xarray as xr

        chart = self.chart
        names = [axis.name for axis in chart.axes]
        coords: dict[str, Any] = {
            axis.name: (axis.name, [axis.coordinate(i) for i in range(len(axis.values))],
                        {"long_name": axis.title, **({"units": axis.unit} if axis.unit else {})})
            for axis in chart.axes
        }
        coords["percentile"] = ("percentile", list(PERCENTILES), {"units": "%"})
        data: dict[str, Any] = {
            name: ((*names, "percentile"), values,
                   {"long_name": LONG_NAMES[name], "units": "°C" if name.endswith("_C") else "min"})
            for name, values in self.numbers.items()
        }
        shown = {
            "working_shown_min": ("working time as printed: 5 % low side, rounded down", "min",
                                  [a.working_min for a in self.answers.values()]),
            "release_shown_min": ("release as printed: 95 % high side, rounded up; inf: does not release", "min",
                                  [a.release_min for a in self.answers.values()]),
            "not_released": ("share of samples that do not release", "1",
                             [self.not_released(index) for index in self.answers]),
        }
        for name, (long_name, units, values) in shown.items():
            # Cells are in the order of the axes, the last one fastest.
            data[name] = (names, np.reshape(values, chart.shape), {"long_name": long_name, "units": units})
        attrs = {"title": chart.title, "inputs_hash": self.inputs_hash, "libcure": _core.__version__,
                 "samples": chart.samples, "seed": chart.seed}
        return xr.Dataset(data, coords, attrs)

    def to_dataframe(self) -> pd.DataFrame:
        """One row a cell: the axes, all percentiles, what is printed, and why. Never is ``inf``."""
        import pandas as pd

        chart = self.chart
        notes: dict[tuple[int, ...], list[str]] = {}
        for violation in self.violations:
            notes.setdefault(violation.after, []).append(violation.text)
        rows = []
        for index, answer in self.answers.items():
            record = self.records[index]
            row: dict[str, Any] = {
                column_name(axis): axis.coordinate(i) for axis, i in zip(chart.axes, index, strict=True)
            }
            row |= {"working_shown_min": answer.working_min, "release_shown_min": answer.release_min,
                    "working_word": answer.working_word, "release_word": answer.release_word}
            for name in QUANTITIES:
                stem, unit = name.rsplit("_", 1)
                row |= {f"{stem}_p{p:02d}_{unit}": round(float(v), 4)
                        for p, v in zip(PERCENTILES, self.numbers[name][index], strict=True)}
            row |= {"not_released_percent": round(100.0 * self.not_released(index), 4),
                    "too_late_percent": round(100.0 * record["too_late"] / chart.samples, 4)}
            row |= {f"samples_{name}": count for name, count in record["states"].items()}
            row |= {"working_point": record["working_point"], "release_point": record["release_point"],
                    "message": record["message"], "note": "; ".join(notes.get(index, []))}
            rows.append(row)
        return pd.DataFrame(rows)

    def to_json(self) -> dict[str, Any]:
        """The chart as a document ``libcure/chart-result/1``; null is never."""
        chart = self.chart
        return {
            "format": "libcure/chart-result/1",
            "title": chart.title,
            "libcure": _core.__version__,
            "date": today(),
            "inputs_hash": chart.inputs_hash,
            "percentiles": list(PERCENTILES),
            "axes": [
                {"name": a.name, "title": a.title, "unit": a.unit, "sets": list(a.sets), "values": list(a.values),
                 "labels": list(a.labels)}
                for a in chart.axes
            ],
            "samples": chart.samples,
            "seed": chart.seed,
            "working_time_needed_min": chart.need_min,
            "cells": [self._cell_json(index) for index in self.records],
            "sensitivity": [
                {"cell": self._labels(s.index), "inputs": list(s.inputs), "samples": s.samples, "runs": s.runs,
                 "release": s.release, "working": s.working}
                for s in self.sensitivities
            ],
            "dominant_for_release": self.dominant,
            "sanity": {
                "tolerance": TOLERANCE,
                "checks": [check.text for check in checks_of(chart)],
                "violations": [v.text for v in self.violations],
            },
            "assumptions": self.assumptions,
            "cautions": self.cautions,
        }

    def _labels(self, index: tuple[int, ...]) -> dict[str, str]:
        return {axis.name: axis.labels[i] for axis, i in zip(self.chart.axes, index, strict=True)}

    def _cell_json(self, index: tuple[int, ...]) -> dict[str, Any]:
        answer, record = self.answers[index], self.records[index]

        def finite(value: float) -> float | None:
            return value if math.isfinite(value) else None

        return {
            "cell": self._labels(index),
            "working_shown_min": finite(answer.working_min),
            "release_shown_min": finite(answer.release_min),
            "working_word": answer.working_word,
            "release_word": answer.release_word,
            **record,
        }

    # Pictures and files

    def draw(self) -> Figure:
        """The sheet to print, one A4 page.

        Raises:
            CureError: more rows or columns than fit legibly.
        """
        from libcure.charting import sheet

        return sheet.draw(self)

    def save(self, folder: str | os.PathLike[str]) -> list[Path]:
        """Writes chart.pdf, .svg, .html, .csv and .json; each whole or not at all.

        Args:
            folder: made when it is not there.

        Returns:
            The files.

        Raises:
            CureError: a folder that cannot be written, or a chart too large for its page.
        """
        from libcure.charting import page, sheet

        target = output_folder(folder)
        figure = sheet.draw(self)
        files = [target / f"chart.{suffix}" for suffix in ("pdf", "svg", "html", "csv", "json")]
        for file in files:
            with documents.replacing(file) as temporary:
                match file.suffix:
                    case ".pdf" | ".svg":
                        sheet.save(figure, temporary, file.suffix)
                    case ".html":
                        temporary.write_text(page.html(self), encoding="utf-8")
                    case ".csv":
                        self.to_dataframe().to_csv(temporary, index=False, lineterminator="\n")
                    case _:
                        temporary.write_text(documents.to_json(self.to_json()), encoding="utf-8")
        return files

    def __repr__(self) -> str:
        shape = " x ".join(f"{len(axis.values)} {axis.name}" for axis in self.chart.axes)
        return f"<ChartResult {self.chart.title!r}: {shape}, {self.chart.samples} samples a cell>"

    def _repr_html_(self) -> str:
        from libcure.charting import page

        return page.fragment(self)


def output_folder(folder: str | os.PathLike[str]) -> Path:
    """The folder to write to, made if it is not there.

    Raises:
        CureError: it cannot be.
    """
    target = Path(folder)
    try:
        target.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise input_error("--out", f'"{folder}"', f"a folder that can be made ({error.strerror})") from None
    if not os.access(target, os.W_OK | os.X_OK):
        raise input_error("--out", f'"{folder}"', "a folder that may be written")
    return target


def column_name(axis: Axis) -> str:
    """Heading of an axis in a table, with its unit."""
    unit = re.sub(r"\W+", "", axis.unit.replace("°", ""))
    return f"{axis.name}_{unit}" if unit else axis.name


def fahrenheit(celsius: float) -> float:
    """[°F] from [°C]."""
    return 1.8 * celsius + 32.0


def _assumptions(chart: ChartDocument) -> list[str]:
    case = next(iter(chart.cases.values()))
    document, criterion = case.document, predict(case).verdict["criterion"]
    varied = {path for axis in chart.axes for path in axis.sets}

    def given(path: str, text: str) -> list[str]:
        return [] if path in varied else [text]

    pipe, liner, ground = document["pipe"], document["liner"], document["ground"]
    wall = [
        *given("pipe.inner_diameter_mm", f"{pipe['inner_diameter_mm']:g} mm bore"),
        *given("pipe.wall_mm", f"{pipe['wall_mm']:g} mm {pipe['material']}"),
        *given("liner.thickness_mm", f"{liner['thickness_mm']:g} mm liner"),
        *given("ground.material", f"in {ground['material']}"),
    ]
    start = [
        f"{name} {value:g} °C" for name, value in document.get("initial_temperature_C", {}).items()
        if f"initial_temperature_C.{name}" not in varied
    ]
    stages = []
    for i, stage in enumerate(document["stages"]):
        words = {"mixed_mass": "in the pouch", "wet_out": "wet-out", "held": "held up to"}.get(stage["kind"])
        if words is not None and f"stages[{i}].duration_min" not in varied:
            stages.append(f"{words} {short_duration(stage['duration_min'])}")
        if stage["kind"] == "held" and isinstance(stage.get("fill_temperature_C"), int | float) and (
            f"stages[{i}].fill_temperature_C" not in varied
        ):
            stages.append(f"bladder filled at {stage['fill_temperature_C']:g} °C")
    alpha = max(c.document.get("release", {}).get("alpha_min", criterion["alpha_min"]) for c in chart.cases.values())
    found = [
        f"Every cell: {', '.join(wall)}; {', '.join(stages)}.",
        *([f"At mixing: {', '.join(start)}."] if start else []),
        f"Release: degree of cure at least {100.0 * alpha:g} % and Tg at least {criterion['Tg_above_wall_K']:g} K above "
        f"the resin everywhere, time × {criterion['safety_factor']:g}.",
    ]
    spread = [_spread(chart, i) for i in range(len(chart.inputs))]
    if chart.constants:
        spread.append("resin constants by their covariance")
    if any(axis.months for axis in chart.axes):
        spread.append("any day of the month")
    found.append(f"Uncertain: {'; '.join(spread)}.")
    if chart.constants:
        without = sorted({c.resin.id for i, c in chart.cases.items() if not _has_covariance(chart, i)})
        if without:
            found.append(f"No covariance in {', '.join(without)}: constants taken as exact.")
    return found


def _has_covariance(chart: ChartDocument, index: tuple[int, ...]) -> bool:
    from libcure.charting.document import resin_file

    path = resin_file(chart.cases[index].document, chart.beside)
    return path is not None and "covariance" in documents.read_object(path)


def _spread(chart: ChartDocument, i: int) -> str:
    u = chart.inputs[i]
    if u.distribution == "lognormal":
        return f"{u.title.lower()} × or ÷ {math.exp(u.spread):.2g} (1 sd)"
    size = f"{100.0 * u.spread:g} %" if u.is_factor else f"{u.spread:g} K"
    return f"{u.title.lower()} ± {size} ({'1 sd' if u.distribution == 'normal' else 'evenly'})"
