"""Times to degrees of cure at other temperatures and programmes: without a law, and beside it the law's.

The law's band is by its covariance: ln of each time is taken as a straight function of the constants, by differences along the
covariance's axes. It knows nothing of a law that is wrong; the model-free band knows nothing of a law at all.
"""

from __future__ import annotations

import json
import tempfile
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import zero_d
from libcure._core import Resin
from libcure.errors import CureError, input_error
from libcure.fitting.law_fit import LawFit
from libcure.fitting.laws import number, span
from libcure.fitting.model_file import law_document
from libcure.fitting.model_free import Forecast, ModelFree, Programme
from libcure.fitting.quantiles import Z95
from libcure.fitting.run import Finding, Run
from libcure.models import read_resin

__all__ = ["SHOWN", "Prediction", "findings_of", "predict_cure", "programmes", "time_shown", "usual_programmes"]

Array = NDArray[np.float64]
ZERO_CELSIUS = 273.15
SHOWN = (0.5, 0.9)  # degrees of cure that tables say
AMBIENT = 20.0  # degC, where the models of this library are used
COLDEST, HOTTEST = -20.0, 300.0  # degC, of a programme; as the schema has it of one temperature
STEP = 0.3  # standard deviations of a difference
LONGEST = 3.2e8  # s, ten years: what takes longer never comes
STARTS = 0.02  # degree of cure from which a run is said to react
MIXED = 0.04  # of a time, by which several steps must bias a forecast before it is said; own choice
NEAR = 15.0  # K from a forecast, within which an isothermal run shows how the steps mix; own choice
SHIFT = 8.0 * 3600.0  # s, in which a hold that is proposed is to end
EARLY, COLDER = 0.1, 5.0  # degree of cure, and K colder than any run reacts, from which a programme is extrapolated; own choice


@dataclass(frozen=True)
class Prediction:
    """Of one programme."""

    programme: Programme
    free: Forecast
    """Without a law"""
    law: str
    """Label of the law that is written; empty: none"""
    by_law: Forecast | None
    extrapolated: bool
    """It cures colder than any run reacts"""

    @property
    def apart(self) -> float | None:
        """At alpha = 0.9, the law's time over the model-free one where their intervals do not meet; None where they do."""
        if self.by_law is None:
            return None
        (t, low, high), (law, law_low, law_high) = self.free.at(SHOWN[-1]), self.by_law.at(SHOWN[-1])
        return law / t if law_low > high or law_high < low else None


def time_shown(told: Forecast | None, alpha: float) -> str:
    """The time to a degree of cure with its interval, in minutes, for people; empty where nothing is told."""
    if told is None:
        return ""
    value, low, high = (v / 60.0 for v in told.at(alpha))
    if not np.isfinite(value):
        return "not within the programme, or never"
    return f"{number(value, 3)} ({span(low, high, 3) if np.isfinite(low) and np.isfinite(high) else 'no limit by these runs'})"


def programmes(entries: Sequence[Mapping[str, Any]], file: str = "") -> list[Programme]:
    """From the document's ``predictions``.

    Raises:
        CureError: an id twice, times that do not rise, or temperatures of no cure.
    """
    found: list[Programme] = []
    for i, entry in enumerate(entries):
        if entry["id"] in [one.id for one in found]:
            raise input_error(f"predictions[{i}].id", f'"{entry["id"]}"', "each id once", file)
        if "isothermal_C" in entry:
            found.append(Programme(entry["id"], np.zeros(1), np.array([entry["isothermal_C"] + ZERO_CELSIUS])))
            continue
        time, T = np.array(entry["programme"], float).T
        if time[0] != 0.0 or np.any(np.diff(time) <= 0.0):
            raise input_error(f"predictions[{i}].programme", f"times {', '.join(f'{t:g}' for t in time[:6])} min",
                              "times that begin at 0 and rise", file)
        if np.min(T) < COLDEST or np.max(T) > HOTTEST:
            raise input_error(f"predictions[{i}].programme", f"{np.min(T):g} to {np.max(T):g} degC", f"{COLDEST:g} to {HOTTEST:g}", file)
        found.append(Programme(entry["id"], 60.0 * time, T + ZERO_CELSIUS))
    return found


def usual_programmes(runs: Sequence[Run]) -> list[Programme]:
    """Where a document asks for none: where models are used, and a temperature within the data."""
    halves = [float(np.interp(0.5, np.maximum.accumulate(run.alpha), run.T)) for run in runs if run.alpha[-1] > 0.5]
    inside = 10.0 * np.floor((min(halves) - ZERO_CELSIUS) / 10.0) if halves else AMBIENT
    return [Programme(f"{C:g} °C", np.zeros(1), np.array([C + ZERO_CELSIUS])) for C in sorted({AMBIENT, float(inside)})]


def predict_cure(free: ModelFree, runs: Sequence[Run], asked: Sequence[Programme], fit: LawFit | None, about: Mapping[str, Any]) -> list[Prediction]:
    """All programmes, without a law and by the one that is written (``fit``; ``about`` as for the model file)."""
    reacting = [float(run.T[np.searchsorted(np.maximum.accumulate(run.alpha), STARTS)]) for run in runs if run.alpha[-1] > STARTS]
    resins = list(_resins(fit, about)) if fit is not None else []
    found = []
    for programme in asked:
        told = free.forecast(programme)
        by_law = _by_law(resins, programme, free.fine.alpha) if resins else None
        # Where it cures, and not where it only begins.
        curing = np.interp(told.time[(told.alpha > EARLY) & np.isfinite(told.time)], programme.time, programme.T)
        cold = bool(np.min(curing, initial=np.inf) < min(reacting) - COLDER)
        found.append(Prediction(programme, told, fit.law.label if fit is not None else "", by_law, cold))
    return found


