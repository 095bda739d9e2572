"""A small chart document that the chart tests share, and how they look at it. Invented."""

import copy
import html
import io
import re
import sys
from contextlib import redirect_stderr, redirect_stdout
from types import SimpleNamespace
from unittest.mock import patch

import libcure
from libcure.charting import cells
from libcure.charting.result import ChartResult
from libcure.cli import main

SHIPPED = libcure.models_folder() / "charts" / "seasonal.json"

CHART = {
    "format": "libcure/chart/1",
    "title": "Invented: two hardeners, two grounds",
    "note": "Invented.",
    "case": {
        "format": "libcure/case/1",
        "resin": "epoxy-amine-fast",
        "pipe": {"inner_diameter_mm": 150, "wall_mm": 16, "material": "vitrified-clay"},
        "liner": {"thickness_mm": 4, "length_mm": 600},
        "ground": {"material": "moist-sand", "temperature_C": 10},
        "initial_temperature_C": {"resin": 16, "fibre": 14, "packer": 14, "air": 14},
        "stages": [
            {"kind": "mixed_mass", "duration_min": 4},
            {"kind": "wet_out", "duration_min": 10},
            {"kind": "held", "duration_min": 1440, "fill_temperature_C": 14},
        ],
    },
    "fixed": {"pipe.wall_mm": 15},
    "axes": [
        {
            "name": "hardener",
            "title": "Hardener",
            "sets": ["resin"],
            "order": "faster",
            "values": ["epoxy-amine-slow", "epoxy-amine-fast"],
            "labels": ["slow", "fast"],
        },
        {
            "name": "ground",
            "title": "Ground",
            "unit": "°C",
            "sets": ["ground.temperature_C", "initial_temperature_C.pipe"],
            "values": [5, 15],
        },
    ],
    "layout": {"columns": "hardener", "rows": "ground", "page": "landscape"},
    "uncertain": {
        "seed": 7,
        "samples": 16,
        "constants": True,
        "inputs": [
            {
                "name": "ground",
                "title": "Ground temperature",
                "moves": ["ground.temperature_offset_K", "initial_temperature.pipe_offset_K"],
                "distribution": "normal",
                "sd": 1,
            },
            {
                "name": "contact",
                "title": "Contact",
                "moves": ["contact_factor"],
                "distribution": "lognormal",
                "sd": 0.5,
            },
            {
                "name": "thickness",
                "title": "Thickness",
                "moves": ["liner.thickness_factor"],
                "distribution": "uniform",
                "half_width": 0.1,
            },
        ],
    },
    "sensitivity": {"cells": "none", "samples": 16},
    "criteria": {"working_time_needed_min": 30},
    "rounding": {
        "working": [{"from_min": 0, "step_min": 1}, {"from_min": 60, "step_min": 10}],
        "release": [{"from_min": 0, "step_min": 5}],
    },
    "climate": {"annual_mean_C": 10, "amplitude_K": 8, "day_of_minimum": 30, "diffusivity_mm2_s": 0.7, "depth_m": 1.5},
}


def small(**changes):
    """The small chart with some values replaced: ``small(uncertain__samples=32)``; None removes a key."""
    document = copy.deepcopy(CHART)
    for path, value in changes.items():
        set_path(document, path.split("__"), value)
    return document


def set_path(document, steps, value):
    """Sets a value by a list of keys and numbers; None removes it."""
    place = document
    for step in steps[:-1]:
        place = place[int(step)] if isinstance(place, list) else place.setdefault(step, {})
    last = int(steps[-1]) if isinstance(place, list) else steps[-1]
    if value is None:
        del place[last]
    else:
        place[last] = value


def changed(result, **records):
    """The same chart with some records replaced."""
    tasks = cells.tasks_of(result.chart)
    found = [dict(result.records[t.index]) for t in tasks if t.kind == "cell"]
    for index, record in enumerate(found):
        change = records.get(f"cell_{index}", {})
        # What is printed is a bound of the side; of such records the side itself.
        bounds = (("release_bound_min", "criterion_met_min", -1), ("working_bound_min", "working_min", 0), ("peak_bound_C", "peak_temperature_C", -1))
        for side, key, place in bounds:
            if key in change:
                record[side] = change[key][place]
        record.update(change)
    return ChartResult(result.chart, [t for t in tasks if t.kind == "cell"], found, 0)


def command(*arguments, code=0):
    """``libcure`` with these arguments in this process: starting another takes longer than most of what is asked. What it says, as of a process."""
    out, err, status = io.StringIO(), io.StringIO(), 0
    given = (patch.object(sys, "argv", ["libcure", *map(str, arguments)]), patch.object(sys, "stdin", io.StringIO()))
    with given[0], given[1], redirect_stdout(out), redirect_stderr(err):
        try:
            main()
        except SystemExit as end:
            status = end.code or 0
    assert status == code, err.getvalue()
    return SimpleNamespace(stdout=out.getvalue(), stderr=err.getvalue())


def records(result):
    return result.to_dataframe().to_csv(index=False)


def sheet_texts(result):
    return " ".join(text.get_text() for text in result.draw().axes[0].texts)


def drawn_texts(svg):
    """The lines of text of a saved sheet, which stand in it as outlines with a comment each."""
    found = re.findall(r"<!-- (.*?) -->", svg.read_text(encoding="utf-8"), re.DOTALL)
    return [html.unescape(words) for words in found]


def page_text(markup):
    """What a page shows, pop-ups and attributes and data of scripts too; not how it looks."""
    return html.unescape(re.sub(r"<style>.*?</style>", "", markup, flags=re.DOTALL))
