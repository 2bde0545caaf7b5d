"""The packets that an app writes through the bindings, for every reader, held against programs that
know nothing of chalkwalk and against what the command writes.

References: RFC 8493 (BagIt) as the PyPI package bagit reads it; JSON Schema draft 2020-12 as
jsonschema reads it; EXIF 2.32 as Pillow reads it; APPNOTE zip as Python's zipfile reads it.
"""

import datetime
import json
import os
import pathlib
import re
import shutil
import subprocess
import zipfile

import bagit
import jsonschema
import PIL.Image
import pytest

from test_bindings import PHOTOS, Office, begun, cw
from test_bindings_facade import DEMO
from test_full_disk import fill, room, small  # noqa: F401

KINDS = list(cw.PacketKind)
FOLDERS = {cw.PacketKind.SHARED: "shared", cw.PacketKind.OWNER: "owner", cw.PacketKind.PRODUCTION: "production", cw.PacketKind.ARCHIVE: "archive"}
REPORTS = {"shared": "insurers_packet", "owner": "owners_account", "production": "production_sheet", "archive": "estimators_file"}
# EXIF 2.32, 4.6.3: the pointer to what a camera wrote of the place.
GPS = 0x8825
# What nobody outside the office may read.
OFFICE_ONLY = ["quillon", "brindle", "marrowed", "tolland", "vesper-inside", "hexley"]


class Steps(cw.ProgressListener):
    def __init__(self, fail_at=0, each=None):
        self.steps, self.fail_at, self.each = [], fail_at, each

    def on_progress(self, done, of):
        self.steps.append((done, of))
        if self.each:
            self.each()
        if len(self.steps) == self.fail_at:
            raise cw.ListenerFailure.Failed("the person changed their mind")


def name(kind):
    return FOLDERS[kind]


@pytest.fixture(scope="module")
def visit(tmp_path_factory):
    """A notebook of an enrolled device whose record holds what each reader may and may not see."""
    stage = tmp_path_factory.mktemp("packets")
    office = Office(stage / "office")
    notebook = office.enrolled(stage / "one", "Ada")
    office.process.terminate()
    office.process.wait(timeout=30)
    job = begun(notebook)
    front = cw.elevation_of(cw.Side.FRONT)

    def add(fields):
        return notebook.add(job, fields).record

    def dent(words, **more):
        finding = cw.Finding(
            place=front, component=cw.Component.GUTTER, condition=cw.Condition.DAMAGED, cause=cw.Cause.HAIL,
            cause_reason="round dents, bright rims", text=words, **more,
        )
        return add(cw.Fields.FINDING(finding))

    shown, hidden = dent("dents along the run"), dent("quillon", audience=cw.Audience.OFFICE_ONLY)
    notebook.strike(job, dent("brindle"), "tolland")
    add(cw.Fields.NOTE(cw.Note(text="marrowed", audience=cw.Audience.OFFICE_ONLY)))
    bedroom = add(cw.Fields.ROOM(cw.Room(name="bedroom")))
    add(cw.Fields.INTERVIEW(cw.Interview(earlier_claims="hexley", pets="a dog behind the gate")))

    def photo(number, caption, **more):
        note = cw.PhotoNote(role=cw.PhotoRole.CLOSE_UP, caption=caption, **more)
        return notebook.add_photo(job, str(PHOTOS[number]), note).record

    shot = photo(0, "dents of the gutter", place=front, shows=[shown])
    photo(1, "quillon", place=front, shows=[hidden])
    photo(2, "the bedroom's ceiling", place=bedroom)
    photo(3, "vesper-inside", place=bedroom, office_only=True)
    marks = [cw.Mark.RING(x=500, y=400, radius=60), cw.Mark.ARROW(start_x=100, start_y=100, tip_x=400, tip_y=380), cw.Mark.TEXT(x=20, y=980, text="seven here")]
    encoded = cw.photo_marks(marks)
    assert cw.read_photo_marks(encoded) == marks
    notebook.amend(job, shot.split("/")[1], cw.Fields.PHOTO(cw.Photo(marks=encoded)))
    yield notebook, job
    notebook.shut()


@pytest.fixture(scope="module")
def written(visit, tmp_path_factory):
    notebook, job = visit
    out = tmp_path_factory.mktemp("out")
    return {name(kind): notebook.write_packet(job, kind, str(out)) for kind in KINDS}


