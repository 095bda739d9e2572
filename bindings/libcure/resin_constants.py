"""The uncertain constants of a case's resin, of all its parts where it is a blend."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, documents, models
from libcure.sampling import Constants

__all__ = ["ResinConstants", "resin_constants"]

Floats = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class ResinConstants:
    """Constants with a covariance, of one resin or of the parts of a blend.

    The parts' constants move together: the first of each by the same normal numbers, and so on. Nobody has measured how
    far they do, hardeners of one family are likely to err alike, and it is the wider case.
    """

    paths: tuple[Path, ...]
    shares: tuple[float, ...]
    """By mass of the mixed resin; one of 1 for a resin that is no blend."""
    parts: tuple[Constants | None, ...]
    """None: the constants of this part count as exact."""

    @property
    def dimensions(self) -> int:
        """Normal numbers that a sample takes."""
        return max(len(part.parameters) for part in self.parts if part is not None)

    @property
    def whole(self) -> bool:
        """Whether the constants of no part count as exact."""
        return None not in self.parts

    def resins(self, z: Floats) -> Sequence[_core.Resin]:
        """Resins from standard normal numbers (n, dimensions).

        Raises:
            CureError: constants that the model file might not have.
        """
        samples = []
        for path, constants in zip(self.paths, self.parts, strict=True):
            if constants is None:
                samples.append([models.read_resin(path)] * len(z))
            else:
                samples.append(list(models.resin_samples(path, constants.values(z[:, : len(constants.parameters)]))))
        return samples[0] if len(samples) == 1 else _core.blend_resins(list(self.shares), samples)


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
    found = tuple(Constants.read(documents.read_object(path), str(path)) for _, path, _ in parts)
    if not any(found):
        return None
    return ResinConstants(tuple(path for _, path, _ in parts), tuple(share for share, _, _ in parts), found)
