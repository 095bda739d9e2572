"""Chart documents, ``libcure/chart/1``: which cases a chart covers and what is uncertain in them.

What was left out is filled in here, and nowhere else.
"""

from __future__ import annotations

import hashlib
import itertools
import json
import math
import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, documents, ensemble
from libcure.case import Case
from libcure.charting.fields import Fields
from libcure.charting.rounding import RELEASE_STEPS, WORKING_STEPS, Steps
from libcure.errors import input_error
from libcure.sampling import DISTRIBUTIONS, UncertainInput

__all__ = ["DAYS_BEFORE_MONTH", "MONTHS", "Axis", "Cell", "ChartDocument", "Climate", "month_days", "read_chart"]

FORMAT = "libcure/chart/1"
MOST_CELLS = 4096
ZERO_CELSIUS = 273.15  # [K]
MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
DAYS_BEFORE_MONTH = (0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334, 365)
# What a month can set, and the ensemble's offset that follows the day within it.
MONTH_SETS = {
    "ground.temperature_C": "ground.temperature_offset_K",
    "initial_temperature_C.pipe": "initial_temperature.pipe_offset_K",
}


def month_days(month: int) -> tuple[float, float]:
    """First and last moment of a month, 1 to 12, as days of the year; day 1 is 1 January."""
    return DAYS_BEFORE_MONTH[month - 1] + 1.0, DAYS_BEFORE_MONTH[month] + 1.0


@dataclass(frozen=True)
class Climate:
    """Ground temperature over the year at the depth of the pipe (Kusuda & Achenbach 1965)."""

    mean_C: float
    amplitude_K: float
    day_of_minimum: float
    diffusivity_mm2_s: float
    depth_m: float

    def temperature_C(self, day: Any, depth_m: float | None = None) -> Any:
        """[°C] on days of the year, any shape, at the pipe's depth unless another is given."""
        depth = self.depth_m if depth_m is None else depth_m
        return (
            _core.ground_temperature(self.mean_C + ZERO_CELSIUS, self.amplitude_K, self.day_of_minimum,
                                     1e-6 * self.diffusivity_mm2_s, depth, day)
            - ZERO_CELSIUS
        )

    def month_C(self, month: int, depth_m: float | None = None) -> tuple[float, float, float]:
        """Coldest, middle and warmest [°C] of a month, 1 to 12."""
        first, last = month_days(month)
        T = self.in_month_C(month, depth_m)
        return float(T[0]), float(self.temperature_C(0.5 * (first + last), depth_m)), float(T[-1])

    def in_month_C(self, month: int, depth_m: float | None = None) -> NDArray[np.float64]:
        """Temperatures through a month [°C], evenly spaced in time, then sorted from cold to warm."""
        return np.sort(self.temperature_C(np.linspace(*month_days(month), 61), depth_m))


@dataclass(frozen=True)
class Axis:
    """One direction of the grid."""

    name: str
    title: str
    unit: str
    """``°C``, ``mm`` and so on; empty for words."""
    sets: tuple[str, ...]
    """Paths in the case that take each value together."""
    values: tuple[Any, ...]
    labels: tuple[str, ...]
    months: bool = False
    """The values are months 1 to 12; the paths take the ground's temperature."""
    faster: bool = False
    """Stated by the author: each resin is faster than the one before."""

    @property
    def numeric(self) -> bool:
        """True when the values are numbers."""
        return not self.months and all(isinstance(v, int | float) for v in self.values)

    def coordinate(self, i: int) -> float | str:
        """What tables name the value: the number, or the label."""
        return float(self.values[i]) if self.numeric else self.labels[i]


@dataclass(frozen=True)
class Cell:
    """One place of the grid."""

    index: tuple[int, ...]
    changes: dict[str, Any]
    """To the base case."""
    month: int | None


