"""What ``libcure chart`` does and shows."""

from __future__ import annotations

import os
import threading
from contextlib import suppress
from pathlib import Path

import typer
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn
from rich.text import Text

from libcure import documents
from libcure.charting import read_chart
from libcure.charting.cells import Task, single_rows, tasks_of
from libcure.charting.result import ChartResult
from libcure.charting.store import Store, compute_all
from libcure.errors import input_error, one_line
from libcure.interrupt import INTERRUPTED
from libcure.render.chart_paper import paper_of

__all__ = ["run"]

STORE = ".cells"
SECTION_S, BLEND_S = 0.02, 0.01
"""Of one core for a sample [s]: measured on a 2 GHz machine with default meshes."""


def run(path: Path, out: Path, samples: int | None, threads: int | None, kit: bool, console: Console) -> None:
    """Computes a chart into a folder, with a progress bar on standard error.

    Raises:
        CureError: bad input.
    """
    if samples is not None and (not 16 <= samples <= 65536 or samples & (samples - 1)):
        raise input_error("--samples", str(samples), "a power of two, 16 to 65536")
    document = read_chart(path, samples=samples)
    paper_of(document)
    if kit:
        from libcure.render.chart_kit import label_room

        label_room(document)
    folder = documents.output_folder(out)
    store = Store(folder / STORE)
    # The engine computes without Python's lock.
    beside = threading.Thread(target=_prepare, daemon=True)  # who stops a chart does not wait for it
    beside.start()
    done = total = 0
    screen = Console(stderr=True)
    bar = Progress(
        TextColumn("cells"),
        BarColumn(),
        MofNCompleteColumn(),
        TimeElapsedColumn(),
        console=screen,
        transient=True,
        disable=not screen.is_terminal,
    )
    try:
        with bar:
            task = bar.add_task("cells", total=len(document.cases))

            def show(finished: int, of: int) -> None:
                nonlocal done, total
                done, total = finished, of
                bar.update(task, completed=finished, total=of)

            tasks = tasks_of(document, threads)
            _say_cost(tasks, screen)
            records, kept = compute_all(tasks, store, progress=show, busy=beside.is_alive)
    except KeyboardInterrupt:
        screen.print(Text(f"Stopped: {done} of {total} cells are kept; the same command goes on from there."))
        raise typer.Exit(INTERRUPTED) from None
    # Matplotlib's settings are those of the whole process.
    beside.join()
    result = ChartResult(document, tasks, records, kept)
    files = result.save(folder, kit)
    _report(result, files, store.damaged, console)


def _say_cost(tasks: list[Task], screen: Console) -> None:
    """How long what is not packed takes, before it does."""
    sections, blends = single_rows(tasks)
    seconds = (SECTION_S * sections + BLEND_S * blends) / (os.cpu_count() or 1)
    if seconds >= 10.0:
        parts = [f"{n} samples of {what}" for n, what in ((sections, "sections"), (blends, "blends")) if n]
        words = f"{' and '.join(parts)}, each a whole prediction: some {max(1, round(seconds / 60.0))} min. --samples takes fewer."
        screen.print(Text(words), soft_wrap=True)


def _prepare() -> None:
    """What the files need besides the numbers: most of a second, for the greater part of imports."""
    # What fails here fails again, and is told, where it is needed.
    with suppress(Exception):
        from libcure.render import chart_page, chart_sheet

        chart_page.warm_up()
        chart_sheet.warm_up()


def _report(result: ChartResult, files: list[Path], damaged: int, console: Console) -> None:
    answers = result.answers.values()
    stopped = sum(not a.use for a in answers)
    never = sum(bool(a.release_word) for a in answers)
    short = sum(bool(a.working_word) for a in answers)
    hot = sum(bool(a.hot_word) for a in answers)

    def say(words: str, style: str = "") -> None:
        console.print(Text(one_line(words), style), soft_wrap=True)

    say(result.chart.title, "bold")
    kept = f", {result.kept} of them kept from an earlier run" if result.kept else ""
    cells, extra = len(result.answers), len(result.sensitivities)
    say(f"{cells} cells of {result.samples} samples and {extra} for sensitivity{kept}; inputs {result.inputs_hash}")
    say(
        f"cells that must not be used: {stopped}; that do not release: {never}, with too little working time: {short}, "
        f"that may get too hot: {hot}"
    )
    if damaged:
        say(f"{damaged} kept cells were damaged or changed, and were computed again", "bold red")
    if result.dominant is not None:
        say(f"Most moves the release time: {result.dominant.lower()}")
    if result.violations:
        say(
            f"CHECK BEFORE USE: in {len(result.violations)} places neighbouring cells contradict each other:",
            "bold red",
        )
        for violation in result.violations[:5]:
            say(f"  {violation.text()}", "red")
        if len(result.violations) > 5:
            say("  the others are in chart.json and chart.html", "red")
    failed = [r["message"] for r in result.records.values() if r["message"]]
    if failed:
        say(
            f"{len(failed)} cells have samples that failed, counted as no working time and no release; "
            f"one says: {failed[0]}",
            "bold red",
        )
    for file in files:
        say(str(file))
