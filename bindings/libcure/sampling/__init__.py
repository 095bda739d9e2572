"""What is not known exactly, sampled: stated ranges, bounds, and what decides.

Samples are scrambled Sobol' points of a fixed seed, so the same document gives the same samples to
the bit. Sensitivity is by Sobol' indices, first order and total.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from libcure.sampling.inputs import Band, UncertainInput

if TYPE_CHECKING:
    from libcure.sampling.points import (
        PERCENTILES,
        bounded_measure,
        index_errors,
        lower_bound,
        moved_inputs,
        normal,
        percentiles,
        saltelli_points,
        sobol_indices,
        unit_points,
        upper_bound,
        weighted_quantile,
    )

__all__ = [
    "PERCENTILES",
    "Band",
    "UncertainInput",
    "bounded_measure",
    "index_errors",
    "lower_bound",
    "moved_inputs",
    "normal",
    "percentiles",
    "saltelli_points",
    "sobol_indices",
    "unit_points",
    "upper_bound",
    "weighted_quantile",
]


def __getattr__(name: str) -> Any:
    # Loaded when asked for: an answer of the core needs no NumPy.
    if name in __all__:
        from libcure.sampling import points

        return getattr(points, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
