"""A poster for the wall of a workshop, one page a panel: few words, and numbers that are read at two metres."""

from __future__ import annotations

from typing import NamedTuple

from libcure.charting import words as phrases
from libcure.charting.result import DO_NOT_USE, Answer, ChartResult
from libcure.render.chart_canvas import Box, SheetFigure, behind
from libcure.render.chart_look import SHORT_BACK, band_of
from libcure.render.chart_panel import Names, PanelCanvas, panels_of
from libcure.render.chart_paper import PAPERS
from libcure.render.lettering import FILLED, points_of, width_of, wrapped

__all__ = ["READABLE", "posters"]

LARGER = 2.0
"""Sides over those of the paper of the sheet: A2 of A4."""
READABLE = 40.0
"""Size of a number that is read at 2 m [points]: capitals of a two hundredth of that, 10 mm. Common practice, no source."""
MOST = 76.0
"""Largest letters of a number [points]."""
EDGE, NAMES, CODE = 13.0, 62.0, 56.0
"""Of the page [mm]: margin, width of the rows' names, the square code."""
NAME, HEADLINE, TITLE, RULE, SMALL = 64.0, 38.0, 22.0, 24.0, 13.0
"""Sizes of words [points]."""
COLUMNS = 36.0
"""Height of the columns' names [mm]."""
PAD, TALL = 3.0, 2.3
"""Free width beside the words of a cell [mm], and size of letters over the height of their strip [points/mm]."""
WORD = 0.38
"""Share of the height of a time that the word above it takes."""
BADGE_FROM, BADGE = 14.0, 17.0
"""Where the badge of an estimated model begins, and its height [mm]."""
FOOT, KEY = 66.0, (96.0, 56.0)
"""Height below the cells, and the cell that tells how to read one [mm]."""


def posters(result: ChartResult) -> list[tuple[str, SheetFigure]]:
    """A page for each panel of each page of the chart, with what it is for."""
    return [(name or page.chart.title, _Poster(page, panel, name).figure) for page, panel, name in panels_of(result)]


class _Sizes(NamedTuple):
    """Of letters [points], each the same in all cells."""

    time: float
    release: float
    word: float
    """That there is too little time."""
    stop: float
    reason: float


def _common(texts: list[str], most: float, room: float) -> float:
    return min([MOST, most, *(points_of(text, MOST, room, bold=True) for text in texts)])


