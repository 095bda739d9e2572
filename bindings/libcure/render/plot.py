"""The picture of a prediction: temperatures, degree of cure and a map of the wall, over job time.

The time axis is straight for the first minutes and logarithmic later (an asinh scale), so that
the working time and a hold of days can be read off the same picture.
"""

from __future__ import annotations

import io
import os
import textwrap
from collections.abc import Iterable, Mapping, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import TYPE_CHECKING, Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import FixedFormatter, FixedLocator, NullLocator
from numpy.typing import NDArray

from libcure.errors import one_line
from libcure.render.page_look import HTML_COLOURS
from libcure.words.rounding import duration

if TYPE_CHECKING:
    from libcure.history import StageHistory
    from libcure.result import Prediction

__all__ = ["Picture", "VerdictFigure", "save", "style"]

ZERO_CELSIUS = 273.15  # [K]
DOTS_PER_INCH = 130
GROUND_DEPTH = 0.05  # of the ground curve, from the pipe [m]

# Colours of M. Okabe and K. Ito, "Color Universal Design" (2008), from memory; each curve also has
# a line style of its own, for grey prints.
BLACK, ORANGE, SKY, GREEN, BLUE, RED, PURPLE = (
    "#000000",
    "#E69F00",
    "#56B4E9",
    "#009E73",
    "#0072B2",
    "#D55E00",
    "#CC79A7",
)
INK, FAINT = "#222222", "#8a8a8a"

Floats = NDArray[np.float64]

STYLE: dict[str, Any] = {
    "font.family": "DejaVu Sans",
    "font.size": 9.0,
    "axes.titlesize": 9.0,
    "axes.edgecolor": FAINT,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.linewidth": 0.8,
    "xtick.color": INK,
    "ytick.color": INK,
    "text.color": INK,
    "lines.linewidth": 1.6,
    "legend.frameon": False,
    "svg.hashsalt": "libcure",
    "svg.fonttype": "path",
    "pdf.fonttype": 42,
}

STAGE_NAMES = {
    "mixed_mass": ("resin in the bucket", "mixed"),
    "wet_out": ("wet-out", "wet"),
    "held": ("held by the bladder", "held"),
    "after_release": ("after release", "after"),
}
PAUSE_NAMES = ("bladder down", "down")  # between two holds
TICKS = (  # [min], and how a person says it
    *((float(m), str(m)) for m in (0, 1, 2, 3, 4, 5, 7, 10, 15, 20, 30, 45)),
    *((60.0 * h, f"{h} h") for h in (1, 2, 4, 8, 12)),
    *((1440.0 * d, f"{d} d") for d in (1, 2, 4, 7, 14, 30, 90, 365)),
)


def style(settings: Mapping[str, Any] = MappingProxyType({})) -> AbstractContextManager[None]:
    """Our own settings, whatever the user's are."""
    defaults: Any = {**matplotlib.rcParamsDefault, **STYLE, **settings}
    del defaults["backend"]
    return matplotlib.rc_context(defaults)


class VerdictFigure(Figure):
    """A figure that a notebook shows by itself, and that no global state of pyplot knows."""

    def _repr_png_(self) -> bytes:
        buffer = io.BytesIO()
        save(self, buffer, ".png")
        return buffer.getvalue()


def save(
    figure: Figure, target: Path | io.BytesIO, suffix: str, settings: Mapping[str, Any] = MappingProxyType({})
) -> None:
    """Writes a figure. The same prediction gives the same bytes.

    Args:
        target: file or buffer.
        suffix: one of :data:`libcure.rendering.PICTURES`. The date in SVG and PDF is that of SOURCE_DATE_EPOCH, or
            left out.
        settings: of matplotlib, over :data:`STYLE`.
    """
    kind = suffix.lower().lstrip(".")
    metadata: dict[str, Any] = {"png": {"Software": None}, "svg": {}, "pdf": {}}[kind]
    if "SOURCE_DATE_EPOCH" not in os.environ:
        metadata.update({"svg": {"Date": None}, "pdf": {"CreationDate": None}}.get(kind, {}))
    with style(settings):
        options: dict[str, Any] = {"pil_kwargs": {"optimize": True}} if kind == "png" else {}
        figure.savefig(target, format=kind, dpi=DOTS_PER_INCH, metadata=metadata, **options)


