"""The verdict for people: a short page for the terminal, and the same for a notebook.

Times are rounded to the safe side: what ends the work is rounded down, what must be waited for is
rounded up.
"""

from __future__ import annotations

import html as markup
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from rich.console import Console, ConsoleOptions, Group, RenderResult
from rich.padding import Padding
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from libcure import changes, conditions_view, section_view
from libcure.errors import one_line
from libcure.rounding import duration, short_duration

if TYPE_CHECKING:
    from libcure.ranges import Ranges
    from libcure.result import Prediction
    from libcure.sampling import Band

__all__ = ["Line", "VerdictView", "html", "place_of", "summary", "usual_cautions"]

WIDEST = 110
# Codes of what holds whatever the times; advice, a followed job and charts repeat them, all else is in the verdict.
USUAL = (
    "model_estimated",
    "criterion_is_assumed",
    "mixed_mass",
    "amine",
    "isocyanate",
    "styrene",
    "peroxide",
    "confined_space",
    "stored_air",
)
# The same in a few words, for the page of one job; JSON and HTML have them whole.
SHORT = {
    "criterion_is_assumed": "the resin maker's data, local codes and licensed practice come first, for no standard gives a release criterion",
    "mixed_mass": "mixed resin in bulk heats itself, may smoke or burn",
    "amine": "amine hardener: gloves, eye protection, fresh air",
    "isocyanate": "isocyanate: supplied air where its maker says so",
    "styrene": "styrene: ventilate, measure, no sparks",
    "peroxide": "peroxide: protect the eyes, never mix it with the accelerator directly",
    "confined_space": "test the air in chambers and large drains",
    "stored_air": "stand clear of an inflated bladder, let the air out before anything is loosened",
}
# What stands for a release that many samples do not have, by release state.
NOT_RELEASED = {"not_in_hold": "LATER", "vitrified": "NEVER", "gelled_before_held": "NONE", "outside_model": "NOT KNOWN", "failed": "NO ANSWER"}
LIKELY = "9 jobs in 10"
COLOURS = {"ok": "green", "wait": "yellow", "stop": "red"}
HTML_COLOURS = {"ok": "#1b6e3c", "wait": "#8a5a00", "stop": "#b3261e"}
NARROW = 76
"""Below this width a range stands under its time, not beside it."""
PLAIN = str.maketrans({"°": "", "α": "alpha", "≥": ">=", "–": "-", "−": "-", "…": "...", "×": "x", "÷": "/", "±": "+-", "²": "2", "³": "3"})


def usual_cautions(verdict: Mapping[str, Any]) -> tuple[str, ...]:
    """The cautions that every page repeats, in the order of the verdict."""
    return tuple(c["text"] for c in verdict["cautions"] if c["code"] in USUAL)


@dataclass(frozen=True)
class Line:
    """One line of the table."""

    name: str
    value: str
    why: str
    mark: str = ""
    """``key`` for the answer most asked for, ``bad`` for what stops the job, or empty."""
    likely: str = ""
    """From 5 to 95 % of the samples; empty without them."""
    unlikely: bool = False
    """Whether ``likely`` has something that must not be."""


@dataclass(frozen=True)
class Summary:
    """What the verdict says, in words."""

    title: str
    facts: list[tuple[str, str]]
    headline: str
    status: str
    """``ok``, ``wait`` or ``stop``."""
    lines: list[Line]
    reasons: list[tuple[str, str]]
    """Why not simply ``ok``: text, and the status that it alone makes."""
    cautions: list[str]
    """What else to mind at this job."""
    usual: list[tuple[str, str]]
    """What to mind at any job: in a few words, and whole."""
    defaults: list[str]
    numerics: str
    """Numerical error of each time; empty when it was not asked for."""
    ranged: bool
    """Whether the lines have ranges."""
    ranges: str
    """What the ranges are, or why there are none."""
    solver: str


def _point(point: Mapping[str, Any] | None, *, alpha: bool = False) -> str:
    if point is None:
        return ""
    # Rounded down: 79.9 % cured is not 80 %.
    cure = f", {math.floor(100.0 * point['alpha'])} % cured" if alpha and "alpha" in point else ""
    return f"{place_of(point)}, {point['temperature_C']:.0f} °C{cure}"


