"""A chart's numbers for other programs: xarray, pandas, and the JSON document."""

from __future__ import annotations

import csv
import io
import math
import re
from typing import TYPE_CHECKING, Any

import numpy as np

from libcure import _core
from libcure.charting.axes import Axis
from libcure.charting.sanity import TOLERANCE, checks_of
from libcure.sampling import PERCENTILES

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from libcure.charting.result import ChartResult

__all__ = ["QUANTITIES", "column_name", "to_csv", "to_dataframe", "to_json", "to_xarray"]

QUANTITIES = {
    "in_place_min": "latest moment at which the liner may be held and still be workable, from mixing; inf: no limit met",
    "working_min": "working time ends, from mixing",
    "gel_first_min": "first resin point gels, from mixing",
    "gel_last_min": "last resin point gels, from mixing",
    "criterion_met_min": "release criterion is met, from mixing; inf: never",
    "held_from_min": "liner is pressed against the pipe, from mixing",
    "peak_temperature_C": "hottest resin",
}
"""Quantities of a cell, and what they are."""


def to_xarray(result: ChartResult) -> xr.Dataset:
    """The numbers on the chart's axes and ``percentile``; never is infinite, units are attributes."""
    import xarray as xr

    chart = result.chart
    names = [axis.name for axis in chart.axes]
    coords: dict[str, Any] = {
        axis.name: (
            axis.name,
            [axis.coordinate(i) for i in range(len(axis.values))],
            {"long_name": axis.title, **({"units": axis.unit} if axis.unit else {})},
        )
        for axis in chart.axes
    }
    coords["percentile"] = ("percentile", list(PERCENTILES), {"units": "%"})
    data: dict[str, Any] = {
        name: (
            (*names, "percentile"),
            values,
            {"long_name": QUANTITIES[name], "units": "°C" if name.endswith("_C") else "min"},
        )
        for name, values in result.numbers.items()
    }
    shown: dict[str, tuple[str, str, list[Any]]] = {
        "in_place_shown_min": (
            "latest moment in place: 5 % low side, rounded down; nan where nothing comes before the hold",
            "min",
            [math.nan if a.in_place_min is None else a.in_place_min for a in result.answers.values()],
        ),
        "working_shown_min": (
            "working time: 5 % low side, rounded down; printed where the cell may be used",
            "min",
            [a.working_min for a in result.answers.values()],
        ),
        "release_shown_min": (
            "release as printed: 95 % high side, rounded up; inf: the cell must not be used",
            "min",
            [a.release_min for a in result.answers.values()],
        ),
        "use": ("whether the cell may be used", "1", [a.use for a in result.answers.values()]),
        "not_released": (
            "share of samples that do not release",
            "1",
            [result.not_released(index) for index in result.answers],
        ),
    }
    for name, (long_name, units, values) in shown.items():
        # Cells are in the order of the axes, the last one fastest.
        data[name] = (names, np.reshape(values, chart.shape), {"long_name": long_name, "units": units})
    attrs = {
        "title": chart.title,
        "inputs_hash": result.inputs_hash,
        "libcure": _core.__version__,
        "samples": chart.samples,
        "seed": chart.seed,
    }
    return xr.Dataset(data, coords, attrs)


def to_dataframe(result: ChartResult) -> pd.DataFrame:
    """One row a cell: the axes, all percentiles, what is printed, and why. Never is ``inf``."""
    import pandas as pd

    return pd.DataFrame(_rows(result))


