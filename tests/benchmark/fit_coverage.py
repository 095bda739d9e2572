"""How often the 95 % intervals of a fit cover the truth: synthetic runs of each law, noise 0.5 to 2 %, no fault of the instrument
(for those see fit_systematics.py).

    .venv/bin/python tests/benchmark/fit_coverage.py [repetitions [law ...]]

Prints, by law and constant, the share of repetitions whose interval covers; by E, bias, spread and the share of
repetitions within 1 %; and by law, PASS or FAIL: every constant covered in 90 to 98 % of repetitions, every E within 1 %
in each of them. Exits with 1 when a law fails. Fewer than 200 repetitions fail by chance: of 200, right intervals cover
99 % or more for one constant in a hundred, of 100 for one in eight.
The test suite runs fewer points and repetitions, with wider limits (tests/python/test_fit_recovery.py).
"""

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from dsc_synthetic import CASES, STRAIGHT, Noise, analysed, clean_runs, truth

from libcure import fitting
from libcure.fitting.quantiles import Z95

NOISE = (0.005, 0.01, 0.02)
LOW, HIGH, CLOSE = 0.90, 0.98, 0.01


@dataclass
class Coverage:
    """(repetitions, constants) each, but names, widening and seconds."""

    names: list[str]
    covered: np.ndarray
    z: np.ndarray
    off: np.ndarray
    """Found over true, less 1"""
    widened: np.ndarray
    """(repetitions,) most of any run"""
    seconds: float
    """Of processor time"""

    def energy(self, name):
        """Relative errors of an activation energy, (repetitions,)"""
        return self.off[:, self.names.index(name)]

    @property
    def energies(self):
        return [name for name in self.names if name.startswith("E")]

    @property
    def passed(self):
        share = self.covered.mean(axis=0)
        return bool(np.all((share >= LOW) & (share <= HIGH))
                    and all(np.all(np.abs(self.energy(name)) < CLOSE) for name in self.energies))


def one(case, clean, starts, make_noise, seed):
    begin = time.process_time()
    random = np.random.default_rng(seed)
    noise = make_noise(NOISE[seed % len(NOISE)])
    # Where the signal is straight is found under white noise; when it wanders, the user must say.
    runs = analysed(clean, noise, random, STRAIGHT if noise.correlation or noise.drift else (None, None))
    fit = fitting.fit_law(CASES[case].law, runs, E=60e3, options=fitting.Options(starts=starts, seed=seed, threads=1, instrument=fitting.EXACT))
    true = truth(case, fit)
    off = fit.x - true
    return np.abs(off) <= Z95 * fit.errors, off / fit.errors, off / true, np.max(fit.widened), time.process_time() - begin


def coverage(case, repetitions, points=None, starts=None, make_noise=Noise, processes=1):
    """Args: make_noise is called with the noise as a share of the peak."""
    run = partial(one, case, clean_runs(case, points or CASES[case].points), starts or CASES[case].starts,
                  make_noise)
    if processes == 1:
        found = [run(seed) for seed in range(repetitions)]
    else:
        with ProcessPoolExecutor(processes) as pool:
            found = list(pool.map(run, range(repetitions), chunksize=4))
    law = CASES[case].law
    return Coverage([law.parameters[i].name for i in law.free], *(np.array([f[i] for f in found]) for i in range(4)),
                    sum(f[4] for f in found))


def main(count, cases):
    verdicts = []
    for case in cases:
        c = coverage(case, count, processes=2)
        setup = CASES[case]
        ramps, holds = setup.ramps, setup.holds
        print(f"{case}: {setup.law.label}; {count} repetitions, noise {', '.join(f'{100 * n:g}' for n in NOISE)} %; ramps "
              f"{', '.join(f'{beta:g}' for beta in ramps)} K/min, held at {', '.join(f'{T:g}' for T in holds) or 'no'} K, "
              f"{setup.points} points a run; {setup.starts} starts; {c.seconds:.0f} s processor")
        for i, name in enumerate(c.names):
            print(f"  {name:12s} covered {100 * np.mean(c.covered[:, i]):5.1f} %   z mean {c.z[:, i].mean():+.2f} sd "
                  f"{c.z[:, i].std():.2f}")
        for name in c.energies:
            e = 100 * c.energy(name)
            print(f"  {name:4s} bias {e.mean():+.2f} %, spread {e.std():.2f} %, greatest {np.abs(e).max():.2f} %, within 1 %: "
                  f"{100 * np.mean(np.abs(e) < 100 * CLOSE):.1f} % of repetitions")
        print(f"  median widening {np.median(c.widened):.2f}", flush=True)
        share = 100 * c.covered.mean(axis=0)
        worst = min(np.mean(np.abs(c.energy(name)) < CLOSE) for name in c.energies)
        verdicts.append((c.passed, f"{case}: intervals cover {share.min():.1f} to {share.max():.1f} % (90 to 98 wanted), "
                                   f"E within 1 % in {100 * worst:.1f} % or more of repetitions (100 wanted)"))
    for passed, text in verdicts:
        print("PASS" if passed else "FAIL", text)
    return all(passed for passed, _ in verdicts)


if __name__ == "__main__":
    sys.exit(not main(int(sys.argv[1]) if len(sys.argv) > 1 else 200, sys.argv[2:] or list(CASES)))
