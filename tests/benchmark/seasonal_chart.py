"""Times the shipped seasonal chart: simulations alone, all computing, and the whole command [s].

    .venv/bin/python tests/benchmark/seasonal_chart.py

Run it on an idle machine; the best of a few runs counts.
"""

import subprocess
import sys
import tempfile
import time
from pathlib import Path

import libcure
from libcure import ensemble
from libcure.charting import cells

CHART = libcure.models_folder() / "charts" / "seasonal.json"
RUNS = 3


def timed(call):
    begin = time.perf_counter()
    call()
    return time.perf_counter() - begin


def simulations_alone(chart):
    """Seconds inside the ensemble engine, processor seconds in it and of all computing, and how many simulations it ran; nothing kept from before."""
    engine, spent, worked_in, rows = ensemble.simulate_each, [], [], []
    for kept in (cells._foreteller, cells._cell_resins, cells._sensitivity_resins):
        kept.cache_clear()
    worked = time.process_time()

    def counting(cases, inputs, **options):
        begin, before = time.perf_counter(), time.process_time()
        found = engine(cases, inputs, **options)
        spent.append(time.perf_counter() - begin)
        worked_in.append(time.process_time() - before)
        rows.extend(len(out) for out in found)
        return found

    # What simulates one case goes through it too.
    ensemble.simulate_each = counting
    try:
        libcure.chart(chart)
    finally:
        ensemble.simulate_each = engine
    return sum(spent), sum(worked_in), time.process_time() - worked, sum(rows)


def main():
    chart = libcure.read_chart(CHART)
    libcure.chart(chart, samples=None)  # warms up imports
    best, engine, worked, rows = min(simulations_alone(chart) for _ in range(RUNS))
    print(f"{rows} coupled simulations: {best:.2f} s, {engine:.2f} s of processor time; with drawing samples and reading off the cells {worked:.2f} s of it")
    print(
        "libcure.chart, with reading and drawing of samples: "
        f"{min(timed(lambda: libcure.chart(CHART)) for _ in range(RUNS)):.2f} s"
    )
    whole = []
    for _ in range(RUNS):
        with tempfile.TemporaryDirectory() as folder:
            command = [
                sys.executable,
                "-m",
                "libcure",
                "chart",
                str(CHART),
                "--out",
                str(Path(folder) / "out"),
            ]
            whole.append(timed(lambda command=command: subprocess.run(command, check=True, capture_output=True)))
    print(f"libcure chart, from start to five files: {min(whole):.2f} s")


if __name__ == "__main__":
    main()
