"""Holds the include levels of libcure's headers: includes run downward only, without cycles, and all reach ROOT.

Usage: include_levels.py SOURCE_DIR
"""

import re
import sys
from pathlib import Path

MAX_LINES = 300

# Refuses builds without NaN.
ROOT = "cure/arithmetic.hpp"

# Which folders of cure/ each folder may include besides itself. "" is cure/*.hpp: scalar, units, error, range.
MAY_INCLUDE = {
    "": set(),
    "numerics": {""},
    "kinetics": {"", "numerics"},
    "heat": {"", "numerics"},
    "process": {"", "numerics", "kinetics", "heat"},
    "ensemble": {"", "numerics", "kinetics", "heat", "process"},
    "fit": {"", "numerics", "kinetics", "heat", "process"},
    "uncertain": {"", "numerics", "kinetics", "heat", "process", "ensemble"},
    "decide": {"", "numerics", "kinetics", "heat", "process", "ensemble", "uncertain"},
    "advise": {"", "numerics", "kinetics", "heat", "process", "ensemble", "uncertain", "decide"},
    "io": {"", "numerics", "kinetics", "heat", "process", "ensemble", "uncertain", "decide", "advise", "follow", "page", "job", "fit"},
    "job": {"", "numerics", "kinetics", "heat", "process", "ensemble", "uncertain", "decide"},
    "page": {"", "numerics", "kinetics", "heat", "process", "ensemble", "uncertain", "decide"},
    "follow": {"", "numerics", "kinetics", "heat", "process", "ensemble", "uncertain", "decide"},
}

INCLUDE = re.compile(r'^\s*#\s*include\s*[<"]([^>"]+)[>"]', re.MULTILINE)


def includes_of(path: Path) -> list[str]:
    return INCLUDE.findall(path.read_text(encoding="utf-8"))


def folder_of(header: str) -> str:
    """The folder below cure/ of an include path such as cure/heat/mesh.hpp."""
    parts = header.split("/")
    return parts[1] if len(parts) > 2 else ""


def level_problems(header: str, includes: list[str], known: set[str]) -> list[str]:
    folder = folder_of(header)
    if folder not in MAY_INCLUDE:
        return [f"{header}: unknown folder '{folder}'; give it a level in this script"]
    problems = []
    for include in includes:
        if include.startswith("nlohmann/") and folder != "io":
            problems.append(f"{header}: includes {include}; only cure/io may")
        elif include.startswith("cure/"):
            if include not in known:
                problems.append(f"{header}: includes {include}, which does not exist")
            elif folder_of(include) not in MAY_INCLUDE[folder] | {folder}:
                problems.append(f"{header}: includes {include}, which is not below it")
        elif include.endswith(".hpp") and "/" not in include:
            problems.append(f"{header}: includes '{include}'; write the path from cure/")
    return problems


def find_cycle(graph: dict[str, list[str]]) -> list[str]:
    done: set[str] = set()

    def visit(header: str, trail: list[str]) -> list[str]:
        if header in trail:
            return [*trail[trail.index(header) :], header]
        if header in done:
            return []
        for include in graph[header]:
            if cycle := visit(include, [*trail, header]):
                return cycle
        done.add(header)
        return []

    for header in graph:
        if cycle := visit(header, []):
            return cycle
    return []


def without_root(graph: dict[str, list[str]]) -> list[str]:
    """Headers that do not include ROOT, directly or by others."""
    reach = {ROOT}
    while more := {h for h, included in graph.items() if h not in reach and reach & set(included)}:
        reach |= more
    return sorted(set(graph) - reach)


def main() -> int:
    root = Path(sys.argv[1])
    include_dir = root / "libcure" / "include"
    headers = {p.relative_to(include_dir).as_posix(): p for p in sorted(include_dir.rglob("*.hpp"))}
    if not headers:
        print(f"no headers under {include_dir}")
        return 1

    includes = {header: includes_of(path) for header, path in headers.items()}
    problems = []
    for header, path in headers.items():
        problems += level_problems(header, includes[header], set(headers))
        lines = len(path.read_text(encoding="utf-8").splitlines())
        if lines > MAX_LINES:
            problems.append(f"{header}: {lines} lines; at most {MAX_LINES}")
    for source in sorted([*(root / "libcure" / "src").glob("*.cpp"), *(root / "bindings").rglob("*.cpp")]):
        for include in includes_of(source):
            if include.startswith("nlohmann/"):
                problems.append(f"{source.relative_to(root)}: includes {include}; only cure/io may")
    graph = {h: [i for i in includes[h] if i in headers] for h in headers}
    problems += [f"{header}: does not reach {ROOT}" for header in without_root(graph)]
    if cycle := find_cycle(graph):
        problems.append("include cycle: " + " -> ".join(cycle))

    print(*problems, f"{len(headers)} headers, {len(problems)} problems", sep="\n")
    return 1 if problems else 0


if __name__ == "__main__":
    sys.exit(main())
