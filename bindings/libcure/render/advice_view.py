"""The advice for people: one screen for the terminal, and the same for a notebook.

Times are rounded to the safe side: what ends the work is rounded down, what must be waited for is rounded up.
"""

from __future__ import annotations

import io
import math

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from libcure import _core
from libcure.advising.result import Advice, Outcome, Proposal
from libcure.render.html import filled, markup
from libcure.render.page_look import COLOURS, words_for
from libcure.render.panel import Titled
from libcure.words import changes
from libcure.words.page import WIDEST
from libcure.words.rounding import whole

__all__ = ["AdviceView", "html"]

MOST_GOOD, MOST_BAD, MOST_NONE, MOST_TROUBLES = 4, 2, 4, 3
NEVER = {"vitrified": "NEVER", "outside_model": "NOT KNOWN"}


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
        return Text(words_for(words, self.ascii_only), style)

    def parts(self) -> list[RenderableType]:
        a = self.advice
        parts: list[RenderableType] = [self._head(), self._changes()]
        if a.no_values:
            parts.append(Padding(self._no_values(), (1, 1, 0, 1)))
        if len(a.hardeners) > 1:
            parts += [Text(), self._hardeners()]
        parts.append(Padding(self._foot(), (1, 1, 0, 1)))
        return parts

    def _head(self) -> Titled:
        a = self.advice
        n, style = a.needs, COLOURS[colour(a)]
        by = "while it is held, for longer than planned if need be" if n.release_by_min is None else f"by {down(n.release_by_min)}"
        reserve = "as stated" if n.working_stated else f"{n.reserve_min:g} min in hand"
        facts = Table.grid(padding=(0, 2))
        facts.add_row(self.text("Resin", "dim"), self.text(_resin(a)))
        if changed := changes.words(a.case):
            facts.add_row(self.text("Changed", "dim"), self.text(changed))
        facts.add_row(self.text("Needed", "dim"), self.text(
            f"in place as late as {down(n.working_min)} (planned {n.held_from_min:g} min, {reserve}); "
            f"release {by}"
        ))  # fmt: skip
        troubles = [self.text(f"- {text}", style) for _, text in a.planned.troubles[:MOST_TROUBLES]]
        body = Group(facts, Text(), self.text(headline(a), f"bold {style}"), *troubles)
        return Titled(body, self.text(f"What to change: {a.case.title or a.case.name}", "bold"), style)

    def _changes(self) -> Table:
        a = self.advice
        table = self._table("From mixing")
        self._row(table, "As planned", a.planned, f"bold {COLOURS[colour(a)]}")
        for number, p in enumerate(shown(a), 1):
            self._row(table, f"{number}. {p.said}", p.outcome, "bold" if number == 1 else "")
        bad = [p for p in a.proposals if not p.does_it]
        if bad:
            table.add_row(self.text("Not enough, or harmful:", "bold"))
        for p in bad[:MOST_BAD]:
            self._row(table, f"- {p.said}: {', '.join(p.outcome.wrong)}", p.outcome, "dim")
        return table

    def _table(self, first: str) -> Table:
        table = Table(box=None, padding=(0, 1, 0, 1), header_style="dim")
        table.add_column(self.text(first), overflow="fold", min_width=18)
        for name in ("In place by", "Work ends", "Release", "Hottest"):
            table.add_column(self.text(name), no_wrap=True)
        return table

    def _row(self, table: Table, words: str, o: Outcome, style: str) -> None:
        """One release a row, that of ``predict``; none where the job must not be done so."""
        b = o.sides
        release = NEVER.get(o.release_state, "NONE") if o.release_min is None else up(o.release_min)
        cells = words, down(b.latest_in_place_min), down(b.working_min), release, _hottest(b.peak_temperature_C)
        table.add_row(*(self.text(cell, style) for cell in cells))

    def _no_values(self) -> Group:
        lines = [self.text("No value does it:", "bold")]
        for n in self.advice.no_values[:MOST_NONE]:
            within = ""
            if n.searched is not None:
                ends = (f"{n.searched[0]:g} to {n.searched[1]:g} °C" if n.unit == "C" else f"up to {up(n.searched[1])}")
                within = f", {ends}"
            lines.append(self.text(f"- {n.words}{within}{f' ({n.best})' if n.best else ''}"))
        left = len(self.advice.no_values) - MOST_NONE
        if left > 0:
            lines.append(self.text(f"- and {left} more, in the JSON document", "dim"))
        return Group(*lines)

    def _hardeners(self) -> Table:
        table = self._table("Hardener, nothing else changed")
        for h in self.advice.hardeners:
            name = _name(h.resin) + (" (planned)" if h.own else "")
            verdict = ", ".join(h.outcome.wrong) or "does it"
            style = "" if not h.outcome.unmet else COLOURS[colour(self.advice)] if h.own else "dim"
            self._row(table, f"{name}: {verdict}", h.outcome, style)
        return table

    def _foot(self) -> Group:
        a = self.advice
        lines = ["In place by: the liner may be held as late as that, if the wet-out goes on until then."]
        if a.needs.held_from_min == 0.0:
            lines[0] = "In place by: when work ends in the pipe, since the case has nothing before the liner is held."
        if a.uncertain:
            lines[0] += (" All on the conservative side: 5 % of such jobs are past it sooner, are released later or get hotter, with the sampling error "
                         f"({a.samples} samples as planned); {a.uncertain}.")  # fmt: skip
            if a.without_constants:
                lines[0] += f" Without constants: {', '.join(_name(r) for r in a.without_constants)}."
        else:
            lines[0] += f" A point estimate: {a.why_no_band}; the release has the safety factor, the rest no conservative side."
        cautions = []
        if any("resin_temperature" in p.kind for p in a.proposals):
            cautions.append("Cold resin is thick, wets out badly and draws moisture: keep it closed until it is mixed, and "
                            "not below the maker's lowest temperature.")  # fmt: skip
        if any("fill_temperature" in p.kind for p in a.proposals):
            cautions.append("A warm fill must be warm from when the case says, and leaves less time to seat the liner; "
                            "mind scalds.")  # fmt: skip
        lines.append(" ".join(["Cautions:", *cautions, *a.planned_cautions]))
        return Group(*(self.text(line, "dim") for line in lines))


