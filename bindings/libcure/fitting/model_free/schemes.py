"""Schemes of several steps that the engine does not hold, fitted here: A to B to C, and three independent steps.

    sequential           a' = k1 (1 - a)^n1,  c' = k2 (a - c)^n2;  alpha = s a + (1 - s) c
    three-step parallel  alpha = sum of s_i a_i,  a_i' = k_i (1 - a_i)^n_i

with k = k_ref exp(-E/R (1/T - 1/T_ref)). An n-th order step is solved in closed form over its generalised time; the second one of
A to B to C from point to point, exactly for n2 = 1 and to second order else. Runs are thinned, the model's rate goes through
each run's baseline as the data did, what may be off in a run is taken out by its priors (instrument.py), and the lag of sample and
signal is one constant more, with its prior. Of reactions in series and side by side: S. Vyazovkin et al., Thermochim. Acta 689 (2020)
178597, from memory.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import NDArray

from libcure.fitting.instrument import Instrument, disturbances, shapes, weight_of, whitened
from libcure.fitting.model_free.steps import GAS_CONSTANT
from libcure.fitting.run import Run
from libcure.stopping import heed

__all__ = ["SCHEMES", "SchemeFit", "fit_scheme"]

Array = NDArray[np.float64]
SCHEMES = ("sequential", "three-step parallel")
THIN = 160  # points of a run
ORDERS = (0.3, 4.0)
ROUGH, CLOSE = 1e-3, 1e-6  # of the misfit: of starts and runs left out, and of the fit
TRIES = {ROUGH: 30, CLOSE: 60}  # evaluations at most
SLOW, FAST = 12.0, 12.0  # of ln k about what the peaks tell
ENERGIES = (20e3, 250e3)  # J/mol
NOTHING = 1e-9


@dataclass(frozen=True)
class SchemeFit:
    """A scheme with its constants."""

    name: str
    T_ref: float
    """[K]"""
    x: Array
    """Constants, inside"""
    constants: tuple[tuple[str, float, str], ...]
    """Key, value and unit, outside"""
    rms_rate: float
    """Root mean square misfit of the rate over the run's peak, less what may be off in a run"""
    left_out: dict[str, float]
    """The same of runs left out in turn, by run"""

    @property
    def rms_left_out(self) -> float:
        return float(np.sqrt(np.mean(np.square(list(self.left_out.values()))))) if self.left_out else np.nan

    @property
    def writable(self) -> bool:
        """Whether the format of model files holds it: parallel branches, and none in series."""
        return self.name == "three-step parallel"


class Data:
    """Thinned runs side by side; where one has fewer points its last one is repeated."""

    def __init__(self, runs: Sequence[Run], instrument: Instrument) -> None:
        self.runs, self.instrument = list(runs), instrument
        self.thin = [run.thinned(THIN) for run in runs]
        count = max(len(run.t) for run in self.thin)
        self.time = np.stack([_padded(run.t, count) for run in self.thin])
        self.T = np.stack([_padded(run.T, count) for run in self.thin])
        self.beta = np.array([run.heating_rate for run in runs])[:, None]
        self.shapes = [shapes(disturbances(run, instrument)) for run in self.thin]

    def residuals(self, rate: Array) -> Array:
        """(P, residuals) of rates (P, n, k) along the runs."""
        out = []
        for i, run in enumerate(self.thin):
            r, alpha = treated(run, rate[:, i, : len(run.t)])
            rows = weight_of(run) * np.concatenate([(r - run.rate) / np.max(run.rate), alpha - run.alpha], axis=1)
            U, shrink = self.shapes[i]
            out.append(rows - (rows @ U * shrink) @ U.T if len(shrink) else rows)
        return np.concatenate(out, axis=1)


def _padded(x: Array, count: int) -> Array:
    return np.concatenate([x, np.full(count - len(x), x[-1])])


def treated(run: Run, rate: Array) -> tuple[Array, Array]:
    """(P, k) rates and degrees of cure of a model, with baseline and normalisation of the run."""
    shown = rate - (rate @ run.functionals.T) @ run.basis.T
    steps = 0.5 * np.diff(run.t) * (shown[:, 1:] + shown[:, :-1])
    alpha = np.concatenate([np.zeros((len(rate), 1)), np.cumsum(steps, axis=1)], axis=1)
    whole = np.maximum(alpha[:, -1:], NOTHING) if run.total_heat is None else 1.0
    return shown / whole, alpha / whole


