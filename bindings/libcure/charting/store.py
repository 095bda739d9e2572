"""Runs the ensembles of a chart and keeps each finished one, so that a stopped run can go on."""

from __future__ import annotations

import json
import os
from collections.abc import Callable, Iterable, Mapping, Sequence
from concurrent.futures import FIRST_COMPLETED, Executor, Future, wait
from dataclasses import replace
from pathlib import Path
from threading import Event
from typing import Any

from libcure import documents
from libcure.charting import cells
from libcure.charting.cells import CellRecord, Task
from libcure.charting.document import canonical_hash
from libcure.errors import STOPPED, CureError

__all__ = ["Progress", "Store", "compute_all"]

Progress = Callable[[int, int], None]


class Store:
    """Finished ensembles as files named by the hash of their inputs, each with a checksum; None keeps nothing."""

    def __init__(self, folder: Path | None) -> None:
        self.folder = folder
        self.damaged = 0
        """Files found that do not hold what was kept."""
        if folder is not None:
            documents.output_folder(folder, "store")

    def get(self, key: str) -> CellRecord | None:
        """A kept record; a file that is not what was kept counts as none, and in ``damaged``."""
        if self.folder is None or not os.path.lexists(file := self.folder / f"{key}.json"):
            return None
        try:
            kept = json.loads(file.read_text(encoding="utf-8"))
            record = kept["record"]
            if isinstance(record, dict) and kept["sha256"] == _checksum(key, record):
                return record
        # What a file holds may be anything; deep nesting is a RecursionError.
        except (OSError, ValueError, TypeError, KeyError, RecursionError):
            pass
        self.damaged += 1
        return None

    def put(self, key: str, record: Mapping[str, Any]) -> None:
        """Keeps a record, whole or not at all."""
        if self.folder is not None:
            kept = {"record": record, "sha256": _checksum(key, record)}
            with documents.replacing(self.folder / f"{key}.json") as temporary:
                temporary.write_text(json.dumps(kept, allow_nan=False), encoding="utf-8")


def _checksum(key: str, record: Mapping[str, Any]) -> str:
    """With the key, so that a record under another name is found too."""
    return canonical_hash({"key": key, "record": record})


def compute_all(
    tasks: Sequence[Task],
    store: Store,
    executor: Executor | None = None,
    progress: Progress | None = None,
    busy: Callable[[], bool] = lambda: False,
    stop: Event | None = None,
) -> tuple[list[CellRecord], int]:
    """Runs what the store does not have. What is finished is kept at once.

    Args:
        tasks: from :func:`tasks_of`.
        store: of finished ensembles.
        executor: spreads the ensembles; without one they run here, each on the engine's threads.
        progress: called with how many are done, of how many.
        busy: whether a thread of this process has other work now; the engine leaves it a processor.
        stop: ends the run with CureError once another thread sets it; what is finished is kept.

    Returns:
        The records in the order of the tasks, and how many came from the store.
    """
    found = {task.key: record for task in tasks if (record := store.get(task.key)) is not None}
    missing = list({task.key: task for task in tasks if task.key not in found}.values())
    kept, done = len(found), len(found)

    def finish(task: Task, record: CellRecord) -> None:
        nonlocal done
        store.put(task.key, record)
        found[task.key] = record
        done += 1
        if progress is not None:
            progress(done, kept + len(missing))

    if progress is not None:
        progress(kept, kept + len(missing))
    groups = cells.groups_of(missing)
    if executor is None:
        for group in groups:
            records = cells.compute(_with_one_less(group) if busy() else group, stop)
            for task, record in zip(group, records, strict=True):
                finish(task, record)
    else:
        _spread(groups, executor, finish, stop)
    return [found[task.key] for task in tasks], kept


def _with_one_less(group: Iterable[Task]) -> list[Task]:
    return [replace(task, threads=max(1, (task.threads or os.cpu_count() or 1) - 1)) for task in group]


def _spread(groups: Iterable[Sequence[Task]], executor: Executor, finish: Callable[[Task, CellRecord], None], stop: Event | None) -> None:
    # The event stays here: not every executor could take it along.
    futures: dict[Future[list[CellRecord]], Sequence[Task]] = {executor.submit(cells.compute, group): group for group in groups}
    try:
        waiting = set(futures)
        while waiting:
            done, waiting = wait(waiting, timeout=None if stop is None else 0.1, return_when=FIRST_COMPLETED)
            for future in done:
                for task, record in zip(futures[future], future.result(), strict=True):
                    finish(task, record)
            if stop is not None and stop.is_set():
                raise CureError(STOPPED)
    finally:
        for future in futures:
            future.cancel()
