"""Tables of numbers as instruments write them: a heading with units, and rows in one of the usual separators."""

from __future__ import annotations

import os
from dataclasses import dataclass

from libcure import _core
from libcure.documents import read_bytes, shown

__all__ = ["Table", "read_table"]


@dataclass(frozen=True)
class Table:
    """Cells as texts."""

    heading: list[str]
    rows: list[list[str]]
    lines: list[int]
    """Line of each row in the file."""
    decimal_comma: bool
    """Whether a comma in a number is its decimal one."""
    unreadable: list[int]
    """Lines with a quote that does not close, or stands inside a cell."""
    left_out: list[str]
    """What is no row, in plain sentences."""

    def text(self, row: int, column: int) -> str:
        """A cell; empty where the row is too short."""
        cells = self.rows[row]
        return cells[column].strip() if column < len(cells) else ""

    def number(self, row: int, column: int) -> float:
        """A cell as a finite number; NaN where it is none."""
        return _core.number_in(self.text(row, column), self.decimal_comma)


def read_table(path: str | os.PathLike[str], needed: str) -> Table:
    """A table from a CSV file.

    UTF-8, UTF-16 or Latin-1. Comma, semicolon or tab between cells; with the latter two a decimal comma is understood. One line is one row, and
    quotes close within it. Lines that begin with ``#`` are comments. A last line without a line end may have been cut
    and is no row.

    Args:
        path: the file.
        needed: what an empty file lacks, for the message.

    Raises:
        CureError: it cannot be read, is empty, or is no table.
    """
    return Table(*_core.parse_table(read_bytes(path), needed, shown(path)))
