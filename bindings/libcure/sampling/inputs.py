"""What is not known exactly of one case, and a quantity's band. NumPy is loaded when numbers are drawn."""

from __future__ import annotations

import math
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

from libcure import _core

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["Band", "UncertainInput"]


@dataclass(frozen=True)
class Band:
    """5, 50 and 95 % of a quantity; an infinite time is never, or not within the hold."""

    p5: float
    p50: float
    p95: float

    def to_json(self) -> dict[str, float | None]:
        """By percentile; None for what is infinite."""
        return {name: round(v, 4) if math.isfinite(v) else None for name, v in asdict(self).items()}


@dataclass(frozen=True)
class UncertainInput:
    """One thing that is not known exactly, and the inputs of the ensemble that it moves together."""

    name: str
    title: str
    moves: tuple[str, ...]
    """Names of :data:`libcure.ensemble.INPUTS`, all offsets [K] or all factors [-]."""
    distribution: str
    """``normal``, ``uniform`` or ``lognormal`` (factors only)."""
    spread: float
    """Standard deviation or half width [K or -]; of the logarithm for ``lognormal``."""

    @property
    def is_factor(self) -> bool:
        """True when it multiplies, false when it adds."""
        return self.moves[0].endswith("_factor")

    def values(self, u: Floats) -> Floats:
        """Offsets [K] or factors [-] at points of the unit interval, any shape.

        The median is no change: offset 0, factor 1.
        """
        import numpy as np

        if self.distribution == "uniform":
            change = self.spread * (2.0 * u - 1.0)
        else:
            change = self.spread * np.asarray(_core.normal_quantile(u))
        if self.distribution == "lognormal":
            return np.asarray(np.exp(change))
        return np.asarray(1.0 + change if self.is_factor else change)
