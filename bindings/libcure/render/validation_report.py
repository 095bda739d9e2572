"""The report of a comparison with published results: one HTML page with everything inside it, and one PDF."""

from __future__ import annotations

import io
import math
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from matplotlib.figure import Figure

from libcure import _core
from libcure.documents import replacing
from libcure.errors import input_error, one_line
from libcure.render import html, plot
from libcure.render.pages import INK, Column, Pages
from libcure.validation import COUNTED, EVIDENCE, Comparison, Report, Source, calibration, number, title, verdict

if TYPE_CHECKING:
    import os

__all__ = ["write"]

RED, GREEN = "#B00020", "#006B4F"
NARROW = (108.0, 192.0)  # mm: fills the screen of a phone, so that 8 points can be read on it
MARGIN, POINTS = 6.0, 8.0
PICTURE = 130.0  # most height [mm]
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


ABOUT = (
    "Each tolerance comes from the source's own scatter. Only where a source's text says \"Order: tolerances first\" does the project's "
    "history show that they were committed before the comparison. Sources stand in the order of their evidence. Misses are red, with the reason."
)


FOR_YOU = (
    "What that means: the heat conduction, the ground and the arithmetic are well held. Of the cure of a resin in the cold little is measured "
    "independently: rely on the stated ranges, on cups of your own batch, and on a probe in the job."
)


def _bands(report: Report) -> str:
    """How stated bands held, in words."""
    rows = report.banded
    words = []
    for name, some in (
        ("All rows that state a band", rows),
        ("independent", [r for r in rows if r.evidence == "measured"]),
        ("on other materials", [r for r in rows if r.evidence == "another material"]),
        ("band committed before the data were looked for", [r for r in rows if r.blind]),
    ):
        if (c := calibration(some)) is not None:
            words.append(
                f"{name}: {c.rows}, of them {100 * c.half:.0f} % inside their 50 % band and {100 * c.ninety:.0f} % inside their 90 % band; "
                f"quantile score {c.score:.2f} tolerances ({c.twice:.2f} with bands twice as wide; less is better)"
            )
    return ". ".join(words) + "." if words else ""


def _places(rows: Sequence[Comparison]) -> list[tuple[Comparison, float]]:
    """Where each measured value stands in its band: 0 at the middle, -1 and 1 at the ends of the 90 % band."""
    found = []
    for row in rows:
        assert row.band is not None
        low, _, middle, _, high = row.band
        width = (high - middle) if row.published >= middle else (middle - low)
        if math.isfinite(width) and width > 0:
            found.append((row, (row.published - middle) / width))
    return found


def _in_bands(report: Report, *, named: bool) -> bytes | None:
    """Picture of where measured values stand in the bands foretold; None without any.

    Args:
        named: a line for each with its name; else two lines of points, as the summary has them.
    """
    places = sorted(_places(report.banded), key=lambda pair: pair[1])
    if not places:
        return None
    kinds = ("measured", "another material")
    count = len(places) if named else 2
    fig = Figure(figsize=(3.8, 0.8 + (0.16 if named else 0.34) * count), layout="constrained")
    ax = fig.subplots()
    ax.axvspan(-1, 1, color="0.93")
    ax.axvspan(-0.41, 0.41, color="0.85")
    for i, (row, x) in enumerate(places):
        y = i if named else 1.0 - kinds.index(row.evidence) + 0.22 * math.sin(2.4 * i)  # spread, so that none hides another
        ax.plot(min(max(x, -3.2), 3.2), y, "s" if row.blind else "o", ms=4, color=INK if abs(x) <= 1 else RED,
                mfc="none" if row.evidence == "another material" else None)  # fmt: skip
    ax.set(xlim=(-3.4, 3.4), yticks=range(count), ylim=(-0.6, count - 0.4))
    ax.tick_params(axis="x", labelsize=7)
    ax.set_xlabel("Place in its band: grey 50 and 90 %, open another material, square blind", fontsize=7, x=0.0 if named else 0.4)
    names = [textwrap.shorten(row.quantity, 34, placeholder=" ...") for row, _ in places] if named else ["other material", "independent"]
    ax.set_yticklabels(names, fontsize=6.5 if named else 7.5)
    buffer = io.BytesIO()
    fig.savefig(buffer, format="png", dpi=200, metadata={"Software": None})
    return buffer.getvalue()


