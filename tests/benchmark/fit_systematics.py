"""How often 95 % intervals cover the truth when instrument and samples have faults drawn at random.

    .venv/bin/python tests/benchmark/fit_systematics.py [repetitions [law ...]]

Records come from tests/python/calorimeter_chain.py, which is not the model that is fitted. Prints, by law and constant and for the
heat of reaction, the share of repetitions whose interval covers, with and without the instrument in the fit; then how often the
true law is chosen of three, or one that predicts runs left out as well. 200 repetitions are
wanted; the test suite runs fewer, with limits by their own distribution (tests/python/test_fit_instrument.py).
"""

import sys
from concurrent.futures import ProcessPoolExecutor
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from calorimeter_chain import HEAT, LAWS, drawn, runs_of, truth_of

from libcure import fitting
from libcure.fitting.law_fit import Z95
from libcure.fitting.selection import choose, compare

LOW, HIGH = 0.90, 0.98
RIVALS = ("nth-order", "autocatalytic", "kamal-sourour")
AS_GOOD = 1.05  # ratio of errors on runs left out


def one(law, instrument, starts, points, seed):
    """Errors over half widths of the intervals, heat last; names."""
    random = np.random.default_rng([seed, 20])
    faults = drawn(random)
    runs = runs_of(law, faults, random, points=points)
    fit = fitting.fit_law(LAWS[law], runs, E=60e3, options=fitting.Options(starts=starts, seed=seed, threads=1, instrument=instrument))
    off = (fit.x - truth_of(law, fit)) / (Z95 * fit.errors)
    return np.append(off, (fit.heat - HEAT) / fit.heat_half_width)


def coverage(law, repetitions, instrument=None, starts=4, points=800, processes=1):
    """(repetitions, constants and heat) errors over half widths of 95 % intervals."""
    run = partial(one, law, instrument or fitting.Instrument(), starts, points)
    if processes == 1:
        return np.array([run(seed) for seed in range(repetitions)])
    with ProcessPoolExecutor(processes) as pool:
        return np.array(list(pool.map(run, range(repetitions), chunksize=2)))


def chosen(law, seed):
    """The law chosen, and its error on runs left out over that of the true one."""
    random = np.random.default_rng([seed, 77])
    runs = runs_of(law, drawn(random), random, points=400)
    fits = [fitting.fit_law(LAWS[name], runs, options=fitting.Options(starts=3, threads=1)) for name in RIVALS]
    compare(fits)
    left_out = {fit.law.label: fitting.hold_out(fit) for fit in fits}
    rms = {name: float(np.sqrt(np.mean([h.rms_rate**2 for h in found]))) for name, found in left_out.items()}
    label = choose(fits, left_out).label
    return label, rms[label] / rms[law]


def selection(count):
    """Whether enough of so many choices are right."""
    right = as_good = 0
    for seed in range(count):
        law = RIVALS[seed % len(RIVALS)]
        label, ratio = chosen(law, seed)
        right += label == law
        as_good += label == law or ratio < AS_GOOD
    print(f"choice of {', '.join(RIVALS)}: the true law in {right} of {count}, it or one that predicts as well in {as_good}", flush=True)
    return as_good >= 0.95 * count


def main(count, laws):
    passed = selection(count)
    for law in laws:
        names = [p.name for p in LAWS[law].parameters] + ["heat"]
        exact = coverage(law, count, fitting.EXACT, processes=2)
        z = coverage(law, count, processes=2)
        print(f"{law}: {count} repetitions")
        for k, name in enumerate(names):
            share = np.mean(np.abs(z[:, k]) <= 1.0)
            passed &= LOW <= share <= HIGH
            print(f"  {name:10s} covered {100 * share:5.1f} %  (without the instrument {100 * np.mean(np.abs(exact[:, k]) <= 1.0):5.1f} %)   "
                  f"error over half width: mean {z[:, k].mean():+.2f}, sd {z[:, k].std():.2f}", flush=True)
    return passed


if __name__ == "__main__":
    sys.exit(not main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, sys.argv[2:] or list(LAWS)))
