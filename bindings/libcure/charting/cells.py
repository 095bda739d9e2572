"""The cells of a chart: one ensemble each, and the sensitivity of some of them."""

from __future__ import annotations

import hashlib
import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass
from functools import cache, lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from libcure import _core, ensemble
from libcure.case import Case
from libcure.charting.document import MONTH_SETS, Cell, ChartDocument, Climate, canonical_hash
from libcure.models import model_names
from libcure.sampling import (
    UncertainInput,
    bounded_measure,
    index_errors,
    lower_bound,
    moved_inputs,
    normal,
    percentiles,
    saltelli_points,
    sobol_indices,
    unit_points,
    upper_bound,
)
from libcure.sampling.resin_constants import ResinConstants, resin_constants

__all__ = ["Plan", "Task", "compute", "tasks_of"]

CONSTANTS_TITLE = "resin constants"
DAY_TITLE = "day within the month"
Floats = NDArray[np.float64]
Record = dict[str, Any]


@dataclass(frozen=True)
class Plan:
    """How all cells of a chart are sampled."""

    inputs: tuple[UncertainInput, ...]
    constants: bool
    climate: Climate | None
    """Only where a month is an axis."""
    month_moves: tuple[str, ...]
    """Inputs of the ensemble that follow the day within the month."""
    seed: int
    samples: int
    dimensions: int
    """Of the sample points: the same for all cells, so that cells compare sample by sample."""
    sensitivity_samples: int


@dataclass(frozen=True)
class Task:
    """One ensemble to run: a cell, or the sensitivity of one. Can be sent to another process."""

    kind: str
    """``cell`` or ``sensitivity``."""
    index: tuple[int, ...]
    case: Case
    beside: Path
    month: int | None
    plan: Plan
    threads: int | None
    key: str
    """Hash of all that the answer depends on."""


