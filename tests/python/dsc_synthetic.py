"""Synthetic calorimeter runs for tests: integrated by SciPy, not by the code under test. Invented constants."""

from dataclasses import dataclass, field

import numpy as np
from scipy.integrate import solve_ivp
from scipy.signal import lfilter

from libcure import fitting
from libcure.fitting import FitLaw, Record

R = 8.31446261815324
HEAT = 400e3  # J/kg
T_REF = 380.0
TG = (245.0, 400.0, 0.4)  # Tg0 [K], Tg_inf [K], lambda
SIX = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)

ln = np.log
# Inside values, as the laws name them.
TRUTH = {
    "nth-order": {"ln_k": ln(2.5e-3), "E": 62e3, "n": 1.2},
    "autocatalytic": {"ln_k": ln(9e-3), "E": 60e3, "m": 0.6, "n": 1.4, "ln_alpha0": ln(0.01)},
    "kamal-sourour": {"ln_k1": ln(4e-4), "E1": 72e3, "ln_k2": ln(6e-3), "E2": 56e3, "m": 0.9, "n": 1.4},
    "autocatalysed-nth-order": {"ln_k": ln(3e-4), "E": 61e3, "n": 1.4, "ln_k_cat": ln(25.0)},
    "two-branch": {"ln_k1": ln(1.5e-3), "E1": 72e3, "k2_over_k1": 5.0, "E2": 58e3, "ln_k3": ln(3e-3), "E3": 62e3, "B": 0.9,
                   "alpha_switch": 0.4},
    "epoxy-amine": {"ln_k_0": ln(5e-4), "E_0": 75e3, "ln_k_h": ln(5e-3), "E_h": 57e3, "reactivity": 0.5, "hydrogens": 1.0,
                    "hydroxyl": 0.05},
    "etherification": {"ln_k_0": ln(5e-4), "E_0": 75e3, "ln_k_h": ln(5e-3), "E_h": 57e3, "reactivity": 0.5, "hydrogens": 0.7,
                       "hydroxyl": 0.05, "ln_k_ether": ln(3e-4), "E_ether": 95e3},
    "parallel": {"share_a": 0.45, "ln_k_a": ln(6e-3), "E_a": 55e3, "n_a": 1.2, "ln_k_b": ln(6e-4), "E_b": 80e3, "n_b": 1.3},
    "inhibitor": {"ln_k": ln(1.5e-2), "E": 58e3, "m": 0.5, "n": 1.5, "ln_alpha0": ln(0.01), "ln_k_z": ln(3e-3), "E_z": 90e3,
                  "ln_epsilon": ln(0.02)},
    "chern-poehlein": {"ln_k1": ln(4e-4), "E1": 72e3, "ln_k2": ln(6e-3), "E2": 56e3, "m": 0.9, "n": 1.4, "C": 30.0,
                       "alpha_c": 0.95, "alpha_cT": 5e-3},
    "rabinowitch": {"ln_k1": ln(4e-4), "E1": 72e3, "ln_k2": ln(6e-3), "E2": 56e3, "m": 0.9, "n": 1.4, "ln_k_d0": ln(2e-3),
                    "C1": 40.2, "C2": 51.6},
}
ENERGY = {"ln_k": "E", "ln_k1": "E1", "ln_k2": "E2", "ln_k3": "E3", "ln_k_0": "E_0", "ln_k_h": "E_h", "ln_k_a": "E_a",
          "ln_k_b": "E_b", "ln_k_z": "E_z", "ln_k_ether": "E_ether"}


@dataclass(frozen=True)
class Case:
    """A law with the runs that its constants need."""

    law: FitLaw
    ramps: tuple[float, ...] = (1.0, 3.0, 8.0, 20.0)
    """[K/min]"""
    holds: dict[float, float] = field(default_factory=dict)
    """Temperature [K]: duration [s]"""
    points: int = 4000
    """Of each run"""
    starts: int = 16
    """Of the fit; a law of two branches has many wrong minima"""


