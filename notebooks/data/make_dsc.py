"""Draws the invented calorimeter runs and gel times of notebooks/data/dsc. Invented: no resin, no instrument.

    .venv/bin/python notebooks/data/make_dsc.py

A resin that follows a Kamal-Sourour law is heated at five rates and held at two temperatures. The records get
white noise, a drifting baseline that steps with cure, and a mass that is known to 0.5 %. The constants are below,
so that everybody can see how close a fit comes; the fit does not read them.
"""

from pathlib import Path

import numpy as np
from scipy.integrate import solve_ivp

R = 8.31446261815324
HERE = Path(__file__).parent / "dsc"
TRUTH = {"k1": 4.0e-5, "E1": 68e3, "k2": 3.2e-3, "E2": 55e3, "m": 0.85, "n": 1.6, "T_ref": 353.15}
HEAT = 415e3  # J/kg
NOISE = 0.01  # of the peak


def rate(T, alpha):
    k1, k2 = (TRUTH[f"k{i}"] * np.exp(-TRUTH[f"E{i}"] / R * (1 / T - 1 / TRUTH["T_ref"])) for i in (1, 2))
    a = np.clip(alpha, 0, 1)
    return (k1 + k2 * a ** TRUTH["m"]) * (1 - a) ** TRUTH["n"]


def cure(temperature, time):
    path = solve_ivp(lambda t, y: [rate(temperature(t), y[0])], (0, time[-1]), [0.0], t_eval=time, method="LSODA",
                     rtol=1e-9, atol=1e-11)
    return path.y[0]


def record(temperature, time, mass_mg, random):
    """Temperature [degC] and heat flow [mW], exotherm down."""
    T = temperature(time)
    alpha = cure(temperature, time)
    heat_flow = HEAT * rate(T, alpha) * mass_mg * 1e-6 * random.normal(1.0, 0.005)
    noise = NOISE * heat_flow.max() * random.normal(size=len(time))
    # Heating takes heat: the capacity rises with temperature and falls as the resin cures. The zero drifts.
    capacity = (1800 + 2.5 * (T - 298.15) - 250 * alpha) * mass_mg * 1e-6
    heating = (temperature(time + 1e-3) - T) / 1e-3
    level = capacity * heating * 1e3 + 1e-4 * (T - T[0])
    shown = T - 273.15 + random.normal(scale=0.01, size=len(time))
    return shown, -(heat_flow + noise) * 1e3 + level


def write(name, note, time, T, heat_flow):
    lines = [f"# INVENTED data, made by make_dsc.py; {note}", "time_min,temperature_C,heat_flow_mW"]
    lines += [f"{t / 60:.4f},{a:.3f},{q:.5f}" for t, a, q in zip(time, T, heat_flow, strict=True)]
    (HERE / f"{name}.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")


def main():
    HERE.mkdir(exist_ok=True)
    for i, (beta, mass) in enumerate([(1, 11.2), (2.5, 9.4), (5, 8.3), (10, 7.9), (20, 6.1)]):
        random = np.random.default_rng(100 + i)
        time = np.linspace(0, 270 / beta * 60, 901)
        start = 268.15
        write(f"ramp_{str(beta).replace('.', '_')}K", f"{beta} K/min, {mass} mg, exotherm down", time,
              *record(lambda t, b=beta, start=start: start + b / 60 * t, time, mass, random))
    for i, (hold, hours) in enumerate([(60, 8), (80, 4)]):
        random = np.random.default_rng(200 + i)
        time = np.linspace(0, hours * 3600, 1201)
        mass = 9.0 - i

        def temperature(t, hold=hold):
            return np.minimum(298.15 + 2.0 * t, hold + 273.15)  # the cell heats at 2 K/s

        write(f"isothermal_{hold}C", f"held at {hold} degC, {mass:g} mg, exotherm down", time,
              *record(temperature, time, mass, random))


if __name__ == "__main__":
    main()
