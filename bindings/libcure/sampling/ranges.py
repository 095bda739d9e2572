"""What libcure advises on one case, and how far its times can be trusted: the core's answer as Python reads it."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from libcure.sampling import Band

__all__ = ["Answer", "Ranges", "Reason"]


@dataclass(frozen=True)
class Reason:
    """Why a job is not simply to be done as planned."""

    code: str
    """Stable, for programs."""
    text: str
    status: str
    """What it alone makes of the job: ``wait`` or ``stop``."""


@dataclass(frozen=True)
class Answer:
    """What to do. Every front shows this decision."""

    status: str
    """``ok``: do it as planned. ``wait``: it works with what is said beside it. ``stop``: do not."""
    release_min: float | None
    """When the bladder may come out, from mixing [min]: the number to use. None when the status is ``stop``."""
    working_until_min: float | None
    """Low side of the working time, from mixing [min]; None when it does not end, or not within the stages."""
    latest_in_place_min: float | None
    """Low side of the latest moment at which the liner may be held and still be workable, when the stage before the hold goes on until
    then [min]; None when no limit is met, when nothing comes before the hold, or of a point estimate."""
    basis: str
    """``range``: the 95 % side of sampled jobs. ``point``: one simulation times the case's safety factor."""
    headline: str
    reasons: tuple[Reason, ...]
    """What stops the job first."""

    @classmethod
    def from_verdict(cls, verdict: Mapping[str, Any]) -> Answer:
        """The answer of a document ``libcure/verdict/1``."""
        found = {"latest_in_place_min": None, **verdict["answer"]}  # earlier documents have none
        return cls(**{**found, "reasons": tuple(Reason(**reason) for reason in found["reasons"])})

    @property
    def stop(self) -> bool:
        """Whether the job must not be done as planned."""
        return self.status == "stop"


@dataclass(frozen=True)
class Ranges:
    """5, 50 and 95 % of what a verdict says, each a sample, the next one to the conservative side.

    Times count from mixing [min]; infinite is never, or not while it was looked at (:attr:`look_min`), for the return to
    service not in its stages. The hottest resin is that up to the end of the hold.
    """

    working_min: Band
    working_margin_min: Band | None
    """Working time less the moment from which the liner is held; None without a held stage."""
    latest_in_place_min: Band | None
    """Latest moment in place, see :attr:`Answer.latest_in_place_min`; None where nothing comes before the hold."""
    gel_first_min: Band
    gel_last_min: Band
    criterion_met_min: Band
    """The release criterion is met."""
    service_min: Band | None
    """Return to service, each sample released at the answer's time; None without a stage after the release."""
    peak_temperature_C: Band
    release_bound_min: float
    """Upper confidence bound (95 %) of the 95 % side of ``criterion_met_min``; infinite: there is none."""
    shares: Mapping[str, float]
    """Share of samples by release state: all names of :data:`libcure.ensemble.RELEASE_STATES`."""
    too_late: float
    """Share that pass their working limit before the liner is held."""
    too_hot: float
    """Share that pass the lowest temperature limit of resin, bladder and pipe."""
    look_min: float
    """For how long the samples are held [min]: two days, or the planned hold where that is longer."""
    uncertain: str
    """Whose ranges these are."""
    constants: bool
    """Whether the resin's constants varied too; False: they count as exact."""
    samples: int
    simulated: int
    """Of the samples; the others are foretold, as they would move no bound."""
    seed: int

    @classmethod
    def from_verdict(cls, verdict: Mapping[str, Any]) -> Ranges | None:
        """The ranges of a document ``libcure/verdict/1``; None of a point estimate."""
        r = verdict["ranges"]
        if r is None:
            return None

        def band(key: str, beyond: float = math.inf) -> Band:
            return Band(*(beyond if v is None else v for v in r[key].values()))

        bound = r["release_side"]["bound_min"]
        return cls(
            band("working_time_min"),
            None if r["working_margin_min"] is None else band("working_margin_min"),
            None if r.get("latest_in_place_min") is None else band("latest_in_place_min"),
            band("gel_time_first_min"),
            band("gel_time_last_min"),
            band("criterion_met_min"),
            None if r["service_time_min"] is None else band("service_time_min"),
            band("peak_temperature_C"),
            math.inf if bound is None else bound,
            r["release_state_share"],
            r["too_late_share"],
            r["too_hot_share"],
            r["look_min"],
            r["uncertain"],
            r["resin_constants"],
            r["samples"],
            r.get("simulated", r["samples"]),
            r["seed"],
        )

    @property
    def not_released(self) -> float:
        """Share that are not released while it was looked at."""
        return 1.0 - self.shares["reached"]

    @property
    def usual_failure(self) -> str:
        """Release state of most of those that are not released; empty when all are."""
        others = {name: share for name, share in self.shares.items() if name != "reached" and share > 0.0}
        return max(others, key=others.__getitem__, default="")
