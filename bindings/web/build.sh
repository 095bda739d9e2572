#!/usr/bin/env bash
# Builds the core as WebAssembly on Debian 12, sets up its own tool chain, and hands the engine to `libcure page`:
#   bindings/web/build.sh           build/web/engine.wasm and engine.js, and beside the installed package in .venv
#   bindings/web/build.sh --test    also what tests/web needs: a browser, and the checker of accessibility
# `libcure page` finds it there; a wheel that is built afterwards has it too. Nothing is done when nothing has changed.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

say() { echo "libcure web: $*" >&2; }

with_tests=no
case "${1:-}" in
    "") ;;
    --test) with_tests=yes ;;
    *) say "unknown argument '$1' (only --test is known)"; exit 2 ;;
esac
mkdir -p build

# An entry is there when its program is, from wherever it came, or its package.
packages=(emscripten:em++ cmake:cmake ninja-build:ninja nodejs:node libboost-dev: nlohmann-json3-dev: libeigen3-dev:)
[ "$with_tests" = no ] || packages+=(chromium:chromium)
missing=()
for entry in "${packages[@]}"; do
    name=${entry%%:*} program=${entry#*:}
    if [ -n "$program" ]; then command -v "$program" >/dev/null && continue; fi
    [ "$(dpkg-query -W -f='${db:Status-Status}' "$name" 2>/dev/null)" = installed ] || missing+=("$name")
done
if [ "${#missing[@]}" -gt 0 ]; then
    as_root=()
    if ! command -v apt-get >/dev/null; then
        say "no apt-get here; install by other means: ${missing[*]}"
        exit 1
    elif [ "$(id -u)" -ne 0 ]; then
        command -v sudo >/dev/null || { say "not root and no sudo here; ask an administrator to install: ${missing[*]}"; exit 1; }
        as_root=(sudo)
    fi
    say "installing ${missing[*]} (emscripten takes some 900 MB on disk, chromium 400)"
    apt=("${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq -o Acquire::Retries=3)
    # The log is shown only when something fails.
    if ! { "${apt[@]}" update && "${apt[@]}" install --yes --no-install-recommends "${missing[@]}"; } \
        >build/apt-web.log 2>&1 </dev/null; then
        cat build/apt-web.log >&2
        say "apt-get could not install ${missing[*]}; what it said is above"
        exit 1
    fi
fi

# axe-core, the checker of accessibility, as a Python package carries it, whose other wants are not needed; a reader of codes.
tools="axe-playwright-python==0.1.8 zxing-cpp==3.1.1"
if [ "$with_tests" = yes ] && [ "$(cat build/web-tools/stamp 2>/dev/null)" != "$tools" ]; then
    # shellcheck disable=SC2086
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-deps --upgrade --target build/web-tools $tools >&2 ||
        { say "pip could not install $tools, which tests/web needs; what it said is above"; exit 1; }
    echo "$tools" >build/web-tools/stamp
fi

# Debian's parser of JavaScript, for a node that does not look there.
export NODE_PATH=/usr/share/nodejs
unset CMAKE_CXX_COMPILER_LAUNCHER
if [ ! -f build/web/build.ninja ]; then
    emcmake cmake -G Ninja -S bindings/web -B build/web -DCMAKE_BUILD_TYPE=None >/dev/null
fi
cmake --build build/web --parallel "${CMAKE_BUILD_PARALLEL_LEVEL:-$(nproc)}"

# Into the package that is installed already, so that it need not be built again.
for package in .venv/lib/python3*/site-packages/libcure; do
    [ -d "$package" ] || continue
    mkdir -p "$package/web"
    cp build/web/engine.wasm build/web/engine.js bindings/web/page/* "$package/web/"
done
say "engine: $(stat -c %s build/web/engine.wasm) bytes"
