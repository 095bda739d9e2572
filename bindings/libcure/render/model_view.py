"""One resin model for people: its constants with their provenance, and curves at chosen temperatures."""

from __future__ import annotations

import math
import os
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np
from rich.console import Group
from rich.table import Table
from rich.text import Text

from libcure import documents, models, rendering
from libcure.errors import input_error

if TYPE_CHECKING:
    from matplotlib.figure import Figure

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
    status = "ESTIMATED: not for planning a real job" if resin.estimated else "published constants"
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


def _temperatures(resin: Any, text: str) -> list[float]:
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
    chosen = _temperatures(resin, temperatures)
    kelvin = np.array(chosen) + ZERO_CELSIUS
    alpha0 = resin.initial_degree_of_cure

    # Long enough for the coldest to gel and then some, from minutes to a month.
    time = np.geomspace(10.0, 30 * 86400.0, 400)
    alpha = resin.isothermal(kelvin, time, alpha0)
    reached = alpha[0] >= min(resin.alpha_gel, 0.95 * alpha[0, -1])
    end = min(time[-1], 12 * time[int(np.argmax(reached))])
    time = np.linspace(0.0, end, 600)
    alpha = resin.isothermal(kelvin, time, alpha0)
    unit, per = ("h", 3600.0) if end > 3 * 3600 else ("min", 60.0)

    figure = Figure(figsize=(10, 7.2), layout="constrained")
    (ax_rate, ax_alpha), (ax_Tg, ax_eta) = figure.subplots(2, 2)
    grid = np.linspace(max(alpha0, 1e-4), 0.999, 400)

    def inside(T: float) -> bool:
        return resin.temperature_min - 0.01 <= T + ZERO_CELSIUS <= resin.temperature_max + 0.01

    for i, T in enumerate(chosen):
        style: dict[str, Any] = {"color": COLOURS[i], "linestyle": LINE_STYLES[i], "label": f"{T:g} °C{'' if inside(T) else ', OUTSIDE VALIDITY'}"}
        rate = resin.rate(np.full_like(grid, kelvin[i]), grid) * 3600.0
        ax_rate.plot(grid, np.maximum(rate, 1e-12), **style)
        ax_alpha.plot(time / per, alpha[i], **style)
        # Where the resin cures no further within a month it has vitrified.
        ax_Tg.axhline(T, color=COLOURS[i], linestyle=LINE_STYLES[i], linewidth=0.8)
        if "viscosity" in document:
            gelled = time[np.argmax(alpha[i] >= resin.alpha_gel)] if (alpha[i] >= resin.alpha_gel).any() else end
            fine = np.linspace(0.0, gelled, 500)
            cure = resin.isothermal(kelvin[i : i + 1], fine, alpha0)[0]
            liquid = cure < resin.alpha_gel
            eta = resin.viscosity(np.full(int(liquid.sum()), kelvin[i]), cure[liquid])
            ax_eta.semilogy(fine[liquid] / per, eta, **style)
    ax_rate.set_yscale("log")
    top = ax_rate.get_ylim()[1]
    ax_rate.set_ylim(top * 1e-6, top)
    ax_rate.set(xlabel="degree of cure [-]", ylabel="rate [1/h]", title="Cure rate")
    ax_rate.legend(fontsize=8)
    ax_alpha.axhline(resin.alpha_gel, color="0.4", linewidth=0.8)
    ax_alpha.text(time[-1] / per, resin.alpha_gel, "gel", ha="right", va="bottom", color="0.3", fontsize=8)
    ax_alpha.set(xlabel=f"time [{unit}]", ylabel="degree of cure [-]", title="Cure at constant temperature", ylim=(0, 1))
    everywhere = np.linspace(0.0, 1.0, 200)
    ax_Tg.plot(everywhere, resin.glass_transition(everywhere) - ZERO_CELSIUS, color="black")
    ax_Tg.set(xlabel="degree of cure [-]", ylabel="Tg [°C]", title="Glass transition; lines: cure temperatures")
    if "viscosity" in document:
        ax_eta.set(xlabel=f"time [{unit}]", ylabel="viscosity [Pa s]", title="Viscosity up to the gel point")
        gelled = time[np.argmax(alpha[0] >= resin.alpha_gel)] if (alpha[0] >= resin.alpha_gel).any() else end
        ax_eta.set_xlim(0, gelled / per)
        # The curves run to infinity at the gel point; a few decades show all that can be worked.
        lowest = ax_eta.get_ylim()[0]
        ax_eta.set_ylim(lowest, 1e4 * lowest)
    else:
        ax_eta.axis("off")
        ax_eta.text(0.5, 0.5, "no viscosity law in this model", ha="center", va="center", color="0.4")
    for ax in (ax_rate, ax_alpha, ax_Tg, ax_eta):
        ax.grid(color="0.9")
        ax.spines[["top", "right"]].set_visible(False)
    status = "ESTIMATED model" if resin.estimated else "published constants"
    figure.suptitle(f"{document.get('title', name)}\n{status}; not claimed representative of any product", fontsize=10)
    return figure


def plot(name: str, path: str | os.PathLike[str], temperatures: str = "") -> None:
    """Writes the curves of :func:`draw` to a ``.png``, ``.svg`` or ``.pdf`` file, whole or not at all.

    Raises:
        CureError: another ending, a path that cannot be written, or as for :func:`draw`.
    """
    target = documents.output_path(path, "--plot", rendering.PICTURES)
    figure = draw(name, temperatures)
    with documents.replacing(target) as temporary:
        rendering.write_picture(figure, temporary, target.suffix)
