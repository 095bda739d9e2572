"""The page of an answer for consoles of rich, and for a notebook as HTML. Words and layout are the core's."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Console, ConsoleOptions, RenderResult
from rich.text import Text

from libcure.render.page_look import HTML_COLOURS
from libcure.words.page import NARROWEST, WIDEST

if TYPE_CHECKING:
    from libcure.result import Prediction

__all__ = ["VerdictView", "html"]


class VerdictView:
    """A prediction's page that rich can print."""

    def __init__(self, prediction: Prediction) -> None:
        self.page = prediction.page

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        width = min(max(options.max_width, NARROWEST), WIDEST)
        yield Text.from_ansi(self.page.text(width, colours=True, ascii_only=options.ascii_only).rstrip())


def html(prediction: Prediction) -> str:
    """The same page for a notebook; every text escaped."""
    from libcure.render.html import filled

    shade = {status: f"color:{colour};font-weight:bold" for status, colour in HTML_COLOURS.items()}
    return filled("answer.html", page=prediction.page, shade=shade)
