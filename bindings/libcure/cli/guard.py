"""How every command ends, and where it writes. Without typer and rich, which a plain answer does not wait for."""

from __future__ import annotations

import os
import sys
from collections.abc import Callable
from functools import wraps
from importlib import import_module
from pathlib import Path
from threading import Thread
from typing import TYPE_CHECKING, ParamSpec, TypeVar, cast

from libcure.documents import models_only, own_models
from libcure.errors import INTERRUPTED, CureError, one_line

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["console", "load_meanwhile", "one_line_errors"]

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
            with models_only(cast("Path | None", kwargs.get("models_only"))), own_models(*folders):
                result = command(*args, **kwargs)
            sys.stdout.flush()
            return result
        except CureError as error:
            print(f"libcure: {one_line(str(error))}", file=sys.stderr)
            raise SystemExit(2) from None
        except KeyboardInterrupt:
            print("libcure: interrupted", file=sys.stderr)
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

    reconfigure = getattr(sys.stdout, "reconfigure", None)
    if reconfigure is not None:
        reconfigure(errors="replace")
    return Console(highlight=False, quiet=quiet)


def load_meanwhile(module: str) -> None:
    """Begins to load what will show an answer, while the core, which lets other threads of Python run, finds it."""
    if not quiet:
        Thread(target=import_module, args=(module,), daemon=True).start()
