#!/usr/bin/env bash
# Builds and tests the Swift package against the library in the given folder, where a Swift toolchain is present; says so
# where it is not.
set -euo pipefail
native=$(realpath "$1")
cd "$(dirname "$0")"
if ! command -v swift >/dev/null || ! swift --version 2>/dev/null | grep -q 'Swift version'; then
    echo "SKIPPED: no Swift toolchain here; the package was neither compiled nor tested"
    exit 0
fi
export LD_LIBRARY_PATH="$native${LD_LIBRARY_PATH:+:$LD_LIBRARY_PATH}"
swift build --build-tests -Xlinker "-L$native"
swift test --skip-build -Xlinker "-L$native"