def _step(data: Data, T_ref: float, x: Array, lag: Array) -> tuple[Array, Array, Array]:
    """k (P, n, k), what has reacted and its rate, of n-th order steps with ln k, E and order x (P, 3)."""
    T = data.T - data.beta * lag[:, None, None]
    k = np.exp(np.clip(x[:, 0, None, None] - x[:, 1, None, None] / GAS_CONSTANT * (1.0 / T - 1.0 / T_ref), -300.0, 50.0))
    theta = np.concatenate([np.zeros_like(k[..., :1]), np.cumsum(0.5 * np.diff(data.time) * (k[..., 1:] + k[..., :-1]), axis=-1)], axis=-1)
    n = x[:, 2, None, None]
    n = np.where(np.abs(n - 1.0) < 1e-4, 1.0001, n)
    left = np.maximum(1.0 + (n - 1.0) * theta, 0.0) ** (1.0 / (1.0 - n))
    return k, 1.0 - left, k * left**n


def rates(name: str, data: Data, T_ref: float, x: Array) -> Array:
    """(P, n, k) rates of a scheme with constants x (P, p), the lag last."""
    lag = x[:, -1]
    if name == "three-step parallel":
        a, b = 1.0 / (1.0 + np.exp(-x[:, 9:11].T))
        shares = np.stack([a, (1.0 - a) * b, (1.0 - a) * (1.0 - b)])[:, :, None, None]
        return np.asarray(sum(shares[i] * _step(data, T_ref, x[:, 3 * i : 3 * i + 3], lag)[2] for i in range(3)))
    share = 1.0 / (1.0 + np.exp(-x[:, 6, None, None]))
    _, a, first = _step(data, T_ref, x[:, :3], lag)
    k, _, _ = _step(data, T_ref, x[:, 3:6], lag)
    return share * first + (1.0 - share) * _second(data, a, k, x[:, 5, None])


def _second(data: Data, a: Array, k: Array, n: Array) -> Array:
    """Rate of B to C, where ``a`` has left A: b' = a' - k b^n, by its exponential from point to point."""
    b = np.zeros_like(a)
    h = np.diff(data.time)
    come, middle = np.diff(a, axis=-1), 0.5 * (k[..., 1:] + k[..., :-1])
    for j in range(a.shape[-1] - 1):
        now = b[..., j]
        guess = now + 0.5 * come[..., j]
        for _ in range(2):
            speed = middle[..., j] * np.maximum(guess, NOTHING) ** (n - 1.0) * h[:, j]
            kept = np.exp(-speed)
            after = now * kept + come[..., j] * np.where(speed > 1e-8, -np.expm1(-speed) / np.maximum(speed, 1e-300), 1.0)
            guess = 0.5 * (now + after)
        b[..., j + 1] = after
    return np.asarray(k * np.maximum(b, 0.0) ** n[..., None])


def fit_scheme(name: str, runs: Sequence[Run], E: float, instrument: Instrument | None = None) -> SchemeFit:
    """Fits one of :data:`SCHEMES` to all runs, and leaves each run out in turn.

    Args:
        E: mean activation energy, to start from [J/mol].
    """
    priors = instrument or Instrument()
    data = Data(runs, priors)
    T_ref = float(np.mean([run.T[int(np.argmax(run.rate))] for run in runs]))
    fast = float(np.median([np.log(2.0 * np.max(run.rate)) + E / GAS_CONSTANT * (1.0 / run.T[int(np.argmax(run.rate))] - 1.0 / T_ref) for run in runs]))
    ends = [_searched(name, data, T_ref, fast, start, ROUGH) for start in _starts(name, fast, E, priors)]
    x = _searched(name, data, T_ref, fast, min(ends, key=lambda end: end[0])[1], CLOSE)[1]
    left = {}
    for i, run in enumerate(runs if len(runs) > 2 else ()):
        rest = Data([*runs[:i], *runs[i + 1 :]], priors)
        left[run.id] = _missed(name, Data([run], priors), T_ref, _searched(name, rest, T_ref, fast, x, ROUGH)[1])
    misses = [_missed(name, Data([run], priors), T_ref, x) for run in runs]
    return SchemeFit(name, T_ref, x, _outside(name, x), float(np.sqrt(np.mean(np.square(misses)))), left)


