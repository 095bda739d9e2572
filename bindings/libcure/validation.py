"""Checks libcure against published results, and writes the report.

A source is a folder of ``validation/``: ``source.md`` (its first line is the title), data as CSV
with units in the header, and ``compare.py`` with ``compare() -> list[Comparison]`` and, if it likes,
``figure(fig) -> None``.

    libcure validate --out build

Beside the folders may stand ``known_misses.json`` (rows that miss, with the reason), ``coverage.json``
(which sources speak of which subject) and ``not_read.md`` (what was wanted and could not be read).
"""

from __future__ import annotations

import importlib.util
import json
import math
import os
import sys
import tempfile
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any, Literal

from libcure import _core, rendering
from libcure.documents import models_folder, output_folder, read_object, read_text
from libcure.errors import input_error, one_line
from libcure.models import read_resin

__all__ = [
    "EVIDENCE",
    "Comparison",
    "Evidence",
    "Report",
    "Source",
    "Subject",
    "find_folder",
    "load_script",
    "number",
    "resin_variant",
    "run",
    "run_source",
    "sources",
    "verdict",
    "write_report",
]

Evidence = Literal["measured", "published model", "closed form", "two codes", "from memory"]

EVIDENCE: dict[Evidence, str] = {
    "measured": "measured and published",
    "published model": "published model, constants as transcribed",
    "closed form": "closed form or certified value",
    "two codes": "agreement of two codes",
    "from memory": "from memory or calibrated; counts for nothing by itself",
}
"""Ranks of evidence, strongest first, with what each means."""

MISSES, COVERAGE, NOT_READ = "known_misses.json", "coverage.json", "not_read.md"


@dataclass(frozen=True)
class Comparison:
    """One published number beside the computed one."""

    source: str
    """Short citation, such as ``Cook et al. 1997``."""
    quantity: str
    published: float
    computed: float
    unit: str
    tolerance: float
    """In ``unit``, set from the source's own scatter before comparing."""
    evidence: Evidence
    relation: Literal["=", "<=", ">="] = "="
    """``<=``: the computed value must not pass the published bound by more than the tolerance."""
    note: str = ""

    def __post_init__(self) -> None:
        if self.evidence not in EVIDENCE:
            raise input_error("evidence", f'"{self.evidence}"', f"one of {', '.join(EVIDENCE)}")
        if not self.tolerance >= 0.0:
            raise input_error("tolerance", str(self.tolerance), f"0 or more (row {self.quantity})")
        if self.relation not in ("=", "<=", ">="):
            raise input_error("relation", f'"{self.relation}"', "one of =, <=, >=")

    @property
    def difference(self) -> float:
        """Computed less published."""
        return self.computed - self.published

    @property
    def passed(self) -> bool:
        """False also when either number is not finite."""
        if not (math.isfinite(self.published) and math.isfinite(self.computed)):
            return False
        if self.relation == "<=":
            return self.difference <= self.tolerance
        if self.relation == ">=":
            return -self.difference <= self.tolerance
        return abs(self.difference) <= self.tolerance


@dataclass
class Source:
    """One folder after its script has run."""

    folder: Path
    title: str
    text: str
    """``source.md``."""
    rows: list[Comparison] = field(default_factory=list)
    known_misses: dict[str, str] = field(default_factory=dict)
    """Reason by quantity of each row that is known to miss."""
    error: str = ""
    """What stopped the script; empty when it ran."""
    remarks: list[str] = field(default_factory=list)
    """What the script has to say about this run, such as a solver that is not installed."""
    script: ModuleType | None = None

    @property
    def id(self) -> str:
        return self.folder.name

    def reason(self, row: Comparison) -> str:
        """Why the row is known to miss; empty when it is not."""
        return self.known_misses.get(row.quantity, "")

    @property
    def counts(self) -> bool:
        """Whether any row has evidence above memory."""
        return any(row.evidence != "from memory" for row in self.rows)

    @property
    def unexpected(self) -> list[Comparison]:
        """Rows that miss without being named, and named ones that pass."""
        return [row for row in self.rows if row.passed == bool(self.reason(row))]


@dataclass(frozen=True)
class Subject:
    """What a set of sources speaks of."""

    name: str
    wanted: int
    """Sources wanted."""
    sources: list[str]
    note: str


