"""What a chart says in sentences: cautions, and what its numbers rest on."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from libcure.charting.document import ZERO_CELSIUS, ChartDocument
from libcure.resin_constants import resin_constants
from libcure.rounding import short_duration
from libcure.verdict_view import USUAL

if TYPE_CHECKING:
    from libcure.charting.result import ChartResult

__all__ = ["assumptions", "cautions", "fahrenheit"]


def cautions(result: ChartResult) -> list[str]:
    """Those of the chart as a whole, and the general ones of each resin's verdict."""
    seen: dict[str, str] = {}
    for verdict in result.chart.verdicts.values():
        for caution in verdict["cautions"]:
            if caution["code"] in USUAL:
                seen.setdefault(caution["code"], caution["text"])
    return [*_outside_validity(result), *(seen[code] for code in USUAL if code in seen)]


def _outside_validity(result: ChartResult) -> list[str]:
    """Cells whose resin leaves the temperatures that its model is valid for."""
    hot = cold = 0
    for index, case in result.chart.cases.items():
        hot += bool(result.numbers["peak_temperature_C"][index][-1] > case.resin.temperature_max - ZERO_CELSIUS)
        document = result.chart.case_documents[index]
        start = [*document.get("initial_temperature_C", {}).values(), document["ground"].get("temperature_C")]
        coldest = min((float(T) for T in start if isinstance(T, int | float)), default=math.inf)
        cold += coldest < case.resin.temperature_min - ZERO_CELSIUS
    count = len(result.chart.cases)
    texts = [
        f"In {n} of {count} cells the resin may be {side} than its model is valid for: read those with care."
        for n, side in ((hot, "hotter"), (cold, "colder"))
        if n
    ]
    hot_limit = sum(result.hot(index) is not None for index in result.chart.cases)
    if hot_limit:
        texts.insert(
            0,
            f"In {hot_limit} of {count} cells, marked TOO HOT, the resin may pass the temperature limit of resin, "
            "bladder or pipe: do not use them without looking closer.",
        )
    return texts


def assumptions(chart: ChartDocument) -> list[str]:
    """What the numbers rest on, one sentence each."""
    document = next(iter(chart.case_documents.values()))
    varied = {path for axis in chart.axes for path in axis.sets}

    def given(path: str, text: str) -> list[str]:
        return [] if path in varied else [text]

    pipe, liner, ground = document["pipe"], document["liner"], document["ground"]
    wall = [
        *given("pipe.inner_diameter_mm", f"{pipe['inner_diameter_mm']:g} mm bore"),
        *given("pipe.wall_mm", f"{pipe['wall_mm']:g} mm {pipe['material']}"),
        *given("liner.thickness_mm", f"{liner['thickness_mm']:g} mm liner"),
        *given("ground.material", f"in {ground['material']}"),
    ]
    start = [
        f"{name} {value:g} °C"
        for name, value in document.get("initial_temperature_C", {}).items()
        if f"initial_temperature_C.{name}" not in varied
    ]
    stages = []
    for i, stage in enumerate(document["stages"]):
        words = {"mixed_mass": "in the pouch", "wet_out": "wet-out", "held": "held up to"}.get(stage["kind"])
        if words is not None and f"stages[{i}].duration_min" not in varied:
            stages.append(f"{words} {short_duration(stage['duration_min'])}")
        if (
            stage["kind"] == "held"
            and isinstance(stage.get("fill_temperature_C"), int | float)
            and (f"stages[{i}].fill_temperature_C" not in varied)
        ):
            stages.append(f"bladder filled at {stage['fill_temperature_C']:g} °C")
    found = [
        f"Every cell: {', '.join(wall)}; {', '.join(stages)}.",
        *([f"At mixing: {', '.join(start)}."] if start else []),
        f"Release: {_criterion(chart)}.",
    ]
    spread = [_spread(chart, i) for i in range(len(chart.inputs))]
    if chart.constants:
        spread.append("resin constants by their covariance")
    if any(axis.months for axis in chart.axes):
        spread.append("any day of the month")
    found.append(f"Uncertain: {'; '.join(spread)}.")
    if chart.constants:
        models = {case.resin.id: resin_constants(chart.case_documents[index], chart.beside) for index, case in chart.cases.items()}
        without = sorted(name for name, constants in models.items() if constants is None or not constants.whole)
        if without:
            found.append(f"No covariance in {', '.join(without)}: constants taken as exact.")
    return found


def _criterion(chart: ChartDocument) -> str:
    """When a resin point counts as safe to release."""

    def span(key: str, scale: float = 1.0) -> str:
        axis = next((axis for axis in chart.axes if f"release.{key}" in axis.sets), None)
        found = axis.values if axis is not None else [v["criterion"][key] for v in chart.verdicts.values()]
        ends = f"{scale * min(found):g}", f"{scale * max(found):g}"
        return ends[0] if ends[0] == ends[1] else f"{ends[0]} to {ends[1]} (by cell)"

    return (
        f"degree of cure in % at least {span('alpha_min', 100.0)} and Tg in K above the resin at least "
        f"{span('Tg_above_wall_K')} everywhere, time × {span('safety_factor')}"
    )


def _spread(chart: ChartDocument, i: int) -> str:
    u = chart.inputs[i]
    if u.distribution == "lognormal":
        return f"{u.title.lower()} × or ÷ {math.exp(u.spread):.2g} (1 sd)"
    size = f"{100.0 * u.spread:g} %" if u.is_factor else f"{u.spread:g} K"
    return f"{u.title.lower()} ± {size} ({'1 sd' if u.distribution == 'normal' else 'evenly'})"


def fahrenheit(celsius: float) -> float:
    """[°F] from [°C]."""
    return 1.8 * celsius + 32.0