def words(packet):
    """Every byte of a packet as text, in lower case."""
    files = (path for path in pathlib.Path(packet.folder).rglob("*") if path.is_file())
    return {str(path.relative_to(packet.folder)): path.read_bytes().decode(errors="replace").lower() for path in files}


def verified(folder):
    done = subprocess.run([os.environ["CHALKWALK"], "--json", "verify", str(folder)], capture_output=True, text=True, check=False)
    return done.returncode, json.loads(done.stdout)


@pytest.mark.parametrize("kind", KINDS, ids=name)
def test_a_packet_is_whole_to_others(written, kind):
    packet = written[name(kind)]
    folder = pathlib.Path(packet.folder)
    assert folder.name == name(kind) and pathlib.Path(packet.page).is_file() and packet.lacking == []
    bag = bagit.Bag(str(folder))
    assert bag.validate() and bag.info["Payload-Oxum"] == f"{packet.bytes}.{packet.files}"
    code, theirs = verified(folder)
    ours = cw.check_packet(packet.folder)
    assert code == 0 and theirs["failures"] == ours.failures == [] and theirs["sealed"] and ours.sealed
    assert (ours.files, ours.photos) == (packet.files, packet.photos)
    report = json.loads((folder / "data/report.json").read_text())
    jsonschema.validate(report, json.loads((folder / "data/report.schema.json").read_text()))
    assert report["report"] == REPORTS[name(kind)]
    assert report["head"]["title"] == cw.packet_in_words(kind)


def test_each_reader_gets_what_is_theirs(written):
    # The owner sees the inside of the home; who lays the roof and the insurer's people do not.
    assert {kind: packet.photos for kind, packet in written.items()} == {"shared": 1, "owner": 2, "production": 1, "archive": 4}
    texts = {kind: words(packet) for kind, packet in written.items()}
    for kind, files in texts.items():
        found = [word for word in OFFICE_ONLY if any(word in text or word in file for file, text in files.items())]
        assert found == (OFFICE_ONLY if kind == "archive" else []), kind
        assert ("data/job.automerge" in files) == (kind == "archive")
    # The crew that lays the roof has to know of pets; nobody else outside the office does.
    told = [kind for kind, files in texts.items() if any("a dog behind the gate" in text for text in files.values())]
    assert told == ["production", "archive"]


def test_marks_lie_beside_the_picture(written):
    page = words(written["shared"])["data/index.html"]
    # Places are thousandths of the picture's width and height; the drawing is as tall as the picture.
    drawn = re.search(r'viewbox="0 0 1000 (\d+)"(?:(?!</svg>).)*seven here', page, re.S)
    tall = int(drawn[1]) / 1000
    ring = re.search(r'cx="500" cy="([\d.]+)"', page)
    arrow = re.search(r'x1="100" y1="([\d.]+)" x2="400" y2="([\d.]+)"', page)
    heights = [float(ring[1]), float(arrow[1]), float(arrow[2])]
    assert heights == pytest.approx([400 * tall, 100 * tall, 380 * tall], abs=0.6), (tall, heights)
    with pytest.raises(cw.ChalkwalkError.Input):
        cw.read_photo_marks(b"\xc1 no marks")


def places(folder):
    photos = sorted((pathlib.Path(folder) / "data/photos").iterdir())
    return [bool(PIL.Image.open(photo).getexif().get_ifd(GPS)) for photo in photos]


@pytest.mark.parametrize("kind", KINDS, ids=name)
def test_photos_without_places(visit, written, kind, tmp_path):
    notebook, job = visit
    packet = notebook.write_packet(job, kind, str(tmp_path), cw.PacketChoices(without_places=True))
    assert all(places(written[name(kind)].folder)) and packet.photos == written[name(kind)].photos
    archive = kind == cw.PacketKind.ARCHIVE
    assert places(packet.folder) == [archive] * packet.photos
    found = cw.check_packet(packet.folder)
    assert found.failures == [] and found.sealed
    assert (found.photos, found.copies) == ((packet.photos, 0) if archive else (0, packet.photos))
    assert verified(packet.folder)[0] == 0


