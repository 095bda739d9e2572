"""A page of a chart as it is drawn, in millimetres: words, boxes, lines, and the cells that all pages share.

Few artists: one collection a colour and hatching, one text a line.
"""

from __future__ import annotations

import io
from collections.abc import Iterable, Sequence
from typing import Any, NamedTuple

from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.collections import LineCollection, PolyCollection
from matplotlib.figure import Figure

from libcure.charting import words as phrases
from libcure.charting.document import ChartDocument
from libcure.charting.result import DO_NOT_USE, Answer
from libcure.render import plot
from libcure.render.chart_look import INK, NEVER_BACK, SHORT_BACK, band_of
from libcure.render.lettering import FONT, points_of, width_of

__all__ = ["FULL_HEIGHT", "FULL_WIDTH", "Box", "Canvas", "Letters", "SheetFigure", "behind"]

FULL_WIDTH, FULL_HEIGHT = 25.0, 11.0
LEAST_STRIP, WIDE = 2.6, 40.0
"""Height of a line of words in a cell, and width of one that holds two of them side by side [mm]."""
NAME = 0.6
"""Letters of a time's name over those of the time."""

Box = tuple[float, float, float, float]
"""x, y, width, height [mm]."""


class Letters(NamedTuple):
    """Sizes of letters in the cells of a grid [points]."""

    place: float
    """In place by; its name is smaller."""
    work: float
    release: float
    stop: float
    """Why a cell must not be used."""


class SheetFigure(Figure):
    """A figure that a notebook shows by itself, and what a PDF of it says of itself."""

    title = ""
    spoken = ""
    """What the page says in words, for screen readers."""
    author = ""
    language = "en"

    def _repr_png_(self) -> bytes:
        buffer = io.BytesIO()
        plot.save(self, buffer, ".png")
        return buffer.getvalue()


