"""Records of a calorimeter, as its software exports them. Inside everything is SI."""

from __future__ import annotations

import os
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure.documents.exports import Export, Line, read_export
from libcure.errors import input_error
from libcure.fitting.columns import KINDS, ZERO_CELSIUS, Column, by_the_clock, columns_of, is_units, kinds_named, with_moments
from libcure.fitting.moments import MOMENT, is_moment, since_the_first

__all__ = ["STEADY", "ZERO_CELSIUS", "Record", "programme", "read_csv", "steady_rate", "understood"]

Array = NDArray[np.float64]
PROGRAMMED = ("The temperature is that of the programme or reference: an exotherm heats its sample above it, which then seems to react "
              "too early. Export the sample's temperature where there is one.")
HELD = 2.0  # K about its middle that nine tenths of an isothermal record keep; common practice, no source
STEADY = 0.05  # share of the greatest heating rate by which a ramp's may differ between its parts


@dataclass(frozen=True)
class Layout:
    """How a file was read."""

    export: Export
    columns: Mapping[str, Column]
    others: tuple[str, ...]
    """Headings of columns that are not used."""
    heading: int | None
    """Number of its line."""
    units: int | None
    """Number of the row of units."""
    preamble: int
    """Lines above the heading, or the first row where there is none."""
    footer: tuple[int, ...]
    """Numbers of the lines after the last row."""
    date: int | None = None
    """Place of the column with the dates of times of day."""

    @property
    def moments(self) -> bool:
        """Whether times are moments: with a date."""
        return self.columns["time"].unit == MOMENT

    def moment(self, line: Line) -> str:
        """Date and time of a row."""
        cells = self.export.cells(line) or []
        places = (self.columns["time"].place,) if self.date is None or is_moment(cells[self.columns["time"].place]) else (
            self.date, self.columns["time"].place)
        return " ".join(cells[place] for place in places if place < len(cells))


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
    layout: Layout | None = None
    """How the file was read; None when it came from none."""
    dated: str = ""
    """Of times with a date: the first row's, and the order of its date"""

    @property
    def programmed(self) -> bool:
        """Whether the temperature is that of programme or reference, by its heading."""
        return self.layout is not None and self.layout.columns["temperature"].programmed


def read_csv(path: str | os.PathLike[str], columns: Mapping[str, Mapping[str, Any]] | None = None) -> Record:
    """A record from a text file of rows of numbers, under a heading that names time, temperature and heat flow.

    Encoding (UTF-8, UTF-16, Windows-1252), delimiter (comma, semicolon, tab, blanks) and decimal sign are found out. Lines above
    the heading and after the last row, blank ones and those that begin with ``#`` are left out. Headings are words such as
    ``time_min``, ``Temp. [°C]``, ``Wärmestrom/(mW/mg)``, with their unit or a row of units below. Times may be moments,
    a date with a time of day in one cell or two; they are counted from the first. A last line without a line end
    may have been cut and is left out.

    Args:
        path: the file.
        columns: for what its headings do not say: by ``time``, ``temperature``, ``heat_flow`` either ``heading``, as it stands in
            the file, or ``column``, its number from 1; and ``unit`` where the file has none.

    Raises:
        CureError: it cannot be read, a column or unit is missing, unknown or ambiguous, or a cell is no number.
    """
    export = read_export(path, "a heading and rows of numbers")
    layout = _layout(export, columns or {})
    end = len(export.lines) - len(layout.footer)
    rows = [line for line in export.lines[export.first : end] if not line.comment]
    values = _at_once(export, rows, layout)
    if values is None:  # Something is wrong in one of them: look at each.
        values = np.array([_numbers(export, line, layout) for line in rows]).reshape(len(rows), 3)
    if len(values) < 50:
        raise input_error("file", f"{len(values)} rows", "50 or more", export.file)
    dated = ""
    if layout.moments:
        moments = [layout.moment(line) for line in rows]
        values[:, 0], order = since_the_first(moments, [line.number for line in rows], export.file)
        dated = f"from {moments[0]} on ({order})"
    for c, kind in enumerate(KINDS):
        column = layout.columns[kind]
        values[:, c] = values[:, c] * column.factor + column.offset
    return Record(values[:, 0], values[:, 1], values[:, 2], layout.columns["heat_flow"].unit, export.file,
                  tuple(_left_out(layout)), layout, dated)