def test_a_packet_that_is_stopped_leaves_nothing(visit, tmp_path):
    notebook, job = visit
    stops = Steps(fail_at=2)
    with pytest.raises(cw.ChalkwalkError.Stopped) as stopped:
        notebook.write_packet(job, cw.PacketKind.ARCHIVE, str(tmp_path), listener=stops)
    assert "nothing was written" in str(stopped.value) and len(stops.steps) == 2 and list(tmp_path.iterdir()) == []
    hears = Steps()
    packet = notebook.write_packet(job, cw.PacketKind.ARCHIVE, str(tmp_path), listener=hears)
    assert hears.steps[:4] == [(1, 4), (2, 4), (3, 4), (4, 4)] and packet.photos == 4
    # One that is there is never written over.
    with pytest.raises(cw.ChalkwalkError.Input):
        notebook.write_packet(job, cw.PacketKind.ARCHIVE, str(tmp_path))
    assert cw.check_packet(packet.folder).failures == []


def test_the_crew_records_while_a_packet_is_written(visit, tmp_path):
    notebook, job = visit
    before = len(notebook.records(job, cw.Kind.NOTE))
    hears = Steps(each=lambda: notebook.add(job, cw.Fields.NOTE(cw.Note(text="heard meanwhile"))))
    packet = notebook.write_packet(job, cw.PacketKind.SHARED, str(tmp_path), listener=hears)
    assert len(notebook.records(job, cw.Kind.NOTE)) == before + len(hears.steps) > before
    # It shows the record as it stood when it was begun.
    assert not any("heard meanwhile" in text for text in words(packet).values())
    assert cw.check_packet(packet.folder).failures == []


def test_a_zip_to_be_sent(written, tmp_path):
    folder, to = written["owner"].folder, tmp_path / "owner.zip"
    steps = Steps()
    size = cw.zip_packet(folder, str(to), steps)
    assert size == to.stat().st_size and steps.steps[-1][0] == steps.steps[-1][1]
    with zipfile.ZipFile(to) as zipped:
        assert zipped.testzip() is None
        zipped.extractall(tmp_path / "sent")
    assert bagit.Bag(str(tmp_path / "sent/owner")).validate() and verified(tmp_path / "sent/owner")[0] == 0
    before = to.read_bytes()
    with pytest.raises(cw.ChalkwalkError.Stopped):
        cw.zip_packet(folder, str(to), Steps(fail_at=3))
    assert to.read_bytes() == before and sorted(path.name for path in tmp_path.iterdir()) == ["owner.zip", "sent"]
    # A notebook holds the device's key: what is no packet is not zipped.
    with pytest.raises(cw.ChalkwalkError.NotFound):
        cw.zip_packet(str(tmp_path), str(tmp_path / "all.zip"))
    assert not (tmp_path / "all.zip").exists()


def test_a_packet_on_a_full_disk(visit, small):  # noqa: F811
    notebook, job = visit
    fill(small, 64 << 10)
    with pytest.raises(cw.ChalkwalkError.DiskFull):
        notebook.write_packet(job, cw.PacketKind.ARCHIVE, str(small / "out"))
    assert not (small / "out/archive").exists()
    room(small)
    assert cw.check_packet(notebook.write_packet(job, cw.PacketKind.SHARED, str(small / "out")).folder).failures == []


class Stands(cw.Clock):
    """A clock that stands where the demo wrote its packets."""

    def __init__(self, at):
        self.at = at

    def now(self):
        return self.at


@pytest.mark.parametrize("kind", KINDS, ids=name)
def test_the_facade_writes_what_the_command_writes(kind, tmp_path):
    """Of the demo's job, to the byte, but for PDF and XLSX, which a phone does not set."""
    theirs = pathlib.Path(os.environ["CHALKWALK_PACKET"]) / name(kind)
    made = datetime.datetime.fromisoformat(json.loads((theirs / "data/report.json").read_text())["head"]["made_at"])
    shutil.copytree(DEMO / "rep", tmp_path / "rep")
    notebook = cw.Notebook.open(str(tmp_path / "rep"), Stands(int(made.timestamp() * 1000)))
    [card] = notebook.jobs()
    ours = pathlib.Path(notebook.write_packet(card.id, kind, str(tmp_path)).folder)
    notebook.shut()

    def payload(bag):
        files = {path.relative_to(bag).as_posix(): path for path in (bag / "data").rglob("*") if path.is_file()}
        return {file: path.read_bytes() for file, path in files.items() if path.suffix not in (".pdf", ".xlsx")}

    mine, command = payload(ours), payload(theirs)
    assert set(mine) == set(command) and len(mine) > 100
    assert [file for file in mine if mine[file] != command[file]] == []
