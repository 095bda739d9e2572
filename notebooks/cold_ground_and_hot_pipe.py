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
# # Cold ground and a hot packer
#
# Two jobs, one library. In the first, the ground is at 4 °C and the liner takes its time. In the second, the packer lay in
# the sun and the liner takes none.
#
# For each job we ask what the crew asks: how long is the resin workable, when has it gelled, when may the bladder come out,
# and which point of the liner decides? Then we change one thing at a time and see what helps.
#
# **Both jobs are invented, and the resins are estimated demo models of no product. No number here is fit for a real job.**
# The release criterion is this library's own assumption. The resin maker's data, local codes and licensed practice come
# first.

# %%
import json

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd
from scipy.optimize import brentq

import libcure

CASES = libcure.models_folder() / "cases"
RED, BLUE, GREEN, ORANGE = "#D55E00", "#0072B2", "#009E73", "#E69F00"
INK, FAINT = "#222222", "#8a8a8a"
HARDENERS = {  # each with a colour, a line and a mark of its own, for grey prints
    "fast": dict(color=RED, ls="-", marker="o"),
    "medium": dict(color=BLUE, ls="--", marker="s"),
    "slow": dict(color=GREEN, ls=":", marker="^"),
}
plt.rcParams.update({
    "figure.dpi": 110, "figure.constrained_layout.use": True, "font.size": 9.5, "axes.titlesize": 10,
    "axes.titlelocation": "left", "axes.spines.top": False, "axes.spines.right": False, "axes.edgecolor": FAINT,
    "axes.grid": True, "axes.axisbelow": True, "grid.color": "#e6e6e6", "legend.frameon": False, "lines.markersize": 4.5,
})


def sweep(case, changes):
    """One row for each set of changes: the times [min], the hottest resin [°C], and whether anything overheats."""
    rows = libcure.predict_many([case.replace(change) for change in changes])
    table = libcure.rows_to_dataframe(rows)
    assert table["error"].isna().all(), table["error"].dropna().iloc[0]
    table["peak_C"] = [row.verdict["peak_temperature_C"] for row in rows]
    for layer in ("bladder", "liner", "pipe"):
        table[f"{layer}_peak_C"] = [row.verdict["layer_peak"][layer]["temperature_C"] for row in rows]
    table["overheats"] = [any(c["code"].endswith("too_hot") for c in row.verdict["cautions"]) for row in rows]
    return table


def hours(axes):
    """A logarithmic time axis in hours and days, for values in minutes."""
    ticks = {30: "½ h", 60: "1 h", 120: "2 h", 240: "4 h", 480: "8 h", 1440: "1 d", 2880: "2 d", 5760: "4 d"}
    axes.set_yscale("log")
    axes.set_yticks(list(ticks), list(ticks.values()))
    axes.minorticks_off()


def level(axes, value, text):
    """A level to read the curves against, named at the right."""
    axes.axhline(value, color=INK, lw=0.9, zorder=1)
    axes.annotate(text, (0.99, value), xycoords=("axes fraction", "data"), xytext=(0, 2), textcoords="offset points",
                  ha="right", va="bottom", fontsize=8.5)


def here(axes, value, text):
    """A place on the horizontal axis, named at the top."""
    axes.axvline(value, color=INK, lw=0.9, zorder=1)
    axes.annotate(text, (value, 1.0), xycoords=("data", "axes fraction"), xytext=(4, -2), textcoords="offset points",
                  va="top", fontsize=8.5)


def too_late(axes):
    """Marks where a working margin is negative."""
    low, high = axes.get_ylim()
    axes.axhspan(low, 0.0, color="#f6e3da", lw=0, zorder=0)
    axes.set_ylim(low, high)
    axes.annotate("too late", (0.01, low), xycoords=("axes fraction", "data"), xytext=(0, 3), textcoords="offset points",
                  va="bottom", fontsize=8.5)


# %% [markdown]
# # 1. Cold ground
#
# A 100 mm PVC drain in moist sand, on a winter morning. Ground and pipe are at 4 °C, the air at 3 °C. The resin was kept at
# 15 °C in the van. The hardener is the fast one.

# %%
cold = libcure.load_case(CASES / "cold_ground_winter.json")
winter = libcure.predict(cold)
winter

