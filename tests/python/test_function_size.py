"""Functions that fit on a screen or two. Of the C++ headers clang-tidy counts them (`.clang-tidy`); here Python and the bindings."""

import ast
import re
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PYTHON, CPP = 60, 80


def long_python(text: str) -> list[str]:
    functions = (node for node in ast.walk(ast.parse(text)) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef))
    lines = ((node.name, (node.end_lineno or 0) - node.lineno + 1) for node in functions)
    return [f"{name}: {count} lines" for name, count in lines if count > PYTHON]


def long_cpp(text: str) -> list[str]:
    """As clang-format lays it out: a function starts at the margin, and its brace closes there."""
    found, begin = [], 0
    lines = text.splitlines()
    for number, line in enumerate(lines):
        if line == "}" and number - begin + 1 > CPP:
            found.append(f"{lines[begin]}: {number - begin + 1} lines")
        # The first line after a blank one, a comment, or what ended.
        if re.match(r"\w", line) and (number == 0 or re.match(r"$|}|//|#|namespace |template ", lines[number - 1])):
            begin = number
    return found


@pytest.mark.parametrize("path", sorted((ROOT / "bindings" / "libcure").rglob("*.py")), ids=lambda path: path.stem)
def test_python_functions_are_short(path):
    assert long_python(path.read_text(encoding="utf-8")) == []


@pytest.mark.parametrize("path", sorted((ROOT / "bindings" / "src").iterdir()), ids=lambda path: path.name)
def test_functions_of_the_bindings_are_short(path):
    assert long_cpp(path.read_text(encoding="utf-8")) == []


def test_the_test_counts():
    body = "    a = 1\n"
    assert long_python("def f():\n" + body * (PYTHON - 1)) == []
    assert long_python("def f():\n" + body * PYTHON) == ["f: 61 lines"]
    inside = "  a();\n\n"
    assert long_cpp("int a();\n\nint f(int x,\n      int y) {\n" + "  a();\n" * 77 + "}\n") == []
    assert long_cpp("int a();\n\nint f(int x,\n      int y) {\n" + "  a();\n" * 78 + "}\n") == ["int f(int x,: 81 lines"]
    assert len(long_cpp("int f() {\n" + inside * 40 + "}\n")) == 1
