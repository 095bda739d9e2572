"""What a fit found of instrument and samples, in plain sentences, where it matters."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.instrument import disturbances, uncertain
from libcure.fitting.law_fit import LawFit
from libcure.fitting.laws import number
from libcure.fitting.quantiles import Z95
from libcure.fitting.run import Finding, Run

__all__ = ["fault_findings"]

Array = NDArray[np.float64]
STATED = 1.0  # s, error of lags that a user has measured
SURE = 2.0  # standard errors from which a fault is said
MASS_OFF = 0.04  # of a sample's mass, from which it is said
MOVED = 0.03  # degree of cure that a drift must move to be said
LOST = 10.0  # s of reaction before a record that are said
SHOWN = 0.97  # share of its heat that a ramp's record should show


def fault_findings(fit: LawFit) -> list[Finding]:
    """Findings on lags, masses, drifts, lost starts and cut tails."""
    return [*_lags(fit), *_tails(fit), *(finding for i in range(len(fit.runs)) for finding in _of_run(fit, i))]


def _lags(fit: LawFit) -> Iterator[Finding]:
    if not len(fit.lags):
        return
    moved = fit.lag_pull @ (fit.lags - _expected(fit))
    # As the constants would be known if the lags were.
    alone = np.sqrt(np.maximum(np.diag(fit.covariance) - np.einsum("ij,jk,ik->i", fit.lag_pull, fit.lag_covariance, fit.lag_pull), 0.0))
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = np.abs(moved) / (Z95 * alone)
    k = int(np.argmax(np.where(np.isfinite(ratio), ratio, 0.0)))
    if not ratio[k] > 1.0 or not _sure_of_lag(fit):
        return
    p = fit.free_parameters[k]
    value, without = float(fit.x[k]), float(fit.x[k] - moved[k])
    error = fit.lag_sum_error
    yield Finding("warning", "lag", "instrument", (
        f"the signal lags by {float(np.sum(fit.lags)):.1f} s (± {Z95 * error:.1f} s; time constant {fit.lags[0]:.1f} s, thermal lag "
        f"{fit.lags[1]:.1f} s, which the data hardly tell apart). Without that, {p.shown} would be {number(p.outside(without))} in the place of "
        f"{p.text(p.outside(value))}: {ratio[k]:.1f} half widths of its interval. Measure the time constant with a standard that "
        "melts, and give it (instrument.time_constant_s)."))


def _sure_of_lag(fit: LawFit) -> bool:
    """Whether the sum of the lags, which the data tell, differs from what was expected."""
    return bool(abs(np.sum(fit.lags - _expected(fit))) > SURE * fit.lag_sum_error)


def _expected(fit: LawFit) -> Array:
    """Lags that the user knows of; none unless he has stated them."""
    return np.array(fit.instrument.lag_means) if max(fit.instrument.lag_errors) <= STATED else np.zeros(2)


def _tails(fit: LawFit) -> Iterator[Finding]:
    for run, (_, _, share) in zip(fit.runs, fit.curves, strict=True):
        if run.dynamic and not run.truncated and share < SHOWN:
            yield Finding("warning", "tail_cut", f"run {run.id}", (
                f"its record shows {100.0 * share:.0f} % of its heat: by the law {100.0 * (1.0 - share):.0f} % is missing, below the "
                "baseline or after its end. The law completes it. Ramp further, or give baseline.right_C further out."))


def _of_run(fit: LawFit, i: int) -> Iterator[Finding]:
    run, said = fit.runs[i], fit.off[i]
    where = f"run {run.id}"
    for one in said:
        if one.kind == "mass" and abs(one.value) > max(MASS_OFF, SURE * one.error):
            yield Finding("warning", "mass", where, (
                f"its degree of cure fits with a sample mass {100.0 * abs(one.value):.0f} % {'more' if one.value > 0.0 else 'less'} than "
                f"stated (± {100.0 * Z95 * one.error:.0f} %). Weigh the sample again."))
        if one.kind == "start" and one.value > max(LOST, SURE * one.error):
            yield Finding("note", "lost_start", where, (
                f"the sample had reacted for about {one.value:.0f} s (± {Z95 * one.error:.0f} s) before the record begins; the fit "
                "counts that."))
    moved, sure = _drifted(fit, i)
    if abs(moved) > MOVED and sure:
        final = float(run.alpha[-1])
        yield Finding("warning", "drift", where, (
            f"its signal drifts: the record ends at a degree of cure of {final:.2f}, and less the drift at {final - moved:.2f}. The fit "
            f"takes that out. A sample mass {100.0 * abs(moved / final):.0f} % off would look much the same. Record a baseline with the "
            "cured sample, and weigh the sample again."))


def _drifted(fit: LawFit, i: int) -> tuple[float, bool]:
    """What drift has added to the final degree of cure, and whether that is more than its error."""
    run: Run = fit.runs[i]
    found = disturbances(run, fit.instrument)
    # By standard deviation of each prior.
    moves = np.array([n.heat / run.on if n.kind in ("drift", "bend") else 0.0 for n in found])
    if not moves.any():
        return 0.0, False
    moved = float(moves @ np.array([one.deviations for one in fit.off[i]]))
    error = float(np.sqrt(moves @ uncertain(found) @ moves))
    return moved, abs(moved) > SURE * error