@dataclass(frozen=True)
class _Mark:
    """A time to mark, with its label."""

    minutes: float
    label: str
    color: str
    bold: bool = False


class Picture:
    """Builds the figure from top to bottom: labels of the times, stages, panels. Sizes in inches."""

    width, left, right = 10.2, 0.75, 2.15
    row, band, header, bottom = 0.19, 0.22, 0.86, 0.55
    reason = 0.165  # a line of the reasons
    extra = 0.0  # below the panels over time

    def __init__(self, prediction: Prediction) -> None:
        self.verdict, self.answer = prediction.verdict, prediction.answer
        self.history = prediction.history
        self.alpha_gel = prediction.case.resin.alpha_gel
        self.walls = [s for s in self.history.stages if not s.lumped]
        self.end = float(self.history.time[-1]) / 60.0
        self.scale = _linear_minutes(self.end, self.verdict)
        self.figure = VerdictFigure(figsize=(self.width, 8.0), layout=None)
        FigureCanvasAgg(self.figure)
        marks = self._marks()
        rows = self._rows(marks)
        self.reasons = _wrapped(reason.text for reason in self.answer.reasons)
        top = self.header + self.reason * len(self.reasons) + self.row * (max(rows, default=-1) + 1) + self.band + 0.12
        heights = [2.9, 2.1, 1.8] if self.walls else [2.9, 2.1]
        height = top + sum(heights) + 0.2 * (len(heights) - 1) + self.bottom + self.extra
        self.figure.set_size_inches(self.width, height)
        self.panels: list[Axes] = list(
            self.figure.subplots(
                len(heights),
                1,
                sharex=True,
                gridspec_kw={
                    "height_ratios": heights,
                    "hspace": 0.2 * len(heights) / sum(heights),
                    "left": self.left / self.width,
                    "right": 1.0 - self.right / self.width,
                    "top": 1.0 - top / height,
                    "bottom": (self.bottom + self.extra) / height,
                },
            )
        )
        self._time_axis()
        self._temperatures(self.panels[0])
        self._cure(self.panels[1])
        if self.walls:
            self._map(self.panels[2])
        self._stages()
        self._draw_marks(marks, rows)
        self._below()
        self._title()

    def _below(self) -> None:
        """What stands below the panels over time."""

    # The time axis

    def _time_axis(self) -> None:
        for axes in self.panels:
            axes.set_xscale("asinh", linear_width=self.scale)
            axes.set_xlim(0.0, self.end)
            axes.xaxis.set_minor_locator(NullLocator())
        ticks = self._ticks()
        last = self.panels[-1]
        last.xaxis.set_major_locator(FixedLocator([t for t, _ in ticks]))
        last.xaxis.set_major_formatter(FixedFormatter([name for _, name in ticks]))
        last.set_xlabel("Time from mixing: minutes, then hours (h) and days (d) on a tightening scale")

    def _place(self, minutes: float) -> float:
        """Where a time stands on the picture, from its left edge [inch]."""
        share = float(np.arcsinh(minutes / self.scale) / np.arcsinh(self.end / self.scale))
        return self.left + share * (self.width - self.left - self.right)

    def _ticks(self) -> list[tuple[float, str]]:
        """Of all ticks those that leave each other room."""
        kept: list[tuple[float, str]] = []
        for minutes, name in TICKS:
            if minutes <= self.end and (not kept or self._place(minutes) - self._place(kept[-1][0]) > 0.36):
                kept.append((minutes, name))
        return kept

    # The panels

    def _temperatures(self, axes: Axes) -> None:
        pots = [s for s in self.history.stages if s.lumped]
        if pots:
            minutes, T = (np.concatenate(parts) for parts in zip(*((s.time / 60.0, s.temperature[:, 0]) for s in pots), strict=True))
            axes.plot(minutes, T - ZERO_CELSIUS, color=RED, ls=(0, (5, 1, 1, 1)), lw=2.2, label="resin in the bucket")
        curves = (
            ("liner inner face", "liner", 0, RED, "-"),
            ("liner middle", "liner", None, ORANGE, "--"),
            ("liner outer face", "liner", -1, PURPLE, ":"),
            ("pipe outer wall", "pipe", -1, BLUE, "-."),
            (f"ground, {1e3 * GROUND_DEPTH:.0f} mm out", "ground", None, GREEN, (0, (8, 2))),
        )
        for name, layer, which, color, style in curves:
            time, value = self._curve(layer, which)
            if time.size:
                axes.plot(time / 60.0, value - ZERO_CELSIUS, color=color, ls=style, label=name)
        axes.set_ylabel("Temperature (°C)")
        axes.margins(y=0.06)
        beside(axes)

    def _curve(self, layer: str, which: int | None) -> tuple[Floats, Floats]:
        """Time [s] and temperature [K] of one cell of a layer, over the stages that have it.

        ``which`` counts the layer's cells; None is the middle one, or the near ground.
        """
        times, values = [], []
        for s in self.walls:
            cells = np.flatnonzero(s.layer == layer)
            if cells.size:
                times.append(s.time)
                values.append(s.temperature[:, cells[self._index(s, cells, layer, which)]])
        if not times:
            return np.empty(0), np.empty(0)
        return np.concatenate(times), np.concatenate(values)

    @staticmethod
    def _index(s: StageHistory, cells: NDArray[np.intp], layer: str, which: int | None) -> int:
        if which is not None:
            return which
        if layer == "ground":
            return int(np.argmin(np.abs(s.radius[cells] - (s.face[cells[0]] + GROUND_DEPTH))))
        return int(cells.size // 2)

    def needed_cure(self) -> list[tuple[str, float, str]]:
        """The degree of cure that a release by conversion asks for; by mechanics the glass transition decides."""
        criterion = self.verdict["criterion"]
        return [("release needs", criterion["alpha_min"], "--")] if criterion["by"] == "conversion" else []

    def _cure(self, axes: Axes) -> None:
        h = self.history
        minutes = h.time / 60.0
        curves: Iterable[tuple[str, int, str, str]] = (
            ("inner face", 0, RED, "-"),
            ("middle", h.alpha.shape[1] // 2, ORANGE, "--"),
            ("outer face", h.alpha.shape[1] - 1, PURPLE, ":"),
        )
        if not self.walls:
            curves = (("resin in the bucket", 0, RED, "-"),)
        for name, j, color, style in curves:
            axes.plot(minutes, h.alpha[:, j], color=color, ls=style, label=name)
        axes.set_ylim(0.0, 1.03)
        axes.set_ylabel("Degree of cure α (–)")
        legend = [("gel point", self.alpha_gel, "-")]
        if any(s.kind == "held" for s in self.walls):
            legend += self.needed_cure()
        for name, level, style in legend:
            axes.axhline(level, color=INK, lw=0.9, ls=style, zorder=1, label=f"{name} {level:.2f}")
        beside(axes)

    def _map(self, axes: Axes) -> None:
        """Temperature over time and radius, from the bladder to the pipe's outer wall."""
        shown = [(s, np.flatnonzero(s.layer != "ground")) for s in self.walls]
        T = [s.temperature[:, cells] - ZERO_CELSIUS for s, cells in shown]
        low, high = min(float(t.min()) for t in T), max(float(t.max()) for t in T)
        mesh = None
        for (s, cells), values in zip(shown, T, strict=True):
            face = 1e3 * s.face[cells[0] : cells[-1] + 2]
            # Each sample colours from half-way to its neighbours.
            t = s.time / 60.0
            edges = np.concatenate([t[:1], 0.5 * (t[1:] + t[:-1]), t[-1:]])
            mesh = axes.pcolormesh(edges, face, values.T, cmap="inferno", vmin=low, vmax=high, shading="flat",
                                   rasterized=True)
        bottom = min(1e3 * s.face[0] for s, _ in shown)
        top = max(1e3 * s.face[cells[-1] + 1] for s, cells in shown)
        axes.set_ylim(bottom, top)
        axes.set_facecolor("#e9e9e9")
        for layer in ("bladder", "liner", "pipe"):
            self._mark_layer(axes, layer)
        axes.set_ylabel("Radius (mm)")
        axes.spines[["top", "right"]].set_visible(True)
        if mesh is not None:
            box = axes.get_position()
            bar = self.figure.add_axes((box.x1 + 0.8 / self.width, box.y0, 0.12 / self.width, box.height))
            self.figure.colorbar(mesh, cax=bar, label="°C")

    def _mark_layer(self, axes: Axes, layer: str) -> None:
        having = [s for s in self.walls if layer in s.layer]
        if not having:
            return
        s = having[0]
        cells = np.flatnonzero(s.layer == layer)
        inner, outer = 1e3 * s.face[cells[0]], 1e3 * s.face[cells[-1] + 1]
        if layer == "liner":
            for r in (inner, outer):
                axes.axhline(r, color="white", lw=1.6)
                axes.axhline(r, color=INK, lw=0.8, ls=(0, (4, 2)))
        axes.annotate(layer, (1.0, 0.5 * (inner + outer)), xycoords=("axes fraction", "data"), xytext=(6, 0),
                      textcoords="offset points", va="center", fontsize=8.5, annotation_clip=False)

    # Above the panels

    def _stages(self) -> None:
        """A band for each stage, named as far as the name fits."""
        top = self.panels[0].get_position()
        height = self.figure.get_figheight()
        band = self.figure.add_axes((top.x0, top.y1 + 0.06 / height, top.width, self.band / height))
        band.set(xlim=(self.left, self.width - self.right), ylim=(0.0, 1.0))
        band.axis("off")
        stages = self.history.stages
        holds = [i for i, s in enumerate(stages) if s.kind == "held"]
        for i, s in enumerate(stages):
            names = PAUSE_NAMES if s.kind == "after_release" and holds and i < holds[-1] else STAGE_NAMES[s.kind]
            begin, end = float(s.time[0]) / 60.0, float(s.time[-1]) / 60.0
            low, high = self._place(begin), self._place(end)
            band.axvspan(low, high, color="#d5d5d5" if i % 2 == 0 else "#ececec", lw=0)
            name = next((n for n in names if self._text_width(n, 8.0) < high - low - 0.05), "")
            band.text(0.5 * (low + high), 0.45, name, fontsize=8.0, ha="center", va="center")
            if begin > 0.0:
                for axes in self.panels:
                    axes.axvline(begin, color=FAINT, lw=0.7, alpha=0.6, zorder=0.5)

    def _marks(self) -> list[_Mark]:
        v = self.verdict
        late = v["working_margin_min"] is not None and v["working_margin_min"] < 0.0
        named = [
            ("working time ends", "working_time_min", late),
            ("first gel", "gel_time_first_min", False),
            ("last gel", "gel_time_last_min", False),
            ("criterion met", "criterion_met_min", False),
            ("return to service", "service_time_min", False),
        ]
        marks = []
        for name, key, bold in named:
            minutes = v[key]
            if minutes is None or minutes > self.end:
                continue
            ends = key in ("working_time_min", "gel_time_first_min")
            time = duration(minutes, up=not ends).partition(" (")[0]
            warning = ", BEFORE THE LINER IS HELD" if bold and key == "working_time_min" else ""
            marks.append(_Mark(minutes, f"{name} {time}{warning}", RED if warning else INK, bold))
        out = self.answer.release_min
        if out is not None and out <= self.end:
            marks.append(_Mark(out, f"BLADDER OUT {duration(out, up=True).partition(' (')[0]}", INK, True))
        return sorted(marks, key=lambda m: m.minutes)

    def _rows(self, marks: Sequence[_Mark]) -> list[int]:
        """Row of each label, 0 the lowest. Labels start at their line, like flags.

        An earlier one flies above all later ones whose lines it reaches, so that no line crosses a
        label and no label another.
        """
        rows: list[int] = []
        for i in reversed(range(len(marks))):
            reach = self._place(marks[i].minutes) + self._text_width(marks[i].label, 8.5, marks[i].bold) + 0.12
            below = [
                row
                for later, row in zip(marks[i + 1 :], rows, strict=True)
                if self._place(later.minutes) < reach
            ]
            rows.insert(0, max(below, default=-1) + 1)
        return rows

    def _draw_marks(self, marks: Sequence[_Mark], rows: Sequence[int]) -> None:
        top = self.panels[0].get_position().y1
        height = self.figure.get_figheight()
        for mark, row in zip(marks, rows, strict=True):
            width, dashes = (2.2, "-") if mark.bold else (1.0, (0, (3, 2)))
            for axes in self.panels:
                on_map = bool(self.walls) and axes is self.panels[-1]
                # Behind the curves: a line must not hide a peak.
                axes.axvline(mark.minutes, color="white" if on_map else mark.color, lw=width, ls=dashes,
                             zorder=3 if on_map else 1.5)
            x = self._place(mark.minutes) / self.width
            foot = top + (self.band + 0.06) / height
            middle = foot + self.row * (row + 0.5) / height
            self.figure.add_artist(
                Line2D([x, x], [foot, middle + 0.45 * self.row / height], transform=self.figure.transFigure,
                       color=mark.color, lw=width)
            )
            self.figure.text(x + 0.05 / self.width, middle, mark.label, color=mark.color, fontsize=8.5, ha="left",
                             va="center", fontweight="bold" if mark.bold else "normal")

    def _title(self) -> None:
        v = self.verdict
        resin = v["resin"]["title"] + (", ESTIMATED MODEL" if v["resin"]["estimated"] else "")
        height = self.figure.get_figheight()
        left = 0.12 / self.width
        first, second, third, fourth = (1.0 - y / height for y in (0.10, 0.34, 0.58, 0.82))
        title = one_line(v["title"], 90)
        self.figure.text(left, first, title, fontsize=11.5, fontweight="bold", va="top", parse_math=False)
        self.figure.text(left, second, one_line(resin, 90), fontsize=9.0, va="top", color="#555555", parse_math=False)
        # The decision of the page and its reasons, so that a picture sent alone says the same.
        self.figure.text(left, third, self.answer.headline, fontsize=9.5, fontweight="bold", va="top",
                         color=HTML_COLOURS[self.answer.status])
        for i, line in enumerate(self.reasons):
            self.figure.text(left, fourth - self.reason * i / height, line, fontsize=8.5, va="top", parse_math=False)

    def _text_width(self, words: str, size: float, bold: bool = False) -> float:
        """[inch]"""
        text = self.figure.text(0, 0, words, fontsize=size, fontweight="bold" if bold else "normal")
        width = float(text.get_window_extent().width) / self.figure.dpi
        text.remove()
        return width


def _wrapped(reasons: Iterable[str]) -> list[str]:
    """Numbered, on lines that fit the width of the picture."""
    return [
        line
        for number, reason in enumerate(reasons, 1)
        for line in textwrap.wrap(f"{number}. {reason}", 120, subsequent_indent="    ")
    ]


def _linear_minutes(end: float, verdict: dict[str, Any]) -> float:
    """Width of the straight part of the time axis [min], such that the early events have room."""
    early = verdict["held_from_min"] or verdict["working_time_min"] or 3.0 * end
    return float(min(max(early / 3.0, 1.0), end))


def beside(axes: Axes) -> None:
    axes.legend(loc="upper left", bbox_to_anchor=(1.005, 1.02), fontsize=8.5, handlelength=2.8, borderaxespad=0.2)
