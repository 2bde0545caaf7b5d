#!/usr/bin/env bash
# Builds the libraries for Android and the Kotlin beside them, into a module's src/main:
#     android.sh MODULE/src/main
# Needs an NDK (ANDROID_NDK_HOME), its three Rust targets, `rustup component add rust-src`, and
# `cargo install cargo-ndk`.
set -euo pipefail
cd "$(dirname "$0")/../.."
out="$1"
# Alignment to pages of 16 KB, and what makes the library small at its linking, is set by
# bindings/build.rs. One kind of library alone: with more, cargo leaves optimising at the linking out.
source bindings/build/small.sh
cargo ndk -t arm64-v8a -t armeabi-v7a -t x86_64 --platform 26 -o "$out/jniLibs" \
  rustc --profile phone -p chalkwalk-bindings --lib --crate-type cdylib ${anew[@]+"${anew[@]}"}
RUSTFLAGS="" cargo build --release -p chalkwalk-bindgen
bindings/build/generate.sh target/release/chalkwalk-bindgen "$out/jniLibs/arm64-v8a/libchalkwalk.so" "$out/generated"
find "$out/jniLibs" -name '*.so' -exec "$ANDROID_NDK_HOME"/toolchains/llvm/prebuilt/*/bin/llvm-strip {} +