class _Poster(PanelCanvas):
    def __init__(self, result: ChartResult, panel: int, name: str) -> None:
        chart = result.chart
        size = PAPERS[chart.paper] if chart.page == "landscape" else PAPERS[chart.paper][::-1]
        super().__init__(result, panel, LARGER * size[0], LARGER * size[1])
        top = self._head(name)
        rows, columns = self.shape
        w, h = (self.width - 2.0 * EDGE - NAMES) / columns, (self.height - EDGE - FOOT - top) / rows
        left = EDGE + NAMES
        self.names((left, top, w, h), Names(NAMES, 44.0, 22.0, (24.0, 8.0)))
        answers = self.answers
        share, sizes = self._letters([a for row in answers for a in row], w, h)
        for r, row in enumerate(answers):
            for c, answer in enumerate(row):
                self._cell((left + c * w, top + r * h, w, h), answer, share, sizes)
        self._foot(0.5 if share else 0.0)
        self.flush()

    def _head(self, name: str) -> float:
        """Title, name and the two temperatures; returns where the cells begin [mm]."""
        chart, room, y = self.chart, self.width - 2.0 * EDGE, 22.0
        badge = 0.36 * room if self.estimated else 0.0
        # The title is the largest where nothing else names the page.
        lines = [(line, TITLE if name else HEADLINE) for line in wrapped(chart.title, room - badge, TITLE if name else HEADLINE, bold=True)]
        lines += [(line, points) for text, points in ((name, NAME), (phrases.headline(chart), HEADLINE)) if text for line in (text,)]
        for i, (words, points) in enumerate(lines):
            beside = badge and y - 0.18 * points < BADGE_FROM + BADGE
            fitted = points_of(words, points, FILLED * (room - badge if beside else room), bold=True)
            self.text(EDGE, y, words, fitted, bold=True)
            y += 0.22 * points + 0.22 * (lines[i + 1][1] if i + 1 < len(lines) else 24.0)
        if badge:
            self.badge((self.width - EDGE - badge + 8.0, BADGE_FROM, badge - 8.0, BADGE), 20.0)
        return y + (COLUMNS if chart.columns is not None else 14.0)

    def _time(self, answer: Answer) -> str:
        """Until when the liner must be in place, or worked on where nothing comes before the hold."""
        text = answer.in_place_text or answer.working_text.removeprefix(answer.working_word).strip()
        return phrases.code_words(self.chart, text)

    def _letters(self, answers: list[Answer], w: float, h: float) -> tuple[float, _Sizes]:
        """The share of a cell's width that its first number has, 0 for one above the other, and the sizes of letters."""
        used, stopped = [a for a in answers if a.use], [a for a in answers if not a.use]
        times, releases = [self._time(a) for a in used], [a.release_text for a in used]
        short = any(a.working_word for a in used)

        # Side by side, each as wide as its longest.
        widths = [max((width_of(text, READABLE, bold=True) for text in texts), default=1.0) for texts in (times, releases)]
        beside = min(0.65, max(0.35, widths[0] / sum(widths)))

        def numbers(part: float, other: float, height: float) -> tuple[float, float]:
            below = height * (1.0 - WORD if short else 1.0)
            return _common(times, TALL * below, part - PAD), _common(releases, TALL * height, other - PAD)

        above, side = numbers(w, w, 0.5 * h), numbers(beside * w, (1.0 - beside) * w, h)
        share = 0.0 if min(above) >= min(side) else beside
        word = _common([self.chart.say("short")], TALL * WORD * (h if share else 0.5 * h), (share or 1.0) * w - PAD)
        most = max((len(a.why_not) for a in stopped), default=1) + 1
        reasons = [phrases.code_words(self.chart, word) for a in stopped for word in a.short_why]
        stop = _common([phrases.code_words(self.chart, DO_NOT_USE)], 1.9 * h / most, w - PAD)
        return share, _Sizes(*(side if share else above), word, stop, _common(reasons, stop, w - PAD))

    def _halves(self, box: Box, share: float) -> tuple[Box, Box]:
        x, y, w, h = box
        if not share:
            return (x, y, w, 0.5 * h), (x, y + 0.5 * h, w, 0.5 * h)
        return (x, y, share * w, h), (x + share * w, y, (1.0 - share) * w, h)

    def _cell(self, box: Box, answer: Answer, share: float, sizes: _Sizes) -> None:
        band = band_of(answer)
        if band is None:
            words = [phrases.code_words(self.chart, word) for word in (DO_NOT_USE, *answer.short_why)]
            self.stop(box, words, [sizes.stop, *(sizes.reason for _ in words[1:])], bool(answer.hot_word), "xx")
        else:
            first, second = self._halves(box, share)
            self._first(first, answer, sizes)
            self.fill(second, band.color)
            self.centred(second, answer.release_text, sizes.release)
            end = (second[0], box[1] + box[3]) if share else (box[0] + box[2], second[1])
            self.line(second[0], second[1], *end, 0.8)
        self.frame(box, 2.5)

    def _first(self, box: Box, answer: Answer, sizes: _Sizes) -> None:
        """The time that the crew has; above it a word where that is short."""
        if not answer.working_word:
            self.fill(box, "#ffffff")
            self.centred(box, self._time(answer), sizes.time)
            return
        x, y, w, h = box
        self.fill(box, SHORT_BACK, "//")
        self.centred((x, y, w, WORD * h), self.chart.say("short"), sizes.word, **behind(SHORT_BACK))
        self.centred((x, y + WORD * h, w, (1.0 - WORD) * h), self._time(answer), sizes.time, **behind(SHORT_BACK))

    def _foot(self, share: float) -> None:
        """How to read a cell, the rule between cells, where the whole chart is."""
        say, y = self.chart.say, self.height - EDGE - FOOT + 10.0
        first, second = self._halves((EDGE, y, *KEY), share)
        held = all(answer.in_place_min is None for answer in self.result.answers.values())
        key = ((first, say("work" if held else "in_place")), (second, say("page_release")))
        size = min(points_of(words, 30.0, box[2] - PAD, bold=True) for box, words in key)
        for box, words in key:
            self.frame(box, 1.2)
            self.centred(box, words, size)
        x, room = EDGE + KEY[0] + 12.0, self.width - 2.0 * EDGE - KEY[0] - CODE - 24.0
        rule = wrapped(say("label_rule", stop=say("do_not_use")), room, RULE, bold=True)
        self.text(x, y, "\n".join(rule), RULE, bold=True, va="top", linespacing=1.3)
        self.text(x, y + KEY[1], self.batch, points_of(self.batch, SMALL, FILLED * room), va="bottom")
        self.code(self.width - EDGE - CODE, y, CODE)
