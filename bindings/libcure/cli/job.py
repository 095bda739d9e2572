"""``libcure job``: asks a crew what it knows, and answers by its clock."""

from __future__ import annotations

import sys
from collections.abc import Mapping
from contextlib import ExitStack
from pathlib import Path

from rich.console import Console
from rich.text import Text

import libcure
from libcure import documents
from libcure.cli import guard
from libcure.errors import CureError, input_error, one_line
from libcure.job.facts import FACTS, UNITS, Said, fact_named, read_answer, read_file, understood
from libcure.job.plan import Job, job_of
from libcure.render.job_page import JobPage, headline, moments
from libcure.result import Prediction

__all__ = ["run"]


def run(
    given: Mapping[str, str | None], console: Console, *, file: Path | None, ask: bool | None, units: str | None, save: Path | None,
    json: Path | None,
) -> None:  # fmt: skip
    """The command.

    Args:
        given: answers of options by key, None where there is none.
        console: to print on.
        file: a document ``libcure/job/1``; options have precedence over it.
        ask: ask for what is missing; None: when standard input is a terminal and neither file nor options say anything.
        units: ``metric`` or ``us``.
        save: case to write; its ranges go beside it.
        json: the answer to write.

    Raises:
        CureError: an answer, a file, or the job is refused.
    """
    targets = [None if path is None else documents.output_path(path, option, (".json",)) for path, option in ((save, "--save"), (json, "--json"))]
    if targets[0] is not None and targets[0] == targets[1]:
        raise input_error("--json", f'"{json}"', "a file of its own")
    if units is not None and units not in UNITS:
        raise input_error("--units", f'"{units}"', "one of " + ", ".join(UNITS))
    answers: dict[str, str] = {}
    file_units = "metric"
    if file is not None:
        file_units, answers = read_file(documents.read_object(file), str(file))
    name = str(file) if file is not None else ""
    said = {key: understood(fact_named(key), text, file_units, f"{name}: {key}") for key, text in answers.items()}
    chosen = units or file_units
    for key, option_text in given.items():
        if option_text is not None:
            said[key] = understood(fact_named(key), option_text, chosen, "--" + key.replace("_", "-"))
    if ask is None:
        ask = sys.stdin.isatty() and not said
    if ask and guard.quiet:
        raise input_error("--quiet", "given", "only where all is said on the command line or in a file, and nothing is asked")
    if ask:
        _ask(said, chosen, console)
    job = job_of(said, file=name)
    prediction = libcure.predict(job.case, uncertain=job.ranges)
    _write(job, prediction, targets[0], targets[1])
    console.print(JobPage(job, prediction))
    if targets[0] is not None:
        what = "What to change: libcure advise" if prediction.answer.stop else "Again: libcure predict"
        console.print(Text(f" {what} {save} --uncertain {_ranges_beside(targets[0])}", "dim"), soft_wrap=True)
    elif prediction.answer.stop:
        console.print(Text(" With --save CASE.json the job can be changed, and libcure advise says how.", "dim"))


def _ask(said: dict[str, Said], units: str, console: Console) -> None:
    """Asks for what is missing; an answer that cannot be is asked for again, an odd one asked about."""
    console.print(Text("Enter, or ?, for what is not known. Units: " + ("mm, m, °C" if units == "metric" else "in, ft, °F") + " unless you say others.", "dim"))
    for fact in FACTS:
        while fact.key not in said:
            text = _line(f"{fact.question} ({fact.help})" if not fact.choices else f"{fact.question} ({', '.join(fact.choices)})", console)
            try:
                found = read_answer(fact, text, units, fact.question)
                if found.doubt:
                    found = understood(fact, _line(f"  An unusual number: {found.doubt}", console), units, fact.question)
                if fact.needed and found.value is None:
                    raise input_error(fact.question, "not known", "it is needed: no time can be told without")
            except CureError as error:
                console.print(Text("  " + one_line(str(error)), "red"))
                continue
            said[fact.key] = found


def _line(question: str, console: Console) -> str:
    console.print(Text(question + ": ", "bold"), end="")
    line = sys.stdin.readline()
    if not line:
        raise input_error("standard input", "ended", "an answer to each question")
    return line.strip()


def _ranges_beside(case: Path) -> Path:
    return case.with_suffix(".ranges.json")


def _write(job: Job, prediction: Prediction, save: Path | None, json: Path | None) -> None:
    """Case, ranges and answer, all or none."""
    files: list[tuple[Path, Mapping[str, object]]] = []
    if save is not None:
        inputs = [
            {"name": i.name, "title": i.title, "moves": list(i.moves), "distribution": i.distribution,
             "half_width" if i.distribution == "uniform" else "sd": i.spread}
            for i in job.ranges
        ]  # fmt: skip
        uncertain = {"seed": 20260101, "samples": 256, "constants": True, "inputs": inputs}
        files = [(save, job.case.document), (_ranges_beside(save), {"format": "libcure/chart/1", "uncertain": uncertain})]
    if json is not None:
        rows = [{"name": name, "moment": moment, "likely": band} for name, moment, band in moments(job, prediction)]
        files.append((json, {**prediction.verdict, "job": {"headline": headline(job, prediction), "moments": rows, "not_known": job.taken}}))
    with ExitStack() as stack:
        for target, document in files:
            stack.enter_context(documents.replacing(target)).write_text(documents.to_json(document), encoding="utf-8")
