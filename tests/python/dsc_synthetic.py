"""Synthetic calorimeter runs for tests: integrated by SciPy, not by the code under test. Invented constants."""

import numpy as np
from scipy.integrate import solve_ivp

from libcure.fitting import Record

R = 8.31446261815324
HEAT = 400e3  # J/kg
T_REF = 380.0

# Inside values, as the laws name them.
TRUTH = {
    "nth-order": {"ln_k": np.log(2.5e-3), "E": 62e3, "n": 1.2},
    "autocatalytic": {"ln_k": np.log(9e-3), "E": 60e3, "m": 0.6, "n": 1.4, "ln_alpha0": np.log(0.01)},
    "kamal-sourour": {"ln_k1": np.log(4e-4), "E1": 72e3, "ln_k2": np.log(6e-3), "E2": 56e3, "m": 0.9, "n": 1.4},
}


def rate(law, T, alpha):
    p = TRUTH[law]

    def k(name, E):
        return np.exp(p[name] - p[E] / R * (1 / T - 1 / T_REF))

    a, left = np.clip(alpha, 0, 1), np.clip(1 - alpha, 0, 1)
    if law == "nth-order":
        return k("ln_k", "E") * left ** p["n"]
    if law == "autocatalytic":
        return k("ln_k", "E") * a ** p["m"] * left ** p["n"]
    return (k("ln_k1", "E1") + k("ln_k2", "E2") * a ** p["m"]) * left ** p["n"]


def ramp(law, beta, points=1000, start=270.0, end=560.0):
    """time [s], T [K], alpha, rate of a ramp at beta [K/min]."""
    time = np.linspace(0, (end - start) / beta * 60, points)
    alpha0 = np.exp(TRUTH[law].get("ln_alpha0", -np.inf))
    path = solve_ivp(lambda t, y: [rate(law, start + beta / 60 * t, y[0])], (0, time[-1]), [alpha0], method="LSODA",
                     t_eval=time, rtol=1e-10, atol=1e-12)
    T = start + beta / 60 * time
    return time, T, path.y[0], rate(law, T, path.y[0])


def record(run, noise, random, baseline=lambda T: 0.3 + 5e-4 * (T - 270.0)):
    """A record in W/g, exotherm up, with white noise as a share of the peak."""
    time, T, _, r = run
    signal = HEAT * r / 1e3
    return Record(time, T, signal + noise * signal.max() * random.normal(size=len(time)) + baseline(T), "W/g")


def truth(law, fit):
    """True values of the free parameters of a fit at its reference temperature."""
    p = dict(TRUTH[law])
    for name in p:
        if name.startswith("ln_k"):
            E = p[{"ln_k": "E", "ln_k1": "E1", "ln_k2": "E2"}[name]]
            p[name] = p[name] - E / R * (1 / fit.T_ref - 1 / T_REF)
    return np.array([p[fit.law.parameters[i].name] for i in fit.law.free])