# %% [markdown]
# Read it from the top. The liner must be pressed against the pipe before the working time ends; the working margin says how
# much time is left over. Then the bladder stays in until the recommended release.
#
# The picture shows why. The wall first takes the resin's warmth away. Then the reaction makes its own heat, for a short
# while only. When that is gone, the resin is glassy and all but stops.

# %%
winter.plot()

# %% [markdown]
# ## Which point decides
#
# A liner is only as good as its worst point. For the working time that is the point that runs ahead. For gel, release and
# service it is the one that lags. Here the outer face lags, because it lies against the cold pipe.

# %%
points = pd.DataFrame(winter.verdict["limiting"]).T.loc[["working", "gel_first", "gel_last", "release", "service"]]
points[["time_min", "layer", "position", "temperature_C", "alpha"]].astype(
    {"time_min": float, "temperature_C": float, "alpha": float}
).round({"time_min": 1, "temperature_C": 1, "alpha": 3})

# %% [markdown]
# ## Colder ground, faster hardener
#
# The same job in ground from 0 to 18 °C, with each of three hardeners. The pipe is as cold as the ground; the air stays at
# 3 °C. The bladder may stay in for a week, so that every curve has its answer.

# %%
grounds = np.arange(0.0, 18.1, 1.0)
by_hardener = {
    name: sweep(cold, [{
        "resin": f"epoxy-amine-{name}", "ground.temperature_C": T, "initial_temperature_C.pipe": T,
        "stages[2].duration_min": 7 * 1440,
    } for T in grounds])
    for name in HARDENERS
}

fig, (left, right) = plt.subplots(1, 2, figsize=(9.2, 3.8), sharex=True, sharey=True)
for name, table in by_hardener.items():
    style = HARDENERS[name] | {"markevery": 2}
    left.plot(grounds, table["working_min"], label=f"{name} hardener", **style)
    right.plot(grounds, table["release_min"], label=f"{name} hardener", **style)
for axes in (left, right):
    hours(axes)
    axes.set(xlabel="Ground temperature (°C)", xticks=range(0, 19, 3))
level(left, 480, "one shift")
level(right, 480, "")
left.set(ylabel="Time from mixing (h: hours, d: days)", title="Working time ends")
right.set_title("Recommended release")
left.legend(loc="upper right")
plt.show()

# %% [markdown]
# Working time changes gently with the ground. Release does not. The fast hardener turns sharply upwards below about 4 °C:
# there its own heat no longer carries it to the criterion, and the last few percent come from a resin that is already glass.
#
# A slow hardener in cold ground keeps a bladder in overnight and longer.

# %% [markdown]
# ## What if the criterion were another?
#
# The case asks for 75 % cure. That is a choice, and not a harmless one: the resin model itself asks for 80 %. No readable
# standard gives a number. So look at what hangs on it, and at the one thing that makes it matter less: warm air or water in
# the bladder.

# %%
alphas = np.arange(0.70, 0.851, 0.005)
fills = {6: dict(color=BLUE, ls="-", marker="o"), 10: dict(color=GREEN, ls="--", marker="s"),
         15: dict(color=ORANGE, ls="-.", marker="D"), 25: dict(color=RED, ls=":", marker="^")}
fig, axes = plt.subplots(figsize=(7.2, 3.9))
for fill, style in fills.items():
    table = sweep(cold, [{
        "release.alpha_min": alpha, "stages[2].fill_temperature_C": fill, "stages[2].duration_min": 7 * 1440,
    } for alpha in alphas])
    axes.plot(100 * alphas, table["release_min"], label=f"{fill} °C", markevery=2, **style)
hours(axes)
here(axes, 75, "this case")
here(axes, 80, "the resin model")
axes.set(xlabel="Degree of cure asked for at release (%)", ylabel="Recommended release\n(h: hours, d: days, from mixing)",
         title="A curve that ends has no release within a week")
axes.legend(title="In the bladder", loc="upper left")
plt.show()

cautious = libcure.predict(cold.replace({"release.alpha_min": 0.80}))
warmed = libcure.predict(cold.replace({"release.alpha_min": 0.80, "stages[2].fill_temperature_C": 25}))
assert cautious.times.criterion_met_min is None and warmed.times.criterion_met_min is not None
print("80 % asked for, bladder at 6 °C: not within the day that it is held")
print(f"80 % asked for, bladder at 25 °C: {warmed.answer.release_min:.0f} min")