def _celsius(value: Any) -> str:
    """A temperature [°C] as text: a number, or the first one of a table."""
    if isinstance(value, Mapping):
        return f"{value['value'][0]:g} °C at first"
    return f"{round(value, 1):g} °C"


def summary(prediction: Prediction) -> Summary:
    """Turns a verdict with its answer and ranges into the words of the page."""
    v, answer, ranges = prediction.verdict, prediction.answer, prediction.ranges
    said = {reason.text for reason in answer.reasons}
    lines = _lines(v)
    return Summary(
        title=v["title"] or prediction.case.name,
        facts=_facts(prediction),
        headline=answer.headline,
        status=answer.status,
        lines=[*(lines if ranges is None else [_ranged(line, ranges) for line in lines])],
        reasons=[(reason.text, reason.status) for reason in answer.reasons],
        cautions=[c["text"] for c in v["cautions"] if c["text"] not in said and c["code"] not in SHORT],
        usual=[(SHORT[c["code"]], c["text"]) for c in v["cautions"] if c["code"] in SHORT],
        # The reasons, in brackets, are in the JSON verdict.
        defaults=[d.partition(" (")[0].replace(": ", " ") for d in v["defaults"]],
        numerics=_numerics(v),
        ranged=ranges is not None,
        ranges=_about(ranges, prediction.why_no_ranges),
        solver="; ".join(filter(None, (_solver(v["solver"]), conditions_view.far_radius(v["ground"])))),
    )


def _facts(prediction: Prediction) -> list[tuple[str, str]]:
    document, v = prediction.case.document, prediction.verdict
    resin = v["resin"]["title"] + (", ESTIMATED MODEL" if v["resin"]["estimated"] else "")
    pipe, liner, ground = document["pipe"], document["liner"], document["ground"]
    wall = (
        f"liner {liner['thickness_mm']:g} mm, pipe {pipe['material']} "
        f"{pipe['inner_diameter_mm']:g} mm bore, {pipe['wall_mm']:g} mm wall, "
        f"{ground['material']} at {_celsius(ground.get('temperature_C', v['ground']['temperature_C']))}"
    )
    section = document.get("section")
    shown = [("Section", section_view.describe(section))] if section else []
    if changed := changes.words(prediction.case):
        shown.append(("Changed", changed))
    return [("Resin", resin), ("Wall", wall), *shown, *conditions_view.facts(v["ground"], v["films"]), ("Release", _needs(v["criterion"]))]


def _needs(criterion: Mapping[str, Any]) -> str:
    """Each requirement of the release in a few words."""
    words = []
    for need in criterion["needs"]:
        if need["modulus_MPa"] is not None:
            reach = "beyond any resin here" if need["Tg_margin_K"] is None else f"Tg ≥ T{need['Tg_margin_K']:+.0f} K"
            words.append(f"{need['what']} ({need['modulus_MPa']:.3g} MPa: {reach})")
        elif need["alpha"] is not None:
            words.append(f"{need['what']} (≥ {100.0 * need['alpha']:.3g} %)")
        else:
            words.append(f"{need['what']} (Tg ≥ T{need['Tg_margin_K']:+.3g} K)")
    return "needs: " + ", ".join(words)


def _solver(solver: Mapping[str, Any]) -> str:
    return f"{solver['steps']} steps, energy balance closed to {solver['energy_residual']:.0e}"


def _numerics(v: Mapping[str, Any]) -> str:
    """The estimated numerical errors, rounded up."""
    errors = v["numerical_error"]
    if errors is None:
        return ""
    named = (
        ("working time", "working_time_min"),
        ("first gel", "gel_time_first_min"),
        ("last gel", "gel_time_last_min"),
        ("criterion met", "criterion_met_min"),
        ("return to service", "service_time_min"),
    )
    parts = []
    for name, key in named:
        if errors[key] is not None:
            parts.append(f"{name} {_plus_minus(errors[key])}")
        elif key in errors["knife_edge"]:
            parts.append(f"{name} CANNOT BE TOLD")
    peak = math.ceil(10.0 * errors["peak_temperature_K"] - 1e-6) / 10.0
    return ", ".join([*parts, f"hottest resin ± {peak:g} K"])


