"""When an ambient-cured pipe liner is workable, gelled, and safe to release. For example::

    import libcure
    case = libcure.load_case("cold_ground_winter.json")
    result = libcure.predict(case)
    result.answer.release_min

Inside everything is SI; names of keys, columns and fields carry the unit when it is another.
"""

from libcure import interrupt  # before what takes long to load

# isort: split
from importlib import import_module
from typing import TYPE_CHECKING, Any

try:
    from libcure import _core
except ImportError as error:
    raise ImportError(
        f"libcure's compiled part cannot be loaded ({error}). "
        "Build it with bindings/setup.sh, or with 'pip install .' in the source folder."
    ) from error

from libcure import render  # so that results can be shown
from libcure._core import Resin
from libcure.case import Case, load_case
from libcure.documents import models_folder, models_only, own_models, validate
from libcure.errors import CureError
from libcure.models import load_resin
from libcure.result import CaseRow, Prediction, Times, predict, predict_many, rows_to_dataframe

if TYPE_CHECKING:
    from libcure import ensemble, heat, zero_d
    from libcure.advising import Advice, advise
    from libcure.charting import ChartResult, chart, read_chart
    from libcure.following import FollowResult, follow
    from libcure.heat import solve_wall
    from libcure.history import History, StageHistory, Trace

__version__: str = _core.__version__

__all__ = [
    "Advice",
    "Case",
    "CaseRow",
    "ChartResult",
    "CureError",
    "FollowResult",
    "History",
    "Prediction",
    "Resin",
    "StageHistory",
    "Times",
    "Trace",
    "__version__",
    "advise",
    "chart",
    "ensemble",
    "follow",
    "heat",
    "load_case",
    "load_resin",
    "models_folder",
    "models_only",
    "own_models",
    "predict",
    "predict_many",
    "read_chart",
    "rows_to_dataframe",
    "solve_wall",
    "validate",
    "zero_d",
]


# Loaded when asked for: a prediction needs no charts, advice or readings, and no NumPy.
_LATER = {
    "charting": ("ChartResult", "chart", "read_chart"),
    "following": ("FollowResult", "follow"),
    "advising": ("Advice", "advise"),
    "history": ("History", "StageHistory", "Trace"),
    "heat": ("heat", "solve_wall"),
    "ensemble": ("ensemble",),
    "zero_d": ("zero_d",),
}


def __getattr__(name: str) -> Any:
    for module, names in _LATER.items():
        if name in names:
            found = import_module(f"libcure.{module}")
            return found if name == module else getattr(found, name)
    raise AttributeError(f"module {__name__!r} has no attribute {name!r}")


def __dir__() -> list[str]:
    return sorted(__all__)
