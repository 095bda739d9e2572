# ---
# jupyter:
#   jupytext:
#     formats: ipynb,py:percent
#     text_representation:
#       extension: .py
#       format_name: percent
#   kernelspec:
#     display_name: Python 3
#     language: python
#     name: python3
# ---

# %% [markdown]
# # From calorimeter runs to a model file
#
# Five ramps and two isothermal runs become a resin model that `predict` takes, step by step. `libcure fit
# notebooks/data/dsc/fit.json --out DIR` does the same in one command, with a report.
#
# **The data are invented** (`notebooks/data/make_dsc.py` draws them), and so is the resin. The constants behind them stand in
# that script; we compare with them at the end. With real data nobody can, which is why every constant here comes with an
# interval.

# %%
import json
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

import libcure
from libcure import fitting

DATA = next(p for p in (Path("data/dsc"), Path("notebooks/data/dsc")) if p.is_dir())
plt.rcParams.update({"figure.dpi": 100, "font.size": 9, "axes.spines.top": False, "axes.spines.right": False,
                     "axes.grid": True, "grid.color": "#e6e6e6", "legend.frameon": False})

# %% [markdown]
# ## Records and baselines
#
# A file has a heading with units. The instrument draws the exotherm downwards, so we say so. What would make the degree of
# cure wrong (unsorted time, a saturated peak, a wrong sign, no baseline) is an error here, not a surprise later.

# %%
RAMPS = {1: 11.2, 2.5: 9.4, 5: 8.3, 10: 7.9, 20: 6.1}  # heating rate [K/min]: sample mass [mg]
runs = []
for beta, mass in RAMPS.items():
    record = fitting.read_csv(DATA / f"ramp_{str(beta).replace('.', '_')}K.csv")
    runs.append(fitting.analyse(record, f"{beta} K/min", mass_kg=mass * 1e-6, exotherm_up=False, heating_rate=beta / 60))
heat = np.median([run.heat for run in runs])
for hold, mass in {60: 9.0, 80: 8.0}.items():
    record = fitting.read_csv(DATA / f"isothermal_{hold}C.csv")
    run = fitting.analyse(record, f"{hold} °C", mass_kg=mass * 1e-6, exotherm_up=False, isothermal=hold + 273.15,
                          total_heat=heat)
    run.on_ramps = True  # its degree of cure counts on the ramps' heat
    runs.append(run)

fig, axes = plt.subplots(2, 4, figsize=(12, 5), layout="constrained")
for ax, run in zip(axes.flat, runs):
    x = run.temperature - 273.15 if run.dynamic else run.time / 60
    ax.plot(x[run.part], run.heat_flow[run.part] / 1e3, color="#8a8a8a", lw=0.8)
    ax.plot(x[run.part], run.drawn_baseline / 1e3, color="#D55E00", ls="--")
    ax.set(title=f"{run.id}: {run.heat / 1e3:.0f} J/g", xlabel="temperature [°C]" if run.dynamic else "time [min]")
axes.flat[-1].set_visible(False)
axes[0, 0].set_ylabel("heat flow, exotherm up [W/g]")
[str(finding) for run in runs for finding in run.findings]

# %% [markdown]
# ## Energy without a law
#
# Kissinger and E698 need only the peaks. The isoconversional methods give E at each degree of cure: if it varied by more than
# some 20 % of its mean, one step would not do.

# %%
free = fitting.isoconversional_analysis(runs)
fig, ax = plt.subplots(figsize=(6, 3), layout="constrained")
for curve, style in zip(free.curves, (":", "--", "-")):
    ax.plot(curve.alpha, curve.E / 1e3, style, label={"kas": "KAS"}.get(curve.method, curve.method.title()))
    ax.fill_between(curve.alpha, curve.low / 1e3, curve.high / 1e3, alpha=0.12)
ax.set(xlabel="degree of cure α", ylabel="E [kJ/mol]", ylim=(40, 80))
ax.legend()
print(f"Kissinger {free.kissinger.E / 1e3:.1f} ± {free.kissinger.half_width / 1e3:.1f}, "
      f"E698 {free.e698.E / 1e3:.1f} ± {free.e698.half_width / 1e3:.1f} kJ/mol")

