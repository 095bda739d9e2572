"""What the command ``libcure validate`` does."""

from __future__ import annotations

from pathlib import Path

from rich.console import Console
from rich.text import Text

from libcure import validation

__all__ = ["run"]


def run(folder: Path | None, out: Path, console: Console) -> bool:
    """Compares, writes the report and says what there is to say; True when all is as it should be.

    Raises:
        CureError: bad input.
    """
    with Console(stderr=True).status("") as status:

        def show(source: str, done: int, count: int) -> None:
            status.update(f"{done + 1} of {count}: {source}")

        good, said = validation.write_report(folder, out, show)
    console.print(Text(said), soft_wrap=True)
    return good