# %% [markdown]
# At 6 °C one or two percent more cure cost hours, then days. A safety factor on the time does not cover a doubt of two
# percent in the cure. With the bladder at 25 °C the same doubt costs minutes. In cold ground, warming the bladder buys more
# certainty than waiting.

# %% [markdown]
# ## How warm should the resin be?
#
# Warm resin cures sooner. It also runs away sooner, in the pouch and while it is rolled out.

# %%
mixes = np.arange(0.0, 32.1, 0.5)
table = sweep(cold, [{"initial_temperature_C.resin": T} for T in mixes])

fig, (top, bottom) = plt.subplots(2, 1, figsize=(7.2, 4.8), sharex=True, height_ratios=[1.3, 1])
top.plot(mixes, table["release_min"], color=INK, ls="--", label="recommended release")
top.plot(mixes, table["working_margin_min"], color=BLUE, label="working margin")
top.set(ylabel="Time (min)", ylim=(-20, 140), title="Fast hardener, wall at 4 °C")
too_late(top)
here(top, 15, "this case")
top.legend(loc="center left", bbox_to_anchor=(0.0, 0.64))
bottom.plot(mixes, table["peak_C"], color=RED)
bottom.set(xlabel="Resin when mixed (°C)", ylabel="Hottest resin (°C)", ylim=(0, None))
plt.show()

# %% [markdown]
# From 0 to 25 °C the release comes forward and the margin shrinks, both gently. Near 30 °C comes a cliff: the laminate sets
# itself off on the packer, before the liner is in the pipe, and that on a winter morning. There the dashed curve ends: a
# liner that has set too early has no release. Keep well away from the edge.

# %% [markdown]
# ## A thick spot
#
# Where a liner folds or resin pools, the laminate is thicker. Heat is made in the whole thickness, but leaves only through
# its faces. We thicken the whole ring, with the pouch unchanged. A small spot also loses heat sideways, so this is the
# unfavourable end.

# %%
thick = np.arange(2.0, 15.01, 0.5)
pouch = {"stages[0].mass_kg": 0.46, "stages[0].surface_area_m2": 0.041}
fig, panels = plt.subplots(1, 2, figsize=(9.2, 3.8), sharey=True)
for name, style in HARDENERS.items():
    table = sweep(cold, [{
        "resin": f"epoxy-amine-{name}", "liner.thickness_mm": L, "stages[2].duration_min": 2880, **pouch,
    } for L in thick])
    for axes, layer in zip(panels, ("bladder", "pipe"), strict=True):
        axes.plot(thick, table[f"{layer}_peak_C"], label=f"{name} hardener", markevery=2, **style)
for axes, layer, material in zip(panels, ("bladder", "pipe"), ("natural-rubber", "pvc"), strict=True):
    document = json.loads((libcure.models_folder() / "materials" / f"{material}.json").read_text(encoding="utf-8"))
    limit = document["temperature_limit"]["value"]
    level(axes, limit, f"limit, {limit:g} °C")
    axes.set(xlabel="Thickness of the laminate (mm)", title=f"Hottest point of the {layer} ({material})", ylim=(0, None))
panels[0].set_ylabel("Temperature (°C)")
panels[1].legend(loc="center right", bbox_to_anchor=(1.0, 0.42))
plt.show()

# %% [markdown]
# Three millimetres stay cool. Between five and six the fast hardener overheats bladder and pipe, and that in ground at 4 °C.
# The slower hardeners bear more. A fold is not a small fault.

# %% [markdown]
# ## What one thermocouple would tell
#
# Nobody knows how well a liner lies against a wet old pipe. The case assumes a contact resistance of 0.001 m²K/W, a film of
# water and dirt. A gap of air is worth much more. A thermocouple between bladder and liner can tell them apart, well before
# the bladder is to come out.

# %%
contacts = {3e-4: (BLUE, "-", "pressed tight"), 1e-3: (GREEN, "--", "this case"), 1e-2: (ORANGE, "-.", "¼ mm of air"),
            3e-2: (RED, ":", "¾ mm of air")}
