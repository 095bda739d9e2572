"""Holds that objects compiled for newer machines share no function with the rest of the library.

A function that is in several objects is kept once by the linker, in any of its versions: the version for a
newer machine may then run on an older one. Usage: vector_symbols.py OBJECT...
"""

import subprocess
import sys


def shared(path: str) -> list[str]:
    out = subprocess.run(["nm", "--demangle", path], check=True, capture_output=True, text=True).stdout
    weak = [line.split(maxsplit=2)[-1] for line in out.splitlines() if " W " in line or " V " in line or " u " in line]
    own = ("32ul>", "64ul>", "32ul,", "64ul,")  # the register width is part of these names
    # DW.ref.* are pointers to the unwinder's routine, data that is the same in every object.
    return [name for name in weak if not name.startswith("DW.ref.") and not any(width in name for width in own)]


if __name__ == "__main__":
    bad = [f"{path}: {name}" for path in sys.argv[1:] for name in shared(path)]
    print("\n".join(bad) if bad else f"{len(sys.argv) - 1} objects share nothing")
    sys.exit(1 if bad else 0)
