#!/usr/bin/env bash
# Builds the Python wheel with maturin, which takes `uniffi-bindgen` from the PATH:
#     wheel.sh BINDGEN OUT [OPTIONS OF maturin build]
set -euo pipefail
bindgen="$(realpath "$1")" out="$2"
shift 2
tools="$(mktemp -d)"
trap 'rm -rf "$tools"' EXIT
ln -s "$bindgen" "$tools/uniffi-bindgen"
cd "$(dirname "$0")/../python"
PATH="$tools:$PATH" maturin build --quiet --out "$out" "$@"
