"""The sheet to print for the van: one page, drawn in millimetres."""

from __future__ import annotations

import io
from pathlib import Path

from matplotlib.figure import Figure

from libcure.charting import words as phrases
from libcure.charting.axes import Axis
from libcure.charting.result import Answer, ChartResult
from libcure.render import chart_maker, chart_pdf, plot
from libcure.render.chart_canvas import FULL_HEIGHT, FULL_WIDTH, Canvas, SheetFigure, behind
from libcure.render.chart_look import (
    INK,
    NEVER_BACK,
    RELEASE_COLOURS,
    SHORT_BACK,
    both_ranges,
    ground_axis,
    month_answers,
    month_lines,
    resin_axis,
    second_label,
    value_label,
)
from libcure.render.chart_paper import (
    BADGE,
    BULLET,
    CODE,
    FOOT_GAP,
    FOOT_POINTS,
    GAP,
    HEAD_FROM,
    HEAD_LINE,
    HEAD_POINTS,
    HEADLINE,
    HEADLINE_POINTS,
    LABEL,
    LEGEND,
    MAKER,
    MARGIN,
    MONTH_LINE,
    MOST_PLACES,
    paper_of,
)
from libcure.render.lettering import FILLED, FONT, points_of, wrapped

__all__ = ["FONTS", "SheetFigure", "draw", "save", "warm_up"]

FONTS = {"pdf.fonttype": 3}
"""The outlines of the letters alone: taking fonts apart takes longer than all the rest of the page."""


def draw(result: ChartResult) -> SheetFigure:
    """Draws the sheet.

    Raises:
        CureError: more rows or columns than fit legibly.
    """
    with plot.style():
        # Of a chart with pages the first.
        return _Sheet(result.pages[0][1]).figure


def save(figure: Figure, target: Path | io.BytesIO, suffix: str) -> None:
    """Writes the sheet as ``.pdf``, ``.svg`` or ``.png``; the same sheet gives the same bytes."""
    if suffix != ".pdf" or not isinstance(figure, SheetFigure):
        plot.save(figure, target, suffix, FONTS)
        return
    page = io.BytesIO()
    plot.save(figure, page, suffix, FONTS)
    data = chart_pdf.book([(figure.title, figure.spoken, page.getvalue())], figure.title, figure.author, figure.language)
    if isinstance(target, Path):
        target.write_bytes(data)
    else:
        target.write(data)


def warm_up() -> None:
    """Loads what drawing and saving need: half a second that may pass while the engine computes."""
    with plot.style():
        figure = SheetFigure()
        for weight in ("normal", "bold"):
            figure.text(0.0, 0.0, "0", family=FONT, fontweight=weight)
    for suffix in (".pdf", ".svg"):
        save(figure, io.BytesIO(), suffix)


