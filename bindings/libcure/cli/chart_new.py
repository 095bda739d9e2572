"""What ``libcure chart --new`` does: a starting document from a few answers."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from pathlib import Path

import typer
from rich.console import Console
from rich.text import Text

from libcure import documents
from libcure.charting.starting import QUESTIONS, starting_document
from libcure.errors import input_error, one_line

__all__ = ["run"]


def run(path: Path, answers: Sequence[str] | None, console: Console) -> None:
    """Writes the document; on a terminal it asks for what was not answered.

    Raises:
        CureError: the file is there already, or an answer of which no chart can be made.
    """
    target = documents.output_path(path, "CHART.json", (".json",))
    if target.exists():
        raise input_error("CHART.json", f'"{path}"', "a file that is not there yet")
    given: dict[str, str] = {}
    for answer in answers or ():
        key, equals, value = answer.partition("=")
        if not equals or not value.strip():
            raise input_error("--answer", f'"{answer}"', "KEY=VALUE, such as liner=5 mm")
        given[key.strip()] = value
    if sys.stdin.isatty() and not given:
        for question in QUESTIONS:
            given[question.key] = typer.prompt(question.words, default=question.default, err=True)
    text = starting_document(given, target.parent, str(path))
    with documents.replacing(target) as temporary:
        temporary.write_text(text, encoding="utf-8")
    left = [question.key for question in QUESTIONS if question.key not in given]
    console.print(Text(one_line(str(path))), soft_wrap=True)
    if left:
        console.print(Text(f"By default: {', '.join(left)}. Answer with --answer KEY=VALUE, or edit the file."), soft_wrap=True)
    console.print(Text(one_line(f"Next: libcure chart {path} --out charts")), soft_wrap=True)
