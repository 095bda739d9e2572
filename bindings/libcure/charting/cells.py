"""The cells of a chart: one ensemble each, and the sensitivity of some of them."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Iterable, Sequence
from dataclasses import asdict, dataclass, field
from functools import cache, lru_cache, partial, reduce
from pathlib import Path
from threading import Event
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, ensemble
from libcure.case import Case
from libcure.charting.axes import follows
from libcure.charting.climate import ZERO_CELSIUS, Climate
from libcure.charting.document import Cell, ChartDocument, canonical_hash
from libcure.charting.enough import Bounds
from libcure.charting.sides import Side, settled
from libcure.models import model_names
from libcure.sampling import (
    UncertainInput,
    bounded_measure,
    index_errors,
    moved_inputs,
    normal,
    percentiles,
    saltelli_points,
    sobol_indices,
    unit_points,
)
from libcure.sampling.resin_constants import ResinConstants, resin_constants
from libcure.words.rounding import Steps

__all__ = ["Plan", "Task", "compute", "groups_of", "single_rows", "tasks_of"]

CONSTANTS_TITLE = "resin constants"
DAY_TITLE, WEATHER_TITLE = "day within the month", "weather of the day"
MOST_TOGETHER = 32
"""Cells of a group, each of which is kept when all are finished."""
Floats = NDArray[np.float64]
Rows = NDArray[np.int64]
CellRecord = dict[str, Any]


@dataclass(frozen=True)
class Plan:
    """How all cells of a chart are sampled."""

    inputs: tuple[UncertainInput, ...]
    constants: bool
    climate: Climate | None
    """Only where seasons are an axis."""
    season_moves: tuple[tuple[str, str], ...]
    """What of the climate is followed within the season, and by which input of the ensemble."""
    season_columns: tuple[str, ...]
    """As of the document."""
    seed: int
    samples: Bounds
    """From fewest to most of a cell."""
    dimensions: int
    """Of the sample points: the same for all cells, so that cells compare sample by sample."""
    sensitivity_samples: int
    working_steps: Steps
    release_steps: Steps


@dataclass(frozen=True)
class Task:
    """One ensemble to run: a cell, or the sensitivity of one. Can be sent to another process."""

    kind: str
    """``cell`` or ``sensitivity``."""
    index: tuple[int, ...]
    case: Case
    beside: Path
    months: tuple[int, ...] | None
    plan: Plan
    threads: int | None
    models: tuple[str, ...]
    """Hashes of the model files that the case reads."""
    limit_C: float
    """Lowest temperature limit of resin, bladder and pipe [°C]."""
    key: str
    """Hash of all that the answer depends on."""


def tasks_of(chart: ChartDocument, threads: int | None = None) -> list[Task]:
    """All ensembles of a chart, cells first."""
    seasons = chart.season_axis
    moved = (found for path in (seasons.sets if seasons is not None else ()) if (found := follows(path)) is not None)
    plan = Plan(
        chart.inputs,
        chart.constants,
        chart.climate if seasons is not None else None,
        # A path a kind: the ambient air of two stages is one input.
        tuple(dict.fromkeys((found.what, found.moves) for found in moved)),
        chart.season_columns,
        chart.seed,
        chart.bounds,
        chart.dimensions,
        chart.sensitivity_samples,
        chart.working_steps,
        chart.release_steps,
    )
    shared = {"libcure": _core.__version__, "engine": _engine_hash(), "plan": asdict(plan)}
    cells = {cell.index: cell for cell in chart.cells()}
    wanted: list[tuple[str, Cell]] = [("cell", cell) for cell in cells.values()]
    wanted += [("sensitivity", cells[index]) for index in chart.sensitivity_cells]
    tasks = []
    for kind, cell in wanted:
        case = chart.cases[cell.index]
        document = chart.case_documents[cell.index]
        hashes = sorted({name: chart.model_hashes[name] for name in model_names(document, chart.beside)}.items())
        models = tuple(text for _, text in hashes)
        key = canonical_hash({**shared, "kind": kind, "case": document, "models": hashes, "months": cell.months})
        limit = chart.limits_C[cell.index]
        tasks.append(Task(kind, cell.index, case, chart.beside, cell.months, plan, threads, models, limit, key))
    return tasks


def groups_of(tasks: Iterable[Task]) -> list[list[Task]]:
    """Tasks that are computed together, each group where its first stands: cells that are the same up to their hold go there once."""
    groups: list[list[Task]] = []
    open_groups: dict[object, list[list[Task]]] = {}
    for task in tasks:
        # What is predicted row by row shares nothing, and each such cell is kept as soon as it is finished.
        if task.kind != "cell" or not _core.packed(task.case.core):
            groups.append([task])
            continue
        alike = open_groups.setdefault((task.models, task.months), [])
        group = next((g for g in alike if len(g) < MOST_TOGETHER and _core.same_before_hold(g[0].case.core, task.case.core)), None)
        if group is None:
            group = []
            groups.append(group)
            alike.append(group)
        group.append(task)
    return groups


def single_rows(tasks: Sequence[Task]) -> tuple[int, int]:
    """Samples that the packed solver does not take, each a whole prediction: of sections, and of blends."""
    sections = blends = 0
    for task in tasks:
        document = task.case.document
        rows = task.plan.samples.most if task.kind == "cell" else task.plan.sensitivity_samples * (task.plan.dimensions + 2)
        if "section" in document:
            sections += rows
        elif isinstance(document["resin"], dict):
            blends += rows
    return sections, blends


@cache
def _engine_hash() -> str:
    """Of the code that makes the numbers: another build may differ in the last bits."""
    from libcure.charting import axes, climate, document, enough, sides
    from libcure.sampling import inputs, points
    from libcure.sampling import resin_constants as constants
    from libcure.words import rounding

    parts = (_core, ensemble, inputs, points, constants, document, axes, climate, enough, sides, rounding)
    files = [*(part.__file__ for part in parts), __file__]
    return hashlib.sha256(b"".join(Path(str(file)).read_bytes() for file in files)).hexdigest()


def compute(group: Sequence[Task], stop: Event | None = None) -> list[CellRecord]:
    """Runs the ensembles of a group. Records hold numbers, texts and None only, as JSON has them. Setting ``stop`` ends it with CureError."""
    return [_sensitivity(task, stop) for task in group] if group[0].kind == "sensitivity" else _cells(group, stop)


def _draw(task: Task, points: Floats, constants: ResinConstants | None) -> tuple[dict[str, Floats], dict[str, list[int]]]:
    """What the points (n, dimensions) of the unit cube stand for.

    Returns:
        The inputs of the ensemble, and the columns of each group of points by its title.
    """
    inputs = moved_inputs(task.plan.inputs, points)
    groups: dict[str, list[int]] = {}
    for j, uncertain in enumerate(task.plan.inputs):
        groups.setdefault(uncertain.title, []).append(j)
    column = len(task.plan.inputs)
    climate = task.plan.climate
    if climate is not None:
        assert task.months is not None
        drawn = {name: points[:, column + k] for k, name in enumerate(task.plan.season_columns)}
        # By its rank in the season and not by its date, so that seasons compare sample by sample.
        rank, weather = drawn["day"], drawn.get("weather", 0.5)
        for what, name in task.plan.season_moves:
            offset = climate.at_C(what, task.months, rank, weather) - climate.middle_C(what, task.months)
            inputs[name] = inputs[name] + offset if name in inputs else offset
        for title in (DAY_TITLE, WEATHER_TITLE)[: len(drawn)]:
            groups[title] = [column]
            column += 1
    if constants is not None:
        groups[CONSTANTS_TITLE] = list(range(column, column + constants.dimensions))
    if not inputs:
        inputs["ground.temperature_offset_K"] = np.zeros(len(points))
    return inputs, groups


def _constants(task: Task) -> ResinConstants | None:
    """The uncertain constants of the resin, where there are any and they are wanted."""
    return resin_constants(task.case.document, task.beside) if task.plan.constants else None


@lru_cache(maxsize=8)
def _cell_points(dimensions: int, samples: int, seed: int) -> Floats:
    return unit_points(dimensions, samples, seed)


@lru_cache(maxsize=2)
def _foreteller(dimensions: int, samples: int, seed: int, first: int) -> _core.Foreteller:
    return _core.Foreteller(_cell_points(dimensions, samples, seed), first)


@dataclass(frozen=True)
class _Stop:
    """An event; all are alike to a cache, as what is computed does not hang on it."""

    event: Event | None = field(compare=False)


@lru_cache(maxsize=16)
def _cell_resins(constants: ResinConstants, plan: Plan, first_column: int, begin: int, end: int, stop: _Stop) -> Sequence[_core.Resin]:
    """All cells of one resin share its samples."""
    points = _cell_points(plan.dimensions, plan.samples.most, plan.seed)[begin:end]
    return constants.resins(normal(points[:, first_column : first_column + constants.dimensions]), stop.event)


@lru_cache(maxsize=8)
def _sensitivity_resins(constants: ResinConstants, plan: Plan, first_column: int, stop: _Stop) -> Sequence[_core.Resin]:
    """Those of the set A, then those of the set B."""
    points = _cell_points(2 * plan.dimensions, plan.sensitivity_samples, plan.seed)
    columns = first_column + np.arange(constants.dimensions)
    both = np.concatenate([points[:, columns], points[:, columns + plan.dimensions]])
    return constants.resins(normal(both), stop.event)


class _Samples:
    """The samples of a group of cells, some at a time: those of a range of the sample points."""

    def __init__(self, group: Sequence[Task], stop: Event | None) -> None:
        self.group, self.stop = group, stop
        self.task = group[0]
        """Like the others in all that is drawn, and in what happens before the hold."""
        self.constants = _constants(self.task)

    def _run(self, cells: Sequence[Task], begin: int, end: int, rows: Rows | None = None, *, held: bool = True) -> list[ensemble.Outcomes]:
        """Of each cell the samples from ``begin`` to ``end``, or of these some by their numbers."""
        plan = self.task.plan
        inputs, groups = _draw(self.task, _cell_points(plan.dimensions, plan.samples.most, plan.seed)[begin:end], self.constants)
        resins = None
        if self.constants is not None:
            resins = _cell_resins(self.constants, plan, groups[CONSTANTS_TITLE][0], begin, end, _Stop(self.stop))
        if rows is not None:
            inputs = {name: values[rows - begin] for name, values in inputs.items()}
        return ensemble.simulate_each(
            [cell.case for cell in cells], inputs, resins=resins, resin_of=None if rows is None or resins is None else rows - begin,
            threads=self.task.threads, held=held, stop=self.stop, **ensemble.SAMPLE_TOLERANCES,
        )  # fmt: skip

    def first(self) -> list[ensemble.Outcomes]:
        """The first look at each cell."""
        return self._run(self.group, 0, self.task.plan.samples.first)

    def settled(self, cell: Task, sides: Sequence[Side], first: ensemble.SafeSides, *, held: bool = True) -> list[Floats]:
        """Values of each side of a cell from as many samples as it takes."""
        plan, bounds = self.task.plan, self.task.plan.samples

        def simulate(rows: Rows) -> ensemble.SafeSides:
            # By the looks, so that cells share the resins of each.
            begin, found = bounds.first, []
            while begin < bounds.most:
                some = rows[(rows >= begin) & (rows < 2 * begin)]
                if some.size:
                    found += self._run([cell], begin, 2 * begin, some, held=held)
                begin *= 2
            return reduce(ensemble.Outcomes.followed_by, found).safe_sides()

        return settled(sides, first, bounds, lambda: _foreteller(plan.dimensions, bounds.most, plan.seed, bounds.first), simulate)

    def in_place(self) -> tuple[Floats, Floats] | None:
        """Latest moment of samples [min] at which the liner may be held and still be workable, when the wet-out goes on until then, the
        same for all cells of the group: of the first look, and as many as it takes. None for a case that begins with the hold.
        """
        plan = self.task.plan
        if self.task.case.document["stages"][0]["kind"] == "held":
            return None
        (first,) = self._run([self.task], 0, plan.samples.first, held=False)
        side = Side(_working_min, partial(plan.samples.stands, steps=plan.working_steps, up=False), up=False, relative=True)
        (found,) = self.settled(self.task, [side], first.safe_sides(), held=False)
        return _working_min(first.safe_sides()), found


def _working_min(safe: ensemble.SafeSides) -> Floats:
    return np.asarray(safe.working_time_s / 60.0)


def _sides(task: Task) -> list[Side]:
    """Of a cell: working time and release [min], how long before the resin is too thick it is held [s], hottest resin [°C]."""
    plan, bounds = task.plan, task.plan.samples
    return [
        Side(_working_min, partial(bounds.stands, steps=plan.working_steps, up=False), up=False, relative=True),
        Side(lambda safe: safe.release_time_s / 60.0, partial(bounds.stands, steps=plan.release_steps, up=True), up=True, relative=True),
        Side(lambda safe: safe.working_time_s - safe.held_from_s, partial(bounds.decided, limit=0.0, up=False), up=False),
        Side(lambda safe: safe.peak_temperature_K - ZERO_CELSIUS, partial(bounds.decided, limit=task.limit_C, up=True), up=True),
    ]


def _cells(group: Sequence[Task], stop: Event | None) -> list[CellRecord]:
    samples = _Samples(group, stop)
    in_place = samples.in_place()
    return [_cell(task, out, samples.settled(task, _sides(task), out.safe_sides()), in_place) for task, out in zip(group, samples.first(), strict=True)]


def _cell(task: Task, out: ensemble.Outcomes, sides: Sequence[Floats], in_place: tuple[Floats, Floats] | None) -> CellRecord:
    """Percentiles of the samples that all cells have, so that they compare one by one; bounds of what is printed from as many as it takes."""
    safe, bounds = out.safe_sides(), task.plan.samples
    working, release, margin, peak = sides
    return {
        "samples": len(out),
        "samples_most": max(map(len, sides)),
        "in_place_min": [None] * 3 if in_place is None else [_finite(v) for v in percentiles(in_place[0], up=False)],
        "in_place_bound_min": None if in_place is None else _finite(bounds.lower(in_place[1])),
        **_bands(safe),
        "held_from_min": [_finite(v) for v in percentiles(safe.held_from_s / 60.0, up=True)],
        "peak_temperature_C": [_finite(v) for v in percentiles(safe.peak_temperature_K - ZERO_CELSIUS, up=True)],
        # What is printed: the sides with their own sampling error.
        "working_bound_min": _finite(bounds.lower(working)),
        "release_bound_min": _finite(bounds.upper(release)),
        "peak_bound_C": _finite(bounds.upper(peak)),
        "late": bounds.lower(margin) < 0.0,
        "too_late": int(np.count_nonzero(safe.working_time_s < safe.held_from_s)),
        "states": _states(out),
        "working_point": _usual_point(out.working_point[np.isfinite(safe.working_time_s)], out.points, "resin in the bucket"),
        "release_point": _usual_point(out.release_point, out.points, ""),
        "message": next(iter(out.messages.values()), ""),
    }


def _bands(safe: ensemble.SafeSides) -> CellRecord:
    """5, 50 and 95 % of the times."""
    times = {
        "working_min": (safe.working_time_s, False),
        "gel_first_min": (safe.gel_time_first_s, False),
        "gel_last_min": (safe.gel_time_last_s, True),
        "criterion_met_min": (safe.release_time_s, True),
    }
    return {name: [_finite(v) for v in percentiles(seconds / 60.0, up=up)] for name, (seconds, up) in times.items()}


def _states(out: ensemble.Outcomes) -> dict[str, int]:
    """How many samples released, or why not."""
    return {name: int(np.count_nonzero(out.release_state == i)) for i, name in enumerate(ensemble.RELEASE_STATES)}


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _usual_point(points: NDArray[np.int32], count: int, otherwise: str) -> str:
    """The place that decides most often."""
    if points.size == 0:
        return ""
    values, counts = np.unique(points, return_counts=True)
    j = int(values[np.argmax(counts)])
    return f"liner {ensemble.position_name(j, count)}" if j >= 0 else otherwise


def _sensitivity(task: Task, stop: Event | None) -> CellRecord:
    plan = task.plan
    constants = _constants(task)
    _, groups = _draw(task, np.full((1, plan.dimensions), 0.5), constants)
    points = _cell_points(2 * plan.dimensions, plan.sensitivity_samples, plan.seed)
    rows = saltelli_points(points, list(groups.values()))
    blocks, n, dimensions = rows.shape
    inputs, _ = _draw(task, rows.reshape(-1, dimensions), constants)
    resins, resin_of = None, None
    if constants is not None:
        resins = _sensitivity_resins(constants, plan, groups[CONSTANTS_TITLE][0], _Stop(stop))
        # The constants are those of A in all blocks but their own and the last, which have those of B.
        of_B = np.array([False, *(title == CONSTANTS_TITLE for title in groups), True])
        resin_of = (np.arange(n)[None, :] + n * of_B[:, None]).ravel()
    out = ensemble.simulate_many(
        task.case, inputs, resins=resins, resin_of=resin_of, threads=task.threads, stop=stop,
        **ensemble.SAMPLE_TOLERANCES,
    )
    safe = out.safe_sides()
    record: CellRecord = {"inputs": list(groups), "samples": n, "runs": blocks * n}
    for name, time in (("working", safe.working_time_s), ("release", safe.release_time_s)):
        y, measure = bounded_measure(time.reshape(blocks, n))
        first, total = sobol_indices(y)
        first_error, total_error = index_errors(y, plan.seed)
        record[name] = {
            "first": [_finite(v) for v in first],
            "total": [_finite(v) for v in total],
            "first_error": [_finite(v) for v in first_error],
            "total_error": [_finite(v) for v in total_error],
            "measure": measure,
        }
    return record
