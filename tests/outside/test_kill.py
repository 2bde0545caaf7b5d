"""kill -9 of a device and of the office at any moment loses nothing acknowledged.

Real processes of the `chalkwalk` command (CHALKWALK) are killed while they record, take in photos,
sync and serve. What they had said was done must be there afterwards.
"""

import json
import os
import pathlib
import random
import shutil
import signal
import subprocess
import time

import pytest

PHOTOS = pathlib.Path(__file__).parents[2] / "fixtures/photos"
KILLS_OF_DEVICE = int(os.environ.get("CHALKWALK_KILLS", "20"))
KILLS_OF_OFFICE = int(os.environ.get("CHALKWALK_KILLS", "12"))


def chalkwalk(notebook, *arguments, check=True):
    command = [os.environ["CHALKWALK"], "--notebook", str(notebook), "--json", *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    if check:
        assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout) if done.stdout.strip() else {"error": done.stderr}


def start(notebook, *arguments):
    command = [os.environ["CHALKWALK"], "--notebook", str(notebook), "--json", *map(str, arguments)]
    return subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)


class Office:
    def __init__(self, data, port="0"):
        self.data = data
        command = [os.environ["CHALKWALK"], "serve", "--data", str(data), "--listen", f"127.0.0.1:{port}", "--company", "Test office"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        ready = json.loads(self.process.stdout.readline())
        self.address = ready["devices"]
        self.port = self.address.rsplit(":", 1)[1]

    def kill(self):
        self.process.send_signal(signal.SIGKILL)
        self.process.wait()
        self.process.stdout.close()


@pytest.fixture
def office(tmp_path):
    running = [Office(tmp_path / "office")]
    yield running
    running[-1].kill()


def enrolled(tmp_path, office, name):
    notebook = tmp_path / name
    chalkwalk(notebook, "init", "--person", f"Person {name}", "--device", name)
    command = [os.environ["CHALKWALK"], "--json", "invite", "--data", str(office.data)]
    code = json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)["code"]
    chalkwalk(notebook, "enrol", office.address, "--code", code)
    return notebook


def finding(name, i):
    return {"add": {"id": f"{name}-{i}", "record": {"finding": {
        "place": "elevation/front", "component": "gutter", "condition": "damaged", "cause": "hail",
        "cause_reason": "round dents", "text": f"{name} {i}"}}}}


def texts(notebook, job):
    record = chalkwalk(notebook, "show", job)["record"]
    return {f["fields"]["text"] for f in record["records"].get("findings", {}).values()}


def test_a_device_killed_while_it_records(tmp_path):
    """Entries are recorded in order, so what is there must be a prefix; and once the command said
    that a file was recorded, all of it stays whatever is killed later."""
    rng = random.Random(11)
    notebook = tmp_path / "device"
    chalkwalk(notebook, "init", "--person", "Ada", "--device", "phone")
    job = chalkwalk(notebook, "begin", "--street", "1 Test Row")["job"]
    acknowledged = set()
    for kill in range(KILLS_OF_DEVICE):
        entries = [finding(f"kill{kill}", i) for i in range(120)]
        file = tmp_path / "actions.json"
        file.write_text(json.dumps(entries))
        process = start(notebook, "record", job, file)
        time.sleep(rng.uniform(0.005, 0.25))
        process.send_signal(signal.SIGKILL)
        process.wait()
        here = texts(notebook, job)
        assert acknowledged <= here, "something acknowledged is gone"
        mine = sorted(int(text.split()[1]) for text in here if text.startswith(f"kill{kill} "))
        assert mine == list(range(len(mine))), "a gap in what was recorded"
        chalkwalk(notebook, "record", job, write(tmp_path, [finding(f"said{kill}", 0)]))
        acknowledged = texts(notebook, job)
        assert f"said{kill} 0" in acknowledged


def write(tmp_path, entries):
    file = tmp_path / "said.json"
    file.write_text(json.dumps(entries))
    return file


