"""From readings to what they say about the unknowns: most likely values, and weighted rows about them.

The unknowns theta are standard normal before the readings; readings say little of some of them, such as the degree of
cure at which diffusion stops a resin, and those keep their spread. With residuals z = (reading - model - probe error) / s
of n readings, Student-t with nu = 4 degrees of freedom (K.L. Lange, R.J.A. Little, J.M.G. Taylor, J. Am. Stat.
Assoc. 84, 881, 1989, from memory), so that a wrong reading has a bounded pull:

    -ln p(theta) = theta.theta / 2 + sum_i w_i (nu + 1) / 2 ln(1 + z_i^2 / nu)

A model errs for many minutes the same way, so readings are far from independent: counted one by one, thousands of
them would shrink the band to nothing about a wrong answer. Each reading therefore counts only as its share of a
correlation time, w_i = min(1, spacing / tau): T minutes of log are worth T / tau readings, however dense (the
effective number of observations of an autocorrelated series: G.V. Bayley, J.M. Hammersley, Suppl. J. R. Stat. Soc.
8, 184, 1946, from memory). What errs the same way for ever, the probe and the logger's clock, is unknown itself.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.following.unknowns import NUISANCES, Job
from libcure.sampling import normal, unit_points

__all__ = [
    "CORRELATION_TIME",
    "MODEL_SD",
    "SENSOR_SD",
    "Data",
    "Fit",
    "Off",
    "Prior",
    "Weighted",
    "fit",
    "least_cost",
    "sample",
    "time_grid",
    "weigh",
]

Floats = NDArray[np.float64]
Prior = tuple[Floats, Floats]
"""Rows x (n, unknowns + nuisances) as they may be before the readings, and their temperatures (n, grid) [K]."""
SENSOR_SD = 0.3  # K, of one reading; assumption, no source
MODEL_SD = 0.7  # K, of the model; assumption, no source
MODEL_SHARE = 0.03  # of the range of temperatures that the wall goes through; assumption, no source
CORRELATION_TIME = 600.0  # s, of the model's error; assumption, no source
NU = 4.0
FURTHEST = 4.5  # standard deviations that an unknown may move
REACH = 4.0  # standard deviations of the clock, for which the wall is known after the last reading
STEP = 0.2  # of theta, for differences: well above the solver's tolerance
NEAREST = 30.0  # s; denser readings are taken together
OFF_LAG = 120.0  # s, in which a probe that comes off goes over to the fill; assumption, no source


@dataclass(frozen=True, eq=False)
class Data:
    """The readings as the likelihood sees them."""

    t: Floats
    """(n,) rising [s]."""
    T: Floats
    """(n,) [K]."""
    sd: Floats
    """(n,) of sensor and model [K]."""
    weight: Floats
    """(n,) share of a correlation time [-]."""


@dataclass(frozen=True, eq=False)
class Fit:
    """The most likely values."""

    x: Floats
    """(unknowns + nuisances,) standard normal: theta, then those of ``NUISANCES``."""
    covariance: Floats
    """Of x, by Laplace's method."""
    z: Floats
    """(n,) residuals over their standard deviation."""
    cost: float
    """Sum of w (nu + 1) / 2 ln(1 + z^2 / nu): the readings' part."""

    def total(self, *, free: bool = False) -> float:
        """-ln p; ``free`` takes the clock as if nothing were known of it."""
        x = self.x[:-1] if free else self.x
        return self.cost + 0.5 * float(x @ x)


@dataclass(frozen=True)
class Off:
    """A probe that has lost its contact: it shows the fill of the bladder by a share, the wall by the rest."""

    since: float
    """[s]"""
    share: float

    def at(self, t: Floats) -> Floats:
        """Share of the fill (n,) at times [s]."""
        return np.asarray(self.share * -np.expm1(-np.maximum(t - self.since, 0.0) / OFF_LAG))


@dataclass(frozen=True, eq=False)
class Weighted:
    """Rows that together stand for what is known after the readings."""

    x: Floats
    """(n, unknowns + nuisances)"""
    weight: Floats
    """(n,) adding to 1."""
    effective: float
    """Rows of equal weight that would tell as much: 1 / sum w^2 (A. Kong, tech. report 348, Univ. Chicago, 1992,
    from memory)."""


def time_grid(held: tuple[float, float], end: float) -> Floats:
    """Times to know the wall at [s]: dense after it is pressed on, then one in a hundred of the time since."""
    before = np.linspace(0.0, held[0], max(2, int(held[0] / 60.0) + 1))
    early = np.array([1.0, 5.0, 10.0, *np.arange(20.0, 2000.0, 20.0)])
    late = 2000.0 * 1.01 ** np.arange(0.0, 1000.0)
    after = np.concatenate([early, late])
    last = min(end, held[1])
    return np.unique(np.concatenate([before, held[0] + after[after < last - held[0]], [last]]))


