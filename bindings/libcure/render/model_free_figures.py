"""Figures of what is said without a law: E and A over the degree of cure, master plots, forecasts beside the law's."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure
from numpy.typing import NDArray

from libcure.fitting.model_free import ModelFree
from libcure.fitting.model_free.master import MasterPlots, scaled
from libcure.fitting.predictions import Prediction
from libcure.render.fit_figures import BLUE, FAINT, GREEN, INK, ORANGE, PURPLE, RED, WIDE, Size

__all__ = ["forecasts", "without_law"]

Array = NDArray[np.float64]
COMPARED = 3  # standard models drawn


def without_law(free: ModelFree, size: Size = WIDE) -> Figure:
    """E and ln A with their bands, and the master plots where there are any."""
    panels = 1 + (free.compensation is not None) + 2 * (free.plots is not None)
    fig, there = size.axes(panels, 2.9, columns=min(size.most, 2, panels))
    axes = iter(there)
    _banded(next(axes), free.steps.alpha, (free.steps.E / 1e3, free.steps.low / 1e3, free.steps.high / 1e3), "E [kJ/mol]",
            "E(α) by Vyazovkin's method, band by runs and lag")
    line = free.compensation
    if line is not None:
        _banded(next(axes), line.alpha, (line.ln_A, line.low, line.high), "ln(A · s)", "A(α) by the compensation effect")
    plots = free.plots
    if plots is not None:
        _master(next(axes), free, plots, 0)
        _master(next(axes), free, plots, 1)
    for ax in fig.axes:
        ax.set_xlabel("degree of cure α")
        ax.set_xlim(0.0, 1.0)
    return fig


def _banded(ax: Axes, alpha: Array, curve: tuple[Array, Array, Array], label: str, title: str) -> None:
    """A curve with its band; the scale is that of the middle of the reaction."""
    value, low, high = curve
    ax.plot(alpha, value, color=BLUE)
    ax.fill_between(alpha, low, high, color=BLUE, alpha=0.15, lw=0)
    inside = (alpha > 0.09) & (alpha < 0.91) & np.isfinite(low) & np.isfinite(high)
    if inside.any():
        bottom, top = float(np.min(low[inside])), float(np.max(high[inside]))
        room = max(0.3 * (top - bottom), 0.1 * abs(float(np.mean(value[inside]))))
        ax.set_ylim(bottom - room, top + room)
    ax.set_ylabel(label)
    ax.set_title(title)


def _master(ax: Axes, free: ModelFree, plots: MasterPlots, which: int) -> None:
    """y (0) or z (1) of the runs, with the nearest standard models and the combined analysis."""
    name = "yz"[which]
    mean, band = ((plots.y, plots.y_band), (plots.z, plots.z_band))[which]
    ax.fill_between(plots.alpha, mean - band, mean + band, color=FAINT, alpha=0.3, lw=0)
    ax.plot(plots.alpha, mean, "o", ms=3.0, color=INK, label="runs, with 95 % band")
    fine = np.linspace(0.02, 0.98, 97)
    for one, color, style in zip(plots.nearest[:COMPARED], (RED, GREEN, PURPLE), ("--", "-.", ":"), strict=False):
        ax.plot(fine, scaled(one.model, fine)[which], color=color, ls=style, label=one.model.code)
    if which == 0 and free.combined is not None:
        m, n = free.combined.m, free.combined.n
        ax.plot(fine, (fine / 0.5) ** m * ((1.0 - fine) / 0.5) ** n, color=ORANGE, label=f"αᵐ(1-α)ⁿ, m = {m:.2f}, n = {n:.2f}")
    ax.set_ylim(0.0, 1.25 * float(np.nanmax(mean[plots.alpha < 0.96])))
    ax.set_ylabel(f"{name}(α) / {name}(0.5)")
    ax.set_title(f"Master plot {name}(α), E = {plots.E / 1e3:.1f} kJ/mol")
    ax.legend(fontsize=7.5)


def forecasts(predictions: Sequence[Prediction], size: Size = WIDE) -> Figure:
    """Degree of cure over time by programme: without a law, and by the one that is written."""
    fig, axes = size.axes(len(predictions), 3.0)
    for ax, one in zip(axes, predictions, strict=True):
        for told, color, style, label in ((one.free, BLUE, "-", "without a law"), (one.by_law, RED, "--", one.law)):
            if told is None:
                continue
            ax.plot(told.time / 60.0, told.alpha, color=color, ls=style, label=label)
            ax.fill_betweenx(told.alpha, told.low / 60.0, told.high / 60.0, color=color, alpha=0.15, lw=0)
        if one.programme.held:
            ax.set_xscale("log")
        ax.set_ylim(0.0, 1.0)
        ax.set_xlabel("time [min]")
        ax.set_ylabel("degree of cure α")
        ax.set_title(one.programme.shown + (", extrapolated" if one.extrapolated else ""))
    axes[0].legend(fontsize=7.5)
    return fig
