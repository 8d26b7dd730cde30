#!/usr/bin/env bash
# Makes the wheel and leaves it in target/wheels: the library, the modules that UniFFI generates from it, type stubs made
# from those, and what is written here.
set -euo pipefail
cd "$(dirname "$0")/../.."
export PATH="$PWD/.venv/bin:$HOME/.cargo/bin:$PATH"
to=target/python
rm -rf "$to" target/wheels/tailcomb-*.whl
mkdir -p "$to/bin" "$to/generated"

# The generator's speed does not matter: it is built as tests are.
cargo build --locked --release -p tailcomb-ffi
cargo build --locked -p tailcomb-ffi --features bindgen --bin tailcomb-bindgen
target/debug/tailcomb-bindgen python target/release/libtailcomb_ffi.so "$to/generated"
rm -rf bindings/python/src/tailcomb/_native
python bindings/python/stubs.py "$to/generated" bindings/python/src/tailcomb/_native

# maturin asks a program of this name, last of all before it packs: `generate … --out-dir FOLDER … LIBRARY`. The library's
# own symbols say what it offers, so it is read before it is stripped.
cat >"$to/bin/uniffi-bindgen" <<EOF
#!/usr/bin/env bash
set -euo pipefail
library=\${@: -1}
while [ "\$1" != --out-dir ]; do shift; done
"$PWD/target/debug/tailcomb-bindgen" python "\$library" "\$2"
strip --strip-unneeded -o "\$library.stripped" "\$library"
mv "\$library.stripped" "\$library"
EOF
chmod +x "$to/bin/uniffi-bindgen"
cd bindings/python
PATH="$OLDPWD/$to/bin:$PATH" maturin build --quiet --compatibility linux --out ../../target/wheels
