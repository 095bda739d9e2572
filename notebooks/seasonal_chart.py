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
# # A year of cure charts for one town
#
# A resin engineer prints charts for the vans. A card by temperature alone will not do: it knows neither how cold the ground
# is in March, nor how sure anybody is of it. Here the ground's year, the spread of what is not known, and the coupled
# simulation of the wall go into one grid.
#
# **The town of Millbrook, its drains and its crew are invented, and the resins are estimated demo models of no product. No
# number here is fit for a real job.** The release criterion is this library's own assumption. The resin maker's data, local
# codes and licensed practice come first.

# %%
import json
import tempfile
from pathlib import Path

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

import libcure

RED, BLUE, GREEN, INK, FAINT = "#D55E00", "#0072B2", "#009E73", "#222222", "#8a8a8a"
HARDENERS = {  # each with a colour, a line and a mark of its own, for grey prints
    "slow": dict(color=GREEN, ls=":", marker="^"),
    "medium": dict(color=BLUE, ls="--", marker="s"),
    "fast": dict(color=RED, ls="-", marker="o"),
}
plt.rcParams.update({
    "figure.dpi": 110, "figure.constrained_layout.use": True, "font.size": 9.5, "axes.titlesize": 10,
    "axes.titlelocation": "left", "axes.spines.top": False, "axes.spines.right": False, "axes.edgecolor": FAINT,
    "axes.grid": True, "axes.axisbelow": True, "grid.color": "#e6e6e6", "legend.frameon": False, "lines.markersize": 4.5,
})


def hours(axes):
    """A logarithmic time axis in minutes, hours and days, for values in minutes."""
    ticks = {15: "15 min", 30: "½ h", 60: "1 h", 120: "2 h", 240: "4 h", 480: "8 h", 1440: "1 d", 2880: "2 d"}
    axes.set_yscale("log")
    axes.set_yticks(list(ticks), list(ticks.values()))
    axes.minorticks_off()


# %% [markdown]
# ## The ground's year
#
# A drain at 1.5 m does not feel tonight's frost. It feels last month's weather, damped and late (Kusuda and Achenbach 1965).
# Resin, packer and fibre feel the air: they come from a store and a van that are as warm as the air of some days before. The
# chart document states both; the chart takes all temperatures of each month from it. A chart that moved the ground alone would
# promise in July a working time that a van at 27 °C does not have.

# %%
climate = {
    "annual_mean_C": 10.5, "amplitude_K": 9, "day_of_minimum": 30, "diffusivity_mm2_s": 0.7, "depth_m": 1.5,
    "air": {"annual_mean_C": 10.5, "amplitude_K": 7.5, "day_of_minimum": 20, "day_swing_K": 5},
    # Common practice, no source: a van in the sun, heated in winter.
    "stores": {"lag_days": 3, "above_air_K": 4, "at_least_C": 10},
}

document = {
    "format": "libcure/chart/1",
    "title": "Invented: Millbrook through the year, 150 mm clay drains at 1.5 m",
    "note": "Invented scenario, no real place, crew or product.",
    "case": {
        "format": "libcure/case/1",
        "title": "Invented: a drain in Millbrook",
        "resin": "epoxy-amine-medium",
        "pipe": {"inner_diameter_mm": 150, "wall_mm": 16, "material": "vitrified-clay"},
        "liner": {"thickness_mm": 3, "length_mm": 600, "fibre_volume_fraction": 0.25},
        "bladder": {"thickness_mm": 4, "material": "natural-rubber"},
        "ground": {"material": "moist-sand", "temperature_C": 10},
        "initial_temperature_C": {"resin": 16, "fibre": 14, "packer": 14, "air": 14},
        "stages": [
            {"kind": "mixed_mass", "duration_min": 4},
            {"kind": "wet_out", "duration_min": 10},
            {"kind": "held", "duration_min": 2880, "fill_temperature_C": 14},
        ],
    },
    "axes": [
        {"name": "hardener", "title": "Hardener", "sets": ["resin"], "order": "faster",
         "values": ["epoxy-amine-slow", "epoxy-amine-medium", "epoxy-amine-fast"], "labels": list(HARDENERS)},
        # Without "sets" the fill would go with the season too; here it is a question of its own, see below.
        {"name": "month", "title": "Month", "seasons": list(range(1, 13)),
         "sets": ["ground.temperature_C", *(f"initial_temperature_C.{name}" for name in ("pipe", "air", "resin", "packer", "fibre"))]},
    ],
    "layout": {"rows": "month", "columns": "hardener", "page": "landscape"},
    "uncertain": {
        "seed": 20260101,
        "samples": 1024,
        "inputs": [
            {"name": "ground", "title": "Ground temperature", "distribution": "normal", "sd": 1.0,
             "moves": ["ground.temperature_offset_K", "initial_temperature.pipe_offset_K"]},
            {"name": "resin", "title": "Resin temperature at mixing", "distribution": "uniform", "half_width": 2.0,
             "moves": ["initial_temperature.resin_offset_K"]},
            {"name": "thickness", "title": "Liner thickness", "distribution": "normal", "sd": 0.08,
             "moves": ["liner.thickness_factor"]},
            {"name": "contact", "title": "Contact resistance", "distribution": "lognormal", "sd": 0.7,
             "moves": ["contact_factor"]},
        ],
    },
    "sensitivity": {"samples": 256, "cells": [{"hardener": h, "month": m} for h in HARDENERS for m in ("Feb", "Aug")]},
    "criteria": {"working_time_needed_min": 25},
    "climate": climate,
}
chart = libcure.read_chart(document)

