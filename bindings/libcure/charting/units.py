"""The unit that each path of a case has, by the end of its key, and what a chart may write beside its values."""

from __future__ import annotations

import re
from collections.abc import Iterator

__all__ = ["contradictions", "other_units", "same_unit", "unit_of"]

# Longer endings first.
_UNITS = {
    "W_m2K": "W/(m² K)",
    "m2K_W": "m² K/W",
    "W_m2": "W/m²",
    "K_min": "K/min",
    "m_s": "m/s",
    "mm": "mm",
    "m2": "m²",
    "kg": "kg",
    "min": "min",
    "bar": "bar",
    "C": "°C",
    "K": "K",
    "m": "m",
}
# Keys that end like a unit and have none.
_NUMBERS = ("alpha_min",)
_SPELT = {"celsius": "°C", "fahrenheit": "°F", "kelvin": "K", "inch": "in", "inches": "in", '"': "in", "hours": "h"}
_WORDS = r"°\s?[CFK]\b|\b(?:celsius|fahrenheit|kelvin|inch(?:es)?|hours)\b"
_AFTER_NUMBER = rf"{_WORDS}|\b(?:[CFKhsm]|in|min|mm|cm|bar|kg)\b|\""


def unit_of(path: str) -> str:
    """The unit of the values at a path of a case; empty for words and pure numbers."""
    keys = re.sub(r"\[\d+\]", "", path).split(".")
    # initial_temperature_C.pipe: the unit may stand in the object's key.
    for key in reversed(keys[-2:]):
        if key in _NUMBERS:
            return ""
        for end, unit in _UNITS.items():
            if key.endswith(f"_{end}"):
                return unit
    return ""


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
    return {"C": "°C", "degC": "°C"}.get(bare, bare)
