"""What people write down at a job: who, when by the clock, what batch, with what instruments. Read strictly, kept as it is."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure.documents import filled, read_object
from libcure.documents.csv_table import read_table
from libcure.documents.part import Part
from libcure.errors import input_error
from libcure.job.said import clock

__all__ = ["EVENTS", "TEXTS", "Pressure", "Site", "load_site", "read_site"]

EVENTS = {"mixed": "Mixed", "in_place": "In place", "inflated": "Inflated", "released": "Bladder let down"}
"""What happens at a job, in this order, each with a time of day."""
TEXTS = {
    "job": "Job", "place": "Place", "client": "Client", "crew": "Crew", "pipe": "Pipe and defect", "resin_batch": "Resin, batch",
    "hardener_batch": "Hardener, batch", "ratio": "Mixing ratio", "mixed_mass": "Mass mixed", "instruments": "Instruments", "remarks": "Remarks",
}  # fmt: skip
"""What else may be written down, with its heading."""
LONGEST = 2000  # letters of a text
DAY = 1440.0


@dataclass(frozen=True)
class Pressure:
    """Pressure in the bladder as a gauge showed it."""

    time_min: NDArray[np.float64]
    """(n,) from mixing [min]."""
    pressure_bar: NDArray[np.float64]
    """(n,) above the air's [bar]."""


@dataclass(frozen=True)
class Site:
    """A document ``libcure/site/1``, understood."""

    document: Mapping[str, Any]
    day: date
    events: Mapping[str, float]
    """From mixing [min]; an event without a time of day is missing."""
    mixed_at: float | None
    """After midnight [min]."""
    texts: Mapping[str, str]
    decisions: tuple[str, ...]
    pressure: Pressure | None


def read_site(document: Mapping[str, Any], file: str, beside: Path) -> Site:
    """Reads what was written down.

    Args:
        document: ``libcure/site/1``.
        file: its name, for messages.
        beside: folder that the pressure log is named from.

    Raises:
        CureError: a key, a time, or a text that cannot be, or events out of order.
    """
    f = Part(filled("site", document, file), "", file)
    try:
        when = date.fromisoformat(f["date"])
    except ValueError:
        raise f.refuse("date", f["date"], "a date such as 2026-02-03") from None
    texts = {key: _text(f, key) for key in TEXTS if key in f}
    decisions = tuple(f.get("decisions", ()))
    moments = _events(f.part("events"))
    name = f.get("pressure")
    pressure = None if name is None else _pressure(beside / name)
    mixed = moments.get("mixed")
    events = {} if mixed is None else {key: t - mixed for key, t in moments.items()}
    return Site(document, when, events, mixed, texts, decisions, pressure)


def _text(f: Part, key: str) -> str:
    text: str = f[key]
    if len(text) > LONGEST:
        raise f.refuse_words(key, f"{len(text)} letters", f"at most {LONGEST}")
    return text


def _events(e: Part) -> dict[str, float]:
    """Moments after midnight of the day of mixing [min], each at or after the one before."""
    found: dict[str, float] = {}
    for key in EVENTS:
        if key not in e:
            continue
        text = e[key]
        moment = clock(text)
        if moment is None:
            raise e.refuse(key, text, "a time of day such as 9:12")
        last = max(found.values(), default=moment)
        # Past midnight; more than half a day back is the next day, less is a slip.
        while moment < last - DAY / 2.0:
            moment += DAY
        if moment < last:
            raise e.refuse(key, text, "at or after what came before it: " + ", ".join(found))
        found[key] = moment
    if found and "mixed" not in found:
        raise e.refuse_words("mixed", "missing", "a time of day such as 9:12, for the others count from it")
    return found


def _pressure(path: Path) -> Pressure:
    table = read_table(path, "a heading time_min,pressure_bar and rows of numbers")
    columns = []
    for key in ("time_min", "pressure_bar"):
        if key not in table.heading:
            raise input_error("heading", ", ".join(table.heading), "time_min and pressure_bar", str(path))
        column = table.heading.index(key)
        columns.append(np.array([table.number(row, column) for row in range(len(table.rows))]))
    good = np.isfinite(columns[0]) & np.isfinite(columns[1])
    if good.sum() < 2:
        raise input_error("rows", f"{int(good.sum())} of numbers", "2 or more", str(path))
    return Pressure(columns[0][good], columns[1][good])


def load_site(path: Path) -> Site:
    """Reads a file ``libcure/site/1``.

    Raises:
        CureError: as :func:`read_site`, or it cannot be read.
    """
    return read_site(read_object(path), str(path), path.parent)
