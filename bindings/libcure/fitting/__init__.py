"""From calorimeter runs and gel times to a model file. For example::

    from libcure import fitting
    study = fitting.load("fit.json")       # reads and checks the runs
    fitting.run(study)                     # activation energies, laws, comparison, statements
    fitting.write(study, Path("out"))      # model file, report.html, report.pdf, fit.json, tables

or step by step: :func:`read_csv`, :func:`analyse`, :func:`isoconversional_analysis`, :func:`fit_law`, :func:`hold_out`,
:func:`profile`, :func:`bootstrap`, :func:`model_document`, :func:`write_model`.
"""

from __future__ import annotations

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path
from threading import Event
from typing import Any

from libcure import documents, rendering
from libcure.errors import input_error
from libcure.fitting.bootstrap import Bootstrap, bootstrap
from libcure.fitting.engine import fit_law
from libcure.fitting.instrument import EXACT, Instrument
from libcure.fitting.isoconversional import Isoconversional, Peak, e698, isoconversional, isoconversional_analysis, kissinger
from libcure.fitting.law_fit import GelTime, HeldOut, LawFit, Options, Profile
from libcure.fitting.laws import FitLaw
from libcure.fitting.least_squares import Solution, compress, covariance, multi_start, solve, start_points
from libcure.fitting.left_out import hold_out
from libcure.fitting.model_file import model_document, scheme_document, write_model
from libcure.fitting.model_free import Forecast, ModelFree, Programme, analyse_without_law
from libcure.fitting.predictions import Prediction
from libcure.fitting.profiles import profile
from libcure.fitting.record import Record, read_csv
from libcure.fitting.records import analyse
from libcure.fitting.results import result_document, tables
from libcure.fitting.run import Finding, Run
from libcure.fitting.statements import identifiability
from libcure.fitting.study import Study, load, run
from libcure.stopping import stopping

__all__ = [
    "EXACT", "Bootstrap", "Finding", "FitLaw", "Forecast", "GelTime", "HeldOut", "Instrument", "Isoconversional", "LawFit", "ModelFree",
    "Options", "Peak", "Prediction", "Profile", "Programme", "Record", "Run", "Solution", "Study", "Written", "analyse",
    "analyse_without_law", "bootstrap", "check_names", "compress", "covariance", "e698", "fit_law", "hold_out", "identifiability",
    "isoconversional", "isoconversional_analysis", "kissinger", "load", "model_document", "multi_start", "profile", "read_csv",
    "result_document", "run", "solve", "start_points", "write", "write_model",
]


@dataclass(frozen=True)
class Written:
    """Files that a fit wrote."""

    model: Path | None
    """None with peaks alone."""
    page: Path
    pdf: Path
    result: Path
    """``fit.json``"""
    tables: tuple[Path, ...]
    """``curves.csv``, ``residuals.csv`` of the best law, ``energies.csv``, ``model_free.csv`` and ``predictions.csv``, where there are any"""

    @property
    def all(self) -> list[Path]:
        return [*([self.model] if self.model is not None else []), self.page, self.pdf, self.result, *self.tables]


RESULT = "fit.json"


def check_names(study: Study, folder: Path) -> None:
    """Refuses what :func:`write` would write over, so that it is known before anything is computed.

    Raises:
        CureError: the result has the name of the fit's own document, or of the model file.
    """
    if study.file and Path(study.file).resolve() == (folder / RESULT).resolve():
        raise input_error("--out", f'"{folder}"', f"another folder: the result, {RESULT}, would replace the document of the fit")
    if f"{study.document.get('model', {}).get('id')}.json" == RESULT:
        raise input_error("model.id", f'"{study.document["model"]["id"]}"', f"another id: {RESULT} is the result of the fit", study.file)


def _model(study: Study) -> dict[str, Any]:
    """The document of the law, or of the scheme that is asked for."""
    data = f"{study.described} ({study.title})"
    made = model_document(study.best, study.document["model"], data)
    scheme = next((one for one in study.schemes if one.name == study.document["model"].get("law")), None)
    return made if scheme is None else scheme_document(made, scheme, data)


def write(study: Study, folder: Path, *, stop: Event | None = None) -> Written:
    """Writes model file, ``report.html``, ``report.pdf``, ``fit.json`` and tables: all of them, or none.

    Args:
        stop: ends the call once another thread sets it; Ctrl-C does so with KeyboardInterrupt.

    Raises:
        CureError: nothing was fitted, a file cannot be written, or ``stop`` was set. Where no law has constants that the data hold, it
            says so after the report has been written.
    """
    check_names(study, folder)
    documents.output_folder(folder)
    unfit = bool(study.laws) and bool(study.best.unfit)
    with documents.own_models(*study.models):
        document = _model(study) if study.laws and not unfit else None
    with stopping(stop), tempfile.TemporaryDirectory(prefix=".", dir=folder) as place:
        staged = Path(place)
        model = write_model(document, staged) if document is not None else None
        result = staged / RESULT
        documents.write_json(result_document(study), result)
        csvs = []
        for name, text in tables(study):
            csvs.append(staged / name)
            csvs[-1].write_text(text, encoding="utf-8")
        written = Written(model, staged / "report.html", staged / "report.pdf", result, tuple(csvs))
        # Before it is drawn, which takes longest.
        targets = [documents.output_path(folder / path.name, "--out", (path.suffix,)) for path in written.all]
        rendering.report(study, staged)
        for path, target in zip(written.all, targets, strict=True):
            os.replace(path, target)
    if unfit:
        why = "; ".join(f"{fit.law.label}: {fit.unfit}" for fit in study.fits)
        raise input_error("laws", f"none can be a model ({why})",
                          f"a law whose constants the data hold; no model was written, see {folder / written.page.name}", study.file)
    return Written(None if model is None else folder / model.name, folder / written.page.name, folder / written.pdf.name, folder / RESULT,
                   tuple(folder / path.name for path in csvs))