def _facts(report: Report) -> list[tuple[str, str, bool]]:
    """The summary in lines: what, how many, and whether that is good."""
    counted = [(s, r) for s, r in report.rows if r.evidence in COUNTED]
    missed = [(s, r) for s, r in counted if not r.passed]
    known = sum(bool(s.reason(r)) for s, r in missed)
    own, other = report.measured(), report.measured(evidence="another material")
    facts = [("Measured and independent", _counted(own), all(r.passed for r in own)),
             ("Measured on other materials", _counted(other), all(r.passed for r in other)),
             ("All rows that count", f"{len(counted)} rows, {len(missed)} miss ({known} of them known)", len(missed) == known)]
    for words, rows in (("Independent, inside 90 % bands", own), ("Other materials, inside 90 % bands", other)):
        if (c := calibration([r for r in rows if r.band])) is not None:
            facts.append((words, f"{100 * c.ninety:.0f} % of {c.rows}", c.ninety >= 0.8))
    if failed := sum(bool(source.error) for source in report.sources):
        facts.append(("Scripts that did not run", str(failed), False))
    return facts


def _relied(report: Report) -> list[tuple[str, str, str, bool]]:
    """What users rely on: subject, rows independent and on other materials, and whether any is independent."""
    found = []
    for subject in report.subjects:
        if subject.sources is None:
            own, other = report.measured(subject.name), report.measured(subject.name, "another material")
            found.append((subject.name, _share(own), _share(other), bool(own)))
    return found


def _share(rows: Sequence[Comparison]) -> str:
    return f"{sum(row.passed for row in rows)} of {len(rows)}" if rows else "none"


def _ranks(report: Report) -> list[tuple[str, list[tuple[Source, Comparison]]]]:
    """Rows by the rank of their evidence, in words; ranks without rows left out."""
    ranks = ((meaning.capitalize(), [(s, r) for s, r in report.rows if r.evidence == rank]) for rank, meaning in EVIDENCE.items())
    return [(meaning, pairs) for meaning, pairs in ranks if pairs]


def _html(report: Report, pictures: Mapping[str, bytes]) -> str:
    summary, named = _in_bands(report, named=False), _in_bands(report, named=True)
    return html.filled(
        "validation.html", report=report, heading=TITLE, version=_core.__version__, about=ABOUT, ranks=_ranks(report),
        pictures={name: html.picture(png) for name, png in pictures.items()}, why=_why, counted=_counted,
        ordered=sorted(report.sources, key=_strength), number=number, verdict=verdict,
        blocks=lambda text: [(kind, html.cited(part)) for kind, part in _blocks(text)], title=title, bands=_bands(report),
        facts=_facts(report), relied=_relied(report), for_you=FOR_YOU, summary=html.picture(summary) if summary else "",
        calibration=html.picture(named) if named else "", ink=INK, red=RED, green=GREEN,
    )  # fmt: skip


def _strength(source: Source) -> int:
    """Rank of the strongest evidence of a source."""
    ranks = list(EVIDENCE)
    return min((ranks.index(row.evidence) for row in source.rows), default=len(ranks))


def _row(pages: Pages, source: Source, row: Comparison) -> None:
    """A row as two lines of text, which a narrow page holds at a size that can be read."""
    relation = {"=": "", "<=": "at most ", ">=": "at least "}[row.relation]
    color = INK if row.passed else RED
    pages.line(f"{row.quantity} ({row.source}): {verdict(source, row)} ({row.evidence})", color=color, bold=True, gap=0.3)
    numbers = (
        f"{relation}{number(row.published)}, computed {number(row.computed)} {row.unit}; difference {row.difference:+.2g}, "
        f"tolerance {row.tolerance:.2g}"
    )
    why = _why(source, row)
    pages.line(f"{numbers}. {why}" if why else numbers, color=color)


