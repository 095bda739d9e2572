"""Work against precision: libcure and general solvers on one wall, in one session on one machine.

All solvers get the same equations, mesh, coefficients and starting state, bit for bit (see peer.h), and
answer at the same 40 times (the packed solver, which keeps no history, in runs of their own, not timed: that
spares it the error of dense output). Times are processor seconds of the shortest of repeated runs, from the
starting state to the last answer; what is set up once for many runs is not counted for compiled
solvers. Errors are against CVODE at its tightest, itself checked against SciPy's Radau.

    cmake --workflow --preset benchmark
    .venv/bin/python tests/benchmark/work_precision.py [--cells 60 80 120] [--stages held] [--scaling]

A further solver joins by a program with the answer of peer.h and a line in `solvers`.
"""

from __future__ import annotations

import argparse
import json
import os
import platform
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

# One core for everybody: SciPy's linear algebra would otherwise count two.
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
from scipy.integrate import odeint, solve_ivp
from scipy.optimize import brentq
from scipy.sparse import csc_matrix

Array = np.ndarray[Any, np.dtype[np.float64]]

ROOT = Path(__file__).parents[2]
CASE = ROOT / "models" / "cases" / "cold_ground_winter.json"
MODELS = ROOT / "models"
TARGET_T, TARGET_ALPHA = 0.01, 1e-4
"""The error at which times are compared [K], [-]."""


