"""Every notebook has its text pair, says the same as it, and is committed without outputs."""

from pathlib import Path

import jupytext
import pytest

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))


def cells(notebook):
    return [(cell.cell_type, cell.source) for cell in notebook.cells]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_pair_says_the_same(path):
    assert cells(jupytext.read(path)) == cells(jupytext.read(path.with_suffix(".py")))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_no_outputs(path):
    code = [cell for cell in jupytext.read(path).cells if cell.cell_type == "code"]
    assert code
    assert all(not cell.outputs and cell.execution_count is None for cell in code)
