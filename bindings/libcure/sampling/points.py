"""Points, percentiles and indices of samples."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.sampling.inputs import UncertainInput

__all__ = [
    "PERCENTILES",
    "bounded_measure",
    "index_errors",
    "lower_bound",
    "moved_inputs",
    "normal",
    "percentiles",
    "saltelli_points",
    "sobol_indices",
    "unit_points",
    "upper_bound",
    "weighted_quantile",
]

Floats = NDArray[np.float64]

PERCENTILES = (5, 50, 95)


def moved_inputs(uncertain: Sequence[UncertainInput], u: Floats) -> dict[str, Floats]:
    """What points of the unit cube make of the inputs of the ensemble.

    Args:
        uncertain: one for each column.
        u: points (n, columns), strictly inside the unit cube.

    Returns:
        Offsets [K] and factors [-] by name, each (n,). Two causes of one effect add up, or multiply.
    """
    found: dict[str, Floats] = {}
    for j, entry in enumerate(uncertain):
        values = entry.values(u[:, j])
        for name in entry.moves:
            if name not in found:
                found[name] = values
            else:
                found[name] = found[name] * values if entry.is_factor else found[name] + values
    return found


def normal(u: Floats) -> Floats:
    """Standard normal numbers at points inside the unit interval, any shape."""
    return np.asarray(_core.normal_quantile(u))


def unit_points(dimensions: int, samples: int, seed: int) -> Floats:
    """Scrambled Sobol' points (samples, dimensions), strictly inside the unit cube, from the core.

    Args:
        dimensions: 0 gives an array without columns.
        samples: a power of two, for the balance of the points.
        seed: of the scrambling.
    """
    return _core.unit_points(dimensions, samples, seed)


def percentiles(values: Floats, *, up: bool) -> list[float]:
    """5, 50 and 95 % of values that may be infinite: the sample at or next beyond that place."""
    return list(_core.band(values, up))


def weighted_quantile(values: Floats, weights: Floats, share: float, *, up: bool = True) -> float:
    """Of values (n,) with weights (n,) that add to 1: one of the values at a share, the next one to the given side."""
    return _core.weighted_quantile(values, weights, share, up)


def upper_bound(values: Floats, confidence: float = _core.CONFIDENCE) -> float:
    """Upper confidence bound of the 95 % side of samples; the largest where they are too few for one."""
    return _core.upper_side(values, 0.95, confidence)[1]


def lower_bound(values: Floats, confidence: float = _core.CONFIDENCE) -> float:
    """Lower confidence bound of the 5 % side of samples; the smallest where they are too few for one."""
    return _core.lower_side(values, 0.95, confidence)[1]


def saltelli_points(points: Floats, groups: Sequence[Sequence[int]]) -> Floats:
    """Rows at which to evaluate for Sobol' indices of groups of inputs.

    Two independent sets A and B, and for each group A with that group's columns taken from B (A.
    Saltelli et al., Comput. Phys. Commun. 181, 259, 2010).

    Args:
        points: (n, 2 d); the first d columns are A, the others B.
        groups: columns of each group.

    Returns:
        (groups + 2, n, d): A, one mixture a group, B.
    """
    d = points.shape[1] // 2
    A, B = points[:, :d], points[:, d:]
    rows = [A]
    for columns in groups:
        mixed = A.copy()
        mixed[:, list(columns)] = B[:, list(columns)]
        rows.append(mixed)
    return np.stack([*rows, B])


def sobol_indices(y: Floats) -> tuple[Floats, Floats]:
    """First-order and total indices from results at :func:`saltelli_points`.

    First order by Saltelli et al. (2010, table 2, row b), total by M.J.W. Jansen (Comput. Phys.
    Commun. 117, 35, 1999).

    Args:
        y: (groups + 2, n), finite.

    Returns:
        Two arrays (groups,); NaN where nothing varies.
    """
    A, mixed, B = y[0], y[1:-1], y[-1]
    variance = np.var(np.concatenate([A, B]))
    if variance == 0.0:
        nothing = np.full(len(mixed), np.nan)
        return nothing, nothing.copy()
    # The first-order estimator is less noisy about the mean.
    middle = np.mean(y)
    first = np.mean((B - middle) * (mixed - A), axis=1) / variance
    total = 0.5 * np.mean((A - mixed) ** 2, axis=1) / variance
    return first, total


def index_errors(y: Floats, seed: int, resamples: int = 100) -> tuple[Floats, Floats]:
    """Standard errors of first-order and total indices, by resampling the rows (bootstrap).

    Rows of a Sobol' sequence fill the space better than random ones, so the true errors are smaller.

    Args:
        y: as for :func:`sobol_indices`.
        seed: of the resampling.
        resamples: how often.

    Returns:
        Two arrays (groups,); NaN where nothing varies.
    """
    random = np.random.default_rng(seed)
    found = [sobol_indices(y[:, random.integers(0, y.shape[1], y.shape[1])]) for _ in range(resamples)]
    first, total = (np.array(values) for values in zip(*found, strict=True))
    return np.asarray(first.std(axis=0)), np.asarray(total.std(axis=0))


def bounded_measure(time: Floats) -> tuple[Floats, str]:
    """What to take the variance of, for times that may be infinite or 0, and its name.

    ``log time``: factors on a time count alike whether it is short or long, and its few longest samples do not
    decide alone. ``rank``, scaled to 0 to 1, where some times are infinite or 0: it keeps the order and puts all
    that never happen together at the top.
    """
    if np.isfinite(time).all() and (time > 0.0).all():
        return np.asarray(np.log(time)), "log time"
    # Times that are equal share the mean of their ranks.
    _, place, count = np.unique(time, return_inverse=True, return_counts=True)
    rank = np.cumsum(count) - 0.5 * (count - 1)
    return np.asarray(rank[place].reshape(time.shape) / time.size), "rank"
