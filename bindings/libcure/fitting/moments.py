"""Times that an export has as moments: date and time of day in one cell, or in two."""

from __future__ import annotations

import re
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.errors import input_error

__all__ = ["MOMENT", "date_alone", "is_moment", "since_the_first", "time_alone"]

Array = NDArray[np.float64]
MOMENT = "date and time"
"""The unit of such times."""
DAY = 86400.0  # s
ORDERS = ("year-month-day", "day-month-year", "month-day-year")
"""As ``_core.stamp`` has them."""
_DOTS = re.compile(r"\s*\d+\.\d+\.")  # dates with dots begin with the day, or with a year of four digits; common practice, no source
_HOLDS_ONE = re.compile(r"\d[./:-]\d")  # for speed


def _stamp(cell: str) -> tuple[tuple[float | None, float | None, float | None] | None, float | None] | None:
    return _core.stamp(cell) if _HOLDS_ONE.search(cell) else None


def is_moment(cell: str) -> bool:
    """Whether a cell has a date and a time of day."""
    found = _stamp(cell)
    return found is not None and found[0] is not None and found[1] is not None


def date_alone(cell: str) -> bool:
    found = _stamp(cell)
    return found is not None and found[0] is not None and found[1] is None and any(day is not None for day in found[0])


def time_alone(cell: str) -> bool:
    found = _stamp(cell)
    return found is not None and found[0] is None


def since_the_first(cells: Sequence[str], lines: Sequence[int], file: str) -> tuple[Array, str]:
    """Times from that of the first row on [s], and the order of the dates in words.

    Orders that are open to a cell are settled by any other cell, by times that would fall, or do not matter where all rows are of one day.

    Args:
        cells: date and time of each row. lines: their numbers in the file.

    Raises:
        CureError: a cell is no moment, or day and month could be either.
    """
    days, clock = np.full((len(cells), len(ORDERS)), np.nan), np.empty(len(cells))
    for i, (cell, line) in enumerate(zip(cells, lines, strict=True)):
        found = _stamp(cell)
        if found is None or found[0] is None or found[1] is None:
            raise input_error(f"line {line}, time", f'"{cell}"', "a date with a time of day, such as 2026-11-29 07:28:48 or 29.11.2026 07:28:48", file)
        days[i] = [np.nan if day is None else day for day in found[0]]
        if _DOTS.match(cell):
            days[i, 2 if np.isnan(days[i, 1]) else [0, 2]] = np.nan
        clock[i] = found[1]
    able = [k for k in range(len(ORDERS)) if np.isfinite(days[:, k]).all()]
    if not able:
        row = next((i for i in range(len(cells)) if not np.isfinite(days[i]).any()), int(np.argmax(~np.isfinite(days).all(axis=1))))
        raise input_error(f"line {lines[row]}, time", f'"{cells[row]}"', "a date that there is, in the order of the other rows", file)
    times = {k: DAY * (days[:, k] - days[0, k]) + clock - clock[0] for k in able}
    able = [k for k in able if np.all(np.diff(times[k]) > 0.0)] or able
    first = times[able[0]]
    for other in able[1:]:
        differ = np.flatnonzero(times[other] != first)
        if len(differ):
            row = int(differ[0])
            raise input_error(f"line {lines[row]}, time", f'"{cells[row]}" is {" or ".join(ORDERS[k] for k in able)}',
                              "dates such as 2026-11-29 or 29.11.2026, a record of one day, or one with a day above 12", file)
    return first, ORDERS[able[0]] if len(able) == 1 else "one day, so that its order does not matter"
