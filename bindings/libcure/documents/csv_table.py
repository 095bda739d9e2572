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
    unreadable: tuple[int, ...] = ()
    """Lines with a quote that does not close, or stands inside a cell."""
    unended: int | None = None
    """A last line without a line end, as of a file that is still being written: no row. None where there is none."""

    @property
    def left_out(self) -> list[str]:
        """What is no reading, in plain sentences."""
        said = []
        if self.unreadable:
            few = ", ".join(str(line) for line in self.unreadable[:5]) + ", …" * (len(self.unreadable) > 5)
            many = len(self.unreadable) > 1
            said.append(f"Line{'s' * many} {few} cannot be read (a stray quote); not used.")
        if self.unended is not None:
            said.append(f"Line {self.unended}, the last one, has no line end: it may still be being written, and is not used.")
        return said

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

    Comma, semicolon or tab between cells; with the latter two a decimal comma is understood. One line is one row, and
    quotes close within it. Lines that begin with ``#`` are comments. A last line without a line end may have been cut
    and is no row.

    Args:
        path: the file.
        needed: what an empty file lacks, for the message.

    Raises:
        CureError: it cannot be read, is empty, or is no table.
    """
    text = read_text(path)
    every = re.split("\r\n|\n|\r", text)
    lines = [(i + 1, line) for i, line in enumerate(every)
             if line.strip() and not line.lstrip().startswith("#")]
    if not lines:
        raise input_error("file", "empty", needed, shown(path))
    number, first = lines.pop(0)
    separator = ";" if ";" in first else "\t" if "\t" in first else ","
    heading = _cells(first, separator)
    if heading is None:
        raise input_error(f"line {number}", first.strip()[:80], "a heading whose quotes close", shown(path))
    # What follows the last line end is empty, or a line without one.
    unended = lines.pop()[0] if lines and lines[-1][0] == len(every) else None
    rows = [(number, _cells(line, separator)) for number, line in lines]
    read = [(number, cells) for number, cells in rows if cells is not None]
    unreadable = tuple(number for number, cells in rows if cells is None)
    return Table(first.strip(), heading, [cells for _, cells in read], [number for number, _ in read], separator != ",",
                 unreadable, unended)


def _cells(line: str, separator: str) -> list[str] | None:
    """Cells of a line; None where a quote does not close or stands inside a cell."""
    try:
        cells = next(csv.reader([line], delimiter=separator, strict=True))
    except csv.Error:
        return None
    quoted = (f'"{cell.replace(chr(34), 2 * chr(34))}"' for cell in cells if '"' in cell)
    return cells if all(cell in line for cell in quoted) else None


def unit_of(cell: str, pattern: str) -> str | None:
    """Unit in a heading such as ``time_min`` or ``Temperature [°C]``; None when it names something else.

    Args:
        cell: a cell of the heading.
        pattern: regular expression of the quantity's name.
    """
    match = re.fullmatch(rf"(?:{pattern})[\s_,/\[\(]*([^\s\[\]\(\)]*)[\]\)]*", cell, re.IGNORECASE)
    return None if match is None else match.group(1)
