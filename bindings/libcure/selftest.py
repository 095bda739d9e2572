"""``python -m libcure.selftest``: is this installation whole? Exit code 0 when all is well."""

from __future__ import annotations

import pickle
import sys
from collections.abc import Callable

import numpy as np
from scipy.integrate import quad

import libcure
from libcure import documents, models


def _models() -> str:
    for name in models.ids("resins"):
        libcure.load_resin(name)
    return f"{len(models.ids('resins'))} resins, {len(models.materials('materials'))} materials, " + (
        f"{len(models.materials('grounds'))} grounds in {documents.models_folder()}"
    )


def _isothermal() -> str:
    """The integrator against a quadrature: t = integral of d(alpha) / rate at constant temperature."""
    resin = libcure.load_resin("polyurethane-program-constants")
    end, temperature, start = 600.0, 300.0, resin.initial_degree_of_cure
    alpha = float(resin.isothermal([temperature], [end], start)[0, 0])
    time, _ = quad(lambda a: 1.0 / resin.rate([temperature], [a])[0], start, alpha)
    error = abs(time / end - 1.0)
    if error > 1e-5:
        raise AssertionError(f"time to alpha {alpha:.4f}: {time:.3f} s, not {end:.3f} s")
    return f"isothermal cure agrees with quadrature to {error:.0e}"


def _case(name: str) -> Callable[[], str]:
    def check() -> str:
        case = libcure.load_case(documents.models_folder() / "cases" / f"{name}.json")
        result = libcure.predict(case)
        documents.validate(result.verdict)
        residual = result.verdict["solver"]["energy_residual"]
        if residual > 1e-9:
            raise AssertionError(f"energy balance closed to {residual:.0e} only")
        times = result.times
        known = [t for t in (times.gel_first_min, times.gel_last_min) if t is not None]
        if known != sorted(known):
            raise AssertionError(f"gel times out of order: {known}")
        again = pickle.loads(pickle.dumps(result))
        if not np.array_equal(again.history.temperature, result.history.temperature, equal_nan=True):
            raise AssertionError("a pickled result differs")
        return f"{case.title}: energy balance closed to {residual:.0e}"

    return check


def main() -> int:
    """Runs all checks; a line each."""
    checks: list[Callable[[], str]] = [_models, _isothermal, *map(_case, models.ids("cases"))]
    failed = 0
    print(f"libcure {libcure.__version__}, Python {sys.version.split()[0]}, NumPy {np.__version__}")
    for check in checks:
        try:
            print("ok      " + check())
        except Exception as error:  # every check gets its line
            failed += 1
            print(f"FAILED  {type(error).__name__}: {error}")
    return 1 if failed else 0


if __name__ == "__main__":
    sys.stdout.reconfigure(errors="replace")  # type: ignore[union-attr]
    sys.exit(main())
