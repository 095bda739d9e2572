"""The page of an answer, laid out: for the terminal by rich, for a notebook as HTML. The words are the core's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console, ConsoleOptions, Group, RenderableType, RenderResult
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from libcure.errors import one_line
from libcure.render.panel import Titled

if TYPE_CHECKING:
    from libcure.result import Prediction
    from libcure.words.page import Page

__all__ = ["COLOURS", "HTML_COLOURS", "PLAIN", "WIDEST", "VerdictView", "html"]

WIDEST = 110
COLOURS = {"ok": "green", "wait": "yellow", "stop": "red"}
HTML_COLOURS = {"ok": "#1b6e3c", "wait": "#8a5a00", "stop": "#b3261e"}
NARROW = 76
"""Below this width a range stands under its time, not beside it."""
PLAIN = str.maketrans({"°": "", "α": "alpha", "≥": ">=", "–": "-", "−": "-", "…": "...", "×": "x", "÷": "/", "±": "+-", "²": "2", "³": "3"})


class VerdictView:
    """A prediction's page that rich can print; from 60 columns on."""

    def __init__(self, prediction: Prediction) -> None:
        self.page = prediction.page

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        width = min(options.max_width, WIDEST)
        layout = _Layout(self.page, options.ascii_only, width < NARROW)
        yield from console.render(layout.whole(), options.update(width=width))


class _Layout:
    def __init__(self, page: Page, ascii_only: bool, narrow: bool) -> None:
        self.page, self.ascii_only, self.narrow = page, ascii_only, narrow

    def whole(self) -> Group:
        p = self.page
        numerics = [Padding(self._text(p.numerics), (0, 1, 0, 1))] if p.numerics else []
        others = " Others by --uncertain." if p.ranged else ""
        foot = [self._text(line, "dim") for line in (p.ranges + others, p.defaults, p.solver) if line]
        heading = self._text(f" {p.headings.cautions}", "bold")
        return Group(
            self._head(), self._times(), *numerics, Text(), heading, self._cautions(), Text(), Padding(Group(*foot), (0, 1))
        )  # fmt: skip

    def _text(self, words: str, style: str = "") -> Text:
        words = one_line(words)
        return Text(words.translate(PLAIN) if self.ascii_only else words, style)

    def _head(self) -> RenderableType:
        p = self.page
        facts = Table.grid(padding=(0, 2))
        for fact in p.facts:
            facts.add_row(self._text(fact.name, "dim"), self._text(fact.value))
        body = Group(facts, Text(), self._text(p.headline, f"bold {COLOURS[p.status]}"))
        return Titled(body, self._text(p.title, "bold"), COLOURS[p.status])

    def _times(self) -> Table:
        p, text = self.page, self._text
        times = Table(box=None, padding=(0, 1, 0, 1), pad_edge=False, header_style="dim")
        times.add_column(text(f" {p.headings.names}"), no_wrap=True)
        under, beside = p.ranged and self.narrow, p.ranged and not self.narrow
        times.add_column(text(f"{p.headings.times}, {p.headings.likely}" if under else p.headings.times), no_wrap=True)
        if beside:
            times.add_column(text(p.headings.likely), no_wrap=True)
        times.add_column(text(p.headings.why))
        for row in p.rows:
            style = {"key": f"bold {COLOURS[p.status]}", "bad": "bold red"}.get(row.mark, "")
            point, likely = text(row.time, style), text(row.likely, "bold red" if row.unlikely else "")
            shown = Group(point, likely) if under and row.likely else point
            times.add_row(text(f" {row.name}", style), shown, *([likely] if beside else []), text(row.why))
        return times

    def _cautions(self) -> Table:
        p, text = self.page, self._text
        cautions = Table.grid(padding=(0, 1))
        cautions.add_column(justify="right", width=3)
        cautions.add_column()
        styled = [(r.text, f"bold {COLOURS[r.status]}") for r in p.reasons] + [(c.text, "") for c in p.cautions]
        for number, (words, style) in enumerate(styled, 1):
            cautions.add_row(text(f"{number}.", style), text(words, style))
        cautions.add_row(text(""), text(p.at_any_job))
        return cautions


def html(prediction: Prediction) -> str:
    """The same page for a notebook; every text escaped."""
    from libcure.render.html import filled

    shade = {status: f"color:{colour};font-weight:bold" for status, colour in HTML_COLOURS.items()}
    return filled("answer.html", page=prediction.page, shade=shade)
