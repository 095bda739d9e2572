"""What people say of temperatures, lengths, times and the time of day, turned into numbers by the core."""

from __future__ import annotations

from libcure import _core

__all__ = ["clock", "clock_words", "length_mm", "minutes", "temperature_C", "unknown"]


def unknown(text: str) -> bool:
    """Whether an answer says that it is not known."""
    return _core.said_unknown(text)


def temperature_C(text: str, unit: str) -> tuple[float, bool] | None:
    """A temperature [°C], and whether its unit was said; None when it is none.

    Args:
        text: such as ``16``, ``16 °C``, ``61F``; a comma counts as a point.
        unit: ``C`` or ``F``, of a number without one.
    """
    return _core.said_temperature(text, unit)


def length_mm(text: str, unit: str) -> tuple[float, bool] | None:
    """A length [mm], and whether its unit was said; None when it is none.

    Args:
        text: such as ``150``, ``150 mm``, ``6 in``, ``6"``, ``1,4 m``.
        unit: ``mm``, ``m``, ``in`` or ``ft``, of a number without one.
    """
    return _core.said_length(text, unit)


def minutes(text: str) -> float | None:
    """A duration [min]: ``14``, ``14 min``, ``1:20``, ``1 h 20``; None when it is none."""
    return _core.said_minutes(text)


def clock(text: str) -> float | None:
    """A time of day [min after midnight]: ``9:12``, ``09.12``, ``2:05 pm``; None when it is none."""
    return _core.said_clock(text)


def clock_words(moment: float, *, up: bool) -> str:
    """A moment [min after midnight of the day of mixing] as ``14:07``, ``03:10 next day``, ``03:10, 2 days later``.

    Args:
        up: round up, for what must be waited for; else down, for what ends.
    """
    return _core.clock_words(moment, up)
