"""What leaves the house, opened with programs that know nothing of chalkwalk.

References: JSON Schema draft 2020-12 as PyPI's jsonschema reads it; ISO/IEC 29500 as openpyxl reads
it, with the sums worked out here from the ranges that the formulas name and by LibreOffice; APPNOTE zip as Debian's
unzip and Python's zipfile read it; Ed25519 (RFC 8032) as openssl checks it; EXIF as exiftool reads
it. CHALKWALK_PACKET names a folder with the demo's packets, CHALKWALK the command.
"""

import csv
import datetime
import hashlib
import json
import os
import pathlib
import re
import shutil
import subprocess
import zipfile

import jsonschema
import openpyxl
import pytest

WHERE = pathlib.Path(os.environ.get("CHALKWALK_PACKET", "packet"))
KINDS = ["shared", "owner", "production", "archive"]


@pytest.fixture(params=KINDS)
def bag(request):
    folder = WHERE / request.param
    assert folder.is_dir(), f"{folder} is not there: set CHALKWALK_PACKET"
    return folder


def report_of(bag):
    return json.loads((bag / "data" / "report.json").read_text(encoding="utf-8"))


def csv_of(bag, table):
    name = table.replace("_", "-") + ".csv"
    with open(bag / "data" / name, newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file, strict=True))


def tables_of(report):
    return {
        key: value
        for key, value in report.items()
        if isinstance(value, list) and key not in ("format",)
    }


def test_the_report_is_as_its_schema_says(bag):
    schema = json.loads((bag / "data" / "report.schema.json").read_text(encoding="utf-8"))
    jsonschema.Draft202012Validator.check_schema(schema)
    checker = jsonschema.Draft202012Validator(
        schema, format_checker=jsonschema.Draft202012Validator.FORMAT_CHECKER
    )
    report = report_of(bag)
    checker.validate(report)
    report["photos"][0]["number"] = "one"
    with pytest.raises(jsonschema.ValidationError):
        checker.validate(report)


def words(value):
    if value is None:
        return ""
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return "; ".join(words(one) for one in value)
    return str(value)


def same(cell, value):
    if isinstance(value, (int, float)) and not isinstance(value, bool):
        return float(cell) == pytest.approx(value, rel=1e-9)
    return cell.removeprefix("'") == words(value).removeprefix("'")


def test_the_tables_say_what_the_report_says(bag):
    report = report_of(bag)
    for table, rows in tables_of(report).items():
        cells = csv_of(bag, table)
        assert len(cells) == len(rows), table
        for line, row in zip(cells, rows):
            assert set(row) <= set(line), table
            for key, cell in line.items():
                assert same(cell, row.get(key)), (table, key, cell, row.get(key))


def sheets(bag, formulas=False):
    book = openpyxl.load_workbook(bag / "data" / "report.xlsx", data_only=not formulas)
    return {sheet.title.lower().replace(" ", "_"): sheet for sheet in book.worksheets}


def test_the_spreadsheet_says_what_the_report_says_with_real_types(bag):
    report = report_of(bag)
    found = sheets(bag)
    assert set(found) == set(tables_of(report))
    for table, sheet in found.items():
        names = [cell.value for cell in sheet[1]]
        assert sheet.row_dimensions[1].hidden
        assert sheet.freeze_panes == "B3" and sheet.auto_filter.ref
        assert sheet.page_setup.orientation == "landscape" and sheet.print_title_rows
        for index, row in enumerate(report[table]):
            for name, cell in zip(names, sheet[index + 3]):
                value = row.get(name)
                if isinstance(value, (int, float)) and not isinstance(value, bool):
                    assert isinstance(cell.value, (int, float)), (table, name)
                    assert cell.value == pytest.approx(value, rel=1e-9), (table, name)
                elif isinstance(cell.value, datetime.datetime):
                    text = value.replace("Z", "")
                    assert cell.value == datetime.datetime.fromisoformat(text), (table, name)
                else:
                    assert words(cell.value) == words(value), (table, name)


SUBTOTAL = re.compile(r"^=SUBTOTAL\(109,([A-Z]+)(\d+):\1(\d+)\)$")
SUMIFS = re.compile(
    r"^=ROUND\(SUMIFS\((\S+?),(\S+?),(\$[A-Z]+\d+),(\S+?),(\$[A-Z]+\d+),(\S+?),(\$[A-Z]+\d+)"
    r'(?:,(\S+?),"<>left out")?\),2\)$'
)