class Problem:
    """The equations of peer.h in NumPy. Unknowns interleaved as for CVODE: T of each cell, followed by
    alpha where it cures."""

    def __init__(self, path: Path) -> None:
        values = {}
        for line in path.read_text().splitlines():
            name, _, *numbers = line.split()
            values[name] = np.array([float.fromhex(x) for x in numbers])
        self.cells, self.first, self.reacting = (int(x) for x in values["layout"])
        self.G, self.source, self.times = values["conductance"], values["source"], values["times"]
        self.inner, self.outer = values["inner"], values["outer"]
        self.k1, self.k2, self.orders, self.diffusion = (values[k] for k in ("k1", "k2", "orders", "diffusion"))
        self.alpha_min, self.margin, self.Tg0, self.Tg_inf, self.lam = values["release"]
        self.per_C = 1 / values["capacity"]
        self.resin = slice(self.first, self.first + self.reacting)
        self.size = self.cells + self.reacting
        curing = np.arange(self.cells)
        self.at_T = curing + np.clip(curing - self.first, 0, self.reacting)
        self.at_alpha = self.at_T[self.resin] + 1
        self.order = np.concatenate([self.at_T, self.at_alpha])
        """Place of each number of an answer (temperatures, then degrees of cure) among the unknowns."""
        self.start = np.empty(self.size)
        self.start[self.order] = values["start"]
        band = np.zeros((5, self.size))
        self.fill_band(band, np.ones(self.reacting), np.ones(self.reacting))
        column, row = np.nonzero(band.T)
        self.pattern = (row, column)
        self.indices = (row - 2 + column).astype(np.int32)
        self.indptr = np.searchsorted(column, np.arange(self.size + 1)).astype(np.int32)

    def rate(self, T: Array, alpha: Array, slopes: bool = False) -> Any:
        """d(alpha)/dt [1/s], with d/dT and d/dalpha when asked for."""
        (A1, E1, r1), (A2, E2, r2), (m, n) = self.k1, self.k2, self.orders
        C, a0, aT = self.diffusion
        inverse = 1 / T
        e2 = np.exp(-E2 * (inverse - r2))
        k1, k2 = A1 * (e2 if (E1, r1) == (E2, r2) else np.exp(-E1 * (inverse - r1))), A2 * e2
        inside, left = np.maximum(alpha, 0), np.maximum(1 - alpha, 1e-300)
        power = inside if m == 1 else inside**m
        order = left**n
        k = k1 + k2 * power
        factor = 1 / (1 + np.exp(np.minimum(C * (alpha - a0 - aT * T), 700)))
        value = k * order * factor
        if not slopes:
            return value
        d_factor = -C * factor * (1 - factor)
        d_power = np.ones_like(alpha) if m == 1 else m * inside ** (m - 1)
        dT = order * (factor * (k1 * E1 + k2 * power * E2) * inverse**2 - k * d_factor * aT)
        return value, dT, k2 * d_power * order * factor - n * value / left + k * order * d_factor

    def slopes(self, t: float, y: Array) -> Array:
        T = y[self.at_T]
        rate = self.rate(T[self.resin], y[self.at_alpha])
        flow = np.empty(self.cells + 1)
        flow[1:-1] = self.G * (T[:-1] - T[1:])
        flow[0] = self.inner[1] - self.inner[0] * T[0]
        flow[-1] = self.outer[0] * T[-1] - self.outer[1]
        heat = flow[:-1] - flow[1:]
        heat[self.resin] += self.source * rate
        f = np.empty(self.size)
        f[self.at_T] = heat * self.per_C
        f[self.at_alpha] = rate
        return f

    def fill_band(self, band: Array, dT: Array, dalpha: Array) -> None:
        """band[i - j + 2, j] = df_i/dy_j."""
        G = np.concatenate([[self.inner[0]], self.G, [self.outer[0]]])
        i, resin, warms = self.at_T, self.at_T[self.resin], self.source * self.per_C[self.resin]
        band[2, i] = -(G[:-1] + G[1:]) * self.per_C
        band[i[1:] - i[:-1] + 2, i[:-1]] = self.G * self.per_C[1:]
        band[i[:-1] - i[1:] + 2, i[1:]] = self.G * self.per_C[:-1]
        band[2, resin] += warms * dT
        band[1, resin + 1] = warms * dalpha
        band[3, resin] = dT
        band[2, resin + 1] = dalpha

    def banded(self, t: float, y: Array) -> Array:
        band = np.zeros((5, self.size))
        _, dT, dalpha = self.rate(y[self.at_T][self.resin], y[self.at_alpha], slopes=True)
        self.fill_band(band, dT, dalpha)
        return band

    def sparse(self, t: float, y: Array) -> csc_matrix:
        data = self.banded(t, y)[self.pattern]
        return csc_matrix((data, self.indices, self.indptr), (self.size, self.size))

    def answer(self, y: Array) -> Array:
        """Rows of temperatures, then degrees of cure, from rows of unknowns."""
        return y[:, self.order]

    def releasable(self, y: Array) -> float:
        """The library's release criterion at the least favourable point, node or face of the liner: not negative when met."""
        T, alpha = (np.concatenate([[1.5 * x[0] - 0.5 * x[1]], x, [1.5 * x[-1] - 0.5 * x[-2]]])
                    for x in (y[self.at_T][self.resin], y[self.at_alpha]))  # fmt: skip
        Tg = self.Tg0 + (self.Tg_inf - self.Tg0) * self.lam * alpha / (1 - (1 - self.lam) * alpha)
        return float(np.minimum(alpha - self.alpha_min, (Tg - T - self.margin) / 100).min())

    def release(self, answer: Array) -> float:
        """Time from which the criterion is met [s], from the answers, the same way for every solver: a
        cubic through states and slopes on both sides. NaN when it is not met at the end."""
        y = np.empty_like(answer)
        y[:, self.order] = answer
        met = np.array([self.releasable(row) >= 0 for row in y])
        if not met[-1] or met.all():
            return float("nan")
        i = int(np.flatnonzero(~met)[-1])
        a, b = self.times[i], self.times[i + 1]
        fa, fb = self.slopes(a, y[i]), self.slopes(b, y[i + 1])

        def state(t: float) -> Array:
            h, s = b - a, (t - a) / (b - a)
            bend = (s - 1) * fa * h + s * fb * h - (2 * s - 1) * (y[i + 1] - y[i])
            return (1 - s) * y[i] + s * y[i + 1] + s * (s - 1) * bend

        return float(brentq(lambda t: self.releasable(state(t)), a, b, xtol=1e-9))


