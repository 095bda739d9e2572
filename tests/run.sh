#!/usr/bin/env bash
# Runs every test of this checkout on Debian 12; stops at the first part that fails.
#   tests/run.sh               the parts for each change
#   tests/run.sh mypy pytest   only these parts (set-up always runs first)
#   tests/run.sh long          what takes longer, for before a release: headers alone, lowest versions, trials, sanitizers for all
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

export CMAKE_BUILD_PARALLEL_LEVEL="${CMAKE_BUILD_PARALLEL_LEVEL:-$(nproc)}"
export CTEST_PARALLEL_LEVEL="${CTEST_PARALLEL_LEVEL:-$CMAKE_BUILD_PARALLEL_LEVEL}"
# What bindings/setup.sh --test has compiled is not compiled again.
export CMAKE_CXX_COMPILER_LAUNCHER="${CMAKE_CXX_COMPILER_LAUNCHER:-ccache}" CCACHE_DIR="${CCACHE_DIR:-$PWD/build/ccache}"
export MPLBACKEND=Agg
export PATH="$PWD/.venv/bin:$PATH"

all_parts=(format release ctest tidy mypy pytest notebooks docs web sanitize fuzz)
long_parts=(headers lowest trials sanitize_all threads)

setup() { bindings/setup.sh --test; }

# find_files PATTERN FOLDER...: NUL-separated; folders that do not exist are passed over.
find_files() {
    local pattern=$1 folder
    shift
    for folder in "$@"; do
        if [ -d "$folder" ]; then find "$folder" -name "$pattern" -print0; fi
    done
}

format() {
    find_files '*.[ch]pp' libcure bindings tests | xargs -0r clang-format --dry-run --Werror ||
        { echo "lay the code out with: clang-format -i FILE"; return 1; }
    # What a header uses of the standard library it includes.
    find_files '*.hpp' libcure/include | xargs -0r cpplint --quiet --filter=-,+build/include_what_you_use
    # Python: lint and the order of imports; the rules are in pyproject.toml.
    ruff check --quiet .
}

# C++ tests of what has loops for several vector sets, or asks for numbers that sanitizers are too slow for. Those of other folders
# run in the sanitize part, and all of them in sanitize_all; the library that they test, as this compiler makes it, is what pytest asks.
release() {
    local folder targets=()
    for folder in decide ensemble fit follow heat kinetics numerics page process uncertain; do targets+=("test_$folder"); done
    cmake --preset release
    cmake --build --preset release --target cure_compiled "${targets[@]}"
}

ctest() { command ctest --preset release --output-on-failure --exclude-regex '_NOT_BUILT$'; }

# What clang tools are told: the strict flags of the release build, and one file that includes every header.
clang_flags() {
    cat build/release/own_flags.txt
    python -m pybind11 --includes | sed 's/-I/-isystem /g'
}

all_headers() {
    find_files '*.hpp' libcure/include | tr '\0' '\n' | sort |
        sed 's|^libcure/include/\(.*\)|#include "\1"|' >build/release/all_headers.cpp
    echo build/release/all_headers.cpp
}

# The second compiler reads each header with no other of ours before it and the extension with the same strict warnings,
# as users of the compiled library do; and all headers with the other standard library. For each change tidy reads all
# headers with their bodies, and the sanitize part compiles the library and the tests with it.
headers() {
    clang_flags >build/release/clang_flags.txt
    { python tests/cpp/headers_alone.py .; find_files '*.cpp' bindings/src | tr '\0' '\n'; } |
        xargs -d '\n' -n1 -P"$CMAKE_BUILD_PARALLEL_LEVEL" clang++ @build/release/clang_flags.txt -DCURE_COMPILED -fsyntax-only \
            -Wno-pragma-once-outside-header -x c++
    clang++ @build/release/clang_flags.txt -stdlib=libc++ -fsyntax-only -x c++ "$(all_headers)"
}

tidy() {
    local flags
    mapfile -t flags < <(clang_flags | xargs -n1)
    clang-tidy --quiet "$(all_headers)" -- "${flags[@]}"
}

mypy() { command mypy; }

# Two at a time, a file to each, so that what a file shares is made once; NumPy then needs no threads of its own.
pytest() { OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 command pytest --numprocesses 2 --dist loadfile --no-loadscope-reorder --durations 20; }

# Two lists of pip for the environment of the lowest versions: dependencies at their floors and what runs the tests;
# constraints for all else.
lowest_versions() {
    python - <<'END'
import re
import tomllib
from pathlib import Path

with open("pyproject.toml", "rb") as file:
    dependencies = tomllib.load(file)["project"]["dependencies"]
floors = dict(re.fullmatch(r"([\w-]+)>=([\w.]+)", line).groups() for line in dependencies)
pins = [line for line in Path("tests/constraints.txt").read_text().splitlines() if "==" in line]
wanted = [f"{name}=={floor}" for name, floor in floors.items()] + ["pytest", "pytest-xdist", "hypothesis"]
others = [pin for pin in pins if pin.partition("==")[0].lower() not in floors]
Path("build/lowest_wanted.txt").write_text("\n".join([*wanted, ""]))
Path("build/lowest_others.txt").write_text("\n".join([*others, ""]))
END
}

