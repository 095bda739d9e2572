"""``libcure study``: runs a study and writes its model file and report; or prints what to measure."""

from __future__ import annotations

import json
from contextlib import ExitStack
from pathlib import Path

from rich.console import Console
from rich.text import Text

from libcure import documents
from libcure.errors import input_error
from libcure.render import study_report as report
from libcure.studying import protocol as to_do
from libcure.studying.family import find_family
from libcure.studying.model import model_document
from libcure.studying.study import load, run

__all__ = ["print_protocol", "run_study"]


def print_protocol(family: str, jobs: str, console: Console) -> None:
    """What to do, and an example to fill in.

    Raises:
        CureError: no such family, or no temperatures.
    """
    found = find_family(family)
    try:
        jobs_C = [float(T) for T in jobs.split(",")]
    except ValueError:
        raise input_error("--jobs", f'"{jobs}"', "temperatures in °C such as 5,10,20") from None
    for heading, steps in to_do.protocol(found, jobs_C):
        console.print(Text(heading, "bold"))
        for number, step in enumerate(steps, 1):
            console.print(Text(f"  {number}. {step}"))
    console.print(Text("Example (invented numbers; also temperature_F, time_h, cup logs by \"log\": \"cup.csv\")", "bold"))
    console.print(Text(json.dumps(to_do.example(found, jobs_C), indent=2, ensure_ascii=False)), soft_wrap=True)


def run_study(file: Path, out: Path, console: Console) -> None:
    """Runs a study; writes model file, report.pdf and result.json, all or none.

    Raises:
        CureError: the document is refused, or the folder cannot be written.
    """
    load(file)
    folder = documents.output_folder(out)
    with console.status("") as status:
        study = run(file, progress=lambda share: status.update(f"{100.0 * share:.0f} % of what the measurements say"))
        status.update("what to measure next")
        nexts = study.next_measurements(to_do.candidates(study.family, study.jobs_C))
    model = model_document(study)
    documents.validate(model)
    with ExitStack() as files:
        targets = [files.enter_context(documents.replacing(folder / name)) for name in (f"{study.about['id']}.json", "report.pdf", "result.json")]
        targets[0].write_text(documents.to_json(model), encoding="utf-8")
        report.save_pdf(study, nexts, targets[1])
        targets[2].write_text(documents.to_json(report.document(study, nexts)), encoding="utf-8")
    console.print(report.page(study, nexts))
    model_file = folder / f"{study.about['id']}.json"
    words = f"{model_file} is the model: name it in a case by its path. report.pdf and result.json are beside it."
    console.print(Text(words), soft_wrap=True)
