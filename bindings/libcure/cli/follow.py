"""What the command ``libcure follow`` does."""

from __future__ import annotations

import sys
from contextlib import ExitStack
from pathlib import Path

from rich.console import Console

from libcure import documents, rendering
from libcure.case import Case
from libcure.errors import input_error
from libcure.following.engine import follow

__all__ = ["run"]


def run(
    case: Case,
    case_file: Path,
    log: Path,
    console: Console,
    *,
    channel: str,
    mixed_at: str,
    at: str,
    now: float | None,
    chart: Path | None,
    json: Path | None,
    plot: Path | None,
) -> None:
    """Follows, writes the files asked for, whole or not at all, and shows the page."""
    only_json = json is not None and str(json) == "-"
    json_target = None if json is None or only_json else documents.output_path(json, "--json", (".json",))
    plot_target = None if plot is None else documents.output_path(plot, "--plot", rendering.PICTURES)
    if json_target is not None and json_target in (plot_target, case_file.resolve()):
        raise input_error("--json", f'"{json}"', "a file of its own")
    result = follow(case, log, at=at, now_min=now, channel=channel, mixed_at=mixed_at, uncertain=chart)
    with ExitStack() as files:
        if json_target is not None:
            temporary = files.enter_context(documents.replacing(json_target))
            temporary.write_text(documents.to_json(result.to_json()), encoding="utf-8")
        if plot_target is not None:
            temporary = files.enter_context(documents.replacing(plot_target))
            rendering.write_picture(result.plot(), temporary, plot_target.suffix)
    if only_json:
        sys.stdout.write(documents.to_json(result.to_json()))
    else:
        console.print(result)
