"""What forbids that readings move the release earlier. The limits are this project's own choice, without a source."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from libcure.following.faults import GAP, SETTLING, Screened, Statement, find_gap
from libcure.following.inference import CORRELATION_TIME, Data, Fit, Off, Prior, Weighted, fit, least_cost, weigh
from libcure.following.result import percentile
from libcure.following.unknowns import NUISANCES, Job

__all__ = ["ENOUGH", "Checks", "amount"]

Floats = NDArray[np.float64]
FEWEST, LEAST_WORTH = 10, 2.0  # good readings, and independent ones that they must be worth
ENOUGH, FEW = 24.0, 16.0  # rows that must count before the sampling stops, and for an answer
LARGE = 3.0  # standard deviations
LARGE_SHARE = 0.2  # of readings, by weight, that may be that far off
MIDDLE, DRIFT = 1.5, 2.0  # standard deviations of the median reading, and of the last ones
LATE = 1800.0  # s before the last reading, in which the model must not drift away
CLOCK_SD, CLOCK_LARGE = 900.0, 180.0  # s
CLOCKS = np.arange(-30.0, 31.0, 5.0) * 60.0  # s, to start from
BETTER = 6.0  # by how much -ln p must fall for another clock to be believed
AHEAD_LEAST, AHEAD_MOST = 900.0, 24  # s that a clock is ahead at the least, and how many such are tried
ON_WALL = 3.0  # by how much -ln p must be below that of a probe that hangs in the fill from the start
CAME_OFF = 3.0  # by how much -ln p must fall for it to be believed that the probe came off
OFF_SHARES, OFF_TIMES = (0.5, 1.0), 8


def amount(screened: Screened, worth: float, now: float, end: float) -> list[Statement]:
    """Whether there are readings enough, recent ones, and from times that the job has."""
    t, given = screened.time[screened.used], screened.time.size
    if not given:
        return [Statement("none", "There are no readings.")]
    out = []
    if (last := screened.time[-1]) > end + GAP:
        text = f"The last row is at {last / 60.0:.0f} min, after the end of the hold in the case, {end / 60.0:.0f} min. "
        out.append(Statement("clock", text + "Do the times count from mixing, in the unit of their heading?"))
    if t.size < FEWEST:
        text = f"Only {t.size} of {given} readings are good; at least {FEWEST} are needed."
        return [*out, Statement("too_few", text)]
    if worth < LEAST_WORTH:
        span, least = (t[-1] - t[0]) / 60.0, LEAST_WORTH * CORRELATION_TIME / 60.0
        text = f"The good readings span only {span:.0f} min; at least {least:.0f} are needed."
        out.append(Statement("too_few", text))
    gap = find_gap(t, now)
    if gap is not None:
        out.append(Statement("gap", f"The last good reading is {gap / 60.0:.0f} min old."))
    return out


class Checks:
    """What forbids to rely on readings that a fit was made to.

    Args:
        found: the most likely values.
        rows: what is known with the readings.
        starts: rows and their traces to look for other explanations from.
        now_given: whether a person gave the time since mixing, which the last reading is then near to.
    """

    def __init__(
        self,
        job: Job,
        data: Data,
        found: Fit,
        rows: Weighted,
        screened: Screened,
        grid: Floats,
        starts: Prior,
        *,
        now_given: bool,
    ) -> None:
        self.job, self.data, self.found, self.rows, self.screened = job, data, found, rows, screened
        self.grid, self.starts, self.now_given = grid, starts, now_given

    def agreement(self) -> list[Statement]:
        """Whether readings and model go together with unknowns within their ranges."""
        data, found, out = self.data, self.found, []
        z, w = np.abs(found.z), data.weight / data.weight.sum()
        if w[z > LARGE].sum() > LARGE_SHARE or percentile(z, w, 50.0, up=True) > MIDDLE:
            off = float(np.sqrt(np.sum(w * (found.z * data.sd) ** 2)))
            text = f"No job within the assumed ranges shows these temperatures: they stay {off:.1f} K off. "
            out.append(Statement("misfit", text + "Is the case right, and does the probe lie where it says?"))
        late = data.t > data.t[-1] - LATE
        drift = float(np.sum(data.weight[late] * found.z[late]) / max(np.sum(data.weight[late]), 1e-12))
        if abs(drift) > DRIFT and not out:
            side = "above" if drift > 0.0 else "below"
            size = abs(drift) * float(data.sd[-1])
            text = f"In the last half hour the readings run {size:.1f} K {side} what the model can do."
            out.append(Statement("drift", text))
        from scipy.stats import chi2

        titles = [title.lower() for title in (*self.job.titles, *(n.title for n in NUISANCES))]
        worst = int(np.argmax(np.abs(found.x)))
        if abs(found.x[worst]) > LARGE or float(found.x @ found.x) > chi2.ppf(0.999, found.x.size):
            text = "To agree with the readings, the unknowns would have to lie beyond their assumed ranges, "
            out.append(Statement("beyond_ranges", f"{text}{titles[worst]} most of all."))
        if self.rows.effective < FEW:
            text = f"Only {self.rows.effective:.0f} rows agree with the readings, so that the band is not known well."
            out.append(Statement("few_rows", text))
        return out

    def clock(self) -> list[Statement]:
        """Whether the logger's clock counts from another moment than mixing, or in another unit."""
        other, _ = fit(self.job, self.data, self.grid, self.starts, CLOCK_SD, CLOCKS / CLOCK_SD)
        shift = CLOCK_SD * float(other.x[-1])
        # A free clock costs nothing by itself.
        if abs(shift) > CLOCK_LARGE and self.found.total() - other.total(free=True) > BETTER:
            side = "late" if shift < 0.0 else "early"
            text = f"The readings fit better if their times are some {abs(shift) / 60.0:.0f} min too {side}. "
            return [Statement("clock", text + "Do they count from mixing?")]
        return self._ahead() or self._held_too_early()

    def _ahead(self) -> list[Statement]:
        """A clock that counts from long before mixing, or minutes that are seconds, make a cold wall a cured one.

        Late readings of a wall at rest look the same at any time: then only a person's clock can tell.
        """
        t, sd = self.data.t, NUISANCES[-1].sd
        most = float(t[0]) - self.job.held[0] - SETTLING
        ahead = np.linspace(AHEAD_LEAST, most, AHEAD_MOST) if most > AHEAD_LEAST else np.empty(0)
        ways = [(f"run {s / 60.0:.0f} min ahead", t - s) for s in ahead]
        if t[0] / 60.0 > self.job.held[0]:
            ways.append(("are seconds", t / 60.0))
        if not ways:
            return []
        moved = [(words, replace(self.data, t=times)) for words, times in ways]
        words, best = min(moved, key=lambda way: least_cost(self.job, way[1], self.grid, self.starts, sd))
        gain = self.found.total() - fit(self.job, best, self.grid, self.starts, sd)[0].total()
        if gain > BETTER:
            text = f"The readings fit better if their times {words}. "
            return [Statement("clock", text + "Do they count from mixing, in the unit of their heading?")]
        if gain > -BETTER and not self.now_given:
            text = f"The readings fit as well if their times {words}, and the job is younger than they say. "
            return [Statement("clock", text + "Give the time since mixing by another clock (--now).")]
        return []

    def contact(self) -> list[Statement]:
        """Whether the probe lies on the wall: a probe that has come off shows the fill, or something between."""
        job, data, own = self.job, self.data, self.found.total()
        if (self.screened.status == "fallen_off").any():
            text = "The probe has come off at least once: what it shows besides may be as wrong."
            return [Statement("contact", text)]
        sd, first = NUISANCES[-1].sd, float(data.t[0]) - 3600.0
        always, _ = fit(job, data, self.grid, self.starts, sd, offs=[Off(first, 1.0)])
        if own > always.total() - ON_WALL:
            text = "The readings look like those of a probe in the fill of the bladder as much as of one in the wall. "
            return [Statement("contact", text + "Has the probe come off? Does it lie where it says?")]
        since = np.quantile(data.t, np.linspace(0.0, 0.9, OFF_TIMES))
        offs = [Off(first, OFF_SHARES[0]), *(Off(float(t), share) for t in since for share in OFF_SHARES)]
        other, off = fit(job, data, self.grid, self.starts, sd, offs=offs)
        if off is not None and own > other.total() + CAME_OFF:
            when = f" from {off.since / 60.0:.0f} min on" if off.since > data.t[0] else ""
            text = f"The readings fit better if the probe has lost its contact{when} and shows the fill of the bladder. "
            return [Statement("contact", text + "Has it come off?")]
        return []

    def _held_too_early(self) -> list[Statement]:
        """Readings from before the liner is held that are those of one that is held: the clock was started late."""
        job, data, found, grid, begin = self.job, self.data, self.found, self.grid, self.job.held[0]
        early = (self.screened.status == "before_held") & (self.screened.time < begin)
        t, T = self.screened.time[early], self.screened.temperature[early]
        shift = begin + SETTLING - float(t[0]) if t.size >= 3 else 0.0
        if shift < CLOCK_LARGE:
            return []
        # All of the log, later by what makes its first reading one of the held liner.
        moved = weigh(np.concatenate([t, data.t]) + shift, np.concatenate([T, data.T]), 0.0)
        inside = moved.t <= grid[-1]
        sd = float(data.sd[0])
        moved = Data(moved.t[inside], moved.T[inside], np.full(int(inside.sum()), sd), moved.weight[inside])
        other, _ = fit(job, moved, grid, self.starts, NUISANCES[-1].sd)
        as_held = float(np.median(np.abs(other.z[moved.t < shift + float(data.t[0])])))
        # What they should be: the wet liner's, or the air's.
        wet = np.interp(t, grid, job.traces(found.x[None], grid)[0]) + NUISANCES[0].sd * float(found.x[job.unknowns])
        air = np.interp(t, grid, job.media(found.x[None], grid)[0])
        as_said = min(float(np.median(np.abs(T - model))) / sd for model in (wet, air))
        cost, cost_moved = found.total() / float(data.weight.sum()), other.total() / float(moved.weight.sum())
        if as_held < min(MIDDLE, as_said) and cost_moved < 1.25 * cost + 0.1:
            text = f"The readings before {begin / 60.0:.0f} min look like those of a liner that is held already. "
            return [Statement("clock", text + "Was the logger's clock started then, and not at mixing?")]
        return []
