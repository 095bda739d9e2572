"""What runs say without a law, by the practice of the ICTAC Kinetics Committee (S. Vyazovkin et al., Thermochim. Acta 520 (2011) 1; 590
(2014) 1; 689 (2020) 178597): E(alpha) by step, master plots, A(alpha), combined kinetic analysis, a verdict, and forecasts.

    free = fitting.model_free.analyse_without_law(runs)
    free.verdict.title, free.forecast(Programme("shop", np.zeros(1), np.array([313.15]))).at(0.9)

Below a law: nothing here fits one. `schemes` fits those of several steps that the engine does not hold.
"""

from __future__ import annotations

from libcure.fitting.model_free.analysis import ModelFree, analyse_without_law
from libcure.fitting.model_free.forecast import Forecast, Programme
from libcure.fitting.model_free.verdict import Verdict

__all__ = ["Forecast", "ModelFree", "Programme", "Verdict", "analyse_without_law"]
