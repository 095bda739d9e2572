"""What a page needs to read one job from a computed chart: the axes to ask for, and the numbers of every cell as printed."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from itertools import product
from typing import Any

from libcure.words.rounding import whole

__all__ = ["CHART_WORDS", "question_of"]

CHART_WORDS = (
    "do_not_use", "short", "less_time", "in_place_by", "work_until", "release_at", "ready_in", "ready_between", "why", "read_at", "worst_of",
    "decided", "type_number", "chart_goes", "outside", "days_later", "and", "mixed_at",
)  # fmt: skip
"""Phrases that the page fills in itself."""


def question_of(document: Mapping[str, Any]) -> dict[str, Any]:
    """Axes and cells of a document ``libcure/chart-result/1``; the answer's rule is templates/chart_ask.js.

    Numbers are in the units of the axes, times in minutes, infinite ones null; a cell that must not be used tells no time.
    """
    axes, shape = document["axes"], [len(axis["values"]) for axis in document["axes"]]
    places = {tuple(cell["cell"][axis["name"]] for axis in axes): cell for cell in document["cells"]}
    cells = [_told(places[labels]) for labels in product(*(axis["labels"] for axis in axes))]
    return {"axes": [_asked(axis) for axis in axes], "shape": shape, "cells": cells}


def _asked(axis: Mapping[str, Any]) -> dict[str, Any]:
    values: Sequence[Any] = axis["values"]
    unit = axis["unit"]
    numbers = len(values) > 1 and all(isinstance(v, int | float) and not isinstance(v, bool) for v in values)
    labels = [f"{label} {unit}" if numbers and unit and unit not in label else label for label in axis["labels"]]
    asked: dict[str, Any] = {"title": axis["title"], "labels": labels, "numbers": []}
    if numbers:
        asked |= {"unit": unit, "numbers": [float(v) for v in values], "start": float(values[len(values) // 2])}
    return asked


def _told(cell: Mapping[str, Any]) -> dict[str, Any]:
    if not cell["use"]:
        return {"why": list(cell["why_not"])}
    low, _, high = cell["criterion_met_min"]
    return {
        "place": cell["in_place_shown_min"],
        "work": cell["working_shown_min"],
        "short": bool(cell["working_word"]),
        "release": cell["release_shown_min"],
        "band": None if low is None or high is None else [whole(float(low), up=False), whole(float(high), up=True)],
        "where": [cell["working_point"] or "resin", cell["release_point"] or "resin"],
    }
