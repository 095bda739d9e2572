"""How many small mistakes in the library do its tests notice? Not part of tests/run.sh: it takes an hour.

    python tests/mutation cpp [N] [--seed S]       N mistakes drawn in the headers, against the C++ tests
    python tests/mutation python [N] [--seed S]    in the front, against the tests that reach the line
                                                   (first LIBCURE_COVERAGE_CONTEXTS=test_function tests/coverage.sh python)

What became of each is in build/mutation/LANGUAGE.json; those that nothing noticed are printed.
"""

import argparse
import json
import os
import random
import re
import shutil
import subprocess
import sys
import time
from pathlib import Path

import cpp_sites
import python_sites

ROOT = Path(__file__).resolve().parents[2]
FOLDER = ROOT / "build/mutation"
#: A test that takes so much longer than usual has noticed too: the mistake makes it run on.
TIMEOUT_S = 400
#: From the bottom; the tests of a header's own folder are asked first, then those above, then those below.
FOLDERS = ["numerics", "kinetics", "heat", "process", "ensemble", "uncertain", "decide", "advise", "follow", "job", "fit", "page", "io"]


def _built(tree: Path, chosen: list[cpp_sites.Site], jobs: int) -> list[cpp_sites.Site]:
    """The tests with the chosen mistakes in them, and which of them the compiler took."""
    source, include = ROOT / "libcure/include", tree / "libcure/include"
    for folder in ("libcure", "tests"):
        shutil.copytree(ROOT / folder, tree / folder, dirs_exist_ok=True)
    for name in ("models", "validation", "notebooks", "CMakeLists.txt", "README.md", "LICENSE"):
        (tree / name).unlink(missing_ok=True)
        (tree / name).symlink_to(ROOT / name)
    # Warnings are those of the mistakes.
    options = ["-DCMAKE_BUILD_TYPE=Release", "-DLIBCURE_BUILD_TESTS=ON", "-DLIBCURE_NEWER_INSTRUCTIONS=OFF"]
    options += ["-DCMAKE_CXX_FLAGS=-w", "-DCMAKE_CXX_FLAGS_RELEASE=-O1 -DNDEBUG"]
    subprocess.run(["cmake", "-G", "Ninja", "-S", tree, "-B", tree / "build", *options], check=True, stdout=subprocess.DEVNULL)
    programs = [f"test_{folder}" for folder in FOLDERS]
    # The library by itself finds most of what is no C++, and sooner.
    for targets in (["cure_compiled"], programs):
        for _ in range(8):
            for file in {site.file for site in chosen} | {source / "cure/arithmetic.hpp"}:
                text = cpp_sites.put_in(file.read_text(), [(n, site) for n, site in enumerate(chosen, 1) if site.file == file])
                if file.name == "arithmetic.hpp":
                    text += cpp_sites.SWITCHES
                (include / file.relative_to(source)).write_text(text)
            done = subprocess.run(["ninja", "-C", tree / "build", "-k", "0", "-j", str(jobs), *targets], capture_output=True, text=True)
            if done.returncode == 0:
                break
            refused = {(Path(file).name, int(line)) for file, line in re.findall(r"(\S+\.hpp):(\d+)", done.stdout)}
            kept = [site for site in chosen if (site.file.name, site.line) not in refused]
            for site in set(chosen) - set(kept):
                shutil.copy(site.file, include / site.file.relative_to(source))
            if len(kept) == len(chosen):
                sys.exit(done.stdout[-4000:])
            chosen = kept
    return chosen


def _noticed_by_cpp(tree: Path, number: int, site: cpp_sites.Site) -> str | None:
    own = site.file.relative_to(ROOT / "libcure/include/cure").parts[0]
    at = FOLDERS.index(own) if own in FOLDERS else 0
    for folder in FOLDERS[at:] + FOLDERS[:at][::-1]:
        program = [tree / f"build/tests/test_{folder}", "--gtest_brief=1", "--gtest_fail_fast", "--gtest_filter=-*ThatAreReliedOn*"]
        try:
            done = subprocess.run(program, env={**os.environ, "LIBCURE_MUTANT": str(number)}, capture_output=True, timeout=TIMEOUT_S)
        except subprocess.TimeoutExpired:
            return f"{folder}: runs on"
        if done.returncode != 0:
            failed = re.search(rb"\[  FAILED  \] (\S+)", done.stdout)
            return f"{folder}: {failed[1].decode() if failed else 'ends with ' + str(done.returncode)}"
    return None


