# Sourced: what makes a library for apps small besides the profile `release-app`, on every system.

# What the code of many functions has in common becomes a function of its own, where that saves more than the 30 bytes that it
# takes to say how to unwind one; and once more, with what came of it.
small_rustflags=(
    -C llvm-args=-enable-machine-outliner=always
    -C llvm-args=-outliner-benefit-threshold=30
    -C llvm-args=-machine-outliner-reruns=2
    # SHA-2 in loops where it is not the processor's own; not written out round by round.
    --cfg 'sha2_backend_soft="compact"'
)
# Panics name the files of libraries from here on, not from this machine's root on.
for sources in "${CARGO_HOME:-$HOME/.cargo}"/registry/src/*; do
    small_rustflags+=("--remap-path-prefix=$sources/=")
done

# SQLite: what nothing here asks of it stays out (https://sqlite.org/compile.html). FTS5 stays, clients are found by it. The
# crate adds these after its own.
export LIBSQLITE3_FLAGS="
    -USQLITE_ENABLE_API_ARMOR -USQLITE_ENABLE_COLUMN_METADATA -USQLITE_ENABLE_DBSTAT_VTAB -USQLITE_ENABLE_FTS3
    -USQLITE_ENABLE_FTS3_PARENTHESIS -USQLITE_ENABLE_LOAD_EXTENSION -USQLITE_ENABLE_RTREE -USQLITE_ENABLE_STAT4
    -USQLITE_SOUNDEX -DSQLITE_DEFAULT_MEMSTATUS=0 -DSQLITE_DQS=0 -DSQLITE_OMIT_AUTHORIZATION -DSQLITE_OMIT_COMPLETE
    -DSQLITE_OMIT_DECLTYPE -DSQLITE_OMIT_DEPRECATED -DSQLITE_OMIT_DESERIALIZE -DSQLITE_OMIT_GET_TABLE -DSQLITE_OMIT_JSON
    -DSQLITE_OMIT_LOAD_EXTENSION -DSQLITE_OMIT_PROGRESS_CALLBACK -DSQLITE_OMIT_SHARED_CACHE -DSQLITE_OMIT_TCL_VARIABLE
    -DSQLITE_OMIT_TRACE"

# Has cargo hand these flags to rustc. What parts them is in no path.
build_with() {
    local IFS=$'\x1f'
    export CARGO_ENCODED_RUSTFLAGS="$*"
}
