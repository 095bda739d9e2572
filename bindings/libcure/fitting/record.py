"""Records of a calorimeter, as its software exports them. Inside everything is SI."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.documents import shown
from libcure.documents.csv_table import read_table, unit_of
from libcure.errors import input_error

__all__ = ["Record", "read_csv"]

Array = NDArray[np.float64]
ZERO_CELSIUS = 273.15


@dataclass(frozen=True)
class Record:
    """What a file holds, in SI, as recorded."""

    time: Array
    """(n,) [s]"""
    temperature: Array
    """(n,) [K]"""
    heat_flow: Array
    """(n,) in ``heat_flow_unit``, sign as recorded"""
    heat_flow_unit: str
    file: str = ""
    left_out: tuple[str, ...] = ()
    """Rows that were not used, in plain sentences"""


_TIME = {"s": 1.0, "sec": 1.0, "second": 1.0, "seconds": 1.0, "min": 60.0, "minute": 60.0, "minutes": 60.0, "h": 3600.0}
_TEMPERATURE = {"c": ZERO_CELSIUS, "°c": ZERO_CELSIUS, "degc": ZERO_CELSIUS, "k": 0.0}
_HEAT = {"w": "W", "mw": "mW", "uw": "uW", "µw": "uW", "μw": "uW", "w/g": "W/g", "w_g": "W/g", "mw/mg": "mW/mg",
         "mw_mg": "mW/mg", "w/kg": "W/kg", "w_kg": "W/kg"}
_COLUMNS: tuple[tuple[str, str, Mapping[str, object]], ...] = (
    ("temperature", r"(?:sample[ _]*)?temp(?:erature)?\.?", _TEMPERATURE),
    ("time", r"time|t", _TIME),
    ("heat_flow", r"heat[ _]*flow|dsc", _HEAT),
)


def _header(cells: Sequence[str], file: str) -> dict[str, tuple[int, object]]:
    found: dict[str, tuple[int, object]] = {}
    for i, cell in enumerate(cells):
        for kind, pattern, units in _COLUMNS:
            given = unit_of(cell.strip(), pattern)
            if given is None or kind in found:
                continue
            unit = given.lower()
            if unit not in units:
                raise input_error(f"column {cell.strip()!r}", f'unit "{given}"',
                                  f"one of {', '.join(dict.fromkeys(units))}", file)
            found[kind] = (i, units[unit])
            break
    for kind, _, units in _COLUMNS:
        if kind not in found:
            raise input_error("header", f"no column for {kind.replace('_', ' ')}",
                              f"a heading such as {kind}_{next(iter(units))}, with its unit", file)
    return found


def read_csv(path: str | os.PathLike[str]) -> Record:
    """A record from a CSV file with a heading that names time, temperature and heat flow with units.

    Comma, semicolon or tab between cells; with the latter two a decimal comma is understood. Lines
    that begin with ``#`` are comments; a last line without a line end may have been cut and is left out. Headings such as ``time_min``, ``Temperature [°C]``,
    ``heat_flow_mW`` or ``Heat flow (W/g)``.

    Raises:
        CureError: it cannot be read, a column or unit is missing or unknown, or a cell is no number.
    """
    name = shown(path)
    table = read_table(path, "a heading and rows of numbers")
    columns = _header(table.heading, name)
    if table.unreadable:
        raise input_error(f"line {table.unreadable[0]}", "a stray quote", "cells whose quotes close", name)
    values = np.empty((len(table.rows), 3))
    for r, line in enumerate(table.lines):
        for c, kind in enumerate(("time", "temperature", "heat_flow")):
            column = columns[kind][0]
            values[r, c] = table.number(r, column)
            if np.isnan(values[r, c]):
                raise input_error(f"line {line}, {kind.replace('_', ' ')}", f'"{table.text(r, column)}"',
                                  "a finite number", name)
    if len(values) < 50:
        raise input_error("file", f"{len(values)} rows", "50 or more", name)
    factor, offset = columns["time"][1], columns["temperature"][1]
    assert isinstance(factor, float) and isinstance(offset, float)
    return Record(values[:, 0] * factor, values[:, 1] + offset, values[:, 2], str(columns["heat_flow"][1]), name,
                  tuple(table.left_out))
