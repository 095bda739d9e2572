"""Every notebook has its text pair, says the same as it, and is committed without outputs."""

from pathlib import Path

import jupytext
import pytest

FOLDER = Path(__file__).parents[2] / "notebooks"
NOTEBOOKS = sorted(FOLDER.glob("*.ipynb"))


def cells(notebook):
    return [(cell.cell_type, cell.source) for cell in notebook.cells]


def test_every_notebook_has_its_pair():
    names = [path.stem for path in NOTEBOOKS]
    assert names
    assert names == sorted(path.stem for path in FOLDER.glob("*.py"))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_pair_says_the_same(path):
    assert cells(jupytext.read(path)) == cells(jupytext.read(path.with_suffix(".py")))


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_no_outputs(path):
    code = [cell for cell in jupytext.read(path).cells if cell.cell_type == "code"]
    assert code
    assert all(not cell.outputs and cell.execution_count is None for cell in code)


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda path: path.stem)
def test_an_editor_keeps_the_pair(path):
    assert jupytext.read(path).metadata["jupytext"]["formats"] == "ipynb,py:percent"