@dataclass
class Report:
    """All sources of a run."""

    sources: list[Source]
    subjects: list[Subject] = field(default_factory=list)
    not_read: str = ""
    """Text of ``not_read.md``."""

    def speaking(self, subject: Subject) -> list[Source]:
        """Its sources that ran and count."""
        return [source for source in self.sources if source.id in subject.sources and source.counts]

    @property
    def rows(self) -> list[tuple[Source, Comparison]]:
        """All rows, strongest evidence first."""
        rank = list(EVIDENCE)
        pairs = [(source, row) for source in self.sources for row in source.rows]
        return sorted(pairs, key=lambda pair: rank.index(pair[1].evidence))

    @property
    def ok(self) -> bool:
        """Every script ran, and every row passed or is named as a known miss."""
        return all(not source.error and not source.unexpected for source in self.sources)

    def summary(self) -> str:
        """One line with counts."""
        rows = [row for _, row in self.rows]
        passed, known = sum(row.passed for row in rows), sum(bool(s.reason(r)) and not r.passed for s, r in self.rows)
        failed = sum(bool(source.error) for source in self.sources)
        counted = sum(source.counts for source in self.sources)
        line = (
            f"{len(self.sources)} sources, {counted} of them with evidence above memory; {len(rows)} rows: "
            f"{passed} within tolerance, {len(rows) - passed} outside ({known} of them known)"
        )
        return line + (f"; {failed} scripts did not run" if failed else "")


def find_folder(folder: str | os.PathLike[str] | None = None) -> Path:
    """The folder of sources: the one given, or ``validation`` of the source tree or the working folder.

    Raises:
        CureError: there is none.
    """
    if folder is not None:
        if not os.path.isdir(folder):
            raise input_error("folder", f'"{os.fspath(folder)}"', "a folder that exists")
        return Path(folder)
    for place in (models_folder().parent / "validation", Path("validation")):
        if place.is_dir():
            return place
    raise input_error("folder", "missing", "a validation folder; give its path, or start in the source tree")


def load_script(path: str | os.PathLike[str]) -> ModuleType:
    """A Python file as a module of its own, not importable by name.

    Raises:
        CureError: no such file.
    """
    file = Path(path)
    if not os.path.isfile(file):
        raise input_error("script", f'"{file}"', "a Python file that exists")
    name = f"libcure_validation_{file.parent.name}_{file.stem}".replace("-", "_")
    spec = importlib.util.spec_from_file_location(name, file)
    assert spec is not None and spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    # Dataclasses look their module up by name.
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


def resin_variant(base: str, changes: Mapping[str, Any]) -> _core.Resin:
    """A catalogue resin with parts of its document replaced: for laws that no catalogue model has.

    Args:
        base: id of a model of the catalogue.
        changes: keys of the document with their new values; None takes a key out. An object
            replaces the old one whole.

    Raises:
        CureError: no such model, or the changed document is refused.
    """
    document = read_object(models_folder() / "resins" / f"{base}.json")
    for key, value in changes.items():
        if value is None:
            document.pop(key, None)
        else:
            document[key] = value
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "variant.json"
        path.write_text(json.dumps(document), encoding="utf-8")
        return read_resin(path)


def sources(folder: Path) -> list[Path]:
    """Folders with a ``compare.py``, sorted."""
    return sorted(path.parent for path in folder.glob("*/compare.py"))


def known_misses(folder: Path) -> dict[str, dict[str, str]]:
    """Reasons by source and quantity, from ``known_misses.json`` of the folder of sources.

    Raises:
        CureError: an entry without reason, or of a source that is not there.
    """
    path = folder / MISSES
    if not path.is_file():
        return {}
    found: dict[str, dict[str, str]] = {}
    for i, entry in enumerate(read_object(path)["misses"]):
        for key in ("source", "quantity", "reason"):
            if not entry.get(key):
                raise input_error(f"misses[{i}].{key}", "missing", "a text", str(path))
        if not (folder / entry["source"] / "compare.py").is_file():
            raise input_error(f"misses[{i}].source", f'"{entry["source"]}"', "a folder of sources", str(path))
        found.setdefault(entry["source"], {})[entry["quantity"]] = entry["reason"]
    return found


