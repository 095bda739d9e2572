"""Half a laminate between surfaces that follow a cycle, by libcure and by SciPy."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import numpy as np

from libcure import Resin, _core
from libcure.validation import load_script

other = load_script(Path(__file__).with_name("independent_wall.py"))
Solution = tuple[np.ndarray, np.ndarray]


def both(
    layer: Mapping[str, Any],
    corners: np.ndarray,
    surface: np.ndarray,
    times: np.ndarray,
    resin: Resin,
    rate: Callable[[np.ndarray, np.ndarray], np.ndarray],
    source: float,
    alpha0: float,
    **options: float,
) -> tuple[Solution, Solution]:
    """Temperatures and degrees of cure of libcure and of SciPy at times [s]; the centre is the first cell.

    Args:
        surface: temperatures [K] at the corners [s] of the cycle, linear between.
        source: heat of full cure [J/m3].
        options: for the other code.
    """
    start = np.full(layer["cells"], surface[0])
    wall = {"kind": "temperature", "time": list(corners), "value": list(surface)}
    ours = _core.solve_wall(
        "slab", 0.0, [dict(layer)], {"kind": "insulated"}, wall, start, times, resin, 0, source, alpha0
    )
    theirs = other.solve(
        "slab",
        0.0,
        [dict(layer)],
        None,
        lambda t: (np.inf, float(np.interp(t, corners, surface))),
        start,
        times,
        rate,
        0,
        source,
        alpha0,
        tuple(corners[1:]),
        **options,
    )
    return ours, theirs
