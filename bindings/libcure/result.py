"""Predictions: the times a crew asks for, the verdict, and the whole history, for which alone NumPy is loaded."""

from __future__ import annotations

import json
import os
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime
from functools import cached_property
from threading import Event
from typing import TYPE_CHECKING, Any, TypeAlias

from libcure import _core, documents, rendering
from libcure.case import Case, load_case
from libcure.documents.frames import WithFrames
from libcure.errors import input_error
from libcure.sampling.ranges import Answer, Ranges
from libcure.words import changes
from libcure.words.page import Page

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

    import pandas as pd
    from matplotlib.figure import Figure
    from numpy.typing import ArrayLike
    from rich.console import RenderableType

    from libcure.history import History, Trace
    from libcure.sampling import UncertainInput

__all__ = [
    "CaseRow",
    "Prediction",
    "Times",
    "predict",
    "predict_many",
    "rows_to_dataframe",
]

ZERO_CELSIUS = 273.15  # [K]

CaseLike = Case | str | os.PathLike[str] | Mapping[str, Any]
Uncertain: TypeAlias = "str | os.PathLike[str] | Sequence[UncertainInput] | None"


@dataclass(frozen=True)
class Times:
    """Times from mixing [min]; None is never, or not within the stages given."""

    working_min: float | None
    """A resin point passes its working limit."""
    gel_first_min: float | None
    """The first resin point gels."""
    gel_last_min: float | None
    """The last resin point gels."""
    criterion_met_min: float | None
    """The release criterion is met, in this one simulation. When the bladder may come out is the answer's ``release_min``."""
    service_min: float | None
    """Return to service."""
    held_from_min: float | None
    """The liner is pressed against the pipe."""
    working_margin_min: float | None
    """Working time less ``held_from_min``; negative is too late."""

    @classmethod
    def from_verdict(cls, verdict: Mapping[str, Any]) -> Times:
        """The times of a document ``libcure/verdict/1``."""
        keys = {"working_min": "working_time_min", "gel_first_min": "gel_time_first_min",
                "gel_last_min": "gel_time_last_min", "service_min": "service_time_min"}
        return cls(**{f.name: verdict[keys.get(f.name, f.name)] for f in fields(cls)})


