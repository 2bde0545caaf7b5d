#!/usr/bin/env bash
# Writes the Kotlin, Swift and Python of a built library, before it is stripped:
#     generate.sh BINDGEN LIBRARY OUT
set -euo pipefail
bindgen="$1" library="$2" out="$3"
here="$(cd "$(dirname "$0")/.." && pwd)"
for language in kotlin swift python; do
  "$bindgen" generate --library "$library" --language "$language" --no-format \
    --config "$here/uniffi.toml" --out-dir "$out/$language"
done
mkdir -p "$out/kotlin/chalkwalk"
cp "$here/kotlin/src/main/kotlin/chalkwalk/Coroutines.kt" "$out/kotlin/chalkwalk/"
cp "$here/swift/Sources/Chalkwalk/Crew.swift" "$out/swift/"
cp "$library" "$out/python/"
