"""Follows a job: readings, checks, and the release that they come to."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import ensemble
from libcure.case import Case
from libcure.errors import input_error
from libcure.following.faults import SETTLING, Screened, Statement, find_gap, screen
from libcure.following.inference import Data, Fit, Weighted, fit, sample, time_grid, weigh
from libcure.following.readings import Readings, read_readings
from libcure.following.result import PERCENTILES, Band, FollowResult, Sure, TemperatureBand, Unknown, percentile, sure_of
from libcure.following.unknowns import DEFAULTS, NUISANCES, Job, check_uncertain
from libcure.result import CaseLike, predict
from libcure.result import _as_case as as_case
from libcure.sampling import UncertainInput, normal, unit_points
from libcure.verdict_view import URGENT

__all__ = ["PLACES", "follow"]

Floats = NDArray[np.float64]
PLACES = ("liner inner face", "liner middle", "liner outer face")
FEWEST, LEAST_WORTH = 10, 2.0  # good readings, and independent ones that they must be worth
ENOUGH, FEW = 24.0, 16.0  # rows that must count before the sampling stops, and for an answer
LARGE = 3.0  # standard deviations
LATE = 1800.0  # s before the last reading, in which the model must not drift away
CLOCK_SD, CLOCK_LARGE = 900.0, 180.0  # s
BETTER = 6.0  # by how much -ln p must fall for another clock to be believed
ASSUMPTION = "assumption, no source"


def follow(
    case: CaseLike,
    readings: Readings | str | os.PathLike[str],
    *,
    at: str = "liner outer face",
    now_min: float | None = None,
    uncertain: Sequence[UncertainInput] | None = None,
    samples: int = 256,
    seed: int = 20260101,
    threads: int | None = None,
) -> FollowResult:
    """Updates the release of a job that runs with the readings of a thermocouple in its wall.

    What is not known (ground, contact, speed of cure ...) has an assumed range; the readings narrow it, and the
    release with its band follows. Readings that cannot be the wall's are left out and told. The readings may move the
    release earlier only when every check passes; else the later of the releases with and without them is the answer.
    The same readings, in whatever order, and the same seed give the same numbers to the bit.

    Args:
        case: a case in one dimension with a held stage.
        readings: a CSV file (see :func:`libcure.following.read_readings`), or readings. Times count from mixing.
        at: where the probe lies, one of :data:`libcure.following.PLACES`.
        now_min: the moment that the answer is for [min]; that of the last row when left out.
        uncertain: what is not known, instead of :data:`libcure.following.DEFAULTS`.
        samples: rows before, and at least as many after the readings; a power of two.
        seed: of the sampling.
        threads: to use; all processors when left out.

    Raises:
        CureError: the case, the file, or an argument.
    """
    job = _job(case, at, uncertain, threads)
    if isinstance(samples, bool) or samples not in (2**i for i in range(6, 15)):
        raise input_error("samples", str(samples), "a power of two, 64 to 16384")
    if isinstance(seed, bool) or not 0 <= seed < 2**32 - 8:
        raise input_error("seed", str(seed), "0 to 4294967287")
    log = readings if isinstance(readings, Readings) else read_readings(readings)
    times = log.time[np.isfinite(log.time)]
    last = max(float(times.max()) if times.size else job.held[0], 0.0)
    if now_min is not None and not (math.isfinite(now_min) and 60.0 * now_min >= last - 1.0):
        raise input_error("now_min", f"{now_min:g}", f"{last / 60.0:g} or more: the readings go to there", log.file)
    return _Follow(job, log, 60.0 * now_min if now_min is not None else last, samples, seed).run()


def _job(case: CaseLike, at: str, uncertain: Sequence[UncertainInput] | None, threads: int | None) -> Job:
    found = as_case(case)
    if at not in PLACES:
        raise input_error("at", f'"{at}"', "one of " + ", ".join(PLACES))
    if "section" in found.document:
        raise input_error("section", "given", "a case in one dimension: a probe is at one place of it", found.name)
    if threads is not None and threads < 1:
        raise input_error("threads", str(threads), "1 or more")
    return Job(found, at, check_uncertain(DEFAULTS if uncertain is None else uncertain), threads)


class _Follow:
    def __init__(self, job: Job, log: Readings, now: float, samples: int, seed: int) -> None:
        self.job, self.log, self.now, self.samples, self.seed = job, log, now, samples, seed
        self.k = len(job.uncertain)
        self.x = normal(unit_points(self.k + len(NUISANCES), samples, seed))
        self.outcomes = job.outcomes(self.x[:, : self.k])
        self.equal = np.full(samples, 1.0 / samples)
        self.before = sure_of(self.outcomes, self.equal)
        # The picture shows what comes, too.
        expected = 60.0 * self.before.release_recommended_min.p95
        horizon = 1.05 * expected if math.isfinite(expected) else now + 3600.0
        self.grid = time_grid(job.held, max(now, horizon, job.held[0] + 600.0))
        self.traces = job.traces(self.x[:, : self.k], self.grid)
        if np.isnan(self.traces).all():
            raise input_error("case", self.outcomes.messages.get(0, "it cannot be computed"), "a case that runs", job.case.name)

    def run(self) -> FollowResult:
        medium = self.job.traces(np.zeros((1, self.k)), self.grid, "medium")[0]
        media = (medium, np.full(self.grid.size, medium[0]))
        screened = screen(self.log, self.job.held, self.grid, self.traces, media)
        t, T = screened.time[screened.used], screened.temperature[screened.used]
        reasons = self._too_few(screened)
        after, rows, traces = self.before, Weighted(self.x, self.equal, float(self.samples)), self.traces
        worth = 0.0
        if t.size >= 3:
            span = float(np.ptp(np.nanmedian(self.traces[:, (self.grid >= t[0]) & (self.grid <= t[-1])], axis=0), axis=0)) if t[-1] > t[0] else 0.0
            data = weigh(t, T, span)
            worth = float(data.weight.sum())
            if worth > 0.0:
                found = fit(self.job, data, self.grid, (self.x, self.traces), NUISANCES[1].sd, np.empty(0))
                rows, traces = sample(self.job, data, self.grid, (self.x, self.traces), found, self.seed, max(0.2 * self.samples, ENOUGH))
                outcomes = self.job.outcomes(rows.x[:, : self.k])
                after = sure_of(outcomes, rows.weight)
                if worth < LEAST_WORTH and not reasons:
                    reasons.append(Statement("too_few", f"The good readings span only {(t[-1] - t[0]) / 60:.0f} min; at least "
                                             f"{LEAST_WORTH * 10:.0f} min are needed."))  # fmt: skip
                if not reasons:
                    reasons += self._disagreement(data, found)
                    reasons += self._clock(data, found, screened)
                    if rows.effective < FEW:
                        reasons.append(Statement("few_rows", f"Only {rows.effective:.0f} rows agree with the readings; the band is not known well."))
        gap = find_gap(t, self.now) if t.size else None
        if gap is not None and t.size >= FEWEST:
            reasons.append(Statement("gap", f"The last good reading is {gap / 60:.0f} min old."))
        relied_on = not reasons
        earlier, later = self.before.release_recommended_min.p95, after.release_recommended_min.p95
        return FollowResult(
            case=self.job.case,
            at=self.job.at,
            file=self.log.file,
            now_min=self.now / 60.0,
            before=self.before,
            after=after,
            relied_on=relied_on,
            release_recommended_min=later if relied_on else max(earlier, later),
            working_min=after.working_min.p5 if relied_on else min(after.working_min.p5, self.before.working_min.p5),
            reasons=tuple(reasons),
            faults=screened.statements,
            cautions=self._plan_cautions(),
            unknowns=self._unknowns(rows),
            uncertain=self.job.uncertain,
            readings=screened,
            effective_readings=worth,
            effective_rows=rows.effective,
            samples=self.samples,
            seed=self.seed,
            band_before=self._temperatures(self.traces, self.x, self.equal),
            band_after=self._temperatures(traces, rows.x, rows.weight),
        )

    def _too_few(self, screened: Screened) -> list[Statement]:
        used = int(screened.used.sum())
        if used >= FEWEST:
            return []
        given = screened.time.size
        if not given:
            return [Statement("none", "There are no readings.")]
        return [Statement("too_few", f"Only {used} of {given} readings are good; at least {FEWEST} are needed.")]

    def _disagreement(self, data: Data, found: Fit) -> list[Statement]:
        """Where readings and model do not go together, whatever the unknowns within their ranges."""
        out = []
        z, w = np.abs(found.z), data.weight / data.weight.sum()
        beyond = float(w[z > LARGE].sum())
        middle = percentile(z, w, 50.0, up=True)
        if beyond > 0.2 or middle > 1.5:
            off = float(np.sqrt(np.sum(w * (found.z * data.sd) ** 2)))
            out.append(Statement("misfit", f"No job within the assumed ranges shows these temperatures: they stay {off:.1f} K off. Is the case "
                                 "right, and does the probe lie where it says?"))  # fmt: skip
        late = data.t > data.t[-1] - LATE
        drift = float(np.sum(data.weight[late] * found.z[late]) / max(np.sum(data.weight[late]), 1e-12))
        if abs(drift) > 2.0 and not out:
            out.append(Statement("drift", f"In the last half hour the readings run {abs(drift) * float(data.sd[-1]):.1f} K "
                                 f"{'above' if drift > 0 else 'below'} what the model can do."))  # fmt: skip
        from scipy.stats import chi2

        titles = [u.title.lower() for u in self.job.uncertain] + [n.title.lower() for n in NUISANCES]
        j = int(np.argmax(np.abs(found.x)))
        if abs(found.x[j]) > LARGE or float(found.x @ found.x) > chi2.ppf(0.999, found.x.size):
            out.append(Statement("beyond_ranges", f"To agree with the readings, the unknowns would have to lie beyond their assumed ranges, {titles[j]} "
                                 "most of all."))  # fmt: skip
        return out

    def _clock(self, data: Data, found: Fit, screened: Screened) -> list[Statement]:
        """Whether the logger's clock counts from another moment than mixing."""
        clocks = np.arange(-30.0, 31.0, 5.0) * 60.0 / CLOCK_SD
        other = fit(self.job, data, self.grid, (self.x, self.traces), CLOCK_SD, clocks)
        shift = CLOCK_SD * other.x[-1]
        gain = found.cost + 0.5 * float(found.x @ found.x) - other.cost - 0.5 * float(other.x[:-1] @ other.x[:-1])
        if abs(shift) > CLOCK_LARGE and gain > BETTER:
            word = "late" if shift < 0 else "early"
            return [Statement("clock", f"The readings fit better if their times are some {abs(shift) / 60:.0f} min too {word}. Do they count "
                              "from mixing?")]  # fmt: skip
        return self._held_too_early(data, found, screened)

    def _held_too_early(self, data: Data, found: Fit, screened: Screened) -> list[Statement]:
        """Readings from before the liner is held that are those of one that is held already: the clock was started late."""
        begin = self.job.held[0]
        early = (screened.status == "before_held") & (screened.time < begin)
        t, T = screened.time[early], screened.temperature[early]
        if t.size < 3:
            return []
        shift = begin + SETTLING - float(t[0])
        if shift < CLOCK_LARGE:
            return []
        # All of the log, later by what makes its first reading one of the held liner.
        sd = float(data.sd[0])
        moved = weigh(np.concatenate([t, data.t]) + shift, np.concatenate([T, data.T]), 0.0)
        inside = moved.t <= self.grid[-1]
        moved = Data(moved.t[inside], moved.T[inside], np.full(int(inside.sum()), sd), moved.weight[inside])
        other = fit(self.job, moved, self.grid, (self.x, self.traces), NUISANCES[1].sd, np.empty(0))
        as_held = float(np.median(np.abs(other.z[moved.t < shift + float(data.t[0])])))
        # What they should be: the wet liner's, or the air's.
        wet = np.interp(t, self.grid, self.job.traces(found.x[None, : self.k], self.grid)[0]) + NUISANCES[0].sd * found.x[self.k]
        air = np.interp(t, self.grid, self.job.traces(found.x[None, : self.k], self.grid, "medium")[0])
        as_said = min(float(np.median(np.abs(T - model))) / sd for model in (wet, air))
        worth = float(data.weight.sum()), float(moved.weight.sum())
        cost = (found.cost + 0.5 * float(found.x @ found.x)) / worth[0]
        cost_moved = (other.cost + 0.5 * float(other.x @ other.x)) / worth[1]
        if as_held < min(1.5, as_said) and cost_moved < 1.25 * cost + 0.1:
            return [Statement("clock", f"The readings before {begin / 60:.0f} min look like those of a liner that is held already. Was the logger's "
                              "clock started then, and not at mixing?")]  # fmt: skip
        return []

    def _plan_cautions(self) -> tuple[str, ...]:
        about_release = ("release_never", "release_not_reached", "held_too_short", "knife_edge")
        cautions: list[dict[str, Any]] = predict(self.job.case, numerical_error=False).verdict["cautions"]
        return tuple(c["text"] for c in cautions if c["code"] in URGENT and c["code"] not in about_release)

    def _temperatures(self, traces: Floats, x: Floats, weight: Floats) -> TemperatureBand:
        shown = traces + NUISANCES[0].sd * x[:, [self.k]]
        keep = self.grid >= self.job.held[0] + 1.0
        shown = np.where(np.isnan(shown), np.inf, shown)[:, keep]
        bands = [np.array([percentile(column, weight, p, up=p >= 50.0) for column in shown.T]) for p in PERCENTILES]
        return TemperatureBand(self.grid[keep], *bands)

    def _unknowns(self, rows: Weighted) -> tuple[Unknown, ...]:
        from scipy.special import ndtr

        own = self.job.uncertain != DEFAULTS
        found = []
        for j in range(self.k + len(NUISANCES)):
            if j < self.k:
                entry = self.job.uncertain[j]
                name, title, unit = entry.name, entry.title, "1" if entry.is_factor else "K"
                values, prior = entry.values(ndtr(rows.x[:, j])), entry.values(ndtr(self.x[:, j]))
                source = "given" if own else ASSUMPTION
            else:
                nuisance = NUISANCES[j - self.k]
                scale = nuisance.sd / (60.0 if nuisance.unit == "s" else 1.0)
                name, title, unit = nuisance.name, nuisance.title, "min" if nuisance.unit == "s" else nuisance.unit
                values, prior, source = scale * rows.x[:, j], scale * self.x[:, j], ASSUMPTION
            mean = float(rows.weight @ rows.x[:, j])
            sd = math.sqrt(max(float(rows.weight @ (rows.x[:, j] - mean) ** 2), 0.0))
            before = Band(*(percentile(prior, self.equal, p, up=p >= 50.0) for p in PERCENTILES))
            after = Band(*(percentile(values, rows.weight, p, up=p >= 50.0) for p in PERCENTILES))
            found.append(Unknown(name, title, unit, before, after, mean, sd / float(np.std(self.x[:, j])), source))
        return tuple(found)
