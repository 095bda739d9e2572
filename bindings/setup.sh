#!/usr/bin/env bash
# Makes this checkout ready on Debian 12: system packages, a Python environment in .venv, libcure built into it.
# Call it as often as you like: it does only what is missing, and returns at once when nothing is.
#   bindings/setup.sh          what the libcure command needs
#   bindings/setup.sh --test   also what tests/run.sh needs, in the versions of tests/constraints.txt
# PYTHON=... picks another interpreter (3.11 or newer).
set -euo pipefail
cd "$(dirname "${BASH_SOURCE[0]}")/.."

with_tests=no
case "${1:-}" in
    "") ;;
    --test) with_tests=yes ;;
    *) echo "setup.sh: unknown argument '$1' (only --test is known)" >&2; exit 2 ;;
esac

say() { echo "libcure setup: $*" >&2; }

mkdir -p build
exec 9>build/.setup.lock
flock 9

# System packages.
packages=(
    "g++                 compiles the C++ core"
    "cmake               configures the build"
    "ninja-build         runs the build"
    "python3             runs the command line"
    "python3-venv        keeps our Python packages apart from the system's"
    "python3-dev         headers for the Python extension"
    "libboost-dev        integrators for the single-temperature solves (headers only)"
    "nlohmann-json3-dev  reads case and model files (headers only)"
    "libeigen3-dev       matrices and views of results (headers only)"
)
if [ "$with_tests" = yes ]; then
    packages+=(
        "libgtest-dev        runs the C++ tests"
        "libgmock-dev        matchers for the C++ tests"
        "ccache              compiles once what the builds of the tests share"
        "clang               second compiler"
        "libclang-rt-14-dev  its sanitizers"
        "libc++-14-dev       its standard library"
        "libc++abi-14-dev    what that needs"
        "clang-format        checks the layout of the code"
        "clang-tidy          finds mistakes"
        "doxygen             C++ declarations of the documentation"
        "libsundials-dev     second integrator for the cross-solver check"
    )
fi

if command -v dpkg-query >/dev/null; then
    installed=" $(dpkg-query -W -f='${db:Status-Status}:${Package} ' 2>/dev/null) "
    missing=()
    for line in "${packages[@]}"; do
        case "$installed" in
            *" installed:${line%% *} "*) ;;
            *) missing+=("$line") ;;
        esac
    done
    if [ "${#missing[@]}" -gt 0 ]; then
        say "installing these Debian packages:"
        printf '  %s\n' "${missing[@]}" >&2
        as_root=()
        if [ "$(id -u)" -ne 0 ]; then
            if ! command -v sudo >/dev/null; then
                say "not root and no sudo here; ask an administrator to install: ${missing[*]%% *}"
                exit 1
            fi
            as_root=(sudo)
        fi
        # The log is shown only when something fails.
        apt=("${as_root[@]}" env DEBIAN_FRONTEND=noninteractive apt-get -qq -o Acquire::Retries=3)
        if ! { "${apt[@]}" update && "${apt[@]}" install --yes --no-install-recommends "${missing[@]%% *}"; } \
            >build/apt.log 2>&1 </dev/null; then
            cat build/apt.log >&2
            say "apt-get failed; what it said is above"
            exit 1
        fi
    fi
else
    say "no dpkg here, so these must be present already:"
    printf '  %s\n' "${packages[@]}" >&2
fi

# Python environment.
python="${PYTHON:-/usr/bin/python3}"
if ! "$python" -c 'import sys; sys.exit(sys.version_info < (3, 11))'; then
    say "needs Python 3.11 or newer; $python is $("$python" -V 2>&1)"
    exit 1
fi

# Scripts in the environment hold its full path, so a moved checkout gets a new one.
environment="$PWD $("$python" -V)"
if [ "$(cat .venv/environment.stamp 2>/dev/null)" != "$environment" ]; then
    say "creating the Python environment .venv"
    "$python" -m venv --clear .venv
    echo "$environment" >.venv/environment.stamp
fi

# requirements PART...: of build, run and test, from pyproject.toml.
requirements() {
    .venv/bin/python - "$@" <<'END'
import sys
import tomllib

with open("pyproject.toml", "rb") as file:
    settings = tomllib.load(file)
parts = {"build": settings["build-system"]["requires"], "run": settings["project"]["dependencies"],
         "test": settings["project"]["optional-dependencies"]["test"]}
print(*(line for part in sys.argv[1:] for line in parts[part]), sep="\n")
END
}
installed_stamp=.venv/requirements.stamp
touch "$installed_stamp"
parts=(build run)
constraints=()
if [ "$with_tests" = yes ]; then
    parts+=(test)
    # Few of the files of all these packages are ever imported: those are compiled when they are.
    constraints=(--constraint tests/constraints.txt --no-compile)
fi
wanted="$(requirements "${parts[@]}")"
if [ "$with_tests" = yes ]; then wanted+=$'\n'"constraints $(sha256sum <tests/constraints.txt)"; fi
install() { .venv/bin/python -m pip install --quiet --disable-pip-version-check "${constraints[@]}" "$@" >&2; }
packages=
if grep -qvxFf "$installed_stamp" <<<"$wanted"; then
    say "installing Python packages into .venv:" $(requirements "${parts[@]}")
    # What the build needs first; the rest comes while it runs.
    install $(requirements build)
    install $(requirements "${parts[@]}") &
    packages=$!
fi

# libcure itself.
sources="$(
    find CMakeLists.txt pyproject.toml LICENSE libcure bindings models \( -name __pycache__ -o -path bindings/web \) -prune -o \
        -type f -printf '%p %s %T@\n' | LC_ALL=C sort | sha256sum
)"
if [ "$(cat .venv/sources.stamp 2>/dev/null)" != "$sources" ]; then
    say "building libcure into .venv (a few minutes the first time)"
    export CMAKE_BUILD_PARALLEL_LEVEL="${CMAKE_BUILD_PARALLEL_LEVEL:-$(nproc)}"
    strict=OFF
    if [ "$with_tests" = yes ]; then
        # The release build of the tests has the same library: it finds it compiled.
        strict=ON
        export CMAKE_CXX_COMPILER_LAUNCHER="${CMAKE_CXX_COMPILER_LAUNCHER:-ccache}" CCACHE_DIR="${CCACHE_DIR:-$PWD/build/ccache}"
        export CCACHE_PREFIX_CPP="${CCACHE_PREFIX_CPP:-$PWD/bindings/unlined.sh}"  # a comment more compiles nothing again
        export CXX="${CXX:-c++}"  # by the name under which CMake finds it there
    fi
    # The build folder is kept, so that only what changed is compiled again.
    .venv/bin/python -m pip install --quiet --disable-pip-version-check --no-build-isolation --no-deps \
        --force-reinstall --config-settings=build-dir=build/python --config-settings=cmake.define.LIBCURE_WERROR=$strict . >&2
    echo "$sources" >.venv/sources.stamp
    built=yes
fi

if [ -n "$packages" ]; then
    wait "$packages"
    # Those of the tests are all there are; what was pinned before counts no longer.
    if [ "$with_tests" = yes ]; then : >"$installed_stamp"; fi
    echo "$wanted" >>"$installed_stamp"
fi
if [ -n "${built:-}" ]; then say "ready"; fi