days = np.arange(1, 366)
fig, axes = plt.subplots(figsize=(7.2, 3.2))
for depth, ls in ((0.0, ":"), (0.5, "-."), (1.5, "-"), (3.0, "--")):
    axes.plot(days, chart.climate.temperature_C(days, depth), color=INK if depth == 1.5 else BLUE, ls=ls,
              lw=2.2 if depth == 1.5 else 1.2, label=f"{depth:g} m")
axes.set(xlabel="Day of the year", ylabel="Undisturbed ground (°C)", xlim=(1, 365))
axes.legend(title="Depth", loc="upper left")
plt.show()

# %% [markdown]
# ## The chart
#
# Each cell is one ensemble: the uncertain inputs and the resin's constants, drawn together by scrambled Sobol' points, each
# draw a whole simulation from mixing to release. In place by is the latest moment at which the liner may be held: it is often
# sooner than the end of the working time, which counts on the cool pipe from the planned moment on. The working time is printed
# from the low side, the release from the high side, and both are rounded to the safe side.

# %%
year = libcure.chart(chart)
assert not year.violations
year.draw()

# %% [markdown]
# The same numbers as a labelled array. `percentile` is 5, 50 or 95; what never happens is infinite.

# %%
data = year.to_xarray()
data["criterion_met_min"].sel(percentile=95).to_pandas().T

# %% [markdown]
# ## Bands, not lines
#
# The band of a hardener runs from 5 to 95 %. A curve that leaves the top has samples that do not release in the two days
# that the bladder may stay in.

# %%
fig, (left, right) = plt.subplots(1, 2, figsize=(9.2, 3.9), sharex=True)
months = data["month"].values
for axes, name in ((left, "working_min"), (right, "criterion_met_min")):
    for hardener, style in HARDENERS.items():
        low, middle, high = (data[name].sel(hardener=hardener, percentile=p).values for p in (5, 50, 95))
        axes.fill_between(months, low, np.minimum(high, 1e5), color=style["color"], alpha=0.2, lw=0)
        axes.plot(months, np.where(np.isfinite(middle), middle, np.nan), label=f"{hardener} hardener", **style)
    hours(axes)
    axes.set_ylim(12, 4500)
left.axhline(25, color=INK, lw=0.9)
left.annotate("the crew needs 25 min", (11.3, 25), xytext=(0, -3), textcoords="offset points", ha="right", va="top",
              fontsize=8.5)
right.axhline(480, color=INK, lw=0.9)
right.annotate("one shift", (11.3, 480), xytext=(0, 3), textcoords="offset points", ha="right", fontsize=8.5)
left.set(title="Working time ends", ylabel="Time from mixing")
right.set_title("Release criterion met")
for axes in (left, right):
    axes.set_xticks(range(12), [month[0] for month in months])
fig.legend(*left.get_legend_handles_labels(), loc="outside lower center", ncols=3)
plt.show()

