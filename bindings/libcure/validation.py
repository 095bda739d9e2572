"""Checks libcure against published results, and writes the report.

A source is a folder of ``validation/``: ``source.md`` (its first line is the title), data as CSV
with units in the header, and ``compare.py`` with ``compare() -> list[Row]`` and, if it likes,
``figure(fig) -> None``.

    python -m libcure.validation --out build
"""

from __future__ import annotations

import argparse
import base64
import html
import importlib.util
import io
import json
import math
import os
import sys
import tempfile
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any, Literal

from libcure import _core
from libcure.documents import models_folder, read_object, read_text, replacing
from libcure.errors import CureError, input_error, one_line
from libcure.models import read_resin

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["EVIDENCE", "Evidence", "Report", "Row", "Source", "find_folder", "load_script", "resin_variant", "run",
           "run_source", "sources", "write"]

Evidence = Literal["measured", "published model", "closed form", "two codes", "from memory"]

EVIDENCE: dict[Evidence, str] = {
    "measured": "measured and published",
    "published model": "published model, constants as transcribed",
    "closed form": "closed form or certified value",
    "two codes": "agreement of two codes",
    "from memory": "from memory or calibrated; counts for nothing by itself",
}
"""Ranks of evidence, strongest first, with what each means."""

MISSES = "known_misses.json"


@dataclass(frozen=True)
class Row:
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
    rows: list[Row] = field(default_factory=list)
    known_misses: dict[str, str] = field(default_factory=dict)
    """Reason by quantity of each row that is known to miss."""
    error: str = ""
    """What stopped the script; empty when it ran."""
    script: ModuleType | None = None

    @property
    def id(self) -> str:
        return self.folder.name

    def reason(self, row: Row) -> str:
        """Why the row is known to miss; empty when it is not."""
        return self.known_misses.get(row.quantity, "")

    @property
    def unexpected(self) -> list[Row]:
        """Rows that miss without being named, and named ones that pass."""
        return [row for row in self.rows if row.passed == bool(self.reason(row))]


@dataclass
class Report:
    """All sources of a run."""

    sources: list[Source]

    @property
    def rows(self) -> list[tuple[Source, Row]]:
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
        counted = sum(any(row.evidence != "from memory" for row in source.rows) for source in self.sources)
        line = (f"{len(self.sources)} sources, {counted} of them with evidence above memory; {len(rows)} rows: "
                f"{passed} within tolerance, {len(rows) - passed} outside ({known} of them known)")
        return line + (f"; {failed} scripts did not run" if failed else "")


def find_folder(folder: str | os.PathLike[str] | None = None) -> Path:
    """The folder of sources: the one given, or ``validation`` of the source tree or the working folder.

    Raises:
        CureError: there is none.
    """
    if folder is not None:
        if not Path(folder).is_dir():
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
    if not file.is_file():
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


def run_source(folder: Path, misses: Mapping[str, str] | None = None) -> Source:
    """Runs the script of one source; what stops it is kept in ``error``."""
    text = read_text(folder / "source.md")
    source = Source(folder, text.partition("\n")[0].lstrip("# ").strip(), text, known_misses=dict(misses or {}))
    try:
        source.script = load_script(folder / "compare.py")
        source.rows = source.script.compare()
        quantities = [row.quantity for row in source.rows]
        if len(set(quantities)) < len(quantities):
            raise input_error("quantity", "given twice", "one name a row", str(folder))
        if unknown := set(source.known_misses) - set(quantities):
            raise input_error(MISSES, f'"{min(unknown)}"', "a quantity that the source compares", str(folder))
    except Exception as error:  # a script may fail in any way, and the others must still run
        source.error = one_line(f"{type(error).__name__}: {error}")
    return source


def run(folder: str | os.PathLike[str] | None = None) -> Report:
    """Runs every source of a folder.

    Args:
        folder: with one folder a source; None takes the one of the source tree.

    Raises:
        CureError: no such folder, none in it, or a bad list of known misses.
    """
    place = find_folder(folder)
    found = sources(place)
    if not found:
        raise input_error("folder", f'"{place}"', "a folder with at least one */compare.py")
    misses = known_misses(place)
    return Report([run_source(path, misses.get(path.name)) for path in found])


# --- the report -------------------------------------------------------------------------------------------------------

INK, FAINT, RED, GREEN = "#222222", "#8a8a8a", "#B00020", "#006B4F"
PAGE = (11.7, 8.3)  # A4 across [inch]


