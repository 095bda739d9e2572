"""Compares laws: information criteria by independent points, weights, and the law that predicts runs left out best.

Neighbouring points of a record share what the law misses, so a run counts with its points over the length along which the
residuals of the law that misses least are autocorrelated (effective sample size; e.g. H.J. Thiebaux, F.W. Zwiers, J. Clim.
Appl. Meteorol. 23, 800, 1984, from memory). Weights are exp(-(AICc - least)/2), made to add up to 1 (H. Akaike, from memory).

The law that is written is the simplest whose prediction of runs left out is within one standard error of the best's, run by
run (the one-standard-error rule of cross-validation; L. Breiman et al., "Classification and Regression Trees", 1984, from
memory). Laws whose constants end on their bounds do not take part.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.law_fit import HeldOut, LawFit

__all__ = ["Choice", "choose", "compare"]

Array = NDArray[np.float64]
LEAST_RUNS = 3  # left out, from which a standard error is believed
ALIKE = 1.02  # ratio of rms below which predictions are as good


def compare(fits: Sequence[LawFit]) -> None:
    """Sets criteria and weights of laws fitted to the same data."""
    if not fits:
        return
    least = min(fits, key=lambda fit: fit.rms_rate if fit.runs else fit.squares_cups)
    independent = float(sum(len(run.t) / wide for run, wide in zip(least.runs, least.widened, strict=True)))
    for fit in fits:
        fit.aicc, fit.bic = _criteria(fit, independent)
    able = [fit for fit in fits if not fit.unfit]
    for fit in fits:
        fit.weight = 0.0 if able else np.nan
    if able:
        rest = np.array([fit.aicc for fit in able])
        likely = np.exp(-0.5 * (rest - rest.min())) if np.isfinite(rest.min()) else np.ones(len(able))
        for fit, weight in zip(able, likely / likely.sum(), strict=True):
            fit.weight = float(weight)


def _criteria(fit: LawFit, independent: float) -> tuple[float, float]:
    """AICc and BIC; the noise of the rates is one constant more where there are points."""
    p = len(fit.point)
    log_likelihood = -0.5 * fit.squares_cups
    if fit.runs:
        log_likelihood -= independent * np.log(fit.rms_rate)
    count, k = independent + len(fit.gel_times), p + (1 if fit.runs else 0)
    aicc = 2.0 * k - 2.0 * log_likelihood + (2.0 * k * (k + 1) / (count - k - 1) if count > k + 1 else np.inf)
    return float(aicc), float(k * np.log(max(count, 1.0)) - 2.0 * log_likelihood)


@dataclass(frozen=True)
class Choice:
    """The law that is written, and why."""

    label: str
    best: str
    """The law that predicts runs left out best; by AICc where too few were left out."""
    reason: str


def choose(fits: Sequence[LawFit], left_out: Mapping[str, Sequence[HeldOut]]) -> Choice:
    """Which law to write, of those that can be a model where there are any."""
    able = [fit for fit in fits if not fit.unfit] or list(fits)
    errors = {fit.law.label: _errors(left_out.get(fit.law.label, [])) for fit in able}
    runs = set.intersection(*(set(found) for found in errors.values())) if errors else set()
    by_criterion = min(able, key=lambda fit: fit.aicc)
    if len(able) == 1:
        return Choice(able[0].law.label, able[0].law.label, "the only one that can be a model" if len(fits) > 1 else "the only one")
    if len(runs) < LEAST_RUNS:
        return Choice(by_criterion.law.label, by_criterion.law.label, "the least AICc by independent points; too few runs were left "
                      "out to compare predictions")
    order = sorted(runs)
    logs = {label: np.log([found[run] for run in order]) for label, found in errors.items()}
    best = min(able, key=lambda fit: (float(np.mean(logs[fit.law.label])), len(fit.x)))
    good = [fit for fit in able if _as_good(logs[fit.law.label] - logs[best.law.label])]
    picked = min(good, key=lambda fit: (len(fit.x), float(np.mean(logs[fit.law.label]))))
    if picked is best:
        reason = f"it predicts the {len(runs)} runs left out best"
    else:
        worse = float(np.exp(np.mean(logs[picked.law.label] - logs[best.law.label]))) - 1.0
        reason = (f"the simplest law whose prediction of the {len(runs)} runs left out is within one standard error of the best's "
                  f"({best.law.label}, better by {100.0 * worse:.0f} %)")
    return Choice(picked.law.label, best.law.label, reason)


def _errors(found: Sequence[HeldOut]) -> dict[str, float]:
    return {h.run: max(h.rms_rate, 1e-9) for h in found if np.isfinite(h.rms_rate)}


def _as_good(more: Array) -> bool:
    """Whether logarithms of the error, run by run over the best law's, are within their standard error, or hardly more."""
    return bool(np.mean(more) <= max(float(np.std(more, ddof=1)) / np.sqrt(len(more)), np.log(ALIKE)))
