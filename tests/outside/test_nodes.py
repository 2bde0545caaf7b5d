"""Several real server processes on one PostgreSQL and one bucket, killed with kill -9.

`tests/engines.py` starts the engines and names them in CHALKWALK_POSTGRES and CHALKWALK_S3. What a
phone was told is safe at the office must be there at another node, whichever node was killed.
"""

import json
import os
import pathlib
import random
import secrets
import shutil
import signal
import subprocess
import time

import pytest

PHOTOS = pathlib.Path(__file__).parents[2] / "fixtures/photos"
KILLS_OF_NODES = int(os.environ.get("CHALKWALK_KILLS", "12"))


def engine(name):
    address = os.environ.get(name)
    if address:
        return address
    how = f"{name} is not set: run this as tests/engines.py COMMAND, which starts the engines"
    if os.environ.get("CHALKWALK_ENGINES") == "required":
        pytest.fail(how)
    pytest.skip(how)


def shared():
    """A schema and a prefix that no other test has."""
    name = "test_" + secrets.token_hex(8)
    return {
        "CHALKWALK_RECORDS": f"{engine('CHALKWALK_POSTGRES')}?schema={name}",
        "CHALKWALK_BLOBS": engine("CHALKWALK_S3").replace("?", f"/{name}?", 1),
    }


def chalkwalk(*arguments, env=None, check=True):
    """Runs a verb; the value is what it printed. An error of the verb is in `error`."""
    command = [os.environ["CHALKWALK"], "--json", *map(str, arguments)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=180, env=os.environ | (env or {}))
    if check:
        assert done.returncode == 0, done.stdout + done.stderr
    value = json.loads(done.stdout)
    if isinstance(value, dict) and not check:
        value["code"] = done.returncode
    return value


class Node:
    def __init__(self, data, env, port="0"):
        self.data, self.env = data, env
        command = [os.environ["CHALKWALK"], "serve", "--data", str(data), "--listen", f"127.0.0.1:{port}", "--company", "Test office"]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True, env=os.environ | env)
        ready = json.loads(self.process.stdout.readline())
        self.address = ready["devices"]
        self.port = self.address.rsplit(":", 1)[1]

    def stop(self, how=signal.SIGKILL):
        if self.process.poll() is None:
            self.process.send_signal(how)
            self.process.wait(30)
        self.process.stdout.close()

    def again(self):
        return Node(self.data, self.env, self.port)

    def notebook(self, at):
        chalkwalk("--notebook", at, "init", "--person", f"Person {at.name}", "--device", at.name)
        code = chalkwalk("invite", "--data", self.data, env=self.env)["code"]
        chalkwalk("--notebook", at, "enrol", self.address, "--code", code)
        return at


def beside(first, data):
    """A data folder of another node: the office's keys are the same."""
    (data / "keys").mkdir(parents=True)
    for key in (first / "keys").iterdir():
        shutil.copy(key, data / "keys")
    return data


def record(notebook, job, entries, tmp_path):
    file = tmp_path / "actions.json"
    file.write_text(json.dumps(entries))
    chalkwalk("--notebook", notebook, "record", job, file)


def findings(round_, count):
    return [{"add": {"id": f"r{round_}-{i}", "record": {"finding": {
        "place": "elevation/front", "component": "gutter", "condition": "damaged", "cause": "hail",
        "cause_reason": "round dents", "text": f"round {round_} {i}"}}}} for i in range(count)]


