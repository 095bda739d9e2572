"""What is not known of a job that runs, and what the model makes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure import _core, ensemble
from libcure.case import Case
from libcure.errors import CureError, input_error
from libcure.sampling import DISTRIBUTIONS, MOST_FACTOR_SPREAD, MOST_OFFSET_SPREAD, UncertainInput, moved_inputs
from libcure.sampling.resin_constants import resin_constants
from libcure.sampling.uncertainty import Uncertainty

__all__ = ["NUISANCES", "Job", "Nuisance"]

Floats = NDArray[np.float64]

SPEED = UncertainInput("rate", "Speed of cure", ("resin.rate_factor",), "lognormal", 0.15)
"""Unknown where the resin's file has no covariance; an assumption of this project, without a source."""
SPEED_AT = (288.15, 0.3)
"""Temperature [K] and degree of cure [-] at which the speed of cure is told."""


@dataclass(frozen=True)
class Nuisance:
    """Something about the probe that is estimated too, so that it is not taken for the wall's doing."""

    name: str
    title: str
    sd: float
    """Of a normal distribution about 0, in ``unit``; an assumption of this project, without a source."""
    unit: str


NUISANCES = (
    Nuisance("probe", "Probe's own error", 1.0, "K"),
    Nuisance("fill_share", "Probe's share of the fill", 8.0, "%"),
    Nuisance("clock", "Clock of the logger", 60.0, "s"),
)


def _check_uncertain(uncertain: Sequence[UncertainInput]) -> tuple[UncertainInput, ...]:
    """The same, checked.

    Raises:
        CureError: unknown inputs, a distribution or a spread that cannot be.
    """
    names: set[str] = set()
    for entry in uncertain:
        field = f"uncertain.{entry.name}"
        if entry.name in names or entry.name in {n.name for n in NUISANCES}:
            raise input_error(field, "given twice or reserved", "a name of its own")
        names.add(entry.name)
        for move in entry.moves or ("nothing",):
            if move not in ensemble.INPUTS:
                raise input_error(f"{field}.moves", move, "any of " + ", ".join(ensemble.INPUTS))
        factor = entry.is_factor
        if any(move.endswith("_factor") != factor for move in entry.moves):
            raise input_error(f"{field}.moves", ", ".join(entry.moves), "offsets only, or factors only")
        kinds = [kind for kind in DISTRIBUTIONS if factor or kind != "lognormal"]
        if entry.distribution not in kinds:
            raise input_error(f"{field}.distribution", f'"{entry.distribution}"', f"one of {', '.join(kinds)}")
        most = MOST_FACTOR_SPREAD[entry.distribution] if factor else MOST_OFFSET_SPREAD
        if not 0.0 < entry.spread <= most:
            key = DISTRIBUTIONS[entry.distribution]
            raise input_error(f"{field}.{key}", f"{entry.spread:g}", f"above 0, at most {most:g}")
    return tuple(uncertain)


class Job:
    """A case with its unknowns: temperatures at the probe and times, for rows of standard normal numbers theta.

    The first columns of theta are the inputs that are not known, the others the constants of the resin.
    """

    def __init__(self, case: Case, at: str, uncertainty: Uncertainty, threads: int | None) -> None:
        self.case, self.at, self.threads = case, at, threads
        self.constants = resin_constants(case.document, case.beside) if uncertainty.constants else None
        inputs = _check_uncertain(uncertainty.inputs)
        # Else a model whose constants have no covariance would count as exact, and a slow batch be released too soon.
        told = any("resin.rate_factor" in entry.moves for entry in inputs)
        exact = self.constants is None or not self.constants.whole
        self.inputs = (*inputs, SPEED) if uncertainty.constants and exact and not told else inputs
        self.unknowns = len(self.inputs) + (0 if self.constants is None else self.constants.dimensions)
        if not self.unknowns:
            raise input_error("uncertain", "nothing", "at least one uncertain input", case.name)
        self.held: tuple[float, float] = _core.hold_of(case.core)

    @property
    def titles(self) -> list[str]:
        """Of each column of theta."""
        return [i.title for i in self.inputs] + ["Constants of the resin"] * (self.unknowns - len(self.inputs))

    def changes(self, theta: Floats) -> dict[str, Floats]:
        """Inputs of the ensemble, each (n,), from theta (n, unknowns)."""
        from scipy.special import ndtr

        return moved_inputs(self.inputs, ndtr(theta[:, : len(self.inputs)]))

    def resins(self, theta: Floats) -> tuple[list[_core.Resin] | None, NDArray[np.bool_]]:
        """Resin of each row, and which rows have constants that a resin may have; None: the case's."""
        may_be = np.ones(len(theta), dtype=bool)
        if self.constants is None:
            return None, may_be
        z = theta[:, len(self.inputs) : self.unknowns]
        try:
            return list(self.constants.resins(z)), may_be
        except CureError:
            found: list[_core.Resin] = []
            for i in range(len(z)):
                try:
                    found += self.constants.resins(z[[i]])
                except CureError:
                    may_be[i] = False
                    found.append(self.case.resin)
            return found, may_be

    def traces(self, theta: Floats, times: Floats, place: str = "") -> Floats:
        """Temperatures (n, times) [K]; NaN in a row that cannot be computed. ``place`` is the probe's when left out."""
        inputs, (resins, may_be) = self.changes(theta), self.resins(theta)
        values = np.array(list(inputs.values())).reshape(len(inputs), len(theta))
        of = np.arange(0 if resins is None else len(theta))
        found, _ = _core.traces(
            self.case.core, list(inputs), values, len(theta), resins or [], of, place or self.at, times, self.threads or 0
        )
        found[~may_be] = np.nan
        return found

    def media(self, theta: Floats, times: Floats) -> Floats:
        """What a probe would read that hung free beside the liner: the air, then the fill. (n, times) [K]."""
        nominal = self.traces(np.zeros((1, self.unknowns)), times, "medium")
        offset = self.changes(theta).get("fill_temperature_offset_K", np.zeros(len(theta)))
        return nominal + np.where(times >= self.held[0], offset[:, None], 0.0)

    def outcomes(self, theta: Floats, hold_min: float = 0.0) -> ensemble.Outcomes:
        """Times of rows theta (n, unknowns), those of :meth:`traces`; held for ``hold_min`` where the case's hold is shorter."""
        case, stages = self.case, self.case.document["stages"]
        hold = next(i for i, stage in enumerate(stages) if stage["kind"] == "held")
        if stages[hold]["duration_min"] < hold_min:
            case = case.replace({f"stages[{hold}].duration_min": hold_min})
        changes, (resins, _) = self.changes(theta), self.resins(theta)
        if not changes:
            changes = {"ground.temperature_offset_K": np.zeros(len(theta))}
        return ensemble.simulate_many(case, changes, resins=resins, threads=self.threads)

    def speed(self, theta: Floats) -> Floats:
        """Rate of cure of each row's resin over that of the case's, at :data:`SPEED_AT`; (n,)."""
        T, alpha = SPEED_AT
        resins, _ = self.resins(theta)
        rates = [float(resin.rate([T], [alpha])[0]) for resin in (self.case.resin, *(resins or ()))]
        return np.array(rates[1:]) / rates[0]
