"""How often the verdict without a law is right, and how often forecasts hold the truth, when instrument and samples have faults drawn at random.

    .venv/bin/python tests/benchmark/fit_without_law.py [repetitions [law ...]]

Records come from tests/python/calorimeter_chain.py. Prints, by law, with isothermal runs and without: verdicts, runs called stalled, and for times to
alpha = 0.5 and 0.9 at three temperatures the share of 95 % intervals that hold the truth, the median half width and the median error, as logarithms.
"""

import sys
from collections import Counter
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from calorimeter_chain import HOLDS, drawn, runs_of, solved

from libcure import fitting
from libcure.errors import CureError

LAWS = ("nth-order", "autocatalytic", "kamal-sourour", "parallel")
TEMPERATURES = (310.0, 335.0, 365.0)  # K; ramps react from some 320 K on
SHOWN = (0.5, 0.9)


def true_times(law, T):
    """Of the degrees of cure shown [s]."""
    time = np.concatenate([[0.0], np.geomspace(1.0, 3e9, 6000)])
    alpha = np.maximum.accumulate(solved(law, lambda t: T + 0.0 * t, time)[0])
    return [float(np.interp(at, alpha, time)) for at in SHOWN]


def main(count, laws):
    for law in laws:
        true = {T: true_times(law, T) for T in TEMPERATURES}
        for holds in ({}, HOLDS):
            said, rows = Counter(), []
            for seed in range(count):
                random = np.random.default_rng([seed, 5])
                try:
                    runs = runs_of(law, drawn(random), random, points=800, holds=holds)
                except CureError:  # a drift hides an exotherm, and the record is refused
                    said["refused"] += 1
                    continue
                free = fitting.analyse_without_law(runs)
                said[free.verdict.said + (", stalled" if free.stalls else "")] += 1
                told = [free.forecast(fitting.Programme("", np.zeros(1), np.array([T]))) for T in TEMPERATURES]
                found = [(*one.at(at), x) for one, T in zip(told, TEMPERATURES, strict=True) for at, x in zip(SHOWN, true[T], strict=True)]
                rows.append([(low < x < high, 0.5 * np.log(high / low), np.log(time / x)) for time, low, high, x in found])
            rows = np.array(rows)
            print(f"{law}, {'5 ramps and 3 holds' if holds else '5 ramps'}: {dict(said)}")
            for k, name in enumerate(f"{T - 273.15:.0f} degC, {at:g}" for T in TEMPERATURES for at in SHOWN):
                held, half, off = rows[:, k, 0].mean(), np.median(rows[:, k, 1]), np.median(rows[:, k, 2])
                print(f"  {name}: held in {100 * held:.0f} %, half width {half:.2f}, off by {off:+.3f}", flush=True)


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 60, sys.argv[2:] or LAWS)
