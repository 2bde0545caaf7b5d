"""Sun, distances, heat and storm reports, checked against libraries of other people.

Needs, from PyPI, pvlib, pyproj, metpy and pandas. The environment variable CHALKWALK_ASK names the
program that answers one JSON question a line (`cargo build --example ask`).
"""

import csv
import datetime
import io
import json
import math
import os
import pathlib
import random
import subprocess
import zoneinfo

import metpy.calc
import numpy as np
import pandas as pd
import pvlib
import pyproj
import pytest
from metpy.units import units

FIXTURES = pathlib.Path(__file__).parents[2] / "fixtures"
UTC = datetime.timezone.utc
HOUSE = (33.2127, -98.7431)


def ask(questions):
    """All answers, in order, from one run of the program."""
    lines = "".join(json.dumps(question) + "\n" for question in questions)
    command = [os.environ["CHALKWALK_ASK"]]
    done = subprocess.run(command, input=lines, capture_output=True, text=True, check=True)
    answers = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(answers) == len(questions)
    return answers


def ok(questions):
    answers = ask(questions)
    for answer in answers:
        assert "ok" in answer, answer
    return [answer["ok"] for answer in answers]


def turned(ours, theirs):
    """Degrees between two bearings."""
    return abs((ours - theirs + 180) % 360 - 180)


def report(record_property, name, value):
    record_property(name, value)
    print(f"{name}: {value:.3g}")


def millis(when):
    return round(when.timestamp() * 1000)


# The sun: pvlib 0.16.1, `solarposition.spa_python` (NREL/TP-560-34302, I. Reda and A. Andreas) and
# `irradiance.aoi`.

AIR = {"elevation": 200.0, "pressure": 990.0, "temperature": 18.0, "delta_t": 69.2}
FACES = [(facing, 90.0) for facing in range(0, 360, 45)]
FACES += [(facing, math.degrees(math.atan(rise / 12))) for facing in (10, 140, 230, 320)
          for rise in (2, 6, 12)]


def sky_grid():
    """Places from pole to pole, and times from 1990 to 2040."""
    dice = random.Random(2026)
    places = [HOUSE, (0.0, 0.0), (71.29, -156.79), (-33.87, 151.21), (64.15, -21.94), (90.0, 0.0),
              (-54.8, -68.3), (19.73, -155.09), (23.4365, 90.0), (1.0, 179.9)]
    places += [(round(dice.uniform(-80, 80), 4), round(dice.uniform(-180, 180), 4)) for _ in range(30)]
    for place in places:
        for _ in range(20):
            seconds = dice.randrange(int(50 * 365.25 * 86400))
            start = datetime.datetime(1990, 1, 1, tzinfo=UTC)
            yield place, start + datetime.timedelta(seconds=seconds)


def in_pvlib(place, times, **more):
    settings = {"altitude": AIR["elevation"], "pressure": AIR["pressure"] * 100,
                "temperature": AIR["temperature"], "delta_t": AIR["delta_t"]} | more
    return pvlib.solarposition.spa_python(pd.DatetimeIndex(times), *place, **settings)


def test_the_sun_stands_where_pvlib_says(record_property):
    grid = list(sky_grid())
    assert len(grid) >= 200
    answers = ok([{"about": "sun", "at": place, "millis": millis(when), "faces": FACES} | AIR
                  for place, when in grid])
    worst = dict.fromkeys(["zenith", "true zenith", "azimuth", "incidence"], 0.0)
    above = 0
    for (place, when), ours in zip(grid, answers):
        theirs = in_pvlib(place, [when]).iloc[0]
        worst["true zenith"] = max(worst["true zenith"], abs(ours["true_zenith"] - theirs["zenith"]))
        if theirs["apparent_elevation"] <= 0:
            continue
        above += 1
        zenith, azimuth = theirs["apparent_zenith"], theirs["azimuth"]
        worst["zenith"] = max(worst["zenith"], abs(ours["zenith"] - zenith))
        # Near the zenith a bearing says little: its error counts along the sky.
        aside = turned(ours["azimuth"], azimuth) * math.sin(math.radians(zenith))
        worst["azimuth"] = max(worst["azimuth"], aside)
        for (facing, tilt), incidence in zip(FACES, ours["incidences"]):
            expected = float(pvlib.irradiance.aoi(tilt, facing, zenith, azimuth))
            worst["incidence"] = max(worst["incidence"], abs(incidence - expected))
    assert above >= 200
    for name, value in worst.items():
        report(record_property, f"sun, {name}, worst degrees of {above}", value)
        assert value < 0.05, name