fig, axes = plt.subplots(figsize=(7.2, 3.9))
for resistance, (color, ls, name) in contacts.items():
    p = libcure.predict(cold.replace({"contact_resistance_m2K_W.liner_pipe": resistance}))
    held = p.history.stages[2]
    minutes = held.time / 60
    T = held.temperature[:, np.flatnonzero(held.layer == "liner")[0]] - 273.15
    release = p.answer.release_min
    assert p.times.gel_last_min < minutes[T.argmax()] < release
    axes.plot(minutes, T, color=color, ls=ls, label=f"{resistance:g} m²K/W ({name})")
    axes.plot(release, np.interp(release, minutes, T), "v", color=color, ms=8, mec=INK)
axes.plot([], [], "v", color="white", mec=INK, ms=8, label="recommended release")
axes.set(xlim=(0, 150), xlabel="Time from mixing (min)", ylabel="Inner face of the liner (°C)",
         title="From the moment the liner is held")
axes.legend(title="Contact of liner and pipe", loc="upper right")
plt.show()

# %% [markdown]
# The curves start alike and part after half an hour. A tight fit and a film of water cannot be told apart, and need not be.
# A gap of air shows: the liner is warmer and done sooner, but it does not touch the pipe.
#
# Here the peak comes after the last point has gelled, and well before the release. A peak seen does not mean that the
# bladder may come out. A slower resin in this ground shows no peak at all.

# %% [markdown]
# # 2. A hot packer
#
# A 150 mm clay drain on a summer afternoon. The packer lay in the sun and is at 45 °C. The resin is at 27 °C, and the liner
# is rolled out in full sun. The hardener is the medium one.

# %%
hot = libcure.load_case(CASES / "hot_packer_summer.json")
summer = libcure.predict(hot)
assert summer.times.working_margin_min < 0 and summer.times.criterion_met_min is None
summer

# %% [markdown]
# The working margin is negative: the resin is past its limit before the liner is held against the pipe. The job is lost
# before it starts. The liner has set on the packer, far too hot, and there is nothing to release.

# %%
summer.plot()

# %% [markdown]
# ## What to change
#
# One change at a time first, then two together. A hollow mark means that something overheats, even where the margin is
# positive.

# %%
shade = {"stages[1].absorbed_sun_W_m2": 0}
cool_packer = {"initial_temperature_C.packer": 25}
iced = {"initial_temperature_C.resin": 10}
changes = {
    "as planned": {},
    "resin iced to 10 °C": iced,
    "packer cooled to 25 °C": cool_packer,
    "rolled out in the shade": shade,
    "packer at 25 °C, resin at 10 °C": cool_packer | iced,
    "packer at 25 °C, in the shade": cool_packer | shade,
    "slow hardener, nothing else": {"resin": "epoxy-amine-slow"},
}
table = sweep(hot, changes.values())
table.index = list(changes)

fig, axes = plt.subplots(figsize=(8.2, 3.5))
place = np.arange(len(table))[::-1]
margin = table["working_margin_min"].to_numpy()
axes.hlines(place, 0, margin, color=[RED if m < 0 else BLUE for m in margin], lw=2.5)
for y, m, overheats, release in zip(place, margin, table["overheats"], table["release_min"], strict=True):
    color = RED if m < 0 else BLUE
    axes.plot(m, y, "o", ms=8, color=color, mfc="white" if overheats else color, mew=1.6)
    note = "lost" if m < 0 else "overheats" if overheats else f"release {release:.0f} min after mixing"
    axes.annotate(f"{m:+.1f} min, {note}".replace("-", "−"), (max(m, 0.0), y), xytext=(9, 0), textcoords="offset points", va="center",
                  fontsize=8.5)
axes.axvline(0, color=INK, lw=0.9)
axes.set_yticks(place, list(changes))
axes.set(xlabel="Working margin (min)", xlim=(-8, 155), title="Working margin of the hot job, by what is changed")
axes.grid(axis="y", visible=False)
plt.show()

# %% [markdown]
# Ice alone does not save this job: a thin wet liner takes the packer's temperature within minutes. A cooler packer alone
# does not either, nor does shade. Two of them do. The slow hardener does it by itself, and pays with hours in the pipe.

# %% [markdown]
# ## Ice the resin, by how much?
#
# Say we want ten minutes in hand. How cold must the resin be, for a packer that hot?

# %%
RESERVE = 10.0  # [min]
mixes = np.arange(0.0, 30.1, 1.0)
packers = {15: dict(color=BLUE, ls="-"), 25: dict(color=GREEN, ls="--"), 35: dict(color=ORANGE, ls="-."),
           45: dict(color=RED, ls=":")}