def _at_once(export: Export, rows: Sequence[Line], layout: Layout) -> Array | None:
    """(rows, 3) numbers of a table without fault; None where any cell is not plain. For speed: it decides nothing."""
    if by_the_clock(layout.columns["time"].unit):
        return None
    places = [layout.columns[kind].place for kind in KINDS]
    wanted: list[str] = []
    for line in rows:
        cells = export.cells(line)
        if cells is None or len(cells) != export.width:
            return None
        wanted += [cells[place] for place in places]
    joined = " ".join(wanted) + " "
    if export.decimal == ",":
        if "." in joined or ", " in joined:
            return None
        joined = joined.replace(",", ".")
    if joined.strip("0123456789+-.eE "):
        return None
    try:
        found = np.array(joined.split(), np.float64)
    except ValueError:
        return None
    return found.reshape(len(rows), 3) if len(found) == 3 * len(rows) and np.isfinite(found).all() else None


def _numbers(export: Export, line: Line, layout: Layout) -> list[float]:
    cells = export.cells(line)
    if cells is None:
        raise input_error(f"line {line.number}", "a stray quote", "cells whose quotes close", export.file)
    found = []
    for kind in KINDS:
        place = layout.columns[kind].place
        cell = cells[place] if place < len(cells) else ""
        if kind == "time" and layout.moments:
            found.append(0.0)  # They are read all at once: which day it is, other rows tell.
            continue
        value = export.number(cell)
        if value is not None and (":" in cell) != by_the_clock(layout.columns[kind].unit):
            raise input_error(f"line {line.number}, {kind.replace('_', ' ')}", f'"{cell}" in {layout.columns[kind].unit}',
                              f'a time by the clock where the unit is hh:mm:ss or "{MOMENT}", and a number elsewhere', export.file)
        if value is None or not np.isfinite(value):
            raise input_error(f"line {line.number}, {kind.replace('_', ' ')}", f'"{cell}"', "a finite number, with "
                              f'"{export.decimal}" as its decimal sign as elsewhere in the file, thousands parted unmistakably or not at all; '
                              "one table a file", export.file)
        found.append(value)
    if len([cell for cell in cells if cell]) > export.width:
        raise input_error(f"line {line.number}", f"{len(cells)} cells", f"{export.width}, as in the other rows", export.file)
    return found


def _layout(export: Export, asked: Mapping[str, Mapping[str, Any]]) -> Layout:
    """Where heading and units stand, what the columns are, and where the table ends.

    Raises:
        CureError: no heading, or one that does not say.
    """
    place, headings = _heading(export, asked)
    above = export.first if place is None else place + 1
    between = [line for line in export.lines[above : export.first] if not line.comment]
    units: list[str] = []
    units_line = None
    for line in between:
        cells = export.cells(line)
        if units_line is None and cells is not None and is_units(cells):
            units, units_line = cells, line.number
        else:
            raise input_error(f"line {line.number}", f'"{line.text.strip()[:80]}"',
                              "a row of units or of numbers under the heading", export.file)
    heading_line = None if place is None else export.lines[place].number
    while headings and not headings[-1]:
        headings.pop()
    if headings and len(headings) != export.width and not any("column" in one for one in asked.values()):
        _check_width(export, headings, heading_line or 0)
    units, date = with_moments(export.cells(export.lines[export.first]) or [], headings, units)
    found = columns_of(headings, units, export.width, asked, heading_line or 0, export.file)
    used = {column.place for column in found.values()} | ({date} if date is not None and found["time"].unit == MOMENT else set())
    return Layout(export, found, tuple(h for i, h in enumerate(headings) if h and i not in used), heading_line, units_line,
                  export.first if place is None else place, _footer(export, found), date)