class _Sheet(Canvas):
    def __init__(self, result: ChartResult) -> None:
        self.result, self.paper = result, paper_of(result.chart)
        super().__init__(result.chart, self.paper.width, self.paper.height)
        self.figure.spoken = self._spoken()
        self._head()
        self._grid()
        self._maker()
        if self.paper.months:
            self._months(self.paper.bottom + 4.0)
        self._foot()
        self.flush()

    def _spoken(self) -> str:
        """All but the months, whose cells are told."""
        result, say = self.result, self.chart.say
        told = [phrases.spoken(result, result.answers.values())]
        told += [f"{say(key)}: {' '.join(texts)}" for key, texts in (("cautions", result.cautions), ("rests_on", phrases.rests_on(result)))]
        return " ".join((*told, *(chart_maker.lines(result) if self.chart.publication.stated else ()), phrases.trace(result)))

    # Head

    def _head(self) -> None:
        paper = self.paper
        for i, title in enumerate(paper.title):
            y = 11.5 + 4.6 * (i - 0.5 * (len(paper.title) - 1))
            self.text(MARGIN, y, title, paper.title_points, bold=True)
        room = self.width - 2.0 * MARGIN
        size = points_of(paper.headline, HEADLINE_POINTS, FILLED * room, bold=True)
        self.text(MARGIN, HEAD_FROM + 0.8, paper.headline, size, bold=True)
        y, alarm = HEAD_FROM + HEADLINE, phrases.check_first(self.chart, len(self.result.violations))
        for i, lines in enumerate(paper.head):
            if i == 0 and alarm:
                # The legend tells how to read a cell too.
                box = (MARGIN, y - 0.5 * HEAD_LINE, self.width - 2.0 * MARGIN, HEAD_LINE * len(lines) - 0.4)
                self.fill(box, INK)
                self.centred(box, alarm, HEAD_POINTS, color="#ffffff")
                lines = ("",) * len(lines)
            for line in lines:
                self.text(MARGIN, y, line, HEAD_POINTS, bold=i == 1)
                y += HEAD_LINE
        if paper.estimated:
            x = self.width - MARGIN - BADGE + 4.0
            self.frame((x, 7.5, BADGE - 4.0, 8.0), 1.4)
            words = self.chart.say("estimated")
            self.text(x + 0.5 * (BADGE - 4.0), 11.5, words, points_of(words, 7.6, BADGE - 7.0, bold=True), bold=True, ha="center")

    # Maker

    def _maker(self) -> None:
        p = self.chart.publication
        if not p.stated:
            return
        right = self.width - MARGIN - (BADGE if self.paper.estimated else 0.0)
        if p.mark is not None:
            self._mark(p.mark, right, 9.0 if p.maker else 13.0)
        if p.maker:
            self.text(right, 15.5 if p.mark else 11.5, p.maker, points_of(p.maker, 9.0, MAKER - 4.0, bold=True), bold=True, ha="right")
        x, y = self.width - MARGIN - CODE, self.paper.foot + 1.8
        for box in chart_maker.code_squares(chart_maker.code_text(self.result), x, y, CODE):
            self.fill(box, "#000000")
        words = [line for text in chart_maker.lines(self.result) for line in wrapped(text, CODE, 5.6)]
        size = min(points_of(line, 5.6, CODE) for line in words)
        self.text(x, y + CODE + 0.8, "\n".join(words), size, va="top", linespacing=1.25)

    def _mark(self, mark: Path, right: float, bottom: float) -> None:
        picture, (w, h) = chart_maker.mark_picture(mark, (MAKER - 4.0, bottom - 4.0))
        self.axes.imshow(picture, extent=(right - w, right, bottom + 4.0, bottom + 4.0 - h), aspect="auto", interpolation="antialiased")
        self.axes.set(xlim=(0.0, self.width), ylim=(self.height, 0.0))

    # Grid

    def _grid(self) -> None:
        chart, paper, top = self.chart, self.paper, self.paper.top
        rows = chart.axis(chart.rows)
        columns = chart.axis(chart.columns) if chart.columns is not None else None
        panels = chart.axis(chart.panels) if chart.panels is not None else None
        n_rows, n_columns = len(rows.values), len(columns.values) if columns is not None else 1
        n_panels = len(panels.values) if panels is not None else 1
        width, height = min(paper.cell[0], 90.0), min(paper.cell[1], 30.0)
        scale = min(1.5, width / FULL_WIDTH, height / FULL_HEIGHT)
        first = top + paper.names
        self._row_labels(first, height, scale)
        letters = self.letters(self.result.answers.values(), width, height, scale)
        for p in range(n_panels):
            left = MARGIN + LABEL + p * (n_columns * width + GAP)
            if panels is not None:
                title = f"{panels.title}: {value_label(chart, panels, p)}"
                extra = ", ".join(second_label(chart, panels, p))
                title = f"{title} ({extra})" if extra else title
                self.text(
                    left + 0.5 * n_columns * width,
                    top + 3.0,
                    title,
                    points_of(title, 10.5, n_columns * width, bold=True),
                    bold=True,
                    ha="center",
                )
            for c in range(n_columns):
                x = left + c * width
                if columns is not None:
                    middle, name = x + 0.5 * width, value_label(chart, columns, c)
                    below = ", ".join((columns.title, *second_label(chart, columns, c)))
                    self.text(middle, first - 6.2, name, points_of(name, 10.5, width - 1.0, bold=True), bold=True, ha="center")
                    self.text(middle, first - 2.2, below, points_of(below, 7.2, width - 1.0), ha="center")
                for r in range(n_rows):
                    self.cell((x, first + r * height, width, height), self._answer(p, c, r), letters)
            self.frame((left, first, n_columns * width, n_rows * height), 1.6)

    def _answer(self, panel: int, column: int, row: int) -> Answer:
        chart = self.chart
        place = {chart.panels: panel, chart.columns: column, chart.rows: row}
        return self.result.answers[tuple(place[axis.name] for axis in chart.axes)]

    def _row_labels(self, first: float, height: float, scale: float) -> None:
        chart = self.chart
        rows = chart.axis(chart.rows)
        self.text(MARGIN, first - 2.8, rows.title, points_of(rows.title, 8.0, 26.0, bold=True), bold=True)
        for r in range(len(rows.values)):
            y = first + (r + 0.5) * height
            label, second = value_label(chart, rows, r), second_label(chart, rows, r)
            up = 1.6 * scale * len(second)
            self.text(MARGIN + 25.0, y - up, label, points_of(label, 11.5 * scale, 25.0, bold=True), bold=True, ha="right")
            for i, line in enumerate(second):
                below = y - up + (4.5 + 3.0 * i) * scale
                self.text(MARGIN + 25.0, below, line, points_of(line, 8.0 * scale, 25.0), ha="right")

    # Months

    def _months(self, y: float) -> None:
        left, label = MARGIN + LABEL, 25.0
        width = (self.width - left - MARGIN) / 12.0
        names, columns = self._month_texts()
        for i, (words, bold) in enumerate(names):
            size = points_of(words, 7.0, label, bold=bold)
            self.text(MARGIN + label, y + 0.6 + MONTH_LINE * i, words, size, bold=bold, ha="right", va="center_baseline")
        for j, lines in enumerate(columns):
            x = left + j * width
            self.frame((x, y - 1.4, width, 0.7 + MONTH_LINE * self.paper.months), 0.5)
            for i, (words, (_, bold)) in enumerate(zip(lines, names, strict=True)):
                self.centred((x, y - 0.4 + MONTH_LINE * i, width, 2.0), words, 6.8, bold=bold)
        words = phrases.by_month(self.chart)
        self.text(MARGIN, y + 1.4 + MONTH_LINE * self.paper.months, words, points_of(words, FOOT_POINTS, FILLED * (self.width - 2.0 * MARGIN)))

    def _month_texts(self) -> tuple[list[tuple[str, bool]], list[list[str]]]:
        """Names of the lines, and whether they are bold; then the lines of each month."""
        chart, lines = self.chart, month_lines(self.chart)
        axis, climate, resin = ground_axis(chart), chart.climate, resin_axis(chart)
        assert axis is not None and climate is not None
        places = {name: chart.say(key) for name, key in ((chart.panels, "panel"), (chart.columns, "column"), (chart.rows, "row"))}
        portrait = chart.page != "landscape"

        def ranges(span: tuple[float, float]) -> list[str]:
            both = both_ranges(*span, first=chart.temperature, to=chart.say("to"))
            return both.split(", ") if portrait else [both]

        ground = [(chart.say("ground_at", depth=f"{climate.depth_m:g}"), False), *([("", False)] if portrait else [])]
        names, found = [(chart.say("month"), True), *ground], [[line.month, *ranges(line.wall_C)] for line in lines]
        if resin is None:
            names.append((chart.say("release_only", place=places[axis.name]), True))
            for line, texts in zip(lines, found, strict=True):
                texts.append(value_label(chart, axis, line.rows[0]) if line.rows else chart.say("off_chart"))
            return names, found
        names += [(chart.say("resin_and_packer"), False), *([("", False)] if portrait else [])]
        answers = [month_answers(self.result, line) for line in lines]
        short = len(answers[0]) <= MOST_PLACES
        names += [(a.where, True) for a in answers[0]] if short else [(places[a.name], True) for a in (axis, resin)]
        for line, texts, told in zip(lines, found, answers, strict=True):
            assert line.resin_C is not None
            texts += ranges(line.resin_C)
            texts += [a.short for a in told] if short else [self._from_to(axis, line.rows), self._from_to(resin, line.columns)]
        return names, found

    def _from_to(self, axis: Axis, places: tuple[int, ...]) -> str:
        ends = dict.fromkeys(value_label(self.chart, axis, i) for i in (places[:1] + places[-1:]))
        return f" {self.chart.say('to')} ".join(ends) or self.chart.say("off_chart")

    # Foot

    def _foot(self) -> None:
        chart, result, paper = self.chart, self.result, self.paper
        trace = phrases.trace(result)
        self.text(MARGIN, self.height - 6.5, trace, points_of(trace, 6.8, self.width - 2.0 * MARGIN))
        begin = paper.foot + 1.8
        x = MARGIN + LEGEND + FOOT_GAP
        for title, texts in ((chart.say("cautions"), result.cautions), (chart.say("rests_on"), phrases.rests_on(result))):
            lines = [line for text in texts for line in wrapped(text, paper.column, FOOT_POINTS, bullet=BULLET)]
            self.text(x, begin + 1.5, title, 7.6, bold=True)
            self.text(x, begin + 4.3, "\n".join(lines), FOOT_POINTS, va="top", linespacing=1.25)
            x += paper.column + FOOT_GAP
        self._legend(MARGIN, begin)
        self.line(MARGIN, paper.foot, self.width - MARGIN, paper.foot, 0.5)
        self.line(MARGIN, self.height - 9.3, self.width - MARGIN, self.height - 9.3, 0.5)

    def _legend(self, x: float, y: float) -> None:
        chart, say = self.chart, self.chart.say
        self.text(x, y + 1.5, say("legend_title"), 7.6, bold=True)
        w, h, gap = 16.0, 3.7, 0.6
        short = say("legend_short", need=f"{chart.need_min:g}") if chart.need_min else say("legend_short_any")
        rows = [
            ("#ffffff", "", f"{say('in_place')} 40 min", say("legend_place")),
            ("#ffffff", "", f"{say('work')} 45 min", say("legend_work")),
            (SHORT_BACK, "////", say("short"), short),
            *((band.color, "", "1 h 45" if band is RELEASE_COLOURS[0] else "", band.words(chart)) for band in RELEASE_COLOURS),
            (NEVER_BACK, "xxxx", say("do_not_use"), say("legend_stop")),
            (INK, "", say("too_hot"), say("legend_hot")),
        ]
        for i, (color, hatch, words, text) in enumerate(rows):
            box = (x, y + 4.2 + i * (h + gap), w, h)
            self.fill(box, color, hatch)
            self.frame(box, 0.6)
            ink = "#ffffff" if color == INK else INK
            self.centred(box, words, 6.4, bold=i > 0, color=ink, **(behind(color) if hatch else {}))
            size = points_of(text, FOOT_POINTS, LEGEND - w - 2.0)
            self.text(x + w + 2.0, box[1] + 0.5 * h, text, size, va="center_baseline")
        lines = wrapped(say("legend_foot"), LEGEND, FOOT_POINTS)
        y += 4.2 + len(rows) * (h + gap)
        self.text(x, y, "\n".join(lines), FOOT_POINTS, va="top", linespacing=1.25)
