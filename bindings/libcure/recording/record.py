"""The record of a job: plan, answer, readings, what was done when, and what it rests on; made once, and checked again later."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from libcure import _core, documents
from libcure.case import Case
from libcure.following import FollowResult, Readings, follow
from libcure.models import model_names, model_path
from libcure.recording.site import EVENTS, Site, read_site
from libcure.result import Prediction, predict
from libcure.sampling import UncertainInput

__all__ = ["FORMAT", "Finding", "Record", "make", "verify"]

FORMAT = "libcure/record/1"
STEP_MIN = 5.0  # of a printed release, by which machines with other vector instructions may differ


@dataclass(frozen=True, eq=False)
class Record:
    """A record with what its pages are drawn from."""

    site: Site
    prediction: Prediction
    followed: FollowResult | None
    document: dict[str, Any]
    """``libcure/record/1``"""

    @property
    def release_min(self) -> float | None:
        """The release that was to be used: with readings if there were any; None: none."""
        if self.followed is None:
            return self.prediction.answer.release_min
        return self.followed.release_min if math.isfinite(self.followed.release_min) else None

    def early_min(self) -> float | None:
        """By how much the bladder was let down before that [min], negative: after it; None when either is not known."""
        done = self.site.events.get("released")
        return None if done is None or self.release_min is None else self.release_min - done


def make(
    case: Case,
    site: Site,
    *,
    ranges: tuple[UncertainInput, ...] | None = None,
    readings: Readings | None = None,
    at: str = "liner outer face",
) -> Record:
    """Makes the record of a job.

    Args:
        case: as it was planned.
        site: what was written down.
        ranges: what was not known exactly; the usual ranges when left out.
        readings: of a thermocouple in the wall.
        at: where it lay.

    Raises:
        CureError: case, ranges or readings are refused.
    """
    prediction = predict(case, uncertain=ranges)
    followed = None if readings is None else follow(case, readings, at=at, uncertain=ranges)
    document: dict[str, Any] = {
        "format": FORMAT,
        "version": _core.__version__,
        "inputs": _inputs(case, site, ranges, readings, at),
        "models": _model_hashes(case),
        "verdict": prediction.verdict,
        "follow": None if followed is None else followed.to_json(),
    }
    record = Record(site, prediction, followed, document)
    document["times"] = _times(record)
    document["sha256"] = _hash_of(document)
    return record


def _inputs(
    case: Case, site: Site, ranges: tuple[UncertainInput, ...] | None, readings: Readings | None, at: str
) -> dict[str, Any]:
    """All that the answers are computed from, whole."""
    log = None
    if readings is not None:
        log = {"at": at, "time_s": _finite(readings.time), "temperature_K": _finite(readings.temperature)}
    pressure = site.pressure
    gauge = None if pressure is None else {"time_min": pressure.time_min.tolist(), "pressure_bar": pressure.pressure_bar.tolist()}
    return {
        "case": case.document,
        "ranges": None if ranges is None else [{**asdict(i), "moves": list(i.moves)} for i in ranges],
        "readings": log,
        "site": dict(site.document),
        "pressure": gauge,
    }


def _finite(values: Any) -> list[float | None]:
    return [float(v) if math.isfinite(v) else None for v in values]


def _model_hashes(case: Case) -> dict[str, str]:
    """SHA-256 of each model file that the case names."""
    found = {}
    for folder, name in model_names(case.document, case.beside):
        found[f"{folder}/{name}"] = hashlib.sha256(model_path(folder, name, case.beside).read_bytes()).hexdigest()
    return found


def _times(record: Record) -> list[dict[str, Any]]:
    """Planned, recommended and actual times from mixing [min], a row an event."""
    verdict, answer, events = record.prediction.verdict, record.prediction.answer, record.site.events
    held = verdict["held_from_min"]
    recommended = {"in_place": answer.latest_in_place_min, "released": record.release_min}
    planned = {"mixed": 0.0, "in_place": held, "inflated": held, "released": answer.release_min}
    return [
        {"event": key, "planned_min": planned[key], "recommended_min": recommended.get(key), "actual_min": events.get(key)}
        for key in EVENTS
    ]


def _hash_of(document: Mapping[str, Any]) -> str:
    from libcure.charting.document import canonical_hash

    return canonical_hash({key: value for key, value in document.items() if key != "sha256"})


@dataclass(frozen=True)
class Finding:
    """One thing that was checked in a record."""

    what: str
    good: bool
    said: str


def verify(document: Mapping[str, Any], file: str, beside: Path) -> list[Finding]:
    """Checks a record: its hash, its model files, and its answers computed again from the inputs in it.

    Args:
        document: ``libcure/record/1``.
        file: its name, for messages.
        beside: folder that models in the case are named from, if by path.

    Raises:
        CureError: it is no such record, or its inputs are refused.
    """
    f = documents.filled("record", document, file)
    same = f["sha256"] == _hash_of(document)
    findings = [Finding("record", same, "as it was written" if same else "changed since it was written")]
    inputs = f["inputs"]
    case = Case.from_dict(inputs["case"], beside=beside, name=file)
    now = _model_hashes(case)
    for name, was in sorted(f["models"].items()):
        good = now.get(name) == was
        findings.append(Finding(f"model {name}", good, "the same file" if good else "another file today"))
    log = inputs["readings"]
    at = "liner outer face" if log is None else log["at"]
    again = make(case, _site(inputs, file, beside), ranges=_ranges(inputs), readings=_readings(log), at=at)
    findings.append(_compared("release as planned", f["verdict"]["answer"]["release_min"], again.prediction.answer.release_min))
    followed = f["follow"]
    if followed is not None and again.followed is not None:
        findings.append(_compared("release with readings", followed["release_min"], again.followed.to_json()["release_min"]))
    return findings


def _site(inputs: Mapping[str, Any], file: str, beside: Path) -> Site:
    """Without the pressure's file: its readings are in the record itself, and no answer rests on them."""
    site = {key: value for key, value in inputs["site"].items() if key != "pressure"}
    return read_site(site, file, beside)


def _ranges(inputs: Mapping[str, Any]) -> tuple[UncertainInput, ...] | None:
    given = inputs["ranges"]
    return None if given is None else tuple(UncertainInput(**{**i, "moves": tuple(i["moves"])}) for i in given)


def _readings(log: Mapping[str, Any] | None) -> Readings | None:
    if log is None:
        return None
    time, temperature = (np.array([math.nan if v is None else v for v in log[key]], float) for key in ("time_s", "temperature_K"))
    return Readings(time, temperature)


def _compared(what: str, was: float | None, now: float | None) -> Finding:
    if was is None or now is None:
        same = was is None and now is None
        return Finding(what, same, "none, as in the record" if same else f"{_minutes(was)} in the record, {_minutes(now)} today")
    good = abs(was - now) <= STEP_MIN
    return Finding(what, good, f"{was:g} min, computed again" if was == now else f"{was:g} min in the record, {now:g} min today")


def _minutes(value: float | None) -> str:
    return "none" if value is None else f"{value:g} min"
