"""The advice for people: one screen for the terminal, and the same for a notebook.

Times are rounded to the safe side: what ends the work is rounded down, what must be waited for is rounded up.
"""

from __future__ import annotations

import io
import math

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.panel import Panel
from rich.table import Table
from rich.text import Text

from libcure.advising.result import Advice, Outcome
from libcure.charting.rounding import short_duration
from libcure.errors import one_line
from libcure.verdict_view import PLAIN, WIDEST

__all__ = ["AdviceView", "down", "html", "up"]

MOST_GOOD, MOST_BAD, MOST_NONE = 6, 3, 5
NEEDS = {"working": "too little working time", "release": "release too late", "hot": "something gets too hot",
         "model": "these times cannot be relied on"}  # fmt: skip
NEVER = {"vitrified": "NEVER", "gelled_before_held": "NONE", "not_within_held_stage": "NOT HELD"}


def down(minutes: float | None) -> str:
    """A time to keep to [min], rounded down; None is without a limit that was met."""
    if minutes is None or math.isinf(minutes):
        return "no limit met"
    return short_duration(max(0.0, math.floor(minutes + 1e-6)))


def up(minutes: float | None) -> str:
    """A time to wait for [min], rounded up; None is never."""
    if minutes is None or math.isinf(minutes):
        return "never"
    return short_duration(float(math.ceil(minutes - 1e-6)))


class AdviceView:
    """Advice that rich can print; from 60 columns on."""

    def __init__(self, advice: Advice) -> None:
        self.advice = advice

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        page = Group(*_Page(self.advice, options.ascii_only).parts())
        yield from console.render(page, options.update(width=min(options.max_width, WIDEST)))


