"""The unit that each path of a case has, by the end of its key, and what a chart may write beside its values."""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from libcure.documents.quantities import unit_of_key

__all__ = ["contradictions", "converted", "kind_words", "other_units", "same_unit", "stated", "unit_of"]

# Of those that keys have, as a sheet shows them; an axis of others has no unit.
_SHOWN = {
    "W / m**2 / kelvin": "W/(m² K)",
    "m**2 * kelvin / W": "m² K/W",
    "W / m**2": "W/m²",
    "kelvin / minute": "K/min",
    "m / s": "m/s",
    "mm": "mm",
    "m**2": "m²",
    "kg": "kg",
    "minute": "min",
    "bar": "bar",
    "degC": "°C",
    "kelvin": "K",
    "m": "m",
}
# Units of one kind: [of the first] = factor x [of this one] + offset. Exact by definition (NIST SP 811, 2008, app. B).
_KINDS: tuple[dict[str, tuple[float, float]], ...] = (
    {"°C": (1.0, 0.0), "°F": (5.0 / 9.0, -160.0 / 9.0)},
    {"mm": (1.0, 0.0), "cm": (10.0, 0.0), "m": (1000.0, 0.0), "in": (25.4, 0.0), "ft": (304.8, 0.0)},
    {"min": (1.0, 0.0), "s": (1.0 / 60.0, 0.0), "h": (60.0, 0.0)},
    {"kg": (1.0, 0.0), "g": (1e-3, 0.0), "lb": (0.45359237, 0.0)},
    {"m²": (1.0, 0.0), "ft²": (0.09290304, 0.0)},
    {"m/s": (1.0, 0.0), "km/h": (1.0 / 3.6, 0.0), "mph": (0.44704, 0.0)},
)
_SPELT = {"celsius": "°C", "fahrenheit": "°F", "kelvin": "K", "inch": "in", "inches": "in", '"': "in", "hours": "h", "feet": "ft", "lbs": "lb"}
_WORDS = r"°\s?[CFK]\b|\b(?:celsius|fahrenheit|kelvin|inch(?:es)?|hours)\b"
_AFTER_NUMBER = rf"{_WORDS}|\b(?:[CFKhsm]|in|min|mm|cm|bar|kg)\b|\""


def unit_of(path: str) -> str:
    """The unit of the values at a path of a case; empty for words and pure numbers."""
    return _SHOWN.get(unit_of_key(path), "")


def same_unit(one: str, other: str) -> bool:
    """Whether two texts are the same unit, whatever spaces, brackets and raised digits they have."""
    return _plain(one) == _plain(other)


def contradictions(words: str, unit: str, value: float) -> Iterator[str]:
    """What in a label of ``value`` [unit] says another unit or another number."""
    number = re.match(r"\s*([-+−]?\d+(?:[.,]\d+)?)\s*(.*)", words)
    if number is None:
        yield from other_units(words, unit)
        return
    digits = number[1].replace("−", "-").replace(",", ".")
    decimals = len(digits.partition(".")[2])
    if abs(float(digits) - value) > 0.5 * 10.0**-decimals * (1.0 + 1e-9):
        yield number[1]
    found = re.match(_AFTER_NUMBER, number[2], re.IGNORECASE)
    if found is not None and not same_unit(found[0], unit):
        yield found[0]


def other_units(words: str, unit: str) -> Iterator[str]:
    """Units that words name and that are not ``unit``."""
    for found in re.finditer(_WORDS, words, re.IGNORECASE):
        if not same_unit(found[0], unit):
            yield found[0]


def _plain(unit: str) -> str:
    bare = re.sub(r"[\s()·*.]", "", unit).replace("²", "2")
    bare = _SPELT.get(bare.lower(), bare)
    return {"C": "°C", "degC": "°C", "F": "°F", "degF": "°F"}.get(bare, bare)


def _kind(unit: str) -> dict[str, tuple[float, float]]:
    return next((kind for kind in _KINDS if any(same_unit(unit, name) for name in kind)), {unit: (1.0, 0.0)})


def kind_words(unit: str) -> str:
    """The units that a value in ``unit`` may be given in."""
    return " or ".join(_kind(unit))


def converted(value: float, given: str, wanted: str) -> float | None:
    """A value in another unit of the same kind; None where there is no way from one to the other."""
    if same_unit(given, wanted):
        return value
    kind = {_plain(name): line for name, line in _kind(wanted).items()}
    if _plain(given) not in kind or _plain(wanted) not in kind:
        return None
    (a, b), (c, d) = kind[_plain(given)], kind[_plain(wanted)]
    # The digits that nobody gave go: 50 °F is 10 °C.
    return float(f"{(a * value + b - d) / c:.12g}") + 0.0


def stated(value: Any, unit: str) -> tuple[float, str] | None:
    """Number and unit of a text such as ``82 °F`` for a place that has a unit; None for any other value."""
    if not unit or not isinstance(value, str):
        return None
    found = re.fullmatch(r'\s*([-+−]?\d+(?:\.\d+)?)\s*([°"A-Za-z].*?)\s*', value)
    return (float(found[1].replace("−", "-")), found[2]) if found is not None else None
