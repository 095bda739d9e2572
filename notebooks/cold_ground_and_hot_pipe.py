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
# Two words are kept apart. **Bladder out** is the answer: what is not known exactly is in it, and only that number is for
# planning. **Criterion met** is one simulation with everything at its middle; half of such jobs are later. It is plotted
# where only the direction matters.
#
# **Both jobs are invented, and the resins are estimated demo models of no product. No number here is fit for a real job.**
# The release criterion is this library's own assumption. The resin maker's data, local codes and licensed practice come
# first.

# %%
import json
from dataclasses import asdict

import matplotlib.pyplot as plt
import numpy as np
import pandas as pd

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


def sweep(case, changes, uncertain=None):
    """One row for each set of changes: the answer, the times of one simulation [min], the hottest points [°C].

    With ranges also the low side, the middle and the high side of the working margin [min].
    """
    found = [libcure.predict(case.replace(change), uncertain=uncertain) for change in changes]
    table = pd.DataFrame([asdict(p.times) for p in found]).astype(float)
    table["status"] = [p.answer.status for p in found]
    table["release_min"] = np.array([p.answer.release_min for p in found], dtype=float)
    table["working_until_min"] = [p.answer.working_until_min for p in found]
    for layer in ("bladder", "pipe"):
        table[f"{layer}_peak_C"] = [p.verdict["layer_peak"][layer]["temperature_C"] for p in found]
    if uncertain != "none":
        margins = [p.ranges.working_margin_min for p in found]
        table[["margin_low", "margin", "margin_high"]] = [(m.p5, m.p50, m.p95) for m in margins]
    return table


def wall_at(T):
    """Changes that put ground and pipe at a temperature [°C]."""
    return {"ground.temperature_C": T, "initial_temperature_C.pipe": T}


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
# much time is left over. Then the bladder stays in until BLADDER OUT: 95 of 100 such jobs have met the criterion by then.
#
# The picture shows why it takes so long. Packer, air and wall take the resin's warmth away within half an hour. The
# reaction's own heat lifts the liner by two kelvin. The resin gels, and as it turns to glass it all but stops.

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
# 3 °C. Both sides are the careful ones: by the first time 19 of 20 such jobs are still workable, by the second 19 of 20
# have met the criterion.

# %%
grounds = np.arange(2, 19, 2)  # colder walls are outside of what these resins are known for
fig, (left, right) = plt.subplots(1, 2, figsize=(9.2, 3.8), sharex=True, sharey=True)
for name, style in HARDENERS.items():
    table = sweep(cold, [{"resin": f"epoxy-amine-{name}", "stages[2].duration_min": 2880} | wall_at(T) for T in grounds])
    assert not table["status"].eq("stop").any()
    left.plot(grounds, table["working_until_min"], label=f"{name} hardener", **style)
    right.plot(grounds, table["release_min"], label=f"{name} hardener", **style)
for axes in (left, right):
    hours(axes)
    axes.set(xlabel="Ground temperature (°C)", xticks=range(0, 19, 3), ylim=(30, 2880))
level(left, 480, "one shift")
level(right, 480, "")
left.set(ylabel="Time from mixing (h: hours, d: days)", title="Workable until")
right.set_title("Bladder out")
left.legend(loc="upper right", bbox_to_anchor=(1.0, 1.02))
plt.show()

# %% [markdown]
# The bladder stays in for three to seven times as long as the resin is workable, and the colder the ground, the more so. The
# fast hardener is done within a shift even at 2 °C. The medium one is not below about 5 °C, the slow one nowhere here:
# in ground of 10 °C or colder it keeps the bladder in for half a day and more.

# %% [markdown]
# ## What the liner must bear
#
# When the bladder is out, the liner must keep its shape. So the resin must be gelled, and far enough into the glass that it
# creeps little (Tg some kelvin above its own temperature); and the wall must carry its own weight, groundwater, and the pull
# of the bladder that is drawn out. Each load comes to a least Tg as well. The hardest of them decides.

