"""The list of references: each entry can be found, and each key that a model cites is in it."""

import json
import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path

MODELS = Path(__file__).parents[2] / "models"
TEXT = (MODELS / "references.bib").read_text(encoding="utf-8")
DOI = r"10\.\d{4,9}/\S+"
NOT_FOUND = "no DOI or address found"


def parsed(text: str) -> dict[str, dict[str, str]]:
    """Fields of each entry by its key; braces may stand one inside another once."""
    entries = re.findall(r"^@\w+\{([^,]+),\n(.*?)^\}$", text, re.MULTILINE | re.DOTALL)
    return {key: dict(re.findall(r"(\w+) = \{((?:[^{}]|\{[^{}]*\})*)\}", body)) for key, body in entries}


ENTRIES = parsed(TEXT)


def faults(entry: dict[str, str]) -> list[str]:
    """What is wrong with the ways to find an entry."""
    found = []
    if not {"doi", "url", "isbn"} & entry.keys() and NOT_FOUND not in entry.get("note", ""):
        found.append("no doi, url or isbn, and no note that none was found")
    if {"doi", "url"} & entry.keys() and NOT_FOUND in entry.get("note", ""):
        found.append("doi or url beside a note that none was found")
    if "doi" in entry and not re.fullmatch(DOI, entry["doi"]):
        found.append(f"doi {entry['doi']}")
    if "url" in entry and not re.fullmatch(r"https?://[^\s/]+\.[^\s/]+/\S+", entry["url"]):
        found.append(f"url {entry['url']}")
    if "isbn" in entry and not isbn_holds(entry["isbn"]):
        found.append(f"isbn {entry['isbn']}")
    return found


def isbn_holds(isbn: str) -> bool:
    """The check digit of ISO 2108: weights 1 and 3 (13 digits) or 10 down to 1 (10 digits, X is 10)."""
    digits = [10 if sign == "X" else int(sign) for sign in isbn.replace("-", "")]
    if len(digits) == 13:
        return sum(digit * (3 if i % 2 else 1) for i, digit in enumerate(digits)) % 10 == 0
    return len(digits) == 10 and sum(digit * (10 - i) for i, digit in enumerate(digits)) % 11 == 0


def cited(node: object) -> Iterator[str]:
    """Values of ``source`` anywhere in a document."""
    if isinstance(node, dict):
        if isinstance(source := node.get("source"), str):
            yield source
        for child in node.values():
            yield from cited(child)
    elif isinstance(node, list):
        for child in node:
            yield from cited(child)


def test_every_entry_can_be_found() -> None:
    assert len(ENTRIES) == TEXT.count("\n@") + TEXT.startswith("@") > 50
    assert {key: said for key, entry in ENTRIES.items() if (said := faults(entry))} == {}


def test_every_entry_says_what_it_is_and_what_was_read() -> None:
    assert [key for key, entry in ENTRIES.items() if not {"title", "note"} <= entry.keys()] == []


def test_no_entry_stands_twice() -> None:
    for field in ("doi", "url", "isbn"):
        counts = Counter(entry[field].lower() for entry in ENTRIES.values() if field in entry)
        assert [value for value, n in counts.items() if n > 1] == []


def test_faults_are_seen() -> None:
    good = {"title": "A title", "note": "read", "doi": "10.1000/x(1)", "url": "https://a.org/b", "isbn": "0-415-04319-0"}
    assert faults(good) == []
    assert faults({"note": f"read; {NOT_FOUND}"}) == [] != faults({"note": "read"})
    bad = {"doi": "https://doi.org/10.1000/x", "url": "a.org/b", "isbn": "0-415-04319-1", "note": NOT_FOUND}
    assert all(faults(good | {field: value}) for field, value in bad.items())


def test_every_key_that_a_model_cites_is_listed() -> None:
    keys = {key for path in MODELS.rglob("*.json") if path.parent.name != "schema" for key in cited(json.loads(path.read_text()))}
    assert len(keys) > 30
    assert keys - {"none"} - ENTRIES.keys() == set()
