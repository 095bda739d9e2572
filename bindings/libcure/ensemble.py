"""Many cases at once: one case with inputs that differ from row to row, each row to its times.

The solver takes sixteen rows through every formula together and uses all processors. Resins of several cure
states, blends and properties that vary go through the solver of :func:`libcure.predict` instead, at its speed; so do
sections, with the tolerances of the rows.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from threading import Event
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, TypedDict

import numpy as np
from numpy.typing import ArrayLike, NDArray

from libcure import _core
from libcure.case import Case
from libcure.documents.frames import WithFrames
from libcure.errors import input_error

if TYPE_CHECKING:
    import pandas as pd

__all__ = [
    "INPUTS",
    "RELEASE_STATES",
    "SAMPLE_TOLERANCES",
    "Outcomes",
    "SafeSides",
    "Tolerances",
    "position_name",
    "service_times",
    "simulate_each",
    "simulate_many",
]

INPUTS: Mapping[str, str] = MappingProxyType(_core.ensemble_inputs())
"""What may differ from row to row: an offset in K on what the case says, or a factor; with a word on each."""

RELEASE_STATES = ("reached", "not_in_hold", "vitrified", "gelled_before_held", "no_held_stage", "outside_model", "failed")


class Tolerances(TypedDict):
    """Arguments of :func:`simulate_many`."""

    temperature_tolerance_K: float
    alpha_tolerance: float


SAMPLE_TOLERANCES: Tolerances = {
    "temperature_tolerance_K": _core.sample_tolerances[0], "alpha_tolerance": _core.sample_tolerances[1]
}  # fmt: skip
"""Of the solver's steps in the wall: times within 0.5 % of those of tight tolerances (held by a test on cold and warm rows
of every resin that is packed); samples know percentiles to some per cent. The mesh adds what
``verdict["numerical_error"]`` of a prediction says; no row states its own."""


@dataclass(frozen=True)
class _Rows:
    """Times and hottest resin of all rows, arrays of one length. Times count from mixing."""

    working_time_s: NDArray[np.float64]
    gel_time_first_s: NDArray[np.float64]
    gel_time_last_s: NDArray[np.float64]
    held_from_s: NDArray[np.float64]
    release_time_s: NDArray[np.float64]
    peak_temperature_K: NDArray[np.float64]
    """Hottest resin, from mixing to the end of the held stage."""


@dataclass(frozen=True)
class SafeSides(_Rows):
    """Times [s] and hottest resin [K] of all rows for percentiles, arrays of one length without NaN.

    What never happens is infinite. A row that failed counts to the safe side: no working time, gelled at once, never
    released, as hot as can be.
    """


@dataclass(frozen=True)
class Outcomes(_Rows, WithFrames):
    """Times and peaks of all rows, arrays of one length. Times count from mixing; NaN where one does not happen."""

    peak_time_s: NDArray[np.float64]
    release_state: NDArray[np.int8]
    """Index into :data:`RELEASE_STATES`."""
    working_point: NDArray[np.int32]
    """Resin point that ends the working time: 0 is the inner face, then the cells, then the outer face; -1 for the mixed mass, or none."""
    release_point: NDArray[np.int32]
    """Resin point that decides the release."""
    steps: NDArray[np.int64]
    """Time steps taken."""
    points: int
    """Resin points from the inner to the outer face."""
    messages: dict[int, str]
    """Why a row failed, by row."""

    def __len__(self) -> int:
        return len(self.release_state)

    def state(self, name: str) -> NDArray[np.bool_]:
        """Which rows have a release state, one of :data:`RELEASE_STATES`."""
        return np.asarray(self.release_state == RELEASE_STATES.index(name))

    def safe_sides(self) -> SafeSides:
        """The rows as percentiles take them."""
        failed, reached = self.state("failed"), self.state("reached")

        def or_never(times: NDArray[np.float64]) -> NDArray[np.float64]:
            return np.where(np.isnan(times), np.inf, times)

        return SafeSides(
            np.where(failed, 0.0, or_never(self.working_time_s)),
            np.where(failed, 0.0, or_never(self.gel_time_first_s)),
            np.where(failed, np.inf, or_never(self.gel_time_last_s)),
            or_never(self.held_from_s),
            # Whatever the engine left in the release time of a row that is not released.
            np.where(reached, or_never(self.release_time_s), np.inf),
            np.where(failed, np.inf, np.nan_to_num(self.peak_temperature_K, nan=np.inf)),
        )

    def first(self, count: int) -> Outcomes:
        """The first rows."""
        rows = {f.name: getattr(self, f.name)[:count] for f in fields(self) if f.name not in ("points", "messages")}
        return Outcomes(**rows, points=self.points, messages={i: text for i, text in self.messages.items() if i < count})

    def followed_by(self, more: Outcomes) -> Outcomes:
        """These rows and then others of the same case."""
        names = (f.name for f in fields(self) if f.name not in ("points", "messages"))
        rows = {name: np.concatenate([getattr(self, name), getattr(more, name)]) for name in names}
        messages = self.messages | {i + len(self): text for i, text in more.messages.items()}
        return Outcomes(**rows, points=self.points, messages=messages)

    def to_dataframe(self) -> pd.DataFrame:
        """One row a case; times in minutes, temperatures in degrees Celsius."""
        import pandas as pd

        table: dict[str, Any] = {}
        for field in fields(self):
            values = getattr(self, field.name)
            if field.name.endswith("_s"):
                table[f"{field.name.removesuffix('_s')}_min"] = values / 60.0
            elif field.name.endswith("_K"):
                table[f"{field.name.removesuffix('_K')}_C"] = values - 273.15
            elif field.name in ("working_point", "release_point"):
                place = [position_name(j, self.points) if j >= 0 else "" for j in values]
                table[field.name.replace("point", "position")] = place
        table["release_state"] = [RELEASE_STATES[i] for i in self.release_state]
        table["message"] = [self.messages.get(i, "") for i in range(len(self))]
        return pd.DataFrame(table)


def position_name(point: int, count: int) -> str:
    """Where a resin point lies, in the words of the verdict."""
    return _core.position_name(point, count)


def simulate_many(
    case: Case,
    inputs: Mapping[str, ArrayLike],
    *,
    resins: Sequence[_core.Resin] | None = None,
    resin_of: ArrayLike | None = None,
    threads: int | None = None,
    instructions: str = "best",
    temperature_tolerance_K: float = 0.05,
    alpha_tolerance: float = 2e-4,
    held: bool = True,
    stop: Event | None = None,
) -> Outcomes:
    """The times of many cases that differ in some inputs and in their resin.

    The same rows give the same numbers to the bit, whatever the number of threads and the other rows.

    Args:
        case: what all rows have in common.
        inputs: by name of :data:`INPUTS`, a number or one number a row.
        resins: resins that take the place of the case's.
        resin_of: index into ``resins``, one a row; left out, row i has resin i.
        threads: processors to use; all when left out.
        instructions: ``best``, or one of those that the machine has: ``baseline``, ``avx2``, ``avx512``.
        temperature_tolerance_K: error allowed in a step.
        alpha_tolerance: error of the degree of cure allowed in a step, over alpha + 0.01. The rates of cure are
            computed in single precision, so below some 1e-6 it buys nothing.
        held: without it what comes before the hold goes on and on instead, so that its working time is the latest moment in place.
        stop: ends the call with CureError once another thread sets it; Ctrl-C does so with KeyboardInterrupt.

    Raises:
        CureError: unknown names, unlike lengths, values out of range. A row that cannot be computed stops no
            other: its release state is ``failed`` and ``messages`` says why.
    """
    return simulate_each(
        [case], inputs, resins=resins, resin_of=resin_of, threads=threads, instructions=instructions,
        temperature_tolerance_K=temperature_tolerance_K, alpha_tolerance=alpha_tolerance, held=held, stop=stop,
    )[0]  # fmt: skip


def simulate_each(
    cases: Sequence[Case],
    inputs: Mapping[str, ArrayLike],
    *,
    resins: Sequence[_core.Resin] | None = None,
    resin_of: ArrayLike | None = None,
    threads: int | None = None,
    instructions: str = "best",
    temperature_tolerance_K: float = 0.05,
    alpha_tolerance: float = 2e-4,
    held: bool = True,
    stop: Event | None = None,
) -> list[Outcomes]:
    """As :func:`simulate_many` of each of several cases, to the bit, with the same rows.

    What a row does before the hold is computed once for all cases that differ only in what it feels later (pipe, ground, hold).

    Args:
        cases: one or more. All else as for :func:`simulate_many`.

    Returns:
        One for each case.

    Raises:
        CureError: no case; and as for :func:`simulate_many`.
    """
    if not cases:
        raise input_error("cases", "none", "one or more", "")
    name = cases[0].name
    for field, tolerance in (
        ("temperature_tolerance_K", temperature_tolerance_K), ("alpha_tolerance", alpha_tolerance)
    ):  # fmt: skip
        if not 1e-9 <= tolerance <= 10.0:
            raise input_error(field, str(tolerance), "1e-9 to 10", name)
    _, names, values, count, given, of, processors = _rows(cases[0], inputs, resins, resin_of, threads)
    cores = [case.core if held else _core.before_hold(case.core) for case in cases]
    found = _core.simulate_many(
        cores, names, values, count, given, of, processors, instructions, temperature_tolerance_K, alpha_tolerance, stop
    )
    return [_outcomes(columns, case) for columns, case in zip(found, cases, strict=True)]


def _outcomes(columns: dict[str, Any], case: Case) -> Outcomes:
    """Of the rows of one case as the core returns them."""
    failures = columns.pop("failures")
    columns["release_state"] = np.where(columns["release_state"] < 0, len(RELEASE_STATES) - 1, columns["release_state"])
    return Outcomes(**columns, points=case.core.liner_points, messages=dict(failures))


def service_times(
    case: Case,
    inputs: Mapping[str, ArrayLike],
    *,
    resins: Sequence[_core.Resin] | None = None,
    resin_of: ArrayLike | None = None,
    threads: int | None = None,
    bladder_out_min: float | None = None,
    stop: Event | None = None,
) -> NDArray[np.float64]:
    """When each of many cases is fit for service.

    Args:
        case, inputs, resins, resin_of, threads, stop: as for :func:`simulate_many`. Each row is a whole prediction.
        bladder_out_min: when the bladder comes out [min]; left out, each at its own time, times the safety factor.

    Returns:
        (rows,) from mixing [s]; NaN where that is not within the case's stages, or the row cannot be computed.

    Raises:
        CureError: unknown names, unlike lengths, values out of range.
    """
    out = None if bladder_out_min is None else 60.0 * bladder_out_min
    return _core.service_times(*_rows(case, inputs, resins, resin_of, threads), out, stop)


def _rows(
    case: Case,
    inputs: Mapping[str, ArrayLike],
    resins: Sequence[_core.Resin] | None,
    resin_of: ArrayLike | None,
    threads: int | None,
) -> tuple[_core.Case, list[str], NDArray[np.float64], int, list[_core.Resin], ArrayLike, int]:
    """The rows of an ensemble as the core takes them."""
    columns = {name: np.atleast_1d(np.asarray(values, dtype=float)) for name, values in inputs.items()}
    of = np.arange(len(resins or [])) if resin_of is None else np.atleast_1d(np.asarray(resin_of))
    lengths = {len(column) for column in columns.values()} | ({len(of)} if resins is not None else set())
    rows = max(lengths - {1}, default=1)
    if lengths - {1, rows}:
        raise input_error("inputs", f"columns of {sorted(lengths)} numbers", "one number a row in each", case.name)
    values = np.array([np.broadcast_to(column, rows) for column in columns.values()]).reshape(len(columns), rows)
    if resins is not None:
        of = np.broadcast_to(of, rows)
    if threads is not None and threads < 1:
        raise input_error("threads", str(threads), "1 or more", case.name)
    return case.core, list(columns), values, rows, list(resins or []), of if resins is not None else [], threads or 0