def tasks_of(chart: ChartDocument, threads: int | None = None) -> list[Task]:
    """All ensembles of a chart, cells first."""
    months = next((axis for axis in chart.axes if axis.months), None)
    plan = Plan(
        chart.inputs,
        chart.constants,
        chart.climate if months is not None else None,
        tuple(MONTH_SETS[path] for path in months.sets) if months is not None else (),
        chart.seed,
        chart.samples,
        chart.dimensions,
        chart.sensitivity_samples,
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
        key = canonical_hash({**shared, "kind": kind, "case": document, "models": hashes, "month": cell.month})
        tasks.append(Task(kind, cell.index, case, chart.beside, cell.month, plan, threads, key))
    return tasks


@cache
def _engine_hash() -> str:
    """Of the code that makes the numbers: another build may differ in the last bits."""
    from libcure import sampling
    from libcure.charting import document
    from libcure.sampling import resin_constants as constants

    files = [_core.__file__, ensemble.__file__, sampling.__file__, constants.__file__, document.__file__, __file__]
    return hashlib.sha256(b"".join(Path(str(file)).read_bytes() for file in files)).hexdigest()


def compute(task: Task) -> Record:
    """Runs one ensemble. The record holds numbers, texts and None only, as JSON has them."""
    return _sensitivity(task) if task.kind == "sensitivity" else _cell(task)


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
    if task.plan.climate is not None:
        assert task.month is not None
        # By its rank in the month and not by its date, so that months compare sample by sample.
        through = task.plan.climate.in_month_C(task.month)
        at = np.interp(points[:, column], np.linspace(0.0, 1.0, len(through)), through)
        offset = at - task.plan.climate.month_C(task.month)[1]
        for name in task.plan.month_moves:
            inputs[name] = inputs[name] + offset if name in inputs else offset
        groups[DAY_TITLE] = [column]
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


@lru_cache(maxsize=8)
def _cell_resins(constants: ResinConstants, plan: Plan, first_column: int) -> Sequence[_core.Resin]:
    """All cells of one resin share its samples."""
    points = _cell_points(plan.dimensions, plan.samples, plan.seed)
    return constants.resins(normal(points[:, first_column : first_column + constants.dimensions]))


@lru_cache(maxsize=8)
def _sensitivity_resins(constants: ResinConstants, plan: Plan, first_column: int) -> Sequence[_core.Resin]:
    """Those of the set A, then those of the set B."""
    points = _cell_points(2 * plan.dimensions, plan.sensitivity_samples, plan.seed)
    columns = first_column + np.arange(constants.dimensions)
    both = np.concatenate([points[:, columns], points[:, columns + plan.dimensions]])
    return constants.resins(normal(both))


def _cell(task: Task) -> Record:
    plan = task.plan
    points = _cell_points(plan.dimensions, plan.samples, plan.seed)
    constants = _constants(task)
    inputs, groups = _draw(task, points, constants)
    resins = None
    if constants is not None:
        resins = _cell_resins(constants, plan, groups[CONSTANTS_TITLE][0])
    out = ensemble.simulate_many(
        task.case, inputs, resins=resins, threads=task.threads, **ensemble.SAMPLE_TOLERANCES
    )
    safe = out.safe_sides()
    working = safe.working_time_s
    minutes = {
        "working_min": percentiles(working / 60.0, up=False),
        "gel_first_min": percentiles(safe.gel_time_first_s / 60.0, up=False),
        "gel_last_min": percentiles(safe.gel_time_last_s / 60.0, up=True),
        "criterion_met_min": percentiles(safe.release_time_s / 60.0, up=True),
        "held_from_min": percentiles(safe.held_from_s / 60.0, up=True),
        "peak_temperature_C": percentiles(safe.peak_temperature_K - 273.15, up=True),
    }
    margin = working - safe.held_from_s
    return {
        **{name: [_finite(v) for v in values] for name, values in minutes.items()},
        # What is printed: the sides with their own sampling error.
        "working_bound_min": _finite(lower_bound(working / 60.0)),
        "release_bound_min": _finite(upper_bound(safe.release_time_s / 60.0)),
        "too_late": int(np.count_nonzero(margin < 0.0)),
        "states": {
            name: int(np.count_nonzero(out.release_state == i)) for i, name in enumerate(ensemble.RELEASE_STATES)
        },
        "working_point": _usual_point(out.working_point[np.isfinite(working)], out.points, "resin in the bucket"),
        "release_point": _usual_point(out.release_point, out.points, ""),
        "message": next(iter(out.messages.values()), ""),
    }


def _finite(value: float) -> float | None:
    return value if math.isfinite(value) else None


def _usual_point(points: NDArray[np.int32], count: int, otherwise: str) -> str:
    """The place that decides most often."""
    if points.size == 0:
        return ""
    values, counts = np.unique(points, return_counts=True)
    j = int(values[np.argmax(counts)])
    return f"liner {ensemble.position_name(j, count)}" if j >= 0 else otherwise


def _sensitivity(task: Task) -> Record:
    plan = task.plan
    constants = _constants(task)
    _, groups = _draw(task, np.full((1, plan.dimensions), 0.5), constants)
    points = _cell_points(2 * plan.dimensions, plan.sensitivity_samples, plan.seed)
    rows = saltelli_points(points, list(groups.values()))
    blocks, n, dimensions = rows.shape
    inputs, _ = _draw(task, rows.reshape(-1, dimensions), constants)
    resins, resin_of = None, None
    if constants is not None:
        resins = _sensitivity_resins(constants, plan, groups[CONSTANTS_TITLE][0])
        # The constants are those of A in all blocks but their own and the last, which have those of B.
        of_B = np.array([False, *(title == CONSTANTS_TITLE for title in groups), True])
        resin_of = (np.arange(n)[None, :] + n * of_B[:, None]).ravel()
    out = ensemble.simulate_many(
        task.case, inputs, resins=resins, resin_of=resin_of, threads=task.threads,
        **ensemble.SAMPLE_TOLERANCES,
    )
    safe = out.safe_sides()
    record: Record = {"inputs": list(groups), "samples": n, "runs": blocks * n}
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
