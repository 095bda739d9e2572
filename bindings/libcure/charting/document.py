"""Chart documents, ``libcure/chart/1``: which cases a chart covers and what is uncertain in them."""

from __future__ import annotations

import hashlib
import itertools
import json
from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from libcure import _core, documents
from libcure.case import Case
from libcure.charting.axes import Axis
from libcure.charting.climate import MONTHS, NAMED_SEASONS, Climate
from libcure.charting.enough import Bounds
from libcure.models import limit_C, model_names, model_path
from libcure.result import predict
from libcure.sampling import UncertainInput
from libcure.words.phrases import as_written, month_name, phrase
from libcure.words.rounding import Steps

__all__ = ["Cell", "ChartDocument", "Publication", "canonical_hash"]

@dataclass(frozen=True)
class Cell:
    """One place of the grid."""

    index: tuple[int, ...]
    changes: dict[str, Any]
    """To the base case."""
    months: tuple[int, ...] | None
    """Of an axis of seasons."""


@dataclass(frozen=True)
class Publication:
    """Who publishes a chart, in which language, and until when it holds."""

    language: str = "en"
    """One of :data:`libcure.words.phrases.LANGUAGES`."""
    maker: str = ""
    mark: Path | None = None
    """A picture (PNG or SVG)."""
    batch: str = ""
    valid_until: str = ""
    """A date, YYYY-MM-DD."""
    check_at: str = ""
    """Where the hash in the square code can be looked up; chart.json when empty."""

    @property
    def stated(self) -> bool:
        """Whether a maker stands behind the chart."""
        return any((self.maker, self.mark, self.batch, self.valid_until, self.check_at))

    @property
    def where(self) -> str:
        """Where the hash can be looked up."""
        return self.check_at or "chart.json"