def _plus_minus(minutes: float) -> str:
    if minutes < 1.0:
        return f"± {max(1, math.ceil(60.0 * minutes - 1e-6))} s"
    if minutes < 10.0:
        return f"± {math.ceil(10.0 * minutes - 1e-6) / 10.0:g} min"
    return f"± {math.ceil(minutes - 1e-6)} min"


def _lines(v: Mapping[str, Any]) -> list[Line]:
    limiting = v["limiting"]

    def line(name: str, key: str, point: str, never: str, *, up: bool, why: str = "", mark: str = "") -> Line:
        minutes = v[key]
        if minutes is None:
            return Line(name, never, _point(limiting.get(point), alpha=True), "bad" if never.isupper() else "")
        decided = _point(limiting.get(point))
        return Line(name, duration(minutes, up=up), f"{why}{decided}" if decided else why, mark)

    outside = "not in these stages"
    lines = [line("Working time ends", "working_time_min", "working", outside, up=False)]
    if v["working_margin_min"] is not None:
        held = f"liner held from {duration(v['held_from_min'], up=True)}"
        late = v["working_margin_min"] < 0
        margin = duration(v["working_margin_min"], up=False)
        lines.append(Line("Working margin", f"{margin}, TOO LATE" if late else margin, held, "bad" if late else ""))
    lines += [
        line("First gel", "gel_time_first_min", "gel_first", outside, up=False),
        line("Last gel", "gel_time_last_min", "gel_last", outside, up=True),
        line("Criterion met", "criterion_met_min", "release", _never(v), up=True, why=_waits_for(v)),
        _bladder_out(v),
        _service(v),
        Line(
            "Hottest resin",
            f"{v['peak_temperature_C']:.0f} °C",
            f"{place_of(v['peak'])} at {duration(v['peak_time_min'], up=False).partition(' (')[0]}",
        ),
    ]
    return lines


def _ranged(line: Line, r: Ranges) -> Line:
    """The line with its range; without the minutes in brackets, for which there is no room then."""
    line = replace(line, value=re.sub(r" \(-?\d+ min\)", "", line.value))
    never = NOT_RELEASED.get(r.usual_failure, "")
    bands = {
        "Working time ends": (r.working_min, "later"),
        "Working margin": (r.working_margin_min, "no limit"),
        "First gel": (r.gel_first_min, "later"),
        "Last gel": (r.gel_last_min, "later"),
        "Criterion met": (r.criterion_met_min, never),
        "Return to service": (r.service_min, "LATER"),
    }
    if line.name == "Hottest resin":
        peak = r.peak_temperature_C
        high = f"{math.ceil(peak.p95 - 1e-6)} °C" if math.isfinite(peak.p95) else "NO ANSWER"
        return replace(line, likely=f"{math.floor(peak.p5 + 1e-6)} to {high}", unlikely=not math.isfinite(peak.p95))
    band, beyond = bands.get(line.name, (None, ""))
    if band is None:
        return line
    return replace(line, likely=_span(band, beyond), unlikely=band.p5 < 0.0 or (beyond.isupper() and math.isinf(band.p95)))


def _span(band: Band, beyond: str) -> str:
    """The 5 and 95 % of a time [min], rounded outward; ``beyond`` stands for infinite."""
    if math.isinf(band.p5):
        return beyond
    if band.p95 < 10.0:
        ends = [f"{math.floor(10.0 * band.p5 + 1e-6) / 10.0:g} min", f"{math.ceil(10.0 * band.p95 - 1e-6) / 10.0:g} min"]
    else:
        low = short_duration(math.floor(band.p5 + 1e-6))
        ends = [low, beyond if math.isinf(band.p95) else short_duration(math.ceil(band.p95 - 1e-6))]
    if ends[0] == ends[1]:
        return ends[0]
    if all(end.endswith(" min") for end in ends):
        ends[0] = ends[0].removesuffix(" min")
    return " to ".join(ends)


