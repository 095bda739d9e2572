"""Cure charts: working time and safe release over a grid of cases, with what is uncertain in them.

result = libcure.chart("seasonal.json", store="charts/.cells")
result.to_xarray()["criterion_met_min"].sel(percentile=95)
result.save("charts")
"""

from __future__ import annotations

import os
from collections.abc import Mapping
from concurrent.futures import Executor
from pathlib import Path
from threading import Event
from typing import Any

from libcure.charting.cells import tasks_of
from libcure.charting.document import ChartDocument
from libcure.charting.reader import read_chart
from libcure.charting.result import ChartResult
from libcure.charting.store import Progress, Store, compute_all
from libcure.documents import Folders, with_models

__all__ = ["ChartDocument", "ChartResult", "chart", "read_chart"]


def chart(
    source: str | os.PathLike[str] | Mapping[str, Any] | ChartDocument,
    *,
    beside: str | os.PathLike[str] | None = None,
    samples: int | None = None,
    threads: int | None = None,
    executor: Executor | None = None,
    store: str | os.PathLike[str] | None = None,
    progress: Progress | None = None,
    stop: Event | None = None,
    models: Folders = None,
) -> ChartResult:
    """Computes a chart.

    Args:
        source: a document ``libcure/chart/1``, a path to one, or what :func:`read_chart` gave.
        beside: folder that relative paths in a document in memory start from.
        samples: samples a cell at most instead of the document's, a power of two.
        threads: of the engine for one cell; all that the machine has when left out.
        executor: anything with the interface of ``concurrent.futures.Executor``, on this machine or
            others, to spread the cells. It is left open. Other machines must have the model files.
        store: folder that keeps finished cells; a run that was stopped goes on from there. Nothing
            is kept when left out.
        progress: called with how many ensembles are done, of how many.
        stop: ends the run with CureError once another thread sets it; what is finished is in the store. Cells that an executor has begun run
            to their end there.
        models: folders of models of one's own, in which ids are looked up too.

    Raises:
        CureError: bad input, before anything is computed; or the run stopped.
    """
    with with_models(models):
        document = source if isinstance(source, ChartDocument) else read_chart(source, beside=beside, samples=samples)
        tasks = tasks_of(document, threads)
        records, kept = compute_all(tasks, Store(Path(store) if store is not None else None), executor, progress, stop=stop)
        return ChartResult(document, tasks, records, kept)
