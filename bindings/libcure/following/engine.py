"""Follows a job: readings, checks, and the release that they come to."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from libcure import _core
from libcure.errors import input_error
from libcure.following.checks import ENOUGH, Checks, amount
from libcure.following.faults import Screened, Statement, screen
from libcure.following.inference import Data, Prior, Weighted, fit, sample, time_grid, weigh
from libcure.following.readings import Readings, read_readings
from libcure.following.result import ASSUMPTION, Band, FollowResult, Sure, TemperatureBand, Unknown, percentile, round_up, sure_of
from libcure.following.unknowns import NUISANCES, SPEED, Job
from libcure.result import CaseLike, Prediction, predict
from libcure.result import _as_case as as_case
from libcure.sampling import PERCENTILES, UncertainInput, normal, unit_points
from libcure.sampling.uncertainty import Uncertainty
from libcure.words.page import usual_cautions
from libcure.words.rounding import duration

__all__ = ["PLACES", "follow"]

Floats = NDArray[np.float64]
ROWS, FEW_ROWS = 1024, 256
PLACES = tuple(_core.liner_places())
ONE_PLACE = "A probe reads one place: where the liner is thicker or the pipe colder than there, it may be ready later."


def follow(
    case: CaseLike,
    readings: Readings | str | os.PathLike[str],
    *,
    at: str = "liner outer face",
    now_min: float | None = None,
    uncertain: str | os.PathLike[str] | Sequence[UncertainInput] | None = None,
    samples: int | None = None,
    seed: int = 20260101,
    threads: int | None = None,
) -> FollowResult:
    """Updates the release of a job that runs with the readings of a thermocouple in its wall.

    What is not known (ground, contact, constants of the resin ...) has the range that :func:`libcure.predict` gives it;
    the readings narrow it, and the release with its band follows. Readings that cannot be the wall's are left out and
    told. The readings may move the release earlier only when every check passes; else the later of the releases with and
    without them is the answer.
    The same readings, in whatever order, and the same seed give the same numbers to the bit.

    Args:
        case: a case in one dimension with a held stage.
        readings: a CSV file (see :func:`libcure.following.read_readings`), or readings. Times count from mixing.
        at: where the probe lies, one of :data:`libcure.following.PLACES`.
        now_min: the time since mixing by a clock that is right [min]; that of the last row when left out.
        uncertain: a chart document whose ranges are taken, or ranges; the usual ones when left out.
            The constants of the resin vary by its covariance.
        samples: rows to start from, and at least as many with the readings; a power of two. 1024 when left out, 256 for a
            resin or wall that takes the slow solver.
        seed: of the sampling.
        threads: to use; all processors when left out.

    Raises:
        CureError: the case, the file, or an argument.
    """
    job, planned, before = _job(case, at, uncertain, threads)
    if samples is None:
        samples = ROWS if _core.packed(job.case.core) else FEW_ROWS
    if isinstance(samples, bool) or samples not in (2**i for i in range(6, 15)):
        raise input_error("samples", str(samples), "a power of two, 64 to 16384")
    if isinstance(seed, bool) or not 0 <= seed < 2**32 - 8:
        raise input_error("seed", str(seed), "0 to 4294967287")
    log = readings if isinstance(readings, Readings) else read_readings(readings)
    times = log.time[np.isfinite(log.time)]
    last = max(float(times.max()) if times.size else job.held[0], 0.0)
    if now_min is not None and not (math.isfinite(now_min) and 60.0 * now_min >= last - 1.0):
        allowed = f"{last / 60.0:g} or more: the readings go to there, or their clock or unit is wrong"
        raise input_error("now_min", f"{now_min:g}", allowed, log.file)
    now = last if now_min is None else 60.0 * now_min
    range_from = ASSUMPTION if uncertain is None else "given"
    clock = (now, now_min is not None)
    return _Follow(job, planned, before, log, clock, range_from=range_from, samples=samples, seed=seed).run()


def _job(
    case: CaseLike, at: str, uncertain: str | os.PathLike[str] | Sequence[UncertainInput] | None, threads: int | None
) -> tuple[Job, Prediction, Sure]:
    """The job, and what :func:`libcure.predict` says of it and its times."""
    found = as_case(case)
    if at not in PLACES:
        raise input_error("at", f'"{at}"', "one of " + ", ".join(PLACES))
    if "section" in found.document:
        raise input_error("section", "given", "a case in one dimension: a probe is at one place of it", found.name)
    if threads is not None and threads < 1:
        raise input_error("threads", str(threads), "1 or more")
    uncertainty = Uncertainty(uncertain, None)
    if not uncertainty.known:
        raise input_error("uncertain", f'"{uncertain}"', "ranges: readings have nothing to say where all is known", found.name)
    job = Job(found, at, uncertainty, threads)
    planned = predict(found, uncertain=uncertain)
    return job, planned, _before(planned)


def _before(planned: Prediction) -> Sure:
    """What is known without readings: the release is the answer's; of a plan that must not be done, that of its liner once
    it lies there."""
    r, release = planned.ranges, planned.answer.release_min
    assert r is not None
    never = {name: share for name, share in r.shares.items() if name != "reached" and share > 0.0}
    wait_until = round_up(r.release_bound_min) if release is None else release
    return Sure(r.working_min, r.gel_last_min, r.criterion_met_min, wait_until, never)


# Reasons that the readings decide anew.
ABOUT_RELEASE = frozenset(
    {"release_never", "release_not_reached", "release_not_sure", "hold_longer", "marginal", "wide", "few_samples"}
)


def _urgent(planned: Prediction, release_min: float, hold_ends_min: float) -> tuple[str, ...]:
    """Reasons of the plan's answer but what the readings decide anew, and a hold that is planned to end too early."""
    urgent = [r.text for r in planned.answer.reasons if r.code not in ABOUT_RELEASE]
    if math.isfinite(release_min) and release_min > hold_ends_min:
        ends, until = duration(hold_ends_min, up=False), duration(release_min, up=True)
        urgent.append(f"The hold is planned to end at {ends}: hold until {until}.")
    return tuple(urgent)


