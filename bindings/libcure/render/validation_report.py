"""The report of a comparison with published results: one HTML page with everything inside it, and one PDF."""

from __future__ import annotations

import io
import textwrap
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from libcure import _core
from libcure.documents import replacing
from libcure.errors import input_error, one_line
from libcure.render import html
from libcure.validation import EVIDENCE, Report, Row, Source, number, verdict

if TYPE_CHECKING:
    import os

    from matplotlib.figure import Figure

__all__ = ["write"]

INK, FAINT, RED, GREEN = "#222222", "#8a8a8a", "#B00020", "#006B4F"
PAGE = (11.7, 8.3)  # A4 across [inch]


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


def _title(text: str) -> str:
    return text.partition("\n")[0].lstrip("# ").strip()


ABOUT = (
    "Each tolerance comes from the source's own scatter and was set before comparing, unless the source's text says that it was not. "
    "Rows stand in the order of their evidence. Misses are red, with the reason."
)


def _ranks(report: Report) -> list[tuple[str, list[tuple[Source, Row]]]]:
    """Rows by the rank of their evidence, in words; ranks without rows left out."""
    ranks = ((meaning.capitalize(), [(s, r) for s, r in report.rows if r.evidence == rank]) for rank, meaning in EVIDENCE.items())
    return [(meaning, pairs) for meaning, pairs in ranks if pairs]


def _html(report: Report, pictures: Mapping[str, bytes]) -> str:
    return html.filled(
        "validation.html", report=report, version=_core.__version__, about=ABOUT, ranks=_ranks(report),
        pictures={name: html.picture(png) for name, png in pictures.items()}, why=_why, number=number, verdict=verdict,
        blocks=lambda text: list(_blocks(text)), title=_title, ink=INK, red=RED, green=GREEN,
    )  # fmt: skip


class _Pages:
    """Lines of text and table rows flowing over PDF pages."""

    COLUMNS = (
        ("Source", 0.04, "left", 30),
        ("Quantity", 0.215, "left", 84),
        ("Published", 0.655, "right", 0),
        ("Computed", 0.725, "right", 0),
        ("Difference", 0.795, "right", 0),
        ("Tolerance", 0.86, "right", 0),
        ("Unit", 0.87, "left", 0),
        ("", 0.925, "left", 0),
    )
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

    def blocks(self, text: str) -> None:
        """Everything below the title of a source.md."""
        for kind, part in _blocks(text):
            self.text(("- " if kind == "li" else "") + part, weight="bold" if kind == "h4" else "normal")

    def head(self) -> None:
        fig = self.room(4)
        for name, x, side, _ in self.COLUMNS:
            fig.text(x, self.y, name, size=6.5, color=FAINT, ha=side, va="top")
        self.y -= self.STEP

    def row(self, source: Source, row: Row) -> None:
        relation = {"=": "", "<=": "≤ ", ">=": "≥ "}[row.relation]
        texts = [
            row.source,
            row.quantity,
            relation + number(row.published),
            number(row.computed),
            f"{row.difference:+.2g}",
            f"{row.tolerance:.2g}",
            row.unit,
            {"pass": "pass", "miss (known)": "miss\n(known)"}.get(verdict(source, row), verdict(source, row)),
        ]
        lines = [
            textwrap.wrap(text, width) if width else text.split("\n")
            for text, (_, _, _, width) in zip(texts, self.COLUMNS, strict=True)
        ]
        lines[1] += textwrap.wrap(_why(source, row), 84)
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
        pages.text(ABOUT)
        for source in report.sources:
            if source.error:
                pages.text(f"{source.id} did not run: {source.error}", color=RED, weight="bold")
            for remark in source.remarks:
                pages.text(f"{source.id}: {remark}", weight="bold")
        if report.subjects:
            pages.y -= pages.STEP
            pages.text("What is covered", size=11, weight="bold")
        for subject in report.subjects:
            found = report.speaking(subject)
            short = len(found) < subject.wanted
            pages.text(
                f"- {subject.name}: {len(found)} sources, {subject.wanted} wanted"
                f" ({', '.join(source.id for source in found) or 'none'}). {subject.note}",
                color=RED if short else INK, weight="bold" if short else "normal",
            )  # fmt: skip
        for meaning, pairs in _ranks(report):
            pages.room(5)
            pages.y -= pages.STEP
            pages.text(meaning, size=11, weight="bold")
            pages.head()
            for source, row in pairs:
                pages.row(source, row)
        for source in report.sources:
            pages.room(1e9)
            pages.text(source.title, size=11, weight="bold")
            pages.blocks(source.text)
            pages.y -= pages.STEP
            if source.id in pictures:
                pages.picture(pictures[source.id])
        if report.not_read:
            pages.room(1e9)
            pages.text(_title(report.not_read), size=11, weight="bold")
            pages.blocks(report.not_read)
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