def column(book, area):
    sheet, cells = area.split("!")
    return [row[0].value for row in book[sheet.lower()][cells.replace("$", "")]]


def test_the_sums_of_the_spreadsheet_are_formulas_that_come_out_as_shown(bag):
    shown, written = sheets(bag), sheets(bag, formulas=True)
    checked = 0
    for table, sheet in written.items():
        for row in sheet.iter_rows():
            for cell in row:
                if not (isinstance(cell.value, str) and cell.value.startswith("=")):
                    continue
                is_shown = shown[table][cell.coordinate].value
                if plain := SUBTOTAL.match(cell.value):
                    letter, first, last = plain.groups()
                    cells = written[table][f"{letter}{first}:{letter}{last}"]
                    sums = sum(one[0].value or 0 for one in cells)
                else:
                    parts = SUMIFS.match(cell.value)
                    assert parts, cell.value
                    amounts = column(written, parts[1])
                    wanted = [
                        (column(written, parts[at]), sheet[parts[at + 1].replace("$", "")].value)
                        for at in (2, 4, 6)
                    ]
                    out = column(written, parts[8]) if parts[8] else [None] * len(amounts)
                    sums = sum(
                        amount or 0
                        for index, amount in enumerate(amounts)
                        if out[index] != "left out"
                        and all(of[index] == value for of, value in wanted)
                    )
                assert float(is_shown) == pytest.approx(sums, abs=0.005), (table, cell.coordinate)
                checked += 1
    assert checked or bag.name == "owner"


def test_libreoffice_works_out_the_same_figures(bag, tmp_path):
    # Saved by openpyxl, the formulas have no results: LibreOffice has to work them out.
    plain = tmp_path / "plain.xlsx"
    openpyxl.load_workbook(bag / "data" / "report.xlsx").save(plain)
    asked = [
        "soffice", f"-env:UserInstallation=file://{tmp_path}/profile", "--headless",
        "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", str(tmp_path / "out"), str(plain),
    ]
    done = subprocess.run(asked, capture_output=True, text=True, timeout=240)
    assert done.returncode == 0, done.stderr
    theirs = openpyxl.load_workbook(tmp_path / "out" / "plain.xlsx", data_only=True)
    numbers = 0
    for table, sheet in sheets(bag).items():
        other = next(s for s in theirs.worksheets if s.title.lower().replace(" ", "_") == table)
        for cell in (cell for row in sheet.iter_rows() for cell in row):
            if isinstance(cell.value, (int, float)) and not isinstance(cell.value, bool):
                is_there = other[cell.coordinate].value
                assert is_there == pytest.approx(cell.value, rel=1e-9), (table, cell.coordinate)
                numbers += 1
    assert numbers


def test_the_seal_is_checked_by_sha256sum_and_openssl(bag):
    text = subprocess.run(
        ["sha256sum", "--check", "--strict", "seal.txt"], cwd=bag, capture_output=True
    )
    assert text.returncode == 0, text.stderr
    ask = "openssl pkeyutl -verify -pubin -inkey seal-key.pem -rawin -in {} -sigfile seal.sig"
    good = subprocess.run(ask.format("seal.txt").split(), cwd=bag, capture_output=True)
    assert good.returncode == 0, good.stderr
    other = subprocess.run(ask.format("bag-info.txt").split(), cwd=bag, capture_output=True)
    assert other.returncode != 0


def verify(folder):
    done = subprocess.run(
        [os.environ["CHALKWALK"], "--json", "verify", str(folder)], capture_output=True, text=True
    )
    return done.returncode, json.JSONDecoder().raw_decode(done.stdout)[0]


def test_a_photo_that_is_dropped_with_every_trace_breaks_the_seal(tmp_path):
    copy = tmp_path / "shared"
    shutil.copytree(WHERE / "shared", copy)
    photo = sorted((copy / "data" / "photos").iterdir())[3]
    (copy / "data" / "captures" / f"{photo.stem}.json").unlink()
    photo.unlink()
    files = sorted(p for p in (copy / "data").rglob("*") if p.is_file())
    lines = [f"{hashlib.sha256(p.read_bytes()).hexdigest()}  {p.relative_to(copy)}\n" for p in files]
    (copy / "manifest-sha256.txt").write_text("".join(lines))
    code, report = verify(copy)
    named = {failure["file"] for failure in report["failures"]}
    assert code != 0
    assert f"data/photos/{photo.name}" in named, named
    assert "tagmanifest-sha256.txt" in named or "manifest-sha256.txt" in named


