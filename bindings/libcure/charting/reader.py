"""Reads chart documents strictly, and fills in what was left out: here, and nowhere else."""

from __future__ import annotations

import itertools
import json
import math
import os
from collections.abc import Mapping
from dataclasses import asdict
from pathlib import Path
from typing import Any

import numpy as np

from libcure import documents
from libcure.case import Case
from libcure.charting.document import MONTH_SETS, MONTHS, Axis, ChartDocument, Climate
from libcure.charting.units import contradictions, other_units, same_unit, unit_of
from libcure.documents.fields import Fields
from libcure.errors import input_error
from libcure.models import is_path
from libcure.sampling.uncertainty import StatedRanges, check_format
from libcure.words.rounding import RELEASE_STEPS, WORKING_STEPS, Steps

__all__ = ["read_chart"]

MOST_CELLS = 4096


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
        name = documents.shown(source)
        document, folder = documents.read_object(source), Path(source).parent
    if samples is not None and isinstance(document.get("uncertain"), dict):
        document["uncertain"]["samples"] = samples
    return _Reader(document, folder.resolve(), name).read()


class _Reader:
    def __init__(self, document: dict[str, Any], beside: Path, name: str) -> None:
        self.document, self.beside, self.name = document, beside, name
        self.fields = Fields(document, "", name)
        self.axis_fields: list[Fields] = []

    def read(self) -> ChartDocument:
        d = self.fields
        check_format(d)
        base, beside = self._base()
        if "section" in base.document:
            raise d.refuse_words("case", "has a section", "a case in one dimension: a chart has thousands of samples, each a whole prediction")
        climate = self._climate(base)
        axes = self._axes(climate)
        panels, columns, rows, page = self._layout(axes)
        stated = StatedRanges.read(d.object("uncertain"))
        cells, sensitivity_samples = self._sensitivity(axes)
        need, release = self._criteria()
        working_steps, release_steps = self._rounding()
        title = d.text("title", default=base.title or "Cure chart")
        note = d.text("note", default="")
        fixed = dict(d.any("fixed", "an object of values by path")) if d.has("fixed") else {}
        d.finish()
        self._no_path_twice(axes, fixed, release)
        if any("ground.temperature_C" in paths for paths in (fixed, *(axis.sets for axis in axes))):
            base = self._without_climate(base, beside)
        base = base.replace({**fixed, **{f"release.{key}": value for key, value in release.items()}})
        chart = ChartDocument(
            title,
            note,
            base,
            axes,
            panels,
            columns,
            rows,
            page,
            stated.inputs,
            stated.constants,
            stated.seed,
            stated.samples,
            cells,
            sensitivity_samples,
            need,
            working_steps,
            release_steps,
            climate,
            self.document,
            beside,
            self.name,
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
        if is_path(text):
            path = self.beside / text
        else:
            path = documents.models_folder() / "cases" / f"{text}.json"
        if not os.path.isfile(path):
            raise d.refuse("case", text, allowed)
        return Case(documents.read_text(path), beside=path.parent, name=os.fspath(path)), path.parent

    def _climate(self, base: Case) -> Climate | None:
        if not self.fields.has("climate"):
            return self._case_climate(base)
        c = self.fields.object("climate")
        climate = Climate(
            c.number("annual_mean_C", -20.0, 40.0),
            c.number("amplitude_K", 0.0, 40.0),
            c.number("day_of_minimum", 1.0, 365.0),
            c.number("diffusivity_mm2_s", 0.05, 5.0),
            c.number("depth_m", 0.0, 30.0),
        )
        c.finish()
        return climate

    def _case_climate(self, base: Case) -> Climate | None:
        """The climate that the case states for its ground, as if the chart had stated it."""
        found = base.conditions["ground"]["climate"]
        if found is None:
            return None
        # The wave is late by z/2 sqrt(365/(pi a)) days at depth z (Kusuda & Achenbach 1965), a in m2/day.
        diffusivity = 365.0 / math.pi * (0.5 * found["depth_m"] / found["lag_days"]) ** 2
        given = {key: found[key] for key in ("annual_mean_C", "amplitude_K", "day_of_minimum", "depth_m")}
        climate = Climate(diffusivity_mm2_s=1e6 * diffusivity / 86400.0, **given)
        # Tables and hash tell the chart by this document.
        self.document["climate"] = asdict(climate)
        return climate

    @staticmethod
    def _without_climate(base: Case, beside: Path) -> Case:
        """The case with a temperature of the ground, which the chart sets, in place of a climate."""
        document = base.document
        if document["ground"].pop("climate", None) is None:
            return base
        document["ground"]["temperature_C"] = base.conditions["ground"]["temperature_C"]
        return Case.from_dict(document, beside, base.name)

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
                raise a.refuse_words("values", "given", "values or months, not both")
            values = tuple(a.items("months" if months else "values", 1, 40, "values"))
            if months:
                self._check_months(a, climate, sets, values)
            labels = self._labels(a, values, months)
            if len(set(labels)) < len(labels):
                raise a.refuse_words("labels" if a.has("labels") else "values", "one of them twice", "each value once")
            numeric = not months and all(_is_number(v) for v in values)
            of_path = unit_of(sets[0]) if numeric else ""
            unit = a.text("unit") if a.has("unit") else of_path
            unit = of_path if same_unit(unit, of_path) else unit
            faster = a.choice("order", ("faster", "none"), default="none") == "faster"
            a.finish()
            axes.append(Axis(name, title, unit, sets, values, labels, months, faster))
            self.axis_fields.append(a)
        count = int(np.prod([len(axis.values) for axis in axes]))
        if count > MOST_CELLS:
            raise self.fields.refuse_words("axes", f"{count} cells", f"at most {MOST_CELLS} cells")
        return tuple(axes)

    def _check_months(
        self, a: Fields, climate: Climate | None, sets: tuple[str, ...], values: tuple[Any, ...]
    ) -> None:
        if climate is None:
            raise self.fields.refuse_words("climate", "missing", "a ground climate here or in the case, because there is an axis of months")
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
            if not _is_number(value) and not isinstance(value, str):
                raise a.refuse_words("labels", "missing", "a text for each value that is neither a number nor a text")
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
            raise d.refuse_words("layout", ", ".join(placed), "each axis in one place: " + ", ".join(names))
        return panels, columns, rows, page

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
                raise self.fields.refuse_words("axes", f"{path} set by {taken[path]} and by {where}", "each path set once")
            taken[path] = where

    @staticmethod
    def _check_units(axis: Axis, a: Fields) -> None:
        """Refuses a unit, a title or labels that say another unit than the paths have. Nothing is converted."""
        if axis.months and axis.unit:
            raise a.refuse("unit", axis.unit, "no unit, because the values are months")
        if not axis.numeric:
            return
        unit = unit_of(axis.sets[0])
        for path in axis.sets[1:]:
            if unit_of(path) != unit:
                raise a.refuse("sets", path, f"paths of one unit: {axis.sets[0]} is {f'in {unit}' if unit else 'without unit'}")
        allowed = f"{unit}, in which {axis.sets[0]} is" if unit else f"no unit, because {axis.sets[0]} has none"
        if axis.unit and not same_unit(axis.unit, unit):
            raise a.refuse("unit", axis.unit, allowed)
        if unit and any(other_units(axis.title, unit)):
            raise a.refuse("title", axis.title, f"words without a unit, or with {allowed}")
        if not unit or not a.has("labels"):
            return
        for label, value in zip(axis.labels, axis.values, strict=True):
            if any(contradictions(label, unit, float(value))):
                raise a.refuse("labels", label, f"words, or {value:g} in {allowed}")

    def _check_cells(self, chart: ChartDocument) -> None:
        """Every cell's case is read before anything is computed."""
        for document in chart.case_documents.values():
            if not any(stage["kind"] == "held" for stage in document["stages"]):
                raise input_error(
                    "case.stages", "no held stage", "a held stage, because a chart tells release", self.name
                )
        for axis, a in zip(chart.axes, self.axis_fields, strict=True):
            self._check_units(axis, a)
        # The model files as they are now, not as they will be when somebody asks.
        assert chart.inputs_hash


def _is_number(value: Any) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)