def test_nodes_killed_while_a_phone_exchanges_lose_nothing_acknowledged(tmp_path, record_property):
    rng = random.Random(21)
    env = shared()
    nodes = [Node(tmp_path / "one", env)]
    nodes.append(Node(beside(tmp_path / "one", tmp_path / "two"), env))
    try:
        rep = nodes[0].notebook(tmp_path / "rep")
        job = chalkwalk("--notebook", rep, "begin", "--street", "5 Test Row")["job"]
        photos = sorted(PHOTOS.glob("*.jpg"))[:24]
        record(rep, job, [{"photo": {"file": str(p)}} for p in photos], tmp_path)
        in_the_middle = 0
        for kill in range(KILLS_OF_NODES):
            record(rep, job, findings(kill, 10), tmp_path)
            here, there = kill % 2, 1 - kill % 2
            command = [os.environ["CHALKWALK"], "--notebook", str(rep), "sync", nodes[here].address]
            phone = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
            time.sleep(rng.uniform(0.01, 0.3))
            nodes[here].stop()
            in_the_middle += phone.wait(timeout=120) != 0
            said = [p for p in chalkwalk("--notebook", rep, "show", job)["status"]["peers"] if p["office"]]
            if said:
                fresh = nodes[there].notebook(tmp_path / f"fresh{kill}")
                chalkwalk("--notebook", fresh, "sync", nodes[there].address, "--job", job)
                got = chalkwalk("--notebook", fresh, "show", job)["status"]
                assert got["changes"] >= said[0]["changes"], "an acknowledged change is gone"
                assert got["here"]["originals"] >= said[0]["photos"]["originals"], "an acknowledged original is gone"
                shutil.rmtree(fresh)
            nodes[here] = nodes[here].again()
        record_property("kills", KILLS_OF_NODES)
        record_property("syncs cut", in_the_middle)
        print(f"kills {KILLS_OF_NODES}, syncs that were cut {in_the_middle}")
        assert in_the_middle > 0, "no kill hit a sync: nothing was tried"
        chalkwalk("--notebook", rep, "sync", nodes[0].address)
        shown = chalkwalk("--notebook", rep, "show", job)
        assert shown["status"]["safe_at_office"], shown["status"]
        last = nodes[1].notebook(tmp_path / "last")
        chalkwalk("--notebook", last, "sync", nodes[1].address)
        assert chalkwalk("--notebook", last, "show", job)["heads"] == shown["heads"]
    finally:
        for node in nodes:
            node.stop()


def test_an_office_is_moved_backed_up_and_restored_by_command(tmp_path):
    env = shared()
    office = tmp_path / "office"
    node = Node(office, {})
    rep = node.notebook(tmp_path / "rep")
    job = chalkwalk("--notebook", rep, "begin", "--street", "6 Test Row")["job"]
    photos = sorted(PHOTOS.glob("*.jpg"))[:3]
    record(rep, job, findings(0, 5) + [{"photo": {"file": str(p)}} for p in photos], tmp_path)
    chalkwalk("--notebook", rep, "sync", node.address)

    backup = tmp_path / "backup"
    held = chalkwalk("backup", "--data", office, "--out", backup)
    assert (held["jobs"], held["originals"], held["keys"]) == (1, 3, True), held
    # The manifest is one that coreutils check.
    subprocess.run(["sha256sum", "--check", "--quiet", "manifest-sha256.txt"], cwd=backup, check=True)
    assert (backup / "keys/office.key").stat().st_mode & 0o077 == 0

    refused = chalkwalk("move", "--data", office, env=env, check=False)
    assert "stop it first" in refused["error"], refused
    node.stop(signal.SIGTERM)
    moved = chalkwalk("move", "--data", office, env=env)
    assert (moved["changes"], moved["originals"]) == (held["changes"], 3), moved
    stale = chalkwalk("invite", "--data", office, check=False)
    assert "was moved" in stale["error"], stale

    node = Node(office, env)
    record(rep, job, findings(1, 2), tmp_path)
    chalkwalk("--notebook", rep, "sync", node.address)
    later = tmp_path / "later"
    # Without a folder: the records and photos, and no keys.
    grown = chalkwalk("backup", "--out", later, env=env)
    assert grown["changes"] == held["changes"] + 2 and not grown["keys"], grown
    node.stop(signal.SIGTERM)

    home = tmp_path / "home"
    restored = chalkwalk("restore", "--from", backup, "--data", home)
    assert restored["changes"] == held["changes"], restored
    node = Node(home, {})
    try:
        chalkwalk("--notebook", rep, "sync", node.address)
        other = node.notebook(tmp_path / "other")
        chalkwalk("--notebook", other, "sync", node.address)
        shown = [chalkwalk("--notebook", n, "show", job)["heads"] for n in (rep, other)]
        assert shown[0] == shown[1]
    finally:
        node.stop()

    damaged = tmp_path / "damaged"
    shutil.copytree(backup, damaged)
    photo = next((damaged / "photos/original").rglob("*/*"))
    photo.write_bytes(photo.read_bytes()[:-1] + b"x")
    told = chalkwalk("restore", "--from", damaged, "--data", tmp_path / "none", check=False)
    assert told["code"] == 2 and "manifest" in told["error"], told
    assert not (tmp_path / "none/records.sqlite").exists()
