"""A calorimeter with faults, for tests: another integrator and another chain than a fit assumes. Invented constants.

Between resin and record lie: a sample that follows its programme by a first-order response (a fit takes a pure delay) and, held,
warms up before the record begins; two first-order elements of the signal, one after the other (a fit takes one); a heat
capacity that changes with cure, and a step of it before the peak; a drift and a slow settling of the signal in isothermal runs; a
wrong mass; noise.
"""

from dataclasses import dataclass

import numpy as np
from dsc_synthetic import CASES, HEAT, TRUTH, slopes
from dsc_synthetic import truth as truth_of
from scipy.integrate import solve_ivp
from scipy.signal import lfilter

from libcure.fitting import Record, analyse

__all__ = ["HEAT", "HOLDS", "LAWS", "RAMPS", "Faults", "drawn", "hold_record", "ramp_record", "responded", "runs_of", "solved", "truth_of"]

LAWS = {name: CASES[name].law for name in ("nth-order", "autocatalytic", "kamal-sourour", "parallel", "chern-poehlein", "rabinowitch")}
RAMPS = (1.0, 2.5, 5.0, 10.0, 20.0)  # K/min
HOLDS = {343.0: 30e3, 358.0: 15e3, 373.0: 7e3}  # K: s


@dataclass(frozen=True)
class Faults:
    """Of one instrument and one resin; those of single runs are drawn by run."""

    time_constant: float = 0.0
    """Of the signal's slower element [s]; the other has a third of it"""
    thermal: float = 0.0
    """Of the sample behind its programme [s]"""
    drift: float = 0.0
    """Standard deviation by run [W/kg]"""
    lost: float = 0.0
    """Of an isothermal run, most [s]"""
    mass: float = 0.0
    """Standard deviation by run"""
    step: float = 0.0
    """Of the heat capacity [J/kg/K]"""
    step_at: float = 320.0
    """[K]"""
    capacity: float = 0.0
    """Change of the heat capacity with cure [J/kg/K]"""
    white: float = 0.005
    """Over the peak"""


def drawn(random):
    """Faults as good practice leaves them."""
    return Faults(abs(random.normal(0, 3.0)), abs(random.normal(0, 4.0)), 10.0, 40.0, 0.02, random.normal(0, 150.0), random.uniform(290, 330),
                  random.uniform(-200.0, 300.0))


def responded(signal, time, tau):
    """First-order response, by its difference equation on a uniform grid."""
    if tau <= 0.0:
        return signal
    keep = np.exp(-(time[1] - time[0]) / tau)
    return lfilter([1.0 - keep], [1.0, -keep], signal, zi=[keep * signal[0]])[0]


def solved(law, temperature, time):
    """Degree of cure and rate along a temperature, by another method than the fit's."""
    y0 = [np.exp(TRUTH[law].get("ln_alpha0", -np.inf))] + ([0.0] if law == "parallel" else [])
    path = solve_ivp(lambda t, y: slopes(law, temperature(t), y), (time[0], time[-1]), y0, method="LSODA", t_eval=time, rtol=1e-7,
                     atol=1e-9)
    return path.y[0], np.asarray(slopes(law, temperature(time), path.y)[0])


def ramp_record(law, beta, faults, random, points=1500, span=(250.0, 545.0)):
    """Record of a ramp at beta [K/min], in W/g, exotherm up."""
    rate = beta / 60.0
    time = np.linspace(0.0, (span[1] - span[0]) / rate, points)
    programme = span[0] + rate * time
    late = max(faults.thermal, 1e-9)

    def sample(t):
        return span[0] + rate * (t - late * (1.0 - np.exp(-t / late)))

    alpha, speed = solved(law, sample, time)
    capacity = 1600.0 + 2.0 * (programme - 300.0) + faults.capacity * alpha + faults.step / (1.0 + np.exp(-(programme - faults.step_at) / 3.0))
    return _record(time, programme, HEAT * speed, -rate * (capacity - 1600.0), faults, random)


def hold_record(law, T, duration, faults, random, points=1500):
    """Record of a sample that is put into the hot cell; its first moments are lost."""
    # Whoever exports a record cuts off what the warming up shows.
    lost = 5.0 * faults.thermal + random.uniform(0.0, faults.lost)
    time = np.linspace(0.0, duration, points)
    warm = max(faults.thermal, 1e-9)

    def sample(t):
        return T - (T - 295.0) * np.exp(-(t + lost) / warm) if faults.thermal else T + 0.0 * t

    early = np.linspace(-lost, 0.0, 50)[:-1] if lost else np.empty(0)
    _, speed = solved(law, sample, np.concatenate([early, time]))
    x = time / duration
    slope, settling = np.clip(random.normal(size=2), -2.0, 2.0)  # more than that, and a weak exotherm has no heat above the baseline
    wander = faults.drift * (slope * x + 0.5 * settling * np.exp(-time / 400.0))
    return _record(time, np.full(points, T), HEAT * speed[len(early) :], wander, faults, random)


def _record(time, T, heat_flow, besides, faults, random):
    off = np.exp(faults.mass * random.normal())
    signal = responded(responded(heat_flow, time, faults.time_constant), time, faults.time_constant / 3.0)
    noise = faults.white * np.max(heat_flow) * random.normal(size=len(time))
    return Record(time, T, (off * (signal + besides) + noise) / 1e3, "W/g")


def runs_of(law, faults, random, ramps=RAMPS, holds=HOLDS, points=1500):
    """Analysed runs, as a document gives them."""
    runs = [analyse(ramp_record(law, beta, faults, random, points), f"{beta:g} K/min", heating_rate=beta / 60.0) for beta in ramps]
    heat = float(np.median([run.heat for run in runs]))
    for T, duration in holds.items():
        run = analyse(hold_record(law, T, duration, faults, random, points), f"{T - 273.15:g} °C", isothermal=T, total_heat=heat)
        run.on_ramps = True
        runs.append(run)
    return runs
