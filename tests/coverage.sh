#!/usr/bin/env bash
# How many lines and branches of the library the tests reach, file by file.
#   tests/coverage.sh [cpp] [python]     both when none is named
# The C++ core by the C++ tests alone, the package by all of pytest (commands in processes of their own count too).
# What each writes is in build/coverage.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

bindings/setup.sh --test
export PATH="$PWD/.venv/bin:$PATH" MPLBACKEND=Agg OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
export CMAKE_CXX_COMPILER_LAUNCHER="${CMAKE_CXX_COMPILER_LAUNCHER:-ccache}" CCACHE_DIR="${CCACHE_DIR:-$PWD/build/ccache}"
pip install --quiet --disable-pip-version-check --constraint tests/constraints.txt coverage gcovr
mkdir -p build/coverage

cpp() {
    cmake --preset coverage
    cmake --build --preset coverage
    find build/coverage/tree -name '*.gcda' -delete
    ctest --preset coverage
    gcovr --root . --filter libcure/include --filter libcure/src --exclude-throw-branches --merge-mode-functions=separate \
        --txt build/coverage/cpp.txt --txt-summary build/coverage/tree
}

python() {
    export COVERAGE_FILE="$PWD/build/coverage/python/data"
    rm -rf build/coverage/python
    mkdir -p build/coverage/python
    coverage run --rcfile tests/coverage.ini -m pytest --numprocesses 2 --dist loadfile --no-loadscope-reorder
    coverage combine --quiet --rcfile tests/coverage.ini
    coverage report --rcfile tests/coverage.ini --sort cover >build/coverage/python.txt
    tail -n 2 build/coverage/python.txt
}

parts=("$@")
[ "${#parts[@]}" -gt 0 ] || parts=(cpp python)
for part in "${parts[@]}"; do
    case "$part" in
        cpp | python) "$part" ;;
        *) echo "coverage.sh: unknown part '$part'; known: cpp python" >&2; exit 2 ;;
    esac
done
