"""What a chart says in sentences: cautions, and what its numbers rest on."""

from __future__ import annotations

import math
import re
from typing import TYPE_CHECKING, Any

from libcure import _core
from libcure.charting.axes import follows
from libcure.charting.climate import ZERO_CELSIUS
from libcure.charting.document import ChartDocument
from libcure.sampling.resin_constants import resin_constants
from libcure.words.page import USUAL
from libcure.words.phrases import phrase
from libcure.words.rounding import short_duration

if TYPE_CHECKING:
    from collections.abc import Iterable

    from libcure.charting.result import Answer, ChartResult

__all__ = [
    "assumptions",
    "between",
    "both_degrees",
    "by_month",
    "cautions",
    "check_first",
    "code_words",
    "fahrenheit",
    "headline",
    "how_to_read",
    "input_name",
    "made_for",
    "most_words",
    "moves_most",
    "rests_on",
    "spoken",
    "trace",
]

# Words of an answer by their key in the catalogue; what follows them (a time, a temperature) stays.
_CODES = {
    "DO NOT USE": "do_not_use",
    "SHORT": "short",
    "TOO LATE": "too_late",
    "SETS TOO SOON": "sets_too_soon",
    "NEVER": "never",
    "NOT KNOWN": "not_known",
    "NO ANSWER": "no_answer",
    "NOT IN": "not_in",
    "TOO SLOW": "too_slow",
    "TOO HOT": "too_hot",
    "no limit met": "no_limit",
}


# Inputs that no document names.
_INPUTS = {"resin constants": "input_constants", "day within the month": "input_day", "weather of the day": "input_weather"}


# What the core says in English of a section and of a resin: each phrase is found as the English catalogue has it. Longer before what it holds.
_OF_CORE = (
    "section_around", "section_along", "section_same", "section_water", "section_warmer", "section_gap", "section_soil", "section_bare",
    "section_length", "not_measured_cold", "not_measured_bulk",
)  # fmt: skip


def _of_core(chart: ChartDocument, text: str) -> str:
    """Words of the core in the language of the chart."""
    if chart.publication.language == "en":
        return text
    for key in _OF_CORE:
        pattern = re.sub(r"\\{(\w+)\\}", r"(?P<\1>-?[\\d.]+)", re.escape(phrase(key)))
        text = re.sub(pattern, lambda found, key=key: chart.say(key, **found.groupdict()), text)  # type: ignore[misc]
    text = re.sub(r"(?<=\d) to (?=-?\d)", f" {chart.say('to')} ", text)
    return text.replace(", and ", f" {chart.say('and')} ")


def code_words(chart: ChartDocument, text: str) -> str:
    """A word or a text of an answer in the language of the chart."""
    if chart.publication.language == "en":
        return text
    stop, colon, reasons = text.partition(": ")
    if colon:
        return f"{code_words(chart, stop)}: {', '.join(code_words(chart, word) for word in reasons.split(', '))}"
    for code, key in _CODES.items():
        if text == code or text.startswith(f"{code} "):
            rest = text[len(code) :]
            return chart.say(key) + (f" {code_words(chart, rest[1:])}" if rest else "")
    return text


