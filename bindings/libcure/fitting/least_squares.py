"""Least squares with bounds, by SciPy, on problems that the core has compressed.

A problem is given as its *triangle*: R of the QR decomposition of [J r], of shape (p + 1, p + 1). Its
last column has the sum of squares of all residuals, its other columns their Gauss-Newton matrix, so
SciPy sees p + 1 residuals in the place of very many and walks the same way.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import scipy
from numpy.typing import ArrayLike, NDArray

from libcure import _core
from libcure.errors import CureError, input_error
from libcure.sampling import unit_points
from libcure.stopping import heed, in_threads

__all__ = ["Solution", "compress", "correlation", "covariance", "inverse_normal", "multi_start", "solve", "start_points"]

Array = NDArray[np.float64]
Triangle = Callable[[Array], Array]

ON_BOUND = 1e-4  # share of the distance between bounds: SciPy's iterates near a bound only slowly
FAR = 1e100  # residual of a point where the model cannot be solved: never taken, never the end


def compress(jacobian: Array, residuals: Array) -> Array:
    """The triangle (p + 1, p + 1) of slopes (n, p) and residuals (n,)."""
    return np.asarray(_core.fit.compress(jacobian, residuals))


@dataclass(frozen=True)
class Solution:
    """Where a search ended."""

    x: Array
    """(p,)"""
    cost: float
    """Half the sum of squares."""
    triangle: Array
    """(p + 1, p + 1) at ``x``."""
    message: str
    evaluations: int
    on_bound: tuple[bool, ...]
    """(p,) whether the search ended on a bound."""


def solve(
    triangle: Triangle,
    start: ArrayLike,
    lower: ArrayLike | float = -np.inf,
    upper: ArrayLike | float = np.inf,
    *,
    tolerance: float = 1e-12,
    evaluations: int = 500,
) -> Solution:
    """A minimum of the sum of squares, from one start, by SciPy's trust-region reflective method.

    Args:
        triangle: of (p,) parameters; may raise CureError where the model cannot be solved.
        start: (p,) within the bounds.
        lower, upper: (p,) bounds.
        tolerance: relative, on cost, step and gradient.
        evaluations: at most so many.

    Raises:
        CureError: the model cannot be solved at the start.
    """
    x0 = np.asarray(start, float)
    low, high = (np.broadcast_to(np.asarray(b, float), x0.shape) for b in (lower, upper))
    # SciPy wants the start strictly inside.
    edge = 1e-10 * np.where(np.isfinite(high - low), high - low, 1.0)
    x0 = np.clip(x0, low + edge, high - edge)
    kept: dict[bytes, Array] = {}

    def at(x: Array) -> Array:
        heed()
        key = x.tobytes()
        if key not in kept:
            while len(kept) > 4:
                kept.pop(next(iter(kept)))
            found = triangle(x)
            if not np.all(np.isfinite(found)):
                raise input_error("parameters", ", ".join(f"{v:g}" for v in x), "where misfit and slopes are numbers")
            kept[key] = found
        return kept[key]

    at(x0)

    def residuals(x: Array) -> Array:
        try:
            r = at(x)[:, -1]
        except CureError:
            return np.full(x.size + 1, FAR)
        # Its square must stay a number.
        return np.asarray(np.clip(np.nan_to_num(r, nan=FAR, posinf=FAR, neginf=-FAR), -FAR, FAR))

    found = scipy.optimize.least_squares(
        residuals, x0, jac=lambda x: at(x)[:, :-1], bounds=(low, high), method="trf", x_scale="jac",
        ftol=tolerance, xtol=tolerance, gtol=tolerance, max_nfev=evaluations,
    )
    with np.errstate(invalid="ignore"):
        near = np.minimum(found.x - low, high - found.x) < ON_BOUND * (high - low)
    return Solution(
        np.asarray(found.x), float(found.cost), triangle(np.asarray(found.x)), str(found.message), int(found.nfev),
        tuple(bool(v) for v in (found.active_mask != 0) | (near & np.isfinite(high - low))),
    )


def start_points(lower: ArrayLike, upper: ArrayLike, count: int, seed: int) -> Array:
    """(count, p) starts spread over a box by scrambled Sobol' points; same seed, same points with any SciPy."""
    low, high = np.asarray(lower, float), np.asarray(upper, float)
    power = max(int(np.ceil(np.log2(max(count, 1)))), 0)
    points = unit_points(low.size, 2**power, seed)[:count]
    return np.asarray(low + points * (high - low))


def multi_start(
    triangle: Triangle,
    starts: Array,
    lower: ArrayLike,
    upper: ArrayLike,
    *,
    tolerance: float = 1e-8,
    evaluations: int = 100,
    threads: int | None = None,
    done: Callable[[], None] | None = None,
) -> list[Solution]:
    """The minima from many starts, best first. The core releases the GIL, so threads help.

    Args:
        starts: (n, p). threads: as many as processors when left out; the answer does not depend on it.
        done: called after each start.

    Raises:
        CureError: the model could be solved from no start.
    """

    def one(start: Array) -> Solution | CureError:
        try:
            return solve(triangle, start, lower, upper, tolerance=tolerance, evaluations=evaluations)
        except CureError as error:
            return error
        finally:
            if done is not None:
                done()

    ends = list(in_threads(one, starts, threads))
    found = [end for end in ends if isinstance(end, Solution)]
    if not found:
        raise input_error("law", f"no start could be solved ({ends[0]})", "data that the law can follow")
    return sorted(found, key=lambda end: end.cost)


def covariance(triangle: Array, freedom: int | None) -> Array:
    """Covariance of the parameters, s^2 (J'J)^-1, with s^2 the residual variance.

    Args:
        triangle: (p + 1, p + 1) at the minimum.
        freedom: residuals less parameters; None takes s^2 = 1, for residuals in standard deviations.

    Returns:
        (p, p); infinite where the data say nothing.
    """
    p = triangle.shape[0] - 1
    variance = 1.0 if freedom is None else float(np.sum(triangle[:, -1] ** 2)) / max(freedom, 1)
    return variance * inverse_normal(triangle[:, :p])


def inverse_normal(jacobian: Array) -> Array:
    """(J'J)^-1 by singular values of the columns scaled to one; infinite on columns of zeros."""
    size = np.sqrt(np.sum(jacobian**2, axis=0))
    p = size.size
    out = np.full((p, p), np.inf)
    seen = size > 0
    if not seen.any():
        return out
    _, s, vt = np.linalg.svd(jacobian[:, seen] / size[seen], full_matrices=False)
    s = np.maximum(s, s[0] * 1e-15)
    inner = (vt.T / s**2) @ vt / np.outer(size[seen], size[seen])
    out[np.ix_(seen, seen)] = inner
    return out


def correlation(cov: Array) -> Array:
    """Correlation matrix of a covariance."""
    error = np.sqrt(np.diag(cov))
    with np.errstate(invalid="ignore"):
        return np.asarray(cov / np.outer(error, error))