def test_the_worked_example_of_the_algorithm(record_property):
    # NREL/TP-560-34302, appendix A.5.
    when = datetime.datetime(2003, 10, 17, 19, 30, 30, tzinfo=UTC)
    [sun] = ok([{"about": "sun", "at": [39.742476, -105.1786], "millis": millis(when),
                 "elevation": 1830.14, "pressure": 820, "temperature": 11, "delta_t": 67,
                 "faces": [[170, 30]]}])
    found = [sun["zenith"], sun["azimuth"], sun["incidences"][0]]
    worst = max(abs(a - b) for a, b in zip(found, [50.111622, 194.340241, 25.187000]))
    report(record_property, "sun, worked example, worst degrees", worst)
    assert worst < 1e-4


def test_grazing_begins_and_ends_when_pvlib_says(record_property):
    """The states of a day, minute by minute, at the demo house and in the far north."""
    days = [(HOUSE, "2026-04-28", -300), (HOUSE, "2026-12-21", -360), ((64.15, -21.94), "2026-06-21", 0),
            ((71.29, -156.79), "2026-12-21", -540), ((-33.87, 151.21), "2026-01-10", 660)]
    answers = ok([{"about": "sun", "at": place, "day": day, "offset": offset, "faces": FACES} | AIR
                  for place, day, offset in days])
    wrong = minutes = 0
    for (place, day, offset), faces in zip(days, answers):
        midnight = datetime.datetime.fromisoformat(day).replace(tzinfo=UTC)
        midnight -= datetime.timedelta(minutes=offset)
        times = pd.date_range(midnight, periods=1440, freq="min")
        sun = in_pvlib(place, times)
        up = (sun["apparent_elevation"] > 0).to_numpy()
        for (facing, tilt), face in zip(FACES, faces):
            angle = pvlib.irradiance.aoi(tilt, facing, sun["apparent_zenith"], sun["azimuth"]).to_numpy()
            theirs = np.where(angle > 90, "shade", np.where(angle >= 75, "grazing", "lit"))
            theirs = np.where(up, theirs, "night")
            stamps = [millis(time) for time in times]
            ours = np.array([next(span["light"] for span in face["spans"] if span["to"] > stamp)
                             for stamp in stamps])
            wrong += int((ours != theirs).sum())
            minutes += len(ours)
    report(record_property, f"sun, minutes of {minutes} in another state", wrong)
    # A change within a second of a whole minute may fall on either side, and an excursion shorter
    # than the two minutes of the search may be missed.
    assert wrong <= minutes * 1e-4


# Distances: PROJ's geodesics on WGS 84 (C. F. F. Karney 2013), by pyproj.


def test_ways_are_those_of_proj(record_property):
    dice = random.Random(4)
    pairs = [((32.7767, -96.7970), (32.02, -96.30))]
    for _ in range(500):
        a = (dice.uniform(-90, 90), dice.uniform(-180, 180))
        pairs.append((a, (dice.uniform(-90, 90), dice.uniform(-180, 180))))
        b = (dice.uniform(25, 49), dice.uniform(-124, -67))
        pairs.append((b, (b[0] + dice.uniform(-0.3, 0.3), b[1] + dice.uniform(-0.3, 0.3))))
    answers = ok([{"about": "way", "from": a, "to": b} for a, b in pairs])
    geod = pyproj.Geod(ellps="WGS84")
    worst_m = worst_degrees = 0.0
    points = "N NNE NE ENE E ESE SE SSE S SSW SW WSW W WNW NW NNW".split()
    for (a, b), ours in zip(pairs, answers):
        azimuth, _, metres = geod.inv(a[1], a[0], b[1], b[0])
        worst_m = max(worst_m, abs(ours["metres"] - metres))
        worst_degrees = max(worst_degrees, turned(ours["bearing"], azimuth))
        if abs((azimuth / 22.5) % 1 - 0.5) > 1e-6:
            assert ours["letters"] == points[round(azimuth % 360 / 22.5) % 16]
    assert answers[0]["miles"] == pytest.approx(59.6897, abs=1e-4)
    report(record_property, "way, worst metres", worst_m)
    report(record_property, "way, worst degrees", worst_degrees)
    assert worst_m < 1e-4 and worst_degrees < 1e-6


