#!/usr/bin/env bash
# Builds the core as WebAssembly on Debian 12, sets up its own tool chain, and hands the engine to `libcure page`:
#   bindings/web/build.sh           build/web/engine.wasm and engine.js, and beside the installed package in .venv
# `libcure page` finds it there; a wheel that is built afterwards has it too. Nothing is done when nothing has changed.
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/../.."

say() { echo "libcure web: $*" >&2; }

packages=(emscripten cmake ninja-build nodejs libboost-dev nlohmann-json3-dev libeigen3-dev)
if command -v dpkg-query >/dev/null; then
    installed=" $(dpkg-query -W -f='${db:Status-Status}:${Package} ' 2>/dev/null) "
    missing=()
    for name in "${packages[@]}"; do
        case "$installed" in
            *" installed:$name "*) ;;
            # Another node than Debian's will do.
            *) [ "$name" = nodejs ] && command -v node >/dev/null || missing+=("$name") ;;
        esac
    done
    if [ "${#missing[@]}" -gt 0 ]; then
        say "installing ${missing[*]} (emscripten takes some 900 MB)"
        as_root=()
        [ "$(id -u)" -eq 0 ] || as_root=(sudo)
        mkdir -p build
        apt=("${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq -o Acquire::Retries=3)
        if ! { "${apt[@]}" update && "${apt[@]}" install --yes --no-install-recommends "${missing[@]}"; } \
            >build/apt-web.log 2>&1 </dev/null; then
            cat build/apt-web.log >&2
            say "apt-get failed; what it said is above"
            exit 1
        fi
    fi
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
