"""Samples of a resin of the catalogue by its own covariance, for the bands of what it foretells."""

from __future__ import annotations

from collections.abc import Sequence
from functools import cache

from libcure import Resin, models_folder
from libcure.sampling import normal, unit_points
from libcure.sampling.resin_constants import resin_constants


@cache
def samples(name: str, rows: int = 64) -> Sequence[Resin]:
    """The same resins in every run."""
    constants = resin_constants({"resin": name}, models_folder())
    return constants.resins(normal(unit_points(constants.dimensions, rows, 1)))
