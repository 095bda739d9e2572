"""The manual page of the command, made from what ``--help`` says: ``python -m libcure.cli.manual --write FILE``."""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer.main

from libcure.cli.menu import app
from libcure.errors import EXIT_CODES
from libcure.interrupt import INTERRUPTED

__all__ = ["page"]

ENDS = (
    ("0", "It is done. With --exit-code: do the job as planned."),
    ("1", "What reads the output has closed it."),
    ("2", "Bad input, or a file that cannot be read or written: one line on standard error says what."),
    (str(EXIT_CODES["wait"]), "With --exit-code: it works with what is said beside it."),
    (str(EXIT_CODES["stop"]), "With --exit-code: do not do this job as planned, or do not rely on its times."),
    (str(INTERRUPTED), "Stopped by Ctrl-C."),
)
MODELS = "Folders of own models beside those that come with libcure, a colon between several."
CAUTION = (
    "The release criterion is this project's own; no standard gives one. The resin maker's data, local codes and licensed practice come first. "
    "Mixed resin in bulk heats itself; an inflated bladder stores energy."
)


def _text(words: str) -> str:
    """Words as roff has them."""
    words = " ".join(words.split()).replace("\\", "\\e").replace("-", "\\-")
    return "\\&" + words if words[:1] in (".", "'") else words


def _options(command: Any, context: Any) -> Iterator[str]:
    for parameter in command.get_params(context):
        record = parameter.get_help_record(context)
        if record is not None and "--help" not in parameter.opts:
            yield f".TP\n\\fB{_text(record[0])}\\fR\n{_text(record[1])}"


def _command(name: str, command: Any, parent: Any) -> Iterator[str]:
    context = command.make_context(name, [], parent=parent, resilient_parsing=True)
    yield f".SS {_text(' '.join([name, *command.collect_usage_pieces(context)]))}"
    yield _text(command.help or "")
    yield from _options(command, context)
    if command.epilog:
        title, _, example = command.epilog.partition(": ")
        yield f".PP\n{_text(title)}:\n.PP\n.nf\n    {_text(example)}\n.fi"


def page() -> str:
    """The whole page as roff."""
    group: Any = typer.main.get_command(app)  # its classes are those of click, or typer's own copy of them
    context = group.make_context("libcure", [], resilient_parsing=True)
    parts = ['.TH LIBCURE 1 "" libcure "User Commands"', ".SH NAME", f"libcure \\- {_text((group.help or '').rstrip('.').lower())}",
             ".SH SYNOPSIS", "\\fBlibcure\\fR [\\-\\-quiet] COMMAND [OPTIONS]", ".SH OPTIONS", *_options(group, context), ".SH COMMANDS"]  # fmt: skip
    for name in group.list_commands(context):
        parts += _command(name, group.get_command(context, name), context)
    parts.append(".SH EXIT STATUS")
    parts += [f".TP\n{code}\n{_text(words)}" for code, words in ENDS]
    parts += [".SH ENVIRONMENT", f".TP\nLIBCURE_MODELS\n{_text(MODELS)}", ".SH CAUTIONS", _text(CAUTION)]
    return "\n".join(parts) + "\n"


if __name__ == "__main__":
    if len(sys.argv) != 3 or sys.argv[1] != "--write":
        sys.exit("python -m libcure.cli.manual --write FILE")
    Path(sys.argv[2]).write_text(page(), encoding="utf-8")
