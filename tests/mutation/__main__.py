"""How many small mistakes in the library do its tests notice? Not part of tests/run.sh: it takes an hour.

    python tests/mutation cpp [N] [--seed S]       N mistakes drawn in the headers, against the C++ tests and
                                                   what these do not notice against the files of Python tests
    python tests/mutation python [N] [--seed S]    in the front, against the tests that reach the line
                                                   (first LIBCURE_COVERAGE_CONTEXTS=test_function tests/coverage.sh python)

What became of each is in build/mutation/LANGUAGE.json; those that nothing noticed are printed.
"""

import argparse
import json
import os
import queue
import random
import re
import shutil
import subprocess
import sys
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import cpp_check
import cpp_sites
import python_sites

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "build/mutation"
FRONT = ROOT / "bindings/libcure"
#: For the Python tests of one mistake. If they take less without it, they have noticed: it makes them run on.
TIMEOUT_S = 300


def cpp(seed: int, count: int, jobs: int, without: list[str]) -> list[dict]:
    headers = sorted(cpp_check.INCLUDE.rglob("*.hpp"))
    every = [site for header in headers for site in cpp_sites.sites(header)]
    # Some are no C++ in their place; the first of those that are will do.
    drawn = cpp_sites.apart(random.Random(seed).sample(every, min(len(every), 3 * count // 2)))
    # Asked again for the same draw, nothing is compiled but tests that have changed.
    kept = FOLDER / f"cpp-{count}-of-{len(every)}-seed-{seed}.json"
    chosen = cpp_check.build([drawn[i] for i in json.loads(kept.read_text())] if kept.exists() else drawn, jobs)
    kept.write_text(json.dumps([drawn.index(site) for site in chosen]))
    print(f"{len(every)} places in {len(headers)} headers, {len(chosen)} mistakes compiled", flush=True)
    by: dict[int, dict] = {}
    numbers = range(1, min(count, len(chosen)) + 1)
    for tests in (cpp_check.FOLDERS, cpp_check.python_files(without)):
        found = cpp_check.reached(tests, jobs)

        def told(number: int, found: dict = found) -> None:
            site = chosen[number - 1]
            by[number] = _told(number, site, *cpp_check.noticed(number, site, found))

        with ThreadPoolExecutor(jobs) as threads:
            list(threads.map(told, [number for number in numbers if number not in by or by[number]["noticed"] is None]))
    return [by[number] for number in numbers]


def _reached() -> dict[str, dict[int, set[tuple[str, str]]]]:
    """By file of the front (its end) and line: the test functions that reach it, as file and name."""
    from coverage import CoverageData

    data = CoverageData(str(ROOT / "build/coverage/python/data"))
    data.read()
    found: dict[str, dict[int, set[tuple[str, str]]]] = {}
    for file in data.measured_files():
        # tests.python.FILE.FUNCTION, where helpers may be called like tests
        found[file.rpartition("/libcure/")[2]] = {
            line: {(f"tests/python/{test.split('.')[-2]}.py", test.split(".")[-1]) for test in tests if test.count(".") > 1}
            for line, tests in data.contexts_by_lineno(file).items()
        }
    return found


def _asked(package: Path, wanted: list[str]) -> str | None:
    environment = {**os.environ, "PYTHONPATH": str(package.parent), "PYTHONDONTWRITEBYTECODE": "1", "MPLBACKEND": "Agg", "OMP_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *wanted]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=TIMEOUT_S)
    if done.returncode == 4:
        sys.exit(done.stdout + done.stderr)
    failed = re.search(r"^(?:FAILED|ERROR) (\S+)", done.stdout, re.M)
    return None if done.returncode == 0 else failed[1] if failed else f"pytest ends with {done.returncode}"


def _noticed_by_python(package: Path, site: python_sites.Site, tests: set[tuple[str, str]]) -> tuple[str | None, str]:
    """What noticed the mistake, if anything did, and how far it was looked for."""
    texts = {file: (ROOT / file).read_text() for file in {file for file, _ in tests} if (ROOT / file).exists()}
    wanted = [f"{file}::{name}" for file, name in sorted(tests) if re.search(rf"^def {name}\(", texts.get(file, ""), re.M)]
    if not wanted:
        return None, "as none reaches it"
    target = package / site.file.relative_to(FRONT)
    target.write_text(python_sites.put_in(site, site.file.read_text()))
    try:
        return _asked(package, wanted), f"by {len(wanted)} that reach it"
    except subprocess.TimeoutExpired:
        pass
    finally:
        target.write_text(site.file.read_text())
    try:
        _asked(package, wanted)
    except subprocess.TimeoutExpired:
        return None, f"in {TIMEOUT_S} s by those of {len(wanted)} that reach it"
    return "runs on", ""


def python(seed: int, count: int, jobs: int, without: list[str]) -> list[dict]:
    installed = Path(subprocess.check_output([sys.executable, "-c", "import libcure; print(libcure.__path__[0])"], text=True).strip())
    shutil.rmtree(FOLDER / "python", ignore_errors=True)
    # A package for each of those that are asked at a time.
    free: queue.Queue[Path] = queue.Queue()
    for number in range(jobs):
        package = FOLDER / f"python/{number}/libcure"
        shutil.copytree(installed, package, ignore=shutil.ignore_patterns("__pycache__"))
        free.put(package)
    every = [site for file in sorted(FRONT.rglob("*.py")) for site in python_sites.sites(file)]
    reached = _reached()

    def told(number: int, site: python_sites.Site) -> dict:
        lines = reached.get(str(site.file.relative_to(FRONT)), {})
        # What is done when the module is imported, all that use the module look at.
        tests = lines.get(site.start[0], set()) or (set().union(*lines.values()) if site.start[0] in lines else set())
        tests = {(file, name) for file, name in tests if Path(file).stem not in without}
        package = free.get()
        try:
            return _told(number, site, *_noticed_by_python(package, site, tests))
        finally:
            free.put(package)

    drawn = random.Random(seed).sample(every, min(len(every), count))
    with ThreadPoolExecutor(jobs) as threads:
        return list(threads.map(told, range(1, len(drawn) + 1), drawn))


def _told(number: int, site, noticed: str | None, looked: str) -> dict:
    said = {"number": number, "file": str(site.file.relative_to(ROOT)), "line": site.line, "kind": site.kind, "noticed": noticed}
    said |= {"text": site.text[-200:]} | ({} if noticed else {"not_noticed": looked})
    print(json.dumps(said), flush=True)
    return said


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("language", choices=["cpp", "python"])
    parser.add_argument("count", nargs="?", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count(), help="at a time")
    parser.add_argument("--without", nargs="*", default=[], metavar="NAME", help="files of Python tests that are not asked (they take long), as test_study")
    given = parser.parse_args()
    began = time.monotonic()
    FOLDER.mkdir(parents=True, exist_ok=True)
    told = {"cpp": cpp, "python": python}[given.language](given.seed, given.count, given.jobs, given.without)
    (FOLDER / f"{given.language}.json").write_text(json.dumps(told, indent=1) + "\n")
    noticed = sum(one["noticed"] is not None for one in told)
    for one in told:
        if one["noticed"] is None:
            print(f"not noticed {one['not_noticed']}: {one['file']}:{one['line']}: {one['kind']}: {one['text']}")
    print(f"{noticed} of {len(told)} mistakes noticed ({100 * noticed / len(told):.0f} %), {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
