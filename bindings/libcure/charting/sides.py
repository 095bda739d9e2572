"""The sides of a cell from more samples than are simulated.

A side is bounded by ordered samples, which only samples near them can change. A quadratic in the normal scores of the sample points,
fitted to the samples of the first look, foretells the others. What it is off by at each of its own when that one is left out (D.M. Allen,
Technometrics 16 (1974) 125; from memory) says which of the others may lie on either side: these are simulated, the rest are counted where
they are foretold. Where a quantity is foretold badly, all of them are simulated.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from libcure.ensemble import SafeSides
from libcure.sampling import normal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from libcure.charting.enough import Bounds

    Floats = NDArray[np.float64]
    Rows = NDArray[np.int64]

__all__ = ["Foreteller", "Side", "settled"]

SAMPLES_A_TERM = 2.5
"""Of the first look, at least; with fewer nothing is foretold."""
OFF, FARTHEST = 4.0, 1.5
"""How far beyond the bounds samples are simulated, at least, over the root mean square of what the first look is off by, and over the
farthest from the bounds that any of it is foretold on the wrong side: this project's choice (``tests/python/test_chart_sides.py``)."""
SLACK = 1.1
"""More than that at first: what is simulated moves the bounds a little."""


@dataclass(frozen=True)
class Side:
    """One quantity of a cell, and whether its side stands."""

    values: Callable[[SafeSides], Floats]
    stands: Callable[[Floats], bool]
    up: bool
    """The 95 % side, else that of 5 %."""
    relative: bool = False
    """Whether its logarithm is what the inputs move evenly."""


class Foreteller:
    """What samples will say, from those of the first look."""

    def __init__(self, points: Floats, first: int) -> None:
        """Of sample points (n, dimensions), the first of which are simulated."""
        score = normal(points)
        i, j = np.triu_indices(score.shape[1])
        linear = np.column_stack([np.ones(len(points)), score])
        terms = next((t for t in (np.column_stack([linear, score[:, i] * score[:, j]]), linear) if SAMPLES_A_TERM * t.shape[1] <= first), None)
        self.terms: Floats | None = None
        if terms is not None:
            base, triangle = np.linalg.qr(terms[:first])
            self.left = 1.0 - np.sum(base**2, axis=1)
            if self.left.min() > 1e-6:
                # Orthonormal over the first look, which are its first rows.
                self.terms = terms @ np.linalg.inv(triangle)

    def of(self, values: Floats) -> tuple[Floats, Floats] | None:
        """All samples (n,) from the first ones, and each of these from the others; None where they tell nothing."""
        if self.terms is None or not np.isfinite(values).all():
            return None
        first = len(values)
        # Not by BLAS: its threads would wait for more while the engine needs the processors.
        moved = np.einsum("ij,i->j", self.terms[:first], values)
        found = np.einsum("ij,j->i", self.terms, moved)
        return found, values - (values - found[:first]) / self.left


class _Values:
    """One quantity of all samples: as simulated, or as foretold."""

    def __init__(self, side: Side, first: Floats, most: int, foreteller: Callable[[], Foreteller]) -> None:
        self.side, self.simulated = side, np.arange(most) < len(first)
        self.now = np.concatenate([first, np.full(most - len(first), np.nan)])
        self.first, self.foreteller = first, foreteller
        self.foretold: Floats | None = None
        self.reach = np.inf

    def _scaled(self, values: Floats | float) -> Floats:
        with np.errstate(divide="ignore", invalid="ignore"):
            return np.log(values) if self.side.relative else np.asarray(values)

    def foretell(self, bounds: Bounds) -> None:
        """Fills in what is not simulated."""
        first = self._scaled(self.first)
        found = self.foreteller().of(first)
        if found is None:
            return
        self.foretold, each = found
        rest = ~self.simulated
        self.now[rest] = (np.exp(self.foretold) if self.side.relative else self.foretold)[rest]
        low, high = map(self._scaled, bounds.both(self.first, self.side.up))
        wrong = np.where((each < low) & (first >= low), low - each, np.where((each > high) & (first <= high), each - high, 0.0))
        self.reach = max(OFF * float(np.sqrt(np.mean((each - first) ** 2))), FARTHEST * float(wrong.max()))

    def missing(self, count: int, bounds: Bounds, slack: float) -> Rows:
        """Of the first ``count`` samples those that have to be simulated."""
        missing = ~self.simulated[:count]
        if self.foretold is not None:
            low, high = map(self._scaled, bounds.both(self.now[:count], self.side.up))
            reach, foretold = slack * self.reach, self.foretold[:count]
            missing &= ~((foretold < low - reach) | (foretold > high + reach))
        return np.flatnonzero(missing)

    def put(self, rows: Rows, found: SafeSides) -> None:
        self.now[rows], self.simulated[rows] = self.side.values(found), True


def settled(
    sides: Sequence[Side], first: SafeSides, bounds: Bounds, foreteller: Callable[[], Foreteller], simulate: Callable[[Rows], SafeSides]
) -> list[Floats]:
    """Values of each side from as many samples as it takes, twice as many with each look.

    Args:
        first: the samples of the first look.
        foreteller: asked for once it is needed.
        simulate: samples by their numbers.
    """
    all_values = [_Values(side, side.values(first), bounds.most, foreteller) for side in sides]
    found = []
    for values in all_values:
        count = bounds.first
        while not values.side.stands(values.now[:count]) and count < bounds.most:
            if count == bounds.first:
                values.foretell(bounds)
            count *= 2
            slack = SLACK
            while (rows := values.missing(count, bounds, slack)).size:
                more, slack = simulate(rows), 1.0
                for other in all_values:
                    other.put(rows, more)
        found.append(values.now[:count])
    return found
