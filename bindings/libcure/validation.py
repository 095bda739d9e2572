"""Checks libcure against published results, and writes the report.

A source is a folder of ``validation/``: ``source.md`` (its first line is the title), data as CSV
with units in the header, and ``compare.py`` with ``compare() -> list[Comparison]`` and, if it likes,
``figure(fig) -> None``.

    libcure validate --out build

Beside the folders may stand ``known_misses.json`` (rows that miss, with the reason), ``coverage.json``
(what users rely on, and what else is checked by which sources) and ``not_read.md`` (what was wanted and could not
be read). A folder with ``prediction.json`` and no ``compare.py`` is a prediction that waits for its data.

Scores are quantile scores (T. Gneiting, A.E. Raftery, J. Am. Stat. Assoc. 102, 2007, 359; from memory): proper, so
that no band but the honest one has the lowest expected score.
"""

from __future__ import annotations

import importlib.util
import itertools
import json
import math
import os
import statistics
import sys
import tempfile
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import Any, Literal

import numpy as np

from libcure import _core, rendering
from libcure.documents import model_file, models_folder, output_folder, read_object, read_text
from libcure.errors import input_error, one_line
from libcure.models import read_resin

__all__ = [
    "EVIDENCE",
    "Band",
    "Calibration",
    "Comparison",
    "Evidence",
    "Report",
    "Source",
    "Subject",
    "calibration",
    "find_folder",
    "load_script",
    "normal_band",
    "number",
    "resin_variant",
    "run",
    "run_source",
    "sampled_band",
    "score",
    "sources",
    "verdict",
    "write_report",
]

Evidence = Literal[
    "measured", "another material", "calibration", "published model", "closed form", "two codes", "self-check", "from memory"
]

EVIDENCE: dict[Evidence, str] = {
    "measured": "measured, and independent of what was put in",
    "another material": "measured, but on another material than the model stands for or in a set-up that had to be guessed: validates no resin",
    "calibration": "measured, but used for calibration, or echoing what was put in",
    "published model": "published model or rule reproduced, its authors' own numbers",
    "closed form": "closed form or certified value",
    "two codes": "agreement of two codes, or of the library and arithmetic from the same constants",
    "self-check": "this project's own files against themselves; counts for nothing",
    "from memory": "from memory or calibrated; counts for nothing by itself",
}
"""Ranks of evidence, strongest first, with what each means."""

COUNTED = tuple(EVIDENCE)[:6]
LEVELS = (0.05, 0.25, 0.5, 0.75, 0.95)
ORDER = "Order: "
FIRST = "tolerances first"

Band = tuple[float, float, float, float, float]
"""What is foretold, as its 5, 25, 50, 75 and 95 % quantiles, error of the measurement included."""

MISSES, COVERAGE, NOT_READ, PREDICTION = "known_misses.json", "coverage.json", "not_read.md", "prediction.json"


def normal_band(mean: float, sd: float) -> Band:
    """Quantiles of a normal distribution."""
    return tuple(statistics.NormalDist(mean, sd).inv_cdf(p) for p in LEVELS)  # type: ignore[return-value]


def sampled_band(values: Any) -> Band:
    """Quantiles of samples; what never happens is infinite."""
    return tuple(float(q) for q in np.quantile(np.asarray(values, float), LEVELS))  # type: ignore[return-value]


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
    subject: str = ""
    """Which of the subjects that users rely on (``coverage.json``) it speaks of."""
    band: Band | None = None
    blind: bool = False
    """The band was committed before the data were looked for."""

    def __post_init__(self) -> None:
        if self.evidence not in EVIDENCE:
            raise input_error("evidence", f'"{self.evidence}"', f"one of {', '.join(EVIDENCE)}")
        if not self.tolerance >= 0.0:
            raise input_error("tolerance", str(self.tolerance), f"0 or more (row {self.quantity})")
        if self.relation not in ("=", "<=", ">="):
            raise input_error("relation", f'"{self.relation}"', "one of =, <=, >=")
        if self.band is not None and not all(a <= b for a, b in itertools.pairwise(self.band)):
            raise input_error("band", str(self.band), f"five rising quantiles (row {self.quantity})")

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
        """Whether any row has evidence that counts."""
        return any(row.evidence in COUNTED for row in self.rows)

    @property
    def order(self) -> str:
        """What its text says of when its tolerances were set; empty when it says nothing."""
        return next((x.removeprefix(ORDER) for x in self.text.splitlines() if x.startswith(ORDER)), "")

    @property
    def unexpected(self) -> list[Comparison]:
        """Rows that miss without being named, and named ones that pass."""
        return [row for row in self.rows if row.passed == bool(self.reason(row))]


@dataclass(frozen=True)
class Subject:
    """What users rely on (judged by rows that name it), or what else a set of sources speaks of."""

    name: str
    sources: list[str] | None
    """None: a subject of users."""
    note: str


@dataclass(frozen=True)
class Calibration:
    """How the stated bands of rows held."""

    rows: int
    half: float
    """Share inside the 50 % bands."""
    ninety: float
    score: float
    """Mean quantile score, each in tolerances."""
    twice: float
    """The same with bands twice as wide: lower when the bands are too narrow."""


