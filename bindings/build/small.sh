# What makes the library for phones small, beside the profile `phone`: sourced by those who build it.

# No panic unwinds (see `src/enclosure.rs`) and C never does, so there are no tables for it. Frame
# pointers stay: reports of crashes follow them.
rust="-C force-unwind-tables=no -C force-frame-pointers=yes"

# Instructions that repeat become functions, as they do for arm64 anyhow.
rust+=" -C llvm-args=-enable-machine-outliner=always"
c="-fno-asynchronous-unwind-tables -fno-unwind-tables"

# Where a panic happened is told without the folders of whoever built it.
for sources in "${CARGO_HOME:-$HOME/.cargo}"/registry/src/*/; do
  rust+=" --remap-path-prefix=${sources%/}="
done

# Of zstd's ways to compress the quickest alone: every reader reads it all the same. Batches of
# changes are a seventh larger by it (57 KB for the demo's 253 changes, not 50).
for way in DFAST GREEDY LAZY LAZY2 BTLAZY2 BTOPT BTULTRA; do c+=" -DZSTD_EXCLUDE_${way}_BLOCK_COMPRESSOR"; done
c+=" -DZSTD_STRIP_ERROR_STRINGS -DHUF_FORCE_DECOMPRESS_X1 -DZSTD_FORCE_DECOMPRESS_SEQUENCES_SHORT -DZSTD_NO_INLINE -DDYNAMIC_BMI2=0"

# The journal is plain tables: no search in texts, no JSON, no shapes, no counting of columns for
# a planner, nothing loaded at run time. These alone may be left out of SQLite's one file.
sqlite=""
for part in FTS3 FTS3_PARENTHESIS FTS5 RTREE STAT4 DBSTAT_VTAB LOAD_EXTENSION JSON1 COLUMN_METADATA API_ARMOR; do
  sqlite+=" -USQLITE_ENABLE_$part"
done
for part in AUTHORIZATION COMPILEOPTION_DIAGS COMPLETE DATETIME_FUNCS DEPRECATED DESERIALIZE GET_TABLE INCRBLOB \
  JSON LOAD_EXTENSION PROGRESS_CALLBACK SHARED_CACHE TCL_VARIABLE TRACE UTF16; do
  sqlite+=" -DSQLITE_OMIT_$part"
done
sqlite+=" -DSQLITE_UNTESTABLE"

# Rust's own library as it comes is built for speed and for unwinding. Built along with ours it is
# small and does neither; without its sources the library for phones is about a fifth larger (x86_64).
# To be given to cargo, which then also wants a --target.
anew=()
if [ -f "$("${RUSTC:-rustc}" --print sysroot)/lib/rustlib/src/rust/library/Cargo.lock" ]; then
  export RUSTC_BOOTSTRAP=1
  anew=(-Zbuild-std=std,panic_abort -Zbuild-std-features=optimize_for_size)
else
  echo "larger than need be: rustup component add rust-src" >&2
fi

export RUSTFLAGS="${RUSTFLAGS:-} $rust"
export CFLAGS="${CFLAGS:-} $c"
export LIBSQLITE3_FLAGS="${LIBSQLITE3_FLAGS:-}$sqlite"
unset rust c sqlite part sources way
