"""What a crew needs of a job, read strictly, how far a change may be looked for, and how a job stands."""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING

from libcure.errors import input_error
from libcure.rounding import short_duration

if TYPE_CHECKING:
    from libcure import result

__all__ = ["Needs", "Ranges", "Status", "check_number", "down", "minutes_of", "status_of", "step_up", "up"]

RESERVE_MIN = 10.0
"""Working time kept in hand by default [min]: a choice of this project."""
LATEST_MIN = 100000.0
_CLOCK = re.compile(r"(\d{1,4}):([0-5]\d)")


@dataclass(frozen=True)
class Needs:
    """What must hold, in minutes from mixing."""

    working_min: float
    """The liner may be held against the pipe as late as this, and is still workable."""
    working_stated: bool
    """False: the moment at which the case holds it, and ``reserve_min``."""
    reserve_min: float
    release_by_min: float | None
    """The bladder must come out by this moment, as stated. None: at any moment while it is held, and a longer hold is a
    change that counts."""
    held_from_min: float
    """When the case holds the liner against the pipe."""


@dataclass(frozen=True)
class Ranges:
    """How far changes are looked for. Limits of the models may stop them sooner."""

    coldest_resin_C: float = 2.0
    hottest_fill_C: float = 60.0
    longest_hold_min: float = 4320.0

    def check(self) -> None:
        """Refuses what cannot be searched.

        Raises:
            CureError: a value out of range.
        """
        check_number("coldest_resin_C", self.coldest_resin_C, -20.0, 40.0)
        check_number("hottest_fill_C", self.hottest_fill_C, 0.0, 150.0)
        check_number("longest_hold_min", self.longest_hold_min, 5.0, LATEST_MIN)


# Reasons of the answer by the need that they tell of; what else stops a job is of the model.
NEED_OF = {
    **dict.fromkeys(("working_margin_negative", "too_viscous_at_mixing", "gelled_before_held", "working_time_not_sure"), "working"),
    **dict.fromkeys(("release_never", "cannot_bear", "release_not_reached", "hold_longer", "no_held_stage", "release_not_sure"), "release"),
    **dict.fromkeys(("mixed_mass_too_hot", "liner_too_hot", "pipe_too_hot", "bladder_too_hot", "fill_above_bladder_limit",
                     "heat_not_sure"), "hot"),
}  # fmt: skip


@dataclass(frozen=True)
class Status:
    """How a job stands by the answer of :func:`libcure.predict`."""

    name: str
    """``ok``, ``wait`` or ``stop``."""
    reasons: tuple[tuple[str, str], ...]
    """Code and text of what makes it so."""
    unmet: frozenset[str]
    """Needs that are not met by this alone."""


def status_of(prediction: result.Prediction) -> Status:
    """The judgement of ``predict``. A hold that is planned too short is a need too, for a longer one is a change."""
    reasons = prediction.answer.reasons
    unmet = {NEED_OF.get(r.code, "model") for r in reasons if r.status == "stop" or r.code == "hold_longer"}
    return Status(prediction.answer.status, tuple((r.code, r.text) for r in reasons), frozenset(unmet))


def check_number(field: str, value: float, low: float, high: float) -> float:
    """The value, if it is a number from low to high.

    Raises:
        CureError: it is not.
    """
    if isinstance(value, bool) or not isinstance(value, int | float) or not low <= value <= high:
        raise input_error(field, f"{value:g}" if isinstance(value, float) else repr(value), f"{low:g} to {high:g}")
    return float(value)


def minutes_of(given: str | float, field: str) -> float:
    """Minutes from mixing [min] of a number of minutes, or of a text: ``330`` or ``5:30`` (hours and minutes).

    Raises:
        CureError: neither, or not from 1 to 100000 min.
    """
    allowed = f"minutes from mixing, 1 to {LATEST_MIN:g}, or hours and minutes such as 5:30"
    if isinstance(given, str):
        clock = _CLOCK.fullmatch(given.strip())
        try:
            minutes = 60.0 * int(clock[1]) + int(clock[2]) if clock else float(given)
        except ValueError:
            raise input_error(field, f'"{given}"', allowed) from None
    elif isinstance(given, bool) or not isinstance(given, int | float):
        raise input_error(field, repr(given), allowed)
    else:
        minutes = float(given)
    if not 1.0 <= minutes <= LATEST_MIN:
        raise input_error(field, str(given), allowed)
    return minutes


def step_up(minutes: float, step_min: float = 5.0) -> float:
    """The multiple of the step at or above a time [min]: the safe side of what must be waited for."""
    count = math.ceil(minutes / step_min)
    # The division itself rounds, and may do so to the unsafe side.
    return (count if count * step_min >= minutes else count + 1) * step_min


def down(minutes: float | None) -> str:
    """A time to keep to [min], rounded down; None is without a limit that was met."""
    if minutes is None or math.isinf(minutes):
        return "no limit met"
    return short_duration(max(0.0, math.floor(minutes + 1e-6)))


def up(minutes: float | None) -> str:
    """A time to wait for [min], rounded up; None is never."""
    if minutes is None or math.isinf(minutes):
        return "never"
    return short_duration(float(math.ceil(minutes - 1e-6)))
