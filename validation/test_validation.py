"""Each row of each source is one test; a row named in known_misses.json must miss."""

from __future__ import annotations

import re
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


@pytest.mark.parametrize("source", REPORT.sources, ids=lambda source: source.id)
def test_source_states_its_licence(source: validation.Source) -> None:
    text = (source.folder / "source.md").read_text(encoding="utf-8")
    (licence,) = (line for line in text.splitlines() if line.startswith("Licence: "))
    # What forbids commercial use or asks for the same licence cannot go with a BSD library.
    assert not re.search(r"\b(NC|SA|ND|GPL)\b|non-?commercial", licence, re.IGNORECASE)


@pytest.mark.parametrize("row", rows())
def test_row(row: validation.Comparison) -> None:
    assert row.passed, (
        f"{row.source}: published {row.relation} {row.published:.6g}, computed {row.computed:.6g} {row.unit}, "
        f"tolerance {row.tolerance:.2g}"
    )