def _check_width(export: Export, headings: Sequence[str], line: int) -> None:
    """Refuses rows that the headings do not fit: which number is under which heading would be a guess.

    Raises:
        CureError: they do not, except for an empty cell at the end of each row.
    """
    cells = export.cells(export.lines[export.first]) or []
    if len(headings) == len(cells) - 1 and not cells[-1]:
        return
    hint = ("; are there commas within numbers? Export with a semicolon between cells, or with decimal points"
            if export.delimiter == "," and len(cells) > len(headings) else "")
    raise input_error(f"line {export.lines[export.first].number}", f"{len(cells)} cells under {len(headings)} headings (line {line})",
                      f'a heading for each column{hint}; or "columns" of the run in the fit document, with "column" numbers', export.file)


def _heading(export: Export, asked: Mapping[str, Mapping[str, Any]]) -> tuple[int | None, list[str]]:
    """Index and cells of the heading: the last line above the rows that names two columns or more; also a comment.

    Raises:
        CureError: there is none, and no map that goes by numbers.
    """
    nearest: tuple[int, list[str]] | None = None
    if all("column" in asked.get(kind, {}) for kind in KINDS):
        return None, []
    for i in range(export.first - 1, -1, -1):
        line = export.lines[i]
        bare = Line(line.number, line.text.lstrip().lstrip("#")) if line.comment else line
        cells = _heading_cells(export, bare)
        if cells and kinds_named(cells, asked) > 1:
            return i, cells
        if nearest is None and cells and not line.comment and not is_units(cells) and len(cells) > 1:
            nearest = i, cells
    if nearest is not None and kinds_named(nearest[1], asked) > 0:
        return nearest
    row = export.lines[export.first]
    seen = f"; line {export.lines[nearest[0]].number} has {', '.join(map(repr, nearest[1][:6]))}" if nearest is not None else ""
    raise input_error("header", f"no heading with time, temperature and heat flow above line {row.number}, the first row of numbers{seen}",
                      'one such as "Time (min)", "Temperature (°C)", "Heat flow (mW)", or of the run in the fit document "columns": '
                      '{"time": {"column": 1, "unit": "min"}, …}', export.file)


def _heading_cells(export: Export, line: Line) -> list[str] | None:
    """Cells of a heading. Between blanks a name may have blanks itself: then two, a tab, or brackets part the cells."""
    if export.delimiter:
        return export.cells(line)
    text = line.text.strip()
    joined = re.sub(r"(?i)\b(heat|sample|reference|programme)\s+(?=flow|temp)", r"\1_", re.sub(r"\s+(?=[\[(/])|(?<=/)\s+", "", text))
    ways = [joined.split(), re.split(r"\s{2,}|\t", text), re.findall(r"[^\[\]()]+[\[(][^\])]*[\])]", text)]
    cells = next((way for way in ways if len(way) == export.width), ways[0])
    return [cell.strip() for cell in cells]


def _footer(export: Export, columns: Mapping[str, Column]) -> tuple[int, ...]:
    """Numbers of the lines after the last row; none where there is no row.

    A row has a time, or both other numbers: so one whose time is damaged is refused and not taken for a footer.
    """
    found = []
    for line in reversed(export.lines[export.first :]):
        cells = None if line.comment else export.cells(line)
        if cells is None and not line.comment:
            break
        has = [cells is not None and columns[kind].place < len(cells) and export.number(cells[columns[kind].place]) is not None
               for kind in KINDS]
        if has[0] or (has[1] and has[2]):
            break
        found.append(line.number)
    return () if len(found) == len(export.lines) - export.first else tuple(found[::-1])


def _left_out(layout: Layout) -> list[str]:
    said = []
    words = [line for line in layout.export.lines if line.number in layout.footer and not line.comment]
    unended = layout.export.unended
    if words:
        # What follows a footer belongs to it, whether or not its last line has an end.
        last = words[-1].number if unended is None else unended
        one = last == words[0].number
        said.append(f"{'Line' if one else 'Lines'} {words[0].number}{'' if one else f' to {last}'} after the last row "
                    f"{'is' if one else 'are'} no row{'' if one else 's'} of numbers (\"{words[0].text.strip()[:60]}\"); not used.")
    elif unended is not None:
        said.append(f"Line {unended}, the last one, has no line end: it may still be being written, and is not used.")
    return said