def to_csv(result: ChartResult) -> str:
    """The rows of :func:`to_dataframe` as text."""
    # Not by pandas, whose import would be a tenth of the time of a whole chart.
    rows = _rows(result)
    text = io.StringIO()
    writer = csv.DictWriter(text, rows[0], lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return text.getvalue()


def _rows(result: ChartResult) -> list[dict[str, Any]]:
    chart = result.chart
    notes: dict[tuple[int, ...], list[str]] = {}
    for violation in result.violations:
        notes.setdefault(violation.after, []).append(violation.text())
    rows = []
    for index, answer in result.answers.items():
        record = result.records[index]
        row: dict[str, Any] = {
            column_name(axis): axis.coordinate(i) for axis, i in zip(chart.axes, index, strict=True)
        }
        row |= {
            "use": "yes" if answer.use else "no",
            "why_not": ", ".join(answer.why_not),
            "in_place_shown_min": math.nan if answer.in_place_min is None else answer.in_place_min,
            "working_shown_min": answer.working_min,
            "release_shown_min": answer.release_min,
            "working_word": answer.working_word,
            "release_word": answer.release_word,
        }
        for name in QUANTITIES:
            stem, unit = name.rsplit("_", 1)
            row |= {
                f"{stem}_p{p:02d}_{unit}": round(float(v), 4)
                for p, v in zip(PERCENTILES, result.numbers[name][index], strict=True)
            }
        row |= {
            "samples": record["samples"],
            "samples_most": record["samples_most"],
            "not_released_percent": round(100.0 * result.not_released(index), 4),
            "too_late_percent": round(100.0 * record["too_late"] / record["samples"], 4),
        }
        row |= {f"samples_{name}": count for name, count in record["states"].items()}
        row |= {
            "working_point": record["working_point"],
            "release_point": record["release_point"],
            "message": record["message"],
            "note": "; ".join(notes.get(index, [])),
        }
        rows.append(row)
    return rows


def to_json(result: ChartResult) -> dict[str, Any]:
    """The chart as a document ``libcure/chart-result/1``; null is never."""
    chart = result.chart
    return {
        "format": "libcure/chart-result/1",
        "title": chart.title,
        "libcure": _core.__version__,
        "date": result.date,
        "inputs_hash": chart.inputs_hash,
        "percentiles": list(PERCENTILES),
        "axes": [
            {
                "name": a.name,
                "title": a.title,
                "unit": a.unit,
                "sets": list(a.sets),
                "values": list(a.values),
                "labels": list(a.labels),
            }
            for a in chart.axes
        ],
        "samples": chart.samples,
        "seed": chart.seed,
        "working_time_needed_min": chart.need_min,
        "cells": [_cell_json(result, index) for index in result.records],
        "sensitivity": [
            {
                "cell": _labels(result, s.index),
                "inputs": list(s.inputs),
                "samples": s.samples,
                "runs": s.runs,
                "release": s.release,
                "working": s.working,
            }
            for s in result.sensitivities
        ],
        "dominant_for_release": result.dominant,
        "sanity": {
            "tolerance": TOLERANCE,
            "checks": [check.text() for check in checks_of(chart)],
            "violations": [v.text() for v in result.violations],
        },
        "assumptions": result.assumptions,
        "cautions": result.cautions,
    }


def _labels(result: ChartResult, index: tuple[int, ...]) -> dict[str, str]:
    return {axis.name: axis.labels[i] for axis, i in zip(result.chart.axes, index, strict=True)}


def _cell_json(result: ChartResult, index: tuple[int, ...]) -> dict[str, Any]:
    answer, record = result.answers[index], result.records[index]

    def finite(value: float) -> float | None:
        return value if math.isfinite(value) else None

    return {
        "cell": _labels(result, index),
        "use": answer.use,
        "why_not": list(answer.why_not),
        "in_place_shown_min": None if answer.in_place_min is None else finite(answer.in_place_min),
        "working_shown_min": finite(answer.working_min),
        "release_shown_min": finite(answer.release_min),
        "working_word": answer.working_word,
        "release_word": answer.release_word,
        **record,
    }


def column_name(axis: Axis) -> str:
    """Heading of an axis in a table, with its unit."""
    unit = re.sub(r"\W+", "", axis.unit.replace("°", ""))
    return f"{axis.name}_{unit}" if unit else axis.name
