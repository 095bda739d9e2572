"""What to change in a job: ice the resin by how much, which hardener, how warm a fill, how long a hold."""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from typing import Any

from libcure import documents, models
from libcure.advising import levers
from libcure.advising.advisor import Advisor
from libcure.advising.needs import LATEST_MIN, RESERVE_MIN, Needs, Ranges, check_number, minutes_of
from libcure.advising.result import Advice, Band, Hardener, NoValue, Outcome, Proposal
from libcure.advising.trials import Trials
from libcure.case import Case, load_case
from libcure.errors import input_error
from libcure.models import is_path
from libcure.result import CaseLike
from libcure.sampling import UncertainInput

__all__ = ["Advice", "Band", "Hardener", "Needs", "NoValue", "Outcome", "Proposal", "Ranges", "advise"]

MOST_RESINS = 12


def advise(
    case: CaseLike,
    *,
    working: float | str | None = None,
    reserve_min: float | None = None,
    release_by: float | str | None = None,
    resins: Sequence[str | os.PathLike[str]] | None = None,
    ranges: Ranges | None = None,
    uncertain: str | os.PathLike[str] | Sequence[UncertainInput] | None = None,
    samples: int | None = None,
) -> Advice:
    """What to change so that the liner is in place in time and the bladder comes out in time.

    Every change is computed in full, as :func:`libcure.predict` does, and shown with all its times.

    Args:
        case: a case, a path to a case file, or a case document.
        working: latest moment at which the crew may hold the liner [min from mixing], or ``"h:mm"``; left out, the
            moment at which the case holds it, and the reserve.
        reserve_min: working time to keep in hand [min]; 10 when left out. Not together with ``working``.
        release_by: moment by which the bladder must come out [min from mixing], or ``"h:mm"``; left out, at any moment
            while it is held, and a longer hold is a change that counts.
        resins: other resin models to compare, ids or paths; left out, those that come with libcure, of the same
            family and rate law and for such temperatures.
        ranges: how far changes are looked for.
        uncertain: a chart document whose ranges are taken, ranges, or ``"none"``; left out, the usual ranges.
        samples: of each band, a power of two; left out as for :func:`libcure.predict`.

    Raises:
        CureError: the input is refused, or a run stopped.
    """
    if not isinstance(case, Case):
        case = Case.from_dict(case) if isinstance(case, Mapping) else load_case(case)
    ranges = ranges if ranges is not None else Ranges()
    ranges.check()
    if working is not None and reserve_min is not None:
        raise input_error("reserve_min", str(reserve_min), "not together with working, which says it all")
    reserve = check_number("reserve_min", RESERVE_MIN if reserve_min is None else reserve_min, 0.0, LATEST_MIN)
    trials = Trials(case, ranges, uncertain, samples)
    trials.needs = _needs(trials, working, reserve, release_by)
    names = _resins(case, resins)
    return Advisor(trials).advice(names)


def _needs(trials: Trials, working: float | str | None, reserve: float, release_by: float | str | None) -> Needs:
    held = trials.held_from_min
    needed = held + reserve if working is None else minutes_of(working, "working")
    if needed < held:
        raise input_error(
            "working", f"{needed:g} min", f"at least {held:g} min, when the case holds the liner", trials.case.name
        )
    by = None if release_by is None else minutes_of(release_by, "release_by")
    if by is not None and by <= needed:
        raise input_error(
            "release_by", f"{by:g} min", f"later than {needed:g} min, when the liner may still come", trials.case.name
        )
    return Needs(needed, working is not None, needed - held, by, held)


def _resins(case: Case, given: Sequence[str | os.PathLike[str]] | None) -> list[str]:
    """Ids or absolute paths of other resins to compare."""
    own = case.document["resin"]
    if given is None:
        kinds = _kinds(own, case)
        coldest = levers.initial_C(case, "resin") + 273.15
        return [
            name
            for name in models.ids("resins")
            if name != own and _kinds(name, case) & kinds and models.load_resin(name).temperature_min <= coldest
        ]
    if len(given) > MOST_RESINS:
        raise input_error("resins", f"{len(given)} of them", f"at most {MOST_RESINS}")
    names = [os.fspath(name).strip() for name in given]
    for name in names:
        models.load_resin(name)  # refuses what is no resin
    # A path counts from the working folder here, in a case from the case's own.
    names = [os.path.abspath(name) if is_path(name) else name for name in names]
    return [name for name in dict.fromkeys(names) if name != own]


def _kinds(resin: str | Mapping[str, Any], case: Case) -> set[tuple[str, str]]:
    """Family and rate law of a resin as a case names it, or of the parts of a blend."""
    paths = [models.model_path("resins", name, case.beside) for name, _ in models.resin_parts(resin, case.beside)]
    return {(part["family"], part["rate"]["law"]) for part in map(documents.read_object, paths)}
