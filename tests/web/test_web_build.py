"""How the page's engine is compiled: with the compiler's vectorisers on, the numbers of some resins are wrong without a word."""

import json
import re
import shlex
import subprocess
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


def test_the_engine_holds_no_vectors_but_those_of_the_packs(tmp_path):
    """Packs are of numbers. Lanes of bytes, and lanes loaded one by one, come from a vectoriser, which makes hundreds of them."""
    text = tmp_path / "engine.wat"
    features = ["--enable-simd", "--enable-exception-handling", "--enable-bulk-memory"]
    subprocess.run(["wasm-dis", *features, str(BUILD / "engine.wasm"), "-o", str(text)], check=True)
    found = set(re.findall(r"\((?:v128|[if]\d+x\d+)\.\w+", text.read_text(encoding="utf-8")))
    assert {"(f64x2.mul", "(v128.load"} <= found
    assert {name for name in found if re.match(r"\((i8x16\.(?!shuffle)|v128\.load(16|32)|f64x2\.(floor|convert))", name)} == set()
