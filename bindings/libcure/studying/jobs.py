"""Jobs that were followed with a thermocouple: what their readings said of the resin's speed."""

from __future__ import annotations

import math

import numpy as np

from libcure import _core, documents
from libcure.case import load_case
from libcure.following import follow, read_readings
from libcure.studying.films import film_gel
from libcure.studying.reading import ZERO, Component, Made, Reading

__all__ = ["read_job"]

LEAST = 0.9
"""Spread of the resin's speed after the readings, over that before, above which they count as having said nothing."""
MODEL_SD = 0.05
"""Of ln of a time, in addition: of a followed job's model (libcure.following)."""


def read_job(r: Reading) -> Made:
    """A log of ``libcure follow`` as the gel time of a film at the wall's temperature.

    The case has a resin model of its own, and its readings tell how much faster the resin cured. Of that the part counts that the readings
    alone say: what the case's model assumed before is taken out (product of normal distributions of ln of the speed), else a maker's model would
    learn from itself.
    """
    f = r.f
    documents.confine(r.beside / f["case"], f["case"], f.at("case"), f.file)
    case = load_case(r.beside / f["case"])
    log = r.beside / f["log"]
    result = follow(case, log, at=f["at"])
    if not result.relied_on:
        raise f.refuse_words("log", f"not relied on ({' '.join(reason.text for reason in result.reasons)})", "readings that follow relies on")
    (speed,) = (u for u in result.unknowns if u.name == "resin_speed")
    middle, spread = zip(*((math.log(b.p50), (math.log(b.p95) - math.log(b.p5)) / 3.29) for b in (speed.before, speed.after)), strict=True)
    if spread[1] > LEAST * spread[0]:
        raise f.refuse_words("log", f"leaves {100.0 * spread[1] / spread[0]:.0f} % of the spread of the resin's speed",
                             f"readings that leave {100.0 * LEAST:.0f} % or less")  # fmt: skip
    gained = spread[1] ** -2 - spread[0] ** -2
    faster = (middle[1] * spread[1] ** -2 - middle[0] * spread[0] ** -2) / gained
    readings = read_readings(log)
    T = float(np.nanmedian(readings.temperature[readings.time > 0.0]))
    of = film_gel(T, 4e6)
    ln_gel = of(case.resin) - faster

    def ask(resin: _core.Resin, _: float) -> list[float]:
        return [of(resin)]

    return [Component("gel by the job's readings", ln_gel, r.sd(math.hypot(gained**-0.5, MODEL_SD)), "min")], ask, T - ZERO, math.exp(ln_gel)
