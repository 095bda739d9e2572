"""A log that grows: followed again at each change, until the bladder may come out or the log stops."""

from __future__ import annotations

import math
import os
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

from libcure.documents import read_bytes, shown
from libcure.errors import CureError, input_error
from libcure.following.result import FollowResult

__all__ = ["POLL_S", "Seen", "watch"]

POLL_S = 2.0
"""Time between two looks at the file [s]."""


@dataclass(frozen=True)
class Seen:
    """What a look at the log came to."""

    result: FollowResult | None
    """The newest; None before there is one."""
    problem: str = ""
    """Why the file as it stands could not be followed; the result is then the one before."""
    ended: str = ""
    """``may come out`` or ``quiet`` for the last one; empty while the watch goes on."""


def watch(
    log: str | os.PathLike[str],
    follow: Callable[[], FollowResult],
    *,
    quiet_min: float,
    clock: Callable[[], float] = time.monotonic,
    sleep: Callable[[float], None] = time.sleep,
) -> Iterator[Seen]:
    """Follows at once, and again whenever the file has changed.

    A file that cannot be read for a moment, as while a logger writes it anew, is waited for; one that is wrong from the start,
    with a whole line in it, is not.

    Args:
        log: the file that grows.
        follow: reads it and follows.
        quiet_min: the watch ends once the file has not changed for so long [min].
        clock: seconds that only rise.
        sleep: waits so many seconds.

    Raises:
        CureError: ``quiet_min`` is not above 0, the file is not there at the start, or is wrong.
    """
    if not 0.0 < quiet_min < math.inf:
        raise input_error("until_quiet", f"{quiet_min:g}", "above 0 min")
    read_bytes(log)
    result: FollowResult | None = None
    before: tuple[int, int] | None = None
    changed = clock()
    while True:
        now = _state(Path(log))
        if now is not None and now != before:
            # Taken before the file is read: what is written meanwhile is a change of its own.
            before, changed = now, clock()
            problem = ""
            try:
                result = follow()
            except CureError as error:
                if result is None and _has_a_line(log):
                    raise
                problem = str(error)
            if not problem and result is not None and result.status == "may_come_out":
                yield Seen(result, ended="may come out")
                return
            yield Seen(result, problem)
        if clock() - changed >= 60.0 * quiet_min:
            yield Seen(result, f"{shown(log)} has not changed for {quiet_min:g} min", "quiet")
            return
        sleep(POLL_S)


def _state(log: Path) -> tuple[int, int] | None:
    """Time of its last change and size; None while it is not there."""
    try:
        found = log.stat()
    except OSError:
        return None
    return found.st_mtime_ns, found.st_size


def _has_a_line(log: str | os.PathLike[str]) -> bool:
    """Whether the file has a whole line: before that its logger is only beginning."""
    try:
        return b"\n" in read_bytes(log)
    except CureError:
        return False
