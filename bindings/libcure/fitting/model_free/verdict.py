"""One step or not, and which laws to try.

The rule is the ICTAC's: where the greatest and the least E over alpha 0.1 to 0.9 differ by no more than 10 to 20 % of their mean, one
step may describe the process; where they differ by more, none does (S. Vyazovkin et al., Thermochim. Acta 520 (2011) 1, section 3, and
689 (2020) 178597; from memory). Here also by band: the difference of each two E has its own 95 % interval, in which what a run is
off at both is counted once. "not single": by more than 20 %, and surely by more than 10 %. "single": by no more than 20 %, and not surely by more
than 10 %. Else "undecided", with what would tell.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from libcure.fitting.model_free.combined import CombinedAnalysis
from libcure.fitting.model_free.master import INSIDE, MasterPlots
from libcure.fitting.model_free.stalls import Stall
from libcure.fitting.model_free.steps import Steps, half_width

__all__ = ["FALLS", "SINGLE", "VARIES", "Fall", "Verdict", "late_fall", "verdict"]

Array = NDArray[np.float64]
SINGLE, VARIES = 0.1, 0.2  # share of the mean of E
FALLS = 0.15  # share of its mean by which E falls late where diffusion takes over; own choice
LATE, LAST = 0.5, 0.95  # degrees of cure between which that is looked for
WORST = 1.5  # widens the interval of one difference to that of the worst of many pairs; own choice


@dataclass(frozen=True)
class Verdict:
    """Whether one step describes the reaction."""

    said: str
    """``single``, ``not single`` or ``undecided``"""
    variation: float
    """Greatest less least E over alpha 0.1 to 0.9, over the mean"""
    surely: float
    """By how much E varies at least"""
    at_most: float
    reason: str
    laws: tuple[str, ...]
    """To try, in words of the fit document; the first that fits wins nothing: compare them"""

    @property
    def title(self) -> str:
        return {"single": "One step may describe the reaction", "not single": "More than one step is at work",
                "undecided": "The runs do not tell whether one step is enough"}[self.said]


@dataclass(frozen=True)
class Fall:
    """How E falls late in the reaction, as it does where diffusion takes over."""

    begin: float
    """Degree of cure from which it falls"""
    above: float
    """E there [J/mol]"""
    below: float
    """Least E behind it [J/mol]"""


def _pairs(steps: Steps, low: float, high: float) -> tuple[NDArray[np.intp], Array, Array]:
    """Places (k,), and E_i - E_j (k, k) of steps between degrees of cure, with half widths."""
    there = np.flatnonzero((steps.alpha > low - 1e-9) & (steps.alpha < high + 1e-9) & np.isfinite(steps.E))
    E, moved = steps.E[there], steps.moved_E[:, there]
    factor = np.maximum.outer(steps.factor[there], steps.factor[there])
    return there, E[:, None] - E[None, :], half_width(moved[:, :, None] - moved[:, None, :], factor)


def late_fall(steps: Steps) -> Fall | None:
    """Where E surely falls after alpha = 0.5 and by more than a share of its mean; None where it does not."""
    there, apart, half = _pairs(steps, LATE, LAST)
    if len(there) < 3:
        return None
    later = np.triu(np.ones_like(apart, dtype=bool), 1)
    sure = np.where(later, apart - WORST * half, -np.inf)
    i, j = np.unravel_index(int(np.argmax(sure)), sure.shape)
    if not sure[i, j] > 0.0 or apart[i, j] < FALLS * float(np.nanmean(steps.E)):
        return None
    return Fall(float(steps.alpha[there[i]]), float(steps.E[there[i]]), float(steps.E[there[j]]))


def verdict(steps: Steps, plots: MasterPlots | None, combined: CombinedAnalysis | None, exotherms: int,
            short: Sequence[Stall] = ()) -> Verdict | None:
    """What the energies say; None where fewer than three of them are known.

    Args:
        exotherms: how many a ramp shows at most.
        short: isothermal runs that stop short of what the ramps foretell.
    """
    there, apart, half = _pairs(steps, *INSIDE)
    if len(there) < 3:
        return None
    mean = float(np.mean(steps.E[there]))
    varies = float(apart.max()) / mean
    surely = max(float((apart - WORST * half).max()) / mean, 0.0)
    at_most = float((apart + half).max()) / mean
    fall = late_fall(steps)
    if (varies > VARIES and surely > SINGLE) or exotherms > 1 or fall is not None or short:
        said = "not single"
    elif varies <= VARIES and surely <= SINGLE:
        said = "single"
    else:
        said = "undecided"
    laws = _complex(steps, fall is not None or bool(short), exotherms) if said == "not single" else _simple(plots, combined)
    if said == "undecided":
        laws = (*laws, *(law for law in _complex(steps, fall is not None or bool(short), exotherms) if law not in laws))
    return Verdict(said, varies, surely, at_most, _reason(said, mean, (varies, surely, at_most), exotherms, fall, short), laws)


def _reason(said: str, mean: float, found: tuple[float, float, float], exotherms: int, fall: Fall | None,
            short: Sequence[Stall]) -> str:
    varies, surely, at_most = found
    text = (f"E varies by {100 * varies:.0f} % of its mean of {mean / 1e3:.0f} kJ/mol over α 0.1 to 0.9; by {100 * surely:.0f} % at least and "
            f"{100 * at_most:.0f} % at most, as the runs scatter and the lag is known")
    text += {"single": ". One step is allowed up to 10 to 20 %", "not single": ". One step is allowed up to 10 to 20 %",
             "undecided": ". Between a single step (10 %) and several (20 %) that does not tell; a heating rate more, or a repeated run, would"}[said]
    if exotherms > 1:
        text += f". {exotherms} exotherms are seen"
    if fall is not None:
        text += f". From α = {fall.begin:.2f} on E falls from {fall.above / 1e3:.0f} to {fall.below / 1e3:.0f} kJ/mol, as where diffusion takes over"
    if short:
        text += f". {_stalled(short)}, as where diffusion takes over"
    return text + "."


def _stalled(short: Sequence[Stall]) -> str:
    """What stops short, in words."""
    return "; ".join(f"Isothermal run {one.run} ends at α = {one.ended:.2f}, where the ramps foretell {one.foretold:.2f} or more by then"
                     for one in short)


def _simple(plots: MasterPlots | None, combined: CombinedAnalysis | None) -> tuple[str, ...]:
    """Laws of one step, by where y is greatest: at the begin it decelerates, later it starts itself."""
    if plots is not None and not plots.rises and (combined is None or combined.m < 0.1):
        return ("nth-order",)
    return "autocatalytic", "autocatalysed-nth-order", "kamal-sourour"


def _complex(steps: Steps, diffusion: bool, exotherms: int) -> tuple[str, ...]:
    """Laws of several steps, by the course of E: rising, falling at the begin, falling late."""
    there, apart, half = _pairs(steps, *INSIDE)
    first, last = 0, len(there) - 1
    # What falls late need not have two reactions.
    rises = bool(np.max(np.triu(-apart - half, 1)) > 0.0)
    early = steps.alpha[there] <= LATE
    falls_early = bool(np.max(np.triu((apart - half)[np.ix_(early, early)], 1)) > 0.0) if early.sum() > 1 else False
    laws: list[str] = []
    if exotherms > 1 or (rises and apart[last, first] > 0.0):
        laws += ["parallel", "sequential", "three-step parallel"]
    if diffusion:
        laws += ["kamal-sourour with diffusion", "nth-order with diffusion"]
    if falls_early:
        laws += ["kamal-sourour", "an inhibitor"]
    return tuple(laws or ["kamal-sourour", "parallel", "sequential"])
