"""Quantities with a unit of their own, as pint makes them, where a plain number in a given unit is expected.

Whatever has ``magnitude``, ``units`` and ``to`` as pint's quantities do is taken; pint itself is not needed.
"""

from __future__ import annotations

import re
from typing import Any

from libcure.errors import input_error

__all__ = ["in_unit", "is_quantity", "unit_of_key"]

# Endings of keys, longer ones first, and their unit as pint reads it.
_UNITS = {
    "W_m2K": "W / m**2 / kelvin",
    "m2K_W": "m**2 * kelvin / W",
    "W_m2": "W / m**2",
    "K_min": "kelvin / minute",
    "m_s": "m / s",
    "hours": "hour",
    "mm": "mm",
    "m2": "m**2",
    "kg": "kg",
    "min": "minute",
    "bar": "bar",
    "C": "degC",
    "K": "kelvin",
    "N": "N",
    "m": "m",
}
# Keys that end like a unit, or stand in an object of one, and have none.
_NUMBERS = ("alpha_min", "clock")


def is_quantity(value: Any) -> bool:
    """Whether a value brings its unit."""
    return hasattr(value, "magnitude") and hasattr(value, "units") and hasattr(value, "to")


def unit_of_key(path: str) -> str:
    """The unit of what stands at a path of a document, by the end of its key or of its object's; empty for pure numbers."""
    keys = re.sub(r"\[\d+\]", "", path).split(".")
    for key in reversed(keys[-2:]):
        if key in _NUMBERS:
            return ""
        for end, unit in _UNITS.items():
            if key.endswith(f"_{end}"):
                return unit
    return ""


def in_unit(value: Any, unit: str, field: str, file: str = "", *, difference: bool | None = None) -> Any:
    """The number or array of numbers that a quantity has in a unit; anything else as it is.

    Args:
        value: a quantity, or what needs no conversion.
        unit: as pint reads it; empty for pure numbers.
        field, file: for messages.
        difference: whether kelvins are a difference, for which no degrees of a scale will do; left out, they are.

    Raises:
        CureError: a quantity of another kind.
    """
    if not is_quantity(value):
        return value
    allowed = f"a quantity that has the unit {unit}" if unit else "a pure number"
    try:
        number = value.to(unit or "dimensionless").magnitude
        offset = float(type(value)(0.0, value.units).to(unit or "dimensionless").magnitude) != 0.0
    except (TypeError, ValueError, AttributeError):
        raise input_error(field, str(value), allowed, file) from None
    absolute = unit == "degC" or (unit == "kelvin" and difference is False)
    if absolute and "delta" in str(value.units):
        raise input_error(field, str(value), "a temperature, not a difference of two", file)
    if offset and not absolute:
        raise input_error(field, str(value), "a difference of temperatures, such as delta_degC", file)
    # The digits that nobody gave go: 50 degF are 10 degC.
    if hasattr(number, "tolist"):
        number = number.tolist()
    return _rounded(number)


def _rounded(number: Any) -> Any:
    return [_rounded(one) for one in number] if isinstance(number, list) else float(f"{float(number):.12g}")