# %%
loads = {
    "as planned": {},
    "5 m of groundwater": {"release.bears.water_head_m": 5},
    "bladder drags with 1500 N": {"release.bears.pull_N": 1500},
    "bladder drags with 2500 N": {"release.bears.pull_N": 2500},
    "bladder drags with 3000 N": {"release.bears.pull_N": 3000},
    "2 mm liner, 200 mm bore, 3 m of groundwater": {
        "liner.thickness_mm": 2, "pipe.inner_diameter_mm": 200, "release.bears.water_head_m": 3},
}
table = []
for change in loads.values():
    p = libcure.predict(cold.replace(change))
    needs = {need["what"]: need["Tg_margin_K"] for need in p.verdict["criterion"]["needs"] if need["what"] != "gelled"}
    row = {what: "none does" if margin is None else f"{margin:+.0f} K" for what, margin in needs.items()}
    table.append(row | {"bladder out": f"{p.answer.release_min:.0f} min" if not p.answer.stop else "do not do this job"})
columns = ["glassy", "own weight", "groundwater", "bladder drag", "bladder out"]
table = pd.DataFrame(table, index=list(loads), columns=columns).fillna("–").rename_axis("least Tg − T")
assert (table["bladder out"].iloc[:3] == table["bladder out"].iloc[0]).all()
assert (table["bladder out"].iloc[4:] == "do not do this job").all()
table

# %% [markdown]
# This small thick ring bears water and a usual pull long before it stops creeping. But a pull that asks for nearly all the
# stiffness of the glass costs hours, and a little more leaves no release at all: then not waiting helps, but a bladder that
# slides. A thin liner in a wide pipe never bears 3 m of water, however well this resin cures.
#
# ## How long it must bear it, and what a stated degree of cure asks
#
# Creep takes time. The case counts on two hours under load until further cure has made the resin stiffer. That is an
# assumption, so we vary it (left). And a resin maker may state a degree of cure instead (right). One simulation each, at
# four walls.

# %%
load_hours = np.geomspace(0.25, 168, 20)
alphas = np.arange(0.66, 0.8001, 0.005).round(3)
walls = {
    "wall 2 °C": (wall_at(2), dict(color=BLUE, ls="-")),
    "wall 4 °C (this case)": ({}, dict(color=GREEN, ls="--")),
    "wall 4 °C, bladder at 25 °C": ({"stages[2].fill_temperature_C": 25}, dict(color=ORANGE, ls="-.")),
    "wall 18 °C": (wall_at(18), dict(color=RED, ls=":")),
}
fig, (left, right) = plt.subplots(1, 2, figsize=(9.2, 4.0), sharey=True)
percent = {}
for name, (wall, style) in walls.items():
    held = cold.replace(wall | {"stages[2].duration_min": 7 * 1440})
    table = sweep(held, [{"release.load_hours": h} for h in load_hours], uncertain="none")
    left.plot(load_hours, table["criterion_met_min"], label=name, **style)
    by_cure = [{"release": {"by": "conversion", "alpha_min": alpha}} for alpha in alphas]
    met = sweep(held, by_cure, uncertain="none")["criterion_met_min"]
    right.plot(100 * alphas, met, label=name, **style)
    met.index = alphas
    percent[name] = {f"at {100 * a:.0f} %": (met[a + 0.005] - met[a - 0.005]) / 60 for a in (0.70, 0.72, 0.74)}
for axes in (left, right):
    hours(axes)
left.set(xscale="log", xlabel="Hours under load", ylabel="Criterion met\n(h: hours, d: days from mixing)",
         title="By what the liner must bear")
left.set_xticks([0.25, 1, 2, 8, 24, 168], ["¼", "1", "2", "8", "24", "168"])
left.minorticks_off()
here(left, 2, "this case")
right.set(xlabel="Degree of cure asked for (%)", title="By a stated degree of cure")
here(right, 70, "the resin model")
right.annotate("a curve that ends:\nnot within a week", (0.99, 0.05), xycoords="axes fraction", ha="right", fontsize=8.5)
left.legend(loc="upper left", bbox_to_anchor=(0.0, 0.94), fontsize=8.5, frameon=True, framealpha=1.0, edgecolor="white")
plt.show()

stated = libcure.predict(cold.replace({"release": {"by": "conversion", "alpha_min": 0.72}}))
print("72 % stated, wall at 4 °C:", stated.answer.headline, *(reason.text for reason in stated.answer.reasons), sep="\n  ")
pd.DataFrame(percent).T.rename_axis("hours for one percent of cure").round(1)

