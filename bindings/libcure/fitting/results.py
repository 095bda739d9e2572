"""The result of a fit for machines: one JSON document and tables of curves, residuals and energies."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterable, Iterator, Sequence
from typing import Any

import numpy as np

from libcure import _core
from libcure.fitting.instrument import Estimate
from libcure.fitting.isoconversional import Isoconversional
from libcure.fitting.law_fit import LawFit
from libcure.fitting.model_free import ModelFree
from libcure.fitting.predictions import SHOWN, Prediction
from libcure.fitting.record import ZERO_CELSIUS
from libcure.fitting.run import Run
from libcure.fitting.study import Study

__all__ = ["result_document", "tables"]


def _number(value: float) -> float | None:
    """A number for JSON: none where there is none."""
    return float(value) if np.isfinite(value) else None


def result_document(study: Study) -> dict[str, Any]:
    """The document ``libcure/fit-result/1``; null where a number is not known or an interval is open."""
    free = study.isoconversional
    return {
        "format": "libcure/fit-result/1", "libcure": _core.__version__, "title": study.title, "data": study.described,
        "runs": [_run(run) for run in study.runs],
        "activation_energy": None if free is None else _energies(free),
        "model_free": None if study.model_free is None else _without_law(study.model_free),
        "predictions": [_prediction(one) for one in study.predictions],
        "schemes": [{
            "scheme": one.name, "reference_temperature_C": one.T_ref - ZERO_CELSIUS, "rms_rate": one.rms_rate, "rms_left_out": _number(one.rms_left_out),
            "in_model_files": one.writable, "constants": [{"constant": key, "value": value, "unit": unit} for key, value, unit in one.constants],
        } for one in study.schemes],
        "laws": [_law(study, fit) for fit in study.fits],
        "choice": None if study.choice is None else {"law": study.choice.label, "predicts_best": study.choice.best, "reason": study.choice.reason},
        "not_fitted": dict(study.failures),
        "gel_times": [{"id": cup.id, "observed_min": cup.gel_time / 60.0,
                       "by_law_min": {fit.law.label: cup.gel_time / 60.0 * fit.gel_times[i] for fit in study.fits}}
                      for i, cup in enumerate(study.gel_times)],
        "findings": [{"severity": f.severity, "code": f.code, "about": f.about, "message": f.message} for f in study.findings],
    }  # fmt: skip


def _run(run: Run) -> dict[str, Any]:
    return {
        "id": run.id, "heating_rate_K_min": 60.0 * run.heating_rate if run.dynamic else None, "points": len(run.t), "baseline": run.baseline,
        "windows_min": [float(w) / 60.0 for w in run.windows], "heat_J_g": run.heat / 1e3,
        "total_heat_J_g": None if run.total_heat is None else run.total_heat / 1e3,
        "peak_C": run.peak - ZERO_CELSIUS if run.dynamic else None, "noise_W_g": _number(run.noise / 1e3),
    }  # fmt: skip


def _energies(free: Isoconversional) -> dict[str, Any]:
    peaks = {name: {
        "E_kJ_mol": one.E / 1e3, "low_kJ_mol": _number((one.E - one.half_width) / 1e3), "high_kJ_mol": _number((one.E + one.half_width) / 1e3),
        "A_1_s": _number(one.A), "r_squared": _number(one.r_squared),
    } for name, one in (("kissinger", free.kissinger), ("e698", free.e698)) if one is not None}  # fmt: skip
    return {
        "peaks": [{"heating_rate_K_min": 60.0 * float(rate), "temperature_C": float(T) - ZERO_CELSIUS}
                  for rate, T in zip(free.heating_rates, free.peaks, strict=True)],
        "by_peaks": peaks,
        "by_conversion": {c.method: {"mean_kJ_mol": _number(c.mean / 1e3), "variation": _number(c.variation)} for c in free.curves},
    }  # fmt: skip


def _without_law(free: ModelFree) -> dict[str, Any]:
    said, plots, combined, line = free.verdict, free.plots, free.combined, free.compensation
    return {
        "shaped_by": list(free.shaped_by), "runs": list(free.runs),
        "verdict": None if said is None else {"said": said.said, "variation": said.variation, "surely": said.surely,
                                              "at_most": _number(said.at_most), "reason": said.reason, "laws": list(said.laws)},
        "master_plots": None if plots is None else {
            "E_kJ_mol": plots.E / 1e3, "y_greatest_at": plots.y_top,
            "distances": [{"model": one.model.code, "y": one.y, "z": one.z} for one in plots.nearest]},
        "combined": None if combined is None else {
            **{key: [_number(factor * v) for v in (value, value - half, value + half)] for key, value, half, factor in combined.rows},
            "correlation": combined.correlation, "misfit": combined.misfit},
        "compensation": None if line is None else {"slope_mol_J": line.slope, "intercept": line.intercept, "correlation": line.correlation},
        "stalls": [{"run": one.run, "temperature_C": one.T - ZERO_CELSIUS, "ended": one.ended, "foretold": one.foretold} for one in free.stalls],
    }  # fmt: skip


def _prediction(one: Prediction) -> dict[str, Any]:
    return {
        "id": one.programme.id, "programme": one.programme.shown, "law": one.law, "extrapolated": one.extrapolated,
        "times": [{"alpha": alpha, "without_law_min": [_number(v / 60.0) for v in one.free.at(alpha)],
                   "by_law_min": None if one.by_law is None else [_number(v / 60.0) for v in one.by_law.at(alpha)]} for alpha in SHOWN],
    }  # fmt: skip


def _law(study: Study, fit: LawFit) -> dict[str, Any]:
    constants = [{"constant": key, "value": _number(value), "low": _number(low), "high": _number(high), "unit": unit, "held": held}
                 for key, value, low, high, unit, held in fit.to_dataframe().itertuples(index=False)]
    if fit is study.best:
        for one in study.profiles:
            p = fit.free_parameters[one.parameter]
            constants[one.parameter]["profile"] = [_number(p.outside(v)) if np.isfinite(v) else None for v in (one.low, one.high)]
        if study.bootstrap is not None:
            for k, p in enumerate(fit.free_parameters):
                constants[k]["bootstrap"] = [_number(p.outside(v)) for v in study.bootstrap.interval(k)]
    return {
        "law": fit.law.label, "no_model": fit.unfit, "reference_temperature_C": fit.T_ref - ZERO_CELSIUS,
        "aicc": _number(fit.aicc), "weight": _number(fit.weight),
        "instrument": _lags(fit), "runs": [_off(run, off) for run, off in zip(fit.runs, fit.off, strict=True)],
        "bic": _number(fit.bic), "rms_rate": _number(fit.rms_rate), "rms_alpha": _number(fit.rms_alpha),
        "rms_left_out": _number(study.rms_left_out(fit)), "starts": fit.starts, "starts_that_agree": fit.same_minimum, "constants": constants,
    }  # fmt: skip


def _lags(fit: LawFit) -> dict[str, Any] | None:
    if not len(fit.lags):
        return None
    error = fit.lag_errors
    return {"time_constant_s": float(fit.lags[0]), "time_constant_error_s": _number(error[0]), "thermal_lag_s": float(fit.lags[1]),
            "thermal_lag_error_s": _number(error[1])}


def _off(run: Run, off: Sequence[Estimate]) -> dict[str, Any]:
    """What may be off in a run, where its record tells."""
    keys = {"mass": ("mass_off", 1.0), "drift": ("drift_W_g", 1e-3), "start": ("lost_start_s", 1.0)}
    said = {keys[one.kind][0]: one.value * keys[one.kind][1] for one in off if one.kind in keys}
    return {"id": run.id, **said, **{f"{keys[one.kind][0]}_error": one.error * keys[one.kind][1] for one in off if one.kind in keys}}


Rows = Iterable[Sequence[object]]


def tables(study: Study) -> Iterator[tuple[str, str]]:
    """Names and texts of CSV files, where there are any: curves and residuals of the best law, E over the degree of cure by method,
    what is said by degree of cure without a law, and predictions."""
    if study.fits and study.best.runs:
        yield "curves.csv", _text(["run", "time_min", "temperature_C", "rate_1_s", "rate_fit_1_s", "alpha", "alpha_fit"], (
            row for run, (rate, alpha, _) in zip(study.best.runs, study.best.curves, strict=True)
            for row in _by_point(run, run.t / 60.0, run.T - ZERO_CELSIUS, run.rate, rate, run.alpha, alpha)))
        yield "residuals.csv", _text(["run", "time_min", "rate_over_peak", "alpha"], (
            row for run, (rate, alpha, _) in zip(study.best.runs, study.best.curves, strict=True)
            for row in _by_point(run, run.t / 60.0, (run.rate - rate) / np.max(run.rate), run.alpha - alpha)))
    if study.isoconversional is not None and study.isoconversional.curves:
        frame = study.isoconversional.to_dataframe()
        yield "energies.csv", _text(list(frame.columns), frame.itertuples(index=False))
    if study.model_free is not None:
        frame = study.model_free.to_dataframe()
        yield "model_free.csv", _text(list(frame.columns), frame.itertuples(index=False))
    if study.predictions:
        frame = study.predictions_frame()
        yield "predictions.csv", _text(list(frame.columns), frame.itertuples(index=False))


def _by_point(run: Run, *columns: np.ndarray) -> Rows:
    return ((run.id, *numbers) for numbers in zip(*columns, strict=True))


def _text(head: Sequence[str], rows: Rows) -> str:
    """Eight digits a number; empty where there is none."""
    buffer = io.StringIO()
    writer = csv.writer(buffer, lineterminator="\n")
    writer.writerow(head)
    writer.writerows([cell if isinstance(cell, str) else f"{cell:.8g}" if np.isfinite(cell) else "" for cell in row]  # type: ignore[call-overload]
                     for row in rows)
    return buffer.getvalue()