@dataclass
class Run:
    """One solve at one tolerance."""

    setting: str
    seconds: float
    steps: int
    answer: Array
    error_T: float = np.nan
    error_alpha: float = np.nan
    error_peak: float = np.nan
    error_release: float = np.nan

    @property
    def error(self) -> float:
        """1 when just good enough in both temperature and degree of cure."""
        return max(self.error_T / TARGET_T, self.error_alpha / TARGET_ALPHA)

    def compare(self, problem: Problem, reference: Array) -> None:
        n = problem.cells
        difference = np.abs(self.answer - reference)
        self.error_T, self.error_alpha = float(difference[:, :n].max()), float(difference[:, n:].max())
        self.error_peak = abs(float(self.answer[:, :n].max() - reference[:, :n].max()))
        self.error_release = abs(problem.release(self.answer) - problem.release(reference))


@dataclass
class Solver:
    name: str
    runs: list[Run] = field(default_factory=list)

    def front(self, error: Callable[[Run], float]) -> list[Run]:
        """Runs that no other beats in both time and error, loosest first."""
        best: list[Run] = []
        for run in sorted(self.runs, key=lambda r: (r.seconds, error(r))):
            if np.isfinite(error(run)) and (not best or error(run) < error(best[-1])):
                best.append(run)
        return best

    def at(self, error: Callable[[Run], float], target: float, value: Callable[[Run], float]) -> float:
        """A value where the front passes the target error, straight between runs on logarithmic scales; that
        of the loosest run when it is better than asked, NaN when none is good enough."""
        front = self.front(error)
        if not front or error(front[-1]) > target:
            return float("nan")
        if error(front[0]) <= target:
            return value(front[0])
        x = [-np.log(max(error(r), 1e-300)) for r in front]
        return float(np.exp(np.interp(-np.log(target), x, [np.log(max(value(r), 1e-300)) for r in front])))


@dataclass
class Session:
    """One stage on one mesh."""

    problem: Problem
    file: Path
    programs: Path
    cells: int
    stage: str
    budget: float

    def program(self, name: str, *arguments: object) -> Run | None:
        """Runs a peer; None when it gives up or is not there."""
        if not (self.programs / name).is_file():
            return None
        output = self.file.with_suffix(".answer")
        command = [self.programs / name, self.file, output, self.budget, *arguments]
        done = subprocess.run([str(x) for x in command], capture_output=True, text=True, check=False)
        setting = " ".join(f"{x:g}" for x in arguments if isinstance(x, float))
        if done.returncode != 0:
            print(f"{name} {setting}: {done.stderr.strip()}", file=sys.stderr)
            return None
        told = json.loads(done.stdout)
        answer = np.fromfile(output).reshape(len(self.problem.times), -1)
        return Run(setting, told["seconds"], told["steps"], answer)

    def scipy(self, setting: str, solve: Callable[[], tuple[Array | None, int]]) -> Run | None:
        best, spent, count = np.inf, 0.0, 0
        while count < 3 or (spent < self.budget and count < 50):
            begin = time.process_time()
            rows, steps = solve()
            seconds = time.process_time() - begin
            if rows is None:
                return None
            best, spent, count = min(best, seconds), spent + seconds, count + 1
        return Run(setting, best, steps, self.problem.answer(rows))

    def tolerance(self, atol_T: float, atol_alpha: float) -> Array:
        atol = np.full(self.problem.size, atol_T)
        atol[self.problem.at_alpha] = atol_alpha
        return atol


def tolerances(first: float, last: float) -> list[float]:
    """Four a decade, so that no solver is held back by the one setting that was not tried."""
    return [float(x) for x in np.geomspace(first, last, round(4 * np.log10(first / last)) + 1)]


def libcure(program: str, s: Session) -> Iterator[Run | None]:
    for t in tolerances(0.3, 1e-4):
        for ratio in (1e-4, 3e-4, 1e-3, 2e-3, 4e-3):
            yield s.program(program, t, ratio * t, CASE, MODELS, s.cells, s.stage)


