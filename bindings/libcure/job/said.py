"""What people say of temperatures, lengths, times and the time of day, turned into numbers."""

from __future__ import annotations

import re

from libcure.words.rounding import whole

__all__ = ["clock", "clock_words", "length_mm", "minutes", "temperature_C", "unknown"]

NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)"
_TEMPERATURE = re.compile(rf"({NUMBER})\s*(?:°|deg(?:rees)?\.?)?\s*([cf])?[a-z]*", re.IGNORECASE)
_LENGTH = re.compile(rf"({NUMBER})\s*(mm|cm|m|metres?|meters?|in|inch|inches|\"|ft|feet|foot|')?", re.IGNORECASE)
_CLOCK = re.compile(r"(\d{1,2})\s*[:.h]\s*(\d{2})\s*(am|pm)?", re.IGNORECASE)
_HOURS = re.compile(r"(\d+)\s*(?::|h|hours?)\s*(\d{1,2})?\s*(?:min)?", re.IGNORECASE)
_MINUTES = re.compile(rf"({NUMBER})\s*(?:min(?:utes?)?|')?", re.IGNORECASE)
_MILLIMETRES = {"mm": 1.0, "cm": 10.0, "m": 1e3, "in": 25.4, '"': 25.4, "f": 304.8, "'": 304.8}
DAY = 1440.0  # min


def unknown(text: str) -> bool:
    """Whether an answer says that it is not known."""
    return re.sub(r"[\s'’.]", "", text.lower()) in ("", "?", "dontknow", "donotknow", "unknown", "noidea", "notknown")


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def temperature_C(text: str, unit: str) -> tuple[float, bool] | None:
    """A temperature [°C], and whether its unit was said; None when it is none.

    Args:
        text: such as ``16``, ``16 °C``, ``61F``; a comma counts as a point.
        unit: ``C`` or ``F``, of a number without one.
    """
    found = _TEMPERATURE.fullmatch(text.strip())
    if found is None:
        return None
    value, said = _number(found[1]), (found[2] or unit).upper()
    return (value if said == "C" else (value - 32.0) / 1.8), found[2] is not None


def length_mm(text: str, unit: str) -> tuple[float, bool] | None:
    """A length [mm], and whether its unit was said; None when it is none.

    Args:
        text: such as ``150``, ``150 mm``, ``6 in``, ``6"``, ``1,4 m``.
        unit: ``mm``, ``m``, ``in`` or ``ft``, of a number without one.
    """
    found = _LENGTH.fullmatch(text.strip())
    if found is None:
        return None
    said = (found[2] or unit).lower()
    key = next(k for k in ("mm", "cm", "in", '"', "f", "'", "m") if said.startswith(k))
    return _number(found[1]) * _MILLIMETRES[key], found[2] is not None


def minutes(text: str) -> float | None:
    """A duration [min]: ``14``, ``14 min``, ``1:20``, ``1 h 20``; None when it is none."""
    text = text.strip()
    if found := _HOURS.fullmatch(text):
        rest = int(found[2] or 0)
        return 60.0 * int(found[1]) + rest if rest < 60 else None
    found = _MINUTES.fullmatch(text)
    return None if found is None else _number(found[1])


def clock(text: str) -> float | None:
    """A time of day [min after midnight]: ``9:12``, ``09.12``, ``2:05 pm``; None when it is none."""
    found = _CLOCK.fullmatch(text.strip())
    if found is None:
        return None
    hour, minute, half = int(found[1]), int(found[2]), (found[3] or "").lower()
    if half:
        if not 1 <= hour <= 12:
            return None
        hour = hour % 12 + (12 if half == "pm" else 0)
    return 60.0 * hour + minute if hour < 24 and minute < 60 else None


def clock_words(moment: float, *, up: bool) -> str:
    """A moment [min after midnight of the day of mixing] as ``14:07``, ``03:10 next day``, ``03:10, 2 days later``.

    Args:
        up: round up, for what must be waited for; else down, for what ends.
    """
    days, rest = divmod(whole(moment, up=up), int(DAY))
    time = f"{rest // 60:02d}:{rest % 60:02d}"
    if days == 0:
        return time
    return f"{time} next day" if days == 1 else f"{time}, {days} days later"
