"""A study of one resin: its measurements, what they say, how well release times are known, and what to measure next."""

from __future__ import annotations

import math
import os
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import cached_property
from pathlib import Path
from threading import Event
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure.documents import Folders, shown, with_models
from libcure.sampling import weighted_quantile
from libcure.studying.document import load, read
from libcure.studying.family import Family
from libcure.studying.films import release_of
from libcure.studying.posterior import BATCH_SD, Asking, Posterior, explore, log_likelihood, misfit, resins_of, weights_of
from libcure.studying.reading import NEVER, Measurement

__all__ = ["Candidate", "Check", "Known", "Study", "load", "run"]

Floats = NDArray[np.float64]
ZERO = 273.15
DRAWS = 512
"""Rows of equal weight that times are worked out for."""
OUTCOMES = 48
"""Outcomes that a candidate measurement is tried with."""


@dataclass(frozen=True)
class Known:
    """How well the release of a film at one temperature is known."""

    temperature_C: float
    p5: float
    p50: float
    p95: float
    """[min]; infinite: never."""
    never: float
    """Share of likely resins that come to rest before."""

    @property
    def width(self) -> float:
        """95 % over 5 %; infinite when the 95 % side is never."""
        return self.p95 / self.p5 if math.isfinite(self.p95) else math.inf


@dataclass(frozen=True)
class Check:
    """A component of a measurement beside what the others make of it."""

    measurement: str
    component: str
    observed: str
    low: str
    high: str
    """5 and 95 % of what it should show, with its own error."""
    inside: bool
    z: float
    """Distance from the middle over half the width of a 68 % band."""
    held_back: bool


@dataclass(frozen=True)
class Candidate:
    """A measurement that could be made next."""

    name: str
    spread_now: float
    """Standard deviation of ln of the release at the jobs' temperatures (their mean), as it is known now."""
    spread_then: float
    """The same, expected once it is made."""
    cost_min: float

    @property
    def gain(self) -> float:
        """By how much the spread falls, as a share."""
        return 1.0 - self.spread_then / self.spread_now if self.spread_now > 0.0 else 0.0


