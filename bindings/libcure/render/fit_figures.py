"""Figures of a fit."""

from __future__ import annotations

import textwrap
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from matplotlib.gridspec import SubplotSpec

from libcure.fitting.isoconversional import Isoconversional
from libcure.fitting.law_fit import LawFit
from libcure.fitting.run import Run
from libcure.fitting.study import Study

__all__ = ["NARROW", "WIDE", "Room", "Size", "baselines", "correlation", "curves", "energies", "gel_times", "misses", "profiles", "styled"]

ZERO_CELSIUS = 273.15
INK, FAINT = "#222222", "#8a8a8a"
BLUE, RED, GREEN, ORANGE, PURPLE = "#0072B2", "#D55E00", "#009E73", "#E69F00", "#CC79A7"
STYLE: dict[str, Any] = {
    "font.family": "DejaVu Sans", "font.size": 8.5, "axes.titlesize": 9.0, "axes.titlelocation": "left", "axes.titley": 1.0,
    "axes.spines.top": False, "axes.spines.right": False, "axes.edgecolor": FAINT, "axes.labelcolor": INK,
    "axes.grid": True, "axes.axisbelow": True, "grid.color": "#e8e8e8", "legend.frameon": False, "lines.linewidth": 1.2,
}
HIGHEST = 7.2  # inch, of a figure on a page of paper
NAMES = {"friedman": "Friedman", "kas": "KAS", "vyazovkin": "Vyazovkin"}


@dataclass(frozen=True)
class Room:
    """Beside each panel for what is written there [inch]. Stated, since to measure all labels takes longer than to draw them."""

    left: float = 0.78
    right: float = 0.2
    above: float = 0.28
    below: float = 0.45