def _number(x: float) -> str:
    return f"{x:.6g}"


def _verdict(source: Source, row: Row) -> str:
    if row.passed:
        return "pass, though named as a miss" if source.reason(row) else "pass"
    return "miss (known)" if source.reason(row) else "MISS"


def _why(source: Source, row: Row) -> str:
    return " ".join(part for part in (source.reason(row), row.note) if part)


def _picture(source: Source) -> bytes | None:
    """The figure of a source as PNG, drawn once for both reports; None when it draws none."""
    draw = getattr(source.script, "figure", None)
    if draw is None or source.error:
        return None
    from matplotlib.figure import Figure

    fig = Figure(figsize=(7.6, 4.0), layout="constrained")
    buffer = io.BytesIO()
    try:
        draw(fig)
        fig.savefig(buffer, format="png", dpi=140, metadata={"Software": None})
    except Exception as error:  # as in run_source
        source.error = one_line(f"figure: {type(error).__name__}: {error}")
        return None
    return buffer.getvalue()


def _blocks(text: str) -> Iterator[tuple[str, str]]:
    """Paragraphs, list items and headings of a source.md."""
    paragraph: list[str] = []
    kind = "p"
    for line in [*text.splitlines()[1:], ""]:
        starts = line.startswith(("- ", "## "))
        if paragraph and (starts or not line.strip()):
            yield kind, " ".join(paragraph)
            paragraph, kind = [], "p"
        if starts:
            kind = "li" if line.startswith("- ") else "h4"
        if line.strip():
            paragraph.append(line.removeprefix("- ").removeprefix("## ").strip())


STYLE = f"""
body {{ font: 15px/1.45 "DejaVu Sans", Verdana, sans-serif; color: {INK}; max-width: 76em; margin: 2em auto; padding: 0 1em }}
h1, h2, h3 {{ line-height: 1.2 }} h3 {{ margin-top: 2.5em; border-top: 1px solid #ccc; padding-top: 1em }}
table {{ border-collapse: collapse; font-size: 13px; width: 100% }}
th, td {{ text-align: left; vertical-align: top; padding: .25em .6em; border-bottom: 1px solid #ddd }}
th {{ position: sticky; top: 0; background: white }} .n {{ text-align: right; white-space: nowrap }}
.miss, .miss a {{ color: {RED}; font-weight: bold }} .pass {{ color: {GREEN} }} .why {{ font-weight: normal }}
img {{ max-width: 100% }} .text {{ max-width: 50em }}
"""


def _cells(source: Source, row: Row, link: bool) -> str:
    relation = {"=": "", "<=": "at most ", ">=": "at least "}[row.relation]
    why = html.escape(_why(source, row))
    name = html.escape(row.source)
    first = f'<td><a href="#{source.id}">{name}</a></td>' if link else ""
    return (
        f'<tr class="{"" if row.passed else "miss"}">{first}<td>{html.escape(row.quantity)}'
        + (f'<br><span class="why">{why}</span>' if why and not row.passed else "")
        + f'</td><td class="n">{relation}{_number(row.published)}</td><td class="n">{_number(row.computed)}</td>'
        f'<td class="n">{row.difference:+.2g}</td><td class="n">{row.tolerance:.2g}</td>'
        f"<td>{html.escape(row.unit)}</td>"
        f'<td class="{"pass" if row.passed else "miss"}">{_verdict(source, row)}</td></tr>'
    )


def _head(link: bool) -> str:
    first = "<th>Source</th>" if link else ""
    return (f'<tr>{first}<th>Quantity</th><th class="n">Published</th><th class="n">Computed</th>'
            '<th class="n">Difference</th><th class="n">Tolerance</th><th>Unit</th><th></th></tr>')