class Prediction(WithFrames):
    """What libcure says of one case. Predictions can be pickled."""

    def __init__(self, case: Case, result: _core.Result) -> None:
        self.case = case
        self.verdict: dict[str, Any] = json.loads(result.verdict_json)
        self._result: _core.Result | None = result

    @cached_property
    def times(self) -> Times:
        """The times from mixing [min]."""
        return Times.from_verdict(self.verdict)

    @property
    def cautions(self) -> list[str]:
        """What the reader must know: the answer's reasons first, then all other cautions."""
        reasons = [reason.text for reason in self.answer.reasons]
        return reasons + [c["text"] for c in self.verdict["cautions"] if c["text"] not in reasons]

    @cached_property
    def history(self) -> History:
        """Temperature and degree of cure through the wall over time, SI."""
        from libcure.history import History

        assert self._result is not None
        return History.from_core(self._result)

    def at(self, place: str, time_min: ArrayLike) -> Trace:
        """Temperature and degree of cure at a named place at times from mixing.

        Args:
            place: ``mixed mass``, or a layer with ``inner face``, ``middle`` or ``outer face``, such as ``liner outer
                face``; in a section with its column: ``liner outer face, 6 o'clock``, ``liner middle, 250 mm along``.
            time_min: (n,) or one [min], in any order.

        Raises:
            CureError: a place or a time that the job does not have; a prediction that was pickled, which has only the
                samples of ``history``.
        """
        import numpy as np

        from libcure.history import Trace

        if self._result is None:
            raise input_error("at", "a prediction that was pickled", "one predicted here, or history", self.case.name)
        minutes = np.atleast_1d(np.asarray(time_min, dtype=float))
        T, alpha = self._result.at(place, 60.0 * minutes)
        return Trace(place, minutes, T - ZERO_CELSIUS, alpha)

    @cached_property
    def answer(self) -> Answer:
        """What to do: the one release to use, and whether to do the job."""
        return Answer.from_verdict(self.verdict)

    @cached_property
    def ranges(self) -> Ranges | None:
        """How far the times can be trusted: 5, 50 and 95 % of each, with what is not known exactly; None of a point estimate."""
        return Ranges.from_verdict(self.verdict)

    def by_the_clock(self, mixed_at: float | None, planned_min: float) -> tuple[str, list[tuple[str, str, str]]]:
        """The decision in a sentence, and name, moment and band of each thing that a crew waits for or must be before.

        Args:
            mixed_at: time of day of mixing [min after midnight]; None: times count from mixing.
            planned_min: from mixing until in place, as planned.
        """
        assert self._result is not None
        found = json.loads(self._result.moments_json(mixed_at, planned_min))
        return found["headline"], [(row["name"], row["moment"], row["likely"]) for row in found["moments"]]

    @cached_property
    def page(self) -> Page:
        """The page in words, for a renderer."""
        assert self._result is not None
        return Page.from_json(self._result.page_json(self.case.name, changes.words(self.case)))

    def text(self, width: int = 100) -> str:
        """The page as plain text. ``width`` in columns, 60 to 1000.

        Raises:
            CureError: a width out of range.
        """
        return self.page.text(width)

    @property
    def why_no_ranges(self) -> str:
        """Why there are none, as part of a sentence; empty when there are."""
        return str(self.verdict["why_no_ranges"])

    def plot(self, path: str | os.PathLike[str] | None = None) -> Figure:
        """Draws temperature and degree of cure through the wall, with the times marked.

        Args:
            path: a ``.png``, ``.svg`` or ``.pdf`` file to write as well.

        Raises:
            CureError: another ending, or a path that cannot be written.
        """
        return rendering.draw_to(self, path)

    def to_dataframe(self) -> pd.DataFrame:
        """The history as a tidy table: time_min, stage, layer, radius_mm, temperature_C, alpha.

        One row a time and cell that the stage has; alpha is NaN outside the resin. The mixed mass
        is one row a time, its radius NaN. A case with a section has one more column, angle_deg
        (from the invert, clockwise) or position_mm; NaN in the stages of one dimension.
        """
        import numpy as np
        import pandas as pd

        parts = []
        kind = next((s.section for s in self.history.stages if s.section), "")
        for s in self.history.stages:
            n, cells = s.temperature.shape
            table = {
                "time_min": np.repeat(s.time / 60.0, cells),
                "stage": s.kind,
                "layer": np.tile(s.layer, n),
                "radius_mm": np.tile(1e3 * s.radius, n),
                "temperature_C": s.temperature.ravel() - ZERO_CELSIUS,
                "alpha": s.all_alpha().ravel(),
            }
            if kind:
                position = np.rad2deg(s.position) if kind == "around" else 1e3 * s.position
                rows = n * cells // s.columns
                table["angle_deg" if kind == "around" else "position_mm"] = np.tile(position, rows)
            parts.append(pd.DataFrame(table))
        return pd.concat(parts, ignore_index=True)

    def to_json(self) -> dict[str, Any]:
        """The verdict as a document to keep, ``libcure/verdict/1``: with its case, and by which version and when it was made."""
        made = {"libcure": _core.__version__, "time": datetime.now(UTC).isoformat(timespec="seconds")}
        return {**self.verdict, **self.case.said_changes(), "case": self.case.document, "made": made}

    def write_json(self, path: str | os.PathLike[str]) -> None:
        """Writes that document, whole or not at all.

        Raises:
            CureError: the path does not end in ``.json`` or cannot be written.
        """
        documents.write_json(self.to_json(), path)

    def __repr__(self) -> str:
        out = self.answer.release_min
        return f"<Prediction {self.case.title!r}: {self.answer.status}, release_min={'none' if out is None else format(out, 'g')}>"

    def _repr_html_(self) -> str:
        return rendering.html(self)

    def __rich__(self) -> RenderableType:
        return rendering.page(self)

    def __getstate__(self) -> dict[str, Any]:
        # The core's result cannot be pickled; what was made from it can.
        return {"case": self.case, "verdict": self.verdict, "history": self.history, "page": self.page, "_result": None}


def predict(
    case: CaseLike,
    *,
    numerical_error: bool = True,
    uncertain: Uncertain = None,
    samples: int | None = None,
    stop: Event | None = None,
    models: documents.Folders = None,
) -> Prediction:
    """Predicts one case, samples it with what is not known exactly, and decides. The GIL is released while the core works.

    The same arguments give the same numbers to the bit.

    Args:
        case: a case, a path to a case file, or a case document.
        numerical_error: also estimate how far mesh and steps may have moved each time, by two
            coarser runs, and add it to the conservative side; False saves more than half of the work.
        uncertain: a chart document whose ranges are taken, ranges, or ``"none"`` for a point estimate with the case's
            safety factor; left out, the usual ranges.
        samples: a power of two; left out, 256 to 2048, as many as the printed release takes; 128 where each costs a whole
            prediction (blends, schemes of several states, properties that vary, sections).
        stop: ends the run with CureError once another thread sets it.
        models: folders of models of one's own, in which ids of a path or document are looked up too; a case has its own.

    Raises:
        CureError: the input is refused, no such document, takes too much time or memory, or the run stopped.
        KeyboardInterrupt: at Ctrl-C.
    """
    # Loaded here: reading a case needs none of it.
    from libcure.sampling.uncertainty import Uncertainty, checked_samples

    with documents.with_models(models):
        case = _as_case(case)
        count = None if samples is None else checked_samples(samples)
        stated = Uncertainty(uncertain, count).stated()
    return Prediction(case, _core.predict(case.core, numerical_error, stated, count, stop))


