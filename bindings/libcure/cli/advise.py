"""What ``libcure advise`` does."""

from __future__ import annotations

import sys
from pathlib import Path

from rich.console import Console

from libcure import documents
from libcure.advising import SearchLimits, advise
from libcure.case import Case
from libcure.errors import input_error

__all__ = ["run"]


def run(
    case: Case,
    console: Console,
    *,
    file: Path,
    json: Path | None,
    working: str | None,
    reserve: float | None,
    release_by: str | None,
    resins: str | None,
    coldest_resin: float | None,
    hottest_fill: float | None,
    longest_hold: str | None,
    uncertain: str | None,
    samples: int | None,
) -> None:
    """Shows the advice, and writes it where asked for.

    Raises:
        CureError: bad input.
    """
    only_json = json is not None and str(json) == "-"
    target = None if json is None or only_json else documents.output_path(json, "--json", (".json",))
    if target is not None and target == file.resolve():
        raise input_error("--json", f'"{json}"', "a file of its own")
    usual = SearchLimits()
    limits = SearchLimits(
        usual.coldest_resin_C if coldest_resin is None else coldest_resin,
        usual.hottest_fill_C if hottest_fill is None else hottest_fill,
        usual.longest_hold_min if longest_hold is None else longest_hold,
    )
    screen = Console(stderr=True)
    with screen.status("Trying changes"):
        advice = advise(
            case,
            working=working,
            reserve_min=reserve,
            release_by=release_by,
            resins=None if resins is None else [name.strip() for name in resins.split(",")],
            limits=limits,
            uncertain=uncertain,
            samples=samples,
        )
    if target is not None:
        advice.write_json(target)
    if only_json:
        sys.stdout.write(documents.to_json(advice.to_dict()))
    else:
        console.print(advice)
