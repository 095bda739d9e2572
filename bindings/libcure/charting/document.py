"""Chart documents, ``libcure/chart/1``: which cases a chart covers and what is uncertain in them."""

from __future__ import annotations

import hashlib
import itertools
import json
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, documents
from libcure.case import Case
from libcure.models import model_names, model_path
from libcure.result import predict
from libcure.sampling import UncertainInput
from libcure.words.rounding import Steps

__all__ = [
    "MONTHS",
    "MONTH_SETS",
    "Axis",
    "Cell",
    "ChartDocument",
    "Climate",
    "canonical_hash",
    "month_days",
]

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

    annual_mean_C: float
    amplitude_K: float
    day_of_minimum: float
    diffusivity_mm2_s: float
    depth_m: float

    def temperature_C(self, day: Any, depth_m: float | None = None) -> Any:
        """[°C] on days of the year, any shape, at the pipe's depth unless another is given."""
        depth = self.depth_m if depth_m is None else depth_m
        return (
            _core.ground_temperature(
                self.annual_mean_C + ZERO_CELSIUS,
                self.amplitude_K,
                self.day_of_minimum,
                1e-6 * self.diffusivity_mm2_s,
                depth,
                day,
            )
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
    """As given, with ``samples`` and ``climate`` as used."""
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
    def dimensions(self) -> int:
        """Of the sample points: the inputs, the day of a month, the constants of the largest model."""
        most = 0
        if self.constants:
            for folder, name in self.model_hashes:
                if folder == "resins":
                    model = documents.read_object(model_path(folder, name, self.beside))
                    most = max(most, len(model.get("covariance", {}).get("parameters", ())))
        return len(self.inputs) + any(axis.months for axis in self.axes) + most

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
