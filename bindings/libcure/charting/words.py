"""What a chart says in sentences: cautions, and what its numbers rest on."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from libcure.charting.climate import ZERO_CELSIUS
from libcure.charting.document import ChartDocument
from libcure.sampling.resin_constants import resin_constants
from libcure.words.page import USUAL
from libcure.words.rounding import short_duration

if TYPE_CHECKING:
    from libcure.charting.result import ChartResult

__all__ = [
    "BY_MONTH",
    "BY_SEASON",
    "HOW_TO_READ",
    "assumptions",
    "between",
    "both_degrees",
    "by_month",
    "cautions",
    "check_first",
    "fahrenheit",
    "headline",
    "made_for",
    "most_words",
    "rests_on",
]


def cautions(result: ChartResult) -> list[str]:
    """Those of the chart as a whole, and the general ones of each resin's verdict."""
    too_hot = sum(bool(answer.hot_word) for answer in result.answers.values())
    peaks = result.numbers["peak_temperature_C"]
    hotter = sum(
        bool(peaks[index][-1] > case.resin.temperature_max - ZERO_CELSIUS) for index, case in result.chart.cases.items()
    )
    return _cautions(result.chart, too_hot, hotter)


def rests_on(result: ChartResult) -> list[str]:
    """What the numbers rest on, what moves them, and whether neighbours contradict each other."""
    return _rests_on(result.chart, result.dominant, len(result.violations))


def most_words(chart: ChartDocument) -> tuple[list[str], list[str]]:
    """:func:`cautions` and :func:`rests_on` at their longest, before anything is computed."""
    longest = max((u.title for u in chart.inputs), key=len, default="resin constants")
    count = len(chart.cases)
    return _cautions(chart, count, count), _rests_on(chart, longest, count)


def _cautions(chart: ChartDocument, too_hot: int, hotter: int) -> list[str]:
    count, colder = len(chart.cases), 0
    for index, case in chart.cases.items():
        document = chart.case_documents[index]
        start = [*document.get("initial_temperature_C", {}).values(), document["ground"].get("temperature_C")]
        coldest = min((float(T) for T in start if isinstance(T, int | float)), default=math.inf)
        colder += coldest < case.resin.temperature_min - ZERO_CELSIUS
    texts = []
    if too_hot:
        texts.append(
            f"In {too_hot} of {count} cells, marked TOO HOT, the resin may pass the temperature limit of resin, bladder "
            "or pipe: do not use them."
        )
    texts += [
        f"In {n} of {count} cells the resin may be {side} than its model is valid for: read those with care."
        for n, side in ((hotter, "hotter"), (colder, "colder"))
        if n
    ]
    general: dict[str, str] = {}
    for verdict in chart.verdicts:
        for caution in verdict["cautions"]:
            if caution["code"] in USUAL:
                general.setdefault(caution["code"], caution["text"])
    return [*texts, *(general[code] for code in USUAL if code in general)]


def _rests_on(chart: ChartDocument, dominant: str | None, violations: int) -> list[str]:
    found = _settings(chart)
    if dominant is not None:
        found.append(f"What moves the release time most: {dominant.lower()}.")
    found.append(check_first(violations) or "Checked: no neighbouring cells contradict each other.")
    return found


def check_first(violations: int) -> str:
    """What stands on top of a chart whose cells contradict each other; empty where none do."""
    if not violations:
        return ""
    return (
        f"CHECK BEFORE USE: in {violations} place{'s' * (violations != 1)} neighbouring cells contradict each other, "
        "see chart.html or chart.json."
    )


HOW_TO_READ = (
    "In place by: latest moment in place and inflated. Work: working time if in place as planned. Release (lowest number): keep the "
    "bladder in at least so long. All from mixing."
)


def between(chart: ChartDocument) -> str:
    """The rule for what lies between cells, with an example of the chart's own rows."""
    rows = chart.axis(chart.rows)
    example = ""
    if rows.numeric and len(rows.values) > 1:
        low, high = (float(v) for v in rows.values[:2])
        example = f" ({0.5 * (low + high):g}{f' {rows.unit}' if rows.unit else ''}: rows {rows.labels[0]} and {rows.labels[1]})"
    return (
        f"Between two rows or columns: the shorter working time and the longer release of both{example}; if one says DO NOT USE, do "
        "not use. Outside: no answer."
    )


BY_MONTH = (
    "By month: release only, with resin, packer and air as above (colder: later), and only if no cell up to the month's warmest "
    "ground says DO NOT USE. Never the working time: measure wall, resin and packer."
)
BY_SEASON = (
    "By month, in place by / release: the worst of all cells that the month touches, from its coldest to its warmest wall, resin and "
    "packer. What is measured on site comes first."
)


