"""Readings of a thermocouple in the wall, as a logger wrote them."""

from __future__ import annotations

import os
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure.documents import shown
from libcure.documents.csv_table import read_table, unit_of
from libcure.errors import input_error

__all__ = ["Readings", "read_readings"]

Floats = NDArray[np.float64]
ZERO_CELSIUS = 273.15
MOST_ROWS = 200_000

# By unit: factor and offset that make SI of it.
_TIME: Mapping[str, tuple[float, float]] = {"min": (60.0, 0.0), "s": (1.0, 0.0), "h": (3600.0, 0.0)}
_TEMPERATURE: Mapping[str, tuple[float, float]] = {
    "C": (1.0, ZERO_CELSIUS), "F": (1.0 / 1.8, ZERO_CELSIUS - 32.0 / 1.8), "K": (1.0, 0.0),
}  # fmt: skip
_COLUMNS = (("time", r"time|t(?![a-z])", _TIME), ("temperature", r"temp(?:erature)?(?![a-z])\.?", _TEMPERATURE))


@dataclass(frozen=True, eq=False)
class Readings:
    """What a logger wrote, in SI, in any order; nothing is checked yet."""

    time: Floats
    """(n,) from mixing [s]; NaN where the row has no time."""
    temperature: Floats
    """(n,) [K]; NaN where there is no number."""
    file: str = ""
    left_out: tuple[str, ...] = ()
    """Rows that are no readings, in plain sentences."""

    @classmethod
    def from_arrays(cls, time_min: ArrayLike, temperature_C: ArrayLike) -> Readings:
        """Readings from times from mixing [min] and temperatures [°C], (n,) each; NaN is a missing one.

        Raises:
            CureError: arrays of unlike lengths, or too many.
        """
        time, temperature = np.atleast_1d(np.asarray(time_min, float)), np.atleast_1d(np.asarray(temperature_C, float))
        if time.ndim != 1 or time.shape != temperature.shape:
            given = f"{time.shape} times and {temperature.shape} temperatures"
            raise input_error("readings", given, "one list of each, of one length")
        if time.size > MOST_ROWS:
            raise input_error("readings", f"{time.size} readings", f"at most {MOST_ROWS}")
        finite = np.where(np.isfinite(temperature), temperature, np.nan)
        return cls(60.0 * np.where(np.isfinite(time), time, np.nan), finite + ZERO_CELSIUS)

    def __len__(self) -> int:
        return self.time.size


def _unit(cell: str, pattern: str, units: Mapping[str, tuple[float, float]], file: str) -> tuple[float, float] | None:
    """Factor and offset of a heading such as ``time_min`` or ``Temperature [°C]``; None when it names something else."""
    unit = unit_of(cell, pattern)
    if unit is None:
        return None
    given = unit.lower().removeprefix("deg").removeprefix("°")
    named = {name.lower(): value for name, value in units.items()}
    if given not in named:
        raise input_error(f'column "{cell}"', f'unit "{unit}"', f"one of {', '.join(units)}", file)
    return named[given]


def read_readings(path: str | os.PathLike[str]) -> Readings:
    """Readings from a CSV file with a heading such as ``time_min,temperature_C``.

    Times count from mixing, in s, min or h; temperatures are in C, F or K. Comma, semicolon or tab between cells;
    with the latter two a decimal comma is understood. Lines that begin with ``#`` are comments, other columns are
    left alone. A cell that is empty or no number is a missing reading, not an error: loggers write such. A line that
    cannot be read, and a last one without a line end, are left out and said.

    Raises:
        CureError: it cannot be read, a column or its unit is missing or unknown, or no row holds a number.
    """
    name = shown(path)
    table = read_table(path, "a heading such as time_min,temperature_C and rows of numbers")
    if len(table.rows) > MOST_ROWS:
        raise input_error("file", f"{len(table.rows)} rows", f"at most {MOST_ROWS}", name)
    heading = [cell.strip().strip('"') for cell in table.heading]
    found = []
    for kind, pattern, units in _COLUMNS:
        columns = [(i, unit) for i, cell in enumerate(heading) if (unit := _unit(cell, pattern, units, name)) is not None]
        if len(columns) != 1:
            given = f"{len(columns)} columns" if columns else f'no column for it in "{table.first_line[:80]}"'
            raise input_error(f"heading, {kind}", given, f"one, such as {kind}_{next(iter(units))}", name)
        column, (factor, offset) = columns[0]
        values = np.array([table.number(row, column) for row in range(len(table.rows))])
        found.append(values * factor + offset)
    time, temperature = found
    if table.rows and not (np.isfinite(time) & np.isfinite(temperature)).any():
        raise input_error(
            "rows", f"{len(table.rows)} without a number", "numbers; with a decimal comma, semicolons between cells", name
        )
    return Readings(time, temperature, name, tuple(table.left_out))
