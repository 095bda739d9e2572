"""The report of a comparison with published results: one HTML page with everything inside it, and one PDF."""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from libcure import _core
from libcure.documents import replacing
from libcure.errors import input_error, one_line
from libcure.render import html, plot
from libcure.render.pages import ACROSS, DIM, INK, Column, Pages
from libcure.validation import EVIDENCE, Comparison, Report, Source, number, verdict

if TYPE_CHECKING:
    import os

__all__ = ["write"]

RED, GREEN = "#B00020", "#006B4F"
MARGIN, POINTS = 12.0, 8.0
PICTURE = 98.0  # most height [mm]
TITLE = "libcure against published results"


def _why(source: Source, row: Comparison) -> str:
    return " ".join(part for part in (source.reason(row), row.note) if part)


def _picture(source: Source) -> bytes | None:
    """The figure of a source as PNG, drawn once for both reports; None when it draws none."""
    draw = getattr(source.script, "figure", None)
    if draw is None or source.error:
        return None
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


def _title(text: str) -> str:
    return text.partition("\n")[0].lstrip("# ").strip()


ABOUT = (
    "Each tolerance comes from the source's own scatter and was set before comparing, unless the source's text says that it was not. "
    "Rows stand in the order of their evidence. Misses are red, with the reason."
)


def _ranks(report: Report) -> list[tuple[str, list[tuple[Source, Comparison]]]]:
    """Rows by the rank of their evidence, in words; ranks without rows left out."""
    ranks = ((meaning.capitalize(), [(s, r) for s, r in report.rows if r.evidence == rank]) for rank, meaning in EVIDENCE.items())
    return [(meaning, pairs) for meaning, pairs in ranks if pairs]


def _html(report: Report, pictures: Mapping[str, bytes]) -> str:
    return html.filled(
        "validation.html", report=report, heading=TITLE, version=_core.__version__, about=ABOUT, ranks=_ranks(report),
        pictures={name: html.picture(png) for name, png in pictures.items()}, why=_why, number=number, verdict=verdict,
        blocks=lambda text: list(_blocks(text)), title=_title, ink=INK, red=RED, green=GREEN,
    )  # fmt: skip


COLUMNS = (
    Column(0.0, 50.0),
    Column(52.0, 112.0),
    Column(182.0, 18.0, right=True),
    Column(202.5, 20.0, right=True),
    Column(223.0, 20.0, right=True),
    Column(242.5, 19.0, right=True),
    Column(245.5, 14.0),
    Column(260.5, 11.0),
)
HEAD = ("Source", "Quantity", "Published", "Computed", "Difference", "Tolerance", "Unit", "")
SMALL = 6.5  # points, of the rows


def _row(pages: Pages, source: Source, row: Comparison) -> None:
    relation = {"=": "", "<=": "≤ ", ">=": "≥ "}[row.relation]
    why = _why(source, row)
    cells = (
        row.source, f"{row.quantity}\n{why}" if why else row.quantity, relation + number(row.published), number(row.computed),
        f"{row.difference:+.2g}", f"{row.tolerance:.2g}", row.unit, verdict(source, row),
    )  # fmt: skip
    pages.row(COLUMNS, cells, SMALL, INK if row.passed else RED, head=HEAD)


def _blocks_on(pages: Pages, text: str) -> None:
    """Everything below the title of a source.md."""
    for kind, part in _blocks(text):
        pages.line(part, bold=kind == "h4", bullet="-" if kind == "li" else "")


def _first_pages(pages: Pages, report: Report) -> None:
    """What ran, and what is covered."""
    pages.line(TITLE, 16.0, bold=True, gap=2.0)
    pages.line(f"libcure {_core.__version__}. {report.summary()}.")
    pages.line(ABOUT)
    for source in report.sources:
        if source.error:
            pages.line(f"{source.id} did not run: {source.error}", color=RED, bold=True)
        for remark in source.remarks:
            pages.line(f"{source.id}: {remark}", bold=True)
    if report.subjects:
        pages.heading("What is covered")
    for subject in report.subjects:
        found = report.speaking(subject)
        short = len(found) < subject.wanted
        names = ", ".join(source.id for source in found) or "none"
        words = f"{subject.name}: {len(found)} sources, {subject.wanted} wanted ({names}). {subject.note}"
        pages.line(words, color=RED if short else INK, bold=short, bullet="-")


def _write_pdf(report: Report, pictures: Mapping[str, bytes], path: Path) -> None:
    with plot.style():
        pages = Pages(ACROSS, MARGIN, POINTS)
        _first_pages(pages, report)
        for meaning, pairs in _ranks(report):
            pages.room(20.0)
            pages.heading(meaning)
            pages.row(COLUMNS, HEAD, SMALL, DIM)
            for source, row in pairs:
                _row(pages, source, row)
        for source in report.sources:
            pages.turn()
            pages.line(source.title, 11.0, bold=True, gap=1.0)
            _blocks_on(pages, source.text)
            if source.id in pictures:
                pages.picture(pictures[source.id], PICTURE)
        if report.not_read:
            pages.turn()
            pages.line(_title(report.not_read), 11.0, bold=True, gap=1.0)
            _blocks_on(pages, report.not_read)
        pages.foot("libcure: validation")
        pages.save(path, "libcure: validation")


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
