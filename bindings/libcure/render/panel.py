"""A framed head of a page."""

from __future__ import annotations

from typing import TYPE_CHECKING

from rich.console import Group
from rich.panel import Panel
from rich.text import Text

if TYPE_CHECKING:
    from rich.console import Console, ConsoleOptions, RenderableType, RenderResult

__all__ = ["Titled"]


class Titled:
    """A frame with its title in the upper edge, or inside it where the edge is too short: no title is cut."""

    def __init__(self, body: RenderableType, title: Text, style: str) -> None:
        self.body, self.title, self.style = body, title, style

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> RenderResult:
        fits = self.title.cell_len + 6 <= options.max_width
        body = self.body if fits else Group(self.title, Text(), self.body)
        yield Panel(body, title=self.title if fits else None, title_align="left", border_style=self.style)