def by_month(chart: ChartDocument) -> str:
    """The rule of the strip of months."""
    known = chart.climate is not None and chart.climate.air is not None
    return BY_SEASON if known and any(a.numeric and "initial_temperature_C.resin" in a.sets for a in chart.axes) else BY_MONTH


def headline(chart: ChartDocument) -> str:
    """The two temperatures that a crew can read on site, in large print: where on the sheet they stand, or what they must be."""
    wall, resin, packer = (
        _reading(chart, ("initial_temperature_C.pipe", "ground.temperature_C"), "pipe"),
        _reading(chart, ("initial_temperature_C.resin",), "resin"),
        _reading(chart, ("initial_temperature_C.packer",), "packer"),
    )
    both = [f"RESIN AND PACKER {resin}"] if resin == packer else [f"RESIN {resin}", f"PACKER {packer}"]
    return "   ".join((f"PIPE WALL {wall}", *both))


def _reading(chart: ChartDocument, paths: tuple[str, ...], name: str) -> str:
    axis = next((a for a in chart.axes if any(path in a.sets for path in paths)), None)
    if axis is not None:
        place = {chart.rows: "rows", chart.columns: "columns", chart.panels: "panels"}[axis.name]
        return f"→ {place}"
    values = sorted({v for index in chart.cases if (v := _start_C(chart, index, name)) is not None})
    return "as below" if not values else both_degrees(values[0], values[-1], chart.temperature)


def both_degrees(low: float, high: float, first: str = "°C") -> str:
    """``16 °C (61 °F)``, ``12 to 16 °C (54 to 61 °F)``, or the other way round; given in °C."""
    celsius = f"{low:g}" if low == high else f"{low:g} to {high:g}"
    other = " to ".join(f"{fahrenheit(v):.0f}" for v in dict.fromkeys((low, high)))
    return f"{other} °F ({celsius} °C)" if first == "°F" else f"{celsius} °C ({other} °F)"


def made_for(chart: ChartDocument) -> str:
    """The temperatures that the axes leave as they are, which a crew can measure and must check first; and what has no release."""
    names = ("resin", "packer", "fibre", "air", "fill")
    found: dict[str, list[str]] = {}
    for name in names:
        values = sorted({v for index in chart.cases if (v := _start_C(chart, index, name)) is not None})
        if not values or any(path in _paths(chart, name) for axis in chart.axes for path in axis.sets):
            continue
        span = both_degrees(values[0], values[-1], chart.temperature)
        found.setdefault(span, []).append("bladder filling" if name == "fill" else name)
    silent = _not_known_of_resins(chart)
    if not found:
        return silent
    months = " in every month" if chart.season_axis is not None else ""
    parts = (f"{_and(same)} {span}" for span, same in found.items())
    return (
        f"Made for {', '.join(parts)}{months}, ± as below. Measure first: warmer shortens the working time, colder delays the "
        "release."
    ) + (f" {silent}" if silent else "")


def _not_known_of_resins(chart: ChartDocument) -> str:
    """What the models know nothing of, or only from their family."""
    cases = chart.cases.values()
    needs = {v["criterion"]["Tg_margin_K"] for v in chart.verdicts}
    most = max((need for need in needs if need is not None), default=0.0)
    names = sorted({case.resin.id for case in cases if case.resin.Tg_margin_max < most})
    words = [f"NO RELEASE for {_and(names)}: the model says nothing about setting in the cold."] if names else []
    missing = {case.resin.id: case.resin.not_measured for case in cases if case.resin.not_measured}
    words += [f"NOT MEASURED of {name}, but taken from its family: {what}." for name, what in sorted(missing.items())]
    return " ".join(words)


def _paths(chart: ChartDocument, name: str) -> tuple[str, ...]:
    if name != "fill":
        return (f"initial_temperature_C.{name}",)
    stages = next(iter(chart.case_documents.values()))["stages"]
    return tuple(f"stages[{i}].fill_temperature_C" for i in range(len(stages)))


def _start_C(chart: ChartDocument, index: tuple[int, ...], name: str) -> float | None:
    """A temperature of a cell's case, given or by default; None where it is no single number."""
    document = chart.case_documents[index]
    if name == "fill":
        i = next(i for i, stage in enumerate(document["stages"]) if stage["kind"] == "held")
        path, given = f"stages[{i}].fill_temperature_C", document["stages"][i].get("fill_temperature_C")
    else:
        path, given = f"initial_temperature_C.{name}", document.get("initial_temperature_C", {}).get(name)
    if given is None:
        line = next((d for d in chart.cases[index].defaults if d.startswith(f"{path}: ")), "")
        number = re.match(r"-?\d+(\.\d+)?(?= )", line[len(path) + 2 :])
        return float(number[0]) if number else None
    return float(given) if isinstance(given, int | float) else None


