#!/usr/bin/env bash
# Builds the library for arm64 as phones get it, where there is no NDK: for Linux on AArch64, with
# Debian's rustc-web, rust-web-src, lld-22, gcc-aarch64-linux-gnu and libc6-dev-arm64-cross. Its
# size is what is wanted of it.
#     arm64.sh TARGET_FOLDER
set -euo pipefail
cd "$(dirname "$0")/../.."
arm=aarch64-unknown-linux-gnu
for tool in /usr/bin/rustc aarch64-linux-gnu-gcc /usr/lib/llvm-22/bin/ld.lld; do
  [ -x "$(command -v "$tool")" ] ||
    { echo "apt-get install rustc-web rust-web-src lld-22 gcc-aarch64-linux-gnu libc6-dev-arm64-cross" >&2; exit 1; }
done
export RUSTC=/usr/bin/rustc CARGO_TARGET_DIR="$1"
source bindings/build/small.sh
export CARGO_TARGET_AARCH64_UNKNOWN_LINUX_GNU_LINKER=aarch64-linux-gnu-gcc
export CC_aarch64_unknown_linux_gnu=aarch64-linux-gnu-gcc AR_aarch64_unknown_linux_gnu=aarch64-linux-gnu-ar
# One kind of library alone, and equal code and relocations as the NDK's linker has them.
cargo rustc --locked --profile phone -p chalkwalk-bindings --lib --crate-type cdylib --target "$arm" \
  ${anew[@]+"${anew[@]}"} -- \
  -C link-arg=-fuse-ld=lld -C link-arg=-B/usr/lib/llvm-22/bin \
  -C link-arg=-Wl,--icf=all -C link-arg=-Wl,-z,pack-relative-relocs
BINUTILS=aarch64-linux-gnu- python3 bindings/build/sizes.py "$1/$arm/phone/libchalkwalk.so"