def _resins(fit: LawFit, about: Mapping[str, Any]) -> Iterator[Resin]:
    """The law's resin, then two by axis of its covariance."""
    size, axes = np.linalg.eigh(fit.covariance)
    moves = axes * (STEP * np.sqrt(np.maximum(size, 0.0)))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "law.json"
        for move in (np.zeros(len(fit.x)), *(sign * column for column in moves.T for sign in (1.0, -1.0))):
            values = fit.values.copy()
            values[fit.law.free] = fit.x + move
            path.write_text(json.dumps(law_document(replace(fit, x=fit.x + move, values=values), about, "")), encoding="utf-8")
            try:
                yield read_resin(path)
            except CureError:
                if not move.any():
                    raise
                # Beyond a limit of the reader: the difference is taken on the other side alone.
                path.write_text(json.dumps(law_document(fit, about, "")), encoding="utf-8")
                yield read_resin(path)


def _by_law(resins: Sequence[Resin], programme: Programme, alpha: Array) -> Forecast:
    times = np.stack([_reached(resin, programme, alpha) for resin in resins])
    logs = np.log(np.where(times > 0.0, times, np.nan))
    slopes = (logs[1::2] - logs[2::2]) / (2.0 * STEP)
    half = Z95 * np.sqrt(np.sum(slopes**2, axis=0))
    return Forecast(programme, alpha, times[0], times[0] * np.exp(-half), times[0] * np.exp(half))


def _reached(resin: Resin, programme: Programme, alpha: Array) -> Array:
    """(k,) times at which a resin reaches degrees of cure [s]; NaN where it never does."""
    if programme.held:
        t = np.concatenate([[0.0], np.geomspace(1.0, LONGEST, 1200)])
        cure = zero_d.isothermal(resin, programme.T, t)[0]
    else:
        t = np.linspace(programme.time[0], programme.time[-1], 2000)
        cure = zero_d.along(resin, programme.time, programme.T, t)[0]
    most = np.maximum.accumulate(cure)
    up = np.concatenate([[True], np.diff(most) > 0.0])
    return np.asarray(np.interp(alpha, most[up], t[up], left=np.nan, right=np.nan))


def findings_of(predictions: Sequence[Prediction], free: ModelFree, runs: Sequence[Run]) -> list[Finding]:
    """What is to be known before they are used."""
    out = _mixed(predictions, free, runs)
    cold = [one.programme.id for one in predictions if one.extrapolated]
    if cold:
        out.append(Finding("note", "forecast_extrapolated", "predictions", f"{', '.join(cold)}: colder than any run reacts. What E is there, and "
                           "whether the resin vitrifies before it is cured, no run has shown."))
    for one in predictions:
        if one.apart is not None:
            out.append(Finding("warning", "forecast_differs", "predictions", f"{one.programme.id}: {one.law} takes {one.apart:.2g} times as long to α = "
                               f"{SHOWN[-1]:g} as the forecast without a law, and their 95 % intervals do not meet: the law or its constants are "
                               "wrong there, or the runs are."))
    return out


def _mixed(predictions: Sequence[Prediction], free: ModelFree, runs: Sequence[Run]) -> list[Finding]:
    """Whether several steps mix otherwise in a forecast than in the runs, none of which is like it."""
    if free.mixture is None:
        return []
    held = [float(np.median(run.T)) for run in runs if not run.dynamic and not run.truncated]
    said: dict[str, float] = {}
    for one in predictions:
        T = one.programme.T
        if any(np.min(T) - NEAR < at < np.max(T) + NEAR for at in held):
            continue
        off = free.mixture.off(one.programme)
        told = float(np.nanmax(off[free.mixture.seen.alpha[: len(off)] <= SHOWN[-1] + 1e-9], initial=0.0))
        if told > MIXED:
            said[one.programme.id] = told
    if not said:
        return []
    worst = 100.0 * np.expm1(max(said.values()))
    return [Finding("warning", "forecast_mixed", "predictions", f"{', '.join(said)}: more than one step is at work, and these runs do not determine how "
                    f"the steps share the cure along another kind of programme. A forecast without a law misses some {worst:.0f} % there of the time that "
                    f"two steps side by side take; its intervals are widened for it. Add a hold at {_hold(free, predictions)}, until it ends.")]


def _hold(free: ModelFree, predictions: Sequence[Prediction]) -> str:
    """The temperature nearest to the coldest forecast at which a run ends within a shift, in words."""
    coldest = float(min(np.max(one.programme.T) for one in predictions)) - ZERO_CELSIUS
    wanted = np.arange(10.0 * np.ceil(coldest / 10.0), HOTTEST, 10.0)
    for C in wanted:
        if free.forecast(Programme("", np.zeros(1), np.array([C + ZERO_CELSIUS]))).at(SHOWN[-1])[0] < SHIFT:
            return f"{C:.0f} °C"
    return "the hottest of these temperatures"
