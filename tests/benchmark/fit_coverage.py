"""How often the 95 % intervals of a fit cover the truth: synthetic runs of each law, noise 0.5 to 2 %.

    .venv/bin/python tests/benchmark/fit_coverage.py [repetitions [law ...]]

Prints, by law and constant, the share of repetitions whose interval covers, and the error of each E: bias, spread, and
the share of repetitions within 1 %. The test suite runs fewer repetitions (tests/python/test_fit_recovery.py).
"""

import sys
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from dsc_synthetic import CASES, analysed, clean_runs, truth  # noqa: E402
from libcure import fitting  # noqa: E402
from libcure.fitting.engine import Z95  # noqa: E402

NOISE = (0.005, 0.01, 0.02)


@dataclass
class Coverage:
    """(repetitions, constants) each, but names and widening."""

    names: list[str]
    covered: np.ndarray
    z: np.ndarray
    off: np.ndarray
    """Found over true, less 1"""
    widened: list[float]

    def energy(self, name):
        """Relative errors of an activation energy, (repetitions,)"""
        return self.off[:, self.names.index(name)]

    @property
    def energies(self):
        return [name for name in self.names if name.startswith("E")]


def one(case, clean, seed, starts):
    random = np.random.default_rng(seed)
    runs = analysed(clean, NOISE[seed % len(NOISE)], random)
    fit = fitting.fit_law(CASES[case].law, runs, E=60e3, options=fitting.Options(starts=starts, seed=seed, threads=1))
    true = truth(case, fit)
    off = fit.x - true
    return np.abs(off) <= Z95 * fit.errors, off / fit.errors, off / true, np.max(fit.widened)


def coverage(case, repetitions, points=None, starts=4):
    clean = clean_runs(case, points or CASES[case].points)
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda seed: one(case, clean, seed, starts), range(repetitions)))
    law = CASES[case].law
    return Coverage([law.parameters[i].name for i in law.free], *(np.array([f[i] for f in found]) for i in range(3)),
                    [f[3] for f in found])


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for case in sys.argv[2:] or CASES:
        begin = time.process_time()
        c = coverage(case, count)
        print(f"{case}: {CASES[case].law.label}; {count} repetitions, noise {NOISE}, ramps {CASES[case].ramps} K/min, held at "
              f"{list(CASES[case].holds)} K; {time.process_time() - begin:.0f} s processor")
        for i, name in enumerate(c.names):
            print(f"  {name:12s} covered {100 * np.mean(c.covered[:, i]):5.1f} %   z mean {c.z[:, i].mean():+.2f} sd "
                  f"{c.z[:, i].std():.2f}")
        for name in c.energies:
            e = 100 * c.energy(name)
            print(f"  {name:4s} bias {e.mean():+.2f} %, spread {e.std():.2f} %, greatest {np.abs(e).max():.2f} %, within 1 %: "
                  f"{100 * np.mean(np.abs(e) < 1):.0f} % of repetitions")
        print(f"  median widening {np.median(c.widened):.2f}", flush=True)
