"""Which column of an export is time, temperature and heat flow, and in which unit: headings in words of several languages."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from libcure.errors import input_error
from libcure.fitting.moments import MOMENT, date_alone, is_moment, time_alone

__all__ = ["CLOCKS", "KINDS", "Column", "by_the_clock", "columns_of", "is_units", "kinds_named", "normal_unit", "with_moments"]

ZERO_CELSIUS = 273.15
KINDS = ("time", "temperature", "heat_flow")
_EXAMPLE = {"time": "Time (min)", "temperature": "Temperature (°C)", "heat_flow": "Heat flow (mW)"}
# Common words of the trade, no source. Without accents, in small letters, blanks for anything between words; in the order
# in which they are preferred: what the sample had goes before what was programmed.
_NAMES: Mapping[str, Sequence[set[str]]] = {
    "time": [
        {"time", "t", "zeit", "temps", "tiempo", "tempo", "elapsed time", "run time", "test time", "total time", "czas", "tijd"},
        {"date", "datum", "fecha", "data",
         "date/time", "date time", "datetime", "date and time", "time stamp", "timestamp", "time of day", "clock time", "datum/zeit", "datum zeit",
         "datum/uhrzeit", "datum uhrzeit", "datum und uhrzeit", "uhrzeit", "zeitstempel", "date/heure", "date heure", "date et heure", "heure",
         "horodatage", "fecha/hora", "fecha hora", "fecha y hora", "hora", "data/ora", "data ora", "data e ora", "ora"},
    ],
    "temperature": [
        {"sample temperature", "sample temp", "temperature sample", "temp sample", "ts", "t s", "t sample", "tsample", "probentemperatur", "probentemp",
         "temperature echantillon", "temperature de l'echantillon", "temperatura de muestra", "temperatura de la muestra",
         "temperatura campione", "temperatura del campione"},
        {"temperature", "temp", "t", "temperatur", "temperatura", "temperatuur"},
        {"reference temperature", "reference temp", "tr", "t r", "t ref", "tref", "referenztemperatur", "temperature de reference",
         "temperatura de referencia", "temperatura di riferimento"},
        {"programme temperature", "program temperature", "programmed temperature", "programme temp", "program temp", "set temperature",
         "setpoint", "furnace temperature", "oven temperature", "programmtemperatur", "ofentemperatur", "temperature programmee",
         "temperature de consigne", "temperatura programada"},
    ],
    "heat_flow": [{"heat flow", "heatflow", "hf", "dsc", "dsc signal", "heat flow rate", "warmestrom", "waermestrom", "warmefluss",
                   "flux de chaleur", "flux thermique", "flujo de calor", "flusso di calore", "flusso termico", "warmtestroom"}],
}
PROGRAMMED = 2
"""Rank of temperatures from which they are not of the sample."""
_QUALIFIERS = re.compile(r"\b(?:normali[sz]ed|norm|corrected|corr|measured|(?:exo|endo)(?:therm(?:ic|al|e|ico)?)?"
                         r"(?: (?:up|down|oben|unten|auf|ab|vers le haut|vers le bas|haut|bas|arriba|abajo|su|giu))?)\b")
CLOCKS = ("hh:mm:ss", "h:mm:ss", "h:m:s")
"""Units of times by the clock, whose cells are read in seconds."""
_UNITS: Mapping[str, Mapping[str, tuple[float, float]]] = {
    "time": {**dict.fromkeys(("s", "sec", "secs", "second", "seconds", "sek", "sekunden"), (1.0, 0.0)),
             **dict.fromkeys(("min", "mins", "minute", "minutes", "minuten", "minutos", "minuti"), (60.0, 0.0)),
             **dict.fromkeys(("h", "hr", "hrs", "hour", "hours"), (3600.0, 0.0)),
             **dict.fromkeys((*CLOCKS, MOMENT.replace(" ", "")), (1.0, 0.0))},
    "temperature": {**dict.fromkeys(("°c", "c", "degc", "celsius"), (1.0, ZERO_CELSIUS)),
                    **dict.fromkeys(("k", "kelvin"), (1.0, 0.0)),
                    **dict.fromkeys(("°f", "f", "degf", "fahrenheit"), (5.0 / 9.0, ZERO_CELSIUS - 160.0 / 9.0))},
}
_HEAT = {"w": "W", "mw": "mW", "uw": "uW", "w/g": "W/g", "mw/mg": "mW/mg", "w/kg": "W/kg", "mw/g": "W/kg", "uw/mg": "W/kg"}
_ALLOWED = {"time": f's, min, h or hh:mm:ss, or "{MOMENT}"', "temperature": "°C, K or °F", "heat_flow": "W, mW, uW, W/g, mW/mg or W/kg"}


@dataclass(frozen=True)
class Column:
    """A column that is used."""

    place: int
    """From 0."""
    heading: str
    """As it stands in the file; ``column 1`` where it has none."""
    unit: str
    """As it stands there, or as the map has it."""
    factor: float
    offset: float
    """SI is ``factor`` times the number and ``offset``; 1 and 0 for a heat flow, which keeps its unit."""
    programmed: bool = False
    """A temperature of programme or reference, by its heading, and not of the sample."""


@dataclass(frozen=True)
class _Named:
    place: int
    rank: int
    unit: str
    known: bool


def normal_unit(unit: str) -> str:
    """A unit in small letters and one spelling: ``µW`` is ``uw``, ``W·g⁻¹`` is ``w/g``, ``deg C`` is ``degc``."""
    plain = unit.strip().strip("[](){}<>").strip().lower()
    for one, other in (("º", "°"), ("˚", "°"), ("µ", "u"), ("μ", "u"), ("⁻¹", "-1"), ("degrees", "deg"), ("degree", "deg"), ("deg.", "deg")):
        plain = plain.replace(one, other)
    plain = re.sub(r"[\s·*^_]+", " ", plain).strip()
    plain = re.sub(r"^(\w+) ?(m?g|kg) ?-1$", r"\1/\2", plain)
    plain = re.sub(r"^(\w+) (m?g|kg)$", r"\1/\2", plain)
    return plain.replace(" ", "").rstrip(".")


def by_the_clock(unit: str) -> bool:
    """Whether times in this unit are written as clocks, with a date or without."""
    return normal_unit(unit) in (*CLOCKS, normal_unit(MOMENT))


def with_moments(cells: Sequence[str], headings: Sequence[str], units: Sequence[str]) -> tuple[list[str], int | None]:
    """Units by column, where those of moments are known by a row's cells, and which column has the dates of times of day.

    A heading or a row of units that states a unit is believed.
    """
    found = [units[i] if i < len(units) else "" for i in range(len(cells))]
    dates = [i for i, cell in enumerate(cells) if date_alone(cell)]
    date = dates[0] if len(dates) == 1 else None
    clocks = [i for i, cell in enumerate(cells) if date is not None and time_alone(cell)]
    near = [i for i in clocks if date is not None and i == date + 1] or clocks
    for i, cell in enumerate(cells):
        stated = found[i] or any(_known("time", unit) for _, unit, _ in (_splits(headings[i]) if i < len(headings) else []) if unit)
        if not stated and (is_moment(cell) or i in near[:1]):
            found[i] = MOMENT
    return found, date


def _known(kind: str, unit: str) -> bool:
    return normal_unit(unit) in (_HEAT if kind == "heat_flow" else _UNITS[kind])


def is_units(cells: Sequence[str]) -> bool:
    """Whether a line is a row of units: two units of time, temperature or heat flow among its cells, or more."""
    return sum(any(_known(kind, cell) for kind in KINDS) for cell in cells) > 1


def _plain(name: str) -> str:
    folded = unicodedata.normalize("NFKD", name.replace("ß", "ss"))
    small = "".join(c for c in folded if not unicodedata.combining(c)).lower()
    words = re.sub(r"[\s_.,:;#()\[\]-]+", " ", small)
    return re.sub(r"\s+", " ", _QUALIFIERS.sub(" ", words)).strip()


def _splits(cell: str) -> list[tuple[str, str, bool]]:
    """Ways to part a heading into name and unit, each with whether it surely is one; the whole as a name comes last."""
    whole = cell.strip()
    found = []
    for pattern in (r"(.+?)[\s_,/]*[\[({<]([^\[\](){}<>]*(?:\([^()]*\))?[^\[\](){}<>]*)[\])}>]", r"([^/]+?)\s*/\s*(.+)"):
        match = re.fullmatch(pattern, whole)
        if match is not None:
            found.append((match[1], match[2].strip(), True))
    for gap in re.finditer(r"[\s_,:]+(?:in\s+)?", whole):
        found.append((whole[: gap.start()], whole[gap.end() :], len(whole) - gap.end() <= 3))
    return [*found, (whole, "", True)]


def _named(kind: str, cell: str, below: str) -> tuple[int, str, bool] | None:
    """Rank of a heading's name, its unit and whether that is known; None where it names another thing.

    Args:
        below: what a row of units has under it; empty where there is none.
    """
    poor: tuple[int, str, bool] | None = None
    for name, unit, sure in _splits(cell):
        rank = next((r for r, names in enumerate(_NAMES[kind]) if _plain(name) in names), None)
        if rank is None:
            continue
        if _known(kind, unit or below):
            return rank, unit or below, True
        if not unit or (sure and poor is None):
            poor = rank, unit or below, False
    return poor


def _all_named(headings: Sequence[str], units: Sequence[str]) -> dict[str, list[_Named]]:
    """Columns by what they name. A letter that may be time or temperature is what its unit says."""
    found: dict[str, list[_Named]] = {kind: [] for kind in KINDS}
    for place, cell in enumerate(headings):
        below = units[place] if place < len(units) else ""
        named = {kind: one for kind in KINDS if (one := _named(kind, cell, below)) is not None}
        sure = {kind: one for kind, one in named.items() if one[2]}
        if len(named) > 1 and not sure:
            small = cell.strip()[:1].islower()
            sure = {"time" if small else "temperature": named["time" if small else "temperature"]}
        for kind, (rank, unit, known) in (sure or named).items():
            found[kind].append(_Named(place, rank, unit, known))
    return found


def kinds_named(headings: Sequence[str], asked: Mapping[str, Mapping[str, Any]]) -> int:
    """How many of time, temperature and heat flow a line names, by known words or by those of a map."""
    named = _all_named(headings, [])
    return sum(bool(named[kind]) or asked.get(kind, {}).get("heading") in headings for kind in KINDS)


def columns_of(headings: Sequence[str], units: Sequence[str], width: int, asked: Mapping[str, Mapping[str, Any]],
               line: int, file: str) -> dict[str, Column]:
    """The three columns.

    Args:
        headings: empty where the file has none. units: cells of a row of units; empty where there is none.
        width: cells of a row.
        asked: the map of the fit document, for what is not to be found: by kind ``heading`` or ``column`` and ``unit``.
        line: number of the heading in the file.

    Raises:
        CureError: a column or its unit is missing, unknown or named twice.
    """
    named = _all_named(headings, units)
    found = {kind: _asked(kind, asked[kind], headings, units, width, file) for kind in KINDS if kind in asked}
    taken = {column.place for column in found.values()}
    for kind in KINDS:
        if kind not in found:
            found[kind] = _found(kind, [one for one in named[kind] if one.place not in taken], headings, line, file)
    by_place: dict[int, str] = {}
    for kind, column in found.items():
        other = by_place.setdefault(column.place, kind)
        if other != kind:
            raise input_error("columns", f"column {column.place + 1} is {other} and {kind}", "a column for each", file)
    return found


def _said(kind: str, heading: str) -> str:
    """How a document names a column."""
    return f'"columns": {{"{kind}": {{"heading": "{heading}", "unit": "…"}}}} of the run in the fit document'


def _found(kind: str, found: Sequence[_Named], headings: Sequence[str], line: int, file: str) -> Column:
    words = kind.replace("_", " ")
    if not found:
        raise input_error(f"header in line {line}", f"no column for {words} among {', '.join(repr(h) for h in headings if h)}",
                          f'a heading such as "{_EXAMPLE[kind]}", or {_said(kind, "its heading")}', file)
    best = [one for one in found if one.rank == min(other.rank for other in found)]
    best = [one for one in best if one.known] or best
    if len(best) > 1:
        raise input_error(f"header in line {line}", f"{words} named {len(best)} times: "
                          + " and ".join(f"column {one.place + 1} {headings[one.place]!r}" for one in best),
                          f'the one to use, as "columns": {{"{kind}": {{"column": {best[0].place + 1}, "unit": "…"}}}} of the run '
                          "in the fit document", file)
    (one,) = best
    where = f"line {line}, column {one.place + 1} {headings[one.place]!r}"
    if not one.known:
        raise input_error(where, f'unit "{one.unit}"' if one.unit else "no unit",
                          f'one of {_ALLOWED[kind]}, as in "{_EXAMPLE[kind]}" or in a row of units below, or '
                          f"{_said(kind, headings[one.place])}", file)
    return replace(_column(kind, one.place, headings[one.place], one.unit), programmed=kind == "temperature" and one.rank >= PROGRAMMED)


def _asked(kind: str, asked: Mapping[str, Any], headings: Sequence[str], units: Sequence[str], width: int, file: str) -> Column:
    if "column" in asked:
        place = int(asked["column"]) - 1
        if place >= width:
            raise input_error(f"columns.{kind}.column", str(place + 1), f"1 to {width}, the columns of the file", file)
    else:
        places = [i for i, heading in enumerate(headings) if heading == asked["heading"]]
        if len(places) != 1:
            there = ", ".join(repr(h) for h in headings if h)
            raise input_error(f"columns.{kind}.heading", f'"{asked["heading"]}", ' + ("twice in the file" if places else "not in the file"),
                              f'"column" with its number, from 1, or one of {there}' if there else '"column" with its number, from 1', file)
        (place,) = places
    heading = headings[place] if place < len(headings) and headings[place] else f"column {place + 1}"
    unit = asked.get("unit")
    if unit is None:
        given = next((one for one in (u for _, u, _ in _splits(heading)) if one and _known(kind, one)), "")
        unit = given or (units[place] if place < len(units) else "")
    if not _known(kind, unit):
        raise input_error(f"columns.{kind}.unit", f'"{unit}"' if unit else "missing", f"one of {_ALLOWED[kind]}", file)
    return _column(kind, place, heading, unit)


def _column(kind: str, place: int, heading: str, unit: str) -> Column:
    if kind == "heat_flow":
        return Column(place, heading, _HEAT[normal_unit(unit)], 1.0, 0.0)
    return Column(place, heading, unit.strip("[]() "), *_UNITS[kind][normal_unit(unit)])
