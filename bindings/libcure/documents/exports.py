"""Tables as programs of instruments export them: encoding, delimiter, decimal sign and the lines that are rows, found out.

Nothing here knows what the columns mean; ``fitting.record`` does. What is found is said (:class:`Export`), so that it can be
shown before anything is computed.
"""

from __future__ import annotations

import os
import re
from collections import Counter
from dataclasses import dataclass

from libcure import _core
from libcure.documents import read_bytes, shown
from libcure.errors import input_error

__all__ = ["Export", "Line", "decoded", "read_export"]

DELIMITERS = {";": "semicolon", "\t": "tab", ",": "comma", "": "blanks"}
"""In the order in which they are preferred where two read the same."""
STEADY = 5  # rows one after the other from which a table is believed to have begun
LOOKED_AT = 2000  # lines, at most about so many, from which the dialect is told
_NUMBER = {
    ".": re.compile(r"[+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?"),
    # Without a digit behind it a comma would be a delimiter.
    ",": re.compile(r"[+-]?(?:\d+(?:,\d+)?|,\d+)(?:[eE][+-]?\d+)?"),
}
# Thousands: parted by the other sign before a decimal sign, or by blanks or apostrophes. A sign alone could be either, and is none.
_GROUPS = {d: re.compile(rf"[+-]?\d{{1,3}}(?:(?:{re.escape(o)}\d{{3}})+(?={re.escape(d)}\d)|(?:([ \u00a0\u202f'])\d{{3}})(?:\1\d{{3}})*)(?:{re.escape(d)}\d+)?")
           for d, o in ((".", ","), (",", "."))}
_DATED = re.compile(r"\d+([./-])\d+\1\d+[ T,].*:.*", re.IGNORECASE)  # for speed: what may be a date with a time of day
_CLOCK = re.compile(r"(\d+):([0-5]\d):([0-5]\d(?:[.,]\d+)?)")
_CELL = {d: re.compile(rf' *"((?:[^"]|"")*)" *|([^"{re.escape(d)}]*)') for d in DELIMITERS}


@dataclass(frozen=True)
class Line:
    """A line that is not blank."""

    number: int
    """In the file, from 1."""
    text: str

    @property
    def comment(self) -> bool:
        return self.text.lstrip().startswith("#")


@dataclass(frozen=True)
class Export:
    """Lines of a file and how they are to be read."""

    file: str
    encoding: str
    delimiter: str
    """Empty: blanks."""
    decimal: str
    width: int
    """Cells in most rows."""
    lines: list[Line]
    first: int
    """Index of the first row of the table."""
    unended: int | None
    """Number of a last line without a line end, which is not among the lines."""

    @property
    def delimiter_name(self) -> str:
        return DELIMITERS[self.delimiter]

    def cells(self, line: Line) -> list[str] | None:
        """Cells of a line; None where a quote does not close, or stands inside a cell."""
        return _cells(line.text, self.delimiter)

    def number(self, cell: str) -> float | None:
        """A cell as a number; a clock (``hh:mm:ss``) in seconds, and a date with one likewise: which day it is, other rows tell.
        None where it is none, or cannot be told from another."""
        return _number(cell, self.decimal)


def _number(cell: str, decimal: str) -> float | None:
    plain = cell.strip().replace("\u2212", "-")
    if _NUMBER[decimal].fullmatch(plain):
        return float(plain.replace(",", "."))
    if _GROUPS[decimal].fullmatch(plain):
        whole, _, rest = plain.partition(decimal)
        return float(re.sub(r"[^0-9+-]", "", whole) + "." + (rest or "0"))
    clock = _CLOCK.fullmatch(plain)
    if clock:
        return 3600.0 * int(clock[1]) + 60.0 * int(clock[2]) + float(clock[3].replace(",", "."))
    stamp = _core.stamp(plain) if _DATED.fullmatch(plain) else None
    return stamp[1] if stamp is not None else None


def _cells(text: str, delimiter: str) -> list[str] | None:
    if not delimiter:
        return None if '"' in text else text.split()
    if '"' not in text:
        return [cell.strip() for cell in text.split(delimiter)]
    found, at = [], 0
    while True:
        match = _CELL[delimiter].match(text, at)
        if match is None:
            return None
        found.append(match[2].strip() if match[1] is None else match[1].replace('""', '"').strip())
        at = match.end()
        if at == len(text):
            return found
        if text[at] != delimiter:
            return None
        at += 1


