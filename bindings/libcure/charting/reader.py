"""Reads chart documents strictly, and fills in what was left out: here, and nowhere else."""

from __future__ import annotations

import itertools
import json
import os
from collections.abc import Mapping
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np

from libcure import documents
from libcure.case import Case
from libcure.charting.axes import Axis
from libcure.charting.axis_reader import check_words, in_unit_of, read_axis
from libcure.charting.climate import Climate
from libcure.charting.climate_reader import climate_of_case, read_climate
from libcure.charting.document import ChartDocument, Publication
from libcure.charting.enough import FIRST_SAMPLES, Bounds
from libcure.documents.part import Part
from libcure.errors import input_error
from libcure.models import is_path
from libcure.sampling.uncertainty import StatedRanges
from libcure.words.phrases import phrase
from libcure.words.rounding import RELEASE_STEPS, WORKING_STEPS, Steps

__all__ = ["read_chart"]

MOST_CELLS = 4096
MARKS = (".png", ".svg")


def read_chart(
    source: str | os.PathLike[str] | Mapping[str, Any],
    *,
    beside: str | os.PathLike[str] | None = None,
    samples: int | None = None,
    models: documents.Folders = None,
) -> ChartDocument:
    """Reads a chart document strictly.

    Args:
        source: a file, or a document in memory.
        beside: folder that relative paths in a document in memory start from; the working folder
            when left out.
        samples: a cell at most, instead of those of the document.
        models: folders of models of one's own, in which ids are looked up too.

    Raises:
        CureError: with the field, its value, what is allowed and the file.
    """
    if isinstance(source, Mapping):
        document, name = json.loads(json.dumps(source)), "chart"
        folder = Path(beside) if beside is not None else Path.cwd()
    else:
        name = documents.shown(source)
        document, folder = documents.read_object(source), Path(source).parent
    # Comments, which say nothing of the numbers.
    document = {key: value for key, value in document.items() if not key.startswith("//")}
    if samples is not None and isinstance(document.get("uncertain"), dict):
        document["uncertain"]["samples"] = samples
        document["uncertain"].pop("samples_at_least", None)
    with documents.with_models(models):
        return _Reader(document, folder.resolve(), name).read()


