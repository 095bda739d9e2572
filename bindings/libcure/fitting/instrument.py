"""What an instrument and its samples may have done to the runs, as parameters of a fit with priors.

Two lags are shared by all runs and fitted beside the constants: the signal's time constant and the thermal lag of a sample
that is heated (``cure/fit/instrument.hpp``). What may be off in one run alone acts on its residuals to first order, as
r + B theta with theta of standard deviation 1:
    mass      of an isothermal or truncated run, whose degree of cure counts on the heat of other runs
    drift     of the signal under an isothermal run: a slope; bends of a third of it; settling at its begin
    start     time that an isothermal sample has reacted before its record begins; it is never negative
    baseline  bends of the signal under the exotherm of a ramp
    step      of the heat capacity before a ramp's exotherm, or where it begins
These are not solved for: the core whitens the residuals by (I + B B')^-1/2, which is the same, and what they come to is
read off afterwards. The priors have no source: they are this project's assumptions, some of them (lags, steps, settling, how much of a
ramp's misfit is the resin's own) set on synthetic records with such faults (tests/benchmark/fit_systematics.py), so that intervals there
are as wide as the faults make them. A document may state its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.fitting.run import Run, smooth

__all__ = [
    "EXACT", "STEPS", "WITH_THE_RECORD", "Estimate", "Instrument", "Nuisance", "advanced", "disturbances", "estimates", "offset", "residual_scale",
    "shapes", "systematic_heat", "uncertain", "weight_of", "whitened",
]

Array = NDArray[np.float64]
BENDS = 3  # sines under an exotherm
STEPS = 2  # places of a step in a ramp
POSITIVE = (float(np.sqrt(2.0 / np.pi)), float(np.sqrt(1.0 - 2.0 / np.pi)))  # mean and standard deviation of the size of a normal number
KNOWN = 1e-3  # s, error of a lag that is stated to be known
SETTLES, SETTLING = (200.0, 600.0), 0.4  # s, and the deviation of each over that of a drift: how long it takes is not known
WITH_THE_RECORD = ("mass", "tangent")  # what covariance and bootstrap count with heats and noise of the records
NEXT_TO_NOTHING = 1e-12  # of the squares of shapes
EXOTHERM = (0.005, 0.995)  # degrees of cure between which they are


@dataclass(frozen=True)
class Instrument:
    """Priors, all normal; a standard deviation of 0 leaves the effect out."""

    time_constant: float = 3.2
    """Of the signal, mean [s]"""
    time_constant_error: float = 2.4
    """Standard deviation [s]; with the mean that of the size of a normal number of 4 s, since no lag is negative"""
    thermal_lag: float = 3.2
    """Of a sample behind its programme, mean [s]"""
    thermal_lag_error: float = 2.4
    drift: float = 10.0
    """Of the signal over an isothermal run, standard deviation [W/kg]"""
    start: float = 60.0
    """Time an isothermal sample reacts before its record begins, root mean square [s]"""
    mass: float = 0.02
    """Of a sample, standard deviation over it"""
    baseline: float = 0.006
    """Bends of the baseline under the exotherm of a ramp, standard deviation over the peak"""
    step: float = 110.0
    """Of the heat capacity before the exotherm of a ramp, or where it begins, standard deviation [J/kg/K]"""

    @property
    def lags(self) -> bool:
        """Whether the lags are fitted."""
        return any((*self.lag_means, self.time_constant_error, self.thermal_lag_error))

    @property
    def lag_means(self) -> tuple[float, float]:
        return self.time_constant, self.thermal_lag

    @property
    def lag_errors(self) -> tuple[float, float]:
        return max(self.time_constant_error, KNOWN), max(self.thermal_lag_error, KNOWN)

    def without_lags(self) -> Instrument:
        """The same but for the lags, which are taken to be none."""
        return replace(self, time_constant=0.0, time_constant_error=0.0, thermal_lag=0.0, thermal_lag_error=0.0)

    def lag_bounds(self) -> tuple[Array, Array]:
        """(2,) each: a time constant is not negative; else six standard deviations."""
        mean, error = np.array(self.lag_means), np.array(self.lag_errors)
        low = mean - 6.0 * error
        low[0] = max(low[0], 0.0)
        return low, mean + 6.0 * error


EXACT = Instrument(0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0)
"""An instrument and samples without a fault: only noise is left."""


@dataclass(frozen=True)
class Nuisance:
    """One thing that may be off in a run."""

    kind: str
    """``mass``, ``drift``, ``bend``, ``start``, ``baseline``, ``step`` or ``tangent``"""
    deviation: float
    """Standard deviation of its prior, in its own unit: 1, W/kg, s, share of the peak, J/kg/K, W/kg"""
    column: Array
    """(2 points,) what one such deviation does to the run's residuals, rates before degrees of cure"""
    heat: float
    """What it does to the run's heat [J/kg]"""
    mean: float = 0.0
    """Of its prior"""


