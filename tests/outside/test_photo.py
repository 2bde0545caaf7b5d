"""Photos, checked against programs of other people.

Needs `exiftool` and, from PyPI, pillow, pillow-heif, numpy, opencv-python-headless and blake3.
The environment variable CHALKWALK names the `chalkwalk` command; `chalkwalk photo FILE --json`
prints what is known of one picture file.
"""

import calendar
import hashlib
import json
import os
import subprocess
import time

import blake3
import cv2
import numpy as np
import pillow_heif
import pytest
from PIL import ExifTags, Image, ImageOps


def run(path):
    command = [os.environ["CHALKWALK"], "photo", str(path), "--json"]
    return subprocess.run(command, capture_output=True, text=True, check=False)


def capture(path):
    done = run(path)
    assert done.returncode == 0, done.stderr
    return json.loads(done.stdout)


def exiftool(path, *tags):
    """Tags as exiftool reads them, numbers as numbers."""
    command = ["exiftool", "-json", "-n", *tags, str(path)]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    return json.loads(done.stdout)[0]


def write_tags(path, tags):
    """Tags written by exiftool."""
    settings = [f"-{name}={value}" for name, value in tags.items()]
    command = ["exiftool", "-q", "-n", "-overwrite_original", *settings, str(path)]
    subprocess.run(command, check=True)


def scene(width, height, seed):
    """Boxes on a slope of light."""
    dice = np.random.default_rng(seed)
    rows = np.linspace(60, 140, height)[:, None]
    picture = np.repeat(np.repeat(rows, width, axis=1)[:, :, None], 3, axis=2)
    for _ in range(12):
        left, top = int(dice.integers(width)), int(dice.integers(height))
        right, bottom = left + width // 5, top + height // 5
        picture[top:bottom, left:right] = dice.integers(20, 240, 3)
    return Image.fromarray(picture.astype(np.uint8))


PHONE = {
    "Make": "Example",
    "Model": "Phone 1",
    "DateTimeOriginal": "2024:06:11 14:30:05",
    "OffsetTimeOriginal": "-05:00",
    "SubSecTimeOriginal": "250",
    "GPSLatitude": 38.123456,
    "GPSLatitudeRef": "N",
    "GPSLongitude": 97.654321,
    "GPSLongitudeRef": "W",
    "GPSAltitude": 231.5,
    "GPSAltitudeRef": 0,
    "GPSHPositioningError": 4.7,
    "GPSImgDirection": 263.25,
    "GPSImgDirectionRef": "T",
    "Orientation": 6,
}
SOUTH = PHONE | {
    "OffsetTimeOriginal": "+09:30",
    "SubSecTimeOriginal": "07",
    "GPSLatitude": 33.5,
    "GPSLatitudeRef": "S",
    "GPSLongitude": 151.25,
    "GPSLongitudeRef": "E",
    "GPSAltitude": 3.25,
    "GPSAltitudeRef": 1,
    "GPSImgDirection": 0.5,
    "GPSImgDirectionRef": "M",
    "Orientation": 8,
}
NO_OFFSET = {
    name: PHONE[name] for name in ("Make", "Model", "DateTimeOriginal", "Orientation")
}


def wall_clock(text, fraction=None):
    """Milliseconds since 1970 as if the wall clock were UTC, by Python's calendar."""
    seconds = calendar.timegm(time.strptime(text, "%Y:%m:%d %H:%M:%S"))
    return seconds * 1000 + round(float(f"0.{fraction or 0}") * 1000)


def minutes(offset):
    sign = -1 if offset[0] == "-" else 1
    hours, rest = offset[1:].split(":")
    return sign * (int(hours) * 60 + int(rest))


@pytest.fixture(params=["jpeg", "png", "heic"])
def suffix(request):
    return request.param


def phone_file(folder, suffix, tags, seed=1):
    path = folder / f"photo.{suffix}"
    picture = scene(640, 480, seed)
    if suffix == "heic":
        pillow_heif.from_pillow(picture).save(path)
    else:
        picture.save(path)
    write_tags(path, tags)
    return path


@pytest.mark.parametrize("tags", [PHONE, SOUTH, NO_OFFSET], ids=["phone", "south", "bare"])
def test_exif_is_that_of_exiftool(tmp_path, suffix, tags):
    path = phone_file(tmp_path, suffix, tags)
    ours = capture(path)
    theirs = exiftool(path, *(f"-EXIF:{name}" for name in PHONE))
    fraction = theirs.get("SubSecTimeOriginal")
    # exiftool gives a fraction such as 07 as text and 250 as a number.
    assert ours["local_time"] == wall_clock(theirs["DateTimeOriginal"], fraction)
    offset = theirs.get("OffsetTimeOriginal")
    assert ours["utc_offset_min"] == (minutes(offset) if offset else None)
    assert ours["camera"] == f"{theirs['Make']} {theirs['Model']}"
    assert ours["orientation"] == theirs["Orientation"]
    if "GPSLatitude" not in theirs:
        assert ours["place"] is None and ours["bearing"] is None
        return
    # Signed degrees and metres come from exiftool's composite tags.
    signed = exiftool(path, "-Composite:all")
    place = ours["place"]
    assert place["latitude"] == pytest.approx(signed["GPSLatitude"], abs=1e-9)
    assert place["longitude"] == pytest.approx(signed["GPSLongitude"], abs=1e-9)
    assert place["altitude_m"] == pytest.approx(signed["GPSAltitude"], abs=1e-9)
    assert place["accuracy_m"] == pytest.approx(theirs["GPSHPositioningError"])
    assert ours["bearing"] == pytest.approx(theirs["GPSImgDirection"])
    assert ours["bearing_from"] == {"T": "true", "M": "magnetic"}[theirs["GPSImgDirectionRef"]]


