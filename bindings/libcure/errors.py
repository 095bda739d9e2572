"""The one error that libcure raises, and how the Python part makes one."""

from __future__ import annotations

from libcure._core import CureError

__all__ = ["EXIT_CODES", "STOPPED", "CureError", "input_error", "one_line"]

STOPPED = "stopped before the end"
"""What an event that was set makes of a call, in the core's words."""

EXIT_CODES = {"ok": 0, "wait": 3, "stop": 4}
"""Of an answer, where a command was asked for it: shells take what is not 0 for a failure."""


def input_error(field: str, value: str, allowed: str, file: str = "") -> CureError:
    """A CureError with the same parts and the same wording as those of the core.

    Args:
        field: path of the value, such as ``liner.thickness_mm``.
        value: the value as given, or ``missing``.
        allowed: what would be accepted.
        file: the file it came from; empty when it came from code.
    """
    # As long as those of the core: all of them may come from a document.
    field, value, allowed = one_line(field, 300), one_line(value, 300), one_line(allowed, 3000)
    where = f"{file}: " if file else ""
    error = CureError(one_line(f"{where}{field}: {value}; allowed: {allowed}", 10_000))
    error.field, error.value, error.allowed, error.file = field, value, allowed, file
    return error


def one_line(text: str, most: int = 1000) -> str:
    """Text fit for one line of a terminal: control characters escaped, cut at ``most`` letters."""
    shown = text if text.isprintable() else "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)
    return shown if len(shown) <= most else shown[: most - 3] + "..."
