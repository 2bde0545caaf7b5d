#!/usr/bin/env bash
# Builds ChalkwalkFFI.xcframework and the Swift beside it. Needs a Mac with Xcode and the targets
# aarch64-apple-ios, aarch64-apple-ios-sim and x86_64-apple-ios, and `rustup component add rust-src`.
set -euo pipefail
cd "$(dirname "$0")/../.."
swift=bindings/swift
source bindings/build/small.sh
for target in aarch64-apple-ios aarch64-apple-ios-sim x86_64-apple-ios; do
  cargo rustc --profile phone -p chalkwalk-bindings --lib --crate-type staticlib --target "$target" \
    ${anew[@]+"${anew[@]}"}
done
RUSTFLAGS="" cargo build --release -p chalkwalk-bindgen
bindings/build/generate.sh target/release/chalkwalk-bindgen target/aarch64-apple-ios/phone/libchalkwalk.a target/swift
mkdir -p target/swift/headers target/sim
cp target/swift/swift/ChalkwalkFFI.h target/swift/headers/
cp target/swift/swift/ChalkwalkFFI.modulemap target/swift/headers/module.modulemap
cp target/swift/swift/Chalkwalk.swift "$swift/Sources/Chalkwalk/"
lipo -create target/aarch64-apple-ios-sim/phone/libchalkwalk.a target/x86_64-apple-ios/phone/libchalkwalk.a \
  -output target/sim/libchalkwalk.a
rm -rf "$swift/ChalkwalkFFI.xcframework"
xcodebuild -create-xcframework \
  -library target/aarch64-apple-ios/phone/libchalkwalk.a -headers target/swift/headers \
  -library target/sim/libchalkwalk.a -headers target/swift/headers \
  -output "$swift/ChalkwalkFFI.xcframework"