@pytest.mark.parametrize("tags", [PHONE, SOUTH], ids=["phone", "south"])
def test_exif_is_that_of_pillow(tmp_path, tags):
    path = phone_file(tmp_path, "jpeg", tags)
    ours = capture(path)
    with Image.open(path) as picture:
        exif = picture.getexif()
        assert (ours["width"], ours["height"]) == picture.size
    camera = exif.get_ifd(ExifTags.IFD.Exif)
    gps = exif.get_ifd(ExifTags.IFD.GPSInfo)
    base, place = ExifTags.Base, ExifTags.GPS
    time_ms = wall_clock(camera[base.DateTimeOriginal], camera[base.SubsecTimeOriginal])
    assert ours["local_time"] == time_ms
    assert ours["utc_offset_min"] == minutes(camera[base.OffsetTimeOriginal])
    assert ours["orientation"] == exif[base.Orientation]

    def degrees(tag, side, negative):
        whole, sixtieth, second = (float(part) for part in gps[tag])
        value = whole + sixtieth / 60 + second / 3600
        return -value if gps[side] == negative else value

    north = degrees(place.GPSLatitude, place.GPSLatitudeRef, "S")
    east = degrees(place.GPSLongitude, place.GPSLongitudeRef, "W")
    assert ours["place"]["latitude"] == pytest.approx(north, abs=1e-9)
    assert ours["place"]["longitude"] == pytest.approx(east, abs=1e-9)
    assert ours["place"]["accuracy_m"] == pytest.approx(float(gps[place.GPSHPositioningError]))
    assert ours["bearing"] == pytest.approx(float(gps[place.GPSImgDirection]))


def test_hashes_are_those_of_other_programs(tmp_path, suffix):
    path = phone_file(tmp_path, suffix, PHONE)
    data = path.read_bytes()
    ours = capture(path)
    assert ours["size"] == len(data)
    assert ours["hash"] == blake3.blake3(data).hexdigest()
    done = subprocess.run(["sha256sum", path], capture_output=True, text=True, check=True)
    assert bytes(ours["sha256"]).hex() == done.stdout.split()[0]
    assert bytes(ours["sha256"]) == hashlib.sha256(data).digest()


def greys():
    dice = np.random.default_rng(7)
    y, x = np.mgrid[0:64, 0:64]
    yield "flat", np.full((64, 64), 90)
    yield "checks", (x + y) % 2 * 255
    yield "step", (x >= 32) * 255
    for width, height in [(320, 240), (17, 320), (2, 2), (1, 9), (33, 1), (320, 320)]:
        yield f"noise {width}x{height}", dice.integers(0, 256, (height, width))


GREYS = dict(greys())


@pytest.mark.parametrize("name", GREYS)
def test_sharpness_is_that_of_opencv(tmp_path, name):
    values = GREYS[name].astype(np.uint8)
    path = tmp_path / "grey.png"
    Image.fromarray(values).save(path)
    signs = capture(path)["usability"]
    theirs = cv2.Laplacian(values, cv2.CV_64F).var()
    assert signs["sharpness"] == pytest.approx(theirs, abs=1e-3), name
    assert signs["brightness"] == pytest.approx(values.mean(), abs=1e-3), name


def likeness(picture):
    """One bit for each of nine by eight fields that is brighter than the one to its right."""
    grey = np.asarray(picture.convert("L"), dtype=float)
    height, width = grey.shape
    rows = [grey[r * height // 8 : (r + 1) * height // 8] for r in range(8)]
    bits = 0
    for row in rows:
        means = [row[:, c * width // 9 : (c + 1) * width // 9].mean() for c in range(9)]
        for left, right in zip(means, means[1:]):
            bits = bits << 1 | int(left > right)
    return bits


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_turned_photo_is_looked_at_upright(tmp_path, orientation):
    """Pillow's `exif_transpose` is the other reader of the orientation."""
    path = tmp_path / "turned.jpg"
    scene(320, 240, 3).save(path, quality=95)
    write_tags(path, {"Orientation": orientation})
    with Image.open(path) as picture:
        upright = likeness(ImageOps.exif_transpose(picture))
        stored = likeness(picture)
    ours = capture(path)["usability"]["likeness"]
    assert bin(ours ^ upright).count("1") <= 2
    if orientation != 1:
        assert bin(ours ^ stored).count("1") >= 12


@pytest.mark.parametrize("how", [{"subsampling": 2}, {"subsampling": 1}, {"progressive": True},
                                 {"subsampling": 2, "restart_marker_rows": 1}], ids=str)
def test_a_large_photo_is_reduced_as_pillow_reduces_it(tmp_path, how):
    """Large photos take another way through the decoder than small ones."""
    path = tmp_path / "large.jpg"
    scene(4032, 3024, 4).save(path, quality=90, **how)
    with Image.open(path) as picture:
        picture.draft("RGB", (504, 378))
        small = picture.convert("RGB").resize((320, 240), Image.Resampling.BILINEAR)
    signs = capture(path)["usability"]
    assert signs["brightness"] == pytest.approx(np.asarray(small.convert("L")).mean(), abs=0.5)
    assert bin(signs["likeness"] ^ likeness(small)).count("1") <= 2


def test_a_wrong_file_gets_a_word(tmp_path):
    words = tmp_path / "words.jpg"
    words.write_text("not a picture")
    empty = tmp_path / "empty.jpg"
    empty.write_bytes(b"")
    for path, word in [(words, "not a picture"), (empty, "empty"), (tmp_path, "not a file")]:
        done = run(path)
        assert done.returncode != 0
        assert word in done.stderr
