"""What the command ``libcure predict`` does."""

from __future__ import annotations

import sys
from collections.abc import Sequence
from contextlib import ExitStack
from pathlib import Path

import libcure
from libcure import documents, rendering
from libcure.cli.guard import show
from libcure.cli.loading import load
from libcure.errors import input_error

__all__ = ["run"]


def run(
    file: Path,
    changes: Sequence[str] | None,
    *,
    json: Path | None,
    plot: Path | None,
    uncertain: str | None,
) -> str:
    """Predicts, writes the files asked for, whole or not at all, and shows the page.

    Returns:
        the answer's status: ``ok``, ``wait`` or ``stop``.

    Raises:
        CureError: bad input.
    """
    only_json = json is not None and str(json) == "-"
    json_target = None if json is None or only_json else documents.output_path(json, "--json", (".json",))
    plot_target = None if plot is None else documents.output_path(plot, "--plot", rendering.PICTURES)
    if json_target is not None and json_target in (plot_target, file.resolve()):
        raise input_error("--json", f'"{json}"', "a file of its own")
    case = load(file, changes)
    result = libcure.predict(case, uncertain=uncertain)
    # Both files appear only when both are complete.
    with ExitStack() as files:
        if json_target is not None:
            temporary = files.enter_context(documents.replacing(json_target))
            temporary.write_text(documents.to_json(result.to_json()), encoding="utf-8")
        if plot_target is not None:
            temporary = files.enter_context(documents.replacing(plot_target))
            rendering.write_picture(rendering.figure(result), temporary, plot_target.suffix)
    if only_json:
        sys.stdout.write(documents.to_json(result.to_json()))
    else:
        show(result.page)
    return result.answer.status
