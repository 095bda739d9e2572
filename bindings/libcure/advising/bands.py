"""The unsafe sides of an outcome, from what is not known exactly: stated ranges and the resin's covariance."""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from libcure import _core, documents, ensemble, models
from libcure.advising.needs import check_number
from libcure.advising.result import Band
from libcure.case import Case
from libcure.charting import read_chart
from libcure.charting.cells import TOLERANCES, percentiles
from libcure.charting.document import resin_file
from libcure.errors import input_error
from libcure.sampling import Constants, UncertainInput, moved_inputs, normal, unit_points

__all__ = ["Uncertainty"]

SAMPLES = 128
SEED = 20260101
NONE = "none"


class Uncertainty:
    """What is uncertain, and the bands that come of it."""

    def __init__(
        self,
        given: str | os.PathLike[str] | Sequence[UncertainInput] | None,
        samples: int | None,
    ) -> None:
        """Takes ranges from a chart document, or as they are.

        Args:
            given: a chart document whose ranges are taken; the ranges themselves; ``"none"`` for a point estimate;
                None for the ranges of the seasonal chart that comes with libcure.
            samples: a power of two, 16 to 65536.

        Raises:
            CureError: no such document, or samples out of range.
        """
        count = SAMPLES if samples is None else samples
        if isinstance(count, bool) or not isinstance(count, int) or count & (count - 1):
            raise input_error("samples", str(count), "a power of two, 16 to 65536")
        self.samples = int(check_number("samples", count, 16, 65536))
        self.inputs: tuple[UncertainInput, ...] = ()
        self.constants, self.seed, self.said = True, SEED, ""
        self.why_none = ""
        if given == NONE:
            self.why_none = "no ranges were asked for"
        elif given is None or isinstance(given, str | os.PathLike):
            path = documents.models_folder() / "charts" / "seasonal.json" if given is None else Path(given)
            chart = read_chart(path)
            self.inputs, self.constants, self.seed = chart.inputs, chart.constants, chart.seed
            self.said = "the ranges of libcure's seasonal chart" if given is None else f"the ranges of {path}"
        else:
            self.inputs = tuple(given)
            self.said = "the ranges given"
        self._columns = moved_inputs(self.inputs, unit_points(len(self.inputs), self.samples, self.seed))
        if not self._columns:
            self._columns = {"ground.temperature_offset_K": np.zeros(self.samples)}
        self._resins: dict[Path, Sequence[_core.Resin] | None] = {}

    @property
    def known(self) -> bool:
        """Whether there are ranges; without, an answer is a point estimate."""
        return not self.why_none

    def words(self, case: Case) -> str:
        """What is uncertain, as part of a sentence."""
        parts = [f"{i.title[:1].lower()}{i.title[1:]} {_spread(i)}" for i in self.inputs]
        if self.has_constants(case):
            parts.append("constants of the resin by its covariance")
        return f"{self.said}: {', '.join(parts)}"

    def has_constants(self, case: Case) -> bool:
        """Whether the constants of the case's resin are sampled too."""
        return self._constants(case) is not None

    def sides(self, case: Case, resin_of: Case) -> Band:
        """The unsafe sides of a case.

        Args:
            case: to be run; its working time counts as its latest moment in place.
            resin_of: the case whose resin's constants are uncertain.
        """
        out = ensemble.simulate_many(case, self._columns, resins=self._constants(resin_of), **TOLERANCES)
        reached, failed = (out.release_state == ensemble.RELEASE_STATES.index(name) for name in ("reached", "failed"))
        working = np.where(np.isnan(out.working_time_s), np.inf, out.working_time_s)
        recommended = np.where(reached, out.release_time_recommended_s, np.inf)
        # A sample that failed counts to the safe side.
        low = _minutes(percentiles(np.where(failed, 0.0, working), up=False)[0])
        return Band(
            low,
            low,
            _minutes(percentiles(recommended, up=True)[2]),
            percentiles(np.nan_to_num(out.peak_temperature_K, nan=np.inf), up=True)[2] - 273.15,
        )

    def _constants(self, case: Case) -> Sequence[_core.Resin] | None:
        """Samples of a case's resin; None when its constants have no covariance."""
        path = resin_file(case.document, case.beside)
        if path is None or not self.constants:
            return None
        if path not in self._resins:
            constants = Constants.read(documents.read_object(path), str(path))
            if constants is None:
                self._resins[path] = None
            else:
                points = unit_points(len(constants.parameters), self.samples, self.seed + 1)
                self._resins[path] = models.resin_samples(path, constants.values(normal(points)))
        return self._resins[path]


def _minutes(seconds: float) -> float | None:
    return seconds / 60.0 if math.isfinite(seconds) else None


def _spread(i: UncertainInput) -> str:
    if i.is_factor:
        return f"± {100.0 * i.spread:.0f} %"
    return f"± {i.spread:g} K"
