"""From calorimeter runs and gel times to a model file. For example::

    from libcure import fitting
    study = fitting.load("fit.json")       # reads and checks the runs
    fitting.run(study)                     # activation energies, laws, comparison, statements
    model, page, pdf = fitting.write(study, Path("out"))

or step by step: :func:`read_csv`, :func:`analyse`, :func:`isoconversional_analysis`, :func:`fit_law`, :func:`hold_out`,
:func:`profile`, :func:`bootstrap`, :func:`model_document`, :func:`write_model`.
"""

from __future__ import annotations

from pathlib import Path

from libcure import rendering
from libcure.errors import input_error
from libcure.fitting.bootstrap import Bootstrap, bootstrap
from libcure.fitting.engine import GelTime, HeldOut, LawFit, Options, Profile, fit_law, hold_out, profile
from libcure.fitting.isoconversional import Isoconversional, e698, isoconversional, isoconversional_analysis, kissinger
from libcure.fitting.laws import FitLaw
from libcure.fitting.least_squares import Solution, compress, covariance, multi_start, solve, start_points
from libcure.fitting.model_file import model_document, write_model
from libcure.fitting.record import Record, read_csv
from libcure.fitting.records import Finding, Run, analyse
from libcure.fitting.statements import identifiability
from libcure.fitting.study import Study, load, run

__all__ = [
    "Bootstrap", "Finding", "FitLaw", "GelTime", "HeldOut", "Isoconversional", "LawFit", "Options", "Profile", "Record",
    "Run", "Solution", "Study", "analyse", "bootstrap", "compress", "covariance", "e698", "fit_law", "hold_out", "identifiability",
    "isoconversional", "isoconversional_analysis", "kissinger", "load", "model_document", "multi_start", "profile", "read_csv", "run",
    "solve", "start_points", "write", "write_model",
]


def describe_data(study: Study) -> str:
    """What was fitted, in a few words."""
    ramps = sum(r.dynamic for r in study.runs)
    parts = [(ramps, "ramp"), (len(study.runs) - ramps, "isothermal run"), (len(study.gel_times), "gel time")]
    said = [f"{n} {word}{'s' * (n != 1)}" for n, word in parts if n]
    return f"{', '.join(said)} ({study.title})"


def write(study: Study, folder: Path) -> tuple[Path, Path, Path]:
    """Writes model file, ``report.html`` and ``report.pdf``, each whole or not at all.

    Raises:
        CureError: nothing was fitted, or a file cannot be written. Where no law has constants that the data hold, it
            says so after the report has been written.
    """
    if study.best.unfit:
        page, _ = rendering.report(study, folder)
        why = "; ".join(f"{fit.law.label}: {fit.unfit}" for fit in study.fits)
        raise input_error("laws", f"none can be a model ({why})",
                          f"a law whose constants the data hold; no model was written, see {page}", study.file)
    document = model_document(study.best, study.document["model"], describe_data(study))
    page, pdf = rendering.report(study, folder)
    return write_model(document, folder), page, pdf
