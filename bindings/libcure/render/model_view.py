"""One resin model for people: its constants with their provenance, and curves at chosen temperatures."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from libcure import documents, models, rendering
from libcure.errors import input_error

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

    from libcure._core import Resin

__all__ = ["describe", "draw", "plot"]

ZERO_CELSIUS = 273.15
LINE_STYLES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1, 1, 1)))
COLOURS = ("#08306b", "#2171b5", "#238b45", "#d94801", "#7f2704")


def _quantities(node: Any, path: str = "") -> Iterator[tuple[str, dict[str, Any]]]:
    if isinstance(node, dict):
        if "value" in node and "unit" in node:
            yield path, node
            return
        for key, child in node.items():
            yield from _quantities(child, f"{path}.{key}" if path else key)
    elif isinstance(node, list):
        for i, child in enumerate(node):
            yield from _quantities(child, f"{path}[{i}]")


def describe(name: str) -> Group:
    """What a resin model is: every number with its unit, basis and source.

    Raises:
        CureError: no such model.
    """
    resin = models.load_resin(name)
    document = documents.read_object(models.resin_path(name))
    low, high = resin.temperature_min - ZERO_CELSIUS, resin.temperature_max - ZERO_CELSIUS
    status = models.basis(resin) + (": not for planning a real job" if resin.estimated else "")
    head = Text.assemble((f"{document.get('id', name)}\n", "bold"), f"{document.get('title', '')}\n", f"{status}; ",
                         f"valid {low:.0f} to {high:.0f} °C, up to {100 * resin.alpha_max:.0f} % cure\n")
    table = Table(box=None, pad_edge=False, header_style="dim")
    for heading in ("constant", "value", "basis", "source"):
        table.add_column(heading, justify="right" if heading == "value" else "left", overflow="fold")
    for path, q in _quantities({k: v for k, v in document.items() if k != "reference_outcomes"}):
        unit = "" if q["unit"] == "1" else f" {q['unit']}"
        source = q.get("source", "") if q.get("source") != "none" else ""
        table.add_row(path, f"{q['value']:g}{unit}", q.get("basis", ""), source)
    parts: list[Any] = [head, table]
    for component in document.get("components", []):
        parts.append(Text(f"{100 * component['share']:g} % {component['resin']}"))
    if document.get("note"):
        parts += [Text(), Text(document["note"], "dim")]
    return Group(*parts)


def _temperatures(resin: Resin, text: str) -> list[float]:
    if text:
        try:
            values = [float(part) for part in text.split(",")]
        except ValueError:
            values = [math.nan]
        if not all(math.isfinite(v) and -60 <= v <= 300 for v in values) or len(values) > len(COLOURS):
            raise input_error("--temperatures", f'"{text}"', f"1 to {len(COLOURS)} numbers from -60 to 300, with commas")
        return values
    low, high = resin.temperature_min - ZERO_CELSIUS, resin.temperature_max - ZERO_CELSIUS
    # Ambient resins are read at ambient temperatures, oven resins over their own range.
    if low <= 15 and high >= 25:
        return [t for t in (5.0, 10.0, 15.0, 20.0, 25.0) if low <= t <= high]
    return [round(t) for t in np.linspace(low, high, 4)]


def draw(name: str, temperatures: str = "") -> Figure:
    """Rate over cure, cure over time, Tg over cure and viscosity over time at constant temperatures.

    Args:
        name: id of a resin model, or a path to a file.
        temperatures: up to five, in degrees Celsius, with commas; ambient or the model's own range when empty.

    Raises:
        CureError: no such model, or a temperature that is not one.
    """
    from matplotlib.figure import Figure

    resin = models.load_resin(name)
    document = documents.read_object(models.resin_path(name))
    curves = _Curves(resin, _temperatures(resin, temperatures))
    figure = Figure(figsize=(10, 7.2), layout="constrained")
    (ax_rate, ax_alpha), (ax_Tg, ax_eta) = figure.subplots(2, 2)
    curves.draw_rate(ax_rate)
    curves.draw_cure(ax_alpha)
    curves.draw_glass_transition(ax_Tg)
    curves.draw_viscosity(ax_eta, known="viscosity" in document)
    for ax in (ax_rate, ax_alpha, ax_Tg, ax_eta):
        ax.grid(color="0.9")
        ax.spines[["top", "right"]].set_visible(False)
    figure.suptitle(f"{document.get('title', name)}\n{models.basis(resin)}; not claimed representative of any product", fontsize=10)
    return figure


class _Curves:
    """A resin held at some temperatures, until the coldest has gelled and then some."""

    def __init__(self, resin: Resin, temperatures: Sequence[float]) -> None:
        self.resin, self.temperatures = resin, temperatures
        self.kelvin = np.array(temperatures) + ZERO_CELSIUS
        self.alpha0 = resin.initial_degree_of_cure
        time = np.geomspace(10.0, 30 * 86400.0, 400)  # from seconds to a month
        alpha = resin.isothermal(self.kelvin, time, self.alpha0)
        reached = alpha[0] >= min(resin.alpha_gel, 0.95 * alpha[0, -1])
        self.end = min(time[-1], 12 * time[int(np.argmax(reached))])
        self.time = np.linspace(0.0, self.end, 600)
        self.alpha = resin.isothermal(self.kelvin, self.time, self.alpha0)
        self.unit, self.per = ("h", 3600.0) if self.end > 3 * 3600 else ("min", 60.0)

    def _styles(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """Number and style of each temperature's curve."""
        low, high = self.resin.temperature_min - 0.01, self.resin.temperature_max + 0.01
        for i, T in enumerate(self.temperatures):
            outside = "" if low <= T + ZERO_CELSIUS <= high else ", OUTSIDE VALIDITY"
            yield i, {"color": COLOURS[i], "linestyle": LINE_STYLES[i], "label": f"{T:g} °C{outside}"}

    def draw_rate(self, ax: Axes) -> None:
        grid = np.linspace(max(self.alpha0, 1e-4), 0.999, 400)
        for i, style in self._styles():
            rate = self.resin.rate(np.full_like(grid, self.kelvin[i]), grid) * 3600.0
            ax.plot(grid, np.maximum(rate, 1e-12), **style)
        ax.set_yscale("log")
        top = ax.get_ylim()[1]
        ax.set_ylim(top * 1e-6, top)
        ax.set(xlabel="degree of cure [-]", ylabel="rate [1/h]", title="Cure rate")
        ax.legend(fontsize=8)

    def draw_cure(self, ax: Axes) -> None:
        for i, style in self._styles():
            ax.plot(self.time / self.per, self.alpha[i], **style)
        gel = self.resin.alpha_gel
        ax.axhline(gel, color="0.4", linewidth=0.8)
        ax.text(self.time[-1] / self.per, gel, "gel", ha="right", va="bottom", color="0.3", fontsize=8)
        ax.set(xlabel=f"time [{self.unit}]", ylabel="degree of cure [-]", title="Cure at constant temperature", ylim=(0, 1))

    def draw_glass_transition(self, ax: Axes) -> None:
        # Where the resin cures no further within a month it has vitrified.
        for i, style in self._styles():
            ax.axhline(self.temperatures[i], color=style["color"], linestyle=style["linestyle"], linewidth=0.8)
        everywhere = np.linspace(0.0, 1.0, 200)
        ax.plot(everywhere, self.resin.glass_transition(everywhere) - ZERO_CELSIUS, color="black")
        ax.set(xlabel="degree of cure [-]", ylabel="Tg [°C]", title="Glass transition; lines: cure temperatures")

    def _gelled(self, i: int) -> float:
        """When the resin gels at temperature number i, or the end [s]."""
        past = self.alpha[i] >= self.resin.alpha_gel
        return float(self.time[np.argmax(past)]) if past.any() else float(self.end)

    def draw_viscosity(self, ax: Axes, *, known: bool) -> None:
        if not known:
            ax.axis("off")
            ax.text(0.5, 0.5, "no viscosity law in this model", ha="center", va="center", color="0.4")
            return
        for i, style in self._styles():
            fine = np.linspace(0.0, self._gelled(i), 500)
            cure = self.resin.isothermal(self.kelvin[i : i + 1], fine, self.alpha0)[0]
            liquid = cure < self.resin.alpha_gel
            eta = self.resin.viscosity(np.full(int(liquid.sum()), self.kelvin[i]), cure[liquid])
            ax.semilogy(fine[liquid] / self.per, eta, **style)
        ax.set(xlabel=f"time [{self.unit}]", ylabel="viscosity [Pa s]", title="Viscosity up to the gel point")
        ax.set_xlim(0, self._gelled(0) / self.per)
        # The curves run to infinity at the gel point; a few decades show all that can be worked.
        lowest = ax.get_ylim()[0]
        ax.set_ylim(lowest, 1e4 * lowest)


def plot(name: str, path: str | os.PathLike[str], temperatures: str = "") -> None:
    """Writes the curves of :func:`draw` to a ``.png``, ``.svg`` or ``.pdf`` file, whole or not at all.

    Raises:
        CureError: another ending, a path that cannot be written, or as for :func:`draw`.
    """
    target = documents.output_path(path, "--plot", rendering.PICTURES)
    figure = draw(name, temperatures)
    with documents.replacing(target) as temporary:
        rendering.write_picture(figure, temporary, target.suffix)
