"""A starting document for a chart from a few answers, with a comment beside each part. What it assumes beyond the answers is the
demo chart's: invented or common practice, no source."""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from libcure.charting.reader import read_chart
from libcure.charting.units import converted, kind_words, same_unit
from libcure.errors import input_error

__all__ = ["QUESTIONS", "Question", "starting_document"]


@dataclass(frozen=True)
class Question:
    """Something that a chart must know."""

    key: str
    words: str
    unit: str
    """Of the answer when it names none; empty for words."""
    count: int
    """Numbers that are asked for; 0 for words."""
    default: str


QUESTIONS = (
    Question("title", "Title of the sheet", "", 0, "My cure chart"),
    Question("resins", "Resin models, slow ones first: ids or files, with commas", "", 0, "epoxy-amine-slow, epoxy-amine-medium, epoxy-amine-fast"),
    Question("bore", "Bore of the pipe", "mm", 1, "150 mm"),
    Question("pipe", "Material of the pipe", "", 0, "vitrified-clay"),
    Question("pipe_wall", "Thickness of its wall", "mm", 1, "16 mm"),
    Question("ground", "Ground around it", "", 0, "moist-sand"),
    Question("liner", "Thickness of the liner", "mm", 1, "4 mm"),
    Question("length", "Length of the liner", "mm", 1, "600 mm"),
    Question("walls", "Coldest and warmest pipe wall", "°C", 2, "4 to 19 °C"),
    Question("resin_temperatures", "Coldest and warmest resin and packer", "°C", 2, "10 to 28 °C"),
    Question("pouch", "Time from mixing to the wet-out", "min", 1, "4 min"),
    Question("wet_out", "Time from the wet-out to the liner in place", "min", 1, "10 min"),
    Question("hold", "Longest hold of the bladder", "min", 1, "48 h"),
    Question("need", "Working time that the crew needs", "min", 1, "20 min"),
    Question("air", "Air of the year: coldest and warmest month", "°C", 2, "3 to 18 °C"),
    Question("paper", "Paper, A4 or Letter", "", 0, "A4"),
)

COMMENTS = {
    "format": "A starting point: change what you know better. Keys that begin with // are comments.",
    "case": "The job that all cells share. More of what a case may say: models/schema/case.schema.json.",
    "axes": "What differs from cell to cell, up to four axes. An axis sets paths of the case; values may be in another unit of the kind (°F, inch).",
    "layout": "Which axis stands where. Rows and columns are what the crew reads on site: pipe wall, and resin with packer.",
    "uncertain": "What nobody knows exactly, with its spread: an assumption, no source. The seed makes the same document give the same numbers.",
    "criteria": "Cells with less time in hand are marked SHORT.",
    "climate": "The year of the place, for the strip of months: ground, air, and how stores and vans follow the air (an assumption, no source).",
}


def starting_document(answers: Mapping[str, str], beside: Path, name: str) -> str:
    """The document as text.

    Args:
        answers: by the key of the question; those left out have its default.
        beside: folder that the document is for; files of resins are looked for from there.
        name: of the document, for messages.

    Raises:
        CureError: an answer that is not understood, or of which no chart can be made.
    """
    known = {question.key: question for question in QUESTIONS}
    for key in answers:
        if key not in known:
            raise input_error("--answer", key, "one of " + ", ".join(known))
    given = {key: answers.get(key, question.default).strip() for key, question in known.items()}
    numbers = {key: _numbers(question, given[key]) for key, question in known.items() if question.count}
    document = _document(given, numbers)
    read_chart(document, beside=beside)
    lines = []
    for key, value in document.items():
        if key in COMMENTS:
            lines.append(f'  {json.dumps(f"// {key}")}: {json.dumps(COMMENTS[key], ensure_ascii=False)}')
        lines.append(f"  {json.dumps(key)}: {_laid_out(value)}")
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _laid_out(value: Any, indent: str = "  ") -> str:
    """JSON, broken where a line would be long."""
    line = json.dumps(value, ensure_ascii=False)
    if len(line) + len(indent) <= 140 or not isinstance(value, dict | list):
        return line
    deeper = indent + "  "
    if isinstance(value, dict):
        parts = [f"{json.dumps(k, ensure_ascii=False)}: {_laid_out(v, deeper)}" for k, v in value.items()]
    else:
        parts = [_laid_out(v, deeper) for v in value]
    opening, closing = "{}" if isinstance(value, dict) else "[]"
    return f"{opening}\n{deeper}" + f",\n{deeper}".join(parts) + f"\n{indent}{closing}"


def _numbers(question: Question, answer: str) -> tuple[list[float], str]:
    """The numbers of an answer as given, and their unit."""
    number = r"[-+−]?\d+(?:\.\d+)?"
    pattern = rf"\s*({number})" + rf"\s*(?:to|,|;|\.\.)\s*({number})" * (question.count - 1) + r"\s*(.*)"
    found = re.fullmatch(pattern, answer)
    example = f"as in {question.default}"
    if found is None:
        raise input_error(question.key, f'"{answer}"', example)
    values = [float(text.replace("−", "-")) for text in found.groups()[:-1]]
    unit = found[question.count + 1].strip() or question.unit
    if any(converted(value, unit, question.unit) is None for value in values):
        raise input_error(question.key, f'"{answer}"', f"in {kind_words(question.unit)}, {example}")
    if values != sorted(set(values)):
        raise input_error(question.key, f'"{answer}"', f"the smaller number first, {example}")
    return values, unit