# %% [markdown]
# On the left the curves are flat up to a shift: eight hours under load instead of two cost half an hour at 4 °C. On the
# right they turn up. A cold resin comes to rest a little above 70 %, and a degree of cure stated there lies on its plateau:
# one percent costs an hour at 70 %, four hours at 72 %, seventeen at 74 %. With what is not known exactly, 72 % is no
# longer an answer. At 18 °C the resin passes the same numbers on its way.
#
# Warmth helps with either: with the bladder at 25 °C the criterion is met an hour sooner, and the plateau is higher.

# %% [markdown]
# ## How warm should the resin be?
#
# Warm resin cures sooner. It also runs away sooner, in the pouch and while it is rolled out.

# %%
mixes = np.arange(0.0, 36.1, 2.0)
table = sweep(cold, [{"initial_temperature_C.resin": T} for T in mixes])
stop = table["status"].eq("stop").to_numpy()

fig, (top, bottom) = plt.subplots(2, 1, figsize=(7.2, 4.8), sharex=True)
top.plot(mixes, table["release_min"], color=INK)
top.set(ylabel="Bladder out (min)", ylim=(0, 360), xlim=(-1, 37), title="Fast hardener, wall at 4 °C")
bottom.plot(mixes, table["margin"], color=BLUE, label="middle")
bottom.fill_between(mixes, table["margin_low"], table["margin_high"], color=BLUE, alpha=0.18, lw=0, label="9 samples in 10")
bottom.plot(mixes[stop], table["margin_low"][stop], "x", color=RED, label="do not do this job")
bottom.set(xlabel="Resin when mixed (°C)", ylabel="Working margin (min)", ylim=(-20, 110))
too_late(bottom)
here(top, 15, "this case")
here(bottom, 15, "")
bottom.legend(loc="upper right")
plt.show()
print(f"no release from {mixes[stop].min():.0f} °C on")

# %% [markdown]
# Resin at 25 °C instead of 0 °C brings the bladder out some forty minutes sooner, for the wall takes the warmth away again,
# and costs nearly half of the margin. Above that the margin falls ever faster. At 32 °C more than one such job in 20 is too
# late: the laminate sets itself off on the packer, and that on a winter morning. Keep well away from the edge.

# %% [markdown]
# ## A thick spot
#
# Where a liner folds or resin pools, the laminate is thicker. Heat is made in the whole thickness, but leaves only through
# its faces. We thicken the whole ring, with the pouch unchanged. A small spot also loses heat sideways, so this is the
# unfavourable end.

# %%
thick = np.arange(3.0, 15.01, 0.5)
pouch = {"stages[0].mass_kg": 0.46, "stages[0].surface_area_m2": 0.041}
grounds = {4: dict(color=BLUE, ls="-", marker="o"), 12: dict(color=GREEN, ls="--", marker="s"),
           18: dict(color=RED, ls=":", marker="^")}
fig, panels = plt.subplots(1, 2, figsize=(9.2, 3.8), sharey=True)
for T, style in grounds.items():
    table = sweep(cold, [{"liner.thickness_mm": L} | wall_at(T) | pouch for L in thick], uncertain="none")
    for axes, layer in zip(panels, ("bladder", "pipe"), strict=True):
        axes.plot(thick, table[f"{layer}_peak_C"], label=f"wall {T} °C", markevery=2, **style)
for axes, layer, material in zip(panels, ("bladder", "pipe"), ("natural-rubber", "pvc"), strict=True):
    document = json.loads((libcure.models_folder() / "materials" / f"{material}.json").read_text(encoding="utf-8"))
    limit = document["temperature_limit"]["value"]
    axes.axhline(limit, color=INK, lw=0.9, zorder=1)
    axes.annotate(f"limit, {limit:g} °C", (3, limit), xytext=(0, 2), textcoords="offset points", va="bottom", fontsize=8.5)
    here(axes, 9, "three layers")
    axes.set(xlabel="Thickness of the laminate (mm)", title=f"Hottest point of the {layer} ({material})", ylim=(0, None))
panels[0].set_ylabel("Temperature (°C)")
panels[1].legend(loc="lower right")
plt.show()

# %% [markdown]
# In ground at 4 °C the bladder overheats between eleven and twelve millimetres, at 18 °C just past seven. Two layers stay
# below the limits. Three overheat the bladder at 12 °C already, and at 18 °C the pipe as well. Near the edge a millimetre is
# worth 15 K. A fold is not a small fault.