# Heat index: MetPy 1.7.1, `calc.heat_index` (L. P. Rothfusz, NWS SR 90-23, 1990; Anderson and
# others 2013).


def test_the_heat_index_is_that_of_metpy(record_property):
    grid = [(t / 2, rh) for t in range(60, 261) for rh in range(0, 101, 2)]
    # The edges of the adjustments.
    grid += [(t, rh) for t in (40, 79.99, 80, 87, 87.01, 112, 112.01) for rh in (13, 13.01, 85, 85.01)]
    answers = ok([{"about": "heat", "temperature": t, "humidity": rh} for t, rh in grid])
    t, rh = (np.array(column, dtype=float) for column in zip(*grid))
    theirs = metpy.calc.heat_index(t * units.degF, rh * units.percent, mask_undefined=False)
    theirs = np.asarray(theirs.to("degF").magnitude)
    worst = float(np.abs(np.array([answer["index"] for answer in answers]) - theirs).max())
    report(record_property, f"heat index, worst F of {len(grid)}", worst)
    assert worst < 1e-6
    # OSHA, protective measures at each heat index risk level.
    bands = np.select([theirs < 91, theirs <= 103, theirs <= 115], ["lower", "moderate", "high"], "very_high")
    clear = np.abs(theirs[:, None] - [91, 103, 115]).min(axis=1) > 1e-6
    ours = np.array([answer["band"] for answer in answers])
    assert (ours[clear] == bands[clear]).all()


# Ladder: 29 CFR 1926.1053(b)(1) and (b)(5)(i), by Pythagoras.


def test_a_ladder_stands_four_to_one():
    heights = [8, 9, 10.5, 16, 20, 24, 31.25, 60]
    for height, ours in zip(heights, ok([{"about": "ladder", "landing": h} for h in heights])):
        angle = math.acos(0.25)
        assert ours["working_length"] == pytest.approx(height / math.sin(angle), abs=1e-3)
        assert ours["base"] == pytest.approx(height / math.sin(angle) / 4, abs=1e-3)
        assert ours["rail_length"] == pytest.approx((height + 3) / math.sin(angle), abs=1e-3)


# Storm reports: Python's csv, datetime and zoneinfo read the same files by the published layouts
# (Storm Prediction Center, daily reports; NCEI, "Storm Data Bulk CSV Format").

KNOT = 1852 / 1609.344


def near_by_python(reports, zone, loss, days, miles):
    geod = pyproj.Geod(ellps="WGS84")
    found = []
    for line, kind, at, north, east, hail, mph in reports:
        azimuth, _, metres = geod.inv(HOUSE[1], HOUSE[0], east, north)
        local = at.astimezone(zoneinfo.ZoneInfo(zone))
        if metres / 1609.344 <= miles and abs((local.date() - loss).days) <= days:
            found.append({"line": line, "kind": kind, "at": millis(at), "hail": hail, "mph": mph,
                          "local": local.strftime("%Y-%m-%d %H:%M"), "miles": metres / 1609.344})
    return sorted(found, key=lambda row: (row["miles"], row["at"], row["line"]))


def same(ours, theirs):
    assert [row["line"] for row in ours] == [row["line"] for row in theirs]
    for a, b in zip(ours, theirs):
        assert a["miles"] == pytest.approx(b["miles"], abs=1e-6)
        for name in ("kind", "at", "local"):
            assert a[name] == b[name]
        for name in ("hail", "mph"):
            assert (a[name] is None) == (b[name] is None)
            assert a[name] is None or a[name] == pytest.approx(b[name], abs=1e-9)


def daily_by_python(text, day):
    kind = None
    for line, row in enumerate(csv.reader(io.StringIO(text), quoting=csv.QUOTE_NONE), 1):
        if row[0] == "Time":
            kind = {"Size": "hail", "Speed": "wind", "F_Scale": "tornado"}[row[1]]
            continue
        try:
            clock = datetime.time(int(row[0][:2]), int(row[0][2:]), tzinfo=UTC)
            north, east = float(row[5]), float(row[6])
            number = None if row[1] == "UNK" or kind == "tornado" else int(row[1])
        except (ValueError, IndexError):
            continue
        date = day + datetime.timedelta(days=clock.hour < 12)
        hail = number / 100 if kind == "hail" and number else None
        yield line, kind, datetime.datetime.combine(date, clock), north, east, hail, number if kind == "wind" else None