COLD = {318.0: 60e3, 338.0: 30e3, 358.0: 15e3}
# Held until it stops: the degree of cure at which a law switches must be that of the record.
ENDED = {318.0: 160e3, 338.0: 40e3, 358.0: 15e3}
# An inhibitor lasts: a third of a day at 328 K, and longer below.
LASTING = {328.0: 80e3, 338.0: 30e3, 348.0: 18e3, 358.0: 10e3}
# As many ramps and holds as bring each E within 1 % at a noise of 2 %; rates alone do not tell a slow step from a fast one.
CASES = {
    "nth-order": Case(FitLaw("nth-order"), SIX),
    "autocatalytic": Case(FitLaw("autocatalytic"), SIX),
    "kamal-sourour": Case(FitLaw("kamal-sourour"), SIX, COLD),
    "autocatalysed-nth-order": Case(FitLaw("autocatalysed-nth-order"), SIX),
    "two-branch": Case(FitLaw("two-branch", fixed={"B": 0.9, "alpha_switch": 0.4}), SIX, ENDED, 2000, starts=32),
    "epoxy-amine": Case(FitLaw("epoxy-amine", fixed={"hydrogens": 1.0, "hydroxyl": 0.05}), SIX, COLD),
    # Fewer hydrogens than epoxides: what the amine leaves, etherification takes.
    "etherification": Case(FitLaw("epoxy-amine", ether=True, fixed={"hydrogens": 0.7, "hydroxyl": 0.05}), SIX, COLD, starts=32),
    "parallel": Case(FitLaw("parallel"), SIX),
    "inhibitor": Case(FitLaw("autocatalytic", inhibitor=True, fixed={"alpha0": 0.01}), SIX, LASTING),
    "chern-poehlein": Case(FitLaw("kamal-sourour", diffusion=True), SIX, COLD),
    "rabinowitch": Case(FitLaw("kamal-sourour", diffusion="rabinowitch", fixed={"C1": 40.2, "C2_K": 51.6},
                               glass_transition=TG), SIX, COLD),
}


def rate_constant(p, name, T):
    return np.exp(p[name] - p[ENERGY[name]] / R * (1 / T - 1 / T_REF))


def chemical(law, T, a, left):
    """Rates of the laws of one state, without diffusion control."""
    p = TRUTH[law]
    if law == "nth-order":
        return rate_constant(p, "ln_k", T) * left ** p["n"]
    if law == "autocatalysed-nth-order":
        return rate_constant(p, "ln_k", T) * left ** p["n"] * (1 + np.exp(p["ln_k_cat"]) * a)
    if law in ("autocatalytic", "inhibitor"):
        return rate_constant(p, "ln_k", T) * a ** p["m"] * left ** p["n"]
    if law == "two-branch":
        k1 = rate_constant(p, "ln_k1", T)
        k2 = p["k2_over_k1"] * np.exp(p["ln_k1"] - p["E2"] / R * (1 / T - 1 / T_REF))
        return np.where(a <= p["alpha_switch"], (k1 + k2 * a) * left * (p["B"] - a), rate_constant(p, "ln_k3", T) * left)
    k1, k2 = rate_constant(p, "ln_k1", T), rate_constant(p, "ln_k2", T)
    if law == "rabinowitch":
        Tg0, Tg1, lam = TG
        x = T - (Tg0 + (Tg1 - Tg0) * lam * a / (1 - (1 - lam) * a))
        kd = np.exp(p["ln_k_d0"] + p["C1"] * x / (p["C2"] + abs(x)))
        k1, k2 = 1 / (1 / k1 + 1 / kd), 1 / (1 / k2 + 1 / kd)
    slowed = 1.0
    if law == "chern-poehlein":
        slowed = 1 / (1 + np.exp(p["C"] * (a - p["alpha_c"] - p["alpha_cT"] * (T - T_REF))))
    return (k1 + k2 * a ** p["m"]) * left ** p["n"] * slowed


def slopes(law, T, y):
    """Slopes of the states; the first is the degree of cure."""
    p = TRUTH[law]
    a, left = np.clip(y[0], 0, 1), np.clip(1 - y[0], 0, 1)
    if law in ("epoxy-amine", "etherification"):
        primary, secondary = np.maximum(y[1], 0), np.maximum(y[2], 0)
        hydroxyl = p["hydroxyl"] + p["hydrogens"] - primary - secondary
        K = (rate_constant(p, "ln_k_0", T) + rate_constant(p, "ln_k_h", T) * hydroxyl) * left
        first, second = K * primary, p["reactivity"] * K * secondary
        ether = rate_constant(p, "ln_k_ether", T) * left * hydroxyl if law == "etherification" else 0.0
        return [first + second + ether, -2 * first, first - second]
    if law == "parallel":
        # States: the whole, and branch a.
        b = (y[0] - p["share_a"] * y[1]) / (1 - p["share_a"])
        rate_a = rate_constant(p, "ln_k_a", T) * np.clip(1 - y[1], 0, 1) ** p["n_a"]
        rate_b = rate_constant(p, "ln_k_b", T) * np.clip(1 - b, 0, 1) ** p["n_b"]
        return [p["share_a"] * rate_a + (1 - p["share_a"]) * rate_b, rate_a]
    f = chemical(law, T, a, left)
    if law == "inhibitor":
        z = np.maximum(y[1], 0)
        taken = z / (z + np.exp(p["ln_epsilon"]))
        return [f * (1 - taken), -rate_constant(p, "ln_k_z", T) * taken]
    return [f]


