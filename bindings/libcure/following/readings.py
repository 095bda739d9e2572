"""Readings of a thermocouple in the wall, as a logger wrote them."""

from __future__ import annotations

import os
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core
from libcure.documents import read_text, shown
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


def read_readings(path: str | os.PathLike[str]) -> Readings:
    """Readings from a CSV file with a heading such as ``time_min,temperature_C``.

    Times count from mixing, in s, min or h; temperatures are in C, F or K. Comma, semicolon or tab between cells;
    with the latter two a decimal comma is understood. Lines that begin with ``#`` are comments, other columns are
    left alone. A cell that is empty or no number is a missing reading, not an error: loggers write such. A line that
    cannot be read, and a last one without a line end, are left out and said.

    Raises:
        CureError: it cannot be read, a column or its unit is missing or unknown, or no row holds a number.
    """
    name = shown(path)
    time, temperature, left_out = _core.parse_readings(read_text(path), name)
    return Readings(time, temperature, name, tuple(left_out))
