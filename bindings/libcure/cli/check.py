"""What the command ``libcure check`` does."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path

from rich.console import Console
from rich.padding import Padding
from rich.text import Text

from libcure import documents, models
from libcure.case import Case
from libcure.cli.loading import load
from libcure.errors import input_error, one_line
from libcure.render.page_look import words_for
from libcure.words import changes

__all__ = ["run"]

DOCUMENTS = (".json", "")
"""Endings of documents; other files are records of a calorimeter."""
RESIN_FORMATS = ("libcure/resin/1", "libcure/resin-blend/1")


def run(file: Path, changed: Sequence[str] | None, save: Path | None, console: Console) -> None:
    """Checks a document or a record of a calorimeter, says what it is, and writes the changed case where asked for.

    Raises:
        CureError: what is wrong first.
    """
    if file.suffix.lower() not in DOCUMENTS:
        _check_record(file, changed, save, console)
        return
    save_target = None if save is None else documents.output_path(save, "--save", (".json",))
    if save_target is not None and save_target == file.resolve():
        raise input_error("--save", f'"{save}"', "a file of its own")
    kind = documents.format_of(file)
    is_case = kind not in documents.formats() or kind == "libcure/case/1"
    for option, given in (("--set", changed), ("--save", save)):
        if given and not is_case:
            raise input_error(option, "given", "with a case only", str(file))
    case = load(file, changed) if is_case else None
    if case is not None:
        document, described = case.document, _case_in_words(case)
    else:
        described, document = _described(file, kind), documents.read_object(file)
    documents.validate(document, str(file))
    if case is not None and save_target is not None:
        changes.save(case, save_target)
    _say(f"{file}: valid: {one_line(described)}", case.core.facts if case is not None else (), console)


def _say(first: str, facts: Iterable[tuple[str, str]], console: Console) -> None:
    console.print(Text(first), soft_wrap=True)
    for heading, words in facts:
        line = words_for(f"{heading}: {words}", console.options.ascii_only)
        console.print(Padding(Text(line, "dim"), (0, 0, 0, 2)))


def _check_record(file: Path, changed: Sequence[str] | None, save: Path | None, console: Console) -> None:
    """Says what was understood of an export of a calorimeter.

    Raises:
        CureError: what is wrong with it first.
    """
    from libcure.fitting.record import read_csv, understood

    for option, given in (("--set", changed), ("--save", save)):
        if given:
            raise input_error(option, "given", "with a case only", str(file))
    record = read_csv(file)
    _say(f"{file}: valid: record of a calorimeter, {len(record.time)} rows", understood(record), console)


def _case_in_words(case: Case) -> str:
    count = len(case.defaults)
    said = f"; section {case.core.section_words}" if "section" in case.document else ""
    return f"{case.title or 'case'} ({case.resin.id}, {count} value{'s' * (count != 1)} by default){said}"


def _described(file: Path, kind: str | None) -> str:
    """Reads a document that is no case, as strictly as its command does."""
    if kind == "libcure/chart/1":
        from libcure.charting import read_chart
        from libcure.render.chart_paper import paper_of

        chart = read_chart(file)
        paper_of(chart)
        return f"{chart.title} ({len(chart.cases)} cells)"
    if kind == "libcure/study/1":
        from libcure.studying import load as load_study

        about, family, measurements, jobs = load_study(file)
        held = sum(m.hold_back for m in measurements)
        return (f"{about['title']} ({family.name}, {len(measurements)} measurement{'s' * (len(measurements) != 1)}"
                + (f", {held} held back" if held else "") + f", jobs at {', '.join(f'{T:g}' for T in jobs)} °C)")
    if kind == "libcure/site/1":
        from libcure.recording.site import load_site

        return f"what was written down on {load_site(file).day:%Y-%m-%d}"
    if kind == "libcure/fit/1":
        from libcure.fitting import load as load_fit

        study = load_fit(file)
        return f"{study.title} ({study.described})"
    return f"resin {models.read_resin(file).id}" if kind in RESIN_FORMATS else str(kind)
