#!/usr/bin/env bash
# Makes the generated sources anew from the built library: Sources/TailcombKit/Generated and the C headers. With --check:
# only says whether what is here is what the generator gives today.
#   generate.sh LIBRARY GENERATOR [--check]
set -euo pipefail
library=$(realpath "$1")
generator=$(realpath "$2")
cd "$(dirname "$0")"

made=$(mktemp -d)
trap 'rm -rf "$made"' EXIT
"$generator" swift "$library" "$made/all"
mkdir -p "$made/TailcombKit/Generated"
for crate in core ffi trade; do
    mv "$made/all/tailcomb_$crate.swift" "$made/TailcombKit/Generated/"
    mkdir "$made/tailcomb_${crate}FFI"
    mv "$made/all/tailcomb_${crate}FFI.h" "$made/tailcomb_${crate}FFI/"
    # The generator's own names Darwin's modules, which are only there on Darwin.
    printf 'module tailcomb_%sFFI {\n    header "tailcomb_%sFFI.h"\n    export *\n}\n' "$crate" "$crate" \
        >"$made/tailcomb_${crate}FFI/module.modulemap"
done

stale=
for part in TailcombKit/Generated tailcomb_coreFFI tailcomb_ffiFFI tailcomb_tradeFFI; do
    if [ "${3:-}" = --check ]; then
        diff -rq "$made/$part" "Sources/$part" || stale=1
    else
        mkdir -p "Sources/$part"
        rm -rf "Sources/${part:?}"
        mv "$made/$part" "Sources/$part"
    fi
done
if [ -n "$stale" ]; then
    echo "bindings/swift is not what the generator gives today: run make swift, and look at what changed" >&2
    exit 1
fi
