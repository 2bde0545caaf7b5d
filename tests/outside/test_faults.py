"""Power loss, failing disks and full disks below SQLite, for a device and for the office.

`tests/faults/disk.c` stands between the real `chalkwalk` (CHALKWALK) and the system. It writes every
change and sync down, from which the disk is rebuilt as a loss of power would leave it, or makes a
call fail. The real command then opens what is left: what it had acknowledged must be there. What was
acknowledged is kept here and never in the folder that fails.

CHALKWALK_POWER_CUTS and CHALKWALK_DISK_ERRORS say how many moments are tried (of each scenario).
The rules of the rebuilt disk stand in disk_model.py: IEEE Std 1003.1 (fsync, rename) and, for torn
sectors and the order of names, common practice of journalling filesystems (no source).
"""

import errno
import hashlib
import json
import os
import pathlib
import random
import shutil
import sqlite3
import subprocess

import pytest

from disk_model import Disk, mark, points, read_log, shim
from test_kill import Office, finding

PHOTOS = sorted((pathlib.Path(__file__).parents[2] / "fixtures/photos").glob("*.jpg"))
POWER_CUTS = int(os.environ.get("CHALKWALK_POWER_CUTS", "200"))
DISK_ERRORS = int(os.environ.get("CHALKWALK_DISK_ERRORS", "30"))
HOW = ("dropped", "kept", "torn", "torn")


@pytest.fixture(scope="module")
def disk():
    if not shutil.which("cc"):
        pytest.skip("no C compiler: cc makes the disk that fails")
    library = shim()
    yield library
    shutil.rmtree(library.parent)


@pytest.fixture
def place(tmp_path):
    """In memory where that can be: syncs then cost nothing."""
    memory = pathlib.Path("/dev/shm")
    if not memory.is_dir():
        yield tmp_path
        return
    folder = memory / f"chalkwalk-faults-{os.getpid()}-{tmp_path.name}"
    folder.mkdir()
    yield folder
    shutil.rmtree(folder)


def run(notebook, *arguments, env=None):
    command = [os.environ["CHALKWALK"], "--notebook", str(notebook), "--json", *map(str, arguments)]
    whole = {**os.environ, **(env or {})}
    return subprocess.run(command, capture_output=True, text=True, timeout=120, check=False, env=whole)


def chalkwalk(notebook, *arguments, env=None):
    done = run(notebook, *arguments, env=env)
    assert done.returncode == 0, done.stdout + done.stderr
    return json.loads(done.stdout) if done.stdout.strip() else {}


def preload(library, root, **more):
    return {"LD_PRELOAD": str(library), "FAULT_ROOT": str(root), **more}


def actions(place, entries):
    file = place / "actions.json"
    file.write_text(json.dumps(entries))
    return file


def state(notebook, job):
    """What the notebook shows: heads, texts, and the originals that are whole."""
    shown = chalkwalk(notebook, "show", job)
    found = shown["record"]["records"].get("findings", {}).values()
    return {
        "heads": shown["heads"],
        "changes": shown["status"]["changes"],
        "texts": sorted(f["fields"]["text"] for f in found),
        "originals": shown["status"]["here"]["originals"],
        "files": files(notebook / "photos"),
    }


def files(folder):
    """The SHA-256 of whole files: the originals among them are those of the fixtures."""
    sums = (hashlib.sha256(p.read_bytes()).hexdigest() for p in folder.rglob("*") if p.is_file())
    ours = {hashlib.sha256(p.read_bytes()).hexdigest() for p in PHOTOS[:6]}
    return sorted(set(sums) & ours)


def holds(there, acknowledged):
    assert set(acknowledged["texts"]) <= set(there["texts"]), "an acknowledged finding is gone"
    assert there["changes"] >= acknowledged["changes"], "an acknowledged change is gone"
    assert there["originals"] >= acknowledged["originals"], "an acknowledged photo is gone"
    assert set(acknowledged["files"]) <= set(there["files"]), "an acknowledged original is damaged"


