"""From measurements to what they say of a resin: weighted rows of a family's quantities.

Rows of the prior are moved towards the measurements in a few steps by their own covariances (ensemble Kalman inversion: M.A. Iglesias, K.J.H.
Law, A.M. Stuart, Inverse Problems 29, 045001, 2013; from memory); a normal distribution about them is then what rows are drawn from and
weighted by importance, and fitted again to the weighted ones until enough of them count. All rows count against the mixture of all that they were
drawn from (the balance heuristic: A. Owen, Y. Zhou, J. Am. Stat. Assoc. 95, 135, 2000; from memory). Errors are Student-t with 4 degrees of
freedom, so that a stray measurement has a bounded pull. This stands in place of a general sampler because a row costs a millisecond and any
number of rows can be asked at once.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.sampling import normal, unit_points
from libcure.studying.family import Family
from libcure.studying.measurements import CUP_SD, Measurement

__all__ = ["BATCH_SD", "Posterior", "Rows", "explore", "log_likelihood", "placed", "resins_of"]

Floats = NDArray[np.float64]
NU = 4.0
ENOUGH = 300.0
"""Rows of equal weight that a band rests on at least, if the rounds suffice."""
FURTHEST = 6.0
TOWARDS = (0.02, 0.08, 0.2, 0.3, 0.4)
"""Shares of the measurements' weight that the rows of the prior are moved by, one after the other; together 1."""
BATCH_SD = 0.11
"""Of ln of the speed from batch to batch: delivery limits of polyester resins of ± 27 to 30 % taken as 2 to 3 standard deviations
(JIS K 6919 and a Chinese product standard, as quoted elsewhere)."""


def placed(document: dict[str, Any], values: dict[str, float]) -> dict[str, Any]:
    """A resin model with values at paths."""
    document = json.loads(json.dumps(document))
    for path, value in values.items():
        node = document
        for step in path.split("."):
            node = node[step]
        node["value"] = value
    return document


def resins_of(family: Family, u: Floats) -> Sequence[_core.Resin]:
    """Resins of rows u (n, dimensions)."""
    values = family.values(u)
    middle = {path: float(v[0]) for path, v in family.values(np.zeros((1, family.dimensions))).items()}
    text = json.dumps(placed(family.document(), middle))
    return _core.resin_samples(text, family.name, list(values), np.column_stack(list(values.values())))


def log_likelihood(observed: Floats, predicted: Floats, sd: Floats) -> Floats:
    """Of rows (n, components) of predictions, a number each component (n, components)."""
    z = (observed - predicted) / sd
    return np.asarray(-0.5 * (NU + 1.0) * np.log1p(z**2 / NU))


@dataclass(frozen=True, eq=False)
class Rows:
    """Rows with what each measurement would show of them."""

    x: Floats
    """(n, dimensions + kinds of cup), standard normal before the measurements."""
    predicted: Floats
    """(n, components)"""


class Asking:
    """What rows of a family show in measurements."""

    def __init__(self, family: Family, measurements: Sequence[Measurement], threads: int | None = None) -> None:
        self.family, self.measurements, self.threads = family, tuple(measurements), threads
        components = [c for m in measurements for c in m.components]
        self.observed = np.array([c.observed for c in components])
        self.sd = np.array([c.sd for c in components])
        self.columns = np.repeat(np.arange(len(measurements)), [len(m.components) for m in measurements])
        """Measurement of each component."""

        self.cups = sorted({m.cup for m in measurements if m.cup})

    @property
    def dimensions(self) -> int:
        """Normal numbers of a row: the resin's, and one a kind of cup."""
        return self.family.dimensions + len(self.cups)

    def rows(self, x: Floats) -> Rows:
        """Asks each row everything."""
        resins = resins_of(self.family, x[:, : self.family.dimensions])
        factors = np.exp(CUP_SD * x[:, self.family.dimensions :])

        def one(i: int) -> list[float]:
            shown: list[float] = []
            for m in self.measurements:
                factor = float(factors[i, self.cups.index(m.cup)]) if m.cup else 1.0
                shown.extend(m.ask(resins[i], factor))
            return shown

        with ThreadPoolExecutor(self.threads) as pool:
            found = list(pool.map(one, range(len(x)), chunksize=64))
        return Rows(x, np.array(found, float).reshape(len(x), self.observed.size))


@dataclass(frozen=True, eq=False)
class Posterior:
    """Rows that together stand for what is known of a resin."""

    family: Family
    asking: Asking
    rows: Rows
    weight: Floats
    """(n,) adding to 1, of the measurements that are not held back."""
    prior_weight: Floats
    """(n,) adding to 1, of the prior alone: the same rows as if nothing had been measured."""
    used: NDArray[np.bool_]
    """(components,) not held back."""

    @property
    def effective(self) -> float:
        """Rows of equal weight that would tell as much: 1 / sum w^2 (A. Kong, tech. report 348, Univ. Chicago, 1992, from memory)."""
        return float(1.0 / (self.weight**2).sum())

    @cached_property
    def quantities(self) -> dict[str, Floats]:
        """The family's quantities of the rows."""
        return self.family.quantities(self.rows.x[:, : self.family.dimensions])

    def kept(self, name: str) -> float:
        """Spread of a quantity over that of its prior: 1 means that the measurements say nothing of it."""
        j = [p.name for p in self.family.priors].index(name)
        u = self.rows.x[:, j]
        mean = float(self.weight @ u)
        return float(np.sqrt(self.weight @ (u - mean) ** 2))

    def resample(self, count: int, seed: int) -> NDArray[np.intp]:
        """Indices of rows, each as often as its weight asks (systematic resampling)."""
        start = np.random.default_rng(seed).random()
        return np.searchsorted(np.cumsum(self.weight), (np.arange(count) + start) / count).clip(0, self.weight.size - 1)

    def log_parts(self) -> Floats:
        """ln likelihood (n, components)."""
        return log_likelihood(self.asking.observed, self.rows.predicted, self.asking.sd)


