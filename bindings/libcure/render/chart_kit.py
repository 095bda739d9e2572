"""All that is printed of a chart: the sheet or a booklet with an index, and for a kit a poster and labels for pails."""

from __future__ import annotations

import io
from collections.abc import Callable

from libcure.charting import words as phrases
from libcure.charting.document import ChartDocument
from libcure.charting.result import ChartResult
from libcure.errors import input_error
from libcure.render import chart_maker, chart_pdf, chart_sheet, plot
from libcure.render.chart_canvas import FULL_HEIGHT, FULL_WIDTH, Canvas, SheetFigure
from libcure.render.chart_panel import Names, PanelCanvas, panels_of
from libcure.render.chart_paper import MARGIN, PAPERS
from libcure.render.chart_poster import posters
from libcure.render.lettering import FILLED, points_of, wrapped

__all__ = ["files", "label_room"]

LABELS = {"A4": (105.0, 148.0), "Letter": (107.95, 139.7)}
"""A quarter of the paper [mm]."""
EDGE, NAMES, CODE = 5.0, 15.0, 20.0
"""Of a label [mm]: margin, width of the rows' names, the square code."""
LEAST_CELL = (12.0, 6.0)
"""Of a label [mm]: below it a cell cannot be read on a pail."""
LABEL_TOP, LABEL_LINE = 8.0, 6.0
"""Of a label [mm]: where the words begin, and the height of a line."""
INDEX_LINE = 9.0

Content = Callable[[], bytes]


def files(result: ChartResult, kit: bool) -> dict[str, Content]:
    """What to write, by the names of the files; all is drawn before anything is written.

    Raises:
        CureError: a page or a label that cannot be read.
    """
    with plot.style():
        sheets = [(name, chart_sheet.draw(page)) for name, page in result.pages]
        if len(sheets) > 1:
            sheets.insert(0, (result.chart.say("contents"), _Index(result).figure))
        labels, hung = (_labels(result), posters(result)) if kit else ([], [])
    found: dict[str, Content] = {"chart.pdf": lambda: _book(result, sheets)}
    if len(sheets) == 1:
        found["chart.svg"] = lambda: _picture(sheets[0][1], ".svg")
    else:
        for number, (_, figure) in enumerate(sheets[1:], 1):
            found[f"chart-{number}.svg"] = lambda figure=figure: _picture(figure, ".svg")  # type: ignore[misc]
    if kit:
        found["poster.pdf"] = lambda: _book(result, hung)
        found["labels.pdf"] = lambda: _book(result, labels)
    return found


def _picture(figure: SheetFigure, suffix: str) -> bytes:
    buffer = io.BytesIO()
    chart_sheet.save(figure, buffer, suffix)
    return buffer.getvalue()


def _page(figure: SheetFigure) -> bytes:
    """A PDF without tags, to be put together."""
    buffer = io.BytesIO()
    plot.save(figure, buffer, ".pdf", chart_sheet.FONTS)
    return buffer.getvalue()


def _book(result: ChartResult, pages: list[tuple[str, SheetFigure]]) -> bytes:
    chart = result.chart
    drawn = [(name, figure.spoken, _page(figure)) for name, figure in pages]
    return chart_pdf.book(drawn, chart.title, chart.publication.maker, chart.publication.language)