# %% [markdown]
# ## What one thermocouple would tell
#
# Nobody knows how well a liner lies against a wet old pipe. The case assumes a contact resistance of 0.001 m²K/W, a film of
# water and dirt. A gap of air is worth much more. Can a thermocouple between bladder and liner tell them apart? And what
# does its peak say? One simulation each.

# %%
contacts = {1e-3: (BLUE, "-", "this case"), 1e-2: (GREEN, "--", "¼ mm of air"), 3e-2: (ORANGE, "-.", "¾ mm of air"),
            1e-1: (RED, ":", "2½ mm of air")}
fig, axes = plt.subplots(figsize=(7.2, 3.9))
for resistance, (color, ls, name) in contacts.items():
    p = libcure.predict(cold.replace({"contact_resistance_m2K_W.liner_pipe": resistance}), uncertain="none")
    held = p.history.stages[2]
    minutes = held.time / 60
    T = held.temperature[:, np.flatnonzero(held.layer == "liner")[0]] - 273.15
    later = minutes > 40  # past the warmth that the liner brought along
    assert minutes[later][T[later].argmax()] < p.times.gel_last_min < p.times.criterion_met_min
    axes.plot(minutes, T, color=color, ls=ls, label=f"{resistance:g} m²K/W ({name})")
    for time, mark in ((p.times.gel_last_min, "o"), (p.times.criterion_met_min, "v")):
        axes.plot(time, np.interp(time, minutes, T), mark, color=color, ms=8, mec=INK)
for mark, name in (("o", "last point gelled"), ("v", "criterion met")):
    axes.plot([], [], mark, color="white", mec=INK, ms=8, label=name)
axes.set(xlim=(0, 280), xlabel="Time from mixing (min)", ylabel="Inner face of the liner (°C)",
         title="From the moment the liner is held")
axes.legend(title="Contact of liner and pipe", loc="upper right")
plt.show()

# %% [markdown]
# A film of water and a quarter of a millimetre of air differ by half a kelvin: no thermocouple on a site tells them apart.
# A gap of millimetres shows. The liner is then warmer and done sooner, but it does not touch the pipe.
#
# In each of these the peak comes before the last point has gelled, and long before the criterion is met. A peak seen does
# not mean that the resin has gelled, still less that the bladder may come out.

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
# One change at a time first, then two together. A bar is the working margin of 9 samples in 10, the dot its middle.

# %%
shade = {"stages[1].absorbed_sun_W_m2": 0}
cool_packer = {"initial_temperature_C.packer": 25}
iced = {"initial_temperature_C.resin": 10}
slow = {"resin": "epoxy-amine-slow"}
changes = {
    "as planned": {},
    "resin iced to 10 °C": iced,
    "packer cooled to 25 °C": cool_packer,
    "rolled out in the shade": shade,
    "slow hardener, nothing else": slow,
    "packer at 25 °C, in the shade": cool_packer | shade,
    "packer at 25 °C, resin at 10 °C": cool_packer | iced,
    "all three, medium hardener": cool_packer | iced | shade,
    "slow hardener, in the shade": slow | shade,
}
table = sweep(hot, changes.values())
table.index = list(changes)

fig, axes = plt.subplots(figsize=(8.2, 3.9))
for y, (_, row) in zip(range(len(table))[::-1], table.iterrows(), strict=True):
    stop = row["status"] == "stop"
    color = RED if stop else BLUE
    axes.plot([row["margin_low"], row["margin_high"]], [y, y], color=color, lw=2.5)
    axes.plot(row["margin"], y, "o", ms=8, color=color, mfc="white" if stop else color, mew=1.6)
    note = "do not do this job" if stop else f"bladder out at {row['release_min']:.0f} min"
    axes.annotate(note, (row["margin_high"], y), xytext=(9, 0), textcoords="offset points", va="center", fontsize=8.5)
axes.axvline(0, color=INK, lw=0.9)
axes.set_yticks(range(len(table))[::-1], list(changes))
axes.set(xlabel="Working margin (min)", xlim=(-10, 105), title="Working margin of the hot job, by what is changed")
axes.grid(axis="y", visible=False)
plt.show()

# %% [markdown]
# Ice alone does not save this job: a thin wet liner takes the packer's temperature within minutes. A cooler packer alone
# does not either, nor does shade. The slow hardener alone looks well in the middle, but too many such jobs overheat or set
# too early. A cooler packer with shade or ice will do, all three better. The slow hardener in the shade does it too, and
# keeps the bladder in twice as long.