def _and(names: list[str]) -> str:
    return " and ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def assumptions(chart: ChartDocument) -> list[str]:
    """What the numbers rest on, one sentence each."""
    return [*filter(None, (made_for(chart),)), *_settings(chart)]


def _settings(chart: ChartDocument) -> list[str]:
    document = next(iter(chart.case_documents.values()))
    varied = {path for axis in chart.axes for path in axis.sets}

    def given(path: str, text: str) -> list[str]:
        return [] if path in varied else [text]

    pipe, liner, ground = document["pipe"], document["liner"], document["ground"]
    wall = [
        *given("pipe.inner_diameter_mm", f"{_length(pipe['inner_diameter_mm'], chart.length)} bore"),
        *given("pipe.wall_mm", f"{_length(pipe['wall_mm'], chart.length)} {pipe['material']}"),
        *given("liner.thickness_mm", f"{_length(liner['thickness_mm'], chart.length)} liner"),
        *given("ground.material", f"in {ground['material']}"),
    ]
    stages = []
    for i, stage in enumerate(document["stages"]):
        words = {"mixed_mass": "in the pouch", "wet_out": "wet-out", "held": "held up to"}.get(stage["kind"])
        if words is not None and f"stages[{i}].duration_min" not in varied:
            stages.append(f"{words} {short_duration(stage['duration_min'])}")
    found = [
        f"Every cell: {', '.join(wall)}; {', '.join(stages)}.",
        f"Release: {_criterion(chart)}.",
    ]
    spread = [_spread(chart, i) for i in range(len(chart.inputs))]
    if chart.constants:
        spread.append("resin constants by their covariance")
    if chart.season_axis is not None:
        spread.append("any day of the season")
    found.append(f"Uncertain: {'; '.join(spread)}.")
    found += _year(chart)
    if chart.constants:
        models = {case.resin.id: resin_constants(chart.case_documents[index], chart.beside) for index, case in chart.cases.items()}
        without = sorted(name for name, constants in models.items() if constants is None or not constants.whole)
        if without:
            found.append(f"No covariance in {', '.join(without)}: constants taken as exact.")
    return found


def _year(chart: ChartDocument) -> list[str]:
    """How air, stores and fill go with the season, where the chart uses it."""
    climate = chart.climate
    if climate is None or climate.air is None or climate.stores is None:
        return []
    stores, air = climate.stores, climate.air
    limits = [
        *([f"at least {stores.at_least_C:g} °C"] if math.isfinite(stores.at_least_C) else []),
        *([f"at most {stores.at_most_C:g} °C"] if math.isfinite(stores.at_most_C) else []),
    ]
    above = f"{stores.above_air_K:+g} K, " if stores.above_air_K else ""
    share = "" if stores.swing_share == 1.0 else f" by {100.0 * stores.swing_share:g} %"
    fill = f" Bladder filling by season: as the {climate.fill}." if chart.season_axis is not None else ""
    return [
        f"By season: air ± {air.day_swing_K:g} K about the day's mean; resin, packer and fibre as the air {stores.lag_days:g} days before, "
        f"{above}with its swing{share}{''.join(f', {words}' for words in limits)} (stores and vans: common practice, no source).{fill}"
    ]


def _length(mm: Any, unit: str) -> str:
    """A length of a case in mm, or in inches with mm behind; of a liner that varies round the pipe its table's ends."""
    values = sorted(mm["value"]) if isinstance(mm, dict) else [mm]
    ends = list(dict.fromkeys((values[0], values[-1])))
    words = f"{' to '.join(f'{v:g}' for v in ends)} mm"
    return f"{' to '.join(f'{v / 25.4:.3g}' for v in ends)} in ({words})" if unit == "in" else words


def _criterion(chart: ChartDocument) -> str:
    """When a resin point counts as safe to release."""
    criteria = [verdict["criterion"] for verdict in chart.verdicts]

    def span(key: str, scale: float = 1.0) -> str:
        # None: no resin in this wall does.
        ends = sorted({math.inf if c[key] is None else scale * c[key] for c in criteria})
        least, most = (f"{v:.3g}" if math.isfinite(v) else "never" for v in (ends[0], ends[-1]))
        return least if least == most else f"{least} to {most} (by cell)"

    loads = dict.fromkeys(need["what"] for c in criteria for need in c["needs"] if need["modulus_MPa"] is not None)
    return (
        f"degree of cure in % at least {span('alpha_min', 100.0)} and Tg in K above the resin at least "
        f"{span('Tg_margin_K')} everywhere{f', to bear {_and(list(loads))}' if loads else ''}"
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
