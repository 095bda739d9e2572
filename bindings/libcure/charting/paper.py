"""The room that a printed chart has for its cells. Apart from the drawing, so that a chart that cannot fit is refused
before its cells are computed."""

from __future__ import annotations

from dataclasses import dataclass

from libcure.charting.document import ChartDocument
from libcure.errors import input_error

__all__ = ["GAP", "HEAD", "LABEL", "MARGIN", "Grid", "grid_of", "page_size", "refuse_if_too_large"]

A4 = (297.0, 210.0)  # [mm]
MARGIN = 9.0
HEAD = 21.5
"""Where the grid may begin, below the title [mm]."""
LABEL, GAP = 27.0, 3.0
"""Width of the rows' names, and of the space between panels [mm]."""
# Below these a cell cannot be read at arm's length.
LEAST_WIDTH, LEAST_HEIGHT = 16.0, 7.5


def page_size(chart: ChartDocument) -> tuple[float, float]:
    """Width and height [mm]."""
    return A4 if chart.page == "landscape" else (A4[1], A4[0])


@dataclass(frozen=True)
class Grid:
    """Size of the cells [mm]."""

    width: float
    height: float
    head: float
    """Of the names of panels and columns."""


def grid_of(chart: ChartDocument, bottom: float) -> Grid:
    """The grid of a chart whose cells end at ``bottom`` [mm from the top].

    Raises:
        CureError: more cells than can be read.
    """
    rows = len(chart.axis(chart.rows).values)
    columns = len(chart.axis(chart.columns).values) if chart.columns is not None else 1
    panels = len(chart.axis(chart.panels).values) if chart.panels is not None else 1
    head = (6.5 if chart.panels is not None else 0.0) + (5.5 if chart.columns is not None else 0.0)
    across = page_size(chart)[0] - 2.0 * MARGIN - LABEL - GAP * (panels - 1)
    down = bottom - HEAD - head
    width, height = across / (panels * columns), down / rows
    if width < LEAST_WIDTH or height < LEAST_HEIGHT:
        raise input_error(
            "layout",
            f"{rows} rows and {panels * columns} columns",
            f"at most {int(down / LEAST_HEIGHT)} rows and {int(across / LEAST_WIDTH)} columns on a {chart.page} page",
            chart.name,
        )
    return Grid(width, height, head)


def refuse_if_too_large(chart: ChartDocument) -> None:
    """Refuses a chart that could not be printed even without legend and cautions.

    Raises:
        CureError: more cells than can be read.
    """
    grid_of(chart, page_size(chart)[1] - MARGIN)
