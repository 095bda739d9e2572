"""The program that README.md shows and the Python package give the same page of every shipped case.

Usage: same_answer.py CONSUMER

The two may be compiled for other vector instructions, so that a sampled release may stand one step of 5 min apart, and
other numbers some last digits.
"""

import re
import subprocess
import sys
from collections import Counter
from typing import Any

import libcure
from libcure.documents import models_folder
from libcure.words.page import Page


def minutes_of(headline: str) -> float | None:
    """The release in a headline [min]."""
    found = re.search(r"until (?:(\d+) h)? ?(?:(\d+) min)?", headline)
    return None if found is None else 60.0 * float(found[1] or 0) + float(found[2] or 0)


def texts(part: Any) -> list[str]:
    """Every text of a page that plain text shows."""
    if isinstance(part, str):
        return [part]
    if isinstance(part, tuple):
        return [text for item in part for text in texts(item)]
    hidden = {"status", "code", "mark", "usual", "ranged", "unlikely"}
    fields = vars(part) if hasattr(part, "__dict__") else {}
    return [text for name, value in fields.items() if name not in hidden for text in texts(value)]


def words(text: str) -> Counter[str]:
    """Words without numbers, their units of time, and the numbers of the cautions."""
    return Counter(word for word in re.findall(r"[^\W\d]+", text) if word not in {"h", "min", "s"})


def main() -> int:
    output = subprocess.run([sys.argv[1]], capture_output=True, text=True, check=True).stdout
    said = {page.partition("\n")[0]: page for page in output.split("\f\n") if page}
    wrong = 0
    for path in sorted((models_folder() / "cases").glob("*.json")):
        page: Page = libcure.predict(path).page
        theirs = said[page.title]
        headline = " ".join(theirs.split("\n\n")[2].split())
        number, other = minutes_of(page.headline), minutes_of(headline)
        same = (number is None) == (other is None) and (number is None or abs(number - other) <= 5.0)
        missing, more = words(" ".join(texts(page))) - words(theirs), words(theirs) - words(" ".join(texts(page)))
        same = same and not missing and not more
        wrong += not same
        print("same" if same else "DIFFERENT", page.title, "|", page.headline, "|", headline, "|", *missing, "|", *more)
    return 1 if wrong or len(said) < 4 else 0


if __name__ == "__main__":
    sys.exit(main())
