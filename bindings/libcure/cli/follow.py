"""What the command ``libcure follow`` does."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable
from contextlib import ExitStack
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console, Group
from rich.live import Live
from rich.text import Text

from libcure import documents, rendering
from libcure.case import Case
from libcure.errors import input_error, one_line
from libcure.following.engine import follow
from libcure.following.result import FollowResult
from libcure.following.watching import Seen, watch

__all__ = ["Job", "run", "run_watch"]


@dataclass(frozen=True)
class Job:
    """What is followed, and the files to write."""

    case: Case
    case_file: Path
    log: Path
    channel: str
    mixed_at: str
    at: str
    now: float | None
    chart: Path | None
    json: Path | None
    plot: Path | None

    def targets(self) -> tuple[Path | None, Path | None]:
        """Files for JSON and picture, checked before anything is computed.

        Raises:
            CureError: one cannot be written, or both are one.
        """
        only_json = self.json is not None and str(self.json) == "-"
        json_target = None if self.json is None or only_json else documents.output_path(self.json, "--json", (".json",))
        plot_target = None if self.plot is None else documents.output_path(self.plot, "--plot", rendering.PICTURES)
        if json_target is not None and json_target in (plot_target, self.case_file.resolve()):
            raise input_error("--json", f'"{self.json}"', "a file of its own")
        return json_target, plot_target

    def follow(self, since: float = 0.0) -> FollowResult:
        """The log as it stands; ``since`` is the time since ``now`` was told [min]."""
        now = None if self.now is None else self.now + since
        return follow(self.case, self.log, at=self.at, now_min=now, channel=self.channel, mixed_at=self.mixed_at, uncertain=self.chart)


def _write(result: FollowResult, json_target: Path | None, plot_target: Path | None) -> None:
    """Writes the files asked for, whole or not at all."""
    with ExitStack() as files:
        if json_target is not None:
            temporary = files.enter_context(documents.replacing(json_target))
            temporary.write_text(documents.to_json(result.to_json()), encoding="utf-8")
        if plot_target is not None:
            temporary = files.enter_context(documents.replacing(plot_target))
            rendering.write_picture(result.plot(), temporary, plot_target.suffix)


def run(job: Job, console: Console) -> None:
    """Follows once, writes the files asked for, and shows the page."""
    json_target, plot_target = job.targets()
    result = job.follow()
    _write(result, json_target, plot_target)
    if str(job.json) == "-":
        sys.stdout.write(documents.to_json(result.to_json()))
    else:
        console.print(result)


def run_watch(
    job: Job,
    console: Console,
    quiet_min: float,
    *,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], None] = time.sleep,
) -> bool:
    """Follows again whenever the log has changed; page and files are those of the newest.

    Returns:
        whether the bladder may come out; False when the log has stopped before that.
    """
    if str(job.json) == "-":
        raise input_error("--json", '"-"', "a file, with --watch")
    json_target, plot_target = job.targets()
    start = clock()
    newest = Seen(None)
    # What is not shown on a terminal is read later: there each page stays.
    with Live(console=console, auto_refresh=False, transient=True, vertical_overflow="crop") as live:
        try:
            for newest in watch(job.log, lambda: job.follow((clock() - start) / 60.0), quiet_min=quiet_min, clock=clock, sleep=sleep):
                if newest.result is not None and not newest.problem:
                    _write(newest.result, json_target, plot_target)
                if console.is_terminal:
                    live.update(_shown(newest, f"Watching {job.log}; Ctrl-C ends."), refresh=True)
                else:
                    console.print(_shown(newest))
        finally:
            live.stop()
            if console.is_terminal:
                console.print(_shown(newest))
    return newest.ended == "may come out"


def _shown(seen: Seen, last: str = "") -> Group:
    """The page, below what keeps the log from being followed."""
    problem = [Text(one_line(seen.problem), "bold red")] if seen.problem else []
    page = [rendering.page(seen.result)] if seen.result is not None else []
    return Group(*problem, *page, *([Text(one_line(last), "dim")] if last else []))