def _html(report: Report, pictures: Mapping[str, bytes]) -> str:
    out = [f'<!doctype html><html lang="en"><head><meta charset="utf-8"><title>libcure: validation</title>'
           f"<style>{STYLE}</style></head><body><h1>libcure against published results</h1>",
           f"<p>libcure {_core.__version__}. {html.escape(report.summary())}.</p>",
           "<p>Each tolerance comes from the source's own scatter and was set before comparing. Rows stand in the "
           "order of their evidence. Misses are red, with the reason.</p>"]
    for source in report.sources:
        if source.error:
            out.append(f'<p class="miss">{html.escape(source.id)} did not run: {html.escape(source.error)}</p>')
    for evidence, meaning in EVIDENCE.items():
        pairs = [(s, r) for s, r in report.rows if r.evidence == evidence]
        if pairs:
            out.append(f"<h2>{html.escape(meaning.capitalize())}</h2><table>{_head(True)}")
            out += [_cells(source, row, True) for source, row in pairs]
            out.append("</table>")
    out.append("<h2>Sources</h2>")
    for source in report.sources:
        out.append(f'<h3 id="{source.id}">{html.escape(source.title)}</h3><div class="text">')
        items = list(_blocks(source.text))
        for i, (kind, text) in enumerate(items):
            before = items[i - 1][0] if i else ""
            after = items[i + 1][0] if i + 1 < len(items) else ""
            out.append("<ul>" if kind == "li" and before != "li" else "")
            out.append(f"<{kind}>{html.escape(text)}</{kind}>")
            out.append("</ul>" if kind == "li" and after != "li" else "")
        out.append("</div>")
        if source.id in pictures:
            data = base64.b64encode(pictures[source.id]).decode("ascii")
            out.append(f'<img alt="{html.escape(source.title)}" src="data:image/png;base64,{data}">')
        if source.rows:
            out.append(f"<table>{_head(False)}")
            out += [_cells(source, row, False) for row in source.rows]
            out.append("</table>")
    out.append("</body></html>")
    return "\n".join(part for part in out if part) + "\n"


class _Pages:
    """Lines of text and table rows flowing over PDF pages."""

    COLUMNS = (("Source", 0.04, "left", 30), ("Quantity", 0.215, "left", 84), ("Published", 0.655, "right", 0),
               ("Computed", 0.725, "right", 0), ("Difference", 0.795, "right", 0), ("Tolerance", 0.86, "right", 0),
               ("Unit", 0.87, "left", 0), ("", 0.925, "left", 0))
    STEP = 0.0185  # of the page's height

    def __init__(self, pdf: Any) -> None:
        self.pdf, self.page, self.y = pdf, 0, 0.0
        self.fig: Figure | None = None

    def _new(self) -> Figure:
        from matplotlib.figure import Figure

        self.finish()
        self.fig, self.y = Figure(figsize=PAGE), 0.94
        self.page += 1
        self.fig.text(0.96, 0.03, str(self.page), size=7, color=FAINT, ha="right")
        self.fig.text(0.04, 0.03, "libcure: validation", size=7, color=FAINT)
        return self.fig

    def room(self, lines: float) -> Figure:
        """The page, a new one when fewer than `lines` are left on it."""
        if self.fig is None or self.y - lines * self.STEP < 0.06:
            return self._new()
        return self.fig

    def text(self, text: str, size: float = 8.0, color: str = INK, weight: str = "normal", width: int = 165) -> None:
        for line in textwrap.wrap(text, round(width * 8.0 / size)) or [""]:
            self.room(size / 8.0).text(0.04, self.y, line, size=size, color=color, weight=weight, va="top")
            self.y -= self.STEP * size / 7.0

    def head(self) -> None:
        fig = self.room(4)
        for name, x, side, _ in self.COLUMNS:
            fig.text(x, self.y, name, size=6.5, color=FAINT, ha=side, va="top")
        self.y -= self.STEP

    def row(self, source: Source, row: Row) -> None:
        relation = {"=": "", "<=": "≤ ", ">=": "≥ "}[row.relation]
        texts = [row.source, row.quantity, relation + _number(row.published), _number(row.computed),
                 f"{row.difference:+.2g}", f"{row.tolerance:.2g}", row.unit,
                 {"pass": "pass", "miss (known)": "miss\n(known)"}.get(_verdict(source, row), _verdict(source, row))]
        lines = [textwrap.wrap(text, width) if width else text.split("\n")
                 for text, (_, _, _, width) in zip(texts, self.COLUMNS, strict=True)]
        why = _why(source, row) if not row.passed else ""
        if why:
            lines[1] += textwrap.wrap(why, 84)
        tall = max(len(cell) for cell in lines)
        before = self.page
        fig = self.room(tall)
        if self.page != before:
            self.head()
            fig = self.room(tall)
        color = INK if row.passed else RED
        for cell, (_, x, side, _) in zip(lines, self.COLUMNS, strict=True):
            for i, line in enumerate(cell):
                fig.text(x, self.y - i * self.STEP * 0.85, line, size=6.5, color=color, ha=side, va="top")
        self.y -= self.STEP * (0.85 * tall + 0.15)

    def picture(self, png: bytes) -> None:
        """A picture in the flow of the text."""
        import matplotlib.image

        pixels = matplotlib.image.imread(io.BytesIO(png))
        height = 0.47
        page = self.room(height / self.STEP)
        width = height * PAGE[1] / PAGE[0] * pixels.shape[1] / pixels.shape[0]
        axes = page.add_axes((0.04, self.y - height, width, height))
        axes.imshow(pixels, interpolation="none")
        axes.axis("off")
        self.y -= height + self.STEP

    def finish(self) -> None:
        if self.fig is not None:
            self.pdf.savefig(self.fig)
        self.fig = None


