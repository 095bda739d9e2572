"""Imports run downward and in no circle, also those inside functions: read off the sources, without importing them."""

import ast
from graphlib import CycleError, TopologicalSorter
from pathlib import Path

import pytest

PACKAGE = Path(__file__).parents[2] / "bindings" / "libcure"

# From the bottom. A name stands for a module and all below it, unless a longer name says otherwise; one imports from
# levels below its own, and within its own room.
LEVELS = [
    ["_core", "interrupt"],
    ["errors"],
    ["documents", "stopping"],
    ["heat", "models", "rendering", "zero_d"],
    ["case"],
    ["ensemble"],
    ["sampling"],
    ["words"],
    ["history"],
    ["result"],
    ["advising", "charting", "fitting", "following", "job", "validation"],
    ["recording", "studying"],
    ["render"],
    ["libcure"],
    ["cli", "schemas", "selftest"],
    ["__main__"],
]
# Pages that stand in the room of what they show, and belong to `render`.
PAGES = ["following.view", "following.figure"]
LEVEL_OF = {name: level for level, names in enumerate(LEVELS) for name in names}


def modules() -> dict[str, Path]:
    """Modules by name without ``libcure.``; the package itself is ``libcure``, a room is the name of its folder."""
    found = {}
    for path in [*PACKAGE.rglob("*.py"), *PACKAGE.glob("*.pyi")]:
        parts = path.relative_to(PACKAGE).with_suffix("").parts
        found[".".join(parts[:-1] if parts[-1] == "__init__" else parts) or "libcure"] = path
    return found


MODULES = modules()


def room_of(module: str) -> str:
    """The longest name of the list that the module stands under."""
    if module in PAGES:
        return "render"
    parts = module.split(".")
    names = (".".join(parts[:count]) for count in range(len(parts), 0, -1))
    return next((name for name in names if name in LEVEL_OF), "")


def imports(path: Path, *, typing_only: bool) -> set[str]:
    """Modules of libcure that a file imports anywhere; those for annotations alone only when asked for."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    quiet: set[int] = set()
    if not typing_only:
        for node in ast.walk(tree):
            if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING":
                quiet |= {id(inner) for statement in node.body for inner in ast.walk(statement)}
    found: set[str] = set()
    for node in ast.walk(tree):
        if id(node) in quiet:
            continue
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names if alias.name.split(".")[0] == "libcure"}
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: a relative import"
            if (node.module or "").split(".")[0] == "libcure":
                full = {f"{node.module}.{alias.name}" for alias in node.names}
                found |= {name if name.removeprefix("libcure.") in MODULES else str(node.module) for name in full}
    return {name.removeprefix("libcure.") for name in found}


def above(module: str, imported: str) -> bool:
    """Whether an import leads up, or to a neighbour."""
    own, other = room_of(module), room_of(imported)
    return own != other and LEVEL_OF[other] >= LEVEL_OF[own]


@pytest.mark.parametrize("module", sorted(MODULES))
def test_imports_lead_down(module):
    assert room_of(module), f"{module} has no level"
    upward = sorted(name for name in imports(MODULES[module], typing_only=True) if above(module, name))
    assert upward == [], f"{module} imports what stands above or beside it"


def test_no_circle():
    graph = {module: imports(path, typing_only=False) - {module} for module, path in MODULES.items()}
    try:
        TopologicalSorter(graph).prepare()
    except CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


def test_the_list_names_what_there_is():
    assert [name for name in LEVEL_OF if name not in MODULES] == []
    assert [name for name in PAGES if name not in MODULES] == []


ROOT = PACKAGE.parents[1]


@pytest.mark.parametrize("path", sorted([*ROOT.glob("validation/**/*.py"), *ROOT.glob("notebooks/**/*.py")]), ids=lambda path: path.parent.name)
def test_what_others_may_use_is_public(path):
    assert [name for name in imports(path, typing_only=True) if name.split(".")[0].startswith("_")] == []


@pytest.mark.parametrize(
    ("module", "text", "found"),
    [
        ("result", "def f():\n    from libcure import render\n", ["render"]),
        ("result", "from libcure.render import plot", ["render.plot"]),
        ("charting.cells", "import libcure.following.engine", ["following.engine"]),
        ("following.result", "from libcure.following import view", ["following.view"]),
        ("render.plot", "from libcure.result import Prediction", []),
    ],
)
def test_the_test_sees(tmp_path, module, text, found):
    file = tmp_path / "module.py"
    file.write_text(text)
    assert sorted(name for name in imports(file, typing_only=True) if above(module, name)) == found