def _about(r: Ranges | None, why_none: str) -> str:
    """What the ranges are, or why there are none."""
    if r is None:
        return f"A point estimate, without ranges: {why_none}; the release is its time and numerical error times the safety factor."
    exact = "" if r.constants else " The resin's constants count as exact."
    failed = round(r.shares["failed"] * r.samples)
    lost = f" {failed} of them could not be computed and count to the conservative side." if failed else ""
    return (
        f"{LIKELY}: 5 to 95 % of {r.samples} samples of this job, held for {short_duration(r.look_min)} (to service: of the stages given), with "
        f"what is not known exactly; {r.uncertain}.{exact}{lost} Bladder out: their 95 % side, with its sampling and numerical error, up to "
        "the next 5 min."
    )


def place_of(point: Mapping[str, Any]) -> str:
    """Layer, position and, in a section, the place along it of a point of a verdict."""
    where = str(point["layer"])
    if point["position"] == "whole mass":
        return where
    along = section_view.place(point)
    return f"{where} {point['position']}" + (f", {along}" if along else "")


def _never(v: Mapping[str, Any]) -> str:
    return {
        "vitrified": "NEVER: vitrified",
        "gelled_before_held": "NONE: gelled before held",
        "not_in_hold": "NOT WHILE HELD",
        "no_held_stage": "NO HELD STAGE",
        "outside_model": "NOT KNOWN: no evidence",
    }.get(v["release_state"], "NEVER")


def _bladder_out(v: Mapping[str, Any]) -> Line:
    """The answer; without a number where the job must not be done."""
    minutes = v["answer"]["release_min"]
    if minutes is None:
        return Line("BLADDER OUT", "NOT TO BE PLANNED", "see the cautions", "bad")
    if v["answer"]["basis"] == "point":
        why = f"{v['criterion']['safety_factor']:g} × the time above, up to the next 5 min"
    else:
        why = "95 % side, up to the next 5 min"
    return Line("BLADDER OUT", duration(minutes, up=True), why, "key")


def _waits_for(v: Mapping[str, Any]) -> str:
    """Which requirement of the release is met last."""
    point = v["limiting"].get("release")
    if point is None:
        return ""
    criterion = v["criterion"]
    if abs(point["alpha"] - criterion["alpha_min"]) < 1e-4:
        return f"{100.0 * criterion['alpha_min']:.3g} % cured, "
    if criterion["Tg_margin_K"] is None:
        return "never borne, "
    asked = [need for need in criterion["needs"] if need["Tg_margin_K"] is not None]
    hardest = max(asked, key=lambda need: float(need["Tg_margin_K"]), default=None)
    loaded = f" ({hardest['what']})" if hardest is not None and hardest["modulus_MPa"] is not None else ""
    return f"Tg ≥ T+{criterion['Tg_margin_K']:.3g} K{loaded}, "


def _service(v: Mapping[str, Any]) -> Line:
    name, minutes, criterion = "Return to service", v["service_time_min"], v["criterion"]
    needs = f"Tg ≥ {criterion['service_temperature_C'] + criterion['service_Tg_margin_K']:g} °C"
    point = v["limiting"].get("service")
    if v["release_state"] == "gelled_before_held":
        return Line(name, "NONE: gelled before held", "", "bad")
    if minutes is None:
        return Line(name, "NOT IN THESE STAGES", f"{needs}, {_point(point, alpha=True)}" if point else needs, "bad")
    if point is not None and point["time_min"] < minutes:
        return Line(name, duration(minutes, up=True), f"{needs} already at release")
    return Line(name, duration(minutes, up=True), f"{needs}, {_point(point)}")