def _write_pdf(report: Report, pictures: Mapping[str, bytes], path: Path) -> None:
    from matplotlib.backends.backend_pdf import PdfPages

    with PdfPages(path, metadata={"Title": "libcure: validation", "CreationDate": None}) as pdf:
        pages = _Pages(pdf)
        pages.text("libcure against published results", size=16, weight="bold")
        pages.text(f"libcure {_core.__version__}. {report.summary()}.")
        pages.text("Each tolerance comes from the source's own scatter and was set before comparing. Rows stand in the "
                   "order of their evidence. Misses are red, with the reason.")
        for source in report.sources:
            if source.error:
                pages.text(f"{source.id} did not run: {source.error}", color=RED, weight="bold")
        for evidence, meaning in EVIDENCE.items():
            pairs = [(s, r) for s, r in report.rows if r.evidence == evidence]
            if pairs:
                pages.room(5)
                pages.y -= pages.STEP
                pages.text(meaning.capitalize(), size=11, weight="bold")
                pages.head()
                for source, row in pairs:
                    pages.row(source, row)
        for source in report.sources:
            pages.room(1e9)
            pages.text(source.title, size=11, weight="bold")
            for kind, text in _blocks(source.text):
                pages.text(("- " if kind == "li" else "") + text, weight="bold" if kind == "h4" else "normal")
            pages.y -= pages.STEP
            if source.id in pictures:
                pages.picture(pictures[source.id])
        pages.finish()


def write(report: Report, out: str | os.PathLike[str]) -> tuple[Path, Path]:
    """Writes ``validation.html`` (with everything inside it) and ``validation.pdf``.

    Args:
        report: of `run`.
        out: folder that exists.

    Returns:
        The paths of the two files.

    Raises:
        CureError: the folder does not exist or cannot be written.
    """
    folder = Path(out)
    if not folder.is_dir():
        raise input_error("--out", f'"{folder}"', "a folder that exists")
    pictures = {source.id: png for source in report.sources if (png := _picture(source)) is not None}
    page, pdf = folder / "validation.html", folder / "validation.pdf"
    with replacing(page) as temporary:
        temporary.write_text(_html(report, pictures), encoding="utf-8")
    with replacing(pdf) as temporary:
        _write_pdf(report, pictures, temporary)
    return page, pdf


def main(arguments: Sequence[str] | None = None) -> int:
    """Command line. Returns 0 when all is as it should be, 1 after an unexpected miss, 2 after bad input."""
    parser = argparse.ArgumentParser(prog="python -m libcure.validation", description="Check libcure against published results.")
    parser.add_argument("folder", nargs="?", help="folder of sources; the one of the source tree by default")
    parser.add_argument("--out", required=True, help="folder for validation.html and validation.pdf")
    options = parser.parse_args(arguments)
    try:
        if not Path(options.out).is_dir():
            raise input_error("--out", f'"{options.out}"', "a folder that exists")
        report = run(options.folder)
        page, pdf = write(report, options.out)
    except CureError as error:
        print(one_line(str(error)), file=sys.stderr)
        return 2
    for source in report.sources:
        if source.error:
            print(f"{source.id} did not run: {source.error}")
    for source, row in report.rows:
        if not row.passed or source.reason(row):
            print(f"{_verdict(source, row)}: {source.id}: {row.quantity}: published {_number(row.published)}, "
                  f"computed {_number(row.computed)}, tolerance {row.tolerance:.2g} {row.unit}")
    print(f"{report.summary()}\n{page}\n{pdf}")
    return 0 if report.ok else 1


if __name__ == "__main__":
    sys.exit(main())
