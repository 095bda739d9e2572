"""Draws the invented thermocouple log of notebooks/data/follow. Invented: no job, no probe, no logger.

    .venv/bin/python notebooks/data/make_follow.py

The job is models/cases/cold_ground_winter.json as it might really have gone: inputs that differ from the case, below,
so that everybody can see how close `libcure follow` comes; it does not read them. On the model's temperatures at the
liner's outer face come noise, a slow error, and what goes wrong on a site: a loose plug, a broken wire, no signal.
"""

from pathlib import Path

import numpy as np

import libcure
from libcure.following import Job
from libcure.sampling import UncertainInput
from libcure.sampling.uncertainty import Uncertainty

HERE = Path(__file__).parent
CASE = HERE.parents[1] / "models" / "cases" / "cold_ground_winter.json"
OFF = (
    UncertainInput("ground", "Ground", ("ground.temperature_offset_K", "initial_temperature.pipe_offset_K"), "normal", 2.0),
    UncertainInput("contact", "Contact", ("contact_factor",), "lognormal", 0.7),
    UncertainInput("rate", "Speed", ("resin.rate_factor",), "lognormal", 0.15),
    UncertainInput("resin", "Resin", ("initial_temperature.resin_offset_K",), "normal", 1.5),
    UncertainInput("fill", "Fill", ("fill_temperature_offset_K",), "normal", 2.0),
)
# Standard deviations off the case, in that order: ground and pipe 1.2 K warmer, contact resistance 1.23 times, cure 1.2
# times as fast, resin 1.2 K warmer, fill 1 K warmer.
TRUTH = np.array([0.6, 0.3, 1.2, 0.8, 0.5])
PROBE = 0.4  # K too high
MINUTES = np.arange(15.0, 181.0)


def main():
    case = libcure.load_case(CASE)
    job = Job(case.core, "liner outer face", Uncertainty(OFF, None).stated(), 1)
    # The constants of the resin are those of its model file.
    row = np.concatenate([TRUTH, np.zeros(job.unknowns - TRUTH.size)])[None]
    release = job.release_times(row)[0] / 60
    random = np.random.default_rng(4)
    slow = 0.4 * np.sin(2.0 * np.pi * MINUTES / 27.0 + 1.0)
    T = job.traces(row, 60.0 * MINUTES)[0] - 273.15 + PROBE + slow + random.normal(scale=0.2, size=MINUTES.size)
    shown = [f"{value:.1f}" for value in T]
    at = {minute: i for i, minute in enumerate(MINUTES)}
    shown[at[28]] = shown[at[29]] = ""  # no signal
    shown[at[37]], shown[at[52]] = "31.4", "-8.0"  # a loose plug
    shown[at[44]] = "1372.0"  # what a logger shows for a broken wire
    lines = [
        "# INVENTED data, made by make_follow.py: probe between liner and pipe of models/cases/cold_ground_winter.json",
        "time_min,temperature_C",
        *(f"{minute:.0f},{value}" for minute, value in zip(MINUTES, shown, strict=True)),
    ]
    (HERE / "follow").mkdir(exist_ok=True)
    (HERE / "follow" / "cold_ground.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
    print(f"criterion met, as it really was: {release:.1f} min")


if __name__ == "__main__":
    main()
