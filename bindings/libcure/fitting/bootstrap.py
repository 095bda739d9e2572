"""Bootstrap: the fit repeated on records whose residuals have been dealt out anew.

A repetition takes each run's fitted heat flow with its own residuals drawn again in blocks (moving blocks, so that
autocorrelated residuals stay together; H.R. Kuensch, Ann. Stat. 17, 1217, 1989, from memory), draws the baseline and
counts the heat again, and fits. What instrument and samples have done is drawn from its priors. Each run gets a mass error
as the fit found them, which tells where isothermal runs count on the ramps' heat, and gel times get
their stated error. So it carries what the sandwich covariance carries, without its straight lines, but for what a step adds to the heat that
other runs count on.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from threading import Event

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.errors import CureError, input_error
from libcure.fitting.covariance import alike_in_ramps, correlation_length, without
from libcure.fitting.engine import COARSE, bounds, build
from libcure.fitting.instrument import STEPS, WITH_THE_RECORD, disturbances, offset, shapes
from libcure.fitting.law_fit import GelTime, LawFit, Options
from libcure.fitting.least_squares import solve
from libcure.fitting.run import Run, reprocessed
from libcure.stopping import in_threads, stopping

__all__ = ["Bootstrap", "bootstrap"]

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Bootstrap:
    """Constants of the repetitions."""

    x: Array
    """(repetitions, p) free parameters, inside; those that could be fitted"""
    asked: int
    """Repetitions begun"""

    @property
    def errors(self) -> Array:
        """(p,) standard deviations"""
        return np.asarray(np.std(self.x, axis=0, ddof=1))

    def interval(self, i: int, share: float = 0.95) -> tuple[float, float]:
        """Inside limits of parameter number i: percentiles that leave the same share out on either side."""
        low, high = np.quantile(self.x[:, i], [0.5 * (1.0 - share), 0.5 * (1.0 + share)])
        return float(low), float(high)


def bootstrap(fit: LawFit, cups: Sequence[GelTime] = (), options: Options | None = None, repetitions: int = 200,
              done: Callable[[], None] | None = None, stop: Event | None = None) -> Bootstrap:
    """Fits a law again and again to its own curves with redrawn residuals.

    Args:
        repetitions: 20 or more. ``options.seed`` fixes them; the answer does not depend on the threads.
        done: called after each.
        stop: ends the call once another thread sets it.

    Raises:
        CureError: too few repetitions, fewer than half of them could be fitted, or ``stop`` was set.
    """
    opt = options or Options()
    if repetitions < 20:
        raise input_error("bootstrap", str(repetitions), "20 or more")
    low, high = bounds(fit.law, fit.runs, cups, fit.T_ref, opt)
    residuals = [_residuals(run, rate) for run, (rate, _, _) in zip(fit.runs, fit.curves, strict=True)]

    def one(seed: np.random.SeedSequence) -> Array | None:
        random = np.random.default_rng(seed)
        try:
            runs = [_redrawn(run, rest, block, fit.mass_scatter, random) for run, (rest, block) in zip(fit.runs, residuals, strict=True)]
            again = [replace(cup, gel_time=cup.gel_time * ratio * float(np.exp(cup.relative_error * random.normal())))
                     for cup, ratio in zip(cups, fit.gel_times, strict=True)]
            problem = build(fit.law, fit.T_ref, runs, again, opt, tolerance=COARSE)
            _off_by_chance(problem, runs, opt, random)
            return solve(problem.compressed, fit.point, low, high, tolerance=1e-7, evaluations=60).x[: len(fit.x)]
        except CureError:
            return None
        finally:
            if done is not None:
                done()

    with stopping(stop):
        found = [x for x in in_threads(one, np.random.SeedSequence(opt.seed).spawn(repetitions), opt.threads) if x is not None]
    if len(found) < repetitions / 2:
        raise input_error("bootstrap", f"{len(found)} of {repetitions} repetitions fitted", "a law that the data hold")
    return Bootstrap(np.array(found), repetitions)


def _residuals(run: Run, rate: Array) -> tuple[Array, int]:
    """Residuals of the heat flow [W/kg], and points to keep together."""
    rest = (run.rate - rate) * (run.total_heat or run.heat)
    length = correlation_length(without(rest, np.column_stack([run.basis, run.rate])))
    return rest, 1 if length < 1.5 else min(int(np.ceil(3.0 * length)), max(len(rest) // 4, 1))


def _off_by_chance(problem: _core.fit.Problem, runs: Sequence[Run], options: Options, random: np.random.Generator) -> None:
    """Draws from their priors what instrument and samples have done, but for what is drawn with the runs."""
    instrument = options.instrument
    share, alike = alike_in_ramps(runs), random.normal(size=STEPS)
    for i, run in enumerate(runs):
        found = disturbances(run, instrument)
        chance = np.zeros(2 * len(run.t))
        step = iter(alike)
        for one in found:
            if one.kind == "step":
                chance += (np.sqrt(share) * next(step) + np.sqrt(1.0 - share) * random.normal()) * one.column
            elif one.kind not in WITH_THE_RECORD:
                chance += random.normal() * one.column
        already = offset(run, found)
        problem.set_shapes(i, *shapes(found), chance + already if len(already) else chance)
    if runs and instrument.lags:
        error = np.array(instrument.lag_errors)
        mean = np.array(instrument.lag_means) + error * random.normal(size=2)
        problem.set_lags((float(mean[0]), float(mean[1])), (float(error[0]), float(error[1])))


def _redrawn(run: Run, rest: Array, block: int, mass_scatter: float, random: np.random.Generator) -> Run:
    n = len(rest)
    begins = random.integers(0, n, -(-n // block))
    # Round the end, so that all points are drawn alike.
    picked = (begins[:, None] + np.arange(block)).ravel()[:n] % n
    heat_flow = run.heat_flow.copy()
    heat_flow[run.part] += rest[picked] - rest
    return reprocessed(run, heat_flow * float(np.exp(mass_scatter * random.normal())))
