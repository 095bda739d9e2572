"""What is uncertain in a case: stated ranges and the resin's covariance."""

from __future__ import annotations

import json
import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from libcure import _core, documents
from libcure.case import Case
from libcure.documents.part import Part
from libcure.errors import input_error
from libcure.sampling import UncertainInput
from libcure.sampling.resin_constants import ResinConstants, resin_constants

__all__ = ["NONE", "StatedRanges", "Uncertainty", "checked_samples", "read_ranges"]

SAMPLES = 256
SEED = 20260101
NONE = "none"


@dataclass(frozen=True)
class StatedRanges:
    """The object ``uncertain`` of a chart document."""

    seed: int
    samples: int
    constants: bool
    """Whether a resin's constants vary by its covariance."""
    inputs: tuple[UncertainInput, ...]

    @classmethod
    def of_chart(cls, chart: Mapping[str, Any] | Part, file: str) -> StatedRanges:
        """Those of a chart document that its table has been read by; how many samples is the chart's own.

        Raises:
            CureError: with the field, its value, what is allowed and the file.
        """
        stated = chart["uncertain"]
        return cls._of(_core.read_ranges(json.dumps(stated), file), stated["samples"])

    @classmethod
    def usual(cls) -> StatedRanges:
        """What is not known exactly in any job: the core's default set."""
        return cls._of(_core.usual_ranges(), SAMPLES)

    @classmethod
    def _of(cls, told: tuple[int, bool, str, list[tuple[str, str, list[str], str, float]]], samples: int) -> StatedRanges:
        seed, constants, _, inputs = told
        return cls(seed, samples, constants, tuple(UncertainInput(n, t, tuple(m), d, s) for n, t, m, d, s in inputs))


def read_ranges(path: str | os.PathLike[str]) -> StatedRanges:
    """The ranges of a chart document; its cells are not looked at.

    Raises:
        CureError: no chart document, or ranges that it may not have.
    """
    name = documents.shown(path)
    return StatedRanges.of_chart(documents.filled("ranges", documents.read_object(path), name), name)


def checked_samples(count: int) -> int:
    """A number of samples as it is.

    Raises:
        CureError: it is no power of two, or out of range.
    """
    if isinstance(count, bool) or not isinstance(count, int) or not 16 <= count <= 65536 or count & (count - 1):
        raise input_error("samples", str(count), "a power of two, 16 to 65536")
    return count


class Uncertainty:
    """What is uncertain."""

    def __init__(
        self,
        given: str | os.PathLike[str] | Sequence[UncertainInput] | None,
        samples: int | None,
    ) -> None:
        """Takes ranges from a chart document, or as they are.

        Args:
            given: a chart document whose ranges are taken; the ranges themselves; ``"none"`` for a point estimate;
                None for the usual ranges.
            samples: a power of two, 16 to 65536.

        Raises:
            CureError: no such document, something else than ranges, or samples out of range.
        """
        self.samples = SAMPLES if samples is None else checked_samples(samples)
        self.inputs: tuple[UncertainInput, ...] = ()
        self.constants, self.seed, self.said = True, SEED, ""
        self.why_none = ""
        if given == NONE:
            self.why_none = "no ranges were asked for"
        elif given is None or isinstance(given, str | os.PathLike):
            stated = StatedRanges.usual() if given is None else read_ranges(given)
            self.inputs, self.constants, self.seed = stated.inputs, stated.constants, stated.seed
            self.said = "the usual ranges" if given is None else f"the ranges of {given}"
        else:
            self.inputs = tuple(given)
            odd = next((one for one in self.inputs if not isinstance(one, UncertainInput)), None)
            if odd is not None:
                raise input_error("uncertain", f"{type(given).__name__} of {type(odd).__name__}",
                                  'a path of a chart document, UncertainInput of libcure.sampling, or "none"')  # fmt: skip
            self.said = "the ranges given"

    @property
    def known(self) -> bool:
        """Whether there are ranges; without, an answer is a point estimate."""
        return not self.why_none

    def words(self, case: Case) -> str:
        """What is uncertain, as part of a sentence."""
        return self._stated.words(self.has_constants(case))

    def stated(self) -> _core.Stated | None:
        """The same for the core; None for a point estimate."""
        return self._stated if self.known else None

    @cached_property
    def _stated(self) -> _core.Stated:
        inputs = [(i.name, i.title, list(i.moves), i.distribution, i.spread) for i in self.inputs]
        return _core.Stated(self.seed, self.constants, self.said, inputs)

    def has_constants(self, case: Case) -> bool:
        """Whether the constants of the case's resin are sampled too, those of all parts of a blend."""
        found = self._constants_of(case)
        return found is not None and found.whole

    def _constants_of(self, case: Case) -> ResinConstants | None:
        return resin_constants(case.document, case.beside) if self.constants else None
