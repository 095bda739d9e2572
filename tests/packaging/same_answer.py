"""The program that README.md shows and the Python package give the same page of every shipped case.

Usage: same_answer.py CONSUMER

The two may be compiled for other vector instructions, so that a sampled release may stand one step of 5 min apart, and
other numbers some last digits: words are compared to the letter, and of the numbers the release.
"""

import re
import subprocess
import sys
from collections import Counter

import libcure
from libcure.documents import models_folder

WIDTH = 100  # of a page where C++ is told nothing


def release_of(page: str) -> float | None:
    """The release in the headline of a page [min]."""
    found = re.search(r"bladder in until (?:(\d+) h)? ?(?:(\d+) min)?", " ".join(page.replace("│", " ").split()))
    return None if found is None else 60.0 * float(found[1] or 0) + float(found[2] or 0)


def words(page: str) -> Counter[str]:
    """Words without numbers and their units of time."""
    return Counter(word for word in re.findall(r"[^\W\d]+", page) if word not in {"h", "min", "s"})


def main() -> int:
    output = subprocess.run([sys.argv[1]], capture_output=True, text=True, check=True).stdout
    said = {page.partition("\n")[0]: page for page in output.split("\f\n") if page}
    wrong = 0
    for path in sorted((models_folder() / "cases").glob("*.json")):
        ours = libcure.predict(path).text(WIDTH)
        title = ours.partition("\n")[0]
        theirs = said[title]
        number, other = release_of(ours), release_of(theirs)
        same = (number is None) == (other is None) and (number is None or abs(number - other) <= 5.0)
        missing, more = words(ours) - words(theirs), words(theirs) - words(ours)
        same = same and not missing and not more
        wrong += not same
        print("same" if same else "DIFFERENT", title, "|", number, other, "|", *missing, "|", *more)
    return 1 if wrong or len(said) < 4 else 0


if __name__ == "__main__":
    sys.exit(main())
