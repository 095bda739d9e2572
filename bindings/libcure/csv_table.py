"""Tables of numbers as instruments write them: a heading with units, and rows in one of the usual separators."""

from __future__ import annotations

import csv
import math
import os
import re
from dataclasses import dataclass

from libcure.documents import read_text, shown
from libcure.errors import input_error

__all__ = ["Table", "read_table", "unit_of"]


@dataclass(frozen=True)
class Table:
    """Cells as texts."""

    first_line: str
    """The heading as it stands in the file."""
    heading: list[str]
    rows: list[list[str]]
    lines: list[int]
    """Line of each row in the file."""
    decimal_comma: bool
    """Whether a comma in a number is its decimal one."""

    def text(self, row: int, column: int) -> str:
        """A cell; empty where the row is too short."""
        cells = self.rows[row]
        return cells[column].strip() if column < len(cells) else ""

    def number(self, row: int, column: int) -> float:
        """A cell as a finite number; NaN where it is none."""
        text = self.text(row, column)
        try:
            value = float(text.replace(",", ".") if self.decimal_comma else text)
        except ValueError:
            return math.nan
        return value if math.isfinite(value) else math.nan


def read_table(path: str | os.PathLike[str], needed: str) -> Table:
    """A table from a CSV file.

    Comma, semicolon or tab between cells; with the latter two a decimal comma is understood. Lines that begin
    with ``#`` are comments.

    Args:
        path: the file.
        needed: what an empty file lacks, for the message.

    Raises:
        CureError: it cannot be read, is empty, or is no table.
    """
    lines = [(i + 1, line) for i, line in enumerate(read_text(path).splitlines())
             if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise input_error("file", "empty", needed, shown(path))
    first = lines[0][1]
    separator = ";" if ";" in first else "\t" if "\t" in first else ","
    try:
        rows = list(csv.reader((line for _, line in lines), delimiter=separator))
    except csv.Error as error:
        raise input_error("file", f"no table ({error})", "rows of cells", shown(path)) from None
    return Table(first.strip(), rows[0], rows[1:], [number for number, _ in lines[1:]], separator != ",")


def unit_of(cell: str, pattern: str) -> str | None:
    """Unit in a heading such as ``time_min`` or ``Temperature [°C]``; None when it names something else.

    Args:
        cell: a cell of the heading.
        pattern: regular expression of the quantity's name.
    """
    match = re.fullmatch(rf"(?:{pattern})[\s_,/\[\(]*([^\s\[\]\(\)]*)[\]\)]*", cell, re.IGNORECASE)
    return None if match is None else match.group(1)