@dataclass(frozen=True, eq=False)
class ChartDocument:
    """A chart as it was asked for, with the defaults filled in."""

    title: str
    note: str
    base: Case
    axes: tuple[Axis, ...]
    pages: str | None
    """The axis that has a page for each value."""
    panels: str | None
    columns: str | None
    rows: str
    page: str
    """``landscape`` or ``portrait``."""
    paper: str
    """``A4`` or ``Letter``."""
    temperature: str
    """``°C`` or ``°F``: which stands first."""
    length: str
    """``mm`` or ``in``."""
    inputs: tuple[UncertainInput, ...]
    constants: bool
    """Whether a resin's constants vary by its covariance."""
    seed: int
    bounds: Bounds
    """From fewest samples of a cell to most."""
    sensitivity_cells: tuple[tuple[int, ...], ...]
    """Indices of the cells whose Sobol' indices are wanted."""
    sensitivity_samples: int
    need_min: float
    """Working time that the crew says it needs [min]."""
    working_steps: Steps
    release_steps: Steps
    climate: Climate | None
    document: dict[str, Any]
    """As given, with ``samples`` and ``climate`` as used."""
    beside: Path
    name: str
    publication: Publication = Publication()

    def say(self, key: str, **values: object) -> str:
        """A phrase in the language of the chart."""
        return phrase(key, self.publication.language, **values)

    def written(self, text: str) -> str:
        """Numbers in a text as the language of the chart writes them."""
        return as_written(text, self.publication.language)

    def label(self, axis: Axis, i: int) -> str:
        """What a value of an axis is called; numbers, months and named seasons in the language of the chart."""
        label, language = axis.labels[i], self.publication.language
        if language == "en" or not axis.seasons or label not in (*MONTHS, *NAMED_SEASONS):
            return self.written(label)
        return month_name(MONTHS.index(label) + 1, language) if label in MONTHS else self.say(label)

    @property
    def shape(self) -> tuple[int, ...]:
        """Lengths of the axes."""
        return tuple(len(axis.values) for axis in self.axes)

    @property
    def samples(self) -> int:
        """Of a cell at most."""
        return self.bounds.most

    def page_name(self, i: int) -> str:
        """What a page is about; empty where there are no pages."""
        if self.pages is None:
            return ""
        axis = self.axis(self.pages)
        return f"{axis.title} {self.label(axis, i)} {axis.unit}".strip()

    def page_of(self, i: int) -> ChartDocument:
        """The chart of one page: without the axis of the pages, whose value the base case takes. Its hash is that of the whole.

        The chart itself where there are no pages.
        """
        if self.pages is None:
            return self
        axis = self.axis(self.pages)
        base = self.base.replace(axis.changes(i, self.climate))
        others = tuple(a for a in self.axes if a is not axis)
        page = replace(self, title=f"{self.title}: {self.page_name(i)}", pages=None, axes=others, base=base, sensitivity_cells=())
        page.__dict__["inputs_hash"] = self.inputs_hash
        return page

    def axis(self, name: str) -> Axis:
        """The axis of a name."""
        return next(axis for axis in self.axes if axis.name == name)

    def cells(self) -> Iterator[Cell]:
        """All cells, the last axis fastest."""
        for index in itertools.product(*(range(n) for n in self.shape)):
            changes: dict[str, Any] = {}
            months = None
            for axis, i in zip(self.axes, index, strict=True):
                changes.update(axis.changes(i, self.climate))
                months = axis.seasons[i] if axis.seasons else months
            yield Cell(index, changes, months)

    @cached_property
    def cases(self) -> dict[tuple[int, ...], Case]:
        """The case of each cell, by its index.

        Raises:
            CureError: a value that the case does not allow.
        """
        return {cell.index: self.base.replace(cell.changes) for cell in self.cells()}

    @cached_property
    def case_documents(self) -> dict[tuple[int, ...], dict[str, Any]]:
        """The document of each cell's case; not to be changed."""
        return {index: case.document for index, case in self.cases.items()}

    @cached_property
    def verdicts(self) -> list[dict[str, Any]]:
        """A verdict of each resin in each wall, of some cell that has them: what the release criterion depends on."""
        parts = ("resin", "pipe", "liner", "bladder", "release")
        cases = {canonical_hash([case.document.get(part) for part in parts]): case for case in self.cases.values()}
        return [predict(case, numerical_error=False, uncertain="none").verdict for case in cases.values()]

    @cached_property
    def model_hashes(self) -> dict[tuple[str, str], str]:
        """Hash of every model file that a cell reads, by folder and name."""
        found: dict[tuple[str, str], str] = {}
        for document in self.case_documents.values():
            for folder, name in model_names(document, self.beside):
                if (folder, name) not in found:
                    path = model_path(folder, name, self.beside)
                    found[folder, name] = hashlib.sha256(path.read_bytes()).hexdigest()
        return found

    @cached_property
    def limits_C(self) -> dict[tuple[int, ...], float]:
        """Lowest temperature limit of resin, bladder and pipe in each cell [°C]; infinite when none is known."""
        return {index: limit_C(document, self.beside) for index, document in self.case_documents.items()}

    @cached_property
    def dimensions(self) -> int:
        """Of the sample points: the inputs, day and weather of a season, the constants of the largest model."""
        most = 0
        if self.constants:
            for folder, name in self.model_hashes:
                if folder == "resins":
                    model = documents.read_object(model_path(folder, name, self.beside))
                    most = max(most, len(model.get("covariance", {}).get("parameters", ())))
        return len(self.inputs) + len(self.season_columns) + most

    @cached_property
    def season_axis(self) -> Axis | None:
        """The axis of seasons, of which there is at most one."""
        return next((axis for axis in self.axes if axis.seasons), None)

    @property
    def season_columns(self) -> tuple[str, ...]:
        """Columns of the sample points that a season needs: the day, and the weather where the air is followed."""
        axis = self.season_axis
        if axis is None or self.climate is None:
            return ()
        return ("day",) if axis.whats(self.climate) == {"ground"} else ("day", "weather")

    @cached_property
    def inputs_hash(self) -> str:
        """Of everything that the numbers depend on: document, base case, model files, version."""
        return canonical_hash(
            {
                "libcure": _core.__version__,
                "chart": {k: v for k, v in self.document.items() if k != "case"},
                "case": self.base.document,
                "models": sorted((folder, name, text) for (folder, name), text in self.model_hashes.items()),
            }
        )


def canonical_hash(value: object) -> str:
    """SHA-256 of a value as JSON, the same for the same content."""
    text = json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))
    return hashlib.sha256(text.encode()).hexdigest()
