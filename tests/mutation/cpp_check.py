"""Mistakes in the C++ headers, all in one build of the library, its tests and the Python extension: first the C++ tests are asked, and of
what they do not notice the files of Python tests. Both only where they reach the mistake, which a run without any has told."""

import json
import os
import re
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from threading import Lock

import cpp_sites

ROOT = Path(__file__).resolve().parents[2]
INCLUDE = ROOT / "libcure/include"
TREE = ROOT / "build/mutation/cpp"
PACKAGE = TREE / "package/libcure"
#: From the bottom; the tests of a header's own folder are asked first, then those above, then those below.
FOLDERS = ["numerics", "kinetics", "heat", "process", "ensemble", "uncertain", "decide", "advise", "follow", "job", "fit", "page", "io"]
RUNS_ON = "runs on"


def _put_in(chosen: list[cpp_sites.Site]) -> None:
    """Writes the headers that are others than those that stand there."""
    for header in INCLUDE.rglob("*.hpp"):
        text = cpp_sites.put_in(header.read_text(), [(n, site) for n, site in enumerate(chosen, 1) if site.file == header])
        text += cpp_sites.SWITCHES * (header.name == "arithmetic.hpp")
        target = TREE / "libcure/include" / header.relative_to(INCLUDE)
        target.parent.mkdir(parents=True, exist_ok=True)
        if not target.exists() or target.read_text() != text:
            target.write_text(text)


def build(chosen: list[cpp_sites.Site], jobs: int) -> list[cpp_sites.Site]:
    """The library, tests and extension with the chosen mistakes in them, and which of them the compiler took."""
    for folder in ("libcure/src", "libcure/cmake", "tests", "bindings"):
        shutil.copytree(ROOT / folder, TREE / folder, dirs_exist_ok=True)
    for name in ("models", "validation", "notebooks", "CMakeLists.txt", "README.md", "LICENSE"):
        (TREE / name).unlink(missing_ok=True)
        (TREE / name).symlink_to(ROOT / name)
    options = ["-DCMAKE_BUILD_TYPE=Release", "-DLIBCURE_BUILD_TESTS=ON", "-DLIBCURE_BUILD_PYTHON=ON", "-DLIBCURE_NEWER_INSTRUCTIONS=OFF"]
    # Warnings are those of the mistakes.
    options += ["-DCMAKE_CXX_FLAGS=-w", "-DCMAKE_CXX_FLAGS_RELEASE=-O1 -DNDEBUG", f"-DPython_EXECUTABLE={sys.executable}"]
    subprocess.run(["cmake", "-G", "Ninja", "-S", TREE, "-B", TREE / "build", *options], check=True, stdout=subprocess.DEVNULL)
    every = TREE / "build/every.cpp"
    every.write_text("".join(f'#include "{header.relative_to(INCLUDE)}"\n' for header in sorted(INCLUDE.rglob("*.hpp"))))
    ninja = ["ninja", "-C", TREE / "build", "-k", "0", "-j", str(jobs)]
    # Most of what is no C++ the compiler sees in the headers alone, and sooner.
    read = ["c++", f"@{TREE / 'build/own_flags.txt'}", "-w", "-fsyntax-only", "-fmax-errors=0", every]
    for command in (read, [*ninja, "cure_compiled"], [*ninja, "_core", *(f"test_{folder}" for folder in FOLDERS)]):
        while True:
            _put_in(chosen)
            done = subprocess.run(command, capture_output=True, text=True, cwd=TREE / "build")
            if done.returncode == 0:
                break
            said = done.stdout + done.stderr
            refused = {(Path(file).name, int(line)) for file, line in re.findall(r"(\S+\.hpp):(\d+)", said)}
            kept = [site for site in chosen if not any((site.file.name, line) in refused for line in range(site.line, site.last_line + 1))]
            if len(kept) == len(chosen):
                sys.exit(said[-4000:])
            chosen = kept
    return chosen


def _package() -> None:
    """The installed package, with the extension that has the mistakes in it."""
    installed = Path(subprocess.check_output([sys.executable, "-c", "import libcure; print(libcure.__path__[0])"], text=True).strip())
    shutil.rmtree(PACKAGE.parent, ignore_errors=True)
    shutil.copytree(installed, PACKAGE, ignore=shutil.ignore_patterns("__pycache__", "_core*"))
    (built,) = (TREE / "build/bindings").glob("_core*.so")
    (PACKAGE / built.name).symlink_to(built)


