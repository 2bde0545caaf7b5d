"""The reader of other people's scopes, checked against readers of other people.

Needs openpyxl from PyPI. The environment variable CHALKWALK_ASK names the program that answers one
JSON question a line. All files are made here, from a fixed seed.
"""

import csv
import io
import json
import os
import random
import subprocess
from decimal import ROUND_HALF_UP, Decimal

import openpyxl
import pytest

SEED = 20260428
CSV_FILES = 400
XLSX_FILES = 60
AMOUNTS = 3000


def ask(questions):
    """All answers, in order."""
    text = "".join(json.dumps({"about": "compare"} | question) + "\n" for question in questions)
    done = subprocess.run(
        [os.environ["CHALKWALK_ASK"]], input=text, capture_output=True, text=True, check=True
    )
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(answers) == len(questions)
    return answers


WORDS = [
    "Gutter", "Gutter, 5\"", "Step flashing; chimney", "Shingles\ttabbed", "two\nlines", "'quoted'",
    "\"", "\"\"", "", " ", "a|b", "R&R drip edge", "1,234.50", "(12.00)", "$5", "Größe", "½ in", "=1+1",
    "front / left", "ends with blank ", " begins so", "no comma", "x", "-", "0",
]
HEAD = ["Description", "Location", "Qty", "Unit", "Unit price", "Total", "Notes"]


def table(dice, width):
    return [[dice.choice(WORDS) for _ in range(width)] for _ in range(dice.randrange(1, 25))]


def filled(rows):
    """Rows with a filled cell, without the empty cells at their ends."""
    out = []
    for row in rows:
        row = ["" if cell is None else str(cell) for cell in row]
        while row and not row[-1].strip():
            row.pop()
        if row:
            out.append(row)
    return out


# The writer and reader are those of Python's csv module (its documentation: "Dialects and
# Formatting Parameters"), which follows RFC 4180 with doubled quotes.
def test_text_files_are_read_as_python_reads_them(record_property):
    dice = random.Random(SEED)
    questions, expected = [], []
    for number in range(CSV_FILES):
        delimiter = dice.choice(",;\t|")
        ending = dice.choice(["\r\n", "\n"])
        encoding = dice.choice(["utf-8", "utf-8-sig", "cp1252", "utf-16"])
        quoting = dice.choice([csv.QUOTE_MINIMAL, csv.QUOTE_ALL])
        rows = [HEAD] + table(dice, len(HEAD))
        text = io.StringIO(newline="")
        csv.writer(text, delimiter=delimiter, lineterminator=ending, quoting=quoting).writerows(rows)
        for _ in range(dice.randrange(3)):
            text.write(ending)
        data = text.getvalue().encode(encoding)
        questions.append({"want": "table", "file": data.hex()})
        again = csv.reader(io.StringIO(data.decode(encoding), newline=""), delimiter=delimiter)
        expected.append(filled(again))
    wrong = 0
    for answer, rows in zip(ask(questions), expected):
        assert not answer["ok"]["broken"], answer
        wrong += [row["cells"] for row in answer["ok"]["rows"]] != rows
    record_property("csv files read otherwise than by Python", wrong)
    print(f"csv: {CSV_FILES} files, {wrong} read otherwise")
    assert wrong == 0


def number_of(value):
    """A number as openpyxl has it, without needless digits."""
    return Decimal(str(value)).normalize()


# openpyxl is a second implementation of the format (ISO/IEC 29500, SpreadsheetML).
def test_spreadsheets_are_read_as_openpyxl_reads_them(record_property, tmp_path):
    dice = random.Random(SEED + 1)
    questions, expected = [], []
    for number in range(XLSX_FILES):
        book = openpyxl.Workbook()
        sheet = book.active
        sheet.title = "Cover"
        sheet.append(["An invented house"])
        scope = book.create_sheet("Scope of work")
        for _ in range(dice.randrange(3)):
            scope.append([])
        scope.append(HEAD)
        for _ in range(dice.randrange(1, 30)):
            price = Decimal(dice.randrange(1, 90_000)) / 100
            amount = Decimal(dice.randrange(1, 9_000)) / 100
            scope.append([
                dice.choice(["Gutter", "Größe ½", "two\nlines", "R&R <drip> edge", " blank "]),
                dice.choice([None, "Front", "Roof"]), float(amount), dice.choice(["LF", "SQ", "EA"]),
                float(price), dice.choice([None, dice.randrange(10**6), dice.random() * 1e6]),
                dice.choice([None, "Note", True]),
            ])
            if dice.random() < 0.1:
                scope.append([])
        path = tmp_path / f"{number}.xlsx"
        book.save(path)
        questions.append({"want": "table", "file": path.read_bytes().hex()})
        read = openpyxl.load_workbook(path, data_only=True)["Scope of work"]
        rows = []
        for row in read.iter_rows():
            cells = [cell.value for cell in row]
            while cells and (cells[-1] is None or not str(cells[-1]).strip()):
                cells.pop()
            if cells:
                rows.append((row[0].row, cells))
        expected.append(rows)
    wrong = 0
    for answer, rows in zip(ask(questions), expected):
        ours = answer["ok"]["rows"]
        assert [row["line"] for row in ours] == [line for line, _ in rows]
        for row, (_, cells) in zip(ours, rows):
            for mine, theirs in zip(row["cells"], cells, strict=True):
                if isinstance(theirs, bool):
                    wrong += mine != str(theirs).lower()
                elif isinstance(theirs, (int, float)):
                    wrong += Decimal(mine).normalize() != number_of(theirs)
                else:
                    wrong += mine != ("" if theirs is None else theirs)
    record_property("spreadsheet cells read otherwise than by openpyxl", wrong)
    print(f"xlsx: {XLSX_FILES} files, {wrong} cells read otherwise")
    assert wrong == 0