def events_by_python(text):
    reader = csv.DictReader(io.StringIO(text))
    wanted = {"Hail": "hail", "Thunderstorm Wind": "wind", "High Wind": "wind", "Tornado": "tornado"}
    while True:
        line = reader.line_num + 1 if reader.fieldnames and reader.line_num else 2
        row = next(reader, None)
        if row is None:
            return
        kind = wanted.get(row["EVENT_TYPE"])
        try:
            if kind is None or None in row.values():
                continue
            hours = int(row["CZ_TIMEZONE"].lstrip("ACEHKMPST"))
            local = datetime.datetime.strptime(row["BEGIN_DATE_TIME"], "%d-%b-%y %H:%M:%S")
            at = local.replace(tzinfo=datetime.timezone(datetime.timedelta(hours=hours)))
            north, east = float(row["BEGIN_LAT"]), float(row["BEGIN_LON"])
            number = float(row["MAGNITUDE"]) if row["MAGNITUDE"] else None
        except ValueError:
            continue
        if abs(north) > 90:
            continue
        hail = number if kind == "hail" else None
        yield line, kind, at, north, east, hail, number * KNOT if kind == "wind" and number else None


def question(text, **more):
    return {"about": "storm", "file": text, "address": HOUSE, "loss": "2026-04-21", "days": 1,
            "miles": 25, "zone": "America/Chicago"} | more


def test_the_fixtures_read_as_in_python():
    loss = datetime.date(2026, 4, 21)
    text = (FIXTURES / "storm/daily-260421.csv").read_text()
    [daily] = ok([question(text, day="2026-04-21")])
    theirs = near_by_python(daily_by_python(text, loss), "America/Chicago", loss, 1, 25)
    assert len(theirs) >= 10
    same(daily["near"], theirs)
    text = (FIXTURES / "storm/storm-events-2026.csv").read_text()
    [events] = ok([question(text)])
    theirs = near_by_python(events_by_python(text), "America/Chicago", loss, 1, 25)
    assert len(theirs) >= 8
    same(events["near"], theirs)


def test_thousands_of_random_reports_are_found_as_in_python():
    """Across both changes of summer time, near enough to be found and not."""
    dice = random.Random(91)
    columns = (FIXTURES / "storm/storm-events-2026.csv").read_text().splitlines()[0].split(",")
    out = io.StringIO()
    writer = csv.DictWriter(out, columns, restval="", lineterminator="\n")
    writer.writeheader()
    start = datetime.datetime(2026, 1, 1)
    for number in range(4000):
        when = start + datetime.timedelta(minutes=dice.randrange(365 * 1440))
        kind = dice.choice(["Hail", "Thunderstorm Wind", "Tornado", "Flood", "High Wind"])
        size = {"Hail": dice.choice(["0.75", "1.00", "1.75", ""])}.get(kind, dice.choice(["50", "61.00", ""]))
        writer.writerow({
            "EVENT_TYPE": kind, "YEAR": "2026", "CZ_TIMEZONE": dice.choice(["CST-6", "EST-5", "MST-7"]),
            "BEGIN_DATE_TIME": when.strftime("%d-%b-%y %H:%M:%S").upper(), "MAGNITUDE": size,
            "MAGNITUDE_TYPE": dice.choice(["EG", "MG", ""]),
            "BEGIN_LAT": f"{HOUSE[0] + dice.uniform(-0.6, 0.6):.4f}",
            "BEGIN_LON": f"{HOUSE[1] + dice.uniform(-0.6, 0.6):.4f}",
            "EVENT_NARRATIVE": dice.choice(["Plain.", "With, commas", 'A "quoted" word', "Two\nlines"]),
        })
    text = out.getvalue()
    losses = ["2026-03-07", "2026-03-08", "2026-07-04", "2026-11-01", "2026-12-31"]
    for days, miles in [(0, 10), (3, 25), (30, 40)]:
        for loss, ours in zip(losses, ok([question(text, loss=loss, days=days, miles=miles) for loss in losses])):
            date = datetime.date.fromisoformat(loss)
            same(ours["near"], near_by_python(events_by_python(text), "America/Chicago", date, days, miles))
