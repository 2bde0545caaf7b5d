"""The wheel that maturin built, in an interpreter that has nothing else: CHALKWALK_WHEEL is its folder.

And the library as a phone loads it: aligned to pages of 16 KB, and in need of the system alone.
"""

import os
import pathlib
import re
import subprocess
import venv

import pytest

from test_bindings import LIBRARY, ROOT, Office, visited


@pytest.fixture
def office(tmp_path):
    office = Office(tmp_path / "office")
    yield office
    office.process.terminate()
    office.process.wait(timeout=30)


@pytest.mark.skipif("CHALKWALK_WHEEL" not in os.environ, reason="CHALKWALK_WHEEL names no folder with a wheel")
def test_the_wheel_does_a_visit(office, tmp_path):
    [wheel] = pathlib.Path(os.environ["CHALKWALK_WHEEL"]).glob("chalkwalk-*.whl")
    venv.create(tmp_path / "fresh", with_pip=True)
    python = tmp_path / "fresh/bin/python"
    subprocess.run([python, "-m", "pip", "install", "-q", "--disable-pip-version-check", "--no-index", wheel], check=True)
    clean = {name: value for name, value in os.environ.items() if name != "PYTHONPATH"}
    visited(office, [str(python), "-I", str(ROOT / "bindings/python/sample/visit.py")], tmp_path, clean)


def test_the_library_loads_on_pages_of_16_kb_and_needs_the_system_alone():
    heads = subprocess.run(["readelf", "-lW", LIBRARY], capture_output=True, text=True, check=True).stdout
    aligned = [int(line.split()[-1], 16) for line in heads.splitlines() if line.strip().startswith("LOAD")]
    assert aligned and all(at % 16384 == 0 for at in aligned), heads
    dynamic = subprocess.run(["readelf", "-dW", LIBRARY], capture_output=True, text=True, check=True).stdout
    needed = set(re.findall(r"NEEDED.*\[([\w-]+)\.so", dynamic))
    assert needed <= {"libc", "libm", "libgcc_s", "libdl", "libpthread", "librt", "ld-linux-x86-64", "ld-linux-aarch64"}, needed


def test_the_recipes_read():
    for script in sorted((ROOT / "bindings/build").glob("*.sh")):
        subprocess.run(["bash", "-n", script], check=True)
    android = (ROOT / "bindings/build/android.sh").read_text()
    assert all(kind in android for kind in ["arm64-v8a", "armeabi-v7a", "x86_64"])
    ios = (ROOT / "bindings/build/ios.sh").read_text()
    package = (ROOT / "bindings/swift/Package.swift").read_text()
    assert "ChalkwalkFFI.xcframework" in ios and "ChalkwalkFFI.xcframework" in package