def cpp(draw: random.Random, count: int, jobs: int) -> list[dict]:
    headers = sorted((ROOT / "libcure/include/cure").rglob("*.hpp"))
    every = [site for header in headers for site in cpp_sites.sites(header)]
    tree = FOLDER / "cpp"
    # Some are no C++ in their place; the first of those that are will do.
    drawn = cpp_sites.apart(draw.sample(every, min(len(every), 3 * count // 2)))
    if jobs:
        chosen = _built(tree, drawn, jobs)
        (tree / "chosen.json").write_text(json.dumps([drawn.index(site) for site in chosen]))
    chosen = [drawn[i] for i in json.loads((tree / "chosen.json").read_text())]
    print(f"{len(every)} places in {len(headers)} headers, {len(chosen)} mistakes compiled")
    if (without := _noticed_by_cpp(tree, 0, chosen[0])) is not None:
        sys.exit(f"a test fails without a mistake: {without}")
    return [_told(n, site, _noticed_by_cpp(tree, n, site)) for n, site in enumerate(chosen[:count], 1)]


def _reached() -> dict[str, dict[int, list[str]]]:
    """By file of the front (its end) and line: the test functions that reach it."""
    from coverage import CoverageData

    data = CoverageData(str(ROOT / "build/coverage/python/data"))
    data.read()
    parts = {file: file.partition("/libcure/")[2] for file in data.measured_files()}
    return {part: {line: [c for c in tests if c] for line, tests in data.contexts_by_lineno(file).items()} for file, part in parts.items()}


def _noticed_by_python(package: Path, site: python_sites.Site, tests: list[str]) -> str | None:
    source = site.file.read_text()
    environment = {**os.environ, "PYTHONPATH": str(package.parent), "PYTHONDONTWRITEBYTECODE": "1", "MPLBACKEND": "Agg", "OMP_NUM_THREADS": "1"}
    # tests.python.FILE.FUNCTION, where helpers may be called like tests
    named = [(ROOT / f"tests/python/{file}.py", name) for file, name in sorted({tuple(test.split(".")[-2:]) for test in tests})]
    wanted = [f"{file}::{name}" for file, name in named if file.exists() and re.search(rf"^def {name}\(", file.read_text(), re.M)]
    if not wanted:
        return None
    target = package / site.file.relative_to(ROOT / "bindings/libcure")
    target.write_text(python_sites.put_in(site, source))
    try:
        done = subprocess.run(
            [sys.executable, "-m", "pytest", "-q", "-x", "-p", "no:cacheprovider", *wanted],
            cwd=ROOT,
            env=environment,
            capture_output=True,
            text=True,
            timeout=TIMEOUT_S,
        )
    except subprocess.TimeoutExpired:
        return "runs on"
    finally:
        target.write_text(source)
    if done.returncode == 4:
        sys.exit(done.stdout + done.stderr)
    failed = re.search(r"^(?:FAILED|ERROR) (\S+)", done.stdout, re.M)
    return None if done.returncode == 0 else failed[1] if failed else f"pytest ends with {done.returncode}"


def python(draw: random.Random, count: int, _jobs: int) -> list[dict]:
    front = ROOT / "bindings/libcure"
    installed = Path(subprocess.check_output([sys.executable, "-c", "import libcure; print(libcure.__path__[0])"], text=True).strip())
    package = FOLDER / "python/libcure"
    shutil.rmtree(package.parent, ignore_errors=True)
    shutil.copytree(installed, package, ignore=shutil.ignore_patterns("__pycache__"))
    every = [site for file in sorted(front.rglob("*.py")) for site in python_sites.sites(file)]
    reached, told = _reached(), []
    for number, site in enumerate(draw.sample(every, min(len(every), count)), 1):
        tests = reached.get(str(site.file.relative_to(front)), {}).get(site.start[0], [])
        told.append(_told(number, site, _noticed_by_python(package, site, tests) if tests else None, reached=bool(tests)))
    return told


def _told(number: int, site, noticed: str | None, reached: bool = True) -> dict:
    said = {"number": number, "file": str(site.file.relative_to(ROOT)), "line": site.line, "kind": site.kind, "noticed": noticed}
    said |= {"text": site.text[:200]} | ({} if reached else {"reached": False})
    print(json.dumps(said), flush=True)
    return said


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("language", choices=["cpp", "python"])
    parser.add_argument("count", nargs="?", type=int, default=100)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--jobs", type=int, default=os.cpu_count(), help="processes that compile; 0: what was compiled for the same draw is asked again")
    given = parser.parse_args()
    began = time.monotonic()
    FOLDER.mkdir(parents=True, exist_ok=True)
    told = {"cpp": cpp, "python": python}[given.language](random.Random(given.seed), given.count, given.jobs)
    (FOLDER / f"{given.language}.json").write_text(json.dumps(told, indent=1) + "\n")
    noticed = sum(one["noticed"] is not None for one in told)
    for one in told:
        if one["noticed"] is None:
            print(f"not noticed: {one['file']}:{one['line']}: {one['kind']}: {one['text']}")
    print(f"{noticed} of {len(told)} mistakes noticed ({100 * noticed / len(told):.0f} %), {time.monotonic() - began:.0f} s")


if __name__ == "__main__":
    main()
