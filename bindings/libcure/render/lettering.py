"""How wide words are on paper, and paragraphs broken into lines by it."""

from __future__ import annotations

from functools import cache

from matplotlib.font_manager import FontProperties, findfont, get_font

from libcure.errors import one_line

__all__ = ["FILLED", "FONT", "MM_PER_POINT", "points_of", "width_of", "wrapped"]

MM_PER_POINT = 25.4 / 72.0
FONT = "DejaVu Sans"
# Of the room that a line may fill: renderers place letters a little apart.
FILLED = 0.95


@cache
def _advance(letter: str, bold: bool) -> float:
    """Width of a letter of the font over its size."""
    font = get_font(findfont(FontProperties(family=FONT, weight="bold" if bold else "normal")))
    font.set_size(100.0, 72.0)
    return float(font.load_char(ord(letter)).linearHoriAdvance) / 65536.0 / 100.0


def width_of(text: str, points: float, bold: bool = False) -> float:
    """Of one line of text [mm]."""
    return sum(_advance(letter, bold) for letter in text) * points * MM_PER_POINT


def points_of(text: str, points: float, room: float, bold: bool = False) -> float:
    """The size at which a line fits in the room [mm], at most ``points``."""
    needed = width_of(text, points, bold)
    return points if needed <= room else points * room / needed


def wrapped(text: str, room: float, points: float, *, bold: bool = False, bullet: str = "") -> list[str]:
    """A paragraph in lines that fit in the room [mm]; those after a bullet are indented."""
    lines, indent = [bullet], "  " if bullet else ""
    for word in one_line(text).split(" "):
        longer = f"{lines[-1]} {word}" if lines[-1] else word
        if width_of(longer, points, bold) > FILLED * room and lines[-1] != bullet:
            lines.append(indent + word)
        else:
            lines[-1] = longer
    return lines
