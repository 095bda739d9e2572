"""Invented logs: the model's own temperatures with inputs that differ from the case, and the errors of a probe."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from libcure import _core, load_case
from libcure.following import Readings
from libcure.sampling import UncertainInput
from libcure.sampling.uncertainty import Uncertainty

CASES = Path(__file__).parents[2] / "models" / "cases"
AT = "liner outer face"
ASSUMED = _core.follow_assumptions()
PROBE, CLOCK = ASSUMED["nuisances"]["probe"], ASSUMED["nuisances"]["clock"]
RANGES = (
    UncertainInput("ground", "Ground", ("ground.temperature_offset_K", "initial_temperature.pipe_offset_K"), "normal", 1.0),
    UncertainInput("contact", "Contact", ("contact_factor",), "lognormal", 0.7),
    UncertainInput("rate", "Speed", ("resin.rate_factor",), "lognormal", 0.12),
    UncertainInput("resin", "Resin", ("initial_temperature.resin_offset_K",), "normal", 1.0),
    UncertainInput("fill", "Fill", ("fill_temperature_offset_K",), "normal", 1.5),
)
"""In which the truths of the tests lie, about as far as those that follow assumes."""


def job_of(case, at=AT, ranges=RANGES):
    return _core.FollowJob(case.core, at, Uncertainty(ranges, None).stated(), 1)


def row_of(job, theta):
    """With the constants of the resin's model file."""
    return np.concatenate([theta, np.zeros(job.unknowns - len(theta))])[None]


@dataclass(frozen=True)
class Truth:
    """A job as it really is: theta are standard normal, in the order of ``RANGES``."""

    case: str
    theta: tuple
    at: str = AT

    @cached_property
    def loaded(self):
        return load_case(CASES / f"{self.case}.json")

    @cached_property
    def job(self):
        return job_of(self.loaded, self.at)

    @cached_property
    def rows(self):
        return row_of(self.job, self.theta)

    @cached_property
    def release_min(self):
        return float(self.job.release_times(self.rows)[0]) / 60.0

    def log(self, until_min, seed, *, every_min=1.0, from_min=16.5, errors=True, resolution=0.1):
        """Times [min] and temperatures [°C] as a logger shows them.

        With errors: the sensor's noise, a slow error of the model (an autoregressive series), a fixed error of the
        probe, and a clock that is off; all as large as libcure assumes.
        """
        time = np.arange(from_min, until_min, every_min)
        random = np.random.default_rng(seed)
        size = float(errors)
        clock = size * random.normal(scale=CLOCK)
        T = self.job.traces(self.rows, np.clip(60.0 * time + clock, 0.0, self.job.held[1]))[0] - 273.15
        # Its integrated correlation time is the assumed one.
        memory = np.exp(-60.0 * every_min / (0.5 * ASSUMED["correlation_time"]))
        slow = np.empty(time.size)
        slow[0] = random.normal()
        for i in range(1, time.size):
            slow[i] = memory * slow[i - 1] + np.sqrt(1.0 - memory**2) * random.normal()
        T = T + size * (ASSUMED["model_sd"] * slow + ASSUMED["sensor_sd"] * random.normal(size=time.size) + PROBE * random.normal())
        return time, np.round(T / resolution) * resolution


def readings(time, temperature):
    return Readings.from_arrays(time, temperature)
