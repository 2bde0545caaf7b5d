"""A disk that is really full: a small file system in memory (tmpfs), for a device and for the office.

Both refuse in words, keep all that they acknowledged, and go on once there is room. Mounting takes
root; without it the tests say so and are passed over.
"""

import os
import pathlib
import subprocess

import pytest

from test_faults import PHOTOS, actions, chalkwalk, enrol, holds, office_holds, run, state, told
from test_kill import Office, finding

SIZE = 6 << 20


@pytest.fixture
def small(tmp_path):
    folder = tmp_path / "small"
    folder.mkdir()
    command = ["mount", "-t", "tmpfs", "-o", f"size={SIZE}", "tmpfs", str(folder)]
    try:
        done = subprocess.run(command, capture_output=True, text=True, check=False)
    except FileNotFoundError:
        pytest.skip("no mount command: a small file system cannot be made")
    if done.returncode != 0:
        pytest.skip(f"a small file system cannot be mounted here: {done.stderr.strip()}")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def fill(folder, leave):
    """Fills the file system up to so many bytes."""
    about = os.statvfs(folder)
    free = about.f_bavail * about.f_frsize
    with open(folder / "filler", "wb") as filler:
        filler.write(bytes(max(0, free - leave)))


def room(folder):
    (folder / "filler").unlink()


def in_words(told):
    words = told.stdout + told.stderr
    assert told.returncode != 0, words
    assert "full" in words or "room" in words, words
    assert "panicked" not in words, words


@pytest.mark.parametrize("leave", [0, 16 << 10, 150 << 10])
def test_a_device_with_a_full_disk(small, tmp_path, leave):
    notebook = small / "device"
    chalkwalk(notebook, "init", "--person", "Ada", "--device", "phone")
    job = chalkwalk(notebook, "begin", "--street", "1 Test Row")["job"]
    chalkwalk(notebook, "record", job, actions(tmp_path, [finding("before", i) for i in range(3)]))
    chalkwalk(notebook, "record", job, actions(tmp_path, [{"photo": {"file": str(PHOTOS[0])}}]))
    before = state(notebook, job)
    fill(small, leave)
    entries = [finding("full", i) for i in range(400)] + [{"photo": {"file": str(PHOTOS[1])}}]
    in_words(run(notebook, "record", job, actions(tmp_path, entries)))
    room(small)
    there = state(notebook, job)
    holds(there, before)
    kept = sorted(int(text.split()[1]) for text in there["texts"] if text.startswith("full "))
    assert kept == list(range(len(kept))), "a gap in what was recorded"
    chalkwalk(notebook, "record", job, actions(tmp_path, entries[-1:] + [finding("after", 0)]))
    after = state(notebook, job)
    assert "after 0" in after["texts"] and after["originals"] == 2


@pytest.mark.parametrize("leave", [0, 40 << 10, 200 << 10])
def test_an_office_with_a_full_disk(small, tmp_path, leave):
    data = small / "office"
    office = Office(data)
    try:
        notebook = enrol(tmp_path, office, "rep")
        job = chalkwalk(notebook, "begin", "--street", "2 Test Row")["job"]
        chalkwalk(notebook, "record", job, actions(tmp_path, [finding("before", i) for i in range(3)]))
        chalkwalk(notebook, "sync", office.address)
        entries = [finding("full", i) for i in range(40)]
        entries += [{"photo": {"file": str(photo)}} for photo in PHOTOS[:4]]
        chalkwalk(notebook, "record", job, actions(tmp_path, entries))
        fill(small, leave)
        in_words(run(notebook, "sync", office.address))
        said = told(notebook, job)
        assert not chalkwalk(notebook, "show", job)["status"]["safe_at_office"]
        # The same server goes on once there is room, without a restart.
        room(small)
        holds_there(data, tmp_path, job, said)
        chalkwalk(notebook, "sync", office.address)
        assert chalkwalk(notebook, "show", job)["status"]["safe_at_office"]
    finally:
        office.kill()
    holds_there(data, tmp_path, job, told(notebook, job))


def holds_there(data, elsewhere, job, said):
    """As `office_holds`, on a copy: the backup would fill the small disk."""
    copy = elsewhere / "copy" / "office"
    subprocess.run(["rm", "-rf", str(copy)], check=True)
    copy.parent.mkdir(exist_ok=True)
    subprocess.run(["cp", "-a", str(data), str(copy)], check=True)
    office_holds(pathlib.Path(copy), job, said)
