"""What a crew can turn: ice the resin, cool the packer, warm the fill, each as changes of the case document."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from libcure.advising.trials import Trials
from libcure.case import Case
from libcure.models import limit_C

__all__ = ["Lever", "fill", "packer", "resin", "shade"]


@dataclass(frozen=True)
class Lever:
    """One temperature that can be changed, and what that does to the case document."""

    kind: str
    name: str
    """What is turned, such as ``resin iced``."""
    said: str
    """The same with a place for the value, such as ``resin iced to {} °C``."""
    start_C: float
    """As the case has it."""
    end_C: float
    """Farthest value looked at."""
    why_end: str
    path: str
    template: Any
    """What stands at the path in the case: a number, a table, a fill cycle, or None where it is by default."""
    input: str | None
    """The ensemble's offset that does the same; None when none does."""
    step_K: float = 5.0
    """What a crew can hit and read off: a choice of this project."""

    @property
    def values(self) -> list[float]:
        """The multiples of the step from next to the start to the end, in this order; may be empty."""
        start, end = self.start_C / self.step_K, self.end_C / self.step_K
        if end < start:
            return [self.step_K * k for k in range(math.ceil(start) - 1, math.ceil(end) - 1, -1)]
        return [self.step_K * k for k in range(math.floor(start) + 1, math.floor(end) + 1)]

    def weaker(self, value_C: float) -> float:
        """One step from one of the values to the bad side, or the start."""
        values = [self.start_C, *self.values]
        return values[values.index(value_C) - 1]

    def changes(self, value_C: float) -> dict[str, Any]:
        """The change of the document that turns the lever to a value."""
        if not isinstance(self.template, Mapping):
            return {self.path: value_C}
        if "value" in self.template:
            shifted = [T + (value_C - self.start_C) for T in self.template["value"]]
            return {self.path: {**self.template, "value": shifted}}
        legs = [{**leg, "to_C": value_C} if leg["to_C"] == self.start_C else leg for leg in self.template["legs"]]
        return {self.path: {**self.template, "legs": legs}}


def initial_C(case: Case, item: str) -> float:
    """Initial temperature of an item [°C], given or by default."""
    given = case.document.get("initial_temperature_C", {})
    return float(given.get(item, case.core.initial_temperature_C[item]))


def resin(trials: Trials) -> Lever:
    """Ice the mixed resin."""
    start = initial_C(trials.case, "resin")
    end = min(start, trials.ranges.coldest_resin_C)
    return Lever("resin_temperature", "resin iced", "resin iced to {} °C", start, end, "the coldest looked at",
                 "initial_temperature_C.resin", start, "initial_temperature.resin_offset_K", 2.0)  # fmt: skip


def packer(trials: Trials) -> Lever:
    """Cool the packer, at most to the colder of pipe and air, and not below 0 °C: shade and tap water do that."""
    start = initial_C(trials.case, "packer")
    end = min(start, max(0.0, min(initial_C(trials.case, "pipe"), initial_C(trials.case, "air"))))
    return Lever("packer_temperature", "packer cooled", "packer cooled to {} °C", start, end, "as cool as pipe or air",
                 "initial_temperature_C.packer", start, "initial_temperature.packer_offset_K")  # fmt: skip


def shade(trials: Trials) -> dict[str, Any]:
    """The change that keeps the sun off; empty when there is no sun."""
    for i, stage in enumerate(trials.stages):
        sun = stage.get("absorbed_sun_W_m2", 0.0)
        if max(sun["value"]) > 0.0 if isinstance(sun, Mapping) else sun > 0.0:
            return {f"stages[{i}].absorbed_sun_W_m2": 0.0}
    return {}


def fill(trials: Trials, base: Mapping[str, Any]) -> Lever:
    """Warm the fill of the bladder, at its hottest, as far as bladder, pipe and resin of the changed case carry."""
    stage = trials.stages[trials.held]
    place = f"stages[{trials.held}]"
    cycle, given = stage.get("fill_cycle"), stage.get("fill_temperature_C")
    if cycle is not None:
        start = max(float(leg["to_C"]) for leg in cycle["legs"])
        path, template, name = f"{place}.fill_cycle", cycle, None
    else:
        path, template, name = f"{place}.fill_temperature_C", given, "fill_temperature_offset_K"
        if isinstance(given, Mapping):
            start = max(float(T) for T in given["value"])
        else:
            start = float(given) if given is not None else initial_C(trials.case, "air")
    case = trials.case.replace(base)
    ends = {
        "the hottest looked at": trials.ranges.hottest_fill_C,
        "the limit of resin, bladder or pipe": limit_C(case.document, case.beside),
        "the end of the resin model": case.resin.temperature_max - 273.15,
    }
    why = min(ends, key=lambda name: ends[name])
    return Lever("fill_temperature", "warmer fill of the bladder", "bladder filled at {} °C", start,
                 max(start, ends[why]), why, path, template, name)  # fmt: skip
