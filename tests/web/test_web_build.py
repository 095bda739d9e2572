"""How the page's engine is compiled: with the compiler's vectorisers on, the numbers of some resins are wrong without a word."""

import json
import shlex
from pathlib import Path

BUILD = Path(__file__).parents[2] / "build" / "web"


def switched(words, name):
    """What is said last of a switch of the compiler: True, False, or None where nothing is said."""
    said = [word for word in words if word in (f"-f{name}", f"-fno-{name}")]
    return said[-1] == f"-f{name}" if said else None


def test_every_unit_is_compiled_without_the_vectorisers():
    units = json.loads((BUILD / "compile_commands.json").read_text(encoding="utf-8"))
    assert len(units) >= 4
    for unit in units:
        words = shlex.split(unit["command"])
        assert switched(words, "vectorize") is False, unit["file"]
        assert switched(words, "slp-vectorize") is False, unit["file"]
        # A product and a sum in one rounding would be another number; NaN must stay one.
        assert "-ffp-contract=off" in words and "-ffast-math" not in words and "-Ofast" not in words, unit["file"]