class _Follow:
    def __init__(
        self,
        job: Job,
        planned: Prediction,
        before: Sure,
        log: Readings,
        clock: tuple[float, bool],
        *,
        range_from: str,
        samples: int,
        seed: int,
    ) -> None:
        """Args: ``clock``: the moment [s] and whether a person gave it; others as of :func:`follow`."""
        self.job, self.planned, self.before, self.log = job, planned, before, log
        self.now, self.now_given = clock
        self.range_from = range_from
        self.samples, self.seed, self.k = samples, seed, job.unknowns
        self.x = normal(unit_points(self.k + len(NUISANCES), samples, seed))
        self.equal = np.full(samples, 1.0 / samples)
        # The picture shows what comes, too.
        expected = 60.0 * before.wait_until_min
        horizon = 1.05 * expected if math.isfinite(expected) else self.now + 3600.0
        self.grid = time_grid(job.held, max(self.now, horizon, job.held[0] + 600.0))
        self.prior: Prior = (self.x, job.traces(self.x, self.grid))

    def run(self) -> FollowResult:
        medium = self.job.media(np.zeros((1, self.k)), self.grid)[0]
        media = (medium, np.full(self.grid.size, medium[0]))
        screened = screen(self.log, self.job.held, self.grid, self.prior[1], media)
        data = self._data(screened)
        worth = 0.0 if data is None else float(data.weight.sum())
        reasons = amount(screened, worth, self.now, self.job.held[1])
        after, rows, traces = self.before, Weighted(self.x, self.equal, float(self.samples)), self.prior[1]
        if data is not None and worth > 0.0:
            found, _ = fit(self.job, data, self.grid, self.prior, NUISANCES[-1].sd)
            least = max(0.2 * self.samples, ENOUGH)
            rows, traces = sample(self.job, data, self.grid, self.prior, found, self.seed, least)
            assert self.planned.ranges is not None
            after = sure_of(self.job.outcomes(rows.x, self.planned.ranges.look_min), rows)
            if not reasons:
                best = found.x[None]
                starts = (np.concatenate([rows.x, best]), np.concatenate([traces, self.job.traces(best, self.grid)]))
                checks = Checks(self.job, data, found, rows, screened, self.grid, starts, now_given=self.now_given)
                reasons = [*checks.agreement(), *checks.clock(), *checks.contact()]
        return self._result(screened, worth, reasons, after, rows, traces)

    def _data(self, screened: Screened) -> Data | None:
        t, T = screened.time[screened.used], screened.temperature[screened.used]
        if t.size < 2:
            return None
        likely = np.nanmedian(self.prior[1][:, (self.grid >= t[0]) & (self.grid <= t[-1])], axis=0)
        return weigh(t, T, float(np.ptp(likely)) if likely.size else 0.0)

    def _result(
        self, screened: Screened, worth: float, reasons: list[Statement], after: Sure, rows: Weighted, traces: Floats
    ) -> FollowResult:
        relied_on = not reasons
        if not relied_on:
            # Whoever reads one number must not read one to let go by.
            after = replace(after, wait_until_min=max(self.before.wait_until_min, after.wait_until_min))
        working = after.working_min.p5
        return FollowResult(
            case=self.job.case,
            at=self.job.at,
            file=self.log.file,
            now_min=self.now / 60.0,
            now_given=self.now_given,
            before=self.before,
            after=after,
            relied_on=relied_on,
            release_min=after.wait_until_min,
            working_min=working if relied_on else min(working, self.before.working_min.p5),
            reasons=tuple(reasons),
            faults=screened.statements,
            cautions=_urgent(self.planned, after.wait_until_min, self.job.held[1] / 60.0),
            usual_cautions=(ONE_PLACE, *usual_cautions(self.planned.verdict)),
            unknowns=self._unknowns(rows),
            readings=screened,
            effective_readings=worth,
            effective_rows=rows.effective,
            samples=self.samples,
            seed=self.seed,
            band_before=self._temperatures(self.prior[1], self.x, self.equal),
            band_after=self._temperatures(traces, rows.x, rows.weight),
        )

    def _temperatures(self, traces: Floats, x: Floats, weight: Floats) -> TemperatureBand:
        shown = traces + NUISANCES[0].sd * x[:, [self.k]]
        keep = self.grid >= self.job.held[0] + 1.0
        shown = np.where(np.isnan(shown), np.inf, shown)[:, keep]
        order = np.argsort(shown, axis=0, kind="stable")
        share = np.cumsum(weight[order], axis=0)
        first = [np.argmax(share >= p / 100.0 - 1e-9, axis=0)[None] for p in PERCENTILES]
        bands = [np.take_along_axis(shown, np.take_along_axis(order, i, axis=0), axis=0)[0] for i in first]
        return TemperatureBand(self.grid[keep], *bands)

    def _unknowns(self, rows: Weighted) -> tuple[Unknown, ...]:
        from scipy.special import ndtr

        found = []

        Pair = tuple[Floats, Floats]

        def add(name: str, title: str, unit: str, source: str, values: Pair, scores: Pair) -> None:
            """Values before and after, and what to measure their spread by."""
            prior, after = (
                Band(*(percentile(v, w, p, up=p >= 50.0) for p in PERCENTILES))
                for v, w in zip(values, (self.equal, rows.weight), strict=True)
            )
            middle, sd = float(np.mean(scores[0])), float(np.std(scores[0]))
            mean = float(rows.weight @ scores[1])
            kept = math.sqrt(max(float(rows.weight @ (scores[1] - mean) ** 2), 0.0)) / sd
            found.append(Unknown(name, title, unit, prior, after, (mean - middle) / sd, kept, source))

        for j, entry in enumerate(self.job.inputs):
            scores = (self.x[:, j], rows.x[:, j])
            values = (entry.values(ndtr(scores[0])), entry.values(ndtr(scores[1])))
            source = self.range_from if entry is not SPEED else ASSUMPTION
            add(entry.name, entry.title, "1" if entry.is_factor else "K", source, values, scores)
        if self.job.constants is not None:
            speed = (self.job.speed(self.x), self.job.speed(rows.x))
            logs = (np.log(speed[0]), np.log(speed[1]))
            add("resin_speed", "Speed of the resin's cure", "1", "covariance of the resin", speed, logs)
        for j, nuisance in enumerate(NUISANCES, self.k):
            scale = nuisance.sd / (60.0 if nuisance.unit == "s" else 1.0)
            unit = "min" if nuisance.unit == "s" else nuisance.unit
            scores = (self.x[:, j], rows.x[:, j])
            add(nuisance.name, nuisance.title, unit, ASSUMPTION, (scale * scores[0], scale * scores[1]), scores)
        return tuple(found)