# Commands, chart, fit and a followed job with the lowest versions that pyproject.toml allows. libcure is the one that
# is built already.
lowest() {
    local stamp wanted
    lowest_versions
    wanted="$PWD $(python -V) $(cat build/lowest_wanted.txt build/lowest_others.txt)"
    stamp=build/lowest/wanted.stamp
    if [ "$(cat "$stamp" 2>/dev/null)" != "$wanted" ]; then
        python -m venv --clear build/lowest
        build/lowest/bin/python -m pip install --quiet --disable-pip-version-check --no-compile \
            --requirement build/lowest_wanted.txt --constraint build/lowest_others.txt
        echo "$wanted" >"$stamp"
    fi
    rm -rf build/lowest/lib/python3*/site-packages/libcure*
    cp -r .venv/lib/python3*/site-packages/libcure* build/lowest/lib/python3*/site-packages/
    OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 build/lowest/bin/python -m pytest --numprocesses 2 \
        tests/python/test_cli.py tests/python/test_chart_command.py tests/python/test_fit_model_file.py \
        tests/python/test_follow_command.py
}

# Notebooks are committed without outputs and beside their text pair (checked by pytest); here they are run.
notebooks() {
    if compgen -G "notebooks/*.ipynb" >/dev/null; then
        command pytest --nbmake --nbmake-timeout=600 notebooks
    else
        echo "no notebooks yet"
    fi
}

# The documentation builds without a warning: a dead link or a broken docstring is one.
docs() {
    python -m sphinx -W --keep-going -q -b html notebooks/site build/site
    echo "build/site/index.html"
}

# The page for a phone: its engine by emscripten, then the page in headless Chromium.
web() {
    bindings/web/build.sh --test
    command pytest -q --numprocesses 2 --dist loadfile --override-ini pythonpath="tests/web tests/python build/web-tools" tests/web
}

# Over many drawn jobs, laboratories and seeds.
trials() { OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1 command pytest --numprocesses 2 --dist worksteal -m trials; }

# The C++ tests that the release part does not have, and those of many lanes.
sanitize() { cmake --workflow --preset debug-sanitize; }

sanitize_all() {
    cmake --preset debug-sanitize
    cmake --build --preset debug-sanitize-all
    command ctest --preset debug-sanitize-all
}

threads() { cmake --workflow --preset thread-sanitize; }

# The readers of the core under libFuzzer, two at a time, FUZZ_SECONDS each. What is found stays in build/fuzz, and
# goes to tests/fuzz/found/READER once it is mended.
fuzz() {
    local readers program=build/debug-sanitize/tests/fuzz/fuzz_readers
    cmake --preset debug-sanitize >/dev/null
    cmake --build --preset debug-sanitize --target fuzz_readers
    python tests/fuzz/corpus.py build/fuzz
    readers="$("$program" 2>&1)" || true  # without a name it lists them
    for reader in $readers; do mkdir -p "build/fuzz/$reader.new"; done
    xargs -n1 -P2 sh -c 'found="tests/fuzz/found/$2"; [ -d "$found" ] || found=
        "$0" "$2" -max_total_time="$1" -timeout=10 -rss_limit_mb=2048 -max_len=16384 -dict=build/fuzz/words.dict \
        -artifact_prefix="build/fuzz/$2-" -print_final_stats=1 "build/fuzz/$2.new" "build/fuzz/$2" $found \
        >"build/fuzz/$2.log" 2>&1 || { cat "build/fuzz/$2.log"; exit 255; }' "$program" "${FUZZ_SECONDS:-2}" <<<"$readers"
    grep -H "number_of_executed_units" build/fuzz/*.log
}

run_part() {
    local start=$SECONDS
    printf '\n=== %s ===\n' "$1"
    "$1"
    printf -- '--- %s: %d s\n' "$1" "$((SECONDS - start))"
}

parts=("$@")
[ "${#parts[@]}" -gt 0 ] || parts=("${all_parts[@]}")
[ "${parts[*]}" != long ] || parts=(release "${long_parts[@]}")
for part in "${parts[@]}"; do
    case " ${all_parts[*]} ${long_parts[*]} " in
        *" $part "*) ;;
        *) echo "run.sh: unknown part '$part'; known: ${all_parts[*]} ${long_parts[*]}, and long for the last ones" >&2; exit 2 ;;
    esac
done

# Two lanes of parts at a time: LANE LANE, each the names of parts. What they say is shown lane by lane.
side_by_side() {
    local lane lanes=() failed=0
    mkdir -p build/lanes
    for lane in "$@"; do
        (for part in $lane; do run_part "$part"; done) >"build/lanes/${lane// /-}.log" 2>&1 &
        lanes+=($!)
    done
    for lane in "$@"; do
        wait "${lanes[0]}" || failed=1
        lanes=("${lanes[@]:1}")
        cat "build/lanes/${lane// /-}.log"
    done
    return "$failed"
}

run_part setup
if [ "${parts[*]}" = "${all_parts[*]}" ]; then
    for part in format release; do run_part "$part"; done
    # What installs packages, or has one processor idle, beside what does not.
    side_by_side "web mypy docs" "ctest tidy notebooks"
    for part in pytest sanitize fuzz; do run_part "$part"; done
else
    for part in "${parts[@]}"; do run_part "$part"; done
fi
printf '\nall parts passed in %d s: %s\n' "$SECONDS" "${parts[*]}"
