"""Holds that a program of a user cannot mix units compiled for different vector instructions, and that units compiled alike link.

Usage: mixed_units.py COMPILER PREFIX, where libcure is installed under PREFIX.
"""

import subprocess
import sys
import tempfile
from pathlib import Path

MAIN = "int other();\nint main() { return other() > 2.0 ? 0 : 1; }\n"
HEADERS_ALONE = '#include "cure/numerics/step_size.hpp"\nint other();\n'
BODY = "int other() { return static_cast<int>(cure::numerics::step_root(1e-3, 3)); }\n"
COMPILED = '#include <exception>\n#include "cure/io/answered.hpp"\n'
ASK = 'int main() { try { return cure::io::answered("none.json", {}).page.empty(); } catch (std::exception const&) { return 0; } }\n'


def main(compiler: str, prefix: Path) -> int:
    library = next(p for p in sorted(prefix.rglob("libcure.*")) if p.suffix in (".a", ".so"))
    include = ["-std=c++20", "-I", str(prefix / "include")]
    with tempfile.TemporaryDirectory() as folder:

        def unit(name: str, text: str, *options: str) -> str:
            path = Path(folder) / f"{name}.cpp"
            path.write_text(text, encoding="utf-8")
            subprocess.run([compiler, *include, *options, "-O1", "-c", str(path), "-o", f"{path}.o"], check=True)
            return f"{path}.o"

        def linked(*objects: str) -> str:
            """What the linker refuses; empty when it makes a program, which runs."""
            program = f"{folder}/program"
            done = subprocess.run([compiler, *objects, "-o", program], capture_output=True, text=True)
            return done.stderr if done.returncode else "" if subprocess.run([program]).returncode == 0 else "the program failed"

        caller, body = HEADERS_ALONE + MAIN, HEADERS_ALONE + BODY
        plain, plain_body = unit("plain", caller), unit("plain_body", body)
        newer, newer_body = unit("newer", caller, "-mavx2"), unit("newer_body", body, "-mavx2")
        asks = [unit(f"asks{i}", COMPILED + ASK, "-DCURE_COMPILED", *options) for i, options in enumerate([(), ("-mavx2",)])]
        said = {
            "plain units": linked(plain, plain_body),
            "units for AVX2": linked(newer, newer_body),
            "the compiled library": linked(asks[0], str(library)),
            "one of each": linked(plain, newer_body),
            "one of each, the other first": linked(newer_body, plain),
            "AVX2 on the compiled library": linked(asks[1], str(library)),
        }
    wrong = []
    for i, (name, text) in enumerate(said.items()):
        refused = "multiple definition" in text and "libcure_units_compiled_for_different_instructions" in text
        if (text != "") if i < 3 else not refused:
            wrong.append(f"{name}: {text or 'it linked'}")
    print("\n".join(wrong) or "mixed units are refused, others link")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], Path(sys.argv[2])))