class _Reader:
    def __init__(self, document: dict[str, Any], beside: Path, name: str) -> None:
        self.document, self.beside, self.name = document, beside, name
        self.fields = Part(documents.filled("chart", document, name), "", name)
        self.axis_fields: list[Part] = []

    def read(self) -> ChartDocument:
        d = self.fields
        base, beside = self._base()
        climate = self._climate(base)
        axes = self._axes(climate, base)
        pages, panels, columns, rows, page, paper, temperature, length = self._layout(axes)
        stated = StatedRanges.of_chart(d, self.name)
        cells, sensitivity_samples = self._sensitivity(axes)
        criteria = d.part("criteria")
        need, release = criteria["working_time_needed_min"], criteria.get("release", {})
        working_steps, release_steps = self._steps("working", WORKING_STEPS), self._steps("release", RELEASE_STEPS)
        note = d.get("note", "")
        fixed = {path: in_unit_of(path, value, d, "fixed") for path, value in d.get("fixed", {}).items()}
        publication = self._publication()
        title = d.get("title", base.title or phrase("untitled", publication.language))
        self._no_path_twice(axes, fixed, release)
        if any("ground.temperature_C" in paths for paths in (fixed, *(axis.sets for axis in axes))):
            base = self._without_climate(base, beside)
        base = base.replace({**fixed, **{f"release.{key}": value for key, value in release.items()}})
        chart = ChartDocument(
            title,
            note,
            base,
            axes,
            pages,
            panels,
            columns,
            rows,
            page,
            paper,
            temperature,
            length,
            stated.inputs,
            stated.constants,
            stated.seed,
            self._bounds(stated.samples),
            cells,
            sensitivity_samples,
            need,
            working_steps,
            release_steps,
            climate,
            self.document,
            beside,
            self.name,
            publication,
        )
        self._check_cells(chart)
        return chart

    def _bounds(self, samples: int) -> Bounds:
        u = self.fields.part("uncertain")
        first: int = u.get("samples_at_least", min(FIRST_SAMPLES, samples))
        if first > samples:
            raise u.refuse("samples_at_least", first, f"at most samples, {samples}")
        return Bounds(first, samples)

    def _base(self) -> tuple[Case, Path]:
        d = self.fields
        given = d["case"]
        if isinstance(given, dict):
            return Case.from_dict(given, self.beside, self.name), self.beside
        text: str = given
        if is_path(text):
            path = self.beside / text
            documents.confine(path, text, d.at("case"), self.name)
        else:
            path = documents.model_file("cases", text)
        if not os.path.isfile(path):
            raise d.refuse("case", text, "a case, a path to one, or the id of one that comes with libcure")
        return Case(documents.read_text(path), beside=path.parent, name=os.fspath(path)), path.parent

    def _climate(self, base: Case) -> Climate | None:
        if "climate" in self.fields:
            return read_climate(self.fields.part("climate"))
        found = climate_of_case(base)
        if found is None:
            return None
        # Tables and hash tell the chart by this document, as if it had stated the climate.
        self.document["climate"] = found[1]
        return found[0]

    @staticmethod
    def _without_climate(base: Case, beside: Path) -> Case:
        """The case with a temperature of the ground, which the chart sets, in place of a climate."""
        document = base.document
        if document["ground"].pop("climate", None) is None:
            return base
        document["ground"]["temperature_C"] = base.conditions["ground"]["temperature_C"]
        return Case.from_dict(document, beside, base.name)

    def _axes(self, climate: Climate | None, base: Case) -> tuple[Axis, ...]:
        axes: list[Axis] = []
        for a in self.fields.parts("axes"):
            if climate is None and ("months" in a or "seasons" in a):
                words = "a ground climate here or in the case, because there is an axis of months or seasons"
                raise self.fields.refuse_words("climate", "missing", words)
            axes.append(read_axis(a, climate, base, [axis.name for axis in axes]))
            if axes[-1].seasons and any(axis.seasons for axis in axes[:-1]):
                raise a.refuse_words("name", axes[-1].name, "one axis of months or seasons")
            self.axis_fields.append(a)
        count = int(np.prod([len(axis.values) for axis in axes]))
        if count > MOST_CELLS:
            raise self.fields.refuse_words("axes", f"{count} cells", f"at most {MOST_CELLS} cells")
        return tuple(axes)

    def _layout(self, axes: tuple[Axis, ...]) -> tuple[str | None, str | None, str | None, str, str, str, str, str]:
        """Axes in pages, panels, columns and rows; page, paper; which temperature stands first, and the unit of lengths."""
        names = [axis.name for axis in axes]
        # As the values are given, unless the layout says otherwise.
        units = {axis.unit for axis in axes}
        first = "°F" if "°F" in units and "°C" not in units else "°C"
        length = "in" if "in" in units and "mm" not in units else "mm"
        d = self.fields
        if "layout" not in d:
            rows, columns, panels, pages = (*names[::-1], None, None, None)[:4]
            return pages, panels, columns, str(rows), "landscape", "A4", first, length
        o = d.part("layout")
        pages, panels, columns = (o.one_of(key, names) if key in o else None for key in ("pages", "panels", "columns"))
        rows = o.one_of("rows", names)
        page, paper, first, length = o["page"], o["paper"], o.get("temperature", first), o.get("length", length)
        placed = [name for name in (pages, panels, columns, rows) if name is not None]
        if sorted(placed) != sorted(names):
            raise d.refuse_words("layout", ", ".join(placed), "each axis in one place: " + ", ".join(names))
        return pages, panels, columns, rows, page, paper, first, length

    def _publication(self) -> Publication:
        p = self.fields.part("publication")
        texts = {key: p.get(key, "") for key in ("maker", "batch", "valid_until", "check_at")}
        until = texts["valid_until"]
        if until and not _is_date(until):
            raise p.refuse("valid_until", until, "a date, YYYY-MM-DD")
        mark = self.beside / p["mark"] if "mark" in p else None
        if mark is not None and (mark.suffix.lower() not in MARKS or not mark.is_file()):
            raise p.refuse("mark", p["mark"], f"a file that is there, {' or '.join(MARKS)}")
        return Publication(language=p["language"], mark=mark, **texts)

    def _sensitivity(self, axes: tuple[Axis, ...]) -> tuple[tuple[tuple[int, ...], ...], int]:
        """The cells, by index, and the samples."""
        shape = [len(axis.values) for axis in axes]
        centre = (tuple(n // 2 for n in shape),)
        s = self.fields.part("sensitivity")
        if isinstance(s["cells"], list):
            return tuple(self._place(o, axes) for o in s.parts("cells")), s["samples"]
        corners = tuple(itertools.product(*(sorted({0, n - 1}) for n in shape)))
        return {"centre": centre, "corners": corners, "none": ()}[s["cells"]], s["samples"]

    @staticmethod
    def _place(o: Part, axes: tuple[Axis, ...]) -> tuple[int, ...]:
        for axis in axes:
            if axis.name not in o:
                raise o.refuse_words(axis.name, "missing", "one of " + ", ".join(axis.labels))
        o.only(axis.name for axis in axes)
        return tuple(axis.labels.index(o.one_of(axis.name, axis.labels)) for axis in axes)

    def _steps(self, key: str, usual: Steps) -> Steps:
        r = self.fields.part("rounding")
        bands: list[tuple[float, float]] = []
        for band in r.parts(key):
            begin = band["from_min"]
            if not bands and begin != 0.0:
                raise band.refuse("from_min", begin, "0 in the first band")
            if bands and not begin > bands[-1][0]:
                raise band.refuse("from_min", begin, "bands that rise")
            bands.append((begin, float(band["step_min"])))
        return Steps(tuple(bands)) if bands else usual

    def _no_path_twice(self, axes: tuple[Axis, ...], fixed: dict[str, Any], release: dict[str, Any]) -> None:
        taken: dict[str, str] = {}
        places = [(path, "fixed") for path in fixed] + [(f"release.{key}", "criteria") for key in release]
        places += [(path, f"axis {axis.name}") for axis in axes for path in axis.sets]
        for path, where in places:
            if path in taken:
                raise self.fields.refuse_words("axes", f"{path} set by {taken[path]} and by {where}", "each path set once")
            taken[path] = where

    def _check_cells(self, chart: ChartDocument) -> None:
        """Every cell's case is read before anything is computed."""
        for document in chart.case_documents.values():
            if not any(stage["kind"] == "held" for stage in document["stages"]):
                raise input_error(
                    "case.stages", "no held stage", "a held stage, because a chart tells release", self.name
                )
        for axis, a in zip(chart.axes, self.axis_fields, strict=True):
            check_words(axis, a)
        # The model files as they are now, not as they will be when somebody asks.
        assert chart.inputs_hash


def _is_date(text: str) -> bool:
    try:
        return date.fromisoformat(text).isoformat() == text
    except ValueError:
        return False
