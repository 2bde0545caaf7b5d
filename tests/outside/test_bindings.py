"""The bindings in other languages, against a real office.

CHALKWALK_BINDINGS is a folder that `bindings/build/generate.sh` wrote, with `visit.jar` by
`bindings/build/kotlin.sh` in it. The sample shells run as they stand in the guide: Python here, Kotlin
on a JVM through JNA. Swift is parsed with tree-sitter, and its header held against the library.
"""

import json
import os
import pathlib
import re
import signal
import ssl
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request

import pytest

ROOT = pathlib.Path(__file__).parents[2]
if "CHALKWALK_BINDINGS" not in os.environ:
    pytest.skip("CHALKWALK_BINDINGS names no generated bindings", allow_module_level=True)
GENERATED = pathlib.Path(os.environ["CHALKWALK_BINDINGS"])
PHOTOS = sorted((ROOT / "fixtures/photos").glob("*.jpg"))
LIBRARY = GENERATED / "python/libchalkwalk.so"

sys.path.insert(0, str(GENERATED / "python"))
import chalkwalk as cw  # noqa: E402


class Office:
    def __init__(self, data, *more):
        self.data = data
        command = [os.environ["CHALKWALK"], "serve", "--data", str(data), "--listen", "127.0.0.1:0", "--company", "Test office", *map(str, more)]
        self.process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True)
        self.address = json.loads(self.process.stdout.readline())["devices"]

    def picture(self):
        command = [os.environ["CHALKWALK"], "--json", "invite", "--data", str(self.data), "--address", self.address]
        return json.loads(subprocess.run(command, capture_output=True, text=True, check=True).stdout)["qr"]

    def enrolled(self, folder, name):
        notebook = cw.Notebook.create(str(folder), name, f"{name}'s phone", cw.Role.CREW)
        assert notebook.enrol(self.picture()) == "Test office"
        return notebook


@pytest.fixture
def office(tmp_path):
    office = Office(tmp_path / "office")
    yield office
    office.process.terminate()
    office.process.wait(timeout=30)


def begun(notebook):
    return notebook.begin(cw.Property(street="12 Alder Way"))


def note(words):
    return cw.Fields.NOTE(cw.Note(text=words))


def sync(notebook, listener=None, **options):
    return notebook.sync_with_office(cw.Exchange(), cw.SyncOptions(**options), listener)


def visited(office, command, tmp_path, env=None):
    """Runs a sample shell; what it did must be in the office as another device reads it."""
    arguments = [tmp_path / "shell", office.picture(), PHOTOS[0], tmp_path / "out"]
    done = subprocess.run([*command, *map(str, arguments)], capture_output=True, text=True, timeout=180, check=False, env=env)
    assert done.returncode == 0, done.stdout + done.stderr
    assert "enrolled with Test office" in done.stdout and "safe at the office" in done.stdout
    assert (tmp_path / "out/shared/data/index.html").is_file()
    other = office.enrolled(tmp_path / "other", "Ben")
    assert sync(other, originals=True).progress.originals_taken == 1
    [job] = other.jobs()
    assert (job.title, job.findings, job.photos) == ("12 Alder Way, Harrow Creek", 1, 1)
    [finding] = other.records(job.id, cw.Kind.FINDING)
    assert finding.hits == 7 and finding.fields.fields.extent_length == "12' 6\""
    [photo] = other.photos(job.id)
    assert pathlib.Path(photo.original).read_bytes() == PHOTOS[0].read_bytes()


def test_the_python_shell(office, tmp_path):
    shell = ROOT / "bindings/python/sample/visit.py"
    visited(office, [sys.executable, str(shell)], tmp_path, {**os.environ, "PYTHONPATH": str(GENERATED / "python")})


def test_the_kotlin_shell(office, tmp_path):
    visited(office, kotlin("VisitKt"), tmp_path)