def _log_normal(x: Floats, mean: Floats, covariance: Floats) -> Floats:
    L = np.linalg.cholesky(covariance)
    u = np.linalg.solve(L, (x - mean).T)
    return np.asarray(-0.5 * (u**2).sum(axis=0) - np.log(np.diag(L)).sum() - 0.5 * mean.size * np.log(2.0 * np.pi))


def _weights(log_weight: Floats) -> Floats:
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _effective(weight: Floats) -> float:
    return float(1.0 / (weight**2).sum())


def _flattened(base: Floats, log_l: Floats, least: float) -> Floats:
    """Weights with as much of the likelihood as leaves so many rows that count."""
    weight = _weights(base + log_l)
    if _effective(weight) >= least:
        return weight
    low, high = 0.0, 1.0
    for _ in range(30):
        share = 0.5 * (low + high)
        if _effective(_weights(base + share * log_l)) < least:
            high = share
        else:
            low = share
    return _weights(base + low * log_l)


def explore(
    family: Family,
    measurements: Sequence[Measurement],
    *,
    samples: int = 1024,
    seed: int = 20260101,
    rounds: int = 8,
    threads: int | None = None,
    progress: Callable[[int, float], None] | None = None,
) -> Posterior:
    """What measurements say of a resin.

    Args:
        family: what is believed before.
        measurements: those held back are asked for, but do not count.
        samples: rows a round, a power of two.
        seed: the same gives the same rows.
        rounds: at most.
        threads: to use; all processors when left out.
        progress: called after each round with its number and the rows that count.
    """
    asking = Asking(family, measurements, threads)
    d = asking.dimensions
    used = np.array([not measurements[int(i)].hold_back for i in asking.columns], np.bool_)
    prior = asking.rows(normal(unit_points(d, samples, seed)))
    moved = _towards(asking, prior, used, seed)
    proposals = [(np.zeros(d), np.eye(d)), _normal_about(moved.x, np.full(len(moved.x), 1.0 / len(moved.x)))]
    rows = prior
    for turn in range(rounds):
        mean, covariance = proposals[-1]
        fresh = mean + normal(unit_points(d, samples, seed + 1 + turn)) @ np.linalg.cholesky(covariance).T
        more = asking.rows(np.clip(fresh, -FURTHEST, FURTHEST))
        rows = Rows(np.concatenate([rows.x, more.x]), np.concatenate([rows.predicted, more.predicted]))
        mixture = np.logaddexp.reduce([_log_normal(rows.x, m, C) for m, C in proposals], axis=0)
        base = _log_normal(rows.x, np.zeros(d), np.eye(d)) - mixture
        log_l = log_likelihood(asking.observed, rows.predicted, asking.sd)[:, used].sum(axis=1)
        effective = _effective(_weights(base + log_l))
        if progress is not None:
            progress(turn + 1, effective)
        if effective >= ENOUGH or turn == rounds - 1:
            break
        proposals.append(_normal_about(rows.x, _flattened(base, log_l, 6.0 * d)))
    return Posterior(family, asking, rows, _weights(base + log_l), _weights(base), used)


def _towards(asking: Asking, rows: Rows, used: NDArray[np.bool_], seed: int) -> Rows:
    """Rows of the prior, moved towards the measurements."""
    rng = np.random.default_rng(seed)
    observed = asking.observed[used]
    # Of the Student-t errors, whose variance is twice that of a normal one.
    sd = math.sqrt(NU / (NU - 2.0)) * asking.sd[used]
    for share in TOWARDS:
        x, shown = rows.x, rows.predicted[:, used]
        dx, ds = x - x.mean(axis=0), shown - shown.mean(axis=0)
        spread = ds.T @ ds / len(x) + np.diag(sd**2 / share)
        gain = np.linalg.solve(spread, ds.T @ dx / len(x))
        noise = rng.normal(size=shown.shape) * sd / math.sqrt(share)
        rows = asking.rows(np.clip(x + (observed + noise - shown) @ gain, -FURTHEST, FURTHEST))
    return rows


def _normal_about(x: Floats, weight: Floats) -> tuple[Floats, Floats]:
    """Mean and covariance of weighted rows, a little wider."""
    mean = weight @ x
    off = x - mean
    covariance = (off * weight[:, None]).T @ off
    # A little of the prior keeps unknowns that few rows tell apart from collapsing.
    return mean, 1.15 * covariance + 0.01 * np.eye(mean.size)