def cvode(s: Session) -> Iterator[Run | None]:
    for t in tolerances(1e-2, 1e-7):
        for atol_T, atol_alpha in ((100 * t, t), (100 * t, 0.01 * t), (1e-3 * t, 1e-3 * t)):
            yield s.program("peer_cvode", t, atol_T, atol_alpha)
        for scale in (30.0, 100.0, 300.0):
            yield s.program("peer_cvode", 1e-14, scale * t, t)


def odeint_rosenbrock(s: Session) -> Iterator[Run | None]:
    for t in tolerances(1e-2, 1e-6):
        yield s.program("peer_odeint", t)


def scipy_ivp(method: str, s: Session) -> Iterator[Run | None]:
    p = s.problem
    banded = {"lband": 2, "uband": 2, "jac": p.banded} if method == "LSODA" else {"jac": p.sparse}
    for t in tolerances(1e-2, 1e-6):
        for atol_T, atol_alpha in ((100 * t, t), (100 * t, 0.01 * t)):

            def solve(t: float = t, atol: Array = s.tolerance(atol_T, atol_alpha)) -> tuple[Array | None, int]:
                end = p.times[-1]
                out = solve_ivp(p.slopes, (0, end), p.start, method, p.times, rtol=t, atol=atol, **banded)
                return (out.y.T if out.success else None), out.nfev

            yield s.scipy(f"{t:g} {atol_T:g} {atol_alpha:g}", solve)


def scipy_odeint(s: Session, t: float, atol_T: float, atol_alpha: float) -> Run | None:
    p = s.problem
    times = np.concatenate([[0.0], p.times])
    atol = s.tolerance(atol_T, atol_alpha)

    def solve() -> tuple[Array | None, int]:
        y, told = odeint(
            p.slopes, p.start, times, Dfun=p.banded, ml=2, mu=2, rtol=np.full(p.size, t), atol=atol,
            tfirst=True, mxstep=100000, full_output=True,
        )  # fmt: skip
        good = told["message"] == "Integration successful."
        return (y[1:] if good else None), int(told["nst"][-1])

    return s.scipy(f"{t:g} {atol_T:g} {atol_alpha:g}", solve)


def scipy_odeint_runs(s: Session) -> Iterator[Run | None]:
    for t in tolerances(1e-2, 1e-7):
        for atol_T, atol_alpha in ((100 * t, t), (100 * t, 0.01 * t)):
            yield scipy_odeint(s, t, atol_T, atol_alpha)


def solvers() -> dict[str, Callable[[Session], Iterator[Run | None]]]:
    return {
        "libcure, one case": lambda s: libcure("peer_libcure", s),
        "libcure, many, for each": lambda s: libcure("peer_batched", s),
        "SUNDIALS CVODE, banded": cvode,
        "Boost.Odeint rosenbrock4": odeint_rosenbrock,
        "SciPy LSODA (odeint), banded": scipy_odeint_runs,
        "SciPy LSODA (solve_ivp), banded": lambda s: scipy_ivp("LSODA", s),
        "SciPy BDF, sparse": lambda s: scipy_ivp("BDF", s),
        "SciPy Radau, sparse": lambda s: scipy_ivp("Radau", s),
    }


def reference(s: Session) -> Array:
    """States at the asked times, from CVODE at its tightest, checked against Radau's."""
    p = s.problem
    atol = s.tolerance(1e-9, 1e-12)
    out = solve_ivp(p.slopes, (0, p.times[-1]), p.start, "Radau", p.times, rtol=1e-11, atol=atol, jac=p.sparse)
    if not out.success:
        raise SystemExit(f"the reference failed: {out.message}")
    radau = p.answer(out.y.T)
    tight = s.program("peer_cvode", 1e-13, 1e-10, 1e-13)
    if tight is None:
        print("No CVODE peer: SciPy's Radau alone is the reference.")
        return radau
    n = p.cells
    difference = np.abs(tight.answer - radau)
    worst_T, worst_alpha = float(difference[:, :n].max()), float(difference[:, n:].max())
    print(f"References, CVODE less Radau: {worst_T:.1e} K, {worst_alpha:.1e} in alpha")
    if not (worst_T < 1e-3 * TARGET_T and worst_alpha < 1e-3 * TARGET_ALPHA):
        raise SystemExit("the two references do not agree: nothing can be measured against them")
    return tight.answer