@dataclass(frozen=True)
class Estimate:
    """What a run says of one of these."""

    kind: str
    value: float
    error: float
    prior: float
    """Standard deviation before the fit; all in the unit of the nuisance"""
    mean: float = 0.0
    """Before the fit"""

    @property
    def deviations(self) -> float:
        """How far it is from what was expected, by standard deviation of the prior."""
        return (self.value - self.mean) / self.prior


def disturbances(run: Run, instrument: Instrument) -> list[Nuisance]:
    """What may be off in a run, by these priors."""
    found: list[Nuisance] = []
    t = run.t
    if run.dynamic:
        found += _of_ramp(run, instrument)
    if not run.dynamic and instrument.drift > 0.0:
        x = (t - t[0]) / (t[-1] - t[0])
        found.append(_of_signal(run, "drift", instrument.drift, x))
        found += [_of_signal(run, "bend", instrument.drift / 3.0, np.sin(k * np.pi * x)) for k in (1, 2)]
        found += [_of_signal(run, "bend", SETTLING * instrument.drift, np.exp(-(t - t[0]) / scale)) for scale in SETTLES]
    if not run.dynamic and instrument.start > 0.0:
        even = run.law_rate if run.law_rate is not None else smooth(run.rate, max(len(t) // 60, 3))
        mean, error = instrument.start * np.array(POSITIVE)
        found.append(replace(_of_cure(run, "start", float(error), np.gradient(even, t), even - even[0], 0.0), mean=float(mean)))
    if run.on_ramps and instrument.mass > 0.0:
        found.append(_of_cure(run, "mass", instrument.mass, run.rate, run.alpha, run.heat))
    return found


def _of_ramp(run: Run, instrument: Instrument) -> list[Nuisance]:
    """Of the baseline under the exotherm of a ramp."""
    t, found = run.t, []
    top = float(np.max(run.rate)) * run.on
    begin, end = np.interp(EXOTHERM, np.maximum.accumulate(run.alpha), t)
    if run.truncated and instrument.baseline > 0.0:
        found += _of_tangent(run)
        # It is carried on over the whole exotherm.
        far = (t - t[0]) / (t[-1] - t[0]) if run.truncated == "tail" else (t[-1] - t) / (t[-1] - t[0])
        found += [_of_signal(run, "baseline", times * instrument.baseline, top * shape) for times, shape in ((4.0, far), (2.0, far**2))]
    elif instrument.baseline > 0.0:
        x = np.clip((t - begin) / (end - begin), 0.0, 1.0)
        found += [_of_signal(run, "baseline", instrument.baseline / k, top * np.sin(np.pi * k * x)) for k in range(1, BENDS + 1)]
    if run.truncated and instrument.step > 0.0:
        # A heat capacity that changes with cure, which no tangent sees.
        found.append(_of_signal(run, "baseline", instrument.step, run.heating_rate * run.alpha))
    if run.truncated != "start" and instrument.step > 0.0:
        wide = 0.1 * (end - begin)
        found += [_of_signal(run, "step", instrument.step, 0.5 * run.heating_rate * (1.0 + np.tanh((t - place) / wide)))
                  for place in (0.5 * (run.windows[1] + begin), begin)]
    return found


def _of_tangent(run: Run) -> list[Nuisance]:
    """What the noise in its window does to a tangent, which carries it over the whole exotherm."""
    size, axes = np.linalg.eigh(run.functionals @ run.functionals.T)
    return [_of_cure(run, "tangent", run.noise * float(np.sqrt(v)), *_counted(run, run.basis @ axis)) for v, axis in zip(size, axes.T, strict=True)
            if v > NEXT_TO_NOTHING * size[-1]]


def weight_of(run: Run) -> float:
    """Of a run's residuals."""
    return _core.fit.run_weight(len(run.t))


def residual_scale(loss_scale: float, runs: Sequence[Run]) -> float:
    """Residual from which a robust loss lets go; that of cups where there are no runs."""
    return loss_scale * float(np.median([weight_of(run) for run in runs])) if runs else 3.0


def _of_signal(run: Run, kind: str, deviation: float, signal: Array) -> Nuisance:
    """Of a disturbance of the heat flow [W/kg], for one unit of it."""
    return _of_cure(run, kind, deviation, *_counted(run, signal - run.basis @ (run.functionals @ signal)))


def _counted(run: Run, signal: Array) -> tuple[Array, Array, float]:
    """Rate, degree of cure and heat of a signal above the baseline [W/kg]."""
    steps = np.diff(run.t)
    alpha = np.concatenate([[0.0], np.cumsum(0.5 * steps * (signal[1:] + signal[:-1]))])
    heat = float(alpha[-1])
    rate, alpha = signal / run.on, alpha / run.on
    if run.total_heat is None:
        rate, alpha = rate - run.rate * heat / run.heat, alpha - run.alpha * heat / run.heat
    return rate, alpha, heat


def _of_cure(run: Run, kind: str, deviation: float, rate: Array, alpha: Array, heat: float) -> Nuisance:
    """Of a disturbance of rate and degree of cure, for one unit of it. Residuals are model less measured."""
    column = -deviation * weight_of(run) * np.concatenate([rate / np.max(run.rate), alpha])
    return Nuisance(kind, deviation, column, deviation * heat)


def offset(run: Run, found: Sequence[Nuisance]) -> Array:
    """(2 points,) or none: what residuals lack of a lost start that the model has already (``Run.lost``), beyond what is expected."""
    begun = [n for n in found if n.kind == "start"]
    return (run.lost - begun[0].mean) / begun[0].deviation * begun[0].column if begun else np.empty(0)


def advanced(run: Run, rate: Array, alpha: Array, instrument: Instrument) -> Run:
    """An isothermal run with the lost start that a law's curves tell; the model then has it, to more than first order."""
    if run.dynamic or instrument.start <= 0.0:
        return run
    found = disturbances(run, instrument)
    residuals = weight_of(run) * np.concatenate([(rate - run.rate) / np.max(run.rate), alpha - run.alpha])
    before = offset(run, found)
    said = estimates(found, residuals + before)
    lost = next(e.value for e in said if e.kind == "start")
    return replace(run, lost=float(np.clip(lost, 0.0, 6.0 * instrument.start)), law_rate=rate)


def shapes(found: Sequence[Nuisance]) -> tuple[Array, list[float]]:
    """Orthonormal shapes (2 points, k), and how much of each the whitening takes out."""
    if not found:
        return np.empty((0, 0)), []
    B = np.column_stack([n.column for n in found])
    # By the few inner products: singular values of so long a matrix take ten times as long. What they lose takes next to nothing out.
    squares, turned = np.linalg.eigh(B.T @ B)
    seen = squares > NEXT_TO_NOTHING * squares[-1]
    left = B @ (turned[:, seen] / np.sqrt(squares[seen]))
    return np.ascontiguousarray(left), [float(v) for v in 1.0 - 1.0 / np.sqrt(1.0 + squares[seen])]


def whitened(found: Sequence[Nuisance], rows: Array) -> Array:
    """(I + B B')^-1 times rows (2 points, ...): what is left of them once the nuisances have been fitted with their priors."""
    if not found:
        return rows
    B = np.column_stack([n.column for n in found])
    return np.asarray(rows - B @ np.linalg.solve(np.eye(B.shape[1]) + B.T @ B, B.T @ rows))


def uncertain(found: Sequence[Nuisance]) -> Array:
    """(k, k) covariance of nuisances at given constants, by standard deviation of their priors."""
    B = np.column_stack([n.column for n in found])
    return np.asarray(np.linalg.inv(np.eye(B.shape[1]) + B.T @ B))


def estimates(found: Sequence[Nuisance], residuals: Array) -> list[Estimate]:
    """What a run's residuals (2 points,) at the fit's constants say of its nuisances."""
    if not found:
        return []
    B = np.column_stack([n.column for n in found])
    inverse = uncertain(found)
    theta = inverse @ (B.T @ residuals)
    return [Estimate(n.kind, n.mean + n.deviation * float(v), n.deviation * float(np.sqrt(e)), n.deviation, n.mean)
            for n, v, e in zip(found, theta, np.diag(inverse), strict=True)]


def systematic_heat(run: Run, instrument: Instrument) -> float:
    """Standard error of a ramp's heat by its baseline, over that heat."""
    return float(np.sqrt(sum(n.heat**2 for n in disturbances(run, instrument) if n.kind in ("baseline", "step")))) / run.heat
