"""The sides of a cell from more samples than are simulated: those that may lie on either side of its bounds are, and the others foretold
(``libcure/include/cure/uncertain/foretold.hpp``).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from libcure import _core
from libcure.ensemble import SafeSides

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from libcure.charting.enough import Bounds

    Floats = NDArray[np.float64]
    Rows = NDArray[np.int64]

__all__ = ["Side", "settled"]


@dataclass(frozen=True)
class Side:
    """One quantity of a cell, and whether its side stands."""

    values: Callable[[SafeSides], Floats]
    stands: Callable[[Floats], bool]
    up: bool
    """The 95 % side, else that of 5 %."""
    relative: bool = False
    """Whether its logarithm is what the inputs move evenly."""


def _missing(values: _core.PartlySimulated, count: int, slack: float, bounds: Bounds, up: bool) -> list[int]:
    # What is not foretold is missing whatever the bounds.
    low, high = bounds.both(values.now(count), up) if values.foretold else (0.0, 0.0)
    return values.missing(count, low, high, slack)


def settled(
    sides: Sequence[Side], first: SafeSides, bounds: Bounds, foreteller: Callable[[], _core.Foreteller], simulate: Callable[[Rows], SafeSides]
) -> list[Floats]:
    """Values of each side from as many samples as it takes, twice as many with each look.

    Args:
        first: the samples of the first look.
        foreteller: asked for once it is needed.
        simulate: samples by their numbers.
    """
    all_values = [_core.PartlySimulated(side.values(first), bounds.most, side.relative) for side in sides]
    found = []
    for side, values in zip(sides, all_values, strict=True):
        count = bounds.first
        while not side.stands(values.now(count)) and count < bounds.most:
            if count == bounds.first:
                values.foretell(foreteller(), *bounds.both(values.now(count), side.up))
            count *= 2
            slack = _core.FIRST_SLACK
            while rows := _missing(values, count, slack, bounds, side.up):
                more, slack = simulate(np.asarray(rows)), 1.0
                for other_side, other in zip(sides, all_values, strict=True):
                    other.put(rows, other_side.values(more))
        found.append(values.now(count))
    return found
