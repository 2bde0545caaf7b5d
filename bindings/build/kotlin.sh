#!/usr/bin/env bash
# Compiles the generated Kotlin, the sample shell and further files for a JVM:
#     kotlin.sh GENERATED KOTLIN_COMPILER_LIB JNA_JAR OUT.jar [FILE...]
set -euo pipefail
generated="$1" lib="$2" jna="$3" out="$4"
shift 4
here="$(cd "$(dirname "$0")/.." && pwd)"
compiler="$lib/kotlin-compiler.jar:$lib/kotlin-stdlib.jar:$lib/kotlinx-coroutines-core-jvm.jar:$lib/kotlin-reflect.jar:$lib/annotations-13.0.jar:$lib/kotlin-script-runtime.jar"
java -Xmx1500m -cp "$compiler" org.jetbrains.kotlin.cli.jvm.K2JVMCompiler -no-stdlib -no-reflect \
  -cp "$lib/kotlin-stdlib.jar:$lib/kotlinx-coroutines-core-jvm.jar:$jna" -d "$out" \
  "$generated"/kotlin/chalkwalk/*.kt "$here"/kotlin/sample/*.kt "$@"
