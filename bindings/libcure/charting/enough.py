"""When a cell has samples enough: more of them would move nothing that is printed by more than a step, nor whether the cell may be used.

The side of a quantity lies beyond its bound, an ordered sample (``libcure/include/cure/uncertain/quantile.hpp``). Numbers stand
once bounds from both sides print within a step of each other; a decision, once both lie on one side of its limit. So cells far from any
edge take few samples, and those at one as many as the chart allows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from libcure import _core
from libcure.sampling import lower_bound, upper_bound
from libcure.words.rounding import Steps

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["FIRST_SAMPLES", "Bounds"]

FIRST_SAMPLES = 512
"""Of each cell at least, where a chart does not say."""
LIKELY = 0.8
"""Confidence of the bound from the other side, which nobody prints: this project's choice, by seeds 1 to 20 of the shipped chart."""


@dataclass(frozen=True)
class Bounds:
    """Bounds of the sides of a cell, whose samples are looked at once or more often."""

    first: int
    """Samples of the first look, doubled with each."""
    most: int

    @property
    def confidence(self) -> float:
        """Of a bound at each look, so that it holds at all of them together with that of one look (C.E. Bonferroni's inequality; from
        memory): each look may stop at samples that seem better than they are."""
        return 1.0 - (1.0 - _core.CONFIDENCE) / (1.0 + math.log2(self.most // self.first))

    def upper(self, values: Floats) -> float:
        """Of the 95 % side of samples (n,)."""
        return upper_bound(values, self.confidence)

    def lower(self, values: Floats) -> float:
        """Of the 5 % side of samples (n,)."""
        return lower_bound(values, self.confidence)

    def both(self, values: Floats, up: bool) -> tuple[float, float]:
        """From below and from above: of the 95 % side when up, else of the 5 % side."""
        if up:
            return _core.lower_side(values, 0.05, LIKELY)[1], self.upper(values)
        return self.lower(values), _core.upper_side(values, 0.05, LIKELY)[1]

    def stands(self, values: Floats, steps: Steps, *, up: bool) -> bool:
        """Whether the side of samples (n,) [min], which may be infinite, prints within a step."""
        low, high = self.both(values, up)
        if math.isinf(low) or math.isinf(high):
            return low == high
        shown = (steps.up(low), steps.up(high)) if up else (steps.down(low), steps.down(high))
        # The step where it is coarsest.
        return shown[1] - shown[0] <= steps.step(high) * (1.0 + 1e-9)

    def decided(self, values: Floats, limit: float, *, up: bool) -> bool:
        """Whether the side of samples (n,) is known to lie beyond a limit, above when up, or not to."""
        low, high = self.both(values, up)
        return (low > limit) == (high > limit) if up else (low < limit) == (high < limit)