def test_a_device_that_loses_power(disk, place, capsys):
    notebook, log = place / "device", place / "log"
    notebook.mkdir()
    start = Disk(notebook)
    env = preload(disk, notebook, FAULT_LOG=str(log))
    chalkwalk(notebook, "init", "--person", "Ada", "--device", "phone", env=env)
    job = chalkwalk(notebook, "begin", "--street", "1 Test Row", env=env)["job"]
    mark(log, json.dumps({**state(notebook, job), "job": job}))
    for round_ in range(6):
        entries = [finding(f"round{round_}", i) for i in range(4)]
        entries.append({"photo": {"file": str(PHOTOS[round_]), "role": "overview"}})
        chalkwalk(notebook, "record", job, actions(place, entries), env=env)
        mark(log, json.dumps({**state(notebook, job), "job": job}))
    ops, rng = read_log(log), random.Random(21)
    chosen = points(ops, POWER_CUTS, rng)
    model, acknowledged, done, again = start, None, 0, place / "again"
    lying = Disk(place / "empty")
    for at, op in enumerate(ops, 1):
        if op[0] == "!":
            acknowledged = json.loads(op[5])
        else:
            model.apply(op)
            if op[0] != "s":
                lying.apply((*op[:3], *(name.replace(str(notebook), lying.root) for name in op[3:5]), op[5]))
        if at not in chosen or acknowledged is None:
            continue
        for how in HOW[:3] if op[0] == "!" else (HOW[done % len(HOW)],):
            model.build(again, how, rng)
            there = state(again, job)
            holds(there, acknowledged)
            if op[0] == "!":
                assert there["heads"] == acknowledged["heads"], f"other heads after {how}"
            done += 1
            if done % 8 == 0:
                chalkwalk(again, "record", job, actions(place, [finding("after", done)]))
                assert f"after {done}" in state(again, job)["texts"]
    # A disk that forgets syncs loses what was acknowledged: the checks above can fail.
    lying.build(again, "dropped", rng)
    assert run(again, "show", job).returncode != 0
    with capsys.disabled():
        print(f"\n  device: {len(ops)} changes of the disk, {done} losses of power")
    assert done >= min(POWER_CUTS, len(ops)) // 2


def moments(ops, most, rng):
    """All of them, or so many by chance; the marks always."""
    marks = {at for at, op in enumerate(ops, 1) if op[0] == "!"}
    return marks | set(rng.sample(range(1, len(ops) + 1), min(most, len(ops))))


