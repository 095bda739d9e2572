"""Measurements of films and of the fresh mix, by hand: gelation, hardness, viscosity."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from libcure import _core
from libcure.studying.reading import ZERO, Component, Floats, Made, Reading, grid, time_to

__all__ = ["film_gel", "read_doubling", "read_film_gel", "read_releasable", "read_viscosity", "release_of"]

PAST_GEL, MARGIN = 0.05, 11.0
"""Of the release: degree of cure beyond gelation, and Tg over the temperature [K], as for loads that stay two hours
(libcure/include/cure/process/release_needs.hpp)."""

def film_gel(T: float, horizon_s: float) -> Callable[[_core.Resin], float]:
    """ln of the gel time [min] of a film at T [K]."""
    t = grid(horizon_s)

    def of(resin: _core.Resin) -> float:
        alpha = resin.isothermal(np.array([T]), t, resin.initial_degree_of_cure)[0]
        return time_to(alpha >= resin.alpha_gel, t, alpha, resin.alpha_gel)

    return of


def release_of(T: float, horizon_s: float = 4e5) -> Callable[[_core.Resin], float]:
    """ln of the time [min] from which a film at T [K] may be loaded: gelled with a margin, glassy by :data:`MARGIN`."""
    t = grid(horizon_s, 60.0)

    def of(resin: _core.Resin) -> float:
        alpha = resin.isothermal(np.array([T]), t, resin.initial_degree_of_cure)[0]
        over = resin.glass_transition(alpha) - T - MARGIN
        gelled = resin.alpha_gel + PAST_GEL
        # Of both needs the later one.
        return max(time_to(over >= 0.0, t, over, 0.0), time_to(alpha >= gelled, t, alpha, gelled))

    return of


def read_film_gel(r: Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    of = film_gel(T, 2400.0 * minutes)
    # 4 % for 0.5 K, 5 % judgement of the stick, 6 % for another place's air (assumptions).
    return [Component("gel", math.log(minutes), r.sd(0.09), "min", r.side())], lambda resin, _: [of(resin)], T - ZERO, minutes


def read_releasable(r: Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    of = release_of(T, 4000.0 * minutes)
    # A maker's demould or hardness time is no measurement of the criterion.
    return [Component("may be loaded", math.log(minutes), r.sd(0.3), "min", r.side())], lambda resin, _: [of(resin)], T - ZERO, minutes


def read_viscosity(r: Reading) -> Made:
    T = r.temperature("temperature")
    eta = float(r.f["viscosity_Pa_s"])

    def ask(resin: _core.Resin, _: float) -> list[float]:
        return [math.log(float(resin.viscosity(np.array([T]), np.array([resin.initial_degree_of_cure]))[0]))]

    return [Component("viscosity", math.log(eta), r.sd(0.12), "Pa s")], ask, T - ZERO, 10.0


def read_doubling(r: Reading) -> Made:
    T, minutes = r.temperature("temperature"), r.time()
    t = grid(2400.0 * minutes, 5.0)

    def ask(resin: _core.Resin, _: float) -> list[float]:
        alpha = np.minimum(resin.isothermal(np.array([T]), t, resin.initial_degree_of_cure)[0], resin.alpha_gel * (1.0 - 1e-9))
        fresh = resin.viscosity(np.array([T]), np.array([resin.initial_degree_of_cure]))
        times: Floats = resin.viscosity(np.full(t.size, T), alpha) / fresh
        return [time_to(times >= 2.0, t, times, 2.0)]

    return [Component("doubling of the viscosity", math.log(minutes), r.sd(0.15), "min")], ask, T - ZERO, minutes
