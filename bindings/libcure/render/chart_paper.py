"""The room that a printed chart has. Apart from the drawing, so that a chart that cannot fit is refused before its cells
are computed: all of it follows from the document."""

from __future__ import annotations

from dataclasses import dataclass

from libcure.charting import words
from libcure.charting.document import ChartDocument
from libcure.errors import input_error, one_line
from libcure.render.chart_look import ground_axis, month_places, resin_axis
from libcure.render.chart_maker import mark_picture
from libcure.render.lettering import MM_PER_POINT, points_of, width_of, wrapped

__all__ = [
    "BADGE",
    "BULLET",
    "CODE",
    "COLUMN_NAMES",
    "FOOT_GAP",
    "FOOT_POINTS",
    "GAP",
    "HEADLINE",
    "HEADLINE_POINTS",
    "HEAD_FROM",
    "HEAD_LINE",
    "HEAD_POINTS",
    "LABEL",
    "LEGEND",
    "MAKER",
    "MARGIN",
    "MONTH_LINE",
    "MOST_PLACES",
    "PAPERS",
    "Paper",
    "paper_of",
]

PAPERS = {"A4": (297.0, 210.0), "Letter": (279.4, 215.9)}  # [mm], ISO 216 and ANSI/ASME Y14.1
FOOT_POINTS, BULLET = 6.4, "·"
MARGIN = 9.0
BADGE, LEGEND, FOOT_GAP, MAKER, CODE = 62.0, 60.0, 6.0, 42.0, 24.0
"""Widths [mm]."""
LEGEND_HEIGHT, COLUMN_NAMES = 53.0, 9.0
"""Heights [mm]."""
HEADLINE, HEADLINE_POINTS = 6.2, 13.0
"""Height of the line of the two temperatures [mm], and its size."""
HEAD_POINTS, HEAD_FROM, HEAD_LINE = 8.4, 17.8, 4.0
"""Words below the title: their size, and where the first line is [mm]."""
MONTH_LINE, MOST_PLACES = 3.3, 4
"""Height of a line in the strip of months [mm], and for how many places on other axes it has one."""
LABEL, GAP = 27.0, 3.0
"""Width of the rows' names, and of the space between panels [mm]."""
LINE = FOOT_POINTS * MM_PER_POINT * 1.32
"""Height of a line in the foot [mm]."""
# Below these a cell cannot be read at arm's length.
LEAST_WIDTH, LEAST_HEIGHT = 16.0, 7.5
TITLE_POINTS, LEAST_TITLE_POINTS = 15.0, 10.0


@dataclass(frozen=True)
class Paper:
    """Where things are on the page [mm]."""

    width: float
    height: float
    estimated: bool
    """Whether the page carries the badge of an estimated model."""
    title: tuple[str, ...]
    """Lines."""
    title_points: float
    headline: str
    """The two temperatures that a crew can read on site."""
    head: tuple[tuple[str, ...], ...]
    """Lines below the title: how to read a cell, what the chart is made for (bold), what to do between cells."""
    top: float
    """Where the grid begins."""
    months: int
    """Lines of the strip of months; 0 without one."""
    column: float
    """Width of a column of words in the foot."""
    foot: float
    """Where the foot begins."""
    bottom: float
    """Where the grid ends."""
    cell: tuple[float, float]
    """Width and height of a cell."""
    names: float
    """Height of the names of panels and columns."""


def paper_of(chart: ChartDocument) -> Paper:
    """The page of a chart, the first of several, with room for the longest words that its numbers can bring.

    Raises:
        CureError: more cells, or a longer title, than can be read.
    """
    if chart.pages is not None:
        first, *_ = (paper_of(chart.page_of(i)) for i in range(len(chart.axis(chart.pages).values)))
        return first
    if chart.publication.mark is not None:
        mark_picture(chart.publication.mark, (MAKER, MAKER))
    width, height = PAPERS[chart.paper] if chart.page == "landscape" else PAPERS[chart.paper][::-1]
    estimated = any(case.resin.estimated for case in chart.cases.values())
    title, points = _title(chart, width - 2.0 * MARGIN - (BADGE if estimated else 0.0) - (MAKER if _has_maker(chart) else 0.0))
    head = tuple(
        tuple(wrapped(text, width - 2.0 * MARGIN, HEAD_POINTS, bold=bold)) if text else ()
        for text, bold in ((words.how_to_read(chart), False), (words.made_for(chart), True), (words.between(chart), False))
    )
    top = HEAD_FROM + HEADLINE + HEAD_LINE * sum(map(len, head)) - 1.0
    stated = chart.publication.stated
    column = 0.5 * (width - 2.0 * MARGIN - LEGEND - 2.0 * FOOT_GAP - (CODE + FOOT_GAP if stated else 0.0))
    lines = max(sum(len(wrapped(text, column, FOOT_POINTS, bullet=BULLET)) for text in texts) for texts in words.most_words(chart))
    foot = height - 12.3 - max(lines * LINE + 5.0, LEGEND_HEIGHT)
    months = month_rows(chart)
    bottom = foot - (7.1 + MONTH_LINE * months if months else 3.0)
    rows = len(chart.axis(chart.rows).values)
    columns = len(chart.axis(chart.columns).values) if chart.columns is not None else 1
    panels = len(chart.axis(chart.panels).values) if chart.panels is not None else 1
    names = (6.5 if chart.panels is not None else 0.0) + (COLUMN_NAMES if chart.columns is not None else 0.0)
    across = width - 2.0 * MARGIN - LABEL - GAP * (panels - 1)
    down = bottom - top - names
    cell = across / (panels * columns), down / rows
    if cell[0] < LEAST_WIDTH or cell[1] < LEAST_HEIGHT:
        raise input_error(
            "layout",
            f"{rows} rows and {panels * columns} columns",
            f"at most {max(0, int(down / LEAST_HEIGHT))} rows and {int(across / LEAST_WIDTH)} columns on a {chart.page} page",
            chart.name,
        )
    return Paper(width, height, estimated, title, points, words.headline(chart), head, top, months, column, foot, bottom, cell, names)


def _has_maker(chart: ChartDocument) -> bool:
    return bool(chart.publication.maker or chart.publication.mark)


def month_rows(chart: ChartDocument) -> int:
    """Lines of the strip of months; 0 without one."""
    if ground_axis(chart) is None:
        return 0
    ground = 1 if chart.page == "landscape" else 2
    if resin_axis(chart) is None:
        return 2 + ground
    places = len(month_places(chart))
    return 1 + 2 * ground + (places if places <= MOST_PLACES else 2)


def _title(chart: ChartDocument, room: float) -> tuple[tuple[str, ...], float]:
    title = one_line(chart.title)
    points = points_of(title, TITLE_POINTS, room, bold=True)
    if points >= LEAST_TITLE_POINTS:
        return (title,), points
    lines = wrapped(title, room, LEAST_TITLE_POINTS, bold=True)
    if len(lines) > 2 or any(width_of(line, LEAST_TITLE_POINTS, bold=True) > room for line in lines):
        fit = int(1.7 * room / (width_of(title, LEAST_TITLE_POINTS, bold=True) / len(title)))
        raise input_error("title", f"{len(title)} letters", f"two lines, about {fit} letters", chart.name)
    return tuple(lines), LEAST_TITLE_POINTS
