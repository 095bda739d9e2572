"""The program that README.md shows and the Python package give the same decision on every shipped case.

Usage: same_answer.py CONSUMER

The two may be compiled for other vector instructions, so that a sampled release may stand one step of 5 min apart.
"""

import re
import subprocess
import sys

import libcure
from libcure.documents import models_folder


def minutes_of(headline: str) -> float | None:
    """The release in a headline [min]."""
    found = re.search(r"until (?:(\d+) h)? ?(?:(\d+) min)?", headline)
    return None if found is None else 60.0 * float(found[1] or 0) + float(found[2] or 0)


def main() -> int:
    lines = subprocess.run([sys.argv[1]], capture_output=True, text=True, check=True).stdout.splitlines()
    said = {title: headline.strip() for title, headline in zip(lines, lines[1:], strict=False) if not title.startswith(" ")}
    wrong = 0
    for path in sorted((models_folder() / "cases").glob("*.json")):
        p = libcure.predict(path)
        ours, theirs = p.answer.headline, said[p.case.title]
        number, other = minutes_of(ours), minutes_of(theirs)
        same = (number is None) == (other is None) and (number is None or abs(number - other) <= 5.0)
        same = same and re.sub(r"[\d()]+", "", ours) == re.sub(r"[\d()]+", "", theirs)
        wrong += not same
        print("same" if same else "DIFFERENT", p.case.title, "|", ours, "|", theirs)
    return 1 if wrong or len(said) < 4 else 0


if __name__ == "__main__":
    sys.exit(main())
