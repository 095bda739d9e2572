"""What to change in a job: ice the resin by how much, which hardener, how warm a fill, how long a hold.

The core searches, and says what it found as a document ``libcure/advice/1``; here are its types and its page.
"""

from __future__ import annotations

import json
import math
import os
from collections.abc import Mapping, Sequence
from threading import Event
from typing import Any

from libcure import _core
from libcure.advising.result import Advice, ConservativeSides, Hardener, Needs, NoValue, Outcome, Proposal, SearchLimits
from libcure.case import Case, load_case
from libcure.documents import Folders
from libcure.documents.quantities import in_unit
from libcure.result import CaseLike
from libcure.sampling import UncertainInput
from libcure.sampling.uncertainty import Uncertainty

__all__ = ["Advice", "ConservativeSides", "Hardener", "Needs", "NoValue", "Outcome", "Proposal", "SearchLimits", "advise"]


def advise(
    case: CaseLike,
    *,
    working: float | str | None = None,
    reserve_min: float | None = None,
    release_by: float | str | None = None,
    resins: Sequence[str | os.PathLike[str]] | None = None,
    limits: SearchLimits | None = None,
    uncertain: str | os.PathLike[str] | Sequence[UncertainInput] | None = None,
    samples: int | None = None,
    threads: int | None = None,
    stop: Event | None = None,
    models: Folders = None,
) -> Advice:
    """What to change so that the liner is in place in time and the bladder comes out in time.

    Every change is computed in full, as :func:`libcure.predict` does, and shown with all its times. The GIL is released
    while the core works.

    Args:
        case: a case, a path to a case file, or a case document.
        working: latest moment at which the crew may hold the liner [min from mixing], or ``"h:mm"``; left out, the
            moment at which the case holds it, and the reserve.
        reserve_min: working time to keep in hand [min]; 10 when left out. Not together with ``working``.
        release_by: moment by which the bladder must come out [min from mixing], or ``"h:mm"``; left out, at any moment
            while it is held, and a longer hold is a change that counts.
        resins: other resin models to compare, ids or paths; left out, those that come with libcure, of the same
            family and rate law and for such temperatures.
        limits: how far changes are looked for.
        uncertain: a chart document whose ranges are taken, ranges, or ``"none"``; left out, the usual ranges.
        samples: of each band, a power of two; left out as for :func:`libcure.predict`.
        threads: processors to use; all when left out.
        stop: ends the search with CureError once another thread sets it.
        models: as for :func:`libcure.predict`.

    Raises:
        CureError: the input is refused, or a run stopped.
        KeyboardInterrupt: at Ctrl-C.
    """
    if not isinstance(case, Case):
        case = Case.from_dict(case, models=models) if isinstance(case, Mapping) else load_case(case, models=models)
    reach = limits if limits is not None else SearchLimits()
    options = _options(
        working=working, reserve_min=reserve_min, release_by=release_by, samples=samples, threads=threads,
        coldest_resin_C=reach.coldest_resin_C, hottest_fill_C=reach.hottest_fill_C, longest_hold_min=reach.longest_hold_min,
        resins=None if resins is None else [os.fspath(name) for name in resins],
    )  # fmt: skip
    stated = Uncertainty(uncertain, None).stated()
    text = _core.advise(json.dumps(case.document), case.library, case.beside, case.name, options, stated, stop)
    return Advice(case, json.loads(text))


def _options(**given: Any) -> str:
    """Options as the core reads them; what is None is left out. JSON has no NaN, so that the core is told in words."""

    def plain(value: Any) -> Any:
        return str(value) if isinstance(value, float) and not math.isfinite(value) else value

    given = {name: in_unit(value, "degC" if name.endswith("_C") else "minute", name) for name, value in given.items()}
    named = {name: plain(value) for name, value in given.items() if value is not None}
    return json.dumps(named, default=lambda v: v.item() if hasattr(v, "item") else repr(v))