class VerdictView:
    """A verdict that rich can print, with its ranges; from 60 columns on."""

    def __init__(self, prediction: Prediction) -> None:
        self.prediction = prediction

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        width = min(options.max_width, WIDEST)
        yield from console.render(self._page(options.ascii_only, width < NARROW), options.update(width=width))

    def _page(self, ascii_only: bool, narrow: bool) -> Group:
        s = summary(self.prediction)

        def text(words: str, style: str = "") -> Text:
            words = one_line(words)
            return Text(words.translate(PLAIN) if ascii_only else words, style)

        facts = Table.grid(padding=(0, 2))
        for name, value in s.facts:
            facts.add_row(text(name, "dim"), text(value))
        head = Panel(
            Group(facts, Text(), text(s.headline, f"bold {COLOURS[s.status]}")),
            title=text(s.title, "bold"),
            title_align="left",
            border_style=COLOURS[s.status],
        )

        times = Table(box=None, padding=(0, 1, 0, 1), pad_edge=False, header_style="dim")
        times.add_column(text(" From mixing"), no_wrap=True)
        under, beside = s.ranged and narrow, s.ranged and not narrow
        times.add_column(text(f"Time, {LIKELY}" if under else "Time"), no_wrap=True)
        if beside:
            times.add_column(text(LIKELY), no_wrap=True)
        times.add_column(text("Decided by"))
        for line in s.lines:
            style = {"key": f"bold {COLOURS[s.status]}", "bad": "bold red"}.get(line.mark, "")
            point, likely = text(line.value, style), text(line.likely, "bold red" if line.unlikely else "")
            shown = Group(point, likely) if under and line.likely else point
            times.add_row(text(" " + line.name, style), shown, *([likely] if beside else []), text(line.why))

        cautions = Table.grid(padding=(0, 1))
        cautions.add_column(justify="right", width=3)
        cautions.add_column()
        for number, (words, status) in enumerate([*s.reasons, *((c, "") for c in s.cautions)], 1):
            style = f"bold {COLOURS[status]}" if status else ""
            cautions.add_row(text(f"{number}.", style), text(words, style))

        short = "; ".join(words for words, _ in s.usual)
        cautions.add_row(text(""), text(f"At any job: {short}."))

        numerics = [text(f"Numerical error: {s.numerics}.")] if s.numerics else []
        foot = [text(s.solver + ".", "dim")]
        if s.defaults:
            foot.insert(0, text("Not in the case, so by default: " + "; ".join(s.defaults) + ".", "dim"))
        if s.ranges:
            others = " Others by --uncertain." if s.ranged else ""
            foot.insert(0, text(s.ranges + others, "dim"))
        return Group(
            head, times, *(Padding(n, (0, 1, 0, 1)) for n in numerics), Text(), text(" Cautions", "bold"), cautions, Text(), Padding(Group(*foot), (0, 1))
        )


def html(prediction: Prediction) -> str:
    """The same page for a notebook; every text escaped."""
    s = summary(prediction)

    def e(words: str) -> str:
        return markup.escape(one_line(words))

    whole = "white-space:nowrap;"
    shades = {status: f"color:{colour};font-weight:bold" for status, colour in HTML_COLOURS.items()}
    bad = shades["stop"]
    styles = {"bad": bad, "key": shades[s.status], "": ""}
    facts = "<br>".join(f"{e(name)}: {e(value)}" for name, value in s.facts)

    def cell(words: str, style: str = "") -> str:
        return f'<td style="text-align:left;{style}">{e(words)}</td>'

    def likely(line: Line) -> str:
        return cell(line.likely, whole + (bad if line.unlikely else "font-weight:normal")) if s.ranged else ""

    rows = "".join(
        f'<tr style="{styles[line.mark]}">{cell(line.name, whole)}{cell(line.value, whole)}{likely(line)}{cell(line.why)}</tr>'
        for line in s.lines
    )
    heading = "".join(f'<th style="text-align:left">{name}</th>' for name in ("From mixing", "Time", *([LIKELY] if s.ranged else []), "Decided by"))
    cautions = "".join(f'<li style="{shades[status]}">{e(words)}</li>' for words, status in s.reasons)
    cautions += "".join(f"<li>{e(words)}</li>" for words in [*s.cautions, *(whole for _, whole in s.usual)])
    opened = " open" if s.reasons else ""
    numerics = f"Numerical error: {e(s.numerics)}.<br>" if s.numerics else ""
    about = f"{e(s.ranges)}<br>" if s.ranges else ""
    defaults = f"Not in the case, so by default: {e('; '.join(s.defaults))}.<br>" if s.defaults else ""
    return (
        f'<div><b>{e(s.title)}</b><br>{facts}<br><span style="{shades[s.status]}">{e(s.headline)}</span>'
        f"<table><thead><tr>{heading}</tr></thead>"
        f"<tbody>{rows}</tbody></table><details{opened}><summary>{len(s.reasons) + len(s.cautions) + len(s.usual)} cautions</summary><ol>{cautions}</ol>"
        f"</details><small>{numerics}{about}{defaults}{e(s.solver)}.</small></div>"
    )
