"""Prints the headers to be compiled so that each is compiled alone: without those that come first of ours in another.

Where a header begins with another one of ours, that one is read with nothing of ours before it; what a header uses of
the standard library is cpplint's to find.

Usage: headers_alone.py SOURCE_DIR
"""

import sys
from pathlib import Path

from include_levels import includes_of


def headers_alone(include_dir: Path) -> list[Path]:
    headers = sorted(include_dir.rglob("*.hpp"))
    ours = {header: [i for i in includes_of(header) if i.startswith("cure/")] for header in headers}
    first = {include_dir / includes[0] for includes in ours.values() if includes}
    return [header for header in headers if header not in first]


if __name__ == "__main__":
    print(*headers_alone(Path(sys.argv[1]) / "libcure" / "include"), sep="\n")
