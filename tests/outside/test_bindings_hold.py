"""What apps do to the bindings that a person would not, in Python: threads, two openings, kills, a
full disk, a clock set back, a mistake inside, TLS with an authority of the office's own.
"""

import os
import signal
import subprocess
import sys
import threading
import time

import pytest

from test_bindings import GENERATED, PHOTOS, Hears, Office, begun, cw, note, put, sync
from test_full_disk import fill, room, small  # noqa: F401


@pytest.fixture
def office(tmp_path):
    office = Office(tmp_path / "office")
    yield office
    office.process.terminate()
    office.process.wait(timeout=30)


def alone(folder, **options):
    return cw.Notebook.create(str(folder), "Cy", "Cy's phone", cw.Role.CREW, **options)


def test_eight_threads_record_while_an_exchange_runs_whose_listener_calls_back(office, tmp_path):
    notebook = office.enrolled(tmp_path / "one", "Ada")
    job = begun(notebook)
    sync(notebook)
    exchange, outcomes, failures = cw.Exchange(), [], []
    hears = Hears(notebook, job)

    def live():
        outcomes.append(notebook.sync_with_office(exchange, cw.SyncOptions(live=True), hears))

    def record(number):
        try:
            for entry in range(20):
                notebook.add(job, note(f"{number}, {entry}"))
                notebook.findings(job, True)
                notebook.status(job)
        except cw.ChalkwalkError as error:
            failures.append(error)

    linked = threading.Thread(target=live)
    linked.start()
    threads = [threading.Thread(target=record, args=(number,)) for number in range(8)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join(timeout=120)
        assert not thread.is_alive(), "two threads wait for each other"
    assert failures == []
    # 160 of theirs and one by the listener.
    wait(lambda: len(notebook.records(job, cw.Kind.NOTE)) == 161)
    wait(lambda: notebook.status(job).safe_at_office)
    exchange.stop()
    linked.join(timeout=30)
    assert not linked.is_alive() and outcomes[0].stopped
    other = office.enrolled(tmp_path / "two", "Ben")
    sync(other)
    assert len(other.records(job, cw.Kind.NOTE)) == 161


def wait(done):
    for _ in range(400):
        if done():
            return
        time.sleep(0.05)
    raise AssertionError("it did not come about in twenty seconds")


OPENS = """
import os, sys
sys.path.insert(0, os.path.dirname(sys.argv[1]))
import test_bindings as t
try:
    t.cw.Notebook.open(sys.argv[2])
except t.cw.ChalkwalkError.NotOpen as error:
    print(error)
"""


def test_a_notebook_is_open_once(tmp_path):
    notebook = alone(tmp_path / "one")
    with pytest.raises(cw.ChalkwalkError.NotOpen):
        cw.Notebook.open(str(tmp_path / "one"))
    # In another process too, such as an extension of the app.
    done = subprocess.run([sys.executable, "-c", OPENS, __file__, tmp_path / "one"], capture_output=True, text=True, timeout=60, check=True)
    assert done.stdout.strip(), "it could be opened twice"
    job = begun(notebook)
    notebook.shut()
    with pytest.raises(cw.ChalkwalkError.NotOpen):
        notebook.jobs()
    assert [card.id for card in cw.Notebook.open(str(tmp_path / "one")).jobs()] == [job]


# Records, says each confirmed action on a line, and goes on until it is killed.
RECORDS = """
import os, sys
sys.path.insert(0, os.path.dirname(sys.argv[1]))
import test_bindings as t
notebook = t.cw.Notebook.open(sys.argv[2])
number = 0
while True:
    notebook.add(sys.argv[3], t.note(str(number)))
    print(number, flush=True)
    number += 1
"""


@pytest.mark.parametrize("after", [0.05, 0.2, 0.6])
def test_an_app_killed_while_it_records_keeps_what_was_confirmed(tmp_path, after):
    folder = tmp_path / "one"
    notebook = alone(folder)
    job = begun(notebook)
    notebook.shut()
    process = subprocess.Popen([sys.executable, "-c", RECORDS, __file__, folder, job], stdout=subprocess.PIPE, text=True)
    told = [process.stdout.readline()]
    time.sleep(after)
    process.send_signal(signal.SIGKILL)
    told += process.stdout.readlines()
    process.wait(timeout=30)
    confirmed = {line.strip() for line in told if line.endswith("\n")}
    again = cw.Notebook.open(str(folder))
    kept = {record.fields.fields.text for record in again.records(job, cw.Kind.NOTE)}
    assert confirmed and confirmed <= kept and len(kept) <= len(confirmed) + 1


@pytest.mark.parametrize("leave", [0, 64 << 10])
def test_a_full_disk(small, leave):  # noqa: F811
    notebook = alone(small / "one")
    job = begun(notebook)
    notebook.add(job, note("before"))
    fill(small, leave)
    with pytest.raises(cw.ChalkwalkError.DiskFull) as refused:
        for _ in range(200):
            notebook.add(job, note("a" * 30_000))
    assert "full" in str(refused.value)
    with pytest.raises(cw.ChalkwalkError.DiskFull):
        notebook.add_photo(job, str(PHOTOS[0]), cw.PhotoNote())
    kept = {record.fields.fields.text for record in notebook.records(job, cw.Kind.NOTE)}
    assert "before" in kept
    room(small)
    notebook.add(job, note("after"))
    notebook.add_photo(job, str(PHOTOS[0]), cw.PhotoNote())
    notebook.shut()
    again = cw.Notebook.open(str(small / "one"))
    assert {"before", "after"} <= {record.fields.fields.text for record in again.records(job, cw.Kind.NOTE)}
    assert again.job(job).photos == 1 and again.troubles() == []
    again.shut()


def test_a_disk_that_fills_up_in_an_exchange(small, office, tmp_path):  # noqa: F811
    one, two = office.enrolled(tmp_path / "one", "Ada"), office.enrolled(small / "two", "Ben")
    job = begun(one)
    for photo in PHOTOS[:12]:
        one.add_photo(job, str(photo))
    sync(one)
    one.write_bundle(str(tmp_path / "bundle"), originals=True)
    fill(small, 700 << 10)
    with pytest.raises(cw.ChalkwalkError.DiskFull) as refused:
        sync(two, originals=True)
    assert "is safe" in str(refused.value)
    with pytest.raises(cw.ChalkwalkError.DiskFull):
        two.read_bundle(str(tmp_path / "bundle"))
    taken = sum(photo.original is not None for photo in two.photos(job))
    assert taken < 12
    room(small)
    assert sync(two, originals=True).progress.originals_taken == 12 - taken
    two.shut()


class Turned(cw.Clock):
    def __init__(self, at):
        self.at, self.fails = at, False

    def now(self):
        if self.fails:
            raise cw.ListenerFailure.Failed("no clock")
        return self.at


def test_a_clock_set_back(tmp_path, office):
    clock = Turned(1_777_777_777_000)
    notebook = alone(tmp_path / "one", clock=clock)
    notebook.enrol(office.picture())
    job = begun(notebook)
    first = notebook.add(job, note("first")).record
    clock.at = 1_000
    second = notebook.add(job, note("second")).record
    clock.fails = True
    third = notebook.add(job, note("third")).record
    order = [deed.record for deed in notebook.history(job)]
    assert order.index(first) < order.index(second) < order.index(third)
    assert {deed.record: deed.at for deed in notebook.history(job)}[second] == 1_000
    notebook.check(job)
    sync(notebook)
    assert notebook.status(job).safe_at_office
    clock.fails = False
    notebook.shut()
    again = cw.Notebook.open(str(tmp_path / "one"), clock=clock)
    again.add(job, note("after"))
    sync(again)
    assert [deed.record for deed in again.history(job)][: len(order)] == order


@pytest.mark.skipif(not hasattr(cw.Notebook, "fail_inside"), reason="this library was built without what only tests need")
def test_a_mistake_inside_is_an_error_and_the_notebook_goes_on(tmp_path):
    lines = []

    class Lines(cw.LogListener):
        def on_line(self, level, line):
            lines.append(line)

    cw.listen_to_log(Lines(), cw.LogLevel.INFO)
    notebook = alone(tmp_path / "one")
    job = begun(notebook)
    for number in range(3):
        with pytest.raises(cw.ChalkwalkError.Internal) as failed:
            notebook.fail_inside()
        assert "safe" in str(failed.value)
        notebook.add(job, note(str(number)))
    with pytest.raises(cw.ChalkwalkError.Internal):
        notebook.fail_in_the_middle()
    began = time.monotonic()
    notebook.add(job, note("after a transaction that nobody ended"))
    assert time.monotonic() - began < 5, "it waited for itself"
    # Let go of as ever, and open to others.
    notebook.shut()
    again = cw.Notebook.open(str(tmp_path / "one"))
    assert len(again.records(job, cw.Kind.NOTE)) == 4
    cw.listen_to_log(None, cw.LogLevel.INFO)
    assert any("opened again" in line for line in lines)
    assert not any("Alder" in line or "Cy" in line for line in lines), "personal data in the log"


FAILS = """
import os, sys
sys.path.insert(0, os.path.dirname(sys.argv[1]))
import test_bindings as t
notebook = t.cw.Notebook.open(sys.argv[2])
for _ in range(17):
    try:
        notebook.fail_inside()
    except t.cw.ChalkwalkError.Internal as error:
        print(error)
for call in (notebook.jobs, lambda: t.cw.heat_index(90.0, 60.0), lambda: t.cw.Notebook.open(sys.argv[2])):
    try:
        call()
    except t.cw.ChalkwalkError.Internal as error:
        print(error)
"""


@pytest.mark.skipif(not hasattr(cw.Notebook, "fail_inside"), reason="this library was built without what only tests need")
def test_after_sixteen_mistakes_the_app_is_to_be_started_again(tmp_path):
    notebook = alone(tmp_path / "one")
    job = begun(notebook)
    notebook.add(job, note("kept"))
    notebook.shut()
    done = subprocess.run([sys.executable, "-c", FAILS, __file__, tmp_path / "one"], capture_output=True, text=True, timeout=60)
    assert done.returncode == 0, done.stderr
    said = done.stdout.splitlines()
    assert len(said) == 20
    assert all("try again" in words for words in said[:15])
    assert all("start it again" in words for words in said[15:])
    again = cw.Notebook.open(str(tmp_path / "one"))
    assert len(again.records(job, cw.Kind.NOTE)) == 1


def test_a_forked_script_goes_on():
    """The library's own threads are not in a fork, such as one of Python's `multiprocessing`."""
    assert cw.heat_index(90.0, 60.0).words
    child = os.fork()
    if child == 0:
        os._exit(0 if cw.heat_index(90.0, 60.0).words and cw.ladder_for(12.0).words else 1)
    for _ in range(200):
        ended, status = os.waitpid(child, os.WNOHANG)
        if ended:
            break
        time.sleep(0.05)
    else:
        os.kill(child, signal.SIGKILL)
        raise AssertionError("it waits for a thread that is not there")
    assert os.waitstatus_to_exitcode(status) == 0


@pytest.mark.skipif(not hasattr(cw.Notebook, "fail_inside"), reason="this library was built without what only tests need")
def test_a_mistake_inside_an_exchange_ends_it_alone(office, tmp_path):
    notebook = office.enrolled(tmp_path / "one", "Ada")
    job = begun(notebook)
    session = cw.Session.begin(notebook, True, cw.SyncOptions())
    assert session.next_frame() and not session.has_ended()
    with pytest.raises(cw.ChalkwalkError.Internal):
        session.fail_inside()
    assert session.has_ended() and session.due_at() is None and session.next_event() is None
    session.tick()
    session.leave()
    with pytest.raises(cw.ChalkwalkError.NotOpen):
        session.receive(b"none")
    notebook.add(job, note("on"))
    sync(notebook)
    assert notebook.status(job).safe_at_office


def openssl(*arguments):
    subprocess.run(["openssl", *map(str, arguments)], capture_output=True, check=True)


@pytest.fixture
def secure(tmp_path):
    """An authority of the office's own, and a server with a certificate of it for localhost."""
    keys = tmp_path / "keys"
    keys.mkdir()
    openssl("req", "-x509", "-newkey", "rsa:2048", "-nodes", "-days", 2, "-subj", "/CN=Test authority", "-keyout", keys / "ca.key", "-out", keys / "ca.pem")
    openssl("req", "-newkey", "rsa:2048", "-nodes", "-subj", "/CN=localhost", "-keyout", keys / "key.pem", "-out", keys / "asked.pem")
    (keys / "names").write_text("subjectAltName=DNS:localhost\n")
    openssl(
        *["x509", "-req", "-days", 2, "-in", keys / "asked.pem", "-CA", keys / "ca.pem", "-CAkey", keys / "ca.key"],
        *["-CAcreateserial", "-extfile", keys / "names", "-out", keys / "cert.pem"],
    )
    office = Office(tmp_path / "office", "--tls-cert", keys / "cert.pem", "--tls-key", keys / "key.pem")
    port = office.address.rsplit(":", 1)[1]
    office.address = f"https://localhost:{port}"
    yield office, keys / "ca.pem", port
    office.process.terminate()
    office.process.wait(timeout=30)


def test_tls_with_an_authority_of_the_offices_own(secure, tmp_path):
    office, authority, port = secure
    notebook = alone(tmp_path / "one")
    picture = office.picture()
    # The system does not know this authority.
    with pytest.raises(cw.ChalkwalkError.Refused) as refused:
        notebook.enrol(picture)
    assert "is not the office's" in str(refused.value) and "--ca" not in str(refused.value)
    for text in ["", "no certificate", authority.read_text()[:200]]:
        with pytest.raises(cw.ChalkwalkError.Input):
            notebook.trust_only(text)
    notebook.trust_only(authority.read_text())
    # Its certificate is for another name.
    said = cw.read_enrolment_picture(picture)
    with pytest.raises(cw.ChalkwalkError.Refused):
        notebook.enrol_by_hand(f"https://127.0.0.1:{port}", said.code, said.pin)
    assert notebook.enrol(picture) == "Test office"
    job = begun(notebook)
    notebook.add_photo(job, str(PHOTOS[0]), cw.PhotoNote())

    class Cut(cw.SyncListener):
        def on_event(self, event):
            if isinstance(event, cw.SyncEvent.PEER_KEPT):
                raise cw.ListenerFailure.Failed("the signal is lost")

    assert sync(notebook, Cut(), jobs=[job]).stopped
    [upload] = notebook.uploads(job, notebook.upload_token())
    assert upload.url.startswith("https://localhost:")
    assert notebook.upload_answered(upload, *put(upload, str(authority))) == cw.UploadMeaning.KEPT()
    sync(notebook)
    assert notebook.status(job).safe_at_office
    # To be said after each opening: without it the server is not believed.
    notebook.shut()
    again = cw.Notebook.open(str(tmp_path / "one"))
    with pytest.raises(cw.ChalkwalkError.Refused):
        sync(again)
    again.trust_only(authority.read_text())
    sync(again)


def test_the_library_is_that_of_the_generated_code():
    # uniffi compares a sum of every function when the module is loaded; that it was loaded says it.
    assert cw.__file__ == str(GENERATED / "python/chalkwalk.py") or os.environ.get("CHALKWALK_WHEEL")