class _Page:
    def __init__(self, advice: Advice, ascii_only: bool) -> None:
        self.advice, self.ascii_only = advice, ascii_only

    def text(self, words: str, style: str = "") -> Text:
        words = one_line(words)
        return Text(words.translate(PLAIN) if self.ascii_only else words, style)

    def parts(self) -> list[RenderableType]:
        a = self.advice
        parts: list[RenderableType] = [self._head(), self._changes()]
        if a.no_values:
            parts.append(Padding(self._no_values(), (1, 1, 0, 1)))
        if len(a.hardeners) > 1:
            parts += [Text(), self._hardeners()]
        parts.append(Padding(self._foot(), (1, 1, 0, 1)))
        return parts

    def _head(self) -> Panel:
        a = self.advice
        n, style = a.needs, "green" if a.nothing_to_change else "red"
        facts = Table.grid(padding=(0, 2))
        facts.add_row(self.text("Resin", "dim"), self.text(_resin(a)))
        held = f"held at {n.held_from_min:g} min as planned"
        reserve = "as stated" if n.working_stated else f"{n.reserve_min:g} min in hand by default"
        facts.add_row(self.text("Needed", "dim"), self.text(
            f"liner still workable when held at {down(n.working_min)} ({held}; {reserve}); "
            f"release by {down(n.release_by_min)} ({'as stated' if n.release_stated else 'end of the planned hold'})"
        ))  # fmt: skip
        return Panel(
            Group(facts, Text(), self.text(headline(a), f"bold {style}")),
            title=self.text(f"What to change: {a.case.title or a.case.name}", "bold"),
            title_align="left",
            border_style=style,
        )

    def _changes(self) -> Table:
        a = self.advice
        table = self._table("From mixing")
        self._row(table, "As planned", a.planned, "bold red" if a.planned.unmet else "bold green")
        good, bad = a.good, [p for p in a.proposals if not p.does_it]
        for number, p in enumerate(good[:MOST_GOOD], 1):
            words = [f"{number}. {_capital(p.words)}", *p.notes]
            if p.edge is not None and p.unit == "C" and p.works_to is not None and p.searched is not None:
                words.append(_reach(p.value, p.works_to, p.searched[1]))
            self._row(table, "; ".join(filter(None, words)), p.outcome, "bold green" if number == 1 else "")
        if bad:
            table.add_row(self.text("Helps one need and breaks another:", "bold"))
        for p in bad[:MOST_BAD]:
            said = "; ".join([_capital(p.words), *p.notes])
            self._row(table, f"{said}: {_unmet(p.outcome)}", p.outcome, "dim")
        return table

    def _table(self, first: str) -> Table:
        table = Table(box=None, padding=(0, 1, 0, 1), pad_edge=False, header_style="dim")
        table.add_column(self.text(f" {first}"))
        for name in ("In place by", "Work ends", "Release", "Hottest"):
            table.add_column(self.text(name), no_wrap=True)
        return table

    def _row(self, table: Table, words: str, o: Outcome, style: str) -> None:
        release = o.times.release_recommended_min
        cells = (f" {words}", down(o.latest_in_place_min), down(o.times.working_min),
                 NEVER.get(o.release_state, "NEVER") if release is None else up(release),
                 f"{math.ceil(o.peak_temperature_C - 1e-6):.0f} °C")  # fmt: skip
        table.add_row(*(self.text(cell, style) for cell in cells))
        if o.band is not None:
            b = o.band
            sides = ("   unsafe side, 5 % / 95 %", down(b.latest_in_place_min), down(b.working_min),
                     up(b.release_recommended_min))  # fmt: skip
            table.add_row(*(self.text(cell, "dim") for cell in sides))

    def _no_values(self) -> Group:
        shown = self.advice.no_values[:MOST_NONE]
        lines = []
        for n in shown:
            within = ""
            if n.searched is not None and n.unit == "C":
                within = f", {n.searched[0]:g} to {n.searched[1]:g} °C"
            elif n.searched is not None:
                within = f", up to {up(n.searched[1])}"
            lines.append(self.text(f"No value does it: {n.words}{within}."))
        return Group(*lines)

    def _hardeners(self) -> Table:
        table = self._table("Which hardener, nothing else changed")
        table.add_column(self.text("Verdict"))
        for h in self.advice.hardeners:
            o, release = h.outcome, h.outcome.times.release_recommended_min
            name = h.resin.rpartition("/")[2] + (" (planned)" if h.own else "")
            cells = (f" {name}", down(o.latest_in_place_min), down(o.times.working_min),
                     NEVER.get(o.release_state, "NEVER") if release is None else up(release),
                     f"{math.ceil(o.peak_temperature_C - 1e-6):.0f} °C", _unmet(o) if o.unmet else "does it")  # fmt: skip
            table.add_row(*(self.text(cell, "" if not o.unmet else "red" if h.own else "dim") for cell in cells))
        return table

    def _foot(self) -> Group:
        a = self.advice
        lines = []
        if a.uncertain:
            lines.append(f"Unsafe sides: 5 % of {a.samples} samples are in place sooner, 5 % release later; {a.uncertain}.")
        else:
            lines.append(f"A point estimate, without bands: {a.why_no_band}.")
        if any("resin_temperature" in p.kind for p in a.proposals):
            lines.append("Cold resin is thick, wets out badly, and draws moisture from the air: keep it closed until it is "
                         "mixed. The maker's lowest temperature comes first.")  # fmt: skip
        if any("fill_temperature" in p.kind for p in a.proposals):
            lines.append("The fill must have its temperature from when the case says; a hot fill leaves less time to seat the "
                         "liner. Mind scalds and steam.")  # fmt: skip
        lines += a.planned_cautions
        return Group(*(self.text(line, "dim") for line in lines))


def headline(a: Advice) -> str:
    """The answer in one line."""
    if a.nothing_to_change:
        return (f"NOTHING NEEDS CHANGING. Liner in place by {down(a.planned.latest_in_place_min)} at the latest; "
                f"bladder in until {up(a.planned.times.release_recommended_min)} after mixing.")  # fmt: skip
    wrong = " and ".join(NEEDS[need] for need in a.planned.unmet)
    if not a.good:
        return f"NOTHING LOOKED AT DOES IT: {wrong}. Do not do this job as planned."
    count = len(a.good)
    return f"DO NOT DO THIS JOB AS PLANNED: {wrong}. {count} change{'s' * (count != 1)} below do{'es' * (count == 1)} it."


def _resin(a: Advice) -> str:
    return a.case.resin.title + (", ESTIMATED MODEL" if a.case.resin.estimated else "")


def _capital(words: str) -> str:
    return words[:1].upper() + words[1:]


def _reach(value: float | None, works_to: float, end: float) -> str:
    if value is None or works_to in (value, end):
        return "" if works_to == end else "no farther"
    return f"not beyond {works_to:g} °C"


def _unmet(o: Outcome) -> str:
    return ", ".join(NEEDS[need] for need in o.unmet)


def html(advice: Advice, width: int = 100) -> str:
    """The same page for a notebook."""
    console = Console(record=True, width=width, file=io.StringIO(), force_terminal=True, highlight=False)
    console.print(AdviceView(advice))
    return console.export_html(inline_styles=True, code_format='<pre style="line-height:1.3">{code}</pre>')
