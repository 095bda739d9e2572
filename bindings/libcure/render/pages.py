"""Reports on paper: text, tables, pictures and charts from the top of a page down, a new page where one is full.

All lengths are in mm, from the upper left corner of the page; text stands on its base line. Called within ``plot.style()``.
"""

from __future__ import annotations

import io
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from matplotlib.axes import Axes
from matplotlib.backends.backend_pdf import PdfPages
from matplotlib.figure import Figure
from matplotlib.image import imread

from libcure.render.lettering import FILLED, FONT, width_of, wrapped
from libcure.stopping import heed

__all__ = ["ACROSS", "DIM", "INK", "LINE", "UPRIGHT", "Column", "Pages", "metadata", "size_of"]

UPRIGHT, ACROSS = (210.0, 297.0), (297.0, 210.0)  # A4
INK, DIM = "#1d1d1f", "#66666a"
LINE = 4.4 / 9.0
"""Height of a line over the size of its letters [mm/point]."""
GAP = 4.0
"""Between the columns of a table."""
TOGETHER = 12
"""Rows of a table that do not stand alone at the foot of a page."""


def metadata(title: str) -> dict[str, str | None]:
    """Of a PDF whose bytes follow from what is in it."""
    return {"Title": title, "CreationDate": None, "ModDate": None, "Creator": None, "Producer": None}


@dataclass(frozen=True)
class Column:
    """Of a table."""

    x: float
    """Where its texts begin, or end when ``right``; from the margin."""
    width: float
    """Texts are wrapped in it."""
    right: bool = False