def _as_case(case: CaseLike) -> Case:
    if isinstance(case, Case):
        return case
    if isinstance(case, Mapping):
        return Case.from_dict(case)
    return load_case(case)


@dataclass(frozen=True)
class CaseRow:
    """One case of many: its times and verdict, or why there are none. Rows can be pickled."""

    index: int
    """Place in the list given."""
    name: str
    """File name, or ``case``."""
    title: str = ""
    times: Times | None = None
    answer: Answer | None = None
    verdict: dict[str, Any] | None = None
    error: str | None = None
    """Message of what went wrong; None when all went well."""

    @property
    def ok(self) -> bool:
        """True when there is a verdict."""
        return self.error is None


def _row(index: int, case: CaseLike, uncertain: Uncertain, models: documents.Folders, stop: Event | None = None) -> CaseRow:
    """Runs in a worker. Only the verdict goes back: histories of many cases would fill the memory."""
    name = _name(case)
    try:
        result = predict(case, numerical_error=False, uncertain=uncertain, stop=stop, models=models)
    except Exception as error:  # one bad case must not end the others
        return CaseRow(index, name, error=str(error))
    return CaseRow(index, name, result.case.title, result.times, result.answer, result.verdict)


def _name(case: CaseLike) -> str:
    if isinstance(case, Case):
        return case.name
    return "case" if isinstance(case, Mapping) else os.fspath(case)


def predict_many(
    cases: Iterable[CaseLike], executor: Executor | None = None, *, uncertain: Uncertain = None, models: documents.Folders = None
) -> list[CaseRow]:
    """Predicts many cases; a bad one becomes a row with an error and stops nothing.

    The numerical error is left out of the answers, so that one may print a step of 5 min sooner than :func:`predict`.

    Args:
        cases: cases, paths or documents.
        executor: anything with the interface of ``concurrent.futures.Executor``, on this machine or
            others; threads of this process when left out. It is left open.
        uncertain: as for :func:`predict`; ``"none"`` saves most of the work.
        models: as for :func:`predict`.

    Returns:
        One row a case, in the order given.
    """
    with documents.with_models(models):
        folders = documents.own_folders()  # other threads and processes do not see them
    if executor is not None:
        return _rows_of([(c, executor.submit(_row, i, c, uncertain, folders)) for i, c in enumerate(cases)])
    from concurrent.futures import ThreadPoolExecutor  # here: one prediction needs none

    stop = Event()
    with ThreadPoolExecutor() as threads:
        try:
            return _rows_of([(c, threads.submit(_row, i, c, uncertain, folders, stop)) for i, c in enumerate(cases)])
        except BaseException:  # Ctrl-C comes to this thread only
            stop.set()
            threads.shutdown(wait=False, cancel_futures=True)
            raise


def _rows_of(submitted: Iterable[tuple[CaseLike, Future[CaseRow]]]) -> list[CaseRow]:
    rows = []
    for i, (case, future) in enumerate(submitted):
        try:
            rows.append(future.result())
        except Exception as error:  # a worker that died, a case that could not be sent to it
            rows.append(CaseRow(i, _name(case), error=f"{type(error).__name__}: {error}"))
    return rows


def rows_to_dataframe(rows: Iterable[CaseRow]) -> pd.DataFrame:
    """A table with one line a row: index, name, title, the answer, the times [min], and the error."""
    import pandas as pd

    names = [f.name for f in fields(Times)]
    lines = []
    for row in rows:
        times = asdict(row.times) if row.times is not None else dict.fromkeys(names)
        answer = {"status": row.answer and row.answer.status, "release_min": row.answer and row.answer.release_min}
        lines.append({"index": row.index, "name": row.name, "title": row.title, **answer, **times, "error": row.error})
    table = pd.DataFrame(lines, columns=["index", "name", "title", "status", "release_min", *names, "error"])
    return table.astype(dict.fromkeys(["release_min", *names], float)).set_index("index")