# %% [markdown]
# ## Which hardener, month by month
#
# A rule the van can follow: of the hardeners that leave the crew enough working time, the one that releases first. A
# hardener whose cell is marked TOO HOT is out.

# %%
rows = []
for m, month in enumerate(months):
    found = []
    for h, hardener in enumerate(HARDENERS):
        answer = year.answers[h, m]
        if answer.use and not answer.working_word:
            found.append((answer.release_min, hardener, answer))
    if found:
        _, hardener, answer = min(found, key=lambda f: f[0])
        rows.append((month, hardener, answer.working_text, answer.release_text))
    else:
        rows.append((month, "none", "", "warm the bladder, see below"))
pd.DataFrame(rows, columns=["month", "hardener", "work", "release"]).set_index("month")

# %% [markdown]
# ## What moves the release
#
# Sobol' indices in the coldest and the warmest month: the share of the variance that each input accounts for, with all its interplay.
# The largest says what to measure next. Beside it is its standard error; where hardly a sample releases in two days, little is
# left to tell the inputs apart, and the errors are large.

# %%
indices = pd.DataFrame({
    year.where(s.index): {
        name: f"{total:.2f} ± {error:.2f}"
        for name, total, error in zip(s.inputs, s.release["total"], s.release["total_error"], strict=True)
    }
    for s in year.sensitivities
}).T
assert year.dominant is not None
print("Most moves the release:", year.dominant)
indices

# %% [markdown]
# A better model file, from measurements on the resin in hand, would narrow these charts more than any thermometer.

# %% [markdown]
# ## Warm the bladder in winter
#
# The same chart with the bladder filled at 35 °C. Only one line of the document changes.

# %%
warm = libcure.chart({
    **document,
    "title": "Invented: Millbrook through the year, bladder filled at 35 °C",
    "fixed": {"stages[2].fill_temperature_C": 35},
    "sensitivity": {"cells": "none"},
})
comparison = pd.DataFrame({
    (hardener, what): [result.answers[h, m].release_text for m in range(12)]
    for h, hardener in enumerate(HARDENERS)
    for what, result in (("14 °C", year), ("35 °C", warm))
}, index=months)
january = [(h, 0) for h in range(3)]
assert all(warm.answers[i].release_min <= year.answers[i].release_min for i in january)
comparison

# %% [markdown]
# ## Print them
#
# `save` writes the sheet as PDF and SVG, a page for the screen, and the numbers as CSV and JSON. The hash on the sheet
# stands for everything that its numbers depend on, so that a sheet found in a van can be traced.

# %%
with tempfile.TemporaryDirectory() as folder:
    for name, result in (("as_usual", year), ("warm_fill", warm)):
        files = result.save(Path(folder) / name)
        assert [file.stat().st_size > 1000 for file in files] == [True] * 5
        print(name, result.inputs_hash, ", ".join(file.name for file in files))

# %% [markdown]
# ## A chart of one's own in five minutes
#
# `libcure chart --new mine.json` asks some questions and writes a document with a comment beside each part. Here the same answers
# are given in Python: a 6 inch pipe, a liner of 5 mm, walls from 36 to 66 °F, US Letter. The two temperatures that a crew can
# read on site, pipe wall and resin, are rows and columns.

# %%
from libcure.charting.starting import starting_document

text = starting_document(
    {"title": "Invented: six-inch drains", "resins": "epoxy-amine-slow, epoxy-amine-medium", "bore": "6 in", "liner": "5 mm",
     "walls": "36 to 66 °F", "resin_temperatures": "50 to 86 °F", "air": "30 to 68 °F", "paper": "Letter"},
    Path.cwd(), "mine.json",
)  # fmt: skip
print("\n".join(text.splitlines()[:8]), "...", sep="\n")
mine = libcure.chart(json.loads(text), samples=128)
mine.draw()

# %% [markdown]
# The strip of months on the sheet says which hardener the van should carry: in place by / release, the worst of all cells that
# the month touches. In July the medium one is too late, although the pipe wall stays below 16 °C.

# %%
from libcure.render.chart_look import month_answers, month_lines

strip = {line.month: {answer.where: answer.short for answer in month_answers(mine, line)} for line in month_lines(mine.chart)}
assert strip["Jul"]["epoxy-amine-medium"] == "TOO LATE"
pd.DataFrame(strip).T
