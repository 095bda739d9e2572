"""From measurements to what they say of a resin: rows of a family's quantities that are as likely as each other.

Rows of the prior are led to the measurements by letting these count more and more, each time only so much more that half of the rows still
count; rows are then drawn again by their weight and moved, so that they spread over what is likely by then (sequential Monte Carlo: P. Del
Moral, A. Doucet, A. Jasra, J. R. Stat. Soc. B 68, 411, 2006; from memory). A move draws around the rows' own mean and covariance and is
accepted by Metropolis' rule (autoregressive proposals: S.L. Cotter et al., Stat. Sci. 28, 424, 2013; from memory). Errors are Student-t with 4
degrees of freedom, so that a stray measurement has a bounded pull. This stands in place of a general sampler because a row costs a millisecond
and all rows of a move can be asked at once; weighted rows about one normal distribution, which it replaces, were worth as few as 11 where
the likely resins lie on a bent sheet.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from functools import cached_property
from threading import Event
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core
from libcure.errors import STOPPED, CureError
from libcure.sampling import normal, unit_points
from libcure.studying.cups import CUP_SD
from libcure.studying.family import Family
from libcure.studying.reading import Measurement

__all__ = ["BATCH_SD", "Posterior", "Rows", "explore", "log_likelihood", "misfit", "placed", "resins_of", "weights_of"]

Floats = NDArray[np.float64]
NU = 4.0
FURTHEST = 6.0
STILL_COUNT = 0.5
"""Share of the rows that are still worth something when the measurements count more."""
MOVES, LAST_MOVES = 2, 6
KEPT_MOVES = 4
"""Of the last moves, of which all rows are kept: not independent, but better than those of one."""
WANTED = 0.3
"""Share of moves that are accepted when their length is right."""
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


def misfit(observed: ArrayLike, predicted: ArrayLike, sd: ArrayLike, side: ArrayLike = 0) -> Floats:
    """Observed over predicted in standard deviations (n, components); 0 on the open side of what was only bounded."""
    z = np.asarray((np.subtract(observed, predicted)) / sd)
    return np.where(np.equal(side, 0), z, np.where(np.less(side, 0), np.minimum(z, 0.0), np.maximum(z, 0.0)))


def log_likelihood(observed: Floats, predicted: Floats, sd: Floats, side: NDArray[np.int_] | int = 0) -> Floats:
    """Of rows (n, components) of predictions, a number each component (n, components)."""
    z = misfit(observed, predicted, sd, side)
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

    def __init__(self, family: Family, measurements: Sequence[Measurement], threads: int | None = None, stop: Event | None = None) -> None:
        self.family, self.measurements, self.threads, self.stop = family, tuple(measurements), threads, stop
        components = [c for m in measurements for c in m.components]
        self.observed = np.array([c.observed for c in components])
        self.sd = np.array([c.sd for c in components])
        self.side = np.array([c.side for c in components])
        self.columns = np.repeat(np.arange(len(measurements)), [len(m.components) for m in measurements])
        """Measurement of each component."""

        self.cups = sorted({m.cup for m in measurements if m.cup})

    @property
    def dimensions(self) -> int:
        """Normal numbers of a row: the resin's, and one a kind of cup."""
        return self.family.dimensions + len(self.cups)

    def rows(self, x: Floats) -> Rows:
        """Asks each row everything.

        Raises:
            CureError: ``stop`` was set.
        """
        resins = resins_of(self.family, x[:, : self.family.dimensions])
        factors = np.exp(CUP_SD * x[:, self.family.dimensions :])

        def one(i: int) -> list[float]:
            if self.stop is not None and self.stop.is_set():
                raise CureError(STOPPED)
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
    """Rows that together stand for what is known of a resin, each as likely as the others."""

    family: Family
    asking: Asking
    rows: Rows
    used: NDArray[np.bool_]
    """(components,) not held back."""

    @cached_property
    def weight(self) -> Floats:
        """(n,) alike, adding to 1."""
        return np.full(len(self.rows.x), 1.0 / len(self.rows.x))

    @cached_property
    def effective(self) -> float:
        """Different rows: some stand for others that were less likely, and are still as these."""
        count = np.unique(self.rows.x, axis=0, return_counts=True)[1]
        return float(count.sum() ** 2 / (count**2).sum())

    def without(self, parts: Floats) -> Floats:
        """Weights (n,) as if some measurements had not been made.

        Args:
            parts: (n,) ln of their likelihood.

        Large weights are cut (E.L. Ionides, J. Comput. Graph. Stat. 17, 295, 2008; from memory): few rows cannot stand for all.
        """
        weight = np.exp(parts.min() - parts)
        weight = np.minimum(weight, weight.mean() * math.sqrt(weight.size))
        return np.asarray(weight / weight.sum())

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
        return _picked(self.weight, count, np.random.default_rng(seed).random())

    def log_parts(self) -> Floats:
        """ln likelihood (n, components)."""
        return log_likelihood(self.asking.observed, self.rows.predicted, self.asking.sd, self.asking.side)


def weights_of(log_weight: Floats) -> Floats:
    """Weights (n,) adding to 1, from their ln but for a constant."""
    weight = np.exp(log_weight - log_weight.max())
    return np.asarray(weight / weight.sum())


