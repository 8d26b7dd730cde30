#!/usr/bin/env bash
# Builds the library that native apps load, small, and fails where it is more than a phone should load.
#   build-app.sh TARGET    Linux or Android
# For Android: bindings/kotlin/README.md.
set -euo pipefail
cd "$(dirname "$0")/../.."
export PATH="$HOME/.cargo/bin:$PATH"
source bindings/ffi/small.sh
most=8000000

host=$(rustc -vV | sed -n 's/^host: //p')
target=$1
# SQLite and ring, being C, are never unwound through. Where cc is gcc, it is asked for -Os otherwise.
export CFLAGS="${CFLAGS:-} -fno-asynchronous-unwind-tables -fno-unwind-tables -fvisibility=hidden -Oz"

# Equal functions are one; so are equal tables for unwinding, equal constants and equal lists of methods, which nobody here
# knows by their address.
flags=(
    "${small_rustflags[@]}"
    -C "linker=$PWD/bindings/ffi/link-app.sh"
    -C link-arg=-Wl,--icf=all
    -C link-arg=-Wl,--ignore-data-address-equality
)
case $target in
    x86_64-*)
        flags+=(
            # To say how to unwind a function that counts from its frame pointer takes half of what it takes otherwise.
            -C force-frame-pointers=yes
            # A little over the 5 of opt-level "z": fewer functions, and 13 KB less.
            -C llvm-args=-inline-threshold=8
            # The later word counts. 44 KB less than with what small.sh says, which is the better one on aarch64.
            -C llvm-args=-outliner-benefit-threshold=12
            -C llvm-args=-machine-outliner-reruns=4
            # Without the copies for AVX2, as on processors that have none, and as constant in time. Made for size they are the
            # slower ones, too: to check a signature took 6 ms with AVX2, and 0.1 without.
            --cfg 'curve25519_dalek_backend="serial"'
            --cfg 'poly1305_backend="soft"'
        )
        ;;
esac
# A third of a megabyte of addresses that the loader puts right, packed as the oldest system reads it that is to be served.
case $target in
    *-linux-android*)
        # From Android 6 on; and pages as large as Android 15 may have them. The NDK's compiler takes lld by itself.
        flags+=(-C link-arg=-Wl,--pack-dyn-relocs=android -C link-arg=-Wl,-z,max-page-size=16384)
        ;;
    *-linux-gnu)
        # From glibc 2.36 on (Debian 12). rustup's Rust brings lld.
        flags+=(-C link-arg=-Wl,-z,pack-relative-relocs -C link-arg=-fuse-ld=lld)
        lld=$(rustc --print sysroot)/lib/rustlib/$host/bin/gcc-ld
        if [ -d "$lld" ]; then flags+=(-C "link-arg=-B$lld"); fi
        ;;
esac
case $target in
    "$host") ;; # its own compiler
    aarch64-unknown-linux-gnu)
        export TAILCOMB_LINKER=${TAILCOMB_LINKER:-aarch64-linux-gnu-gcc}
        export CC_aarch64_unknown_linux_gnu=${CC_aarch64_unknown_linux_gnu:-aarch64-linux-gnu-gcc}
        ;;
esac
build_with "${flags[@]}"
cargo rustc --locked --profile release-app -p tailcomb-ffi --lib --crate-type cdylib --target "$target"

library=target/$target/release-app/libtailcomb_ffi.so
size=$(wc -c <"$library")
echo "$library: $size bytes, $most at most"
[ "$size" -le "$most" ]