@dataclass(frozen=True, eq=False)
class Study:
    """A study that has been run."""

    about: Mapping[str, str]
    """``id``, ``title``, ``note``."""
    family: Family
    measurements: tuple[Measurement, ...]
    jobs_C: tuple[float, ...]
    posterior: Posterior
    file: str = ""
    _times: dict[float, Floats] = field(default_factory=dict)

    @cached_property
    def draws(self) -> NDArray[np.intp]:
        """Rows of equal weight."""
        return self.posterior.resample(DRAWS, 1)

    @cached_property
    def _batches(self) -> Floats:
        """ln of the slowness of the batch of a job against that of the study (DRAWS,): both vary."""
        return np.random.default_rng(2).normal(0.0, math.sqrt(2.0) * BATCH_SD, DRAWS)

    def release_times(self, T_C: float) -> Floats:
        """ln of the release time [min] of a film, of each draw (DRAWS,)."""
        if T_C not in self._times:
            of = release_of(T_C + ZERO)
            u = self.posterior.rows.x[self.draws, : self.family.dimensions]
            times = np.array([of(resin) for resin in resins_of(self.family, u)])
            self._times[T_C] = np.where(times >= NEVER - 0.5, NEVER, times + self._batches)
        return self._times[T_C]

    def known(self, T_C: float) -> Known:
        """How well the release at a temperature is known."""
        times = self.release_times(T_C)
        equal = np.full(DRAWS, 1.0 / DRAWS)
        minutes = [weighted_quantile(times, equal, share) for share in (0.05, 0.5, 0.95)]
        p5, p50, p95 = (math.inf if m >= NEVER else math.exp(m) for m in minutes)
        return Known(T_C, p5, p50, p95, float((times >= NEVER).mean()))

    @cached_property
    def checks(self) -> list[Check]:
        """Each measurement against what all others say of it."""
        p = self.posterior
        parts = p.log_parts()
        columns = p.asking.columns
        rng = np.random.default_rng(3)
        found = []
        for i, m in enumerate(self.measurements):
            mine = columns == i
            weight = p.weight if m.hold_back else p.without(parts[:, mine].sum(axis=1))
            for component, j in zip(m.components, np.flatnonzero(mine), strict=True):
                shown_ = p.rows.predicted[:, j] + component.sd * rng.standard_t(4.0, p.weight.size) / math.sqrt(2.0)
                low, a, middle, b, high = (weighted_quantile(shown_, weight, s) for s in (0.05, 0.16, 0.5, 0.84, 0.95))
                z = float(misfit(component.observed, middle, max(0.5 * (b - a), 1e-12), component.side))
                found.append(
                    Check(m.name, component.name, component.words(component.observed), component.words(low), component.words(high),
                          (component.side > 0 or low <= component.observed) and (component.side < 0 or component.observed <= high), z, m.hold_back)
                )  # fmt: skip
        return found

    def contradictions(self) -> list[Check]:
        """Measurements that stand far off what the others say, the farthest first."""
        return sorted((c for c in self.checks if abs(c.z) > 3.0), key=lambda c: -abs(c.z))

    def next_measurements(self, candidates: Sequence[Measurement]) -> list[Candidate]:
        """Candidates by how much each is expected to narrow the release at the jobs' temperatures, the best first.

        Each is tried with outcomes that likely resins would show, by their weights (D.V. Lindley, Ann. Math. Stat. 27, 986, 1956; from
        memory: the expected information of an experiment; here the expected standard deviation).
        """
        x = self.posterior.rows.x[self.draws]
        goals = np.column_stack([self.release_times(T) for T in self.jobs_C])
        now = float(np.mean(goals.std(axis=0)))
        rng = np.random.default_rng(4)
        found = []
        for m in candidates:
            asking = Asking(self.family, [m], self.posterior.asking.threads)
            # A cup's loss is as the prior has it.
            loss = rng.normal(size=(len(x), len(asking.cups)))
            shown_ = asking.rows(np.column_stack([x[:, : self.family.dimensions], loss])).predicted
            then = []
            for i in rng.choice(len(x), OUTCOMES, replace=False):
                outcome = shown_[i] + asking.sd * rng.standard_t(4.0, asking.sd.size) / math.sqrt(2.0)
                w = weights_of(log_likelihood(outcome, shown_, asking.sd).sum(axis=1))
                mean = w @ goals
                then.append(float(np.mean(np.sqrt(w @ (goals - mean) ** 2))))
            found.append(Candidate(m.name, now, float(np.mean(then)), m.cost_min))
        return sorted(found, key=lambda c: c.spread_then)


def run(
    path: str | os.PathLike[str] | Mapping[str, Any],
    *,
    samples: int = 1024,
    seed: int = 20260101,
    threads: int | None = None,
    progress: Callable[[float], None] | None = None,
    stop: Event | None = None,
    models: Folders = None,
) -> Study:
    """Runs a study.

    Args:
        path: a document ``libcure/study/1``, or its file.
        samples: rows, a power of two.
        seed: of the sampling; the same gives the same study.
        threads: to use.
        progress: called with the share that is done, up to 1.
        stop: ends the study once another thread sets it; Ctrl-C does so with KeyboardInterrupt.

        models: folders of models of one's own, in which ids are looked up too.

    Raises:
        CureError: the document is refused, or ``stop`` was set.
    """
    with with_models(models):
        if isinstance(path, Mapping):
            about, family, measurements, jobs = read(path, "study", Path.cwd())
            file = ""
        else:
            about, family, measurements, jobs = load(path)
            file = shown(path)
    posterior = explore(family, measurements, samples=samples, seed=seed, threads=threads, progress=progress, stop=stop)
    return Study(about, family, measurements, jobs, posterior, file)