def score(published: float, band: Band) -> float:
    """Quantile score of a band, in the unit of the row; 0 is perfect."""
    losses = [((published < q) - p) * (q - published) for p, q in zip(LEVELS, band, strict=True)]
    return 2.0 * math.fsum(losses) / len(losses)


def calibration(rows: Iterable[Comparison]) -> Calibration | None:
    """Of the rows that state a finite band, a tolerance and a measured value; None without any."""
    banded = [(r.published, r.band, r.tolerance) for r in rows if r.band and r.relation == "=" and r.tolerance > 0]
    banded = [x for x in banded if all(map(math.isfinite, (x[0], *x[1])))]
    if not banded:
        return None
    wide = [(y, tuple(b[2] + 2.0 * (q - b[2]) for q in b), t) for y, b, t in banded]
    n = len(banded)
    return Calibration(
        n, sum(b[1] <= y <= b[3] for y, b, _ in banded) / n, sum(b[0] <= y <= b[4] for y, b, _ in banded) / n,
        math.fsum(score(y, b) / t for y, b, t in banded) / n,
        math.fsum(score(y, b) / t for y, b, t in wide) / n,  # type: ignore[arg-type]
    )  # fmt: skip


@dataclass
class Report:
    """All sources of a run."""

    sources: list[Source]
    subjects: list[Subject] = field(default_factory=list)
    not_read: str = ""
    """Text of ``not_read.md``."""
    waiting: list[str] = field(default_factory=list)
    """Titles of the predictions that wait for data."""

    def speaking(self, subject: Subject) -> list[Source]:
        """Its sources that ran and count."""
        return [source for source in self.sources if source.id in (subject.sources or []) and source.counts]

    def measured(self, subject: str | None = None, evidence: Evidence = "measured") -> list[Comparison]:
        """Rows measured (on another material, ...), of one subject or of all."""
        return [r for _, r in self.rows if r.evidence == evidence and subject in (None, r.subject)]

    @property
    def uncovered(self) -> list[str]:
        """What users rely on and no independent measurement speaks of."""
        return [s.name for s in self.subjects if s.sources is None and not self.measured(s.name)]

    @property
    def banded(self) -> list[Comparison]:
        """Rows against measurements that state a band."""
        return [r for _, r in self.rows if r.band and r.evidence in ("measured", "another material")]

    @property
    def ordered(self) -> int:
        """Sources whose tolerances were committed before the comparison."""
        return sum(source.order == FIRST for source in self.sources)

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

    def headline(self) -> str:
        """How much of this is measured and independent, and what is not."""
        own, other = self.measured(), self.measured(evidence="another material")
        folders = len({s.id for s, r in self.rows if r.evidence == "measured"})
        line = (
            f"{len(own)} independent measured rows from {folders} sources, {sum(r.passed for r in own)} within tolerance; "
            f"{len(other)} measured on other materials, {sum(r.passed for r in other)} within tolerance"
        )
        none = ", ".join(self.uncovered)
        return line + (f". No independent measurement for: {none}" if none else "")

    def summary(self) -> str:
        """Counts, the measured ones first."""
        rows = [(s, r) for s, r in self.rows if r.evidence in COUNTED]
        passed, known = sum(r.passed for _, r in rows), sum(bool(s.reason(r)) and not r.passed for s, r in rows)
        failed = sum(bool(source.error) for source in self.sources)
        counted = sum(source.counts for source in self.sources)
        line = (
            f"{self.headline()}. {len(self.sources)} sources, {counted} of them with evidence that counts; {len(rows)} rows count: "
            f"{passed} within tolerance, {len(rows) - passed} outside ({known} of them known). "
            f"Tolerances were committed before the comparison in {self.ordered} sources; the others have no such proof"
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
    document = read_object(model_file("resins", base))
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
    document = read_object(path)
    for key, needed in (("relied_on", ("subject", "note")), ("subjects", ("subject", "sources", "note"))):
        for i, entry in enumerate(document.get(key, [])):
            for name in needed:
                if name not in entry:
                    raise input_error(f"{key}[{i}].{name}", "missing", "given", str(path))
            subjects.append(Subject(entry["subject"], entry.get("sources"), entry["note"]))
    return subjects


def waiting(folder: Path) -> list[str]:
    """Titles of folders with a prediction and no data yet, sorted by folder."""
    found = sorted(p.parent for p in folder.glob(f"*/{PREDICTION}") if not (p.parent / "compare.py").is_file())
    return [title(read_text(path / "source.md")) for path in found]


def title(text: str) -> str:
    """The first line of a text in Markdown."""
    return text.partition("\n")[0].lstrip("# ").strip()


def run_source(folder: Path, misses: Mapping[str, str] | None = None) -> Source:
    """Runs the script of one source; what stops it is kept in ``error``."""
    text = read_text(folder / "source.md")
    source = Source(folder, title(text), text, known_misses=dict(misses or {}))
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
    known = {subject.name for subject in subjects if subject.sources is None}
    for source in ran:
        for row in source.rows:
            if row.subject and row.subject not in known:
                raise input_error(f"subject of row {row.quantity}", f'"{row.subject}"', f"one of {COVERAGE}", str(source.folder))
    return Report(ran, subjects, not_read, waiting(place))


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
    lines += [f"waits for data: {name}" for name in report.waiting]
    return report.ok, "\n".join([*lines, report.summary(), str(page), str(pdf)])