def prepare(programs: Path, folder: Path, cells: int, stage: str, hours: float, budget: float) -> Session:
    file = folder / f"{stage}-{cells}.txt"
    command = [programs / "wall_problem", CASE, MODELS, file, cells, stage, hours]
    subprocess.run([str(x) for x in command], check=True)
    return Session(Problem(file), file, programs, cells, stage, budget)


def report(s: Session, found: list[Solver]) -> None:
    p = s.problem
    end = p.times[-1] / 3600
    print(f"\n{s.stage}: {p.cells} cells, {p.reacting} of them curing, {end:g} h; at {TARGET_T:g} K and {TARGET_ALPHA:g} in alpha")  # fmt: skip
    head = f"{'':34}{'time [ms]':>11}{'over libcure':>14}{'for 0.01 K':>12}{'for 1e-4':>11}{'steps':>8}{'release [s]':>13}{'peak [K]':>10}"  # fmt: skip
    print(head)
    ours = found[0].at(lambda r: r.error, 1, lambda r: r.seconds)
    for solver in found:
        if not solver.runs:
            print(f"{solver.name:34}{'left out':>11}")
            continue
        joint = [solver.at(lambda r: r.error, 1, v) for v in (
            lambda r: r.seconds, lambda r: r.steps, lambda r: r.error_release, lambda r: r.error_peak)]  # fmt: skip
        alone = (
            solver.at(lambda r: r.error_T, TARGET_T, lambda r: r.seconds),
            solver.at(lambda r: r.error_alpha, TARGET_ALPHA, lambda r: r.seconds),
        )
        print(
            f"{solver.name:34}{1e3 * joint[0]:11.4g}{joint[0] / ours:14.3g}{1e3 * alone[0]:12.4g}"
            f"{1e3 * alone[1]:11.4g}{joint[1]:8.0f}{joint[2]:13.2g}{joint[3]:10.2g}".replace("nan", "  -")
        )


COLORS = ("#000000", "#D55E00", "#CC79A7", "#0072B2", "#56B4E9", "#009E73", "#B8860B", "#7f7f7f")
MARKERS = "osD^v<>P"


def draw(sessions: list[tuple[Session, list[Solver]]], path: Path) -> None:
    from matplotlib.figure import Figure

    measures: list[tuple[str, Callable[[Run], float], float]] = [
        ("temperature, largest error [K]", lambda r: r.error_T, TARGET_T),
        ("degree of cure, largest error", lambda r: r.error_alpha, TARGET_ALPHA),
        ("peak temperature, error [K]", lambda r: r.error_peak, TARGET_T),
        ("release time, error [s]", lambda r: r.error_release, np.nan),
    ]
    fig = Figure(figsize=(15, 1.2 + 4.0 * len(sessions)), layout="constrained")
    axes = fig.subplots(len(sessions), len(measures), squeeze=False, sharey=True)
    for row, (s, found) in zip(axes, sessions, strict=True):
        for ax, (label, error, target) in zip(row, measures, strict=True):
            for solver in found:
                place = list(solvers()).index(solver.name)
                color, marker = COLORS[place], MARKERS[place]
                front = [r for r in solver.front(error) if error(r) > 0]
                if front:
                    x, y = [error(r) for r in front], [1e3 * r.seconds for r in front]
                    ax.loglog(x, y, marker, ls="-", color=color, ms=4, lw=1.2, label=solver.name)
            if np.isfinite(target):
                ax.axvline(target, color="#999999", lw=0.8, ls=":")
            ax.invert_xaxis()
            ax.set_xlabel(label)
            ax.grid(alpha=0.3, lw=0.5)
        row[0].set_ylabel(f"{s.stage}, {s.problem.cells} cells\nprocessor time [ms]")
    handles, labels = axes[0][0].get_legend_handles_labels()
    fig.legend(handles, labels, loc="outside upper center", ncols=4, frameon=False)
    fig.savefig(path, dpi=130)


