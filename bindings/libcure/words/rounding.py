"""Times as a crew reads them, rounded to the safe side only.

What ends the work is rounded down. What must be waited for is rounded up.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from libcure import _core

__all__ = ["RELEASE_STEPS", "WORKING_STEPS", "Steps", "duration", "short_duration", "whole"]


@dataclass(frozen=True)
class Steps:
    """Coarser steps for longer times."""

    bands: tuple[tuple[float, float], ...]
    """(from, step) [min], rising, the first from 0."""

    def step(self, minutes: float) -> float:
        """The step at ``minutes`` [min]."""
        return next(step for begin, step in reversed(self.bands) if minutes >= begin)

    def down(self, minutes: float) -> float:
        """The multiple of the step at or below ``minutes`` [min], from 0 on; infinity stays."""
        if not math.isfinite(minutes):
            return minutes
        step = self.step(max(minutes, 0.0))
        count = math.floor(max(minutes, 0.0) / step)
        # The division itself rounds, and may do so away from the conservative bound.
        while count * step > max(minutes, 0.0):
            count -= 1
        return count * step

    def up(self, minutes: float) -> float:
        """The multiple of the step at or above ``minutes`` [min], from 0 on; infinity stays."""
        if not math.isfinite(minutes):
            return minutes
        step = self.step(max(minutes, 0.0))
        count = math.ceil(max(minutes, 0.0) / step)
        while count * step < minutes:
            count += 1
        return count * step


WORKING_STEPS = Steps(((0.0, 1.0), (30.0, 5.0), (120.0, 15.0)))
RELEASE_STEPS = Steps(((0.0, 5.0), (120.0, 15.0), (720.0, 60.0)))


def whole(x: float, *, up: bool) -> int:
    """The whole number above, or below; one that carries round-off stays what it is."""
    return int(_core.whole(x, up))


def short_duration(minutes: float) -> str:
    """``25 min``, ``3 h 45``, ``14 h``, from two days on ``52 h``; whole minutes only."""
    return _core.short_duration(minutes)


def duration(minutes: float, *, up: bool) -> str:
    """``18 min``, from an hour on ``1 h 45 min (105 min)``, from ten hours on ``20 h 12 min``.

    Below ten minutes there are tenths.

    Args:
        minutes: [min], may be negative.
        up: round up, for what must be waited for; else down.
    """
    return _core.duration(minutes, up)
