"""Results ask for their forms; renderers register for types by name, so a wrong name would only show when it is asked for."""

import ast
import importlib
import re
import subprocess
import sys
from io import StringIO
from pathlib import Path

import pytest
from rich.console import Console
from rich.text import Text

import libcure
from libcure import rendering
from libcure.render import pages
from libcure.render.panel import Titled

SOURCES = Path(__file__).parents[2] / "bindings" / "libcure"
FORMS = (rendering.page, rendering.html, rendering.document, rendering.figure, rendering.write_picture, rendering.report)


def test_nothing_on_paper_stands_in_the_margins():
    margin, size = 15.0, (105.0, 74.0)
    report = pages.Pages(size, margin, 9.0)
    report.heading("Heading")
    for _ in range(12):
        report.line("words " * 30, bullet="-")
    assert len(report.pages) > 2
    for page in report.pages:
        for text in page.texts:
            box = text.get_window_extent()
            mm = [x * 25.4 / page.dpi for x in (box.x0, box.x1, box.y0, box.y1)]
            assert mm[0] >= margin - 0.1 and mm[1] <= size[0] - margin + 0.1
            assert mm[2] >= margin - 1.0 and mm[3] <= size[1] - margin


@pytest.mark.parametrize("name", sorted({name for form in FORMS for name in form.renderers}))
def test_every_renderer_is_of_a_type_that_exists(name):
    module, _, kind = name.rpartition(".")
    found = getattr(importlib.import_module(module), kind)
    # A type that moved keeps its old name importable, but is shown by its own.
    assert f"{found.__module__}.{found.__qualname__}" == name


def test_what_nothing_shows_is_named():
    with pytest.raises(TypeError, match="no page shows a int"):
        rendering.page(3)


def test_a_subclass_is_shown_as_its_parent_is():
    form = rendering.Form("form")
    form.register(f"{__name__}.Parent")(lambda shown, more: (shown.value, more))
    assert form(Child(), 2) == (7, 2)


class Parent:
    value = 7


class Child(Parent):
    pass


@pytest.mark.parametrize(("module", "heavy"), [
    ("libcure", "matplotlib, pandas, xarray, scipy, rich, jinja2, jsonschema"),
    # SciPy's statistics and signals take three quarters of the time that fits need to load.
    ("libcure.fitting", "matplotlib, pandas, scipy.stats, scipy.signal"),
])  # fmt: skip
def test_importing_loads_nothing_that_is_not_needed(module, heavy):
    code = f"import sys, {module}; print(*[name for name in '{heavy}'.split(', ') if name in sys.modules])"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.split() == [], libcure.__version__


def literals(path):
    """Texts of a module that are no docstrings, the parts of f-strings too."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    docs = {id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr)}
    return [node.value for node in ast.walk(tree) if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in docs]


MARKUP = re.compile(r"</?[a-z][a-z0-9]*(\s|/?>)|&[a-z]+;")


@pytest.mark.parametrize("path", sorted(SOURCES.rglob("*.py")), ids=lambda path: path.stem)
def test_html_stands_in_templates_alone(path):
    assert [text for text in literals(path) if MARKUP.search(text)] == []


def test_the_test_sees_markup(tmp_path):
    file = tmp_path / "module.py"
    file.write_text('"""<b>doc</b>"""\nx = f\'<td style="{1}">\' + "</td>" + "a < b > c" + "<Case>"\n')
    assert [text for text in literals(file) if MARKUP.search(text)] == ["</td>", '<td style="']


@pytest.mark.parametrize("width", [50, 200])
def test_a_long_title_is_never_cut(width):
    title = "Invented: a title that says where the job is, what was seen of the wall, and which liner goes in"
    console = Console(file=StringIO(), width=width)
    console.print(Titled("body", Text(title), "red"))
    assert title in " ".join(re.sub("[│╭╮╰╯─]", " ", console.file.getvalue()).split())
