"""How every command ends, and where it writes. Without typer and rich, which a plain answer does not wait for."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from functools import wraps
from pathlib import Path
from typing import TYPE_CHECKING, ParamSpec, TypeVar, cast

from libcure.documents import models_only, own_models
from libcure.errors import CureError, one_line
from libcure.interrupt import INTERRUPTED, MESSAGE, in_order
from libcure.words.page import NARROWEST, WIDEST

if TYPE_CHECKING:
    from rich.console import Console

    from libcure.words.page import Page

__all__ = ["console", "one_line_errors", "show"]

quiet = False
"""Whether pages stay away from the screen; what is asked for as JSON, questions and errors do not."""

P = ParamSpec("P")
R = TypeVar("R")


def one_line_errors(command: Callable[P, R]) -> Callable[P, R]:
    """A command that ends with one line on stderr and the documented exit code where it fails.

    An argument ``models_only`` confines what the documents that it reads may name; folders in ``models`` have models of one's own.
    """

    @wraps(command)
    def guarded(*args: P.args, **kwargs: P.kwargs) -> R:
        try:
            folders = cast("list[Path] | None", kwargs.get("models")) or ()
            with in_order(), models_only(cast("Path | None", kwargs.get("models_only"))), own_models(*folders):
                result = command(*args, **kwargs)
            sys.stdout.flush()
            return result
        except CureError as error:
            print(f"libcure: {one_line(str(error))}", file=sys.stderr)
            raise SystemExit(2) from None
        except KeyboardInterrupt:
            print(MESSAGE, file=sys.stderr)
            raise SystemExit(INTERRUPTED) from None
        except OSError as error:
            if error.filename is not None:
                raise
            # What is left in the buffer would be tried again at the end of Python.
            os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
            if isinstance(error, BrokenPipeError):
                raise SystemExit(1) from None
            print(f"libcure: standard output cannot be written ({error.strerror})", file=sys.stderr)
            raise SystemExit(2) from None

    return guarded


def console() -> Console:
    """Standard output; letters that it cannot show are replaced, never an error."""
    from rich.console import Console

    _replace_letters()
    return Console(highlight=False, quiet=quiet)


def show(page: Page) -> None:
    """A page on standard output as the terminal bears it: what rich would find out, without loading it."""
    if quiet:
        return
    _replace_letters()
    said = os.environ.get
    terminal = said("FORCE_COLOR") or (sys.stdout.isatty() and said("TERM") not in ("dumb", "unknown"))
    ascii_only = not (sys.stdout.encoding or "").lower().startswith("utf")
    width = min(max(_columns(), NARROWEST), WIDEST)
    sys.stdout.write(page.text(width, colours=bool(terminal and not said("NO_COLOR")), ascii_only=ascii_only))


def _columns() -> int:
    said = os.environ.get("COLUMNS", "")
    if said.isdecimal() and int(said) > 0:
        return int(said)
    try:
        return os.get_terminal_size(sys.stdout.fileno()).columns
    except (OSError, ValueError):  # no terminal
        return 80


def _replace_letters() -> None:
    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")
