"""Each row of each source is one test; a row named in known_misses.json must miss."""

from __future__ import annotations

import re
import subprocess
from pathlib import Path

import pytest
from matplotlib.figure import Figure

from libcure import validation

HERE = Path(__file__).parent
REPORT = validation.run(HERE)


def rows() -> list[object]:
    found: list[object] = []
    for source in REPORT.sources:
        for row in source.rows:
            reason = source.reason(row)
            marks = [pytest.mark.xfail(strict=True, reason=reason)] if reason else []
            found.append(pytest.param(row, id=f"{source.id}: {row.quantity}", marks=marks))
    return found


@pytest.mark.parametrize("source", REPORT.sources, ids=lambda source: source.id)
def test_source_runs_and_draws(source: validation.Source) -> None:
    assert not source.error
    assert source.rows
    assert source.script is not None
    fig = Figure()
    source.script.figure(fig)
    assert fig.axes


@pytest.mark.parametrize("text", sorted(HERE.glob("*/source.md")), ids=lambda path: path.parent.name)
def test_source_states_its_licence(text: Path) -> None:
    (licence,) = (x for x in text.read_text(encoding="utf-8").splitlines() if x.startswith("Licence: "))
    # What forbids commercial use or asks for the same licence cannot go with a BSD library.
    assert not re.search(r"\b(NC|SA|ND|GPL)\b|non-?commercial", licence, re.IGNORECASE)


def test_every_folder_has_its_text() -> None:
    found = {path.parent for path in HERE.glob("*/*") if path.suffix in (".csv", ".dat", ".json", ".py")}
    assert found == {path.parent for path in HERE.glob("*/source.md")}


def added(path: Path) -> str:
    """The commit that brought a file; empty where the history is not at hand."""
    command = ["git", "-C", str(HERE), "log", "--diff-filter=A", "--format=%H", "--", str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    return done.stdout.split()[-1] if done.returncode == 0 and done.stdout.split() else ""


@pytest.mark.parametrize("source", REPORT.sources, ids=lambda source: source.id)
def test_source_says_truly_when_its_tolerances_were_set(source: validation.Source) -> None:
    assert source.order in (validation.FIRST, "tolerances and comparison in one commit")
    text, script = added(source.folder / "source.md"), added(source.folder / "compare.py")
    shallow = subprocess.run(["git", "-C", str(HERE), "rev-parse", "--is-shallow-repository"], capture_output=True, text=True, check=False)
    if not (text and script) or shallow.stdout.strip() != "false":
        pytest.skip("no whole history here")
    ancestor = subprocess.run(["git", "-C", str(HERE), "merge-base", "--is-ancestor", text, script], capture_output=True, check=False)
    assert (source.order == validation.FIRST) == (text != script and ancestor.returncode == 0)


@pytest.mark.parametrize("row", rows())
def test_row(row: validation.Comparison) -> None:
    assert row.passed, (
        f"{row.source}: published {row.relation} {row.published:.6g}, computed {row.computed:.6g} {row.unit}, "
        f"tolerance {row.tolerance:.2g}"
    )
