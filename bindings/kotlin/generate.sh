#!/usr/bin/env bash
# Builds the library for this machine and writes what Kotlin needs of it: its sources into target/generated-sources, and
# the library itself, stripped, into target/native, from where it goes into the jar. Files that are the same are left
# alone, so that nothing is compiled twice.
set -euo pipefail
cd "$(dirname "$0")/../.."
export PATH="$HOME/.cargo/bin:$PATH"
to=bindings/kotlin/target

# The library's own symbols say what it offers, so it is read before it is stripped. The generator's speed does not
# matter: it is built as tests are.
cargo build --locked --release -p tailcomb-ffi
cargo build --locked -p tailcomb-ffi --features bindgen --bin tailcomb-bindgen
library=target/release/libtailcomb_ffi.so
mkdir -p "$to"
new=$(mktemp -d "$to/new.XXXX")
trap 'rm -rf "$new"' EXIT
target/debug/tailcomb-bindgen kotlin "$library" "$new"
mkdir -p "$to/generated-sources/uniffi"
for each in "$to"/generated-sources/uniffi/*; do
    [ ! -e "$each" ] || [ -e "$new/${each##*/}" ] || rm -r "$each"
done
(cd "$new" && find . -name '*.kt') | while read -r file; do
    there="$to/generated-sources/uniffi/$file"
    if ! cmp -s "$new/$file" "$there"; then
        mkdir -p "$(dirname "$there")"
        cp "$new/$file" "$there"
    fi
done

# As JNA names machines.
case $(uname -m) in
    x86_64) machine=linux-x86-64 ;;
    aarch64) machine=linux-aarch64 ;;
    *) echo "this machine's name for JNA is not known here: $(uname -m)" >&2 && exit 1 ;;
esac
mkdir -p "$to/native/$machine"
strip --strip-unneeded -o "$to/native/$machine/libtailcomb_ffi.so" "$library"
