"""The picture of a followed job: readings over what the probe should read, and the release before and after."""

from __future__ import annotations

import math
import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg

from libcure.errors import one_line
from libcure.following.result import FollowResult, TemperatureBand
from libcure.following.view import decision
from libcure.render.plot import BLUE, FAINT, INK, RED, VerdictFigure, style

__all__ = ["draw"]

ZERO_CELSIUS = 273.15


def draw(result: FollowResult) -> VerdictFigure:
    """Draws a result."""
    with style():
        figure = VerdictFigure(figsize=(9.0, 5.2), layout="constrained")
        FigureCanvasAgg(figure)
        temperature, release = figure.subplots(2, 1, sharex=True, gridspec_kw={"height_ratios": [3.4, 1.0]})
        _temperatures(temperature, result)
        _release(release, result)
        title = one_line(result.case.title or result.case.name, 100)
        lines = [title, *(textwrap.fill(words, 100) for words in decision(result) if words)]
        color = INK if result.relied_on and math.isfinite(result.release_min) else RED
        figure.suptitle("\n".join(lines), x=0.01, ha="left", fontsize=10, fontweight="bold", color=color)
    return figure


def _end(r: FollowResult) -> float:
    """Right end of the picture [min]."""
    times = [r.now_min, r.release_min, r.before.wait_until_min, r.after.criterion_met_min.p95]
    return max(1.03 * max(t for t in times if math.isfinite(t)), r.now_min + 5.0)


def _temperatures(axes: Axes, r: FollowResult) -> None:
    end = _end(r)

    def draw_band(b: TemperatureBand, color: str, alpha: float, style: str, label: str) -> None:
        time, low, middle, high = b.time / 60.0, *(T - ZERO_CELSIUS for T in (b.p5, b.p50, b.p95))
        axes.fill_between(time, low, high, color=color, alpha=alpha, lw=0, label=f"{label}, 5 to 95 %")
        axes.plot(time, middle, color=color, lw=1.1, ls=style)

    draw_band(r.band_before, FAINT, 0.25, "--", "should read, before the readings")
    if r.used:
        draw_band(r.band_after, BLUE, 0.35, "-", "with the readings")
    s = r.readings
    good, bad = s.used, ~s.used & np.isfinite(s.temperature)
    size = 12.0 if s.time.size < 300 else 4.0
    if good.any():
        used = s.temperature[good] - ZERO_CELSIUS
        axes.scatter(s.time[good] / 60.0, used, s=size, color=INK, zorder=3, label="readings used")
    # A broken wire at 1300 degrees must not flatten the picture.
    low, high = axes.get_ylim()
    margin = 0.5 * (high - low)
    shown = s.temperature - ZERO_CELSIUS
    inside = bad & (shown > low - margin) & (shown < high + margin)
    out: dict[str, Any] = {"s": 24.0, "color": RED, "zorder": 4}
    if inside.any():
        axes.scatter(s.time[inside] / 60.0, shown[inside], marker="x", lw=1.2, label="left out", **out)
    outside = bad & ~inside
    if outside.any():
        top = np.full(int(outside.sum()), 0.98)
        where = axes.get_xaxis_transform()
        axes.scatter(s.time[outside] / 60.0, top, marker="^", transform=where, label="left out, off the picture", **out)
    axes.axvline(r.now_min, color=INK, lw=0.9, ls=":")
    axes.annotate(
        "now" if r.now_given or r.relied_on else "last row",
        (r.now_min, 1.0),
        xycoords=("data", "axes fraction"),
        xytext=(3, -9),
        textcoords="offset points",
        fontsize=8,
    )
    axes.set_xlim(0.0, end)
    axes.set_ylabel(f"Temperature at the\n{r.at} (°C)")
    axes.legend(loc="lower left", bbox_to_anchor=(0.0, 1.0), ncols=3, fontsize=8, borderaxespad=0.2)


def _release(axes: Axes, r: FollowResult) -> None:
    end = _end(r)
    for y, _name, sure, color in ((1.0, "before", r.before, FAINT), (0.0, "with readings", r.after, BLUE)):
        low, high = sure.criterion_met_min.p5, sure.criterion_met_min.p95
        if math.isfinite(low):
            axes.plot([low, min(high, end)], [y, y], color=color, lw=5, solid_capstyle="butt")
        if math.isinf(high):
            axes.annotate("never", (end, y), xytext=(-2, 4), textcoords="offset points", ha="right", color=RED, fontsize=8)
        if math.isfinite(sure.criterion_met_min.p50):
            axes.plot([sure.criterion_met_min.p50], [y], "|", color="white", ms=8, mew=1.5)
        wait_until = sure.wait_until_min
        if math.isfinite(wait_until):
            axes.plot([wait_until], [y], "D", color=color, ms=6)
    if math.isfinite(r.release_min):
        axes.axvline(r.release_min, color=RED if not r.relied_on else INK, lw=1.2)
    axes.axvline(r.now_min, color=INK, lw=0.9, ls=":")
    axes.set_yticks([1.0, 0.0], ["before", "with readings"])
    axes.set_ylim(-0.6, 1.6)
    words = "Bars: criterion met, 5 to 95 %; diamonds: bladder out; line: the answer"
    axes.set_xlabel(f"Time from mixing (min). {words}")
