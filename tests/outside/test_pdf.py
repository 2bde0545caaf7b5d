"""The reports on paper, read by programs that know nothing of chalkwalk.

References: ISO 32000 as Debian's qpdf and poppler read it; PDF/UA-1 (ISO 14289-1) by PyPI's pdfua, and
by checkpoints of the Matterhorn Protocol 1.1 (PDF Association, 2021) written out below on pikepdf, each
named by its number. Neither is a full validator of PDF/UA: what a machine cannot see (whether an
alternative text says what the picture shows) is not checked, and the registries carry no other.
CHALKWALK_PACKET names a folder with the demo's packets, CHALKWALK the command.
"""

import json
import os
import pathlib
import re
import subprocess
import sys

import pdfua
import pikepdf
import pytest

WHERE = pathlib.Path(os.environ.get("CHALKWALK_PACKET", "packet"))
KINDS = ["shared", "owner", "production", "archive"]


@pytest.fixture(params=KINDS, scope="module")
def bag(request):
    folder = WHERE / request.param
    assert folder.is_dir(), f"{folder} is not there: set CHALKWALK_PACKET"
    return folder


@pytest.fixture(scope="module")
def pdf(bag):
    return bag / "data" / "report.pdf"


def report_of(bag):
    return json.loads((bag / "data" / "report.json").read_text(encoding="utf-8"))


def said(*command):
    done = subprocess.run([str(part) for part in command], capture_output=True, text=True)
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


def plain(text):
    """The words alone: a line's end may part a word at a hyphen."""
    text = text.replace("\u00ad", "").replace("\u00a0", " ")
    text = re.sub(r"[-\u2010]\n", "", text)
    return re.sub(r"[\s-]+", "", text).lower()


def test_qpdf_finds_no_error(pdf):
    assert "No syntax or stream encoding errors" in said("qpdf", "--check", pdf)


def test_every_font_is_embedded_with_its_letters(pdf):
    fonts = said("pdffonts", pdf).splitlines()[2:]
    assert fonts
    for font in fonts:
        assert re.search(r"\s+yes\s+yes\s+yes\s+\d+\s+\d+$", font), font


def test_the_words_come_in_reading_order(bag, pdf):
    report = report_of(bag)
    text = said("pdftotext", pdf, "-")
    body = plain(text)
    at = 0
    for finding in report.get("findings", []):
        words = plain(finding["text"] or "")
        here = body.find(words, at) if len(words) > 30 else at
        assert here >= 0, (finding["number"], finding["text"])
    for photo in report["photos"]:
        assert photo["blake3"][:12] in body, photo["name"]
    if "account" in report and bag.name == "owner":
        at = 0
        for place in report["account"]["observed"]:
            for line in place["lines"]:
                found = body.find(plain(line["text"]), at)
                assert found >= at, line["text"]
                at = found
        assert body.find(plain(report["account"]["no_promise"]), at) > at
    totals = [plain(total["item"]) for total in report.get("scope_totals", [])]
    at = body.rfind("totalswhat")
    for total in totals:
        found = body.find(total, at)
        assert found >= at >= 0, total
        at = found


def test_findings_stand_by_place_in_the_order_of_the_walk(bag, pdf):
    report = report_of(bag)
    if not report.get("findings"):
        return
    body = plain(said("pdftotext", pdf, "-"))
    numbered = [(f["number"], plain(f"{f['number']}. {f['component'] or 'part not stated'}")) for f in report["findings"]]
    assert [number for number, _ in numbered] == sorted(number for number, _ in numbered)
    at = body.rfind("findingsbysideandslope")
    assert at > 0
    for number, words in numbered:
        found = body.find(words, at)
        assert found >= at, (number, words)
        at = found


def test_heads_and_feet_name_job_and_page(bag, pdf):
    report = report_of(bag)
    pages = said("pdftotext", "-layout", pdf, "-").split("\f")[:-1]
    for number, page in enumerate(pages, 1):
        if number > 1:
            assert f"Page {number} of {len(pages)}" in page, number
            assert report["head"]["address"] in page, number
        assert re.search(r"Job [0-9A-Z]{26}", page), number


def test_paper_is_letter_or_a4_as_asked(pdf, tmp_path):
    assert "612 x 792 pts (letter)" in said("pdfinfo", pdf)
    demo = WHERE.parent
    summary = json.loads((demo / "summary.json").read_text(encoding="utf-8"))
    if pdf.parent.parent.name != "production":
        return
    said(os.environ["CHALKWALK"], "--notebook", demo / "rep", "export", summary["job"], "--out", tmp_path,
         "--packet", "production", "--paper", "a4")
    info = said("pdfinfo", tmp_path / "production" / "data" / "report.pdf")
    assert "595.276 x 841.89 pts (A4)" in info, info


def test_pictures_carry_nothing_of_the_camera(pdf, tmp_path):
    said("pdfimages", "-j", pdf, tmp_path / "p")
    pictures = sorted(tmp_path.glob("*.jpg"))
    assert len(pictures) > 50
    told = json.loads(said("exiftool", "-json", "-a", "-G1", *pictures))
    for picture in told:
        groups = {key.split(":")[0] for key in picture if ":" in key}
        assert groups <= {"System", "File", "JFIF", "Composite", "ExifTool"}, picture


def strings_of(value, seen):
    """Every text of a PDF's objects: metadata, outline, alternative texts."""
    left = [value]
    while left:
        one = left.pop()
        if isinstance(one, pikepdf.Object) and one.is_indirect:
            if one.objgen in seen:
                continue
            seen.add(one.objgen)
        if isinstance(one, pikepdf.String):
            yield str(one)
        elif isinstance(one, pikepdf.Array):
            left += list(one)
        elif isinstance(one, (pikepdf.Dictionary, pikepdf.Stream)):
            left += [one[key] for key in one.keys()]