fig, axes = plt.subplots(figsize=(7.2, 4.0))
for packer, style in packers.items():
    table = sweep(hot, [{"initial_temperature_C.packer": packer, "initial_temperature_C.resin": T} for T in mixes])
    axes.plot(mixes, table["working_margin_min"], label=f"{packer} °C", **style)
    bad = table["overheats"].to_numpy()
    axes.plot(mixes[bad], table["working_margin_min"][bad], "o", mfc="white", mew=1.2, color=style["color"])
axes.plot([], [], "o", mfc="white", mew=1.2, color=INK, label="overheats")
axes.set(xlabel="Resin when mixed (°C)", ylabel="Working margin (min)", title="Medium hardener, rolled out in the sun",
         xlim=(-1, 38), xticks=range(0, 31, 5), ylim=(-8, 34))
level(axes, RESERVE, "ten minutes in hand")
too_late(axes)
axes.legend(title="Packer", loc="upper right")
plt.show()


def reserve_left(resin_C, packer_C):
    changed = hot.replace({"initial_temperature_C.packer": packer_C, "initial_temperature_C.resin": resin_C})
    return libcure.predict(changed).times.working_margin_min - RESERVE


for packer in packers:
    if reserve_left(0.0, packer) < 0.0:
        print(f"packer at {packer} °C: no resin above freezing leaves {RESERVE:.0f} min")
    else:
        warmest = brentq(reserve_left, 0.0, 30.0, args=(packer,), xtol=0.05)
        print(f"packer at {packer} °C: resin at {np.floor(warmest):.0f} °C or colder")

# %% [markdown]
# Cool the packer first. Ice helps only then.

# %% [markdown]
# ## Blend the hardeners
#
# Slow hardener saves the margin and costs hours. Some fast hardener in it buys hours back. The mixing rule is an assumption
# of this project: each hardener adds its share of its own rate. Here the packer is at 25 °C and the resin at 10 °C.

# %%
cooled = hot.replace(cool_packer | iced)
shares = np.arange(0.0, 1.001, 0.05).round(3)


def blend(fast):
    parts = [{"resin": "epoxy-amine-fast", "share": fast}, {"resin": "epoxy-amine-slow", "share": round(1.0 - fast, 3)}]
    return {"resin": {"components": parts}}


table = sweep(cooled, [blend(share) for share in shares])
bad = table["overheats"].to_numpy()
fig, (top, bottom) = plt.subplots(2, 1, figsize=(7.2, 5.0), sharex=True)
for axes, column, color in ((top, "release_min", INK), (bottom, "working_margin_min", BLUE)):
    axes.plot(100 * shares, table[column], color=color)
    axes.plot(100 * shares[bad], table[column][bad], "o", mfc="white", mew=1.2, color=color, label="overheats")
    here(axes, 40, "40 % fast, 60 % slow" if axes is top else "")
top.set(ylabel="Recommended release (min)", ylim=(0, None), title="Packer at 25 °C, resin at 10 °C")
bottom.set(xlabel="Fast hardener in the blend (%)", ylabel="Working margin (min)", ylim=(-15, None))
too_late(bottom)
level(bottom, RESERVE, "ten minutes in hand")
bottom.legend(loc="upper right")
plt.show()

# %% [markdown]
# The first tenth of fast hardener nearly halves the hold. Past 40 % there are minutes to win, and the whole job to lose.

# %% [markdown]
# ## The job, mended
#
# Packer at 25 °C, resin at 10 °C, rolled out in the sun as before, a blend of 40 % fast and 60 % slow. The bladder is let
# out at the recommended time, so that the return to service is counted as it would be.

# %%
mended = libcure.predict(cooled.replace(
    blend(0.4) | {"title": "Invented: Quarry Row, mended", "stages[2].ends": "at_release"}
))
assert mended.times.working_margin_min > RESERVE
mended

# %%
mended.plot()

# %% [markdown]
# ## What this does not tell
#
# - The resins are estimated. Their gel times are of the right kind; their last few percent of cure are the least certain,
#   and those decide the release in cold ground.
# - The wall is a ring, the same all round and all along. A wet invert, a liner's end and a small thick spot are not in it.
# - Ranges are not in it either. Look at the curves, not at one point, and stay away from the steep parts.
