"""``libcure record``: makes the record of a job, or checks one."""

from __future__ import annotations

import os
from contextlib import ExitStack
from pathlib import Path

from rich.console import Console
from rich.text import Text

from libcure import documents
from libcure.case import load_case
from libcure.errors import input_error, one_line
from libcure.following import read_readings
from libcure.recording.record import make, verify
from libcure.recording.site import load_site
from libcure.render import record_sheet as sheet
from libcure.sampling.uncertainty import read_ranges

__all__ = ["check", "run"]


def run(
    site: Path, console: Console, *, case: Path | None, uncertain: Path | None, log: Path | None, channel: str, mixed_at: str, at: str,
    out: Path | None
) -> None:
    """Writes record.pdf and record.json, both or none.

    Raises:
        CureError: a file or an argument is refused.
    """
    if case is None or out is None:
        raise input_error("--case" if case is None else "--out", "missing", "the case as it was planned" if case is None else "a folder")
    if os.path.exists(out) and not os.path.isdir(out):
        raise input_error("--out", f'"{out}"', "a folder")
    ranges = None if uncertain is None else read_ranges(uncertain).inputs
    readings = None if log is None else read_readings(log, channel=channel, mixed_at=mixed_at)
    record = make(load_case(case), load_site(site), ranges=ranges, readings=readings, at=at)
    folder = documents.output_folder(out)
    with ExitStack() as files:
        pdf, json = (files.enter_context(documents.replacing(folder / f"record.{kind}")) for kind in ("pdf", "json"))
        sheet.save(record, pdf)
        json.write_text(documents.to_json(record.document), encoding="utf-8")
    early = record.early_min()
    if early is not None and early > 0.5:
        console.print(Text(f"The bladder was let down {early:.0f} min before the time to use.", "bold red"))
    console.print(Text(f"{folder / 'record.pdf'} and record.json written; check later: libcure record {folder / 'record.json'} --verify"), soft_wrap=True)


def check(record: Path, console: Console) -> bool:
    """Prints what is as it was and what is not; True when all is.

    Raises:
        CureError: it is no record.
    """
    findings = verify(documents.read_object(record), documents.shown(record), record.parent)
    for finding in findings:
        mark, style = ("same     ", "") if finding.good else ("DIFFERENT", "bold red")
        console.print(Text(one_line(f"{mark}  {finding.what}: {finding.said}"), style), soft_wrap=True)
    return all(finding.good for finding in findings)