class Pages:
    """The pages of one report."""

    def __init__(self, size: tuple[float, float], margin: float, points: float) -> None:
        """Begins the first page; ``points`` is the usual size of letters."""
        self.width, self.height = size
        self.margin, self.points = margin, points
        self.across = self.width - 2.0 * margin
        self.pages: list[Figure] = []
        self.y = 0.0
        self._pictures: list[tuple[Axes, bytes]] = []
        self.turn()

    @property
    def page(self) -> Figure:
        """The one that is filled."""
        return self.pages[-1]

    @property
    def left(self) -> float:
        """How far down there is still room."""
        return self.height - self.margin - 2.0 - self.y

    def turn(self) -> None:
        """Begins a page; an empty one stays."""
        if not self.pages or self.y > self.margin + 4.0:
            self.pages.append(Figure(figsize=(self.width / 25.4, self.height / 25.4)))
            self.y = self.margin + 4.0

    def room(self, height: float) -> None:
        """Turns the page where that much does not fit."""
        if height > self.left:
            self.turn()

    def text(
        self, x: float, y: float, words: str, points: float, color: str = INK, *, bold: bool = False, right: bool = False, page: Figure | None = None
    ) -> None:
        """One line at a place."""
        (page or self.page).text(
            x / self.width, 1.0 - y / self.height, words, family=FONT, size=points, color=color, weight="bold" if bold else "normal", va="baseline",
            ha="right" if right else "left", parse_math=False,
        )  # fmt: skip

    def line(
        self, words: str, points: float | None = None, color: str = INK, *, bold: bool = False, gap: float = 0.0, indent: float = 0.0, bullet: str = ""
    ) -> None:
        """A paragraph, wrapped, and a gap below."""
        size = points if points is not None else self.points
        step = LINE * size
        # A larger line stands higher over its foot.
        self.y += max(size - self.points, 0.0) * 0.35
        for line in wrapped(words, self.across - indent, size, bold=bold, bullet=bullet):
            self.room(step)
            self.text(self.margin + indent, self.y, line, size, color, bold=bold)
            self.y += step
        self.y += gap

    def heading(self, words: str, points: float = 10.5) -> None:
        """Words over what follows, never alone at the foot of a page."""
        self.room(14.0)
        self.y += 3.0
        self.line(words, points, bold=True, gap=0.8)

    def pair(self, title: str, words: str, indent: float) -> None:
        """A title and, beside it, a paragraph."""
        self.room(LINE * self.points)
        self.text(self.margin, self.y, title, self.points, DIM)
        self.line(words, indent=indent)

    def row(
        self, columns: Sequence[Column], cells: Sequence[str], points: float, color: str = INK, *, bold: bool = False, head: Sequence[str] = ()
    ) -> None:
        """A row of a table, each cell wrapped; ``head`` stands again on a new page. A line break begins a paragraph."""
        lines = [
            [line for part in cell.split("\n") for line in wrapped(part, column.width, points, bold=bold)]
            for cell, column in zip(cells, columns, strict=True)
        ]
        tall = LINE * points * max(map(len, lines))
        if head and tall > self.left:
            self.turn()
            self.row(columns, head, points, DIM)
        self.room(tall)
        for cell, column in zip(lines, columns, strict=True):
            for i, line in enumerate(cell):
                self.text(self.margin + column.x, self.y + i * LINE * points, line, points, color, bold=bold, right=column.right)
        self.y += tall + 0.12 * LINE * points

    def table(self, name: str, head: Sequence[str], rows: Sequence[Sequence[str]], points: float) -> None:
        """A table whose columns are as wide as their words, or narrower where those are too many."""
        self.room(LINE * points * (min(len(rows), TOGETHER) + 4.0))
        self.heading(name)
        columns = self._columns([head, *rows], points)
        self.row(columns, head, points, DIM)
        for row in rows:
            self.row(columns, row, points, head=head)

    def _columns(self, table: Sequence[Sequence[str]], points: float) -> list[Column]:
        wanted = [max(width_of(cell, points) for cell in column) / FILLED + 0.1 for column in zip(*table, strict=True)]
        room = self.across - GAP * (len(wanted) - 1)
        widest, spare = max(wanted), room
        for i, width in enumerate(sorted(wanted)):
            widest = spare / (len(wanted) - i)
            if width > widest:
                break
            spare -= width
        else:
            widest = max(wanted)
        columns, x = [], 0.0
        for width in wanted:
            columns.append(Column(x, min(width, widest)))
            x += min(width, widest) + GAP
        return columns

    def picture(self, png: bytes, height: float) -> None:
        """A picture that is as wide as the page or as high as that, whichever is less; read only when the page is written."""
        across, down = size_of(png)
        high = min(height, self.across * down / across)
        self.room(high)
        axes = self._axes(self.margin, high * across / down, high)
        axes.set_axis_off()
        self._pictures.append((axes, png))
        self.y += high + LINE * self.points

    def axes(self, height: float, left: float, right: float) -> Axes:
        """Room for a chart with its labels below, that far inside the margins."""
        axes = self._axes(self.margin + left, self.across - left - right, height)
        self.y += height + 13.0
        return axes

    def _axes(self, x: float, across: float, down: float) -> Axes:
        return self.page.add_axes((x / self.width, 1.0 - (self.y + down) / self.height, across / self.width, down / self.height))

    def foot(self, words: str) -> None:
        """Words and the number of the page at the foot of all pages that there are."""
        for number, page in enumerate(self.pages, 1):
            self.text(self.width - self.margin, self.height - 9.0, f"{number} of {len(self.pages)}", 7.5, DIM, right=True, page=page)
            self.text(self.margin, self.height - 9.0, words, 6.4, DIM, page=page)

    def save(self, target: Path, title: str) -> None:
        """Writes the pages as a PDF; the same pages give the same bytes."""
        with PdfPages(target, metadata=metadata(title)) as pdf:
            for page in self.pages:
                heed()
                # One picture in memory at a time.
                for axes, png in self._pictures:
                    if axes.figure is page:
                        axes.imshow(imread(io.BytesIO(png), format="png"), interpolation="none")
                pdf.savefig(page)
                page.clear()


def size_of(png: bytes) -> tuple[int, int]:
    """Width and height of a picture [pixels], where its header has them (ISO/IEC 15948, 11.2.2)."""
    return int.from_bytes(png[16:20], "big"), int.from_bytes(png[20:24], "big")
