"""A page with one panel of a chart: what a label for a pail and a poster for a wall share."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

from libcure.charting import words as phrases
from libcure.charting.result import Answer, ChartResult
from libcure.render import chart_maker
from libcure.render.chart_canvas import Box, Canvas
from libcure.render.chart_look import second_label, value_label
from libcure.render.lettering import points_of

__all__ = ["Names", "PanelCanvas", "panels_of"]


class Names(NamedTuple):
    """Of rows and columns."""

    width: float
    """Of the rows' names [mm]."""
    points: float
    """Of what they say first."""
    second: float
    """Of what stands below it [points]."""
    lines: tuple[float, float]
    """How far above the cells the columns' two lines are [mm]."""


def panels_of(result: ChartResult) -> Iterator[tuple[ChartResult, int, str]]:
    """Each panel of each page, with what it is for: the value of its panel and of its page."""
    for name, page in result.pages:
        chart = page.chart
        panels = chart.axis(chart.panels) if chart.panels is not None else None
        for p in range(len(panels.values)) if panels is not None else (0,):
            product = f"{panels.title}: {value_label(chart, panels, p)}" if panels is not None else ""
            yield page, p, ", ".join(filter(None, (product, name)))


class PanelCanvas(Canvas):
    """A page to draw one panel on."""

    def __init__(self, result: ChartResult, panel: int, width: float, height: float) -> None:
        super().__init__(result.chart, width, height)
        self.result, self.panel = result, panel
        self.estimated = any(case.resin.estimated for case in self.chart.cases.values())
        self.figure.spoken = phrases.spoken(result, (answer for row in self.answers for answer in row))

    @property
    def shape(self) -> tuple[int, int]:
        """Rows and columns."""
        chart = self.chart
        return len(chart.axis(chart.rows).values), len(chart.axis(chart.columns).values) if chart.columns is not None else 1

    @property
    def answers(self) -> list[list[Answer]]:
        """Row by row."""
        chart, found = self.chart, []
        for r in range(self.shape[0]):
            places = ({chart.panels: self.panel, chart.columns: c, chart.rows: r} for c in range(self.shape[1]))
            found.append([self.result.answers[tuple(place[axis.name] for axis in chart.axes)] for place in places])
        return found

    def names(self, cells: Box, names: Names) -> None:
        """Names of rows and columns around the cells, and the frame."""
        chart, (left, first, w, h) = self.chart, cells
        rows = chart.axis(chart.rows)
        columns = chart.axis(chart.columns) if chart.columns is not None else None
        pad, (upper, lower) = 0.1 * names.points, names.lines
        room = names.width - 2.0 * pad
        self.text(left - names.width, first - lower, rows.title, points_of(rows.title, 0.7 * names.points, room, bold=True), bold=True)
        for c in range(self.shape[1]) if columns is not None else ():
            assert columns is not None
            head, below = value_label(chart, columns, c), ", ".join((columns.title, *second_label(chart, columns, c)))
            x = left + (c + 0.5) * w
            self.text(x, first - upper, head, points_of(head, names.points, w - pad, bold=True), bold=True, ha="center")
            self.text(x, first - lower, below, points_of(below, names.second, w - pad), ha="center")
        for r in range(self.shape[0]):
            head, second = value_label(chart, rows, r), ", ".join(second_label(chart, rows, r))
            y = first + (r + 0.5) * h
            up = 0.14 * names.points if second else 0.0
            self.text(left - pad, y - up, head, points_of(head, names.points, room, bold=True), bold=True, ha="right")
            if second:
                self.text(left - pad, y + 0.22 * names.points, second, points_of(second, names.second, room), ha="right")
        self.frame((left, first, self.shape[1] * w, self.shape[0] * h), 0.14 * names.points)

    def badge(self, box: Box, points: float) -> None:
        """That the model is only estimated, in a frame."""
        self.frame(box, 0.15 * points)
        x, y, w, h = box
        said = self.chart.say("estimated")
        self.text(x + 0.5 * w, y + 0.5 * h, said, points_of(said, points, w - 0.5 * points, bold=True), bold=True, ha="center")

    def code(self, x: float, y: float, size: float) -> None:
        """The square code."""
        for box in chart_maker.code_squares(chart_maker.code_text(self.result), x, y, size):
            self.fill(box, "#000000")

    @property
    def batch(self) -> str:
        """Maker, batch and dates, and the hash of the inputs."""
        made = (self.chart.publication.maker, *chart_maker.lines(self.result)[:-1])
        return "   ".join(filter(None, (*made, f"{self.result.date}  {self.result.inputs_hash}")))