def _starts(name: str, fast: float, E: float, instrument: Instrument) -> list[Array]:
    lag = float(np.sum(instrument.lag_means)) if instrument.lags else 0.0
    if name == "sequential":
        return [np.array([fast + d1, E * e1, 1.0, fast + d2, E * e2, 1.0, 0.0, lag])
                for d1, e1, d2, e2 in ((1.0, 0.8, -1.0, 1.2), (0.0, 0.9, 0.5, 1.1), (0.5, 1.2, -1.0, 0.8))]
    return [np.array([fast + 1.0, E * low, 1.0, fast, E, 1.0, fast - 1.5, E * high, 1.0, -0.7, 0.0, lag])
            for low, high in ((0.75, 1.25), (1.2, 0.8))]


def _searched(name: str, data: Data, T_ref: float, fast: float, start: Array, tolerance: float) -> tuple[float, Array]:
    """Misfit and constants from one start; tolerance: of the misfit, over it."""
    mean = float(np.sum(data.instrument.lag_means))
    error = float(np.hypot(*data.instrument.lag_errors)) if data.instrument.lags else 1e-3
    steps = 2 if name == "sequential" else 3
    low = np.array([*[fast - SLOW, ENERGIES[0], ORDERS[0]] * steps, *[-5.0] * (steps - 1), mean - 6.0 * error])
    high = np.array([*[fast + FAST, ENERGIES[1], ORDERS[1]] * steps, *[5.0] * (steps - 1), mean + 6.0 * error])
    scale = np.array([*[1.0, 1e4, 0.5] * steps, *[1.0] * (steps - 1), error])

    def residuals(x: Array) -> Array:
        heed()
        return np.append(data.residuals(rates(name, data, T_ref, x[None]))[0], (x[-1] - mean) / error)

    def slopes(x: Array) -> Array:
        h = 1e-5 * scale * np.where(x + 1e-5 * scale < high, 1.0, -1.0)
        rows = data.residuals(rates(name, data, T_ref, np.vstack([x, x + np.diag(h)])))
        J = (rows[1:] - rows[0]).T / h
        return np.vstack([J, np.where(np.arange(len(x)) == len(x) - 1, 1.0 / error, 0.0)])

    inside = np.clip(start, low + 1e-6 * scale, high - 1e-6 * scale)
    end = scipy.optimize.least_squares(residuals, inside, slopes, (low, high), x_scale=scale, xtol=1e-8, ftol=tolerance, max_nfev=TRIES[tolerance])
    return float(end.cost), np.asarray(end.x)


def _missed(name: str, data: Data, T_ref: float, x: Array) -> float:
    """Root mean square of the rate over the run's peak, on all its points, less what may be off in the run alone; as left_out.py has it of laws."""
    run, thin = data.runs[0], data.thin[0]
    fine = scipy.interpolate.CubicSpline(thin.t, rates(name, data, T_ref, x[None])[0, 0, : len(thin.t)])(np.clip(run.t, thin.t[0], thin.t[-1]))
    rate, alpha = treated(run, fine[None])
    rows = np.concatenate([(rate[0] - run.rate) / np.max(run.rate), alpha[0] - run.alpha])
    missed = whitened(disturbances(run, data.instrument), rows)[: len(run.t)]
    return float(np.sqrt(np.mean(missed**2)))


def _outside(name: str, x: Array) -> tuple[tuple[str, float, str], ...]:
    """Constants with keys and units."""
    steps = 2 if name == "sequential" else 3
    rows = []
    for i in range(steps):
        ln_k, E, n = x[3 * i : 3 * i + 3]
        rows += [(f"k{i + 1}_1_s", float(np.exp(ln_k)), "1/s"), (f"E{i + 1}_kJ_mol", float(E) / 1e3, "kJ/mol"), (f"n{i + 1}", float(n), "1")]
    shares = 1.0 / (1.0 + np.exp(-x[3 * steps : 4 * steps - 1]))
    rest = 1.0
    for i, share in enumerate(shares):
        rows.append((f"share{i + 1}", float(rest * share), "1"))
        rest *= 1.0 - float(share)
    return (*rows, (f"share{steps}", rest, "1"), ("lag_s", float(x[-1]), "s"))