def test_nothing_of_the_office_is_in_what_goes_out():
    records = json.loads((WHERE / "archive" / "data" / "records.json").read_text(encoding="utf-8"))
    hidden = {
        text
        for record in records
        if record["fields"].get("audience") == "office only" or record["kind"] in ("question", "answer")
        for key, text in record["fields"].items()
        if key in ("text", "caption", "cause_reason") and len(text) > 12
    }
    archive = report_of(WHERE / "archive")
    photos = {p["sha256"] for p in archive["photos"] if p["audience"] == "office only"}
    assert hidden
    for kind in ["shared", "owner", "production"]:
        for path in (WHERE / kind).rglob("*"):
            if not path.is_file():
                continue
            raw = path.read_bytes()
            assert hashlib.sha256(raw).hexdigest() not in photos, path
            parts = [raw]
            if path.suffix == ".xlsx":
                with zipfile.ZipFile(path) as book:
                    parts = [book.read(name) for name in book.namelist()]
            for part in parts:
                for word in hidden:
                    assert word.encode() not in part, (path, word)
                for photo in photos:
                    assert photo.encode() not in part, (path, photo)


@pytest.fixture(scope="module")
def exported(tmp_path_factory):
    """The demo's job exported anew, as zip and without places."""
    out = tmp_path_factory.mktemp("exported")
    demo = WHERE.parent
    book = next(p for p in [demo / "rep", demo / "notebooks" / "rep", demo / "devices" / "rep"] if p.is_dir())
    summary = json.loads((demo / "summary.json").read_text(encoding="utf-8"))
    ask = [os.environ["CHALKWALK"], "--notebook", str(book), "export", summary["job"], "--out"]
    for name, more in [("plain", []), ("bare", ["--without-places"])]:
        done = subprocess.run(
            [*ask, str(out / name), "--packet", "shared", "--zip", *more],
            capture_output=True,
            text=True,
        )
        assert done.returncode == 0, done.stderr
    return out


def test_the_zip_opens_elsewhere_and_has_no_odd_paths(exported, tmp_path):
    path = exported / "plain" / "shared.zip"
    test = subprocess.run(["unzip", "-tqq", str(path)], capture_output=True, text=True)
    assert test.returncode == 0, test.stdout + test.stderr
    with zipfile.ZipFile(path) as file:
        assert file.testzip() is None
        for name in file.namelist():
            assert re.fullmatch(r"shared/[A-Za-z0-9._/-]+", name) and ".." not in name, name
        file.extractall(tmp_path)
    bag = exported / "plain" / "shared"
    files = {p.relative_to(bag): p.read_bytes() for p in bag.rglob("*") if p.is_file()}
    there = {
        p.relative_to(tmp_path / "shared"): p.read_bytes()
        for p in (tmp_path / "shared").rglob("*")
        if p.is_file()
    }
    assert files == there
    assert verify(tmp_path / "shared")[0] == 0


def test_copies_without_places_have_none(exported):
    bag = exported / "bare" / "shared"
    photos = [str(p) for p in sorted((bag / "data" / "photos").iterdir())]
    assert photos
    ask = ["exiftool", "-json", "-n", "-a", "-G1", "-GPS:all", "-DateTimeOriginal", "-Model", "-Orientation"]
    told = json.loads(subprocess.run([*ask, *photos], capture_output=True, text=True).stdout)
    for photo in told:
        keys = {key.split(":")[-1] for key in photo} - {"SourceFile", "Orientation"}
        assert not keys, photo
    # The original had a place, or the check above would say nothing.
    before = [str(p) for p in sorted((exported / "plain" / "shared" / "data" / "photos").iterdir())]
    had = json.loads(subprocess.run([*ask, *before], capture_output=True, text=True).stdout)
    assert any(any("GPS" in key for key in photo) for photo in had)
    from PIL import Image

    for old, new in zip(before[:5], photos[:5]):
        with Image.open(old) as one, Image.open(new) as two:
            assert one.tobytes() == two.tobytes()
    assert verify(bag)[0] == 0
    report = report_of(bag)
    assert all(photo["latitude"] is None for photo in report["photos"])


def test_a_file_that_is_no_folder_is_told_so_in_plain_words(tmp_path):
    zipped = tmp_path / "shared.zip"
    zipped.write_bytes(b"PK")
    said = subprocess.run([os.environ["CHALKWALK"], "verify", str(zipped)], capture_output=True, text=True)
    assert said.returncode == 1
    assert "shared.zip is not a folder" in said.stderr and "unpacked first" in said.stderr