# %% [markdown]
# ## Three laws on all runs at once

# %%
options = fitting.Options(starts=16, seed=1)
fits = {law: fitting.fit_law(fitting.FitLaw(law), runs, E=free.E, options=options)
        for law in ("nth-order", "autocatalytic", "kamal-sourour")}
best = min(fits.values(), key=lambda fit: fit.aicc)
pd.DataFrame({
    "AICc above the best": {law: round(fit.aicc - best.aicc) for law, fit in fits.items()},
    "rate, rms of peak [%]": {law: round(100 * fit.rms_rate, 2) for law, fit in fits.items()},
    "left out and predicted [%]": {law: round(100 * max(h.rms_rate for h in fitting.hold_out(fit)), 2)
                                   for law, fit in fits.items()},
    "starts at this minimum": {law: fit.same_minimum for law, fit in fits.items()},
})

# %% [markdown]
# The last column but one is the hardest test: each run is left out in turn and predicted; the worst is shown.

# %%
fig, axes = plt.subplots(2, 4, figsize=(12, 5), layout="constrained")
for ax, run, (rate, alpha, _) in zip(axes.flat, best.runs, best.curves):
    x = run.T - 273.15 if run.dynamic else run.t / 60
    ax.plot(x, run.rate * 1e3, ".", ms=1, color="#8a8a8a")
    ax.plot(x, rate * 1e3, color="#0072B2")
    ax.set(title=run.id, xlabel="temperature [°C]" if run.dynamic else "time [min]")
axes.flat[-1].set_visible(False)
axes[0, 0].set_ylabel("dα/dt [10⁻³/s]")

# %% [markdown]
# ## How sure are the constants?

# %%
truth = {"k1_1_s": 4.0e-5, "E1_kJ_mol": 68.0, "k2_1_s": 3.2e-3, "E2_kJ_mol": 55.0, "m": 0.85, "n": 1.6}
shift = (1 / best.T_ref - 1 / 353.15) / 8.314462618
for i in (1, 2):
    truth[f"k{i}_1_s"] *= np.exp(-1e3 * truth[f"E{i}_kJ_mol"] * shift)
rows = []
for k, i in enumerate(best.law.free):
    p = best.law.parameters[i]
    low, high = best.interval(k)
    rows.append({"constant": p.key, "fitted": p.outside(best.x[k]), "95 % from": low, "to": high, "truth": truth[p.key],
                 "inside": low < truth[p.key] < high})
table = pd.DataFrame(rows).set_index("constant")
table

# %%
assert table["inside"].sum() >= 5, "of six 95 % intervals, one may miss"
profiles = [fitting.profile(best, i) for i in range(len(best.x))]
for finding in fitting.identifiability(best, profiles, fitting.hold_out(best), [], runs, list(fits.values())):
    print("-", finding)

# %% [markdown]
# A bootstrap asks the same in another way: it deals the residuals out anew, draws the baselines again, and fits again.

# %%
repeated = fitting.bootstrap(best, options=options, repetitions=60)
for k, i in enumerate(best.law.free):
    p = best.law.parameters[i]
    low, high = (p.outside(v) for v in repeated.interval(k))
    print(f"{p.shown:3s} {low:.4g} to {high:.4g}; spread over the standard error "
          f"{repeated.errors[k] / best.errors[k]:.2f}")

# %% [markdown]
# ## A model file that predict takes
#
# A calorimeter does not measure viscosity, gel point or release criteria. They are taken from a demo model, and each says so.
# Note the statement above on vitrification: these runs say nothing of it, so this model must not plan a cold job.

# %%
document = fitting.model_document(best, {"id": "invented-epoxy-fitted", "title": "Invented epoxy, fitted",
                                         "family": "epoxy-amine", "properties_from": "epoxy-amine-medium"},
                                  "5 ramps and 2 isothermal runs (invented)")
out = Path("build") if Path("build").is_dir() else Path(".")
model = fitting.write_model(document, out)
case = json.loads((libcure.models_folder() / "cases" / "cold_ground_winter.json").read_text(encoding="utf-8"))
case["resin"] = str(model.resolve())
prediction = libcure.predict(case)
model.unlink()  # keep the folder as it was
prediction.times.gel_first_min, document["covariance"]["parameters"]
