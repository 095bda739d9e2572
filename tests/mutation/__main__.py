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
from xml.etree import ElementTree

import cpp_check
import cpp_sites
import python_sites

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "build/mutation"
FRONT = ROOT / "bindings/libcure"


def cpp(seed: int, count: int, jobs: int, without: list[str], limit_s: float) -> list[dict]:
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
        # To know what a file reaches it is run once, however long the limit for one mistake is.
        found = cpp_check.reached(tests, jobs, 10 * limit_s)

        def told(number: int, found: dict = found) -> None:
            site = chosen[number - 1]
            what, looked = cpp_check.noticed(number, site, found, limit_s)
            by[number] = _told(number, site, what, f"{by[number]['not_noticed']}, {looked}" if number in by else looked)

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


def _took() -> dict[tuple[str, str], float]:
    """Seconds of a test function, all its parameters together, by the stem of its file and its name."""
    took: dict[tuple[str, str], float] = {}
    for case in ElementTree.parse(ROOT / "build/coverage/python-tests.xml").iter("testcase"):
        test = (case.get("classname", "").rpartition(".")[2], case.get("name", "").partition("[")[0])
        took[test] = took.get(test, 0.0) + float(case.get("time", 0))
    return took


def _asked(package: Path, wanted: list[str], timeout_s: float) -> str | None:
    environment = {**os.environ, "PYTHONPATH": str(package.parent), "PYTHONDONTWRITEBYTECODE": "1", "MPLBACKEND": "Agg", "OMP_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *wanted]
    done = subprocess.run(command, cwd=ROOT, env=environment, capture_output=True, text=True, timeout=timeout_s)
    if done.returncode == 4:
        sys.exit(done.stdout + done.stderr)
    failed = re.search(r"^(?:FAILED|ERROR) (\S+)", done.stdout, re.M)
    return None if done.returncode == 0 else failed[1] if failed else f"pytest ends with {done.returncode}"


def _noticed_by_python(package: Path, site: python_sites.Site, tests: dict[str, float], limit_s: float) -> tuple[str | None, str]:
    """What noticed the mistake, if anything did, and how far it was looked for: by the tests that take least, for ``limit_s`` in all."""
    wanted, sum_s = [], 0.0
    for test in sorted(tests, key=tests.__getitem__):
        if (sum_s := sum_s + tests[test]) < limit_s:
            wanted.append(test)
    if not wanted:
        return None, "as none reaches it" if not tests else f"as those that reach it take {min(tests.values()):.0f} s"
    target = package / site.file.relative_to(FRONT)
    target.write_text(python_sites.put_in(site, site.file.read_text()))
    try:
        # Much longer than they take without the mistake: it makes them run on.
        return _asked(package, wanted, 60 + 5 * limit_s), f"by {len(wanted)} of {len(tests)} that reach it"
    except subprocess.TimeoutExpired:
        return "runs on", ""
    finally:
        target.write_text(site.file.read_text())


def python(seed: int, count: int, jobs: int, without: list[str], limit_s: float) -> list[dict]:
    installed = Path(subprocess.check_output([sys.executable, "-c", "import libcure; print(libcure.__path__[0])"], text=True).strip())
    shutil.rmtree(FOLDER / "python", ignore_errors=True)
    # A package for each of those that are asked at a time.
    free: queue.Queue[Path] = queue.Queue()
    for number in range(jobs):
        package = FOLDER / f"python/{number}/libcure"
        shutil.copytree(installed, package, ignore=shutil.ignore_patterns("__pycache__"))
        free.put(package)
    every = [site for file in sorted(FRONT.rglob("*.py")) for site in python_sites.sites(file)]
    reached, took = _reached(), _took()

    def told(number: int, site: python_sites.Site) -> dict:
        lines = reached.get(str(site.file.relative_to(FRONT)), {})
        # What is done when the module is imported, all that use the module look at.
        tests = lines.get(site.start[0], set()) or (set().union(*lines.values()) if site.start[0] in lines else set())
        named = {f"{file}::{name}": took[Path(file).stem, name] for file, name in tests if Path(file).stem not in without and (Path(file).stem, name) in took}
        package = free.get()
        try:
            return _told(number, site, *_noticed_by_python(package, site, named, limit_s))
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
    parser.add_argument("--limit", type=float, default=120, metavar="S", help="the Python tests asked of one mistake take this long in all without it")
    parser.add_argument("--without", nargs="*", default=[], metavar="NAME", help="files of Python tests that are not asked (they take long), as test_study")
    given = parser.parse_args()
    began = time.monotonic()
    FOLDER.mkdir(parents=True, exist_ok=True)
    told = {"cpp": cpp, "python": python}[given.language](given.seed, given.count, given.jobs, given.without, given.limit)
    (FOLDER / f"{given.language}.json").write_text(json.dumps(told, indent=1) + "\n")
    noticed = sum(one["noticed"] is not None for one in told)
    for one in told:
        if one["noticed"] is None:
            print(f"not noticed {one['not_noticed']}: {one['file']}:{one['line']}: {one['kind']}: {one['text']}")
    print(f"{noticed} of {len(told)} mistakes noticed ({100 * noticed / len(told):.0f} %), {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