@dataclass(frozen=True, eq=False)
class ChartDocument:
    """A chart as it was asked for, with the defaults filled in."""

    title: str
    note: str
    base: Case
    axes: tuple[Axis, ...]
    panels: str | None
    columns: str | None
    rows: str
    page: str
    """``landscape`` or ``portrait``."""
    inputs: tuple[UncertainInput, ...]
    constants: bool
    """Whether a resin's constants vary by its covariance."""
    seed: int
    samples: int
    sensitivity_cells: tuple[tuple[int, ...], ...]
    """Indices of the cells whose Sobol' indices are wanted."""
    sensitivity_samples: int
    need_min: float
    """Working time that the crew says it needs [min]."""
    working_steps: Steps
    release_steps: Steps
    climate: Climate | None
    document: dict[str, Any]
    """As given, with ``samples`` as used."""
    beside: Path
    name: str

    @property
    def shape(self) -> tuple[int, ...]:
        """Lengths of the axes."""
        return tuple(len(axis.values) for axis in self.axes)

    def axis(self, name: str) -> Axis:
        """The axis of a name."""
        return next(axis for axis in self.axes if axis.name == name)

    def cells(self) -> Iterator[Cell]:
        """All cells, the last axis fastest."""
        for index in itertools.product(*(range(n) for n in self.shape)):
            changes: dict[str, Any] = {}
            month = None
            for axis, i in zip(self.axes, index, strict=True):
                value = axis.values[i]
                if axis.months:
                    assert self.climate is not None
                    month, value = value, round(self.climate.month_C(value)[1], 6)
                changes.update(dict.fromkeys(axis.sets, value))
            yield Cell(index, changes, month)

    @cached_property
    def cases(self) -> dict[tuple[int, ...], Case]:
        """The case of each cell, by its index.

        Raises:
            CureError: a value that the case does not allow.
        """
        return {cell.index: self.base.replace(cell.changes) for cell in self.cells()}

    @cached_property
    def model_hashes(self) -> dict[tuple[str, str], str]:
        """Hash of every model file that a cell reads, by folder and name."""
        found: dict[tuple[str, str], str] = {}
        for case in self.cases.values():
            for folder, name in model_names(case.document, self.beside):
                if (folder, name) not in found:
                    path = _model_path(folder, name, self.beside)
                    found[folder, name] = hashlib.sha256(path.read_bytes()).hexdigest()
        return found

    @cached_property
    def dimensions(self) -> int:
        """Of the sample points: the inputs, the day of a month, the constants of the largest model."""
        most = 0
        if self.constants:
            for folder, name in self.model_hashes:
                if folder == "resins":
                    model = documents.read_object(_model_path(folder, name, self.beside))
                    most = max(most, len(model.get("covariance", {}).get("parameters", ())))
        return len(self.inputs) + any(axis.months for axis in self.axes) + most

    @cached_property
    def inputs_hash(self) -> str:
        """Of everything that the numbers depend on: document, base case, model files, version."""
        return canonical_hash({
            "libcure": _core.__version__,
            "chart": {k: v for k, v in self.document.items() if k != "case"},
            "case": self.base.document,
            "models": sorted((folder, name, text) for (folder, name), text in self.model_hashes.items()),
        })


def canonical_hash(value: object) -> str:
    """SHA-256 of a value as JSON, the same for the same content."""
    text = json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()


def model_names(document: Mapping[str, Any], beside: Path) -> Iterator[tuple[str, str]]:
    """Folder and id or path of the models that a case names, or takes by default."""
    resin = document["resin"]
    for name in [resin] if isinstance(resin, str) else [part["resin"] for part in resin["components"]]:
        yield "resins", name
        for part in documents.read_object(_model_path("resins", name, beside)).get("components", ()):
            yield "resins", part["resin"]
    yield "materials", document["pipe"]["material"]
    yield "materials", document["liner"].get("fibre", "e-glass")
    yield "materials", document.get("bladder", {}).get("material", "natural-rubber")
    yield "grounds", document["ground"]["material"]


def _is_path(name: str) -> bool:
    return "/" in name or name.endswith(".json")


def _model_path(folder: str, name: str, beside: Path) -> Path:
    return beside / name if _is_path(name) else documents.models_folder() / folder / f"{name}.json"


def resin_file(document: Mapping[str, Any], beside: Path) -> Path | None:
    """File of a case's resin model; None for a blend written in the case."""
    name = document["resin"]
    return _model_path("resins", name, beside) if isinstance(name, str) else None


def limit_C(document: Mapping[str, Any], beside: Path) -> float:
    """Lowest temperature limit of resin, bladder and pipe [°C]; infinite when none is known."""
    named = [(folder, name) for folder, name in model_names(document, beside) if folder != "grounds"]
    return min(_model_limit_C(_model_path(folder, name, beside)) for folder, name in named)