def cure(law, temperature, time):
    """time [s], T [K], alpha, rate along a temperature programme."""
    p = TRUTH[law]
    y0 = [np.exp(p.get("ln_alpha0", -np.inf))]
    amine = [p.get("hydrogens", 0.0), 0.0]
    y0 += {"epoxy-amine": amine, "etherification": amine, "parallel": [0.0], "inhibitor": [1.0]}.get(law, [])
    path = solve_ivp(lambda t, y: slopes(law, temperature(t), y), (0, time[-1]), y0, method="LSODA", t_eval=time,
                     rtol=1e-9, atol=1e-11)
    T = temperature(time)
    return time, T, path.y[0], slopes(law, T, path.y)[0]


def ramp(law, beta, points=1000, start=270.0, end=560.0):
    """time [s], T [K], alpha, rate of a ramp at beta [K/min]."""
    return cure(law, lambda t: start + beta / 60 * t, np.linspace(0, (end - start) / beta * 60, points))


def hold(law, T, duration, points=1000):
    """The same held at T [K]."""
    return cure(law, lambda t: T + 0.0 * t, np.linspace(0, duration, points))


@dataclass(frozen=True)
class Noise:
    """What a record adds to the heat flow; shares are of the run's peak."""

    white: float
    """Standard deviation, with the correlation below"""
    correlation: float = 0.0
    """Between neighbours (autoregressive of order 1); 0 is white"""
    drift: float = 0.0
    """Standard deviation of a smooth wander of the baseline, some four waves a record"""
    mass: float = 0.0
    """Standard deviation of the sample's mass, over it"""

    def __call__(self, signal, random):
        n = len(signal)
        e = random.normal(size=n)
        if self.correlation:
            e = lfilter([np.sqrt(1 - self.correlation**2)], [1.0, -self.correlation], np.concatenate([random.normal(size=200), e]))
            e = e[200:]
        x = np.linspace(0, 2 * np.pi, n)
        wander = sum(np.cos(k * x * random.uniform(0.9, 1.1) + random.uniform(0, 2 * np.pi)) for k in (3, 4, 5))
        scale = np.exp(self.mass * random.normal()) if self.mass else 1.0
        return signal * scale + signal.max() * (self.white * e + self.drift * np.sqrt(2 / 3) * wander)


def record(run, noise, random, baseline=lambda T: 0.3 + 5e-4 * (T - 270.0)):
    """A record in W/g, exotherm up, with noise: a :class:`Noise`, or white as a share of the peak."""
    time, T, _, r = run
    noisy = noise if isinstance(noise, Noise) else Noise(noise)
    return Record(time, T, noisy(HEAT * r / 1e3, random) + baseline(T), "W/g")


COLDEST = 233.0  # K, where the ramps of a case begin: at 0.5 K/min a law of two reactions leaves its baseline at 258 K
STRAIGHT = ((235.0, 262.0), (530.0, 558.0))  # K, where no ramp of a case reacts


def clean_runs(case, points):
    """Noiseless runs of a case: heating rates and holds with what `ramp` and `hold` return."""
    c = CASES[case]
    return ([(beta, ramp(case, beta, points, COLDEST)) for beta in c.ramps],
            [(T, hold(case, T, s, points)) for T, s in c.holds.items()])


def analysed(clean, noise, random, windows=(None, None)):
    """Runs with noise, baselines drawn; holds count on the ramps' heat."""
    ramps, holds = clean
    runs = [fitting.analyse(record(run, noise, random), f"{beta:g} K/min", heating_rate=beta / 60, baseline="linear",
                            left=windows[0], right=windows[1]) for beta, run in ramps]
    heat = float(np.median([run.heat for run in runs]))
    for T, run in holds:
        one = fitting.analyse(record(run, noise, random), f"{T:g} K", isothermal=T, total_heat=heat)
        one.on_ramps = True
        runs.append(one)
    return runs


def truth(case, fit):
    """True values of the free parameters of a fit at its reference temperature."""
    p = dict(TRUTH[case])
    shift = (1 / fit.T_ref - 1 / T_REF) / R
    if "k2_over_k1" in p:
        p["k2_over_k1"] *= np.exp((p["E1"] - p["E2"]) * shift)
    for name in p:
        if name in ENERGY:
            p[name] = p[name] - p[ENERGY[name]] * shift
    if "alpha_c" in p:
        p["alpha_c"] += p["alpha_cT"] * (fit.T_ref - T_REF)
    return np.array([p[fit.law.parameters[i].name] for i in fit.law.free])