@dataclass(frozen=True)
class Size:
    """Of the figures of one medium."""

    across: float
    """[inch]"""
    most: int
    """Panels side by side"""

    def columns(self, count: int) -> int:
        """Panels side by side, of so many: those that leave the fewest places empty, and of these the most."""
        return min(range(min(self.most, count), min(1, count - 1, self.most - 1), -1), key=lambda across: -count % across)

    def panels(self, count: int, height: float, room: Room = Room(), head: str = "", columns: int | None = None) -> tuple[Figure, list[SubplotSpec]]:
        """A figure and the places of so many panels.

        Args:
            height: of a panel with its labels [inch]; less where a page of paper is no higher.
            head: words over all panels.
            columns: panels side by side; as many as fit when left out.
        """
        columns = columns or self.columns(count)
        rows = -(-count // columns)
        lines = textwrap.wrap(head, int(self.across * 13))
        top = 0.08 + 0.18 * len(lines)
        tall = rows * height + top
        down = min(tall, HIGHEST) if self.most > 1 else tall
        fig = Figure(figsize=(self.across, down))
        across, high = self.across / columns - room.left - room.right, (down - top) / rows - room.above - room.below
        places = fig.add_gridspec(
            rows, columns, left=room.left / self.across, right=1.0 - room.right / self.across, bottom=room.below / down,
            top=1.0 - (top + room.above) / down, wspace=(room.left + room.right) / across, hspace=(room.above + room.below) / high,
        )  # fmt: skip
        fig.text(0.01, 1.0 - 0.05 / down, "\n".join(lines), va="top", fontsize=10)
        return fig, [places[k // columns, k % columns] for k in range(count)]

    def axes(self, count: int, height: float, room: Room = Room(), head: str = "", columns: int | None = None) -> tuple[Figure, list[Axes]]:
        """The same with panels there."""
        fig, places = self.panels(count, height, room, head, columns)
        return fig, [fig.add_subplot(place) for place in places]


WIDE = Size(11.0, 4)
"""Paper across, and screens."""
NARROW = Size(4.4, 1)
"""A telephone held upright."""


def baselines(runs: Sequence[Run], size: Size = WIDE) -> Figure:
    """Recorded heat flow with the baseline and its windows, run by run."""
    fig, axes = size.axes(len(runs), 3.4, Room(above=0.42), "Recorded (grey), baseline (vermilion, dashed), the windows it rests on (green), "
                          "and the heat counted (blue)")
    for ax, run in zip(axes, runs, strict=True):
        x = run.temperature - ZERO_CELSIUS if run.dynamic else run.time / 60.0
        first = 0 if run.dynamic else run.part.start
        ax.plot(x[first:], run.heat_flow[first:] / 1e3, color=FAINT, lw=0.8)
        part = x[run.part]
        ax.plot(part, run.drawn_baseline / 1e3, color=RED, ls="--")
        ax.fill_between(part, run.drawn_baseline / 1e3, run.heat_flow[run.part] / 1e3, color=BLUE, alpha=0.15, lw=0)
        w = run.windows if run.baseline != "level" else run.windows[2:]
        for a, b in zip(w[::2], w[1::2], strict=True):
            inside = (run.time >= a) & (run.time <= b)
            ax.axvspan(x[inside][0], x[inside][-1], color=GREEN, alpha=0.15, lw=0)
        ax.set_title(f"{run.id}: {run.heat / 1e3:.0f} J/g\n{run.baseline}")
        ax.set_xlabel("temperature [°C]" if run.dynamic else "time [min]")
        ax.set_ylabel("heat flow, exotherm up [W/g]")
    return fig


def curves(fit: LawFit, size: Size = WIDE) -> Figure:
    """Data and fit of one law: rate, degree of cure, and residuals below, run by run."""
    count = len(fit.runs)
    columns = size.columns(count)
    fig, places = size.panels(count, 3.6, Room(right=0.5), "Rate (points grey, fit blue) and degree of cure α (points orange, fit vermilion). "
                              "Residuals: rate over the peak (blue), α (vermilion)")
    for k, (place, run, (rate, alpha, _)) in enumerate(zip(places, fit.runs, fit.curves, strict=True)):
        cell = place.subgridspec(2, 1, height_ratios=(3, 1), hspace=0.08)
        ax, below = fig.add_subplot(cell[0]), fig.add_subplot(cell[1])
        x = run.T - ZERO_CELSIUS if run.dynamic else run.t / 60.0
        thin = max(len(x) // 400, 1)
        ax.plot(x[::thin], run.rate[::thin] * 1e3, ".", ms=1.8, color=FAINT)
        ax.plot(x, rate * 1e3, color=BLUE)
        ax.set_title(run.id)
        ax.set_ylabel("dα/dt [10⁻³/s]" if k % columns == 0 else "")
        twin = ax.twinx()
        twin.plot(x[::thin], run.alpha[::thin], ".", ms=1.5, color=ORANGE, alpha=0.6)
        twin.plot(x, alpha, color=RED, ls="--")
        # Both scales have their zero at the same height.
        ax.set_ylim(-0.06 * 1e3 * np.max(run.rate), 1.1 * 1e3 * np.max(run.rate))
        twin.set_ylim(-0.06, 1.1)
        twin.grid(False)
        twin.set_ylabel("α" if k % columns == columns - 1 or k == count - 1 else "")
        ax.tick_params(labelbottom=False)
        peak = np.max(run.rate)
        below.plot(x[::thin], 100 * (run.rate - rate)[::thin] / peak, ".", ms=1.5, color=BLUE)
        below.plot(x[::thin], 100 * (run.alpha - alpha)[::thin], ".", ms=1.5, color=RED)
        below.axhline(0.0, color=INK, lw=0.6)
        below.set_xlabel("temperature [°C]" if run.dynamic else "time [min]")
        below.set_ylabel("residual [%]" if k % columns == 0 else "")
    return fig


def misses(fits: Sequence[LawFit], size: Size = WIDE) -> Figure:
    """By how much each of several laws misses the rate, run by run."""
    count = len(fits[0].runs)
    fig, axes = size.axes(count, 2.4, Room(above=0.42), "Residuals of the rate over the peak")
    for k, ax in enumerate(axes):
        for fit, color in zip(fits, (RED, BLUE, GREEN, ORANGE, PURPLE, INK) * len(fits), strict=False):
            run, rate = fit.runs[k], fit.curves[k][0]
            x = run.T - ZERO_CELSIUS if run.dynamic else run.t / 60.0
            thin = max(len(x) // 400, 1)
            ax.plot(x[::thin], 100 * (run.rate - rate)[::thin] / np.max(run.rate), color=color, lw=0.8, label=fit.law.label)
        ax.axhline(0.0, color=INK, lw=0.6)
        ax.set_title(fits[0].runs[k].id)
        ax.set_xlabel("temperature [°C]" if fits[0].runs[k].dynamic else "time [min]")
        ax.set_ylabel("residual [%]" if k % size.columns(count) == 0 else "")
    axes[0].legend(fontsize=7.0)
    return fig


def energies(free: Isoconversional, size: Size = WIDE) -> Figure:
    """Kissinger and E698 lines, and E over the degree of cure where there are runs for it."""
    fig, (left, *rest) = size.axes(2 if free.curves else 1, 2.8 if size.most > 1 else 3.2, Room(above=0.42))
    if free.kissinger is not None and free.e698 is not None:
        x = 1e3 / free.peaks
        y = np.log(free.heating_rates / free.peaks**2)
        left.plot(x, y, "o", color=BLUE)
        line = np.polyfit(x, y, 1)
        span = np.linspace(x.min(), x.max(), 2)
        left.plot(span, np.polyval(line, span), color=BLUE, lw=0.9)
        left.set_title("\n".join(f"{name}: E = {one.text}" for name, one in free.by_peaks.items()))
    left.set_xlabel("1000 K / Tp")
    left.set_ylabel("ln(β/Tp² · K s)")
    if not rest:
        return fig
    (right,) = rest
    for curve, color, style in zip(free.curves, (ORANGE, GREEN, BLUE), (":", "--", "-"), strict=False):
        right.plot(curve.alpha, curve.E / 1e3, color=color, ls=style, label=NAMES[curve.method])
        right.fill_between(curve.alpha, curve.low / 1e3, curve.high / 1e3, color=color, alpha=0.12, lw=0)
    middle = [c.mean for c in free.curves if np.isfinite(c.mean)]
    if middle:
        right.set_ylim(0.7 * min(middle) / 1e3, 1.3 * max(middle) / 1e3)
        right.legend()
    right.set_xlabel("degree of cure α")
    right.set_ylabel("E [kJ/mol]")
    right.set_title("Isoconversional E(α) with 95 % bands")
    return fig


def correlation(fit: LawFit, size: Size = WIDE) -> Figure:
    """Correlation matrix of the constants."""
    names = [fit.law.parameters[i].symbol for i in fit.law.free]
    across, down = min(6.0, size.across), min(4.4, 0.85 * size.across)
    fig = Figure(figsize=(across, down))
    side = min(across - 1.5, down - 0.45)  # inch, room for names and scale
    ax, scale = (fig.add_axes((x / across, 0.3 / down, wide / across, side / down)) for x, wide in ((0.6, side), (side + 0.75, 0.15)))
    matrix = fit.correlation
    picture = ax.imshow(matrix, cmap="RdBu_r", vmin=-1, vmax=1)
    ax.grid(False)
    ax.set_xticks(range(len(names)), names)
    ax.set_yticks(range(len(names)), names)
    for i in range(len(names)):
        for j in range(len(names)):
            value = matrix[i, j]
            text = f"{value:z.2f}" if abs(value) < 0.995 or i == j else f"{value:.3f}"
            ax.text(j, i, text.replace("-", "\N{MINUS SIGN}"), ha="center", va="center",
                    color="white" if abs(value) > 0.6 else INK, fontsize=8)
    fig.colorbar(picture, cax=scale)
    return fig


def profiles(study: Study, size: Size = WIDE) -> Figure:
    """Profile likelihoods of the best law."""
    fit = study.best
    fig, axes = size.axes(len(study.profiles), 2.0 if size.most > 1 else 2.4, Room(above=0.1, below=0.5), "Where the blue line crosses the vermilion "
                          "one, the 95 % interval ends. Dashed: the parabola of the standard error")
    for ax, one in zip(axes, study.profiles, strict=True):
        p = fit.law.parameters[fit.law.free[one.parameter]]
        scale = 1.0 if p.log else 1.0 / p.factor
        fine = np.linspace(one.x[0], one.x[-1], 100)
        ax.plot(one.x * scale, one.z**2, "o", color=BLUE, ms=3.5)
        # The signed root is all but straight; its square is the curve.
        ax.plot(fine * scale, np.interp(fine, one.x, one.z) ** 2, color=BLUE)
        ax.plot(fine * scale, ((fine - fit.x[one.parameter]) / fit.errors[one.parameter]) ** 2, color=FAINT, ls="--")
        ax.axhline(3.84, color=RED, lw=0.9)
        ax.set_ylim(0, 12)
        ax.locator_params(axis="x", nbins=5)
        ax.set_xlabel(p.symbol if p.log or p.unit == "1" else f"{p.symbol} [{p.unit}]")
        ax.set_ylabel("rise of the misfit")
    return fig


def gel_times(study: Study, size: Size = WIDE) -> Figure:
    """Model's over observed gel times."""
    lines = -(-(len(study.fits) + 1) // size.most)
    fig, (ax,) = size.axes(1, 2.6 + 0.2 * lines, Room(above=0.1 + 0.2 * lines))
    place = np.arange(len(study.gel_times))
    ax.errorbar(place, np.ones(len(place)), yerr=[1.96 * cup.relative_error for cup in study.gel_times], fmt="none",
                ecolor=FAINT, capsize=4, label="observed, 95 %")
    for fit, marker, color in zip(study.fits, "osD^v", (BLUE, RED, GREEN, ORANGE, PURPLE), strict=False):
        ax.plot(place, fit.gel_times, marker, color=color, label=fit.law.label)
    ax.set_xticks(place, [cup.id for cup in study.gel_times])
    ax.set_ylabel("gel time, model over observed")
    ax.margins(x=0.1)
    ax.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=size.most, borderaxespad=0.0)
    return fig


def styled(make: Callable[..., Figure], *what: Any) -> Figure:
    """A figure made in the look of the report."""
    with matplotlib.rc_context(STYLE):  # type: ignore[arg-type]
        return make(*what)
