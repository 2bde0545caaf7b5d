"""Checks both packets with programs that know nothing of chalkwalk.

CHALKWALK_PACKET names a folder with shared/ and archive/. References: RFC 8493 as the PyPI
package bagit reads it, sha256sum of coreutils, the PyPI package blake3, RFC 4180 as Python's csv
reads it.
"""

import csv
import hashlib
import json
import os
import pathlib
import subprocess
from html.parser import HTMLParser

import bagit
import blake3
import pytest

KINDS = ["shared", "owner", "production", "archive"]


@pytest.fixture(params=KINDS)
def bag(request):
    where = os.environ.get("CHALKWALK_PACKET")
    assert where, "set CHALKWALK_PACKET to a folder with shared/ and archive/"
    folder = pathlib.Path(where) / request.param
    assert folder.is_dir(), f"{folder} is not there"
    return folder


def manifest(bag, name):
    lines = (bag / name).read_text(encoding="utf-8").splitlines()
    assert lines
    return dict(reversed(line.split("  ", 1)) for line in lines)


def payload(bag):
    return {
        path.relative_to(bag).as_posix(): path
        for path in (bag / "data").rglob("*")
        if path.is_file()
    }


def test_bagit_validates_it_whole(bag):
    read = bagit.Bag(str(bag))
    assert read.validate(fast=False, completeness_only=False)
    assert read.version_info == (1, 0)
    assert read.algorithms == ["sha256"]
    for key in ["Payload-Oxum", "Bagging-Date", "Source-Organization"]:
        assert read.info[key], key


def test_bagit_refuses_it_altered(bag, tmp_path):
    copy = tmp_path / "copy"
    subprocess.run(["cp", "-r", str(bag), str(copy)], check=True)
    page = copy / "data" / "index.html"
    page.write_bytes(page.read_bytes().replace(b"observed", b"observes", 1))
    with pytest.raises(bagit.BagError):
        bagit.Bag(str(copy)).validate()


@pytest.mark.parametrize("name", ["manifest-sha256.txt", "tagmanifest-sha256.txt"])
def test_sha256sum_agrees(bag, name):
    done = subprocess.run(
        ["sha256sum", "--check", "--strict", "--quiet", name],
        cwd=bag,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_blake3_agrees_and_every_file_is_listed(bag):
    stated = manifest(bag, "blake3.txt")
    files = payload(bag)
    assert set(stated) == set(files) == set(manifest(bag, "manifest-sha256.txt"))
    for name, path in files.items():
        assert blake3.blake3(path.read_bytes()).hexdigest() == stated[name], name


def test_captures_name_the_hashes_of_their_photos(bag):
    vouched = set()
    captures = sorted((bag / "data" / "captures").glob("*.json"))
    assert captures
    for path in captures:
        capture = json.loads(path.read_text(encoding="utf-8"))
        if capture["photo"] is None:
            continue
        bytes_ = (bag / "data" / capture["photo"]).read_bytes()
        said = capture["capture"]
        assert said["sha256"] == hashlib.sha256(bytes_).hexdigest(), path.name
        assert said["blake3"] == blake3.blake3(bytes_).hexdigest(), path.name
        assert said["bytes"] == len(bytes_), path.name
        vouched.add(capture["photo"])
    photos = {p.relative_to(bag / "data").as_posix() for p in (bag / "data" / "photos").iterdir()}
    assert vouched == photos


def test_every_line_of_the_table_has_all_columns(bag):
    tables = sorted((bag / "data").glob("*.csv"))
    assert tables
    for table in tables:
        raw = table.read_bytes()
        assert raw.endswith(b"\r\n")
        with open(table, newline="", encoding="utf-8") as file:
            rows = list(csv.reader(file, strict=True))
        assert rows
        assert {len(row) for row in rows} == {len(rows[0])}
        for cell in (cell for row in rows for cell in row):
            number = cell.removeprefix("-").replace(".", "", 1).isdigit()
            assert number or not cell.startswith(("=", "+", "-", "@", "\t", "\r")), cell


class Links(HTMLParser):
    """Collects what the page loads or points to."""

    def __init__(self):
        super().__init__()
        self.targets = []
        self.tags = set()

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.targets += [value for key, value in attrs if key in ("href", "src")]


def test_the_page_needs_nothing_from_elsewhere(bag):
    links = Links()
    links.feed((bag / "data" / "index.html").read_text(encoding="utf-8"))
    assert not links.tags & {"script", "link", "iframe", "object"}
    assert links.targets
    for target in links.targets:
        if not target.startswith("#"):
            assert (bag / "data" / target).is_file(), target


def test_only_the_archive_holds_the_document():
    where = pathlib.Path(os.environ["CHALKWALK_PACKET"])
    assert (where / "archive" / "data" / "job.automerge").is_file()
    shared = {path.name for path in (where / "shared").rglob("*")}
    assert not shared & {"job.automerge", "history.json", "changes.json", "records.json"}