class Canvas:
    """A page to draw on."""

    def __init__(self, chart: ChartDocument, width: float, height: float) -> None:
        self.chart, self.width, self.height = chart, width, height
        self.figure = SheetFigure(figsize=(width / 25.4, height / 25.4))
        self.figure.title, self.figure.author = chart.title, chart.publication.maker
        self.figure.language, self.figure.spoken = chart.publication.language, chart.title
        FigureCanvasAgg(self.figure)
        self.axes: Axes = self.figure.add_axes((0.0, 0.0, 1.0, 1.0))
        self.axes.set(xlim=(0.0, width), ylim=(height, 0.0))
        self.axes.axis("off")
        self.boxes: dict[tuple[str, str], list[Box]] = {}
        self.lines: dict[float, list[list[tuple[float, float]]]] = {}

    def text(
        self,
        x: float,
        y: float,
        words: str,
        points: float,
        *,
        bold: bool = False,
        color: str = INK,
        ha: str = "left",
        va: str = "center",
        **more: Any,
    ) -> None:
        """One line of text at (x, y) [mm]."""
        self.axes.text(
            x,
            y,
            words,
            fontsize=points,
            fontweight="bold" if bold else "normal",
            color=color,
            ha=ha,
            va=va,
            family=FONT,
            parse_math=False,
            **more,
        )

    def fill(self, box: Box, color: str, hatch: str = "") -> None:
        """A rectangle (x, y, width, height) [mm]."""
        self.boxes.setdefault((color, hatch), []).append(box)

    def line(self, x0: float, y0: float, x1: float, y1: float, points: float = 0.5) -> None:
        """A straight line [mm]."""
        self.lines.setdefault(points, []).append([(x0, y0), (x1, y1)])

    def frame(self, box: Box, points: float) -> None:
        """The outline of a rectangle."""
        x, y, w, h = box
        corners = [(x, y), (x + w, y), (x + w, y + h), (x, y + h), (x, y)]
        self.lines.setdefault(points, []).append(corners)

    def flush(self) -> None:
        """Draws the boxes and lines."""
        for (color, hatch), boxes in self.boxes.items():
            shapes = [[(x, y), (x + w, y), (x + w, y + h), (x, y + h)] for x, y, w, h in boxes]
            self.axes.add_collection(
                PolyCollection(
                    shapes,
                    facecolor=color,
                    edgecolor="#8a5a30" if color == SHORT_BACK else "#555555",
                    linewidth=0.0,
                    hatch=hatch or None,
                    # What is white on black lies on the hatching, whichever was drawn first.
                    zorder=1.5 if color == INK else 1.0,
                ),
                autolim=False,
            )
        for points, segments in self.lines.items():
            self.axes.add_collection(
                LineCollection(segments, colors=INK, linewidths=points, zorder=2.0, capstyle="projecting"),
                autolim=False,
            )

    def centred(self, box: Box, words: str, points: float, *, bold: bool = True, **more: Any) -> None:
        """A line in the middle of a box, as large as fits."""
        x, y, w, h = box
        size = points_of(words, points, w - 2.0, bold=bold)
        self.text(x + 0.5 * w, y + 0.5 * h, words, size, bold=bold, ha="center", va="center_baseline", **more)

    def letters(self, answers: Iterable[Answer], w: float, h: float, scale: float) -> Letters:
        """Sizes of letters that fit in all cells of a grid, whose cells are w by h [mm]: what stands in one size is read alike."""
        place, work, release, stop = 12.5 * scale, 10.5 * scale, 12.5 * scale, 9.5 * scale
        for answer in answers:
            if answer.use:
                named, working = self._times(answer)
                first, second, last = _heights(h, bool(named))
                if named:
                    place = min(place, 2.4 * first, place * (w - 3.0) / _named_width(named, place))
                work = min(work, 2.4 * second, points_of(working, work, w - 2.0, bold=True))
                release = min(release, 2.2 * last, points_of(answer.release_text, release, w - 2.0, bold=True))
            else:
                words = self._why_not(answer, w, h)
                stop = min(stop, _size(words, w, h))
        return Letters(place, work, release, stop)

    def _times(self, answer: Answer) -> tuple[tuple[str, str] | None, str]:
        """In place by with its name, and the working time."""
        chart = self.chart
        named = (chart.say("in_place"), phrases.code_words(chart, answer.in_place_text)) if answer.in_place_text else None
        work = phrases.code_words(chart, answer.working_text)
        return named, work if answer.working_word else f"{chart.say('work')} {work}"

    def _named(self, box: Box, named: tuple[str, str], points: float, **more: Any) -> None:
        """A time in the middle of a box, with its name in smaller letters before it."""
        x, y, w, h = box
        wide, middle = _named_width(named, points), y + 0.5 * h
        left = x + 0.5 * (w - wide)
        self.text(left, middle, named[0], NAME * points, va="center_baseline", **more)
        self.text(left + wide, middle, named[1], points, bold=True, ha="right", va="center_baseline", **more)

    def cell(self, box: Box, answer: Answer, letters: Letters) -> None:
        """A cell: in place by, working time and release, or why it must not be used."""
        x, y, w, h = box
        band = band_of(answer)
        if band is None:
            self._stop(box, answer, letters)
        else:
            short, (named, working) = bool(answer.working_word), self._times(answer)
            first, second, last = _heights(h, bool(named))
            upper = first + second
            self.fill((x, y + upper, w, last), band.color)
            self.fill((x, y, w, upper), SHORT_BACK if short else "#ffffff", "////" if short else "")
            self.line(x, y + upper, x + w, y + upper, 0.25)
            patch = behind(SHORT_BACK) if short else {}
            if named:
                self._named((x, y, w, first), named, letters.place, **patch)
            self.centred((x, y + first, w, second), working, letters.work, bold=short or not named, **patch)
            self.centred((x, y + upper, w, last), answer.release_text, letters.release)
        self.frame(box, 0.5)
        self.line(x, y, x + w, y, 1.4)

    def _why_not(self, answer: Answer, w: float, h: float) -> tuple[str, ...]:
        words = tuple(phrases.code_words(self.chart, word) for word in (DO_NOT_USE, *answer.short_why))
        if len(words) > 2 and h < LEAST_STRIP * len(words):
            # The gravest, and heat, which harms more than the job.
            first = (f"{words[0]}: {words[1]}",) if w > WIDE else words[:2]
            words = (*first, words[-1])
        # The widest in two lines, where that makes letters larger; heat stays one strip.
        widest = max(words[:-1] if answer.hot_word else words, key=lambda word: width_of(word, 1.0, bold=True))
        broken = tuple(part for word in words for part in (_halves(word) if word == widest else (word,)))
        return max((words, broken), key=lambda strips: _size(strips, w, h))

    def _stop(self, box: Box, answer: Answer, letters: Letters) -> None:
        words = self._why_not(answer, box[2], box[3])
        self.stop(box, words, [letters.stop] * len(words), bool(answer.hot_word), "xxxx")

    def stop(self, box: Box, words: Sequence[str], points: Sequence[float], hot: bool, hatch: str) -> None:
        """A cell that must not be used: no time, and why, a strip a word.

        Args:
            points: largest letters of each.
            hot: whether the last one is heat.
        """
        x, y, w, h = box
        each = h / len(words)
        self.fill(box, NEVER_BACK, hatch)
        for i, (word, size) in enumerate(zip(words, points, strict=True)):
            strip, heat = (x, y + i * each, w, each), hot and i == len(words) - 1
            if heat:
                # White on black: nothing else on a page looks like it, in colour or in grey.
                self.fill(strip, INK)
            self.centred(strip, word, size, color="#ffffff" if heat else INK, **({} if heat else behind(NEVER_BACK)))


def _halves(word: str) -> tuple[str, ...]:
    """A word of two parts or more in two lines, as even as can be."""
    parts = word.split(" ")
    lines = [(" ".join(parts[:i]), " ".join(parts[i:])) for i in range(1, len(parts))]
    return min(lines, key=lambda pair: max(map(len, pair)), default=(word,))


def _size(strips: Sequence[str], w: float, h: float) -> float:
    """Largest letters [points] with which words fit in strips of a cell."""
    return min(1.9 * h / len(strips), *(points_of(word, 99.0, w - 2.0, bold=True) for word in strips))


def _heights(height: float, named: bool) -> tuple[float, float, float]:
    """Of the parts of a cell: in place by, working time, release."""
    return (0.36 * height, 0.25 * height, 0.39 * height) if named else (0.0, 0.45 * height, 0.55 * height)


def _named_width(named: tuple[str, str], points: float) -> float:
    """Of a time with its name before it [mm]."""
    return width_of(f"{named[0]} ", NAME * points) + width_of(named[1], points, bold=True)


def behind(color: str) -> dict[str, Any]:
    """A patch behind words, so that a hatching does not cross them."""
    return {"bbox": {"boxstyle": "square,pad=0.12", "facecolor": color, "edgecolor": "none"}}
