"""A followed job for people: a short page for the terminal, and the same for a notebook."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from rich.console import Console, ConsoleOptions, Group, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from libcure import _core
from libcure.following.result import Band, FollowResult, Sure, Unknown
from libcure.render.html import filled
from libcure.render.page_look import HTML_COLOURS, words_for
from libcure.render.panel import Titled
from libcure.words import changes
from libcure.words.page import WIDEST
from libcure.words.rounding import duration

__all__ = ["FollowView", "Page", "decision", "html", "page"]

ASSUMED = _core.follow_assumptions()
WHY_NEVER = {
    "vitrified": "it turns to glass before it is cured enough: warm it",
    "not_in_hold": "it is not ready in two days: warm it",
    "gelled_before_held": "it gels before it is held",
    "no_held_stage": "there is no hold",
    "outside_model": "the resin's model says nothing about setting in the cold",
    "failed": "it could not be computed",
}


@dataclass(frozen=True)
class Page:
    """What is said, in words."""

    title: str
    facts: list[tuple[str, str]]
    headline: str
    good: bool
    """False when the readings are not relied on, or there is no release."""
    with_readings: str
    """Heading of the times with them."""
    times: list[tuple[str, str, str, bool]]
    """Name, before, with the readings, and whether it is the answer."""
    unknowns: list[tuple[str, str, str, str]]
    reasons: list[str]
    faults: list[str]
    cautions: list[str]
    usual_cautions: str
    foot: str


def _minutes(minutes: float, *, up: bool) -> str:
    return duration(minutes, up=up).partition(" (")[0] if math.isfinite(minutes) else "never"


def _range(band: Band) -> str:
    if math.isinf(band.p5):
        return "never"
    low = _minutes(band.p5, up=False)
    if math.isinf(band.p95):
        return f"{low} to NEVER"
    high = _minutes(band.p95, up=True)
    return f"{low} to {high}"


def _release(minutes: float) -> str:
    return duration(minutes, up=True) if math.isfinite(minutes) else "NONE"


def _why(sure: Sure) -> str:
    if not sure.never:
        return ""
    name, _share = max(sure.never.items(), key=lambda item: item[1])
    count = f"in {100.0 * sum(sure.never.values()):.0f} of 100 simulations that fit"
    return f"{count} there is no release while held ({WHY_NEVER.get(name, name)})"


CHECK = "Check that the logger's times count from mixing, their unit in the heading, and where the probe lies."


def decision(r: FollowResult) -> tuple[str, str]:
    """What to do, and what to do else; every front shows this."""
    answer = r.release_min
    if math.isinf(answer):
        # What decides is whichever of the two has no release.
        sure = r.after if math.isinf(r.after.wait_until_min) else r.before
        never = f"NO RELEASE TIME: {_why(sure)}. Do not take the bladder out by this."
        return never, "" if r.relied_on else "The readings are NOT RELIED ON."
    until = f"{duration(answer, up=True)} after mixing"
    if not r.relied_on:
        first = "DO NOT LET THE BLADDER OUT ON THESE READINGS: they are NOT RELIED ON."
        return first, f"Else keep the bladder in until {until}, by a clock that is right."
    if r.passed:
        return f"The release, {until}, has passed: the bladder may come out.", ""
    return f"Keep the bladder in until {until}.", ""


def _headline(r: FollowResult) -> str:
    """The decision, what to check, and what it was before the readings."""
    before, (first, other) = r.before.wait_until_min, decision(r)
    was = "the same" if before == r.release_min else _release(before) if math.isfinite(before) else "none"
    said = "" if math.isinf(r.release_min) else f"Before the readings it was {was}."
    return " ".join(words for words in (first, "" if r.relied_on else CHECK, other, said) if words)


def _now(r: FollowResult) -> str:
    now = f"{duration(r.now_min, up=False)} after mixing"
    if r.now_given:
        return f"{now} (--now)"
    return f"{now} (last row)" if r.relied_on else f"not known: the last row says {now}; --now MIN gives it"


def _value(value: float, unit: str) -> str:
    if unit == "1":
        return f"{value:.2f}"
    if unit == "%":
        return f"{round(value) + 0:+.0f}"
    return f"{round(value, 1) + 0.0:+.1f}"


def _span(band: Band, unit: str) -> str:
    low, high = _value(band.p5, unit), _value(band.p95, unit)
    return f"× {low} to {high}" if unit == "1" else f"{low} to {high} {unit}"


def _says(u: Unknown) -> str:
    """What the readings say about it."""
    middle = u.after.p50
    if u.kept > 0.9 and abs(u.moved) < 0.5:
        return "readings say little"
    if abs(u.moved) < 0.5:
        return "as assumed"
    more = middle > u.before.p50
    if u.name == "clock":
        return f"{abs(middle):.1f} min {'behind' if more else 'ahead'}"
    if u.name == "probe":
        return f"reads {abs(middle):.1f} K {'high' if more else 'low'}"
    if u.name == "fill_share":
        return f"{abs(middle):.0f} % {'towards' if more else 'away from'} the fill"
    if u.unit == "1":
        return f"× {middle:.2f}, {'more' if more else 'less'} than in the case"
    return f"{abs(middle):.1f} K {'warmer' if more else 'colder'} than in the case"


def page(r: FollowResult) -> Page:
    """Turns a result into words."""
    readings = r.readings
    shown = f"{r.used} of {readings.time.size} used"
    if r.used:
        t = readings.time[readings.used]
        shown += f", from {t[0] / 60:.0f} to {t[-1] / 60:.0f} min, worth {r.effective_readings:.1f} independent ones"
    rows = [("Working time", "working_min"), ("Last gel", "gel_last_min"), ("Criterion met", "criterion_met_min")]
    times = [(name, _range(getattr(r.before, key)), _range(getattr(r.after, key)), False) for name, key in rows]
    before, after = (_release(sure.wait_until_min) for sure in (r.before, r.after))
    times.append(("BLADDER OUT", before, after, True))
    source = "the ranges are those of predict, assumptions without a source"
    if any(u.source == "given" for u in r.unknowns):
        own = ", ".join(u.title[:1].lower() + u.title[1:] for u in r.unknowns if u.source == ASSUMED["assumed"])
        source = f"the ranges are those given, for {own} assumptions without a source"
    if any(u.name == "resin_speed" for u in r.unknowns):
        source += "; the constants of the resin vary by its covariance"
    foot = (
        f"Bladder out: the {100.0 * ASSUMED['side']:.0f} % side of the time at which the criterion is met, with its sampling "
        f"error, up to the next 5 min; without readings as predict says it. Bands are 5 to 95 %: {source}. Assumed too, without "
        f"a source: a reading errs by {ASSUMED['sensor_sd']:g} K, the model by {ASSUMED['model_sd']:g} K for some "
        f"{ASSUMED['correlation_time'] / 60:.0f} min the same way, its times by {100.0 * ASSUMED['time_sd']:.0f} %. "
        f"{r.effective_rows:.0f} effective rows, seed {r.seed}."
    )
    return Page(
        title=r.case.title or r.case.name,
        facts=[
            ("Probe", r.at + (f", {r.file}" if r.file else "")),
            ("Readings", shown),
            ("Now", _now(r)),
            *([("Changed", changed)] if (changed := changes.words(r.case)) else []),
        ],
        headline=_headline(r),
        good=r.relied_on and math.isfinite(r.release_min),
        with_readings="With the readings" if r.relied_on else "With readings NOT RELIED ON",
        times=times,
        # Without readings they are as assumed, and the foot says so.
        unknowns=[(u.title, _span(u.before, u.unit), _span(u.after, u.unit), _says(u)) for u in r.unknowns if r.used],
        reasons=[s.text for s in r.reasons],
        faults=[s.text for s in r.faults],
        cautions=list(r.cautions),
        usual_cautions=" ".join(["Cautions:", *r.usual_cautions]),
        foot=foot,
    )


class FollowView:
    """A result that rich can print; from 60 columns on."""

    def __init__(self, result: FollowResult) -> None:
        self.result = result

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        yield from console.render(self._page(options.ascii_only), options.update(width=min(options.max_width, WIDEST)))

    def _page(self, ascii_only: bool) -> Group:
        p = page(self.result)

        def text(words: str, style: str = "") -> Text:
            return Text(words_for(words, ascii_only), style)

        facts = Table.grid(padding=(0, 2))
        facts.add_column()
        facts.add_column(overflow="fold")
        for name, value in p.facts:
            facts.add_row(text(name, "dim"), text(value))
        colour = "green" if p.good else "red"
        head = Titled(Group(facts, Text(), text(p.headline, f"bold {colour}")), text(p.title, "bold"), colour)

        times = Table(box=None, padding=(0, 1, 0, 1), pad_edge=False, header_style="dim")
        for i, heading in enumerate(("From mixing", "Before the readings", p.with_readings)):
            times.add_column(text(heading), no_wrap=i == 0)
        for name, before, after, key in p.times:
            style = f"bold {colour}" if key else ""
            times.add_row(text(name, "bold" if key else ""), text(before, "bold" if key else ""), text(after, style))

        unknowns = Table(box=None, padding=(0, 1, 0, 1), pad_edge=False, header_style="dim")
        for i, heading in enumerate(("Not known", "Assumed", "With the readings", "That is")):
            unknowns.add_column(text(heading), overflow="fold", min_width=(12, 14, 14, 12)[i])
        for name, before, after, says in p.unknowns:
            unknowns.add_row(text(name), text(before), text(after), text(says))

        changed: list[Text | Padding] = [Text(), Padding(unknowns, (0, 0, 0, 1))] if p.unknowns else []

        def listed(heading: str, words: Sequence[str], style: str) -> list[Text | Table]:
            if not words:
                return []
            table = Table.grid(padding=(0, 1))
            table.add_column(width=2, justify="right")
            table.add_column()
            for line in words:
                table.add_row(text("-", style), text(line, style))
            return [Text(), text(heading, "bold"), table]

        return Group(
            head,
            Padding(times, (0, 0, 0, 1)),
            *changed,
            *listed(" Why the readings are not relied on", p.reasons, "bold red"),
            *listed(" Wrong readings, left out", p.faults, ""),
            *listed(" Urgent cautions of the plan", p.cautions, "bold red"),
            Text(),
            Padding(text(p.usual_cautions), (0, 1)),
            Text(),
            Padding(text(p.foot, "dim"), (0, 1)),
        )


def html(result: FollowResult) -> str:
    """The same page for a notebook; every text escaped."""
    p = page(result)
    return filled("follow.html", page=p, times=[row[:3] for row in p.times], colour=HTML_COLOURS["ok" if p.good else "stop"])