def weigh(t: Floats, T: Floats, span: float) -> Data:
    """Takes dense readings together and gives each its weight.

    Args:
        t: times (n,) rising [s].
        T: temperatures (n,) [K].
        span: range of temperatures that the likely wall goes through while they last [K].
    """
    group = np.floor(t / NEAREST).astype(np.int64)
    starts = np.flatnonzero(np.concatenate([[True], np.diff(group) > 0]))
    parts = np.split(np.arange(t.size), starts[1:])
    t, T = np.array([np.mean(t[p]) for p in parts]), np.array([np.median(T[p]) for p in parts])
    half = 0.5 * np.diff(t)
    spacing = np.concatenate([[0.0], half]) + np.concatenate([half, [0.0]])
    sd = np.full(t.size, np.hypot(SENSOR_SD, max(MODEL_SD, MODEL_SHARE * span)))
    return Data(t, T, sd, np.minimum(1.0, spacing / CORRELATION_TIME))


class _Misfit:
    """Residuals for least squares: half their squared sum is -ln p(x)."""

    def __init__(self, job: Job, data: Data, grid: Floats, clock_sd: float, off: Off | None = None) -> None:
        self.job, self.data, self.grid, self.clock_sd, self.off = job, data, grid, clock_sd, off
        self.k = job.unknowns
        self.traces: dict[bytes, Floats] = {}
        # Not at a grid, which would smooth the jump when the liner is held.
        self.fill = job.media(np.zeros((1, self.k)), grid)[0]

    def z(self, traces: Floats, x: Floats) -> Floats:
        """Residuals (rows, n) over their standard deviation, of each row's trace; reading i was taken at t_i + clock."""
        probe, share = (n.sd * x[:, self.k + j, None] for j, n in enumerate(NUISANCES[:2]))
        t = self.data.t + self.clock_sd * x[:, -1, None]
        wall = np.array([np.interp(row, self.grid, trace) for row, trace in zip(t, traces, strict=True)])
        offset = self.job.changes(x).get("fill_temperature_offset_K", np.zeros(len(x)))
        fill = np.interp(t, self.grid, self.fill) + offset[:, None]
        share = share / 100.0
        if self.off is not None:
            share = share + self.off.at(self.data.t)
        z = (self.data.T - wall - share * (fill - wall) - probe) / self.data.sd
        # A row that cannot be computed is as unlikely as can be.
        return np.where(np.isnan(z), 1e3, z)

    def costs(self, traces: Floats, x: Floats) -> Floats:
        """The readings' part of -ln p of each row."""
        return np.asarray((self.data.weight * 0.5 * (NU + 1.0) * np.log1p(self.z(traces, x) ** 2 / NU)).sum(axis=1))

    def residuals_of(self, trace: Floats, x: Floats) -> Floats:
        z = self.z(trace[None], x[None])[0]
        robust = np.sign(z) * np.sqrt(self.data.weight * (NU + 1.0) * np.log1p(z**2 / NU))
        return np.concatenate([robust, x])

    def trace(self, x: Floats) -> Floats:
        key = x[: self.k].tobytes()
        if key not in self.traces:
            self.traces = {key: self.job.traces(x[None, : self.k], self.grid)[0]}
        return self.traces[key]

    def residuals(self, x: Floats) -> Floats:
        return self.residuals_of(self.trace(x), x)

    def jacobian(self, x: Floats) -> Floats:
        steps = STEP * np.eye(x.size)
        rows = np.concatenate([x + steps[: self.k], x - steps[: self.k]])
        traces = self.job.traces(rows[:, : self.k], self.grid)
        columns = []
        for j in range(x.size):
            up, down = (traces[j], traces[self.k + j]) if j < self.k else (self.trace(x), self.trace(x))
            difference = self.residuals_of(up, x + steps[j]) - self.residuals_of(down, x - steps[j])
            columns.append(difference / (2.0 * STEP))
        return np.stack(columns, axis=1)


def least_cost(job: Job, data: Data, grid: Floats, prior: Prior, clock_sd: float) -> float:
    """The lowest -ln p among rows."""
    rows, traces = prior
    cost = _Misfit(job, data, grid, clock_sd).costs(traces, rows) + 0.5 * (rows**2).sum(axis=1)
    return float(cost.min())


