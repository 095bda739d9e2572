"""Time to a true answer: how long each solver takes, on its best mesh, to a release that is right to so much.

Errors are against the exact solution of the equations, that of the mesh included. Its release is Richardson's extrapolation
(L.F. Richardson, Phil. Trans. R. Soc. A 226, 299, 1927; from memory) over CVODE's at 1e-12 on three very fine meshes: the third
says how far the second order that it takes holds, and the extrapolation must not move by a tenth of the least error asked for.
All solvers get the same meshes and read the release off their answers by one routine, at the liner's faces too.

    cmake --workflow --preset benchmark
    .venv/bin/python tests/benchmark/true_answer.py [--picture FILE.png]
"""

from __future__ import annotations

import argparse
import itertools
import math
import tempfile
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import work_precision as wp

GOALS = (0.01, 0.003, 0.001)
MESHES = (12, 16, 20, 28, 40, 56, 80, 112, 160, 224, 320)
FINE = (640, 1280, 2560)
HOURS = 5.0
"""Of the held stage; it releases after some 3.5."""
TOLERANCES = (1e-2, 3e-3, 1e-3, 3e-4, 1e-4, 3e-5, 1e-5, 3e-6)


Solve = Callable[[wp.Session, float, float], wp.Run | None]
"""A run at a tolerance, and one of the solver's ratios between those of its two unknowns."""


@dataclass(frozen=True)
class Peer:
    solve: Solve
    ratios: tuple[float, ...]


@dataclass(frozen=True)
class Found:
    """A run, and how far its release is from the exact one [-]."""

    cells: int
    tolerance: float
    ratio: float
    seconds: float
    error: float


def libcure(program: str) -> Solve:
    return lambda s, t, ratio: s.program(program, 30 * t, ratio * 30 * t, wp.CASE, wp.MODELS, s.cells, s.stage)


def cvode(s: wp.Session, t: float, ratio: float) -> wp.Run | None:
    return s.program("peer_cvode", t, 100 * t, ratio * t)


def scipy(s: wp.Session, t: float, ratio: float) -> wp.Run | None:
    return wp.scipy_odeint(s, t, 100 * t, ratio * t)


PEERS = {
    "libcure": Peer(libcure("peer_libcure"), (1e-3, 4e-3)),
    "libcure, each of 128": Peer(libcure("peer_batched"), (1e-3, 4e-3)),
    "SUNDIALS CVODE": Peer(cvode, (1.0, 0.01)),
    "SciPy LSODA": Peer(scipy, (1.0, 0.01)),
}


def exact_release(programs: Path, folder: Path) -> float:
    """Of the equations [s from the start of the hold].

    Raises:
        SystemExit: no CVODE, or meshes whose errors do not fall as they must.
    """
    found = []
    for cells in FINE:
        s = wp.prepare(programs, folder, cells, "held", HOURS, 0.0)
        run = s.program("peer_cvode", 1e-10, 1e-8, 1e-11)
        if run is None:
            raise SystemExit("CVODE is the reference, and was not built (Debian: libsundials-dev)")
        found.append(s.problem.release(run.answer))
    coarse, middle, fine = found
    before, exact = middle + (middle - coarse) / 3, fine + (fine - middle) / 3
    order = math.log2(abs((middle - coarse) / (fine - middle)))
    print(f"Release after {exact:.2f} s of the hold; {FINE} cells: {coarse:.2f}, {middle:.2f}, {fine:.2f} s, order {order:.2f}")
    if not abs(exact - before) < 0.1 * min(GOALS) * exact:
        raise SystemExit("the finest meshes do not agree: nothing can be measured against them")
    return exact


def fastest(runs: list[Found], goal: float) -> Found | None:
    """The quickest run that is right to the goal, as are all on meshes as fine and at tolerances as tight: none is right by luck."""

    def sure(one: Found) -> bool:
        return all(other.error <= goal for other in runs if other.ratio == one.ratio and other.cells >= one.cells and other.tolerance <= one.tolerance)

    return min(filter(sure, runs), key=lambda run: run.seconds, default=None)


def measure(programs: Path, budget: float) -> dict[str, list[Found]]:
    """All runs by solver."""
    found: dict[str, list[Found]] = {name: [] for name in PEERS}
    with tempfile.TemporaryDirectory() as folder:
        exact = exact_release(programs, Path(folder))
        for cells in MESHES:
            s = wp.prepare(programs, Path(folder), cells, "held", HOURS, budget)
            for name, peer in PEERS.items():
                for t, ratio in itertools.product(TOLERANCES, peer.ratios):
                    run = peer.solve(s, t, ratio)
                    error = math.nan if run is None else abs(s.problem.release(run.answer) / exact - 1)
                    found[name].append(Found(s.problem.cells, t, ratio, math.inf if run is None else run.seconds, error))
    return found


def table(found: dict[str, list[Found]]) -> str:
    lines = ["| release right to | " + " | ".join(PEERS) + " |", "| --- |" + " --- |" * len(PEERS)]
    for goal in GOALS:
        best = [fastest(runs, goal) for runs in found.values()]
        shown = [f"{1e3 * b.seconds:.2g} ms, {b.cells} cells" if b else "-" for b in best]
        lines.append(f"| {100 * goal:g} % | " + " | ".join(shown) + " |")
    return "\n".join(lines)


def draw(found: dict[str, list[Found]], path: Path) -> None:
    """Time by what the release is right to; narrow, so that a phone shows it whole."""
    from matplotlib.figure import Figure

    fig = Figure(figsize=(5.2, 4.0), layout="constrained")
    ax = fig.subplots()
    for (name, runs), color, marker in zip(found.items(), ("#000000", "#D55E00", "#CC79A7", "#0072B2"), "osD^", strict=True):
        best = [(100 * goal, run.seconds) for goal in GOALS if (run := fastest(runs, goal))]
        ax.loglog(*zip(*best, strict=True), marker=marker, color=color, lw=2, ms=7, label=name)
        ax.annotate(name, best[-1], (6, 9), textcoords="offset points", color=color, fontsize=13, ha="right")
    ax.set_xticks([100 * goal for goal in GOALS], [f"{100 * goal:g} %" for goal in GOALS])
    ax.minorticks_off()
    ax.invert_xaxis()
    ax.set_yticks([1e-6, 1e-5, 1e-4, 1e-3, 1e-2], ["1 µs", "10 µs", "0.1 ms", "1 ms", "10 ms"])
    ax.set_ylim(1e-6, 1.5e-2)
    ax.tick_params(labelsize=12)
    ax.set_xlabel("release right to, mesh error included", fontsize=12)
    ax.set_title("Processor time of a hold, each on its best mesh", fontsize=13)
    ax.grid(alpha=0.4, lw=0.6)
    fig.savefig(path, dpi=150)


def main() -> None:
    parser = argparse.ArgumentParser(description="Time to a release that is right to so much, mesh included.")
    parser.add_argument("--programs", type=Path, default=wp.ROOT / "build" / "benchmark" / "tests" / "benchmark")
    parser.add_argument("--budget", type=float, default=0.05, help="seconds of repeated runs for each setting")
    parser.add_argument("--picture", type=Path, help="where to draw it")
    options = parser.parse_args()
    found = measure(options.programs, options.budget)
    print(table(found))
    if options.picture:
        draw(found, options.picture)


if __name__ == "__main__":
    main()