def shown(a: Advice) -> list[Proposal]:
    """The proposals that a page has room for: of plain hardeners one, since they have a table of their own."""
    plain = [p for p in a.good if p.kind == ("hardener",)]
    others = [p for p in a.good if p.kind != ("hardener",)]
    kept = others[: MOST_GOOD - bool(plain)] + plain[:1]
    return [p for p in a.good if p in kept]


def down(minutes: float | None) -> str:
    """A time to keep to [min], rounded down; None is without a limit that was met."""
    return _core.keep_to(math.inf if minutes is None else minutes)


def up(minutes: float | None) -> str:
    """A time to wait for [min], rounded up; None is never."""
    return _core.wait_for(math.inf if minutes is None else minutes)


def _name(resin: str) -> str:
    return resin.rpartition("/")[2]


def _hottest(celsius: float | None) -> str:
    return "NO ANSWER" if celsius is None else f"{whole(celsius, up=True)} °C"


def colour(a: Advice) -> str:
    """What the job as planned is: ``ok`` only if nothing needs changing."""
    return "wait" if a.planned.status == "ok" and a.planned.unmet else a.planned.status


def headline(a: Advice) -> str:
    """The answer in one line or two, and whether the page has room for all that does it."""
    listed = len(shown(a))
    return a.headline if listed == len(a.good) else f"{a.headline.removesuffix('.')}, {listed} of them listed."


def _resin(a: Advice) -> str:
    return a.case.resin.title + (", ESTIMATED MODEL" if a.case.resin.estimated else "")


def html(advice: Advice, width: int = 100) -> str:
    """The same page for a notebook."""
    console = Console(record=True, width=width, file=io.StringIO(), force_terminal=True, highlight=False)
    console.print(AdviceView(advice))
    return filled("advice.html", page=markup(console.export_html(inline_styles=True, code_format="{code}")))