def kotlin(main, *options):
    """The command that runs a program of `visit.jar` on a JVM."""
    lib = pathlib.Path(os.environ["CHALKWALK_NODE"]) / "node_modules/kotlin-compiler/lib"
    jars = [GENERATED / "visit.jar", lib / "kotlin-stdlib.jar", lib / "kotlinx-coroutines-core-jvm.jar", "/usr/share/java/jna.jar"]
    return ["java", *options, f"-Djna.library.path={LIBRARY.parent}", "-cp", ":".join(map(str, jars)), main]


def test_kotlin_holds_what_apps_do_to_it(office, tmp_path):
    arguments = [tmp_path, office.picture(), *PHOTOS[:3]]
    done = subprocess.run([*kotlin("HoldsKt"), *map(str, arguments)], capture_output=True, text=True, timeout=300, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    assert done.stdout.count("holds:") == 14, done.stdout


def test_swift_parses_and_its_header_is_the_librarys():
    import tree_sitter
    import tree_sitter_swift

    parser = tree_sitter.Parser(tree_sitter.Language(tree_sitter_swift.language()))
    # What uniffi generates uses attributes that this grammar does not know: ours alone is parsed.
    ours = list((ROOT / "bindings/swift").rglob("*.swift"))
    assert len(ours) >= 3
    for file in ours:
        tree = parser.parse(file.read_bytes())
        assert not tree.root_node.has_error, file
    header = (GENERATED / "swift/ChalkwalkFFI.h").read_text()
    declared = set(re.findall(r"\b((?:uniffi|ffi)_chalkwalk\w+)\(", header))
    symbols = subprocess.run(["nm", "-D", "--defined-only", str(LIBRARY)], capture_output=True, text=True, check=True).stdout
    exported = {line.split()[-1] for line in symbols.splitlines()}
    assert len(declared) > 150 and declared <= exported, sorted(declared - exported)[:5]


class Hears(cw.SyncListener):
    """Records and reads while an exchange runs."""

    def __init__(self, notebook, job, fail=False):
        self.notebook, self.job, self.fail, self.events = notebook, job, fail, []

    def on_event(self, event):
        if self.fail:
            raise cw.ListenerFailure.Failed("enough")
        if not self.events:
            self.notebook.add(self.job, note("during the exchange"))
        self.notebook.findings(self.job, True)
        self.events.append(event)


def test_a_listener_records_during_an_exchange(office, tmp_path):
    notebook = office.enrolled(tmp_path / "one", "Ada")
    job = begun(notebook)
    hears = Hears(notebook, job)
    sync(notebook, hears)
    assert any(isinstance(event, cw.SyncEvent.SETTLED) for event in hears.events)
    status = notebook.status(job)
    assert status.safe_at_office, "what was recorded meanwhile went along"
    assert sync(notebook, Hears(notebook, job, fail=True)).stopped


def test_a_live_exchange_tells_news_and_is_stopped(office, tmp_path):
    one, two = office.enrolled(tmp_path / "one", "Ada"), office.enrolled(tmp_path / "two", "Ben")
    job = begun(one)
    sync(one)
    exchange, outcome = cw.Exchange(), []

    def run():
        outcome.append(two.sync_with_office(exchange, cw.SyncOptions(live=True), None))

    thread = threading.Thread(target=run)
    thread.start()
    one.add(job, note("news"))
    sync(one)
    until(lambda: two.jobs() and two.records(job, cw.Kind.NOTE))
    exchange.stop()
    thread.join(timeout=20)
    assert not thread.is_alive() and outcome[0].stopped


def until(done):
    for _ in range(200):
        if done():
            return
        time.sleep(0.05)
    raise AssertionError("it did not come about in ten seconds")


def test_two_phones_meet_without_the_office(office, tmp_path):
    one, two = office.enrolled(tmp_path / "one", "Ada"), office.enrolled(tmp_path / "two", "Ben")
    job = begun(one)
    one.add_photo(job, str(PHOTOS[0]), cw.PhotoNote(role=cw.PhotoRole.OVERVIEW))
    meeting = cw.Meeting.listen("127.0.0.1:0")
    thread = threading.Thread(target=lambda: one.sync_with_next(cw.Exchange(), meeting, cw.SyncOptions()))
    thread.start()
    outcome = two.sync_with_device(cw.Exchange(), meeting.address(), cw.SyncOptions(originals=True))
    thread.join(timeout=20)
    assert outcome.progress.originals_taken == 1 and two.job(job).photos == 1
    stopped = cw.Exchange()
    stopped.stop()
    with pytest.raises(cw.ChalkwalkError.Stopped):
        one.sync_with_next(stopped, meeting, cw.SyncOptions())


def test_a_session_over_a_link_of_the_apps_own(office, tmp_path):
    one, two = office.enrolled(tmp_path / "one", "Ada"), office.enrolled(tmp_path / "two", "Ben")
    job = begun(one)
    left, right = cw.Session.begin(one, True, cw.SyncOptions()), cw.Session.begin(two, False, cw.SyncOptions())
    moved = True
    while moved:
        moved = False
        for sender, receiver in [(left, right), (right, left)]:
            while (frame := sender.next_frame()) is not None:
                receiver.receive(frame)
                moved = True
    assert left.has_ended() and right.has_ended() and two.job(job).title == "12 Alder Way"
    damaged = cw.Session.begin(one, True, cw.SyncOptions())
    damaged.receive(b"\x01 not a frame")
    assert damaged.has_ended()


def test_statements_are_settled(office, tmp_path):
    one, two = office.enrolled(tmp_path / "one", "Ada"), office.enrolled(tmp_path / "two", "Ben")
    job = begun(one)
    finding = one.add(job, cw.Fields.FINDING(cw.Finding(component=cw.Component.GUTTER))).record
    sync(one)
    sync(two)
    record = finding.split("/")[1]
    one.amend(job, record, cw.Fields.FINDING(cw.Finding(cause=cw.Cause.HAIL)))
    two.amend(job, record, cw.Fields.FINDING(cw.Finding(cause=cw.Cause.WIND)))
    sync(one)
    sync(two)
    [conflict] = two.conflicts(job)
    assert (conflict.at, conflict.field) == (finding, "cause")
    said = {statement.who: at for at, statement in enumerate(conflict.statements)}
    assert two.settle(job, finding, "cause", said["Ada"]) == "hail"
    assert two.conflicts(job) == []


def test_a_bundle_crosses(office, tmp_path):
    one, two = office.enrolled(tmp_path / "one", "Ada"), office.enrolled(tmp_path / "two", "Ben")
    job = begun(one)
    one.add_photo(job, str(PHOTOS[1]), cw.PhotoNote())
    written = one.write_bundle(str(tmp_path / "bundle"), [], True)
    read = two.read_bundle(str(tmp_path / "bundle"))
    assert read.new_changes == written.changes > 0 and two.job(job).photos == 1


def put(upload, authority=None):
    """What the system's upload service does."""
    trust = ssl.create_default_context(cafile=authority) if authority else None
    body = pathlib.Path(upload.path).read_bytes()
    request = urllib.request.Request(upload.url, data=body, method=upload.method)
    for header in upload.headers:
        request.add_header(header.name, header.value)
    try:
        with urllib.request.urlopen(request, timeout=60, context=trust) as answer:
            return answer.status, answer.read().decode()
    except urllib.error.HTTPError as error:
        return error.code, error.read().decode()


# An app that dies after each step. It says nothing and cleans nothing up.
DIES = """
import os, signal, sys, threading
sys.path.insert(0, os.path.dirname(sys.argv[1]))
import test_bindings as t
cw, (step, folder, job) = t.cw, sys.argv[2:5]
def die(at):
    if at == step:
        os.kill(os.getpid(), signal.SIGKILL)
notebook = cw.Notebook.open(folder)
token = notebook.upload_token()
die("token")
[upload] = notebook.uploads(job, token)
die("uploads")
if step == "half":
    import http.client, urllib.parse
    at = urllib.parse.urlparse(upload.url)
    link = http.client.HTTPConnection(at.netloc)
    link.putrequest("PUT", at.path + "?" + at.query)
    for header in upload.headers:
        link.putheader(header.name, header.value)
    link.putheader("Content-Length", str(upload.size))
    link.endheaders(open(upload.path, "rb").read(upload.size // 2))
die("half")
status, body = t.put(upload)
die("put")
assert notebook.upload_answered(upload, status, body) == cw.UploadMeaning.KEPT(), (status, body)
die("answered")
"""


def test_an_app_killed_in_each_step_of_an_upload(office, tmp_path):
    notebook = office.enrolled(tmp_path / "one", "Ada")
    folder, before = str(tmp_path / "one"), None
    job = begun(notebook)
    notebook.add_photo(job, str(PHOTOS[0]), cw.PhotoNote())
    # The office learns of the photo, and is not given the original: the link is cut by then.
    session_without_originals(notebook, job)
    notebook.shut()
    for step in ["token", "uploads", "half", "put", "answered"]:
        done = subprocess.run([sys.executable, "-c", DIES, __file__, step, folder, job], capture_output=True, text=True, timeout=120, check=False)
        assert done.returncode == -signal.SIGKILL, (step, done.stderr)
        notebook = cw.Notebook.open(folder)
        due = notebook.uploads(job, notebook.upload_token())
        safe = notebook.photos(job)[0].safe_at_office
        notebook.shut()
        assert (len(due) == 0, safe) == (step == "answered", step == "answered"), step
    other = office.enrolled(tmp_path / "two", "Ben")
    assert sync(other, originals=True).progress.originals_taken == 1


def session_without_originals(notebook, job):
    """An exchange that ends once the changes are kept, before any original goes."""

    class Stops(cw.SyncListener):
        def on_event(self, event):
            if isinstance(event, cw.SyncEvent.PEER_KEPT):
                raise cw.ListenerFailure.Failed("the signal is lost")

    assert notebook.sync_with_office(cw.Exchange(), cw.SyncOptions(jobs=[job]), Stops()).stopped


def test_answers_of_the_office_have_their_meaning(office, tmp_path):
    notebook = office.enrolled(tmp_path / "one", "Ada")
    job = begun(notebook)
    notebook.add_photo(job, str(PHOTOS[0]), cw.PhotoNote())
    [upload] = notebook.uploads(job, notebook.upload_token())
    status, body = put(upload)
    meaning = notebook.upload_answered(upload, status, body)
    assert isinstance(meaning, (cw.UploadMeaning.SYNC_FIRST, cw.UploadMeaning.REFUSED)), (status, body)
    session_without_originals(notebook, job)
    [stale] = notebook.uploads(job, cw.UploadToken(token="00", expires_at=0))
    assert notebook.upload_answered(stale, *put(stale)) == cw.UploadMeaning.NEW_TOKEN()
    [upload] = notebook.uploads(job, notebook.upload_token())
    assert notebook.upload_answered(upload, *put(upload)) == cw.UploadMeaning.KEPT()
    assert notebook.uploads(job, notebook.upload_token()) == []


def test_reckoning_without_a_job():
    day = cw.sun_day(33.2127, -98.7431, "2026-05-02", "America/Chicago", [cw.SunFace(name="front", bearing=180.0, pitch="6/12")], None)
    assert day.faces[0].sentence.startswith("front:") and day.drawing.startswith("<svg") and day.caution
    with pytest.raises(cw.ChalkwalkError.Input):
        cw.sun_day(33.2, -98.7, "2026-05-02", "Nowhere/None", [], None)
    assert "training" in cw.ladder_for(20.0).defer and cw.power_line(13.0).cautions
