#!/usr/bin/env bash
# The libcure command, from a fresh checkout: sets up what is missing, then runs it.
#   bindings/libcure.sh predict CASE.json
set -euo pipefail
here="$(cd "$(dirname "${BASH_SOURCE[0]}")" && pwd)"
"$here/setup.sh"
exec "$here/../.venv/bin/libcure" "$@"