def cautions(result: ChartResult) -> list[str]:
    """Those of the chart as a whole, and the general ones of each resin's verdict."""
    too_hot = sum(bool(answer.hot_word) for answer in result.answers.values())
    hotter = sum(
        (math.inf if (peak := result.records[index]["peak_bound_C"]) is None else peak) > case.resin.temperature_max - ZERO_CELSIUS
        for index, case in result.chart.cases.items()
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
        texts.append(chart.say("cells_too_hot", n=too_hot, count=count))
    texts += [chart.say(key, n=n, count=count) for n, key in ((hotter, "cells_hotter"), (colder, "cells_colder")) if n]
    general: dict[str, str] = {}
    for verdict in chart.verdicts:
        for caution in verdict["cautions"]:
            if caution["code"] in USUAL:
                # The core has the English words.
                known = chart.publication.language == "en"
                general.setdefault(caution["code"], caution["text"] if known else chart.say(f"caution_{caution['code']}"))
    return [*texts, *(general[code] for code in USUAL if code in general)]


def _rests_on(chart: ChartDocument, dominant: str | None, violations: int) -> list[str]:
    found = _settings(chart)
    if dominant is not None:
        found.append(moves_most(chart, dominant))
    found.append(check_first(chart, violations) or chart.say("checked"))
    return found


def input_name(chart: ChartDocument, name: str) -> str:
    """What an input is called: by the document, or in the language of the chart."""
    key = _INPUTS.get(name)
    return chart.say(key) if key else name


def moves_most(chart: ChartDocument, dominant: str | None) -> str:
    """Which input moves the release time most; empty where none does."""
    if dominant is None:
        return ""
    name = input_name(chart, dominant)
    return chart.say("moves_most", name=name.lower() if name == dominant else name)


def check_first(chart: ChartDocument, violations: int) -> str:
    """What stands on top of a chart whose cells contradict each other; empty where none do."""
    if not violations:
        return ""
    return chart.say("check_first_one") if violations == 1 else chart.say("check_first", n=violations)


def how_to_read(chart: ChartDocument) -> str:
    """What the numbers of a cell are."""
    return chart.say("how_to_read")


def between(chart: ChartDocument) -> str:
    """The rule for what lies between cells, with an example of the chart's own rows."""
    rows = chart.axis(chart.rows)
    example = ""
    if rows.numeric and len(rows.values) > 1:
        low, high = (float(v) for v in rows.values[:2])
        value = f"{0.5 * (low + high):g} {rows.unit}".strip()
        example = chart.say("between_example", value=value, low=rows.labels[0], high=rows.labels[1])
    return chart.say("between", example=example)


def spoken(result: ChartResult, answers: Iterable[Answer]) -> str:
    """A page in words, cell by cell, as a screen reader says it."""
    chart, say = result.chart, result.chart.say
    estimated = any(case.resin.estimated for case in chart.cases.values())
    told = [f"{chart.title}.", *([f"{say('estimated')}."] if estimated else []), f"{headline(chart)}."]
    told += [how_to_read(chart), made_for(chart), between(chart)]
    alarm = check_first(chart, len(result.violations))
    for answer in answers:
        times = [(say("in_place"), answer.in_place_text), (say("work"), answer.working_text), (say("page_release"), answer.release_text)]
        said = ", ".join(f"{name} {code_words(chart, text)}" for name, text in times if text) if answer.use else code_words(chart, answer.release_text)
        told.append(f"{result.where(answer.index)}: {said}.")
    return " ".join(filter(None, (alarm, *told)))


def trace(result: ChartResult) -> str:
    """What the numbers come from: version, day, hash of the inputs, samples and models."""
    chart = result.chart
    models = ", ".join(dict.fromkeys(case.resin.id for case in chart.cases.values()))
    made = chart.say("trace", hash=result.inputs_hash, samples=result.samples, seed=chart.seed, models=models)
    return f"libcure {_core.__version__}   {result.date}   {made}"


def by_month(chart: ChartDocument) -> str:
    """The rule of the strip of months."""
    known = chart.climate is not None and chart.climate.air is not None
    resin = any(a.numeric and "initial_temperature_C.resin" in a.sets for a in chart.axes)
    return chart.say("by_season" if known and resin else "by_month")


def headline(chart: ChartDocument) -> str:
    """The two temperatures that a crew can read on site, in large print: where on the sheet they stand, or what they must be."""
    wall, resin, packer = (
        _reading(chart, ("initial_temperature_C.pipe", "ground.temperature_C"), "pipe"),
        _reading(chart, ("initial_temperature_C.resin",), "resin"),
        _reading(chart, ("initial_temperature_C.packer",), "packer"),
    )
    parts = [("pipe_wall", wall)]
    parts += [("resin_and_packer_head", resin)] if resin == packer else [("resin_head", resin), ("packer_head", packer)]
    return "   ".join(f"{chart.say(key)} {reading}" for key, reading in parts)


def _reading(chart: ChartDocument, paths: tuple[str, ...], name: str) -> str:
    axis = next((a for a in chart.axes if any(path in a.sets for path in paths)), None)
    if axis is not None:
        places = {chart.rows: "rows", chart.columns: "columns", chart.panels: "panels", chart.pages: "pages"}
        return f"→ {chart.say(places[axis.name])}"
    values = sorted({v for index in chart.cases if (v := _start_C(chart, index, name)) is not None})
    return chart.say("as_below") if not values else chart.written(both_degrees(values[0], values[-1], chart.temperature, chart.say("to")))


def both_degrees(low: float, high: float, first: str = "°C", to: str = "to") -> str:
    """``16 °C (61 °F)``, ``12 to 16 °C (54 to 61 °F)``, or the other way round; given in °C."""
    celsius = f"{low:g}" if low == high else f"{low:g} {to} {high:g}"
    other = f" {to} ".join(f"{fahrenheit(v):.0f}" for v in dict.fromkeys((low, high)))
    return f"{other} °F ({celsius} °C)" if first == "°F" else f"{celsius} °C ({other} °F)"


def made_for(chart: ChartDocument) -> str:
    """The temperatures that the axes leave as they are, which a crew can measure and must check first; and what has no release."""
    names = ("resin", "packer", "fibre", "air", "fill")
    found: dict[str, list[str]] = {}
    for name in names:
        values = sorted({v for index in chart.cases if (v := _start_C(chart, index, name)) is not None})
        if not values or any(path in _paths(chart, name) for axis in chart.axes for path in axis.sets):
            continue
        span = both_degrees(values[0], values[-1], chart.temperature, chart.say("to"))
        found.setdefault(span, []).append(chart.say(name))
    silent = _not_known_of_resins(chart)
    if not found:
        return silent
    months = chart.say("every_month") if chart.season_axis is not None else ""
    parts = (f"{_and(chart, same)} {span}" for span, same in found.items())
    return chart.say("made_for", temperatures=", ".join(parts), months=months) + (f" {silent}" if silent else "")


def _not_known_of_resins(chart: ChartDocument) -> str:
    """What the models know nothing of, or only from their family."""
    cases = chart.cases.values()
    needs = {v["criterion"]["Tg_margin_K"] for v in chart.verdicts}
    most = max((need for need in needs if need is not None), default=0.0)
    names = sorted({case.resin.id for case in cases if case.resin.Tg_margin_max < most})
    words = [chart.say("no_release_for", names=_and(chart, names))] if names else []
    missing = {case.resin.id: case.resin.not_measured for case in cases if case.resin.not_measured}
    words += [chart.say("not_measured", name=name, what=_of_core(chart, what)) for name, what in sorted(missing.items())]
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


def _and(chart: ChartDocument, names: list[str]) -> str:
    return f" {chart.say('and')} ".join(filter(None, (", ".join(names[:-1]), names[-1])))


def assumptions(chart: ChartDocument) -> list[str]:
    """What the numbers rest on, one sentence each."""
    return [*filter(None, (made_for(chart),)), *_settings(chart)]


def _settings(chart: ChartDocument) -> list[str]:
    document = next(iter(chart.case_documents.values()))
    varied, say = {path for axis in chart.axes for path in axis.sets}, chart.say

    def given(path: str, text: str) -> list[str]:
        return [] if path in varied else [text]

    pipe, liner, ground = document["pipe"], document["liner"], document["ground"]
    wall = [
        *given("pipe.inner_diameter_mm", say("bore", length=_length(chart, pipe["inner_diameter_mm"]))),
        *given("pipe.wall_mm", f"{_length(chart, pipe['wall_mm'])} {pipe['material']}"),
        *given("liner.thickness_mm", say("liner", length=_length(chart, liner["thickness_mm"]))),
        *given("ground.material", say("in_ground", ground=ground["material"])),
    ]
    stages = []
    for i, stage in enumerate(document["stages"]):
        key = {"mixed_mass": "in_pouch", "wet_out": "wet_out", "held": "held"}.get(stage["kind"])
        if key is not None and f"stages[{i}].duration_min" not in varied:
            stages.append(say(key, time=short_duration(stage["duration_min"])))
    found = [say("every_cell", wall=", ".join(wall), stages=", ".join(stages)), _criterion(chart)]
    sections = dict.fromkeys(case.core.section_words for case in chart.cases.values() if "section" in case.document)
    found += [say("section", what=_of_core(chart, words)) for words in sections]
    spread = [_spread(chart, i) for i in range(len(chart.inputs))]
    if chart.constants:
        spread.append(say("constants_vary"))
    if chart.season_axis is not None:
        spread.append(say("any_day"))
    found.append(say("uncertain", inputs="; ".join(spread)))
    found += _year(chart)
    if chart.constants:
        models = {case.resin.id: resin_constants(chart.case_documents[index], chart.beside) for index, case in chart.cases.items()}
        without = sorted(name for name, constants in models.items() if constants is None or not constants.whole)
        if without:
            found.append(say("no_covariance", names=", ".join(without)))
    return found


def _year(chart: ChartDocument) -> list[str]:
    """How air, stores and fill go with the season, where the chart uses it."""
    climate = chart.climate
    if climate is None or climate.air is None or climate.stores is None:
        return []
    stores, air, say = climate.stores, climate.air, chart.say
    limits = [
        *([say("year_least", limit=f"{stores.at_least_C:g} °C")] if math.isfinite(stores.at_least_C) else []),
        *([say("year_most", limit=f"{stores.at_most_C:g} °C")] if math.isfinite(stores.at_most_C) else []),
    ]
    above = f"{stores.above_air_K:+g} K, " if stores.above_air_K else ""
    share = "" if stores.swing_share == 1.0 else say("year_share", percent=f"{100.0 * stores.swing_share:g}")
    told = say("by_year", swing=f"{air.day_swing_K:g}", lag=f"{stores.lag_days:g}", above=above, share=share, limits="".join(limits))
    axis = chart.season_axis
    fill = axis is not None and any((f := follows(path)) is not None and f.what == "fill" for path in axis.sets)
    return [told + (say("year_fill", what=say(climate.fill)) if fill else "")]


def _length(chart: ChartDocument, mm: Any) -> str:
    """A length of a case in mm, or in inches with mm behind; of a liner that varies round the pipe its table's ends."""
    values = sorted(mm["value"]) if isinstance(mm, dict) else [mm]
    ends, to = list(dict.fromkeys((values[0], values[-1]))), f" {chart.say('to')} "
    words = f"{to.join(f'{v:g}' for v in ends)} mm"
    return f"{to.join(f'{v / 25.4:.3g}' for v in ends)} in ({words})" if chart.length == "in" else words


def _criterion(chart: ChartDocument) -> str:
    """When a resin point counts as safe to release."""
    criteria = [verdict["criterion"] for verdict in chart.verdicts]

    def span(key: str, scale: float = 1.0) -> str:
        # None: no resin in this wall does.
        ends = sorted({math.inf if c[key] is None else scale * c[key] for c in criteria})
        least, most = (f"{v:.3g}" if math.isfinite(v) else chart.say("number_never") for v in (ends[0], ends[-1]))
        return least if least == most else chart.say("by_cell", least=least, most=most)

    loads = dict.fromkeys(need["what"] for c in criteria for need in c["needs"] if need["modulus_MPa"] is not None)
    names = [chart.say(f"load_{name.replace(' ', '_')}") for name in loads]
    bear = chart.say("to_bear", loads=_and(chart, names)) if names else ""
    return chart.say("criterion", alpha=span("alpha_min", 100.0), margin=span("Tg_margin_K"), loads=bear)


def _spread(chart: ChartDocument, i: int) -> str:
    u = chart.inputs[i]
    if u.distribution == "lognormal":
        size = f"×/÷ {math.exp(u.spread):.2g}"
    else:
        size = f"{100.0 * u.spread:g} %" if u.is_factor else f"{u.spread:g} K"
    # A standard deviation and a half width are not the same ±.
    return f"{u.title.lower()} ± {size} ({chart.say('evenly')})" if u.distribution == "uniform" else f"{u.title.lower()} ({chart.say('one_sd')}: {size})"


def fahrenheit(celsius: float) -> float:
    """[°F] from [°C]."""
    return 1.8 * celsius + 32.0
