"""Invented logs: the model's own temperatures with inputs that differ from the case, and the errors of a probe."""

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path

import numpy as np

from libcure import ensemble, load_case
from libcure.following import DEFAULTS, Readings
from libcure.following.inference import CORRELATION_TIME, MODEL_SD, SENSOR_SD
from libcure.following.unknowns import NUISANCES, Job

CASES = Path(__file__).parents[2] / "models" / "cases"
AT = "liner outer face"


@dataclass(frozen=True)
class Truth:
    """A job as it really is: theta are standard normal, in the order of the default unknowns."""

    case: str
    theta: tuple
    at: str = AT

    @cached_property
    def job(self):
        return Job(load_case(CASES / f"{self.case}.json"), self.at, DEFAULTS, 1)

    @cached_property
    def rows(self):
        return np.array([self.theta])

    @cached_property
    def outcome(self):
        return ensemble.simulate_many(self.job.case, self.job.changes(self.rows), threads=1)

    @property
    def release_min(self):
        return float(self.outcome.release_time_s[0]) / 60.0

    @property
    def recommended_min(self):
        return float(self.outcome.release_time_recommended_s[0]) / 60.0

    def log(self, until_min, seed, *, every_min=1.0, from_min=16.5, errors=True, resolution=0.1):
        """Times [min] and temperatures [°C] as a logger shows them.

        With errors: the sensor's noise, a slow error of the model (an autoregressive series), a fixed error of the
        probe, and a clock that is off; all as large as libcure assumes.
        """
        time = np.arange(from_min, until_min, every_min)
        random = np.random.default_rng(seed)
        size = float(errors)
        clock = size * random.normal(scale=NUISANCES[1].sd)
        T = self.job.traces(self.rows, np.clip(60.0 * time + clock, 0.0, self.job.held[1]))[0] - 273.15
        # Its integrated correlation time is CORRELATION_TIME.
        memory = np.exp(-60.0 * every_min / (0.5 * CORRELATION_TIME))
        slow = np.empty(time.size)
        slow[0] = random.normal()
        for i in range(1, time.size):
            slow[i] = memory * slow[i - 1] + np.sqrt(1.0 - memory**2) * random.normal()
        T = T + size * (MODEL_SD * slow + SENSOR_SD * random.normal(size=time.size) + NUISANCES[0].sd * random.normal())
        return time, np.round(T / resolution) * resolution


def readings(time, temperature):
    return Readings.from_arrays(time, temperature)
