"""Runs many rows of one case through dask.distributed on a local cluster, and in this process, and compares.

    .venv/bin/python tests/benchmark/scale_out.py --rows 1000000

Rows are drawn where they are used, from the seed of their chunk, so that only summaries travel. Reported: wall time of both
ways, the overhead of the cluster, the largest memory of any process, and whether both gave the same numbers.
"""

from __future__ import annotations

import argparse
import resource
import time
from pathlib import Path

import numpy as np

import libcure
from libcure.documents import models_folder

CASE = models_folder() / "cases" / "cold_ground_winter.json"


def chunk(path: str, number: int, rows: int) -> tuple[np.ndarray, int]:
    """Percentiles of the release of one chunk [s], and this process's largest memory [KiB]."""
    u = np.random.default_rng(number).random((3, rows))
    outcomes = libcure.ensemble.simulate_many(
        libcure.load_case(path),
        {
            "liner.thickness_factor": 0.85 + 0.3 * u[0],
            "ground.temperature_offset_K": 4.0 * u[1] - 2.0,
            "resin.rate_factor": 0.85 + 0.3 * u[2],
        },
    )
    released = np.where(np.isnan(outcomes.release_time_s), np.inf, outcomes.release_time_s)
    return np.quantile(released, [0.05, 0.5, 0.95], method="higher"), resource.getrusage(resource.RUSAGE_SELF).ru_maxrss


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rows", type=int, default=100_000)
    parser.add_argument("--chunk", type=int, default=10_000)
    parser.add_argument("--case", type=Path, default=CASE)
    settings = parser.parse_args()
    from distributed import Client, LocalCluster

    chunks = range(-(-settings.rows // settings.chunk))
    chunk(str(settings.case), 0, 256)  # warm up
    start = time.perf_counter()
    here = [chunk(str(settings.case), i, settings.chunk) for i in chunks]
    alone = time.perf_counter() - start
    # One process with its own threads; two chunks on their way, so that it never waits for the scheduler.
    here_too = LocalCluster(n_workers=1, threads_per_worker=2, processes=True, dashboard_address=None)
    with here_too as cluster, Client(cluster) as client, client.get_executor() as executor:
        executor.submit(chunk, str(settings.case), 0, 256).result()
        start = time.perf_counter()
        there = list(executor.map(chunk, [str(settings.case)] * len(chunks), chunks, [settings.chunk] * len(chunks)))
        spread = time.perf_counter() - start
    rows = len(chunks) * settings.chunk
    same = all(np.array_equal(a[0], b[0]) for a, b in zip(here, there, strict=True))
    print(f"{rows} rows in chunks of {settings.chunk}")
    print(f"in this process  {alone:8.2f} s   {1e6 * alone / rows:6.1f} us a row")
    print(f"through dask     {spread:8.2f} s   overhead {100 * (spread / alone - 1):.1f} %")
    print(f"largest memory   {max(m for _, m in here) / 1024:.0f} MiB here, {max(m for _, m in there) / 1024:.0f} MiB on the worker")
    print("the same numbers" if same else "NOT THE SAME NUMBERS")


if __name__ == "__main__":
    main()
