"""What is not known of a job that runs, and what the model makes of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure import _core, ensemble
from libcure.case import Case
from libcure.errors import input_error
from libcure.sampling import DISTRIBUTIONS, MOST_FACTOR_SPREAD, MOST_OFFSET_SPREAD, UncertainInput, moved_inputs
from libcure.uncertainty import StatedRanges

__all__ = ["DEFAULTS", "NUISANCES", "Job", "Nuisance", "check_uncertain", "stated_unknowns"]

Floats = NDArray[np.float64]

SPEED = UncertainInput("rate", "Speed of cure", ("resin.rate_factor",), "lognormal", 0.15)
DEFAULTS: tuple[UncertainInput, ...] = (
    UncertainInput(
        "ground", "Ground and pipe", ("ground.temperature_offset_K", "initial_temperature.pipe_offset_K"), "normal", 2.0
    ),
    UncertainInput("contact", "Contact resistances", ("contact_factor",), "lognormal", 0.7),
    SPEED,
    UncertainInput("resin", "Resin at mixing", ("initial_temperature.resin_offset_K",), "normal", 1.5),
    UncertainInput("fill", "Fill of the bladder", ("fill_temperature_offset_K",), "normal", 2.0),
)
"""Ranges that serve when no others are given: assumptions of this project, without a source."""


@dataclass(frozen=True)
class Nuisance:
    """Something about the probe that is estimated too, so that it is not taken for the wall's doing."""

    name: str
    title: str
    sd: float
    """Of a normal distribution about 0, in ``unit``; an assumption of this project, without a source."""
    unit: str


NUISANCES = (Nuisance("probe", "Probe's own error", 1.0, "K"), Nuisance("clock", "Clock of the logger", 60.0, "s"))


def stated_unknowns(stated: StatedRanges) -> tuple[UncertainInput, ...]:
    """What the ranges of a chart document leave unknown of one job.

    A probe cannot tell the constants of a resin one from the other, but how fast it cures: where the document has them
    vary, the speed of cure is unknown, within the range that serves when no others are given.
    """
    told = any("resin.rate_factor" in entry.moves for entry in stated.inputs)
    return stated.inputs if told or not stated.constants else (*stated.inputs, SPEED)


def check_uncertain(uncertain: Sequence[UncertainInput]) -> tuple[UncertainInput, ...]:
    """The same, checked.

    Raises:
        CureError: none, unknown inputs, a distribution or a spread that cannot be.
    """
    if not uncertain:
        raise input_error("uncertain", "nothing", "at least one uncertain input")
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
    """A case with its unknowns: temperatures at the probe and times, for rows of standard normal numbers theta."""

    def __init__(self, case: Case, at: str, uncertain: Sequence[UncertainInput], threads: int | None) -> None:
        self.case, self.at, self.uncertain, self.threads = case, at, tuple(uncertain), threads
        self.held: tuple[float, float] = _core.hold_of(case.core)

    def changes(self, theta: Floats) -> dict[str, Floats]:
        """Inputs of the ensemble, each (n,), from theta (n, unknowns)."""
        from scipy.special import ndtr

        return moved_inputs(self.uncertain, ndtr(theta[:, : len(self.uncertain)]))

    def traces(self, theta: Floats, times: Floats, place: str = "") -> Floats:
        """Temperatures (n, times) [K]; NaN in a row that cannot be computed. ``place`` is the probe's when left out."""
        inputs = self.changes(theta)
        values = np.array(list(inputs.values())).reshape(len(inputs), len(theta))
        place = place or self.at.removeprefix("liner ")
        found, _ = _core.traces(self.case.core, list(inputs), values, len(theta), place, times, self.threads or 0)
        return found

    def outcomes(self, theta: Floats) -> ensemble.Outcomes:
        """Times of rows theta (n, unknowns)."""
        return ensemble.simulate_many(self.case, self.changes(theta), threads=self.threads)
