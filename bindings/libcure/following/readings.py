"""Readings of a thermocouple in the wall, as a logger wrote them."""

from __future__ import annotations

import os
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core
from libcure.documents import read_bytes, shown
from libcure.errors import input_error

__all__ = ["Readings", "read_readings"]

Floats = NDArray[np.float64]
ZERO_CELSIUS = 273.15


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
        if time.size > _core.most_readings:
            raise input_error("readings", f"{time.size} readings", f"at most {_core.most_readings}")
        return cls(60.0 * time, temperature + ZERO_CELSIUS)

    def __len__(self) -> int:
        return self.time.size


def read_readings(path: str | os.PathLike[str], *, channel: str = "", mixed_at: str = "") -> Readings:
    """Readings from a CSV file as loggers write them, with a heading such as ``time_min,temperature_C``.

    Times count from mixing, in s, min or h, or as h:mm:ss under ``elapsed``; or they are times of day, with dates (ISO, d.m.y,
    d/m/y) or without, and ``mixed_at`` tells that of mixing. Temperatures are in C, F or K. Lines of the logger above the heading
    and other columns are left alone. UTF-8, UTF-16 or Latin-1; comma, semicolon or tab between cells; with the latter two a
    decimal comma is understood. Lines that begin with ``#`` are comments. A cell that is empty or no number is a missing
    reading, not an error: loggers write such. A line that cannot be read, and a last one without a line end, are left out and
    said.

    Args:
        path: the file.
        channel: title of the column of temperatures, a part of it, or its number among them from 1; needed where there are several.
        mixed_at: time of day of mixing by the logger's clock, such as ``22:30``, or with its date, ``2026-03-24 22:30``.

    Raises:
        CureError: it cannot be read, a column or its unit is missing or unknown, more than one may be meant, an option does
            not fit the file, or no row holds a number.
    """
    name = shown(path)
    time, temperature, left_out = _core.parse_readings(read_bytes(path), name, channel, mixed_at)
    return Readings(time, temperature, name, tuple(left_out))