def test_the_office_and_the_device_killed_while_they_exchange(tmp_path, office):
    """Whatever the device was told is safe at the office is there after any number of kills."""
    rng = random.Random(12)
    notebook = enrolled(tmp_path, office[-1], "rep")
    job = chalkwalk(notebook, "begin", "--street", "2 Test Row")["job"]
    photos = sorted(PHOTOS.glob("*.jpg"))[:24]
    chalkwalk(notebook, "record", job, write(tmp_path, [{"photo": {"file": str(p)}} for p in photos]))
    for kill in range(KILLS_OF_OFFICE):
        chalkwalk(notebook, "record", job, write(tmp_path, [finding(f"round{kill}", i) for i in range(10)]))
        process = start(notebook, "sync", office[-1].address)
        time.sleep(rng.uniform(0.01, 0.3))
        if kill % 3 == 2:
            process.send_signal(signal.SIGKILL)
        else:
            office[-1].kill()
            office.append(Office(office[-1].data, office[-1].port))
        process.wait(timeout=90)
        status = chalkwalk(notebook, "show", job)["status"]
        said = [peer for peer in status["peers"] if peer["office"]]
        if said:
            fresh = tmp_path / f"fresh{kill}"
            shutil.rmtree(fresh, ignore_errors=True)
            other = enrolled(tmp_path, office[-1], f"fresh{kill}")
            chalkwalk(other, "sync", office[-1].address, "--job", job)
            there = chalkwalk(other, "show", job)["status"]
            assert there["changes"] >= said[0]["changes"], "an acknowledged change is gone"
            assert there["here"]["originals"] >= said[0]["photos"]["originals"], "an acknowledged original is gone"
    chalkwalk(notebook, "sync", office[-1].address)
    shown = chalkwalk(notebook, "show", job)
    assert shown["status"]["safe_at_office"], shown["status"]
    last = enrolled(tmp_path, office[-1], "last")
    chalkwalk(last, "sync", office[-1].address)
    assert chalkwalk(last, "show", job)["heads"] == shown["heads"]


def test_a_restored_older_copy_goes_on_as_a_fresh_author(tmp_path, office):
    """A device that restarts with an older copy of its folder gets a fresh author, takes back what
    it had sent, and all sides end with equal histories."""
    notebook = enrolled(tmp_path, office[-1], "rep")
    job = chalkwalk(notebook, "begin", "--street", "3 Test Row")["job"]
    copy = tmp_path / "copy"
    shutil.copytree(notebook, copy)
    chalkwalk(notebook, "record", job, write(tmp_path, [finding("before", i) for i in range(5)]))
    chalkwalk(notebook, "sync", office[-1].address)
    shutil.rmtree(notebook)
    shutil.copytree(copy, notebook)
    chalkwalk(notebook, "record", job, write(tmp_path, [finding("after", i) for i in range(5)]))
    chalkwalk(notebook, "sync", office[-1].address)
    other = enrolled(tmp_path, office[-1], "other")
    chalkwalk(other, "sync", office[-1].address)
    assert chalkwalk(other, "show", job)["heads"] == chalkwalk(notebook, "show", job)["heads"]
    assert texts(notebook, job) == {f"{w} {i}" for w in ("before", "after") for i in range(5)}
    deeds = [sorted(chalkwalk(n, "history", job), key=lambda deed: deed["change"]) for n in (notebook, other)]
    assert deeds[0] == deeds[1]


def test_a_bundle_carries_a_job_with_no_link(tmp_path, office):
    one, other = (enrolled(tmp_path, office[-1], name) for name in ("one", "other"))
    job = chalkwalk(one, "begin", "--street", "4 Test Row")["job"]
    photos = sorted(PHOTOS.glob("*.jpg"))[:3]
    entries = [finding("bundle", 0)] + [{"photo": {"file": str(p), "role": "overview"}} for p in photos]
    chalkwalk(one, "record", job, write(tmp_path, entries))
    chalkwalk(one, "sync", "--bundle-out", tmp_path / "crew.bundle")
    chalkwalk(other, "sync", "--bundle-in", tmp_path / "crew.bundle")
    assert chalkwalk(other, "show", job)["heads"] == chalkwalk(one, "show", job)["heads"]
    assert chalkwalk(other, "show", job)["status"]["here"] == {"thumbnails": 3, "originals": 3}
    cut = (tmp_path / "crew.bundle").read_bytes()[:-1000]
    (tmp_path / "cut.bundle").write_bytes(cut)
    third = enrolled(tmp_path, office[-1], "third")
    told = chalkwalk(third, "sync", "--bundle-in", tmp_path / "cut.bundle", check=False)
    assert "error" in told
    assert texts(third, job) == {"bundle 0"}, "what stands before the cut counts"
