"""The uncertain constants of a case's resin, of all its parts where it is a blend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

from libcure import _core, models
from libcure.errors import STOPPED, CureError

if TYPE_CHECKING:
    from threading import Event

    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

__all__ = ["ResinConstants", "resin_constants"]

AT_ONCE = 2048  # resins, some 0.1 s, between two looks at an event


class ResinConstants:
    """Constants with a covariance, of one resin or of the parts of a blend.

    The parts' constants move together: the first of each by the same normal numbers, and so on. Nobody has measured how
    far they do, hardeners of one family are likely to err alike, and it is the wider case.
    """

    def __init__(self, core: _core.UncertainResin) -> None:
        self._core = core
        self.dimensions = core.dimensions
        """Normal numbers that a sample takes."""
        self.whole = core.whole
        """Whether the constants of no part count as exact."""

    def resins(self, z: Floats, stop: Event | None = None) -> Sequence[_core.Resin]:
        """Resins from standard normal numbers (n, dimensions).

        Raises:
            CureError: constants that the model file might not have, or ``stop`` was set.
        """
        drawn: list[_core.Resin] = []
        for first in range(0, len(z), AT_ONCE):
            if stop is not None and stop.is_set():
                raise CureError(STOPPED)
            drawn += self._core.resins(z[first : first + AT_ONCE])
        return drawn


def resin_constants(document: Mapping[str, Any], beside: Path) -> ResinConstants | None:
    """The uncertain constants of the resin of a case document; None where no part has a covariance.

    Args:
        document: a case that the core has read.
        beside: folder that relative paths in it start from.

    Raises:
        CureError: a covariance that is not positive semi-definite.
    """
    parts = models.resin_parts(document["resin"], beside)
    paths = [models.model_path("resins", name, beside) for name, _ in parts]
    return _read(tuple((share, path, path.stat().st_mtime_ns) for path, (_, share) in zip(paths, parts, strict=True)))


@lru_cache(maxsize=64)
def _read(parts: tuple[tuple[float, Path, int], ...]) -> ResinConstants | None:
    """One object for one state of the files, so that what is made of it can be kept by it."""
    found = _core.UncertainResin([(path, share) for share, path, _ in parts])
    return ResinConstants(found) if found.dimensions else None
