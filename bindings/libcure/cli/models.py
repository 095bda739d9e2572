"""What the command ``libcure models`` shows."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from libcure import models
from libcure.errors import input_error, one_line
from libcure.result import ZERO_CELSIUS

__all__ = ["run"]


def run(model: str | None, plot: Path | None, temperatures: str, console: Console) -> None:
    """Lists the models, or shows one resin and draws it.

    Raises:
        CureError: bad input.
    """
    if model is not None:
        from libcure.render import model_view

        if plot is not None:
            model_view.plot(model, plot, temperatures)
        console.print(model_view.describe(model))
        return
    if plot is not None or temperatures:
        raise input_error("ID", "missing", "the id of a resin model, to draw it")
    degree = "C" if console.options.ascii_only else "°C"
    for name in models.ids("resins"):
        resin = models.load_resin(name)
        low, high = resin.temperature_min - ZERO_CELSIUS, resin.temperature_max - ZERO_CELSIUS
        console.print(Text.assemble((name, "bold"), f"  {models.basis(resin)}, valid {low:.0f} to {high:.0f} {degree}"))
        console.print(Padding(Text(one_line(resin.title), "dim"), (0, 0, 0, 2)))
        console.print(Padding(Text(f"rate constants: {models.rate_sources(name)}", "dim"), (0, 0, 0, 2)))
    console.print()
    for heading, folder, kind in (
        ("Pipe materials", "materials", "pipe"),
        ("Bladder materials", "materials", "bladder"),
        ("Fibres", "materials", "fibre"),
        ("Grounds", "grounds", "ground"),
    ):
        names = ", ".join(m.id for m in models.materials(folder) if kind in m.kinds)
        console.print(Text.assemble((f"{heading}: ", "dim"), names))