def test_no_word_of_the_office_is_in_what_goes_out():
    records = json.loads((WHERE / "archive" / "data" / "records.json").read_text(encoding="utf-8"))
    hidden = {
        text
        for record in records
        if record["fields"].get("audience") == "office only" or record["kind"] in ("question", "answer")
        for key, text in record["fields"].items()
        if key in ("text", "caption", "cause_reason") and len(text) > 12
    }
    assert hidden
    archive = report_of(WHERE / "archive")
    photos = {p["blake3"][:12] for p in archive["photos"] if p["audience"] == "office only"}
    assert photos
    found_in_archive = plain(said("pdftotext", WHERE / "archive" / "data" / "report.pdf", "-"))
    assert all(photo in found_in_archive for photo in photos)
    for kind in KINDS[:3]:
        path = WHERE / kind / "data" / "report.pdf"
        with pikepdf.open(path) as pdf:
            seen = set()
            kept = plain(" ".join(text for one in pdf.objects for text in strings_of(one, seen)))
            with pdf.open_metadata() as about:
                kept += plain(" ".join(str(value) for value in about.values()))
        text = plain(said("pdftotext", path, "-")) + kept
        for word in hidden:
            assert plain(word) not in text, (kind, word)
        for photo in photos:
            assert photo not in text, (kind, photo)


# PDF/UA-1

def test_pdfua_has_no_finding(pdf):
    done = subprocess.run([sys.executable, "-m", "pdfua", "check", str(pdf)], capture_output=True, text=True)
    assert "PASS (no findings)" in done.stdout, done.stdout + done.stderr


@pytest.fixture(scope="module")
def opened(pdf):
    with pikepdf.open(pdf) as file:
        yield file


def elements(root):
    """Every structure element, in reading order."""
    left = [root.StructTreeRoot.K]
    while left:
        one = left.pop(0)
        if isinstance(one, pikepdf.Array):
            left[:0] = list(one)
        elif isinstance(one, pikepdf.Dictionary) and "/S" in one:
            yield one
            if "/K" in one:
                left.insert(0, one.K)


def kids(one):
    inside = one.get("/K", [])
    inside = list(inside) if isinstance(inside, pikepdf.Array) else [inside]
    return [kid for kid in inside if isinstance(kid, pikepdf.Dictionary) and "/S" in kid]


def test_the_document_says_what_it_is(opened):
    with opened.open_metadata() as about:
        assert str(about["pdfuaid:part"]) == "1"  # Matterhorn 06-002
        assert about["dc:title"]  # 06-003
    assert opened.Root.ViewerPreferences.DisplayDocTitle  # 07-001, 07-002
    assert str(opened.Root.Lang) == "en-US"  # 11-006
    assert opened.Root.MarkInfo.Marked  # 09: the tags are to be relied on
    assert "/StructTreeRoot" in opened.Root


def test_headings_do_not_skip_a_level(opened):
    levels = [int(str(one.S)[2:]) for one in elements(opened.Root) if re.fullmatch(r"/H[1-6]", str(one.S))]
    assert levels and levels[0] == 1  # Matterhorn 14-002
    for before, after in zip(levels, levels[1:]):
        assert after <= before + 1, levels  # 14-003


def test_every_picture_is_told_in_words(bag, opened):
    figures = [one for one in elements(opened.Root) if str(one.S) == "/Figure"]
    photos = report_of(bag)["photos"]
    assert len(figures) >= len(photos) + 1
    told = [str(one.get("/Alt", "")) for one in figures]
    assert all(told)  # Matterhorn 13-004
    for photo in photos:
        assert any(re.match(rf"Photo {photo['number']}\b", words) for words in told), photo["name"]


def test_tables_have_heads_and_are_regular(opened):
    tables = [one for one in elements(opened.Root) if str(one.S) == "/Table"]
    for table in tables:
        rows = []
        for part in kids(table):
            assert str(part.S) in ("/THead", "/TBody", "/TFoot", "/TR"), part.S
            rows += [part] if str(part.S) == "/TR" else kids(part)
        widths = {len(kids(row)) for row in rows}
        assert len(widths) == 1, widths  # Matterhorn 15-003, by ISO 32000 14.8.4.3.4
        heads = [cell for row in rows for cell in kids(row) if str(cell.S) == "/TH"]
        assert len(heads) >= widths.pop()
        for head in heads:
            scope = head.get("/A")
            listed = list(scope) if isinstance(scope, pikepdf.Array) else [scope]
            assert any(one is not None and "/Scope" in one for one in listed)  # 15-003


def test_all_that_is_drawn_is_tagged_or_an_artifact(opened):
    paints = {"Tj", "TJ", "'", '"', "S", "s", "f", "F", "f*", "B", "B*", "b", "b*", "Do", "sh"}
    for number, page in enumerate(opened.pages, 1):
        depth = 0
        for operands, operator in pikepdf.parse_content_stream(page):
            name = str(operator)
            if name in ("BDC", "BMC"):
                depth += 1
            elif name == "EMC":
                depth -= 1
            elif name in paints:
                assert depth > 0, (number, name)  # Matterhorn 01-005
        assert depth == 0


def test_ways_are_tagged_and_follow_the_reading_order(opened):
    ways = 0
    for page in opened.pages:
        notes = page.get("/Annots", [])
        if len(notes):
            assert str(page.Tabs) == "/S"  # Matterhorn 28-008, 28-009
        for note in notes:
            assert str(note.Subtype) == "/Link"
            assert "/StructParent" in note  # 28-002, 28-011
            assert str(note.get("/Contents", ""))  # 28-004
            ways += 1
    assert ways