@cache
def _model_limit_C(path: Path) -> float:
    limit = documents.read_object(path).get("temperature_limit")
    if limit is None:
        return math.inf
    return float(limit["value"]) - (ZERO_CELSIUS if limit["unit"] == "K" else 0.0)


def read_chart(
    source: str | os.PathLike[str] | Mapping[str, Any],
    *,
    beside: str | os.PathLike[str] | None = None,
    samples: int | None = None,
) -> ChartDocument:
    """Reads a chart document strictly.

    Args:
        source: a file, or a document in memory.
        beside: folder that relative paths in a document in memory start from; the working folder
            when left out.
        samples: instead of those of the document.

    Raises:
        CureError: with the field, its value, what is allowed and the file.
    """
    if isinstance(source, Mapping):
        document, name = json.loads(json.dumps(source)), "chart"
        folder = Path(beside) if beside is not None else Path.cwd()
    else:
        name = os.fspath(source).encode("utf-8", "replace").decode()
        document, folder = documents.read_object(source), Path(source).parent
    if samples is not None and isinstance(document.get("uncertain"), dict):
        document["uncertain"]["samples"] = samples
    return _Reader(document, folder.resolve(), name).read()


class _Reader:
    def __init__(self, document: dict[str, Any], beside: Path, name: str) -> None:
        self.document, self.beside, self.name = document, beside, name
        self.fields = Fields(document, "", name)

    def read(self) -> ChartDocument:
        d = self.fields
        if d.text("format", allowed=f'"{FORMAT}"') != FORMAT:
            raise d.refuse("format", self.document["format"], f'"{FORMAT}"')
        base, beside = self._base()
        climate = self._climate()
        axes = self._axes(climate)
        panels, columns, rows, page = self._layout(axes)
        seed, samples, constants, inputs = self._uncertain()
        cells, sensitivity_samples = self._sensitivity(axes)
        need, release = self._criteria()
        working_steps, release_steps = self._rounding()
        title = d.text("title", default=base.title or "Cure chart")
        note = d.text("note", default="")
        fixed = dict(d.any("fixed", "an object of values by path")) if d.has("fixed") else {}
        d.finish()
        self._no_path_twice(axes, fixed, release)
        base = base.replace({**fixed, **{f"release.{key}": value for key, value in release.items()}})
        chart = ChartDocument(
            title, note, base, axes, panels, columns, rows, page, inputs, constants, seed, samples, cells,
            sensitivity_samples, need, working_steps, release_steps, climate, self.document, beside, self.name,
        )
        self._check_cells(chart)
        return chart

    def _base(self) -> tuple[Case, Path]:
        d = self.fields
        allowed = "a case, a path to one, or the id of one that comes with libcure"
        given = d.any("case", allowed)
        if isinstance(given, dict):
            return Case.from_dict(given, self.beside, self.name), self.beside
        text = d.text("case", allowed=allowed)
        if _is_path(text):
            path = self.beside / text
        else:
            path = documents.models_folder() / "cases" / f"{text}.json"
        if not path.is_file():
            raise d.refuse("case", text, allowed)
        return Case(documents.read_text(path), beside=path.parent, name=os.fspath(path)), path.parent

    def _climate(self) -> Climate | None:
        if not self.fields.has("climate"):
            return None
        c = self.fields.object("climate")
        climate = Climate(
            c.number("mean_C", -20.0, 40.0),
            c.number("amplitude_K", 0.0, 40.0),
            c.number("day_of_minimum", 1.0, 365.0),
            c.number("diffusivity_mm2_s", 0.05, 5.0),
            c.number("depth_m", 0.0, 30.0),
        )
        c.finish()
        return climate

    def _axes(self, climate: Climate | None) -> tuple[Axis, ...]:
        axes: list[Axis] = []
        for a in self.fields.objects("axes", 1, 3):
            name = a.text("name")
            if not name.isidentifier() or name in ("percentile", "note"):
                raise a.refuse("name", name, "letters, digits and underscores, not a digit first")
            if name in (axis.name for axis in axes):
                raise a.refuse("name", name, "a name of its own")
            title = a.text("title", default=name)
            sets = tuple(a.items("sets", 1, 8, "paths in the case"))
            for path in sets:
                if not isinstance(path, str):
                    raise a.refuse("sets", path, "paths in the case, such as ground.temperature_C")
            months = a.has("months")
            if months and a.has("values"):
                raise a.refuse("values", "given", "values or months, not both")
            values = tuple(a.items("months" if months else "values", 1, 40, "values"))
            if months:
                self._check_months(a, climate, sets, values)
            labels = self._labels(a, values, months)
            if len(set(labels)) < len(labels):
                raise a.refuse("labels" if a.has("labels") else "values", "one of them twice", "each value once")
            unit = a.text("unit", default="") if a.has("unit") else ""
            faster = a.choice("order", ("faster", "none"), default="none") == "faster"
            a.finish()
            axes.append(Axis(name, title, unit, sets, values, labels, months, faster))
        count = int(np.prod([len(axis.values) for axis in axes]))
        if count > MOST_CELLS:
            raise self.fields.refuse("axes", f"{count} cells", f"at most {MOST_CELLS} cells")
        return tuple(axes)

    def _check_months(self, a: Fields, climate: Climate | None, sets: tuple[str, ...], values: tuple[Any, ...]) -> None:
        if climate is None:
            raise self.fields.refuse("climate", "missing", "a ground climate, because there is an axis of months")
        for path in sets:
            if path not in MONTH_SETS:
                raise a.refuse("sets", path, "of a month: " + ", ".join(MONTH_SETS))
        for value in values:
            if isinstance(value, bool) or not isinstance(value, int) or not 1 <= value <= 12:
                raise a.refuse("months", value, "whole numbers, 1 to 12")

    @staticmethod
    def _labels(a: Fields, values: tuple[Any, ...], months: bool) -> tuple[str, ...]:
        if a.has("labels"):
            labels = a.items("labels", len(values), len(values), "texts, one a value")
            for label in labels:
                if not isinstance(label, str) or not label.strip():
                    raise a.refuse("labels", label, "texts")
            return tuple(labels)
        if months:
            return tuple(MONTHS[m - 1] for m in values)
        found = []
        for value in values:
            if isinstance(value, bool) or not isinstance(value, int | float | str):
                raise a.refuse("labels", "missing", "a text for each value that is neither a number nor a text")
            found.append(value if isinstance(value, str) else f"{value:g}")
        return tuple(found)

    def _layout(self, axes: tuple[Axis, ...]) -> tuple[str | None, str | None, str, str]:
        names = [axis.name for axis in axes]
        d = self.fields
        if not d.has("layout"):
            rows, columns, panels = (*names[::-1], None, None)[:3]
            return panels, columns, str(rows), "landscape"
        o = d.object("layout")
        panels = o.choice("panels", names) if o.has("panels") else None
        columns = o.choice("columns", names) if o.has("columns") else None
        rows = o.choice("rows", names)
        page = o.choice("page", ("landscape", "portrait"), default="landscape")
        o.finish()
        placed = [name for name in (panels, columns, rows) if name is not None]
        if sorted(placed) != sorted(names):
            raise d.refuse("layout", ", ".join(placed), "each axis in one place: " + ", ".join(names))
        return panels, columns, rows, page

    def _uncertain(self) -> tuple[int, int, bool, tuple[UncertainInput, ...]]:
        u = self.fields.object("uncertain")
        seed = u.whole("seed", 0, 2**32 - 1)
        samples = u.power_of_two("samples", 16, 65536)
        constants = u.flag("constants", default=True)
        inputs = []
        for entry in u.objects("inputs", 0, 40) if u.has("inputs") else ():
            inputs.append(self._input(entry))
            if inputs[-1].name in (i.name for i in inputs[:-1]):
                raise entry.refuse("name", inputs[-1].name, "a name of its own")
        if not inputs and not constants:
            raise u.refuse("inputs", "missing", "at least one input, or constants true")
        u.finish()
        return seed, samples, constants, tuple(inputs)

    @staticmethod
    def _input(entry: Fields) -> UncertainInput:
        name = entry.text("name")
        title = entry.text("title", default=name)
        moves = tuple(entry.items("moves", 1, 20, "names of inputs"))
        known = sorted(ensemble.INPUTS)
        for move in moves:
            if move not in known:
                raise entry.refuse("moves", move, "any of " + ", ".join(known))
        factor = moves[0].endswith("_factor")
        if any(move.endswith("_factor") != factor for move in moves):
            raise entry.refuse("moves", ", ".join(moves), "offsets only, or factors only")
        kinds = list(DISTRIBUTIONS) if factor else [d for d in DISTRIBUTIONS if d != "lognormal"]
        distribution = entry.choice("distribution", kinds)
        # A normal factor must not come near zero; a lognormal one cannot.
        most = {"normal": 0.2, "uniform": 0.9, "lognormal": 1.5}[distribution] if factor else 30.0
        spread = entry.number(DISTRIBUTIONS[distribution], 0.0, most, above=True)
        entry.finish()
        return UncertainInput(name, title, moves, distribution, spread)

    def _sensitivity(self, axes: tuple[Axis, ...]) -> tuple[tuple[tuple[int, ...], ...], int]:
        """The cells, by index, and the samples."""
        shape = [len(axis.values) for axis in axes]
        centre = (tuple(n // 2 for n in shape),)
        if not self.fields.has("sensitivity"):
            return centre, 128
        s = self.fields.object("sensitivity")
        samples = s.power_of_two("samples", 16, 65536, default=128)
        if s.has("cells") and isinstance(s.any("cells", ""), list):
            cells = tuple(self._place(o, axes) for o in s.objects("cells", 1, 64))
        else:
            name = s.choice("cells", ("centre", "corners", "none"), default="centre")
            corners = tuple(itertools.product(*(sorted({0, n - 1}) for n in shape)))
            cells = {"centre": centre, "corners": corners, "none": ()}[name]
        s.finish()
        return cells, samples

    @staticmethod
    def _place(o: Fields, axes: tuple[Axis, ...]) -> tuple[int, ...]:
        index = tuple(axis.labels.index(o.choice(axis.name, axis.labels)) for axis in axes)
        o.finish()
        return index

    def _criteria(self) -> tuple[float, dict[str, Any]]:
        if not self.fields.has("criteria"):
            return 0.0, {}
        c = self.fields.object("criteria")
        need = c.number("working_time_needed_min", 0.0, 100000.0, default=0.0)
        release = dict(c.any("release", "an object {...}")) if c.has("release") else {}
        c.finish()
        return need, release

    def _rounding(self) -> tuple[Steps, Steps]:
        if not self.fields.has("rounding"):
            return WORKING_STEPS, RELEASE_STEPS
        r = self.fields.object("rounding")
        working = self._steps(r, "working") if r.has("working") else WORKING_STEPS
        release = self._steps(r, "release") if r.has("release") else RELEASE_STEPS
        r.finish()
        return working, release

    @staticmethod
    def _steps(r: Fields, key: str) -> Steps:
        bands: list[tuple[float, float]] = []
        for band in r.objects(key, 1, 10):
            begin = band.number("from_min", 0.0, 100000.0)
            step = float(band.whole("step_min", 1, 1440))
            band.finish()
            if not bands and begin != 0.0:
                raise band.refuse("from_min", begin, "0 in the first band")
            if bands and not begin > bands[-1][0]:
                raise band.refuse("from_min", begin, "bands that rise")
            bands.append((begin, step))
        return Steps(tuple(bands))

    def _no_path_twice(self, axes: tuple[Axis, ...], fixed: dict[str, Any], release: dict[str, Any]) -> None:
        taken: dict[str, str] = {}
        places = [(path, "fixed") for path in fixed] + [(f"release.{key}", "criteria") for key in release]
        places += [(path, f"axis {axis.name}") for axis in axes for path in axis.sets]
        for path, where in places:
            if path in taken:
                raise self.fields.refuse("axes", f"{path} set by {taken[path]} and by {where}", "each path set once")
            taken[path] = where

    def _check_cells(self, chart: ChartDocument) -> None:
        """Every cell's case is read before anything is computed."""
        for case in chart.cases.values():
            if not any(stage["kind"] == "held" for stage in case.document["stages"]):
                raise input_error("case.stages", "no held stage", "a held stage, because a chart tells release", self.name)
        # The model files as they are now, not as they will be when somebody asks.
        assert chart.inputs_hash