def _document(given: Mapping[str, str], numbers: Mapping[str, tuple[list[float], str]]) -> dict[str, Any]:
    def one(key: str, unit: str) -> float:
        values, said = numbers[key]
        return _plain(converted(values[0], said, unit))

    resins = [text.strip() for text in given["resins"].split(",") if text.strip()]
    if not resins:
        raise input_error("resins", f'"{given["resins"]}"', "at least one resin model")
    coldest, warmest = (_plain(converted(v, numbers["air"][1], "°C")) for v in numbers["air"][0])
    mean, amplitude = _plain(0.5 * (coldest + warmest)), _plain(0.5 * (warmest - coldest))
    wall_paths = ["ground.temperature_C", "initial_temperature_C.pipe", "stages[2].fill_temperature_C"]
    resin_paths = [f"initial_temperature_C.{name}" for name in ("resin", "packer", "fibre", "air")]
    walls, temperatures = _axis("wall", "Pipe wall", wall_paths, *numbers["walls"], 6), _axis("resin", "Resin", resin_paths, *numbers["resin_temperatures"], 4)
    product = {"name": "product", "title": "Product", "sets": ["resin"], "values": resins}
    several = len(resins) > 1
    said = {unit for _, unit in numbers.values()}
    first = {"temperature": "°F"} if any(same_unit(unit, "°F") for unit in said) else {}
    length = {"length": "in"} if any(same_unit(unit, "in") for unit in said) else {}
    return {
        "format": "libcure/chart/1",
        "title": given["title"],
        "case": {
            "format": "libcure/case/1",
            "resin": resins[0],
            "pipe": {"inner_diameter_mm": one("bore", "mm"), "wall_mm": one("pipe_wall", "mm"), "material": given["pipe"]},
            "liner": {"thickness_mm": one("liner", "mm"), "length_mm": one("length", "mm"), "fibre_volume_fraction": 0.25},
            "bladder": {"thickness_mm": 4, "material": "natural-rubber"},
            "ground": {"material": given["ground"], "temperature_C": 10},
            "initial_temperature_C": {"resin": 16, "fibre": 16, "packer": 16, "pipe": 10, "air": 16},
            "contact_resistance_m2K_W": {"liner_pipe": 0.001},
            "stages": [
                {"kind": "mixed_mass", "duration_min": one("pouch", "min")},
                {"kind": "wet_out", "duration_min": one("wet_out", "min")},
                {"kind": "held", "duration_min": one("hold", "min"), "fill_temperature_C": 10},
            ],
        },
        "axes": [*([product] if several else []), walls, temperatures],
        "layout": {**({"panels": "product"} if several else {}), "columns": "resin", "rows": "wall", "paper": given["paper"], **first, **length},
        "uncertain": _UNCERTAIN,
        "sensitivity": {"cells": "centre", "samples": 64},
        "criteria": {"working_time_needed_min": one("need", "min")},
        "climate": {
            "annual_mean_C": mean, "amplitude_K": amplitude, "day_of_minimum": 30, "diffusivity_mm2_s": 0.7, "depth_m": 1.5,
            "air": {"annual_mean_C": mean, "amplitude_K": amplitude, "day_of_minimum": 20, "day_swing_K": 5},
            "stores": {"lag_days": 3, "above_air_K": 4, "at_least_C": 10},
        },
    }  # fmt: skip


_UNCERTAIN = {
    "seed": 20260101,
    "samples": 1024,
    "inputs": [
        {"name": "ground", "title": "Ground temperature", "distribution": "normal", "sd": 1.0,
         "moves": ["ground.temperature_offset_K", "initial_temperature.pipe_offset_K"]},
        {"name": "resin_temperature", "title": "Resin temperature at mixing", "distribution": "uniform", "half_width": 2.0,
         "moves": ["initial_temperature.resin_offset_K"]},
        {"name": "air", "title": "Air, packer and fill temperature", "distribution": "uniform", "half_width": 3.0,
         "moves": ["ambient_offset_K", "initial_temperature.packer_offset_K", "initial_temperature.fibre_offset_K", "fill_temperature_offset_K"]},
        {"name": "thickness", "title": "Liner thickness", "distribution": "normal", "sd": 0.08, "moves": ["liner.thickness_factor"]},
        {"name": "contact", "title": "Contact resistance", "distribution": "lognormal", "sd": 0.7, "moves": ["contact_factor"]},
        {"name": "soil", "title": "Conductivity of the ground", "distribution": "normal", "sd": 0.2, "moves": ["ground.conductivity_factor"]},
    ],
}  # fmt: skip


def _axis(name: str, title: str, sets: list[str], ends: list[float], unit: str, count: int) -> dict[str, Any]:
    """Whole degrees from end to end, evenly as far as these allow."""
    low, high = ends
    values = sorted({low, high, *(float(round(low + (high - low) * i / (count - 1))) for i in range(1, count - 1))})
    unit = "°F" if same_unit(unit, "°F") else "°C"
    return {"name": name, "title": title, "unit": unit, "sets": sets, "values": [_plain(v) for v in values if low <= v <= high]}


def _plain(value: float | None) -> float:
    """Without a point where there is nothing behind it."""
    assert value is not None
    return int(value) if float(value).is_integer() else round(value, 6)