class _Index(Canvas):
    """The first page of a booklet."""

    def __init__(self, result: ChartResult) -> None:
        chart = result.chart
        size = PAPERS[chart.paper] if chart.page == "landscape" else PAPERS[chart.paper][::-1]
        super().__init__(chart, *size)
        room = self.width - 2.0 * MARGIN
        y = 16.0
        for line in wrapped(chart.title, room, 18.0, bold=True):
            self.text(MARGIN, y, line, points_of(line, 18.0, room, bold=True), bold=True)
            y += 8.0
        for line in wrapped(chart.note, room, 9.0) if chart.note else ():
            self.text(MARGIN, y, line, 9.0)
            y += 4.4
        y += 6.0
        self.text(MARGIN, y, chart.say("contents"), 13.0, bold=True)
        count, down = len(result.pages), self.height - y - 40.0
        # Few pages are listed in larger letters.
        larger = min(2.0, max(1.0, down / (count + 1) / INDEX_LINE))
        step, lines = larger * INDEX_LINE, max(1, int(down / INDEX_LINE / larger))
        columns = -(-count // lines)
        wide = (room + 6.0) / columns - 6.0
        for i, (name, page) in enumerate(result.pages):
            x, at = MARGIN + (i // lines) * (wide + 6.0), y + step * (1 + i % lines)
            told = chart.say("page", n=i + 2)
            usable = sum(answer.use for answer in page.answers.values())
            self.text(x, at, name, points_of(name, 13.0 * larger, wide - 75.0 * larger, bold=True), bold=True)
            self.text(x + wide, at, f"{chart.say('usable', n=usable, count=len(page.answers))}   {told}", 11.0 * larger, ha="right")
            self.line(x, at + 4.0 * larger, x + wide, at + 4.0 * larger, 0.4)
        listed = (f"{name}: {chart.say('page', n=i + 2)}." for i, (name, _) in enumerate(result.pages))
        self.figure.spoken = " ".join((f"{chart.title}. {chart.say('contents')}:", *listed))
        self._foot(result)
        self.flush()

    def _foot(self, result: ChartResult) -> None:
        chart, p = self.chart, self.chart.publication
        right, y = self.width - MARGIN, self.height - 34.0
        if p.stated:
            for box in chart_maker.code_squares(chart_maker.code_text(result), right - 24.0, y, 24.0):
                self.fill(box, "#000000")
            for i, line in enumerate(filter(None, (p.maker, *chart_maker.lines(result)))):
                self.text(right - 28.0, y + 4.0 + 5.0 * i, line, 9.0, ha="right")
        if any(case.resin.estimated for case in chart.cases.values()):
            self.text(MARGIN, y + 4.0, chart.say("estimated"), 11.0, bold=True)
        words = phrases.trace(result)
        self.text(MARGIN, self.height - 6.5, words, points_of(words, 6.8, FILLED * (self.width - 2.0 * MARGIN)))


def _labels(result: ChartResult) -> list[tuple[str, SheetFigure]]:
    """A label for each page and panel."""
    return [(name or page.chart.title, _Label(page, panel, name).figure) for page, panel, name in panels_of(result)]


def label_room(chart: ChartDocument) -> tuple[float, float, float]:
    """Where the cells of a label begin, and their width and height [mm]; of a chart with pages those of its first.

    Raises:
        CureError: more cells than can be read on a label.
    """
    if chart.pages is not None:
        chart = chart.page_of(0)
    width, height = LABELS[chart.paper]
    estimated = any(case.resin.estimated for case in chart.cases.values())
    # Title, name and headline; the badge; the names of the columns.
    top = LABEL_TOP + 3 * LABEL_LINE + (LABEL_LINE if estimated else 0.0) + (9.0 if chart.columns is not None else 0.0)
    rows = len(chart.axis(chart.rows).values)
    columns = len(chart.axis(chart.columns).values) if chart.columns is not None else 1
    w, h = (width - 2.0 * EDGE - NAMES) / columns, min(16.0, (height - EDGE - CODE - 3.0 - top) / rows)
    if w < LEAST_CELL[0] or h < LEAST_CELL[1]:
        raise input_error("--kit", f"{rows} rows and {columns} columns on a label", "fewer, or the chart without a kit", chart.name)
    return top, w, h


class _Label(PanelCanvas):
    """A label for a pail: one panel of the chart, the rule between cells, and where the whole chart is."""

    def __init__(self, result: ChartResult, panel: int, name: str) -> None:
        super().__init__(result, panel, *LABELS[result.chart.paper])
        chart, room = self.chart, self.width - 2.0 * EDGE
        y = LABEL_TOP
        for words, points in ((chart.title, 9.0), (name, 14.0), (phrases.headline(chart), 8.5)):
            if words:
                self.text(EDGE, y, words, points_of(words, points, FILLED * room, bold=True), bold=True)
                y += LABEL_LINE
        if self.estimated:
            self.badge((EDGE, y - 2.5, room, 5.5), 8.0)
        self._table()
        self._foot()
        self.flush()

    def _table(self) -> None:
        first, w, h = label_room(self.chart)
        left, answers = EDGE + NAMES, self.answers
        letters = self.letters((a for row in answers for a in row), w, h, min(1.2, w / FULL_WIDTH, h / FULL_HEIGHT))
        for r, row in enumerate(answers):
            for c, answer in enumerate(row):
                self.cell((left + c * w, first + r * h, w, h), answer, letters)
        self.names((left, first, w, h), Names(NAMES, 10.0, 6.4, (6.0, 2.2)))

    def _foot(self) -> None:
        chart = self.chart
        x, y = self.width - EDGE - CODE, self.height - EDGE - CODE
        self.code(x, y, CODE)
        room = x - EDGE - 2.0
        rule = chart.say("label_rule", stop=chart.say("do_not_use"))
        told = [line for text in (rule, phrases.how_to_read(chart)) for line in wrapped(text, room, 5.4)]
        self.text(EDGE, y - 1.0, "\n".join(told), 5.4, va="top", linespacing=1.2)
        self.text(EDGE, self.height - EDGE, self.batch, points_of(self.batch, 6.4, FILLED * room, bold=True), bold=True, va="bottom")