def coverage(folder: Path) -> list[Subject]:
    """Subjects from ``coverage.json`` of the folder of sources; none without it.

    Raises:
        CureError: an entry that is not complete.
    """
    path = folder / COVERAGE
    if not path.is_file():
        return []
    subjects = []
    for i, entry in enumerate(read_object(path)["subjects"]):
        for key in ("subject", "wanted", "sources", "note"):
            if key not in entry:
                raise input_error(f"subjects[{i}].{key}", "missing", "given", str(path))
        subjects.append(Subject(entry["subject"], entry["wanted"], entry["sources"], entry["note"]))
    return subjects


def run_source(folder: Path, misses: Mapping[str, str] | None = None) -> Source:
    """Runs the script of one source; what stops it is kept in ``error``."""
    text = read_text(folder / "source.md")
    source = Source(folder, text.partition("\n")[0].lstrip("# ").strip(), text, known_misses=dict(misses or {}))
    try:
        source.script = load_script(folder / "compare.py")
        source.rows = source.script.compare()
        source.remarks = getattr(source.script, "remarks", list)()
        quantities = [row.quantity for row in source.rows]
        if len(set(quantities)) < len(quantities):
            raise input_error("quantity", "given twice", "one name a row", str(folder))
        if unknown := set(source.known_misses) - set(quantities):
            raise input_error(MISSES, f'"{min(unknown)}"', "a quantity that the source compares", str(folder))
    except Exception as error:  # a script may fail in any way, and the others must still run
        source.error = one_line(f"{type(error).__name__}: {error}")
    return source


def run(
    folder: str | os.PathLike[str] | None = None, progress: Callable[[str, int, int], None] | None = None
) -> Report:
    """Runs every source of a folder.

    Args:
        folder: with one folder a source; None takes the one of the source tree.
        progress: told the id of each source before it runs, how many have run, and how many there are.

    Raises:
        CureError: no such folder, none in it, or a bad list beside them.
    """
    place = find_folder(folder)
    found = sources(place)
    if not found:
        raise input_error("folder", f'"{place}"', "a folder with at least one */compare.py")
    misses, subjects = known_misses(place), coverage(place)
    not_read = read_text(place / NOT_READ) if (place / NOT_READ).is_file() else ""
    ran = []
    for i, path in enumerate(found):
        if progress is not None:
            progress(path.name, i, len(found))
        ran.append(run_source(path, misses.get(path.name)))
    return Report(ran, subjects, not_read)


def number(x: float) -> str:
    """A value as the report prints it."""
    return f"{x:.6g}"


def verdict(source: Source, row: Comparison) -> str:
    """A row's outcome in a word or two."""
    if row.passed:
        return "pass, though named as a miss" if source.reason(row) else "pass"
    return "miss (known)" if source.reason(row) else "MISS"


def write_report(
    folder: str | os.PathLike[str] | None,
    out: str | os.PathLike[str],
    progress: Callable[[str, int, int], None] | None = None,
) -> tuple[bool, str]:
    """Runs every source and writes ``validation.html`` and ``validation.pdf``.

    Args:
        folder, progress: as for `run`.
        out: folder for the two files; made when only its last part is missing.

    Returns:
        Whether all is as it should be, and what to say: misses, counts and the two paths.

    Raises:
        CureError: bad input, or a folder that cannot be written.
    """
    target = Path(out)
    if not os.path.isdir(target) and (os.path.exists(target) or not os.path.isdir(target.absolute().parent)):
        raise input_error("--out", f'"{out}"', "a folder, or a new one in a folder that exists")
    report = run(folder, progress)
    output_folder(target)
    page, pdf = rendering.report(report, target)
    lines = [f"{source.id} did not run: {source.error}" for source in report.sources if source.error]
    lines += [f"{source.id}: {remark}" for source in report.sources for remark in source.remarks]
    lines += [
        f"{verdict(source, row)}: {source.id}: {row.quantity}: published {number(row.published)}, "
        f"computed {number(row.computed)}, tolerance {row.tolerance:.2g} {row.unit}"
        for source, row in report.rows
        if not row.passed or source.reason(row)
    ]
    for subject in report.subjects:
        if (has := len(report.speaking(subject))) < subject.wanted:
            lines.append(f"short: {subject.name}: {has} of {subject.wanted} sources wanted")
    return report.ok, "\n".join([*lines, report.summary(), str(page), str(pdf)])
