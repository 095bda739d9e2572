"""Everything that is said without a law, in one result."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from libcure import rendering
from libcure.documents.frames import WithFrames
from libcure.fitting.instrument import Instrument
from libcure.fitting.model_free.combined import CombinedAnalysis, combined_analysis
from libcure.fitting.model_free.compensation import Compensation, compensation
from libcure.fitting.model_free.forecast import Forecast, Programme, forecast
from libcure.fitting.model_free.master import MasterPlots, master_plots
from libcure.fitting.model_free.mixture import Mixture, mixture
from libcure.fitting.model_free.stalls import Stall, stalls
from libcure.fitting.model_free.steps import Crossings, Steps, crossings, cut
from libcure.fitting.model_free.verdict import Verdict, verdict
from libcure.fitting.run import Run

if TYPE_CHECKING:
    import pandas as pd
    from matplotlib.figure import Figure

__all__ = ["LEAST_RUNS", "ModelFree", "analyse_without_law"]

Array = NDArray[np.float64]
LEAST_RUNS = 3
COARSE: Array = np.linspace(0.05, 0.95, 19)  # degrees of cure at which steps end, for E
FINE: Array = np.linspace(0.02, 0.98, 49)  # and for forecasts


@dataclass(frozen=True)
class ModelFree(WithFrames):
    """What runs say without a law."""

    shaped_by: tuple[str, ...]
    """Ids of the runs behind E, shape and verdict: the ramps where there are three, else all"""
    runs: tuple[str, ...]
    """Ids of the runs behind forecasts"""
    steps: Steps
    """E by step of 0.05"""
    fine: Steps
    """By step of 0.02 and from all runs, for forecasts"""
    plots: MasterPlots | None
    compensation: Compensation | None
    combined: CombinedAnalysis | None
    verdict: Verdict | None
    stalls: tuple[Stall, ...]
    """Isothermal runs that stop short of what the ramps foretell"""
    mixture: Mixture | None
    """What several steps may add to the error of a forecast; none where one step may be enough"""

    def forecast(self, programme: Programme) -> Forecast:
        """Times along a programme."""
        return forecast(self.fine, programme, None if self.mixture is None else self.mixture.off(programme))

    def to_dataframe(self) -> pd.DataFrame:
        """By degree of cure: E and ln A with their bands, y and z over their value at 0.5; NaN where not known."""
        import pandas as pd

        steps, none = self.steps, np.full(len(self.steps.alpha), np.nan)
        columns: dict[str, Array] = {"alpha": steps.alpha, "E_kJ_mol": steps.E / 1e3, "E_low_kJ_mol": steps.low / 1e3,
                                     "E_high_kJ_mol": steps.high / 1e3}
        A, plots = self.compensation, self.plots
        columns |= {"ln_A_1_s": A.ln_A, "ln_A_low": A.low, "ln_A_high": A.high} if A else dict.fromkeys(["ln_A_1_s", "ln_A_low", "ln_A_high"], none)
        columns |= {"y": plots.y, "z": plots.z} if plots else {"y": none, "z": none}
        return pd.DataFrame(columns)

    def plot(self, path: str | os.PathLike[str] | None = None) -> Figure:
        """E, A and the master plots; with a path also written (.png, .svg, .pdf)."""
        return rendering.draw_to(self, path)

    def __repr__(self) -> str:
        said = f": {self.verdict.said} step, E varies by {100 * self.verdict.variation:.0f} %" if self.verdict else ""
        return f"<ModelFree of {len(self.runs)} runs{said}>"

    def _repr_html_(self) -> str:
        return rendering.html(self)


def analyse_without_law(runs: Sequence[Run], instrument: Instrument | None = None) -> ModelFree | None:
    """All of it, of three runs or more whose degree of cure begins at 0; None with fewer.

    Args:
        instrument: whose lag widens the bands.
    """
    usable = [run for run in runs if not run.truncated]
    if len(usable) < LEAST_RUNS:
        return None
    priors = instrument or Instrument()
    ramps = [run for run in usable if run.dynamic]
    # A drift moves the late part of an isothermal run, so three ramps say more of the shape without it.
    asked = ramps if len(ramps) >= LEAST_RUNS else usable
    steps = cut(asked, COARSE, priors)
    at = crossings(asked, COARSE)
    plots = _plots(asked, at, steps)
    combined = combined_analysis(at)
    exotherms = 1 + any(finding.code == "two_exotherms" for run in asked for finding in run.findings)
    said = verdict(steps, plots, combined, exotherms)
    short: tuple[Stall, ...] = ()
    if asked is ramps and said is not None and said.said != "not single":
        # Only of one step can ramps foretell a hold.
        short = tuple(stalls(cut(ramps, FINE, priors), [run for run in usable if not run.dynamic], priors))
        said = verdict(steps, plots, combined, exotherms, short)
    several = said is not None and said.said != "single"
    return ModelFree(
        tuple(run.id for run in asked), tuple(run.id for run in usable), steps, cut(usable, FINE, priors), plots,
        compensation(at, np.array([run.dynamic for run in asked]), steps), combined, said, short,
        mixture(asked, steps, usable, FINE, priors) if several else None)


def _plots(runs: Sequence[Run], at: Crossings, steps: Steps) -> MasterPlots | None:
    """Master plots by the mean of E; None where no three runs reach one half."""
    inside = (steps.alpha > 0.1 - 1e-9) & (steps.alpha < 0.9 + 1e-9) & np.isfinite(steps.E)
    reach = np.isfinite(at.T[:, int(np.argmin(np.abs(at.alpha - 0.5)))]).sum()
    return master_plots(runs, at, float(np.mean(steps.E[inside]))) if inside.any() and reach >= LEAST_RUNS else None
