# What makes the library for phones small, beside the profile `phone`: sourced by those who build it.
# Tables for unwinding stay where something can unwind. C code never does.
export RUSTFLAGS="${RUSTFLAGS:-} -C force-unwind-tables=no"
export CFLAGS="${CFLAGS:-} -fno-asynchronous-unwind-tables -fno-unwind-tables"