def scaling(programs: Path, folder: Path, budget: float) -> None:
    """Time of the held stage against cells at the case's own tolerance: of one case, and of each of many."""
    cells = [32, 64, 128, 256, 512, 1024, 2048]
    sessions = [prepare(programs, folder, n, "held", 10.0, budget) for n in cells]
    for title, program in (("one case", "peer_libcure"), ("many, for each", "peer_batched")):
        found = []
        for s in sessions:
            run = s.program(program, 5e-3, 5e-6, CASE, MODELS, s.cells, "held")
            assert run is not None
            found.append((run.seconds, run.steps))
            print(f"{title}, {s.cells:4d} cells: {1e3 * run.seconds:9.4g} ms, {run.steps} steps, {1e6 * run.seconds / run.steps:.4g} us a step")  # fmt: skip
        seconds, steps = np.array(found).T
        for name, y in (("time a step", seconds / steps), ("time", seconds)):
            slope = np.polyfit(np.log(cells), np.log(y), 1)[0]
            print(f"{title}: {name} grows as cells^{slope:.3f}")


def main() -> int:
    parser = argparse.ArgumentParser(description="Work against precision of libcure and general solvers.")
    parser.add_argument("--cells", type=int, nargs="+", default=[80], help="of the held wall; 60 to 120 are usual")
    parser.add_argument("--stages", nargs="+", default=["held"], choices=["wet_out", "held", "after_release"])
    parser.add_argument("--hours", type=float, default=10.0, help="of the held stage; the others run as in the case")
    parser.add_argument("--programs", type=Path, default=ROOT / "build" / "benchmark" / "tests" / "benchmark")
    parser.add_argument("--out", type=Path, default=ROOT / "build" / "benchmark", help="folder for the figure")
    parser.add_argument("--budget", type=float, default=0.2, help="seconds of repeated runs for each setting")
    parser.add_argument("--only", nargs="+", default=[], help="parts of names of solvers; libcure always runs")
    parser.add_argument("--scaling", action="store_true", help="also time 32 to 2048 cells")
    options = parser.parse_args()
    if not (options.programs / "wall_problem").is_file():
        print(f"no programs in {options.programs}; build them: cmake --workflow --preset benchmark", file=sys.stderr)
        return 2
    if not (options.programs / "peer_cvode").is_file():
        print("CVODE is left out: it was not built (Debian: libsundials-dev).")
    cpu = next((x.split(":")[1].strip() for x in Path("/proc/cpuinfo").read_text().splitlines() if "model name" in x), "?")  # fmt: skip
    print(f"{cpu}, {os.cpu_count()} cores, load {os.getloadavg()[0]:.1f}; Python {platform.python_version()}")
    sessions = []
    with tempfile.TemporaryDirectory() as folder:
        for stage in options.stages:
            for cells in options.cells:
                hours = options.hours if stage == "held" else 0.0
                s = prepare(options.programs, Path(folder), cells, stage, hours, options.budget)
                exact = reference(s)
                found = []
                for name, runs in solvers().items():
                    if name.startswith("libcure") or not options.only or any(x in name for x in options.only):
                        solver = Solver(name, [run for run in runs(s) if run is not None])
                        for run in solver.runs:
                            run.compare(s.problem, exact)
                        found.append(solver)
                report(s, found)
                sessions.append((s, found))
        if options.scaling:
            print()
            scaling(options.programs, Path(folder), options.budget)
    options.out.mkdir(parents=True, exist_ok=True)
    figure = options.out / "work_precision.png"
    draw(sessions, figure)
    print(f"\n{figure}")
    return 0


if __name__ == "__main__":
    sys.exit(main())
