"""What the command ``libcure fit`` does and shows."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from rich.console import Console, Group, RenderableType
from rich.progress import BarColumn, Progress, TextColumn, TimeElapsedColumn
from rich.table import Table
from rich.text import Text

from libcure import documents, fitting
from libcure.errors import input_error, one_line
from libcure.fitting.law_fit import LawFit, Profile
from libcure.fitting.laws import span, worth
from libcure.fitting.predictions import SHOWN, Prediction, time_shown
from libcure.fitting.statements import by_subject
from libcure.fitting.study import Study

__all__ = ["run", "summary"]


def run(file: Path, out: Path, console: Console) -> None:
    """Fits, writes model file and report, and shows the summary.

    Raises:
        CureError: bad input.
    """
    if os.path.exists(out) and not os.path.isdir(out):
        raise input_error("--out", f'"{out}"', "a folder")
    study = fitting.load(file)
    fitting.check_names(study, out)
    _run_with_progress(study)
    written = fitting.write(study, documents.output_folder(out))
    console.print(summary(study, written.all))


def _run_with_progress(study: Study) -> None:
    """Runs a study behind progress bars, on a terminal; silently elsewhere."""
    error_console = Console(stderr=True, highlight=False)
    with Progress(TextColumn("{task.description}"), BarColumn(), TextColumn("{task.completed} of {task.total}"),
                  TimeElapsedColumn(), console=error_console, transient=True,
                  disable=not error_console.is_terminal) as bars:
        tasks: dict[str, object] = {}

        def tell(what: str, done: int, total: int) -> None:
            if what not in tasks:
                tasks[what] = bars.add_task(what, total=total)
            bars.update(tasks[what], completed=done, total=total)  # type: ignore[arg-type]

        fitting.run(study, tell)


def summary(study: Study, written: Sequence[Path]) -> RenderableType:
    """Energies without a law, laws compared, constants of the best, times foretold, statements, files."""
    said: list[RenderableType] = []
    for about, found in by_subject(study.findings):
        said.append(Text(one_line(about), "bold"))
        said += [Text(f"- {one_line(f.message)}", "" if f.severity == "warning" else "dim") for f in found]
    parts: list[RenderableType] = [Text(study.title, "bold"), ""]
    if study.isoconversional is not None and study.isoconversional.by_peaks:
        energies = Table(box=None, pad_edge=False, header_style="dim")
        for head in ("without a law", "E, 95 %"):
            energies.add_column(head)
        for name, one in study.isoconversional.by_peaks.items():
            energies.add_row(name, one.text)
        parts += [energies, ""]
    if study.fits:
        parts += [_laws(study), "", Text(f"Constants of {study.best.law.label}", "bold"), _constants(study.best, study.profiles), ""]
    if study.predictions:
        parts += [_times(study.predictions), ""]
    return Group(*parts, *(said or [Text("- Nothing stood out.")]), "", *[Text(str(path), "dim", overflow="fold") for path in written])


def _laws(study: Study) -> Table:
    best = study.best
    laws = Table(box=None, pad_edge=False, header_style="dim")
    for head in ("law", "AICc", "rate, rms of peak", "left out, rms"):
        laws.add_column(head)
    for fit in study.fits:
        left = study.rms_left_out(fit)
        laws.add_row(
            Text(fit.law.label, "bold" if fit is best else ""),
            "no model" if fit.unfit else f"+{fit.aicc - best.aicc:.0f}" if fit is not best else "best",
            f"{100 * fit.rms_rate:.2f} %" if study.runs else "", f"{100 * left:.2f} %" if np.isfinite(left) else "")
    return laws


def _constants(best: LawFit, profiles: Sequence[Profile]) -> Table:
    """Intervals are the profiles' where these close on both sides, since they may be lopsided."""
    closed = {one.parameter: (one.low, one.high) for one in profiles if np.isfinite([one.low, one.high]).all()}
    constants = Table(box=None, pad_edge=False, header_style="dim")
    for head in (f"at {best.T_ref - 273.15:g} °C", "value", "95 %"):
        constants.add_column(head)
    for k, p in enumerate(best.free_parameters):
        low, high = map(p.outside, closed[k]) if k in closed else best.interval(k)
        value = p.outside(float(best.x[k]))
        digits = worth(value, low, high)
        constants.add_row(p.shown, p.text(value, digits, zeros=True), span(low, high, digits, zeros=True))
    if np.isfinite(best.heat):
        constants.add_row("heat", f"{best.heat / 1e3:.1f} J/g", f"± {best.heat_half_width / 1e3:.1f}"
                          if np.isfinite(best.heat_half_width) else "")
    return constants


def _times(predictions: Sequence[Prediction]) -> Table:
    """Times to degrees of cure, without a law and beside them the law's."""
    by_law = next((one.law for one in predictions if one.by_law is not None), "")
    times = Table(box=None, pad_edge=False, header_style="dim")
    for head in ("foretold [min], 95 %", "α", "without a law", *([f"by {by_law}"] if by_law else [])):
        times.add_column(Text(head))
    for one in predictions:
        for alpha in SHOWN:
            cells = [time_shown(told, alpha) for told in (one.free, one.by_law)[: 2 if by_law else 1]]
            times.add_row(one.programme.id if alpha == SHOWN[0] else "", f"{alpha:g}", *cells)
    return times