def fit(
    job: Job,
    data: Data,
    grid: Floats,
    prior: Prior,
    clock_sd: float,
    clocks: Floats | None = None,
    offs: Sequence[Off | None] = (None,),
) -> tuple[Fit, Off | None]:
    """The most likely values, from the best of many starts, and which of ``offs`` they go with.

    Args:
        prior: rows to start from.
        clock_sd: standard deviation of the logger's clock [s].
        clocks: of each of which every row is tried, over ``clock_sd``; None keeps the rows' own.
        offs: ways in which the probe may have lost its contact, each tried; None: it has not.
    """
    from scipy.optimize import least_squares

    rows, traces = prior
    # What comes after the readings costs time and tells nothing here.
    near = slice(0, int(np.searchsorted(grid, data.t[-1] + REACH * clock_sd)) + 1)
    grid, traces = grid[near], traces[:, near]
    best, start, misfit = np.inf, rows[0], _Misfit(job, data, grid, clock_sd, offs[0])
    for off in offs:
        tried_misfit = _Misfit(job, data, grid, clock_sd, off)
        for clock in [None] if clocks is None else clocks:
            tried = rows.copy()
            if clock is not None:
                tried[:, -1] = clock
            cost = tried_misfit.costs(traces, tried) + 0.5 * (tried**2).sum(axis=1)
            if cost.min() < best:
                best, start, misfit = float(cost.min()), tried[int(cost.argmin())], tried_misfit
    found = least_squares(
        misfit.residuals, np.clip(start, -4.0, 4.0), misfit.jacobian, bounds=(-FURTHEST, FURTHEST), xtol=1e-4, ftol=1e-5,
        gtol=1e-5, max_nfev=40,
    )  # fmt: skip
    x = np.asarray(found.x)
    J, trace = misfit.jacobian(x), misfit.trace(x)
    covariance = np.asarray(np.linalg.inv(J.T @ J), np.float64)
    z, cost = misfit.z(trace[None], x[None])[0], float(misfit.costs(trace[None], x[None])[0])
    return Fit(x, covariance, z, cost), misfit.off


def _log_normal(x: Floats, mean: Floats, covariance: Floats) -> Floats:
    """Logarithm of a normal density at rows x."""
    L = np.linalg.cholesky(covariance)
    u = np.linalg.solve(L, (x - mean).T)
    return np.asarray(-0.5 * (u**2).sum(axis=0) - np.log(np.diag(L)).sum() - 0.5 * mean.size * np.log(2.0 * np.pi))


def sample(
    job: Job, data: Data, grid: Floats, prior: Prior, found: Fit, seed: int, least: float
) -> tuple[Weighted, Floats]:
    """Weighted rows by importance sampling, about the most likely values and before the readings, and their traces.

    All rows count against the mixture of what they were drawn from (the balance heuristic: E. Veach, L.J. Guibas,
    SIGGRAPH 95, 419, 1995; A. Owen, Y. Zhou, J. Am. Stat. Assoc. 95, 135, 2000; both from memory). While too few
    count, the normal distribution is fitted to the weighted rows and as many are drawn again, at most three times.
    """
    misfit = _Misfit(job, data, grid, NUISANCES[-1].sd)
    x, traces = prior
    n, d = x.shape
    proposals = [(np.zeros(d), np.eye(d))]
    mean, covariance = found.x, 1.2**2 * found.covariance
    costs = misfit.costs(traces, x)
    rows = Weighted(x, np.full(n, 1.0 / n), float(n))
    for turn in range(3):
        proposals.append((mean, covariance))
        points = normal(unit_points(d, n, seed + 1 + turn))
        fresh = mean + points @ np.linalg.cholesky(covariance).T
        # As for the search: what is that far out has no weight to speak of.
        fresh = np.clip(fresh, -6.0, 6.0)
        more = job.traces(fresh[:, : misfit.k], grid)
        x, traces = np.concatenate([x, fresh]), np.concatenate([traces, more])
        costs = np.concatenate([costs, misfit.costs(more, fresh)])
        mixture = np.logaddexp.reduce([_log_normal(x, m, C) for m, C in proposals], axis=0)
        log_weight = _log_normal(x, np.zeros(d), np.eye(d)) - costs - mixture
        weight = np.exp(log_weight - log_weight.max())
        weight /= weight.sum()
        rows = Weighted(x, weight, float(1.0 / (weight**2).sum()))
        if rows.effective >= least:
            break
        mean = weight @ x
        covariance = (x - mean).T @ ((x - mean) * weight[:, None]) + 0.05 * found.covariance
    return rows, traces
