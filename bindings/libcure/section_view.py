"""A case's section in words: what differs round the pipe or along it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

__all__ = ["describe", "place"]


def describe(section: Mapping[str, Any]) -> str:
    """One line on the ``section`` of a case document."""
    around = section["kind"] == "around"
    parts = []
    thickness = section.get("liner_thickness_mm")
    if thickness is not None:
        parts.append("liner " + _range(thickness["value"], "mm"))
    if around:
        water = section.get("water")
        if water is not None:
            parts.append(f"water {water['depth_mm']:g} mm deep at the invert, {water['temperature_C']:g} °C")
        offset = section.get("ground_offset_K")
        if offset is not None:
            parts.append("ground warmer by " + _range(offset["value"], "K"))
    else:
        if "length_mm" in section:
            parts.append(f"{section['length_mm']:g} mm of liner")
        if section.get("bare_pipe_mm"):
            parts.append(f"{section['bare_pipe_mm']:g} mm of bare pipe before it")
        for key, words in (("bare_gap_mm", "no liner"), ("open_to_soil_mm", "no pipe wall")):
            if key in section:
                parts.append(f"{words} from {section[key]['from']:g} to {section[key]['to']:g} mm")
    kind = "around the pipe" if around else "along the pipe"
    return f"{kind}: {', '.join(parts)}" if parts else f"{kind}, nothing differs"


def place(point: Mapping[str, Any]) -> str:
    """Where in its section a point of a verdict lies, such as ``6 o'clock``; empty without one."""
    if "clock" in point:
        return str(point["clock"])
    if "position_mm" in point:
        return f"{point['position_mm']:.0f} mm along"
    return ""


def _range(values: list[float], unit: str) -> str:
    low, high = min(values), max(values)
    return f"{low:g} {unit}" if low == high else f"{low:g} to {high:g} {unit}"
