"""How often 95 % intervals cover the truth when instrument and samples have faults drawn at random.

    .venv/bin/python tests/benchmark/fit_systematics.py [repetitions [--first SEED] [law | choice ...]]

Records come from tests/python/calorimeter_chain.py, which is not the model that is fitted. Prints, by law and constant and for the heat of
reaction, the share of repetitions whose interval covers; and (`choice`) how often the true law is chosen of all, or one that predicts runs left out
as well. 200 repetitions are wanted; the test suite runs fewer, with limits by their own distribution (tests/python/test_fit_instrument.py).
"""

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from calorimeter_chain import HEAT, LAWS, drawn, runs_of, truth_of

from libcure import fitting
from libcure.errors import CureError
from libcure.fitting.quantiles import Z95
from libcure.fitting.selection import choose, compare

LOW, HIGH = 0.90, 0.98
CHOICE = "choice"
AS_GOOD = 1.05  # ratio of errors on runs left out
MANY = 16  # starts of a law that has wrong minima: diffusion control that ends all runs at one degree of cure


def starts_of(law, few):
    return max(few, MANY) if LAWS[law].vitrifies else few


def one(law, instrument, starts, points, seed):
    """Errors over half widths of the intervals, heat last; NaN where a drift hides the exotherm of a hold, and its record is refused."""
    random = np.random.default_rng([seed, 20])
    try:
        runs = runs_of(law, drawn(random), random, points=points)
    except CureError as error:
        assert "exotherm is less than its drift" in str(error) or "still rises" in str(error), error
        return np.full(len(LAWS[law].free) + 1, np.nan)
    options = fitting.Options(starts=starts_of(law, starts), seed=seed, threads=1, instrument=instrument)
    fit = fitting.fit_law(LAWS[law], runs, E=60e3, options=options)
    off = (fit.x - truth_of(law, fit)) / (Z95 * fit.errors)
    return np.append(off, (fit.heat - HEAT) / fit.heat_half_width)


def _mapped(run, seeds, processes):
    if processes == 1:
        yield from map(run, seeds)
        return
    with ProcessPoolExecutor(processes) as pool:
        yield from pool.map(run, seeds, chunksize=2)


def coverage(law, repetitions, instrument=None, starts=4, points=800, processes=1, first=0):
    """(repetitions less those refused, constants and heat) errors over half widths of 95 % intervals."""
    found = np.array(list(_mapped(partial(one, law, instrument or fitting.Instrument(), starts, points), range(first, first + repetitions), processes)))
    return found[np.isfinite(found).all(axis=1)]


def true_law(seed):
    return list(LAWS)[seed % len(LAWS)]


def chosen(seed, laws=tuple(LAWS)):
    """The law chosen, and its error on runs left out over that of the true one; None where a record is refused."""
    law, random = true_law(seed), np.random.default_rng([seed, 77])
    try:
        runs = runs_of(law, drawn(random), random, points=400)
    except CureError:
        return None
    fits = {name: fitting.fit_law(LAWS[name], runs, options=fitting.Options(starts=starts_of(name, 4), threads=1)) for name in laws}
    compare(list(fits.values()))
    left_out = {fit.law.label: fitting.hold_out(fit) for fit in fits.values()}
    rms = {label: float(np.sqrt(np.mean([h.rms_rate**2 for h in found]))) for label, found in left_out.items()}
    label = choose(list(fits.values()), left_out).label
    return label, rms[label] / rms[LAWS[law].label]


def selection(count, first, processes):
    """Whether enough of so many choices are right."""
    right = as_good = asked = 0
    seeds = range(first, first + count)
    for seed, found in zip(seeds, _mapped(chosen, seeds, processes), strict=True):
        law = true_law(seed)
        if found is None:
            continue
        label, ratio = found
        good = label == LAWS[law].label or ratio < AS_GOOD
        asked, right, as_good = asked + 1, right + (label == LAWS[law].label), as_good + good
        if not good:
            print(f"  seed {seed}, true {LAWS[law].label}: {label} chosen, {ratio:.2f} times as far off runs left out", flush=True)
    print(f"choice of {', '.join(LAWS)}: the true law in {right} of {asked}, it or one that predicts as well in {as_good}", flush=True)
    return as_good >= 0.95 * asked


def covered(law, count, first, processes):
    """Whether the intervals of a law are neither too narrow nor too wide."""
    names = [LAWS[law].parameters[i].name for i in LAWS[law].free] + ["heat"]
    z = coverage(law, count, processes=processes, first=first)
    print(f"{law}: {count} repetitions, {count - len(z)} refused")
    passed = True
    for k, name in enumerate(names):
        share = np.mean(np.abs(z[:, k]) <= 1.0)
        passed &= LOW <= share <= HIGH
        print(f"  {name:10s} covered {100 * share:5.1f} %   error over half width: mean {z[:, k].mean():+.2f}, root mean square "
              f"{np.sqrt(np.mean(z[:, k] ** 2)):.2f}", flush=True)
    return passed


def main():
    asked = argparse.ArgumentParser()
    asked.add_argument("repetitions", type=int, nargs="?", default=200)
    asked.add_argument("what", nargs="*", default=[*LAWS, CHOICE], choices=[*LAWS, CHOICE])
    asked.add_argument("--first", type=int, default=0)
    asked.add_argument("--processes", type=int, default=1)
    given = asked.parse_args()
    passed = [selection(given.repetitions, given.first, given.processes) if one == CHOICE else covered(one, given.repetitions, given.first, given.processes)
              for one in given.what]
    return all(passed)


if __name__ == "__main__":
    sys.exit(not main())
