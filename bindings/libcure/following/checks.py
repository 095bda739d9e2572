"""What forbids that readings move the release earlier. The limits are this project's own choice, without a source."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from libcure.following.faults import SETTLING, Screened, Statement, find_gap
from libcure.following.inference import CORRELATION_TIME, Data, Fit, Prior, Weighted, fit, weigh
from libcure.following.result import percentile
from libcure.following.unknowns import NUISANCES, Job

__all__ = ["ENOUGH", "agreement", "amount", "clock"]

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


def amount(screened: Screened, worth: float, now: float) -> list[Statement]:
    """Whether there are readings enough, and recent ones."""
    t, given = screened.time[screened.used], screened.time.size
    if not given:
        return [Statement("none", "There are no readings.")]
    if t.size < FEWEST:
        return [Statement("too_few", f"Only {t.size} of {given} readings are good; at least {FEWEST} are needed.")]
    out = []
    if worth < LEAST_WORTH:
        span, least = (t[-1] - t[0]) / 60.0, LEAST_WORTH * CORRELATION_TIME / 60.0
        text = f"The good readings span only {span:.0f} min; at least {least:.0f} are needed."
        out.append(Statement("too_few", text))
    gap = find_gap(t, now)
    if gap is not None:
        out.append(Statement("gap", f"The last good reading is {gap / 60.0:.0f} min old."))
    return out


def agreement(job: Job, data: Data, found: Fit, rows: Weighted) -> list[Statement]:
    """Whether readings and model go together with unknowns within their ranges."""
    out = []
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

    titles = [u.title.lower() for u in job.uncertain] + [n.title.lower() for n in NUISANCES]
    worst = int(np.argmax(np.abs(found.x)))
    if abs(found.x[worst]) > LARGE or float(found.x @ found.x) > chi2.ppf(0.999, found.x.size):
        text = "To agree with the readings, the unknowns would have to lie beyond their assumed ranges, "
        out.append(Statement("beyond_ranges", f"{text}{titles[worst]} most of all."))
    if rows.effective < FEW:
        text = f"Only {rows.effective:.0f} rows agree with the readings, so that the band is not known well."
        out.append(Statement("few_rows", text))
    return out


def clock(job: Job, data: Data, found: Fit, screened: Screened, grid: Floats, prior: Prior) -> list[Statement]:
    """Whether the logger's clock counts from another moment than mixing."""
    other = fit(job, data, grid, prior, CLOCK_SD, CLOCKS / CLOCK_SD)
    shift = CLOCK_SD * float(other.x[-1])
    # A free clock costs nothing by itself.
    gain = found.cost + 0.5 * float(found.x @ found.x) - other.cost - 0.5 * float(other.x[:-1] @ other.x[:-1])
    if abs(shift) > CLOCK_LARGE and gain > BETTER:
        side = "late" if shift < 0.0 else "early"
        text = f"The readings fit better if their times are some {abs(shift) / 60.0:.0f} min too {side}. "
        return [Statement("clock", text + "Do they count from mixing?")]
    return _held_too_early(job, data, found, screened, grid, prior)


def _held_too_early(
    job: Job, data: Data, found: Fit, screened: Screened, grid: Floats, prior: Prior
) -> list[Statement]:
    """Readings from before the liner is held that are those of one that is held: the clock was started late."""
    begin = job.held[0]
    early = (screened.status == "before_held") & (screened.time < begin)
    t, T = screened.time[early], screened.temperature[early]
    shift = begin + SETTLING - float(t[0]) if t.size >= 3 else 0.0
    if shift < CLOCK_LARGE:
        return []
    # All of the log, later by what makes its first reading one of the held liner.
    moved = weigh(np.concatenate([t, data.t]) + shift, np.concatenate([T, data.T]), 0.0)
    inside = moved.t <= grid[-1]
    sd = float(data.sd[0])
    moved = Data(moved.t[inside], moved.T[inside], np.full(int(inside.sum()), sd), moved.weight[inside])
    other = fit(job, moved, grid, prior, NUISANCES[1].sd, np.empty(0))
    as_held = float(np.median(np.abs(other.z[moved.t < shift + float(data.t[0])])))
    # What they should be: the wet liner's, or the air's.
    theta, probe = found.x[None, : len(job.uncertain)], NUISANCES[0].sd * float(found.x[-2])
    wet, air = (np.interp(t, grid, job.traces(theta, grid, place)[0]) for place in ("", "medium"))
    as_said = min(float(np.median(np.abs(T - model))) / sd for model in (wet + probe, air))
    cost = (found.cost + 0.5 * float(found.x @ found.x)) / float(data.weight.sum())
    cost_moved = (other.cost + 0.5 * float(other.x @ other.x)) / float(moved.weight.sum())
    if as_held < min(MIDDLE, as_said) and cost_moved < 1.25 * cost + 0.1:
        text = f"The readings before {begin / 60.0:.0f} min look like those of a liner that is held already. "
        return [Statement("clock", text + "Was the logger's clock started then, and not at mixing?")]
    return []
