"""What a built library is made of, before it is stripped:

    source bindings/build/small.sh
    cargo rustc --profile phone -p chalkwalk-bindings --lib --crate-type cdylib --target TARGET "${anew[@]}" -- \
      -C link-arg=-Wl,--icf=all -C link-arg=-Wl,-z,pack-relative-relocs      # as Android's linker does
    python3 bindings/build/sizes.py target/TARGET/phone/libchalkwalk.so

For arm64 `bindings/build/arm64.sh` does both; BINUTILS is what the names of its tools begin with.
Prints its size as it ships (stripped), its sections, and the bytes of code and data by package.
"""

import collections
import os
import pathlib
import re
import subprocess
import sys
import tempfile

AIM_MB = 6.0
TOOLS = os.environ.get("BINUTILS", "")
# Names that the compiler and C libraries give.
C_PARTS = [
    (re.compile(r"^sqlite3|^(vdbe|btree|pager|where|fts|unix|Wal|sqlite)", re.I), "SQLite (C)"),
    (re.compile(r"^(ZSTD|HUF|FSE|HIST|XXH|ZBUFF|COVER|zdict|POOL|divsufsort)", re.I), "zstd (C)"),
    (re.compile(r"^(ring_core|bn_|x25519|ecp_|ChaCha|aes_|vpaes|gcm_|sha\d|blake3|p256|p384|fiat|GFp)", re.I), "cryptography (C, assembly)"),
]


def part_of(symbol):
    """The package that a demangled symbol comes from."""
    if "uniffi_chalkwalk_fn" in symbol or "uniffi_chalkwalk_checksum" in symbol or "UNIFFI_META" in symbol:
        return "chalkwalk (functions for other languages)"
    found = re.match(r"^[<&*\[( ]*(?:dyn )?(?:mut )?(?:impl )?([a-z][a-z0-9_]*)(?:\[[0-9a-f]+\])?::", symbol)
    if found:
        return found[1]
    if symbol.startswith("<"):
        inner = re.search(r"([a-z][a-z0-9_]+)(?:\[[0-9a-f]+\])?::", symbol)
        return inner[1] if inner else "other"
    return next((name for pattern, name in C_PARTS if pattern.match(symbol)), "other")


def main(library):
    with tempfile.TemporaryDirectory() as stage:
        stripped = pathlib.Path(stage) / "stripped"
        subprocess.run([f"{TOOLS}strip", "--strip-unneeded", "-o", stripped, library], check=True)
        size = os.path.getsize(stripped)
        print(f"{library}: {size / 1e6:.2f} MB stripped ({size} bytes); aim {AIM_MB} MB{'' if size <= AIM_MB * 1e6 else '  over'}")
        sections = subprocess.run([f"{TOOLS}size", "-A", stripped], capture_output=True, text=True, check=True).stdout
    wide = [line.split()[:2] for line in sections.splitlines() if re.match(r"^\.\w", line)]
    for name, length in sorted(wide, key=lambda row: -int(row[1]))[:8]:
        print(f"  {name:<22} {int(length):>10}")
    listed = subprocess.run([f"{TOOLS}nm", "--print-size", "--defined-only", "--demangle=rust", library], capture_output=True, text=True, check=True).stdout
    parts = collections.Counter()
    for line in listed.splitlines():
        if found := re.match(r"^[0-9a-f]+ ([0-9a-f]+) [tTrRdDbBwWvV] (.*)$", line):
            parts[part_of(found[2])] += int(found[1], 16)
    total = sum(parts.values())
    print(f"by package, {total} bytes with a name:")
    for name, length in parts.most_common(30):
        print(f"  {name:<44} {length:>10} {100 * length / total:>5.1f} %")


if __name__ == "__main__":
    main(sys.argv[1])