def understood(record: Record) -> list[tuple[str, str]]:
    """What was understood of a file, as headings and words: form, columns, rows, programme, what was left out.

    Raises:
        CureError: the record came from no file.
    """
    layout, time = record.layout, record.time
    if layout is None:
        raise input_error("record", "made in memory", "one that was read from a file")
    export = layout.export
    said = [("File", f"{export.encoding}, {export.delimiter_name} between cells, decimal "
             f"{'comma' if export.decimal == ',' else 'point'}")]
    for kind in KINDS:
        column, values = layout.columns[kind], getattr(record, kind)
        raw = (values - column.offset) / column.factor
        if kind == "time" and layout.moments:
            beside = "" if layout.date is None else f", dates in column {layout.date + 1}"
            said.append(("Time", f"column {column.place + 1} \"{column.heading}\"{beside}, {record.dated}, {raw.max():.6g} s"))
            continue
        said.append((kind.replace("_", " ").capitalize(), f"column {column.place + 1} \"{column.heading}\" in {column.unit}, "
                     f"{raw.min():.6g} to {raw.max():.6g}"))
    if layout.others:
        said.append(("Not used", ", ".join(f'"{other}"' for other in layout.others)))
    step = np.diff(time)
    said.append(("Rows", f"{len(time)}, every {np.median(step):.3g} s ({step.min():.3g} to {step.max():.3g} s)"))
    said.append(("Programme", programme(record)))
    where = "no heading" if layout.heading is None else f"heading in line {layout.heading}"
    where += f", units in line {layout.units}" if layout.units is not None else ""
    after = len(layout.footer) + (export.unended is not None)
    said.append(("Left out", f"{layout.preamble} line{'s' * (layout.preamble != 1)} before ({where}), {after} after the rows"))
    said += [("Note", text) for text in (*record.left_out, *([PROGRAMMED] if record.programmed else []))]
    return said


def _held(T: Array) -> float:
    """Share of a record that keeps to its middle temperature."""
    return float(np.mean(np.abs(T - float(np.median(T))) < HELD))


def steady_rate(time: Array, T: Array) -> float | None:
    """Slope of temperatures [K] over rising times [s], where those of the four quarters are within ``STEADY`` of each other [K/s].

    None where they are not, or where one temperature is held.
    """
    parts = np.array_split(np.arange(len(time)), 4)
    if len(parts[-1]) < 2 or _held(T) > 0.9:
        return None
    slopes = [float(np.polyfit(time[p] - time[p[0]], T[p], 1)[0]) for p in parts]
    return float(np.polyfit(time - time[0], T, 1)[0]) if np.ptp(slopes) <= STEADY * max(abs(s) for s in slopes) else None


def programme(record: Record) -> str:
    """Ramp or isothermal, by the temperatures."""
    time, T = record.time, record.temperature
    if np.any(np.diff(time) <= 0.0):
        row = int(np.argmax(np.diff(time) <= 0.0))
        return f"times do not rise after {time[row]:g} s: a fit refuses this record"
    middle = float(np.median(T))
    if _held(T) > 0.9:
        return f"isothermal at {middle - ZERO_CELSIUS:.1f} °C"
    rate = steady_rate(time, T)
    over = f"from {T[0] - ZERO_CELSIUS:.1f} to {T[-1] - ZERO_CELSIUS:.1f} °C"
    if rate is not None:
        return f"heating rate {60.0 * rate:.3g} K/min, {over}"
    if _held(T) > 0.5:
        return f"isothermal at {middle - ZERO_CELSIUS:.1f} °C for most of the time, {over}"
    return f"neither one ramp nor one temperature, {over}: cut the record into one programme a file"
