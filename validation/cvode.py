"""The wall by SUNDIALS CVODE (BDF, banded), in C: the program of the benchmark, compiled when it is first asked for."""

from __future__ import annotations

import atexit
import json
import shutil
import subprocess
import tempfile
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np

SOURCES = Path(__file__).parents[1] / "tests" / "benchmark"
LIBRARIES = ("sundials_cvode", "sundials_nvecserial", "sundials_sunmatrixband", "sundials_sunlinsolband", "m")


@cache
def program() -> tuple[Path | None, str]:
    """The compiled program, or None and why there is none."""
    compiler = shutil.which("cc") or shutil.which("gcc")
    if compiler is None:
        return None, "no C compiler here"
    folder = tempfile.mkdtemp(prefix="libcure-cvode-")
    atexit.register(shutil.rmtree, folder, ignore_errors=True)
    path = Path(folder) / "peer_cvode"
    command = [compiler, "-O2", "-std=gnu11", str(SOURCES / "peer_cvode.c"), "-o", str(path)]
    done = subprocess.run([*command, *(f"-l{x}" for x in LIBRARIES)], capture_output=True, text=True, check=False)
    if done.returncode != 0:
        missing = "cvode/cvode.h" in done.stderr
        return None, "SUNDIALS is not installed (Debian: libsundials-dev)" if missing else done.stderr.strip()
    return path, ""


def problem(numbers: dict[str, Any]) -> str:
    """A problem file (see tests/benchmark/peer.h), numbers without loss."""
    lines = []
    for name, values in numbers.items():
        row = np.atleast_1d(np.asarray(values, float))
        lines.append(" ".join([name, str(len(row)), *(float(x).hex() for x in row)]))
    return "\n".join(lines) + "\n"


def solve(numbers: dict[str, Any], rtol: float, atol_T: float, atol_alpha: float) -> np.ndarray:
    """Answers (times, cells + curing cells): temperatures [K], then degrees of cure [-]."""
    peer, why = program()
    assert peer is not None, why
    with tempfile.TemporaryDirectory() as folder:
        question, answer = Path(folder) / "problem.txt", Path(folder) / "answer"
        question.write_text(problem(numbers))
        command = [str(peer), str(question), str(answer), "0", *(repr(x) for x in (rtol, atol_T, atol_alpha))]
        done = subprocess.run(command, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        assert json.loads(done.stdout)["steps"] > 0
        return np.fromfile(answer).reshape(len(np.atleast_1d(numbers["times"])), -1)
