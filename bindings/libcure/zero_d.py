"""Cure of resin at one temperature at a time: no wall, no gradients. Everything SI.

Each function takes arrays of temperatures and solves them all in the compiled core. Quantities of pint are taken in place of numbers.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure._core import Resin, flory_stockmayer_gel_point
from libcure.documents.quantities import in_unit

__all__ = ["adiabatic", "along", "flory_stockmayer_gel_point", "isothermal", "lumped", "ramp"]

Array = NDArray[np.float64]


def _si(value: ArrayLike, unit: str, field: str) -> Array:
    return np.asarray(in_unit(value, unit, field, difference=False), float)


def _start(resin: Resin, alpha0: float | None) -> float:
    return resin.initial_degree_of_cure if alpha0 is None else alpha0


def isothermal(resin: Resin, temperature: ArrayLike, time: ArrayLike, alpha0: float | None = None) -> Array:
    """Degree of cure at constant temperatures.

    Args:
        resin: from :func:`libcure.load_resin`.
        temperature: (n,) [K].
        time: (m,) from mixing [s].
        alpha0: initial degree of cure; the model's own when left out.

    Returns:
        (n, m) degree of cure [-].
    """
    return resin.isothermal(np.atleast_1d(_si(temperature, "kelvin", "temperature")), _si(time, "s", "time"),
                            _start(resin, alpha0))


def along(
    resin: Resin, time: ArrayLike, temperature: ArrayLike, at: ArrayLike | None = None, alpha0: float | None = None
) -> Array:
    """Degree of cure along temperature histories, such as a thermocouple's log.

    Args:
        resin: from :func:`libcure.load_resin`.
        time: (k,) strictly increasing [s].
        temperature: (k,) or (n, k) [K]; linear between the times.
        at: (m,) times to report [s]; ``time`` when left out.
        alpha0: initial degree of cure; the model's own when left out.

    Returns:
        (n, m) degree of cure [-].

    Raises:
        CureError: times that do not increase, or shapes that do not match.
    """
    points = _si(time, "s", "time")
    histories = np.atleast_2d(_si(temperature, "kelvin", "temperature"))
    report = points if at is None else _si(at, "s", "at")
    return resin.along(points, histories, report, _start(resin, alpha0))


def ramp(
    resin: Resin,
    rate: ArrayLike,
    start: float,
    end: float,
    points: int = 500,
    alpha0: float | None = None,
) -> tuple[Array, Array, Array]:
    """Constant heating rates, as in a calorimeter.

    Args:
        resin: from :func:`libcure.load_resin`.
        rate: (n,) heating rates [K/s], above 0.
        start, end: temperatures [K].
        points: how many to report.
        alpha0: initial degree of cure; the model's own when left out.

    Returns:
        temperature (points,) [K], alpha (n, points) [-], d(alpha)/dt (n, points) [1/s].

    Raises:
        CureError: a rate that is not above 0, or an end that is not above the start.
    """
    temperature = np.linspace(_si(start, "kelvin", "start"), _si(end, "kelvin", "end"), points)
    alpha, slope = resin.ramp(np.atleast_1d(_si(rate, "kelvin / s", "rate")), temperature, _start(resin, alpha0))
    return temperature, alpha, slope


def lumped(
    resin: Resin,
    start: ArrayLike,
    time: ArrayLike,
    *,
    mass: float,
    surface_area: float,
    h: float,
    ambient: float,
    alpha0: float | None = None,
) -> tuple[Array, Array]:
    """Masses of mixed resin that heat themselves and lose heat through their surface.

    Args:
        resin: from :func:`libcure.load_resin`.
        start: (n,) initial temperatures [K].
        time: (m,) [s].
        mass: [kg]. surface_area: [m2]. h: [W/(m2 K)]. ambient: [K].
        alpha0: initial degree of cure; the model's own when left out.

    Returns:
        temperature (n, m) [K], alpha (n, m) [-].
    """
    return resin.lumped(
        np.atleast_1d(_si(start, "kelvin", "start")), float(_si(mass, "kg", "mass")), float(_si(surface_area, "m**2", "surface_area")),
        float(_si(h, "W / m**2 / kelvin", "h")), float(_si(ambient, "kelvin", "ambient")), _si(time, "s", "time"), _start(resin, alpha0),
    )  # fmt: skip


def adiabatic(
    resin: Resin, start: ArrayLike, time: ArrayLike, alpha0: float | None = None
) -> tuple[Array, Array]:
    """Mixed resin that keeps all its heat: temperature (n, m) [K] and alpha (n, m) [-] over time (m,) [s]."""
    return lumped(resin, start, time, mass=1.0, surface_area=0.0, h=0.0, ambient=300.0, alpha0=alpha0)