def _command(asked: list[str], passed_over: list[str]) -> list[str]:
    if asked[0] in FOLDERS:
        return [str(TREE / f"build/tests/test_{asked[0]}"), "--gtest_brief=1", "--gtest_fail_fast", "--gtest_filter=-*ThatAreReliedOn*"]
    without = [f"--deselect={test}" for test in passed_over]
    return [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", "-W", "ignore::ResourceWarning", *without, *asked]


def _asked(asked: list[str], number: int, timeout_s: float, passed_over: list[str], **more: str) -> str | None:
    """What failed first, if anything did, of a program of C++ tests or of files or functions of Python tests."""
    path = os.pathsep.join([str(PACKAGE.parent), str(Path(__file__).parent)])
    environment = {**os.environ, "LIBCURE_MUTANT": str(number), "PYTHONPATH": path, "PYTHONDONTWRITEBYTECODE": "1"}
    environment |= {"MPLBACKEND": "Agg", "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1", **more}
    try:
        done = subprocess.run(_command(asked, passed_over), cwd=ROOT, env=environment, capture_output=True, timeout=timeout_s)
    except subprocess.TimeoutExpired:
        return RUNS_ON
    if done.returncode in (0, 5):
        return None
    failed = re.search(rb"^\[  FAILED  \] (\S+)|^(?:FAILED|ERROR) (\S+)", done.stdout, re.M)
    return next(name.decode() for name in failed.groups() if name) if failed else f"ends with {done.returncode}"


def python_files(without: list[str]) -> list[str]:
    _package()
    files = [file for folder in ("tests/python", "validation") for file in (ROOT / folder).glob("test_*.py")]
    return sorted(str(file.relative_to(ROOT)) for file in files if file.stem not in without)


def reached(every: list[str], jobs: int, timeout_s: float) -> dict[str, dict]:
    """What each program of C++ tests, or function of Python tests, takes and reaches without a mistake; kept until its file changes."""
    kept = TREE / f"reached-{Path(every[0]).stem}.json"
    known = json.loads(kept.read_text()) if kept.exists() else {}
    writing = Lock()

    def told(asked: str) -> dict:
        program = asked in FOLDERS
        changed = Path(_command([asked], [])[0 if program else -1]).stat().st_mtime
        if asked in known and known[asked]["changed"] == changed:
            return known[asked]
        marks, passed_over, began = TREE / f"{Path(asked).stem}.reached", [], time.monotonic()
        marks.unlink(missing_ok=True)
        more = {"LIBCURE_MUTANTS_REACHED": str(marks)} | ({} if program else {"PYTEST_ADDOPTS": "-p reached_by_test"})
        # The extension is another than the one that is installed: what minds is passed over.
        while (failed := _asked([asked], 0, timeout_s, passed_over, **more)) is not None:
            if failed == RUNS_ON:
                passed_over = ["all: takes too long"]
                break
            if "::" not in failed or failed in passed_over or len(passed_over) > 5:
                sys.exit(f"{asked} fails without a mistake: {failed}")
            passed_over.append(failed)
            began = time.monotonic()
        took, tests = round(time.monotonic() - began, 1), {}
        if program:
            tests = {asked: {"s": took, "reaches": [number for number, mark in enumerate(marks.read_bytes()) if mark] if marks.exists() else []}}
        elif failed is None:
            tests = json.loads(marks.with_suffix(".json").read_text())
        numbers = set().union(*(test["reaches"] for test in tests.values()))
        print(asked, took, "s, reaches", len(numbers), *passed_over, flush=True)
        # Whoever ends this does not lose what was told so far.
        with writing:
            known[asked] = {"changed": changed, "s": took, "passed_over": passed_over, "tests": tests}
            kept.write_text(json.dumps(known, indent=1) + "\n")
        return known[asked]

    with ThreadPoolExecutor(jobs) as threads:
        return dict(zip(every, threads.map(told, every), strict=True))


def noticed(number: int, site: cpp_sites.Site, found: dict[str, dict], limit_s: float) -> tuple[str | None, str]:
    """What noticed the mistake, if anything did, and how far it was looked for: programs of C++ tests one after the other, those of
    the header's own folder first, then those that take least; of Python tests those that take least, for ``limit_s`` in all."""
    own = site.file.relative_to(INCLUDE / "cure").parts[0]
    passed_over = [test for file in found.values() for test in file["passed_over"]]
    tests = {name: test["s"] for file in found.values() for name, test in file["tests"].items() if number in test["reaches"]}
    reaching = sorted(tests, key=lambda name: (name != own, tests[name]))
    programs = [name for name in reaching if name in FOLDERS]
    for name in programs:
        if (failed := _asked([name], number, 60 + 5 * tests[name], [])) is not None:
            return f"{name}: {failed}", ""
    asked, sum_s = [], 0.0
    for name in reaching if not programs else []:
        if (sum_s := sum_s + tests[name]) < limit_s:
            asked.append(name)
    if asked and (failed := _asked(asked, number, 60 + 5 * limit_s, passed_over)) is not None:
        return failed, ""
    kind = "C++ programs" if FOLDERS[0] in found else "Python tests"
    return None, f"by {len(programs or asked)} of {len(reaching)} {kind} that reach it"
