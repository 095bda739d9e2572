#!/usr/bin/env bash
# How many lines and branches of the library the tests reach, file by file.
#   tests/coverage.sh [cpp] [python]     both when none is named
# The C++ core by the C++ tests and by those of Python, which ask an extension with counters; the package by all of pytest
# (commands in processes of their own count too). With one of both named, the core is what that one reaches. What each
# writes is in build/coverage.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

bindings/setup.sh --test
export PATH="$PWD/.venv/bin:$PATH" MPLBACKEND=Agg OMP_NUM_THREADS=1 OPENBLAS_NUM_THREADS=1
export CMAKE_CXX_COMPILER_LAUNCHER="${CMAKE_CXX_COMPILER_LAUNCHER:-ccache}" CCACHE_DIR="${CCACHE_DIR:-$PWD/build/ccache}"
pip install --quiet --disable-pip-version-check --constraint tests/constraints.txt coverage gcovr
mkdir -p build/coverage

# The installed package with the extension that counts. Commands of the tests are asked in forked processes, which leave by
# os._exit: that would lose what was counted.
counted() {
    local package=build/coverage/package
    cmake --build --preset coverage --target _core
    rm -rf "$package"
    mkdir -p "$package"
    cp -r .venv/lib/python3*/site-packages/libcure "$package"
    rm "$package"/libcure/_core*.so
    ln -s "$PWD"/build/coverage/tree/bindings/_core*.so "$package/libcure"
    cat >"$package/sitecustomize.py" <<'END'
import ctypes
import os
import sys


def leave(code, leave=os._exit):
    if core := sys.modules.get("libcure._core"):
        ctypes.CDLL(core.__file__).__gcov_dump()
    leave(code)


os._exit = leave
END
}

cpp() {
    cmake --build --preset coverage
    ctest --preset coverage
}

python() {
    export COVERAGE_FILE="$PWD/build/coverage/python/data"
    rm -rf build/coverage/python
    mkdir -p build/coverage/python
    counted
    PYTHONPATH="$PWD/build/coverage/package" \
        coverage run --rcfile tests/coverage.ini -m pytest --numprocesses 2 --dist loadfile --no-loadscope-reorder \
        --junitxml build/coverage/python-tests.xml
    coverage combine --quiet --rcfile tests/coverage.ini
    coverage report --rcfile tests/coverage.ini --sort cover >build/coverage/python.txt
    tail -n 2 build/coverage/python.txt
}

# A line of a template counts once, however many types it is made for. Loops of samples run more than 2^32 times.
core() {
    gcovr --root . --filter libcure/include --filter libcure/src --exclude-throw-branches --merge-mode-functions=separate --merge-lines \
        --gcov-suspicious-hits-threshold 0 \
        --txt build/coverage/cpp.txt --json build/coverage/cpp.json --txt-summary build/coverage/tree
}

parts=("$@")
[ "${#parts[@]}" -gt 0 ] || parts=(cpp python)
cmake --preset coverage
find build/coverage/tree -name '*.gcda' -delete
for part in "${parts[@]}"; do
    case "$part" in
        cpp | python) "$part" ;;
        *) echo "coverage.sh: unknown part '$part'; known: cpp python" >&2; exit 2 ;;
    esac
done
core
