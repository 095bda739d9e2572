"""The case that a command is given."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

from libcure.case import Case, load_case
from libcure.documents import decode

__all__ = ["load"]


def load(path: Path, changes: Sequence[str] | None) -> Case:
    """A case from a file, or from standard input for ``-``, with the changes of ``--set``.

    Raises:
        CureError: it is refused.
    """
    if str(path) == "-":
        case = Case(decode(sys.stdin.buffer.read(), "standard input"), beside=Path.cwd(), name="standard input")
    else:
        case = load_case(path)
    return case.replace(changes) if changes else case
