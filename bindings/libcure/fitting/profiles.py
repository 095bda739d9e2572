"""Profiles of a fit's constants."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from libcure.errors import CureError
from libcure.fitting.engine import bounds, build
from libcure.fitting.law_fit import GelTime, LawFit, Options, Profile
from libcure.fitting.least_squares import inverse_normal, solve
from libcure.fitting.quantiles import Z95

__all__ = ["profile"]

Array = NDArray[np.float64]


def profile(fit: LawFit, i: int, cups: Sequence[GelTime] = (), options: Options | None = None,
            steps: Sequence[float] = (1.0, 2.0, 3.0)) -> Profile:
    """Profile of the free parameter number i.

    The rise of the misfit is scaled so that its curvature at the minimum is that of the fit's covariance
    (a composite likelihood has not the curvature of its own uncertainty; R.E. Chandler, S. Bate,
    Biometrika 94, 167, 2007, from memory).
    """
    opt = options or Options()
    runs = fit.runs
    low, high = bounds(fit.law, runs, cups, fit.T_ref, opt)
    problem = build(fit.law, fit.T_ref, runs, cups, opt)
    middle = solve(problem.compressed, fit.point, low, high, tolerance=1e-9, evaluations=60)
    p = len(fit.point)
    error = float(fit.errors[i])
    scale = inverse_normal(middle.triangle[:, :p])[i, i] / max(error**2, 1e-300)
    others = [k for k in range(p) if k != i]
    slope = _ridge(middle.triangle[:, :p], i, others)
    xs, zs = [float(middle.x[i])], [0.0]
    for sign in (-1.0, 1.0):
        for step in steps:
            held = float(middle.x[i]) + sign * step * error
            if not low[i] < held < high[i]:
                break

            def triangle(y: Array, held: float = held) -> Array:
                full = np.empty(p)
                full[i], full[others] = held, y
                R = np.asarray(problem.compressed(full))
                return np.asarray(np.linalg.qr(np.delete(R, i, axis=1), mode="r"))

            try:
                start = np.clip(middle.x[others] + slope * (held - middle.x[i]), low[others], high[others])
                cost = solve(triangle, start, low[others], high[others], tolerance=1e-7, evaluations=40).cost \
                    if others else 0.5 * float(np.sum(problem.compressed(np.array([held]))[:, -1] ** 2))
            except CureError:
                break
            xs.append(held)
            zs.append(sign * float(np.sqrt(max(2.0 * (cost - middle.cost), 0.0) * scale)))
    order = np.argsort(xs)
    x, z = np.array(xs)[order], np.array(zs)[order]
    return Profile(i, x, z, _reach(x, z, -Z95), _reach(x, z, Z95))


def _ridge(J: Array, i: int, others: list[int]) -> Array:
    """How the other parameters follow when number i moves, to first order."""
    if not others:
        return np.empty(0)
    return np.asarray(-np.linalg.lstsq(J[:, others], J[:, i], rcond=1e-12)[0])


def _reach(x: Array, z: Array, at: float) -> float:
    inside = np.sign(at) * z
    if inside.max() < abs(at):
        return float(np.inf * np.sign(at))
    return float(np.interp(at, z, x)) if np.all(np.diff(z) > 0) else float(x[np.argmin(np.abs(z - at))])