def test_a_device_that_loses_power_while_it_is_set_up(disk, place, capsys):
    """A notebook that was never said to be ready can be begun again; one that was is the same."""
    notebook, log = place / "device", place / "log"
    notebook.mkdir()
    model = Disk(notebook)
    init = ("init", "--person", "Ada", "--device", "phone")
    ready = chalkwalk(notebook, *init, env=preload(disk, notebook, FAULT_LOG=str(log)))
    mark(log, json.dumps(ready))
    ops, rng = read_log(log), random.Random(23)
    chosen = moments(ops, POWER_CUTS // 4, rng)
    said, anew, again = None, 0, place / "again"
    for at, op in enumerate(ops, 1):
        if op[0] == "!":
            said = json.loads(op[5])
        else:
            model.apply(op)
        for how in HOW[:3] if at in chosen else ():
            model.build(again, how, rng)
            told = run(again, *init)
            if told.returncode == 0:
                assert said is None, "a notebook that was ready is gone"
                anew += 1
            elif said is None:
                # It was whole before that was said.
                assert "already" in told.stdout + told.stderr, told.stdout + told.stderr
            job = chalkwalk(again, "begin", "--street", "1 Test Row")["job"]
            shown = json.dumps(chalkwalk(again, "show", job))
            assert said is None or said["device"] in shown, "another device records there"
    with capsys.disabled():
        print(f"\n  device set up: {len(ops)} changes of the disk, {3 * len(chosen)} losses of power, {anew} begun anew")
    assert 0 < anew < 3 * len(chosen)


@pytest.mark.parametrize("number", [errno.EIO, errno.ENOSPC])
def test_a_device_whose_disk_fails(disk, place, capsys, number):
    notebook, log = place / "device", place / "log"
    chalkwalk(notebook, "init", "--person", "Ada", "--device", "phone")
    job = chalkwalk(notebook, "begin", "--street", "1 Test Row")["job"]
    chalkwalk(notebook, "record", job, actions(place, [finding("before", i) for i in range(3)]))
    before = state(notebook, job)
    entries = [finding("now", i) for i in range(4)]
    entries.insert(2, {"photo": {"file": str(PHOTOS[0]), "role": "overview"}})
    file = actions(place, entries)
    trial = place / "trial"
    shutil.copytree(notebook, trial)
    chalkwalk(trial, "record", job, file, env=preload(disk, trial, FAULT_LOG=str(log)))
    calls = len(read_log(log))
    refused, rng = 0, random.Random(number)
    chosen = sorted(rng.sample(range(1, calls + 1), min(calls, DISK_ERRORS)))
    for n, at in enumerate(chosen):
        shutil.rmtree(trial)
        shutil.copytree(notebook, trial)
        env = preload(disk, trial, FAULT_AT=str(at), FAULT_ERRNO=str(number), FAULT_STAYS=str(n % 2))
        told = run(trial, "record", job, file, env=env)
        there = state(trial, job)
        holds(there, before)
        mine = [text for text in there["texts"] if text.startswith("now ")]
        assert mine == [f"now {i}" for i in range(len(mine))], "a gap in what was recorded"
        if told.returncode == 0:
            assert len(mine) == 4 and there["originals"] == 1, "it said that all was recorded"
        else:
            refused += 1
            words = told.stdout + told.stderr
            assert "panicked" not in words and len(words.split()) > 4, words
            said = words.split("The ")[-1].split(" before it")[0] if "before it" in words else "0"
            assert len(mine) + there["originals"] >= int(said), f"{said} were said to be recorded"
        # With a good disk it goes on.
        chalkwalk(trial, "record", job, actions(place, [finding("after", 0)]))
        assert "after 0" in state(trial, job)["texts"]
        file = actions(place, entries)
    with capsys.disabled():
        print(f"\n  device, {errno.errorcode[number]}: {len(chosen)} of {calls} calls, {refused} refused")
    assert refused > len(chosen) // 3


class Faulted(Office):
    """The office on a disk that fails or is written down."""

    def __init__(self, data, env, port="0"):
        self.env = env
        kept = dict(os.environ)
        os.environ.update(env)
        try:
            super().__init__(data, port)
        finally:
            os.environ.clear()
            os.environ.update(kept)


def enrol(place, office, name):
    notebook = place / name
    chalkwalk(notebook, "init", "--person", f"Person {name}", "--device", name)
    command = [os.environ["CHALKWALK"], "--json", "invite", "--data", str(office.data)]
    # It writes to the office's own files, so it is written down as well.
    env = {**os.environ, **getattr(office, "env", {})}
    code = json.loads(subprocess.run(command, capture_output=True, text=True, check=True, env=env).stdout)["code"]
    chalkwalk(notebook, "enrol", office.address, "--code", code)
    return notebook


def ulid(text):
    """The sixteen bytes of an id in Crockford's base 32 (the ULID specification)."""
    number = 0
    for letter in text:
        number = number * 32 + "0123456789ABCDEFGHJKMNPQRSTVWXYZ".index(letter)
    return number.to_bytes(16, "big")


def told(notebook, job):
    """What the office told the device that it holds."""
    status = chalkwalk(notebook, "show", job)["status"]
    said = [peer for peer in status["peers"] if peer["office"]]
    changes = said[0]["changes"] if said else 0
    return {"changes": changes, "originals": said[0]["photos"]["originals"] if said else 0}


def office_holds(data, job, acknowledged):
    """Opened by the real command, which reads every change and file, and counted by another SQLite."""
    out = data.parent / "backup"
    shutil.rmtree(out, ignore_errors=True)
    command = [os.environ["CHALKWALK"], "--json", "backup", "--data", str(data), "--out", str(out)]
    done = subprocess.run(command, capture_output=True, text=True, timeout=120, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    with sqlite3.connect(data / "records.sqlite") as records:
        assert records.execute("pragma integrity_check").fetchone() == ("ok",)
        rows = records.execute("select count(*) from change where job = ?", (ulid(job),)).fetchone()[0]
    assert rows >= acknowledged["changes"], "an acknowledged change is gone"
    assert len(files(data / "photos")) >= acknowledged["originals"], "an acknowledged original is gone"


def test_an_office_that_loses_power(disk, place, capsys):
    data, log = place / "office", place / "log"
    data.mkdir()
    start = Disk(data)
    office = Faulted(data, preload(disk, data, FAULT_LOG=str(log)))
    try:
        notebook = enrol(place, office, "rep")
        job = chalkwalk(notebook, "begin", "--street", "2 Test Row")["job"]
        for round_ in range(5):
            entries = [finding(f"round{round_}", i) for i in range(4)]
            entries.append({"photo": {"file": str(PHOTOS[round_]), "role": "overview"}})
            chalkwalk(notebook, "record", job, actions(place, entries))
            chalkwalk(notebook, "sync", office.address)
            mark(log, json.dumps(told(notebook, job)))
    finally:
        office.kill()
    ops, rng = read_log(log), random.Random(22)
    assert json.loads(ops[-1][5] if ops[-1][0] == "!" else "{}").get("originals", 5) == 5
    chosen = points(ops, POWER_CUTS, rng)
    acknowledged, done = None, 0
    for at, op in enumerate(ops, 1):
        if op[0] == "!":
            acknowledged = json.loads(op[5])
        else:
            start.apply(op)
        if at not in chosen or acknowledged is None:
            continue
        for how in HOW[:3] if op[0] == "!" else (HOW[done % len(HOW)],):
            again = place / "again" / "office"
            start.build(again, how, rng)
            office_holds(again, job, acknowledged)
            done += 1
    # The last disk serves: a fresh device gets all that was acknowledged.
    office = Office(again)
    try:
        fresh = enrol(place, office, "fresh")
        chalkwalk(fresh, "sync", office.address)
        there = chalkwalk(fresh, "show", job)["status"]
        assert there["changes"] >= acknowledged["changes"]
        assert there["here"]["originals"] >= acknowledged["originals"]
    finally:
        office.kill()
    with capsys.disabled():
        print(f"\n  office: {len(ops)} changes of the disk, {done} losses of power")
    assert done >= min(POWER_CUTS, len(ops)) // 4


def test_an_office_that_loses_power_while_it_is_set_up(disk, place, capsys):
    """It starts again whatever is left, and knows every device that was told it is enrolled."""
    data, log = place / "office", place / "log"
    data.mkdir()
    model = Disk(data)
    office = Faulted(data, preload(disk, data, FAULT_LOG=str(log)))
    try:
        notebook = enrol(place, office, "rep")
        mark(log, json.dumps({}))
    finally:
        office.kill()
    job = chalkwalk(notebook, "begin", "--street", "2 Test Row")["job"]
    phone = place / "phone"
    shutil.copytree(notebook, phone)
    ops, rng = read_log(log), random.Random(24)
    chosen = moments(ops, POWER_CUTS // 5, rng)
    enrolled, done = False, 0
    for at, op in enumerate(ops, 1):
        if op[0] == "!":
            enrolled = True
        else:
            model.apply(op)
        for how in () if at not in chosen else HOW[:3] if op[0] == "!" else (HOW[done % len(HOW)],):
            again = place / "again" / "office"
            model.build(again, how, rng)
            shutil.rmtree(notebook)
            office = Office(again)
            try:
                if enrolled:
                    shutil.copytree(phone, notebook)
                    # Another port than the one that it was enrolled at.
                    chalkwalk(notebook, "sync", office.address)
                    assert chalkwalk(notebook, "show", job)["status"]["safe_at_office"]
                else:
                    enrol(place, office, "rep")
                    fresh = chalkwalk(notebook, "begin", "--street", "3 Test Row")["job"]
                    chalkwalk(notebook, "sync", office.address)
                    assert chalkwalk(notebook, "show", fresh)["status"]["safe_at_office"]
            finally:
                office.kill()
            done += 1
    with capsys.disabled():
        print(f"\n  office set up: {len(ops)} changes of the disk, {done} losses of power")
    assert done >= min(POWER_CUTS // 5, len(ops))


@pytest.mark.parametrize("number", [errno.EIO, errno.ENOSPC])
def test_an_office_whose_disk_fails(disk, place, capsys, number):
    data = place / "office"
    office = Office(data)
    notebook = enrol(place, office, "rep")
    job = chalkwalk(notebook, "begin", "--street", "3 Test Row")["job"]
    chalkwalk(notebook, "record", job, actions(place, [finding("before", i) for i in range(3)]))
    chalkwalk(notebook, "sync", office.address)
    office.kill()
    entries = [finding("now", i) for i in range(4)] + [{"photo": {"file": str(PHOTOS[0])}}]
    chalkwalk(notebook, "record", job, actions(place, entries))
    good, phone = place / "good", place / "phone"
    shutil.copytree(data, good)
    shutil.copytree(notebook, phone)

    log = place / "log"
    office = Faulted(data, preload(disk, data, FAULT_LOG=str(log)))
    begun = len(read_log(log))
    chalkwalk(notebook, "sync", office.address)
    office.kill()
    calls = len(read_log(log))
    rng, refused = random.Random(number), 0
    chosen = sorted(rng.sample(range(begun + 1, calls + 1), min(calls - begun, DISK_ERRORS // 2)))
    for n, at in enumerate(chosen):
        for folder, kept in ((data, good), (notebook, phone)):
            shutil.rmtree(folder)
            shutil.copytree(kept, folder)
        env = preload(disk, data, FAULT_AT=str(at), FAULT_ERRNO=str(number), FAULT_STAYS=str(n % 2))
        try:
            office = Faulted(data, env)
        except json.JSONDecodeError:
            # The call comes before it takes connections, as the threads fell this time.
            refused += 1
        else:
            done = run(notebook, "sync", office.address)
            refused += done.returncode != 0
            assert "panicked" not in done.stdout + done.stderr
            office.kill()
        said = told(notebook, job)
        office_holds(data, job, said)
        # With a good disk all of it arrives.
        office = Office(data)
        chalkwalk(notebook, "sync", office.address)
        assert chalkwalk(notebook, "show", job)["status"]["safe_at_office"]
        office.kill()
    with capsys.disabled():
        print(f"\n  office, {errno.errorcode[number]}: {len(chosen)} of {calls - begun} calls, {refused} syncs refused")
