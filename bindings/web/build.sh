#!/usr/bin/env bash
# Builds the core for browsers: pkg/core.js, pkg/core_bg.wasm and ts/types.ts. Says only what it had to install.
# Where rustup has no wasm library for the browser's target, Debian's own is taken, with a standard library built from
# Debian's source once and kept in $TAILCOMB_WASM_CACHE.
set -euo pipefail
cd "$(dirname "$0")"
here=$PWD
target=wasm32-unknown-unknown
cache=${TAILCOMB_WASM_CACHE:-$HOME/.cache/tailcomb-wasm}
export CARGO_TARGET_DIR=${TAILCOMB_WASM_TARGET:-$here/../../target/wasm}
export PATH="$HOME/.cargo/bin:$PATH"

say() { printf '== %s\n' "$*" >&2; }
fail() { printf '%s\n' "$@" >&2; exit 1; }
root() { if [ "$(id -u)" = 0 ]; then "$@"; else sudo "$@"; fi; }

apt_install() {
    command -v apt-get >/dev/null || fail "please install by your own package manager: $*"
    root apt-get update -qq
    root env DEBIAN_FRONTEND=noninteractive apt-get install -y -qq "$@" >/dev/null
}

# SQLite is C: a clang that knows the target.
compiler() {
    local clang
    for clang in clang clang-22 clang-19 clang-18 clang-17 clang-16 clang-15 clang-14; do
        if command -v "$clang" >/dev/null && "$clang" --print-targets 2>/dev/null | grep -q wasm32; then
            echo "$clang"
            return
        fi
    done
}

has_target() { [ -d "$(rustc --print sysroot)/lib/rustlib/$target/lib" ]; }

# The package that another needs, by how its name begins.
needs() { apt-cache depends "$1" | awk -v name="^$2" '$1 == "Depends:" && $2 ~ name {print $2; exit}'; }

# Debian's compiler for this target, and its standard library, in a folder of our own.
from_debian() {
    command -v apt-get >/dev/null ||
        fail "the wasm target is missing: rustup target add $target" "(or a Rust that carries it)"
    local linker
    linker=$(find "$(rustc --print sysroot)" -name rust-lld -type f | head -n 1)
    [ -n "$linker" ] || fail "rust-lld is missing beside rustc: it comes with Rust from rustup"
    if [ ! -f "$cache/ready" ]; then
        say "taking the wasm target from Debian's rustc-web (107 MB, and a minute of building, once)"
        root apt-get update -qq
        local std libs
        std=$(needs libstd-rust-web-dev 'libstd-rust-web-[0-9]')
        [ -n "$std" ] || fail "the wasm target is missing, and this Debian has no rustc-web: rustup target add $target"
        apt_install "$(needs "$std" libllvm)"
        rm -rf "$cache" && mkdir -p "$cache/debs" "$cache/root" "$cache/std/src"
        (cd "$cache/debs" && apt-get -o APT::Sandbox::User=root download -qq rustc-web rust-web-src libstd-rust-web-dev "$std")
        for deb in "$cache"/debs/*.deb; do dpkg -x "$deb" "$cache/root"; done
        libs=$(echo "$cache"/root/usr/lib/*-linux-gnu)
        printf '#!/bin/sh\nLD_LIBRARY_PATH=%s exec %s "$@"\n' "'$libs'" "'$cache/root/usr/bin/rustc'" >"$cache/rustc"
        chmod +x "$cache/rustc"
        printf '[package]\nname = "empty"\nversion = "0.0.0"\nedition = "2021"\n[workspace]\n' >"$cache/std/Cargo.toml"
        : >"$cache/std/src/lib.rs"
        (cd "$cache/std" && RUSTC_BOOTSTRAP=1 RUSTC="$cache/rustc" RUSTFLAGS=-Cembed-bitcode=yes \
            CARGO_TARGET_DIR="$cache/std/target" \
            cargo build -q --release --target "$target" -Zbuild-std=std,panic_abort)
        mkdir -p "$cache/root/usr/lib/rustlib/$target/lib"
        find "$cache/std/target/$target/release/deps" -name '*.rlib' ! -name 'libempty*' \
            -exec cp {} "$cache/root/usr/lib/rustlib/$target/lib/" \;
        rm -rf "$cache/debs" "$cache/std"
        touch "$cache/ready"
    fi
    export RUSTC=$cache/rustc CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER=$linker
}

if ! has_target; then
    if command -v rustup >/dev/null; then
        say "adding the wasm target to Rust"
        timeout 300 rustup target add "$target" >/dev/null 2>&1 || true
    fi
    has_target || from_debian
fi
clang=$(compiler)
if [ -z "$clang" ]; then
    say "installing clang (SQLite is C)"
    apt_install clang
    clang=$(compiler)
    [ -n "$clang" ] || fail "a clang that knows wasm32 is missing: install clang"
fi
export CC_wasm32_unknown_unknown=$clang AR_wasm32_unknown_unknown=${AR:-ar}

cargo build --locked -q --profile release-web --lib -p tailcomb-web --target "$target"
(
    unset RUSTC
    CARGO_TARGET_DIR=$CARGO_TARGET_DIR/tools cargo run --locked -q --manifest-path bindgen/Cargo.toml -- \
        "$CARGO_TARGET_DIR/$target/release-web/tailcomb_web.wasm" pkg
    unset CARGO_TARGET_DIR
    cargo run --locked -q -p tailcomb-web --bin tailcomb-web-types >ts/types.ts.new
)
cmp -s ts/types.ts.new ts/types.ts && rm ts/types.ts.new || mv ts/types.ts.new ts/types.ts
