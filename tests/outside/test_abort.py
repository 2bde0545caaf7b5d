"""A panic inside the library is an error although phones' libraries do not unwind.

The reference is Rust's own compiler: the bindings' file that does it is built with `-C panic=abort`,
where a panic that nobody stops ends the process with SIGABRT.
"""

import signal
import subprocess
from pathlib import Path

import pytest

HERE = Path(__file__).parent


@pytest.fixture(scope="module")
def program(tmp_path_factory):
    out = tmp_path_factory.mktemp("abort") / "enclosure"
    command = ["rustc", "--edition", "2024", "-O", "-C", "panic=abort", "-D", "warnings", "-o", out, HERE / "enclosure.rs"]
    subprocess.run(list(map(str, command)), check=True)
    return out


def test_a_panic_that_nobody_stops_ends_the_process(program):
    ended = subprocess.run([program, "--bare"], capture_output=True, timeout=60)
    assert ended.returncode == -signal.SIGABRT
    assert b"not ours" in ended.stderr


def test_a_panic_inside_is_an_answer(program):
    ended = subprocess.run([program], capture_output=True, text=True, timeout=60)
    assert (ended.returncode, ended.stdout) == (0, "all as it should be\n"), ended.stderr
    assert ended.stderr == ""