def decoded(data: bytes, name: str) -> tuple[str, str]:
    """Text of bytes, and the name of its encoding.

    UTF-8, UTF-16 (also without a byte-order mark, by where its zero bytes stand), and else Windows-1252, of which Latin-1 is a
    part where text is printed.

    Raises:
        CureError: no text in one of these.
    """
    if data.startswith(b"\xef\xbb\xbf"):
        tried = [("utf-8-sig", "UTF-8 with a byte-order mark")]
    elif data.startswith((b"\xff\xfe", b"\xfe\xff")):
        tried = [("utf-16", f"UTF-16 {'LE' if data[0] == 0xFF else 'BE'} with a byte-order mark")]
    elif data[1::2].count(0) > len(data) // 4:
        tried = [("utf-16-le", "UTF-16 LE")]
    elif data[::2].count(0) > len(data) // 4:
        tried = [("utf-16-be", "UTF-16 BE")]
    else:
        tried = [("utf-8", "UTF-8"), ("cp1252", "Windows-1252 (Latin-1)")]
    for codec, words in tried:
        try:
            text = data.decode(codec)
        except UnicodeDecodeError:
            continue
        if "\0" not in text:
            return text, "ASCII" if words == "UTF-8" and text.isascii() else words
    raise input_error("file", "no text", "a text file in UTF-8, UTF-16 or Windows-1252 (Latin-1), as exported; not a "
                      "spreadsheet or the instrument's own file", name)


def _dialect(lines: list[Line]) -> tuple[str, str, int] | None:
    """Delimiter, decimal sign and cells of a row; None where nothing looks like a row of two numbers or more."""
    seen = [line.text for line in lines if not line.comment]
    seen = seen[:: max(1, len(seen) // LOOKED_AT)]
    best: tuple[float, str, str, int] | None = None
    for delimiter in DELIMITERS:
        split = [cells for text in seen if (cells := _cells(text, delimiter)) is not None and len(cells) > 1]
        for decimal in (".", ","):
            score, widths = 0.0, Counter[int]()
            for cells in split:
                numbers = sum(_number(cell, decimal) is not None for cell in cells)
                if numbers > 1:
                    score += numbers - 0.5 * (sum(map(bool, cells)) - numbers)
                    widths[len(cells)] += 1
            if widths and (best is None or score > best[0]):
                best = score, delimiter, decimal, widths.most_common(1)[0][0]
    return None if best is None else best[1:]


def _first_row(lines: list[Line], delimiter: str, decimal: str, width: int) -> int:
    """Index of the line where the first steady run of rows begins, or else the longest: numbers in a preamble are no table.

    Comments part no run.
    """
    longest, length, begin = (0, 0), 0, 0
    for i, line in enumerate(lines):
        if line.comment:
            continue
        cells = _cells(line.text, delimiter)
        if cells is None or len(cells) != width or sum(_number(cell, decimal) is not None for cell in cells) < 2:
            length = 0
            continue
        begin = i if length == 0 else begin
        length += 1
        longest = max(longest, (length, -begin))
        if length == STEADY:
            break
    return -longest[1]


def read_export(path: str | os.PathLike[str], needed: str) -> Export:
    """Lines of a file, and how they are to be read.

    A last line without a line end may have been cut, and is none of them.

    Args:
        path: the file.
        needed: what an empty file lacks, for the message.

    Raises:
        CureError: it cannot be read, is no text, is empty, or has no rows of numbers.
    """
    name = shown(path)
    text, encoding = decoded(read_bytes(path), name)
    texts = re.split(r"\r\n|\r|\n", text)
    lines = [Line(i, t) for i, t in enumerate(texts, 1) if t.strip()]
    if not lines:
        raise input_error("file", "empty", needed, name)
    # Words are no row, whole or not: a footer that nobody ended.
    unended = lines.pop().number if texts[-1].strip() and any(c.isdigit() for c in texts[-1]) else None
    dialect = _dialect(lines)
    if dialect is None:
        raise input_error("file", "no rows of numbers", f"{needed}, with comma, semicolon, tab or blanks between "
                          "cells and the same decimal sign throughout", name)
    return Export(name, encoding, *dialect, lines, _first_row(lines, *dialect), unended)
