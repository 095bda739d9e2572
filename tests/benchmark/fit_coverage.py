"""How often the 95 % intervals of a fit cover the truth: synthetic runs of each law, noise 0.5 to 2 %.

    .venv/bin/python tests/benchmark/fit_coverage.py [repetitions]

Prints, by law and constant, the share of repetitions whose interval covers, and the error of E. The test suite
runs fewer repetitions (tests/python/test_fit_recovery.py).
"""

import sys
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "python"))

from dsc_synthetic import TRUTH, ramp, record, truth  # noqa: E402
from libcure import fitting  # noqa: E402
from libcure.fitting.engine import Z95  # noqa: E402

RATES = (1.0, 3.0, 8.0, 20.0)
NOISE = (0.005, 0.01, 0.02)


def one(law, clean, seed):
    random = np.random.default_rng(seed)
    noise = NOISE[seed % len(NOISE)]
    runs = [fitting.analyse(record(run, noise, random), f"{beta:g}", heating_rate=beta / 60, baseline="linear")
            for beta, run in zip(RATES, clean, strict=True)]
    fit = fitting.fit_law(fitting.FitLaw(law), runs, E=60e3, options=fitting.Options(starts=2, seed=seed, threads=1))
    off = fit.x - truth(law, fit)
    return np.abs(off) <= Z95 * fit.errors, off / fit.errors, fit.x, np.max(fit.widened)


def coverage(law, repetitions, points=600):
    """(share covered by constant, greatest relative error of an E, names, all z, widening)"""
    clean = [ramp(law, beta, points) for beta in RATES]
    with ThreadPoolExecutor(2) as pool:
        found = list(pool.map(lambda seed: one(law, clean, seed), range(repetitions)))
    names = [p.name for p in fitting.FitLaw(law).parameters]
    energies = [i for i, name in enumerate(names) if name.startswith("E")]
    x = np.array([f[2] for f in found])
    errors = {names[i]: float(np.max(np.abs(x[:, i] / TRUTH[law][names[i]] - 1))) for i in energies}
    return np.mean([f[0] for f in found], axis=0), errors, names, np.array([f[1] for f in found]), [f[3] for f in found]


if __name__ == "__main__":
    count = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for law in TRUTH:
        covered, errors, names, z, widened = coverage(law, count)
        print(f"{law}: {count} repetitions, noise {NOISE}")
        for i, name in enumerate(names):
            print(f"  {name:10s} covered {100 * covered[i]:5.1f} %   z mean {z[:, i].mean():+.2f} sd {z[:, i].std():.2f}")
        print("  greatest error of E:", {k: f"{100 * v:.2f} %" for k, v in errors.items()},
              f"median widening {np.median(widened):.2f}", flush=True)
