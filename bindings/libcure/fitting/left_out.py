"""Runs that a fit has not seen, beside what the law says of them."""

from __future__ import annotations

from collections.abc import Sequence
from threading import Event

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.errors import CureError
from libcure.fitting.engine import COARSE, bounds, build
from libcure.fitting.instrument import disturbances, offset, weight_of, whitened
from libcure.fitting.law_fit import GelTime, HeldOut, LawFit, Options
from libcure.fitting.least_squares import solve
from libcure.fitting.run import Run, recounted
from libcure.stopping import stopping

__all__ = ["hold_out", "predict_run"]

Array = NDArray[np.float64]


def hold_out(fit: LawFit, cups: Sequence[GelTime] = (), options: Options | None = None,
             only: Sequence[str] | None = None, stop: Event | None = None) -> list[HeldOut]:
    """Leaves each run out in turn (or those named), fits again, and predicts it.

    Raises:
        CureError: ``stop`` was set.
    """
    opt = options or Options()
    runs = fit.runs
    if len(runs) < 2:
        return []
    box = bounds(fit.law, runs, cups, fit.T_ref, opt)
    out = []
    for i, run in enumerate(runs):
        if only is not None and run.id not in only:
            continue
        with stopping(stop):
            out.append(_left_out(fit, run, build(fit.law, fit.T_ref, runs[:i] + runs[i + 1 :], cups, opt, tolerance=COARSE), box, opt))
    return out


def _left_out(fit: LawFit, run: Run, rest: _core.fit.Problem, box: tuple[Array, Array], opt: Options) -> HeldOut:
    try:
        end = solve(rest.compressed, fit.point, *box, tolerance=1e-7, evaluations=60)
    except CureError:
        return HeldOut(run.id, np.nan, np.nan, np.nan)
    error, alpha = _missed(fit, run, end.x, opt)
    return HeldOut(run.id, error, alpha, error / max(_missed(fit, run, fit.point, opt)[0], 1e-12))


def predict_run(fit: LawFit, run: Run, options: Options | None = None) -> HeldOut:
    """A run that the fit has not seen, beside what the law says of it."""
    treated = recounted(run, fit.heat) if run.on_ramps and np.isfinite(fit.heat) else run
    error, alpha = _missed(fit, treated, fit.point, options or Options())
    return HeldOut(run.id, error, alpha, error / max(fit.rms_rate, 1e-12))


def _missed(fit: LawFit, run: Run, x: Array, options: Options) -> tuple[float, float]:
    """Root mean squares of rate, over the run's peak, and of degree of cure, less what may be off in the run alone: that no law
    predicts."""
    rate, alpha, _ = build(fit.law, fit.T_ref, [run], [], options, tolerance=COARSE).curves(x)[0]
    peak, n = float(np.max(run.rate)), len(run.t)
    # Rates over the peak and degrees of cure have the same weight among the residuals of a run.
    found = disturbances(run, options.instrument)
    rows = np.concatenate([(rate - run.rate) / peak, alpha - run.alpha])
    already = offset(run, found)
    missed = whitened(found, rows + already / weight_of(run) if len(already) else rows)
    return float(np.sqrt(np.mean(missed[:n] ** 2))), float(np.sqrt(np.mean(missed[n:] ** 2)))

