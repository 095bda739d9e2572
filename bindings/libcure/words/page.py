"""The page of an answer: the core's words and numbers, for renderers to lay out. Nothing is left to be rounded."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from libcure import _core
from libcure.sampling.ranges import Reason

__all__ = ["NARROWEST", "USUAL", "WIDEST", "Caution", "Fact", "Headings", "Page", "TimeRow", "UsualCaution", "place_of"]

NARROWEST, WIDEST = 60, 110
"""Columns of a page on a terminal, whatever that has."""
USUAL = tuple(_core.usual_caution_codes())
"""Codes of what holds whatever the times; advice, a followed job and charts repeat them."""


@dataclass(frozen=True)
class Fact:
    """What the answer is about, such as the wall."""

    name: str
    value: str


@dataclass(frozen=True)
class Headings:
    """Of the table of times and of the cautions."""

    names: str
    times: str
    likely: str
    why: str
    cautions: str


@dataclass(frozen=True)
class TimeRow:
    """One line of the table of times."""

    name: str
    time: str
    likely: str
    """From 5 to 95 % of the samples; empty without them."""
    unlikely: bool
    """Whether ``likely`` has something that must not be."""
    why: str
    """What decides it."""
    mark: str
    """``key`` for the answer most asked for, ``bad`` for what stops the job, or empty."""


@dataclass(frozen=True)
class Caution:
    """Something to mind at this job."""

    code: str
    text: str


@dataclass(frozen=True)
class UsualCaution:
    """Something to mind at any job."""

    in_short: str
    whole: str


@dataclass(frozen=True)
class Page:
    """What the answer says, in words."""

    title: str
    status: str
    """``ok``, ``wait`` or ``stop``."""
    headline: str
    facts: tuple[Fact, ...]
    headings: Headings
    ranged: bool
    """Whether the rows have ranges."""
    rows: tuple[TimeRow, ...]
    reasons: tuple[Reason, ...]
    """Why not simply ``ok``: the first cautions."""
    cautions: tuple[Caution, ...]
    """What else to mind at this job."""
    usual: tuple[UsualCaution, ...]
    at_any_job: str
    """The usual cautions in one sentence."""
    numerics: str
    """Numerical error of each time; empty when it was not asked for."""
    ranges: str
    """What the ranges are, or why there are none."""
    defaults: str
    """What the case left out; empty when nothing."""
    solver: str

    def text(self, width: int = 100, *, colours: bool = False, ascii_only: bool = False) -> str:
        """The page for a terminal.

        Args:
            width: columns, 60 to 1000.
            colours: and bold letters, by ECMA-48.
            ascii_only: no letters of the library's own beyond ASCII.

        Raises:
            CureError: a width out of range.
        """
        return _core.page_text(self, width=width, colours=colours, ascii=ascii_only)

    @classmethod
    def from_json(cls, text: str) -> Page:
        """The page as the core writes it."""
        found: dict[str, Any] = json.loads(text)
        kinds = {"facts": Fact, "rows": TimeRow, "reasons": Reason, "cautions": Caution, "usual": UsualCaution}
        for key, kind in kinds.items():
            found[key] = tuple(kind(**part) for part in found[key])
        return cls(**{**found, "headings": Headings(**found["headings"])})


def place_of(point: Mapping[str, Any]) -> str:
    """Layer, position and, in a section, the place along it of a point of a verdict."""
    return _core.place(point["layer"], point["position"], point.get("clock"), point.get("position_mm"))