# %% [markdown]
# ## Ice the resin, by how much?
#
# Say we want ten minutes in hand, in 19 of 20 such jobs. How cold must the resin be, for a packer that hot?

# %%
RESERVE = 10.0  # [min]
mixes = np.arange(0.0, 30.1, 2.5)
packers = {15: dict(color=BLUE, ls="-"), 25: dict(color=GREEN, ls="--"), 35: dict(color=ORANGE, ls="-."),
           45: dict(color=RED, ls=":")}

fig, axes = plt.subplots(figsize=(7.2, 4.0))
for packer, style in packers.items():
    table = sweep(hot, [{"initial_temperature_C.packer": packer, "initial_temperature_C.resin": T} for T in mixes])
    low = table["margin_low"].to_numpy()
    stop = table["status"].eq("stop").to_numpy()
    axes.plot(mixes, low, label=f"{packer} °C", **style)
    axes.plot(mixes[stop], low[stop], "x", color=style["color"])
    if low[0] < RESERVE:
        print(f"packer at {packer} °C: no resin above freezing leaves {RESERVE:.0f} min")
    else:
        warmest = np.interp(-RESERVE, -low, mixes)  # the margin falls as the resin warms
        print(f"packer at {packer} °C: resin at {np.floor(warmest):.0f} °C or colder")
axes.plot([], [], "x", color=INK, label="do not do this job")
axes.set(xlabel="Resin when mixed (°C)", ylabel="Low side of the working margin (min)",
         title="Medium hardener, rolled out in the sun", xlim=(-1, 40), xticks=range(0, 31, 5), ylim=(-8, 28))
level(axes, RESERVE, "ten minutes in hand")
too_late(axes)
axes.legend(title="Packer", loc="upper right")
plt.show()

# %% [markdown]
# Cool the packer first. Ice helps only then.

# %% [markdown]
# ## Blend the hardeners
#
# No medium hardener in the van? Slow and fast together make one. The mixing rule is an assumption of this project: each
# hardener adds its share of its own rate. Here the packer is at 25 °C, the resin at 10 °C, in the shade. One simulation
# each.

# %%
cooled = hot.replace(cool_packer | iced | shade)
shares = np.arange(0.0, 1.001, 0.1).round(2)


def blend(fast):
    parts = [{"resin": "epoxy-amine-fast", "share": fast}, {"resin": "epoxy-amine-slow", "share": round(1.0 - fast, 2)}]
    return {"resin": {"components": parts}}


table = sweep(cooled, [blend(share) for share in shares], uncertain="none")
medium = libcure.predict(cooled, uncertain="none").times
fig, (top, bottom) = plt.subplots(2, 1, figsize=(7.2, 5.0), sharex=True)
for axes, column, color in ((top, "criterion_met_min", INK), (bottom, "working_margin_min", BLUE)):
    axes.plot(100 * shares, table[column], color=color, marker="o")
    level(axes, getattr(medium, column), "medium hardener")
    axes.set_ylim(0, None)
top.set(ylabel="Criterion met (min)", title="Packer at 25 °C, resin at 10 °C, in the shade")
bottom.set(xlabel="Fast hardener in the blend (%)", ylabel="Working margin (min)")
plt.show()

# %% [markdown]
# Some 45 % of fast hardener make the medium one. Margin and release shrink together: a blend is a hardener in between, no
# better one. The first tenth of fast hardener counts most.

# %% [markdown]
# ## The job, mended
#
# The hardener that was planned, but the packer at 25 °C, the resin at 10 °C, rolled out in the shade. The hold ends at
# the release, so that the return to service is counted as it would be.

# %%
mended = libcure.predict(cooled.replace({"title": "Invented: Quarry Row, mended", "stages[2].ends": "at_release"}))
assert mended.answer.status == "ok" and mended.ranges.working_margin_min.p5 > RESERVE
mended

# %%
mended.plot()

# %% [markdown]
# ## What this does not tell
#
# - The resins are estimated, and what the liner must bear is assumed. Tg near the end of a cold cure is the least certain, and
#   it decides the release.
# - The wall is a ring, the same all round and all along. A wet invert, a liner's end and a small thick spot are not in it.
# - The ranges count what usually varies. A wrong mix, damp fibre or a pouch left standing is not in them.
# - Where one simulation is plotted, look at the curve, not at a point, and stay away from the steep parts.