def _blocks_on(pages: Pages, text: str) -> None:
    """Everything below the title of a source.md."""
    for kind, part in _blocks(text):
        pages.line(part, bold=kind == "h4", bullet="-" if kind == "li" else "")


def _summary_page(pages: Pages, report: Report) -> None:
    """One page for those who read one."""
    pages.line(TITLE, 12.0, bold=True, gap=0.5)
    pages.line(f"libcure {_core.__version__}. Summary; all rows with their sources follow.", gap=1.5)
    for words, count, good in _facts(report):
        pages.row((Column(0.0, 52.0), Column(54.0, 42.0)), (words, count), 7.5, INK if good else RED)
    if relied := _relied(report):
        pages.y += 2.0
        columns = (Column(0.0, 52.0), Column(53.0, 19.0), Column(73.0, 23.0))
        pages.row(columns, ("What users rely on: within tolerance", "independent", "other material"), 7.5, bold=True)
        for name, own, other, good in relied:
            pages.row(columns, (name, own, other), 7.5, INK if good else RED)
    if (picture := _in_bands(report, named=False)) is not None:
        pages.y += 2.0
        pages.line("Measured values in the bands that were foretold", 7.5, bold=True)
        pages.picture(picture, 45.0)
    pages.line(FOR_YOU, bold=True)


def _first_pages(pages: Pages, report: Report) -> None:
    """What ran, and what is covered."""
    _summary_page(pages, report)
    pages.turn()
    pages.line(f"{report.summary()}.")
    pages.line(ABOUT)
    for source in report.sources:
        if source.error:
            pages.line(f"{source.id} did not run: {source.error}", color=RED, bold=True)
        for remark in source.remarks:
            pages.line(f"{source.id}: {remark}", bold=True)
    if relied := [subject for subject in report.subjects if subject.sources is None]:
        pages.heading("What users rely on")
        for subject in relied:
            own, other = report.measured(subject.name), report.measured(subject.name, "another material")
            words = f"{subject.name}: {_counted(own)} independent, {_counted(other)} on other materials. {subject.note}"
            pages.line(words, color=INK if own else RED, bold=not own, bullet="-")
    if (picture := _in_bands(report, named=True)) is not None:
        pages.heading("How the stated bands held")
        pages.line(_bands(report))
        pages.picture(picture, PICTURE)
    for name in report.waiting:
        pages.line(f"A prediction that waits for data: {name}", bullet="-")
    pages.heading("What else is checked")
    for subject in report.subjects:
        if subject.sources is not None:
            names = ", ".join(source.id for source in report.speaking(subject)) or "none"
            pages.line(f"{subject.name}: {names}. {subject.note}", bullet="-")


def _counted(rows: Sequence[Comparison]) -> str:
    """How many rows, and how many within tolerance."""
    return f"{len(rows)} rows ({sum(row.passed for row in rows)} within tolerance)" if rows else "no row"


def _write_pdf(report: Report, pictures: Mapping[str, bytes], path: Path) -> None:
    with plot.style():
        pages = Pages(NARROW, MARGIN, POINTS)
        _first_pages(pages, report)
        for source in sorted(report.sources, key=_strength):
            pages.turn()
            pages.line(source.title, 14.0, bold=True, gap=1.0)
            _blocks_on(pages, source.text)
            if source.id in pictures:
                pages.picture(pictures[source.id], PICTURE)
            for row in source.rows:
                _row(pages, source, row)
        if report.not_read:
            pages.turn()
            pages.line(title(report.not_read), 11.0, bold=True, gap=1.0)
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