def written(dice, value, comma):
    """A number as people write it, in one of many ways."""
    digits = f"{abs(value):,.2f}" if dice.random() < 0.6 else f"{abs(value):.2f}"
    if comma:
        digits = digits.translate(str.maketrans(",.", ".,"))
    sign = dice.choice(["$", "", "$ ", "USD "])
    if value < 0:
        return dice.choice([f"({sign}{digits})", f"-{sign}{digits}", f"{sign}{digits}-"])
    return sign + digits


# Python's decimal module follows the General Decimal Arithmetic Specification (IEEE 754-2008).
@pytest.mark.parametrize("comma", [False, True], ids=["point", "comma"])
def test_amounts_and_sums_are_those_of_pythons_decimal(record_property, comma):
    dice = random.Random(SEED + 2 + comma)
    rows, quantities, money = [], [], []
    for _ in range(AMOUNTS):
        quantity = Decimal(dice.randrange(1, 5_000_000)) / 100
        total = Decimal(dice.randrange(-5_000_000, 500_000_000)) / 100
        shown = f"{quantity:,.2f}"
        if comma:
            shown = shown.translate(str.maketrans(",.", ".,"))
        rows.append(["Gutter", "", shown + dice.choice([" LF", "LF", ""]), "", "", written(dice, total, comma), ""])
        quantities.append(quantity)
        money.append(total)
    text = io.StringIO(newline="")
    csv.writer(text, delimiter=";").writerows([HEAD] + rows)
    file = text.getvalue().encode().hex()
    read, sums = ask([{"want": "rows", "file": file}, {"want": "sums", "file": file}])
    assert not read["ok"]["broken"], read["ok"]["broken"][:3]
    ours = [(Decimal(row["quantity"]), Decimal(row["total"])) for row in read["ok"]["rows"]]
    assert ours == list(zip(quantities, money))
    worst = max(
        abs(Decimal(sums["ok"]["quantity"]) - sum(quantities)),
        abs(Decimal(sums["ok"]["money"]) - sum(money)),
    )
    record_property("worst deviation of a sum", str(worst))
    print(f"sums of {AMOUNTS} rows: worst deviation {worst}")
    assert worst == 0


def test_the_product_to_the_cent_is_that_of_pythons_decimal():
    """Quantity times price proves the columns: the totals are rounded here by Python."""
    dice = random.Random(SEED + 9)
    rows = []
    for _ in range(300):
        quantity = Decimal(dice.randrange(1, 90_000)) / 100
        price = Decimal(dice.randrange(1, 90_000)) / 100
        total = (quantity * price).quantize(Decimal("0.01"), ROUND_HALF_UP)
        rows.append(["Gutter", "", quantity, "LF", price, total, ""])
    text = io.StringIO(newline="")
    csv.writer(text).writerows([HEAD] + rows)
    (answer,) = ask([{"want": "columns", "file": text.getvalue().encode().hex()}])
    found = {column["meaning"]: column for column in answer["ok"]["columns"]}
    for meaning in ("quantity", "unit_price", "total"):
        assert found[meaning]["score"] == 100, found[meaning]


def test_a_mapping_of_a_person_and_its_mistakes():
    file = b"A,B,C\nGutter,24,LF\n".hex()
    good = {"want": "rows", "file": file, "mapping": {"item": 1, "quantity": 2, "unit": 3}}
    bad = good | {"mapping": {"item": "Z"}}
    read, refused = ask([good, bad])
    # Without a head the first row is a row like all others, and "B" is no number.
    assert [row["item"] for row in read["ok"]["rows"]] == ["Gutter"]
    assert [row["line"] for row in read["ok"]["broken"]] == [1]
    assert "no column" in refused["error"]
