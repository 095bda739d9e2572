"""Ctrl-C while the command loads, or ends: one line and the documented exit code, as within a command, and no traceback.

Nothing of libcure is imported here, so that it counts from the first line of the package on.
"""

from __future__ import annotations

import os
import signal
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from types import FrameType

__all__ = ["INTERRUPTED", "MESSAGE", "in_order"]

INTERRUPTED = 130
"""Exit code of a command that Ctrl-C ended, as shells have it."""
MESSAGE = "libcure: interrupted"


def _at_once() -> None:
    """Where Python runs the libcure command and no other program: Ctrl-C ends it at once."""
    is_command = os.path.basename(sys.argv[0] if sys.argv else "") == "libcure" or sys.orig_argv[1:3] == ["-m", "libcure"]
    # Not where the shell has it ignored, as for a job in the background.
    if is_command and signal.getsignal(signal.SIGINT) is signal.default_int_handler:
        signal.signal(signal.SIGINT, _end)


@contextmanager
def in_order() -> Iterator[None]:
    """While it lasts, Ctrl-C is an exception again: what runs then has something to clear away."""
    if signal.getsignal(signal.SIGINT) is not _end:
        yield
        return
    signal.signal(signal.SIGINT, signal.default_int_handler)
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, _end)


def _end(number: int, frame: FrameType | None) -> None:
    os.write(2, f"{MESSAGE}\n".encode())
    os._exit(INTERRUPTED)


_at_once()