def _picked(weight: Floats, count: int, start: float) -> NDArray[np.intp]:
    """Rows, each as often as its weight asks (systematic resampling); start: of the unit interval."""
    return np.searchsorted(np.cumsum(weight), (np.arange(count) + start) / count).clip(0, weight.size - 1)


def explore(
    family: Family,
    measurements: Sequence[Measurement],
    *,
    samples: int = 1024,
    seed: int = 20260101,
    threads: int | None = None,
    progress: Callable[[float], None] | None = None,
    stop: Event | None = None,
) -> Posterior:
    """What measurements say of a resin.

    Args:
        family: what is believed before.
        measurements: those held back are asked for, but do not count.
        samples: rows, a power of two.
        seed: the same gives the same rows.
        threads: to use; all processors when left out.
        progress: called with the share of the measurements' weight that has been taken, up to 1.
        stop: ends the call once another thread sets it.

    Raises:
        CureError: ``stop`` was set.
    """
    asking = Asking(family, measurements, threads, stop)
    used = np.array([not measurements[int(i)].hold_back for i in asking.columns], np.bool_)
    crowd = _Crowd(asking, used, samples, seed)
    kept: list[Rows] = []
    while crowd.share < 1.0:
        crowd.heed_more()
        for turn in range(MOVES if crowd.share < 1.0 else LAST_MOVES):
            crowd.move()
            if turn >= LAST_MOVES - KEPT_MOVES:
                kept.append(crowd.rows)
        if progress is not None:
            progress(crowd.share)
    rows = Rows(np.concatenate([r.x for r in kept]), np.concatenate([r.predicted for r in kept]))
    return Posterior(family, asking, rows, used)


class _Crowd:
    """Rows on their way from the prior to the measurements."""

    def __init__(self, asking: Asking, used: NDArray[np.bool_], samples: int, seed: int) -> None:
        self.asking, self.used = asking, used
        self.rng = np.random.default_rng(seed)
        self.rows = asking.rows(np.clip(normal(unit_points(asking.dimensions, samples, seed)), -FURTHEST, FURTHEST))
        self.log_l = self.likelihood(self.rows)
        self.share, self.length = 0.0, 0.6
        """Of the measurements' weight; and of a move against the spread of the rows."""
        self.mean = np.zeros(asking.dimensions)
        self.L: Floats = np.eye(asking.dimensions)

    def likelihood(self, rows: Rows) -> Floats:
        """ln, of rows (n,)."""
        return np.asarray(log_likelihood(self.asking.observed, rows.predicted, self.asking.sd, self.asking.side)[:, self.used].sum(axis=1))

    def heed_more(self) -> None:
        """Lets the measurements count as much more as leaves half of the rows that count."""
        n = self.log_l.size
        share = 1.0
        if _worth(weights_of((1.0 - self.share) * self.log_l)) < STILL_COUNT * n:
            low, high = self.share, 1.0
            for _ in range(30):
                share = 0.5 * (low + high)
                low, high = (low, share) if _worth(weights_of((share - self.share) * self.log_l)) < STILL_COUNT * n else (share, high)
        weight = weights_of((share - self.share) * self.log_l)
        self.mean = weight @ self.rows.x
        off = self.rows.x - self.mean
        # A little of the prior keeps unknowns that few rows tell apart from collapsing.
        self.L = np.asarray(np.linalg.cholesky((off * weight[:, None]).T @ off + 0.01 * np.eye(self.mean.size)))
        pick = _picked(weight, n, self.rng.random())
        self.rows, self.log_l, self.share = Rows(self.rows.x[pick], self.rows.predicted[pick]), self.log_l[pick], share

    def move(self) -> None:
        """One step of each row, where it is accepted."""
        x = self.rows.x
        step = self.rng.normal(size=x.shape) @ self.L.T
        to = self.mean + math.sqrt(1.0 - self.length**2) * (x - self.mean) + self.length * step
        there = self.asking.rows(np.clip(to, -FURTHEST, FURTHEST))
        log_l = self.likelihood(there)
        gain = self.share * (log_l - self.log_l) + self._off_normal(to) - self._off_normal(x)
        yes = (np.log(self.rng.random(len(x))) < gain) & (np.abs(to) <= FURTHEST).all(axis=1)
        self.rows = Rows(np.where(yes[:, None], to, x), np.where(yes[:, None], there.predicted, self.rows.predicted))
        self.log_l = np.where(yes, log_l, self.log_l)
        self.length = min(max(self.length * math.exp(0.7 * (float(yes.mean()) - WANTED)), 0.05), 0.95)

    def _off_normal(self, x: Floats) -> Floats:
        """ln of the prior over the normal distribution that moves leave as it is, but for a constant (n,)."""
        u = np.linalg.solve(self.L, (x - self.mean).T)
        return np.asarray(0.5 * (u**2).sum(axis=0) - 0.5 * (x**2).sum(axis=1))


def _worth(weight: Floats) -> float:
    """Rows of equal weight that would tell as much (A. Kong, tech. report 348, Univ. Chicago, 1992, from memory)."""
    return float(1.0 / (weight**2).sum())
