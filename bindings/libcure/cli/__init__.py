"""The ``libcure`` command: `menu` has the commands and their options, one module does what a command does.

The usual question, ``predict CASE.json`` or ``check FILE.json``, is answered without the menu: typer takes longer to load than the
answer to be found. Whatever has an option goes by the menu.
"""

from __future__ import annotations

import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from libcure.cli.menu import app

__all__ = ["app", "main"]


def main() -> None:
    """The command, with the arguments of the process."""
    arguments = sys.argv[1:]
    if len(arguments) == 2 and arguments[0] in ("predict", "check") and not arguments[1].startswith("-"):
        _plain(arguments)
        return
    from libcure.cli.menu import app

    app(prog_name="libcure")


def _plain(arguments: Sequence[str]) -> None:
    """A command with its file alone."""
    from pathlib import Path

    from libcure.cli import guard
    from libcure.cli.guard import console, one_line_errors

    guard.quiet = False  # also where one process is asked twice
    file = Path(arguments[1])
    if arguments[0] == "check":
        from libcure.cli import check

        one_line_errors(check.run)(file, None, None, console())
    else:
        from libcure.cli import predict

        one_line_errors(predict.run)(file, None, json=None, plot=None, uncertain=None)


def __getattr__(name: str) -> Any:
    if name == "app":
        from libcure.cli.menu import app

        return app
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
