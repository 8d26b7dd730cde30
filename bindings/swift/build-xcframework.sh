#!/usr/bin/env bash
# Builds Tailcomb.xcframework on a Mac with Xcode: iPhones, the simulator on both kinds of Mac, Macs themselves.
# Not tried by the project's own tests, which run on Linux.
set -euo pipefail
cd "$(dirname "$0")/../.."
[ "$(uname)" = Darwin ] || { echo "this needs a Mac with Xcode" >&2; exit 1; }

targets=(aarch64-apple-ios aarch64-apple-ios-sim x86_64-apple-ios aarch64-apple-darwin x86_64-apple-darwin)
rustup target add "${targets[@]}"
source bindings/ffi/small.sh
build_with "${small_rustflags[@]}"
for target in "${targets[@]}"; do
    echo "== $target"
    cargo rustc --locked --profile release-app -p tailcomb-ffi --lib --crate-type staticlib --target "$target"
done

out=bindings/swift
work=$(mktemp -d)
trap 'rm -rf "$work"' EXIT
mkdir "$work/headers" "$work/sim" "$work/mac"
for crate in core ffi trade; do cp "$out/Sources/tailcomb_${crate}FFI/tailcomb_${crate}FFI.h" "$work/headers/"; done
# One map for the three modules: a framework carries one.
for crate in core ffi trade; do cat "$out/Sources/tailcomb_${crate}FFI/module.modulemap"; done >"$work/headers/module.modulemap"

library=libtailcomb_ffi.a
lipo -create target/{aarch64-apple-ios-sim,x86_64-apple-ios}/release-app/$library -output "$work/sim/$library"
lipo -create target/{aarch64,x86_64}-apple-darwin/release-app/$library -output "$work/mac/$library"
rm -rf "$out/Tailcomb.xcframework"
xcodebuild -create-xcframework \
    -library target/aarch64-apple-ios/release-app/$library -headers "$work/headers" \
    -library "$work/sim/$library" -headers "$work/headers" \
    -library "$work/mac/$library" -headers "$work/headers" \
    -output "$out/Tailcomb.xcframework"
