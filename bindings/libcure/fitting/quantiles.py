"""Half widths of 95 % intervals, in standard errors. From SciPy's special functions, since its statistics take most of a second to load."""

from __future__ import annotations

import numpy as np
import scipy

from libcure import _core

__all__ = ["Z95", "student"]

LEVEL = 0.975
Z95 = float(_core.normal_quantile(LEVEL))
"""Of a normal distribution"""


def student(freedom: int) -> float:
    """Of Student's t with so many degrees of freedom; infinite with none."""
    return float(scipy.special.stdtrit(freedom, LEVEL)) if freedom > 0 else np.inf
