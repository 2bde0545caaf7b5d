"""The roof solver and the pitch table, checked against programs of other people.

Needs, from PyPI, shapely (plane geometry, GEOS) and pysfcgal (SFCGAL and CGAL's weighted straight
skeleton; run as a program beside ours, never part of it). The environment variable CHALKWALK_ASK
names the program that answers questions, one JSON a line.
"""

import json
import math
import os
import random
import subprocess

import pytest
from pysfcgal import geometry as sfcgal
from shapely.affinity import rotate
from shapely.geometry import Polygon, box
from shapely.ops import unary_union


def ask(questions):
    """All questions at once; the answers in order."""
    lines = "\n".join(json.dumps(question) for question in questions)
    command = [os.environ["CHALKWALK_ASK"]]
    done = subprocess.run(
        command, input=lines, capture_output=True, text=True, check=True
    )
    return [json.loads(line) for line in done.stdout.splitlines()]


def house(dice, turned=True):
    """A house with square corners, wings and notches."""
    while True:
        plan = box(0, 0, dice.randint(16, 60), dice.randint(16, 50))
        for _ in range(dice.randint(0, 5)):
            left, low, right, high = plan.bounds
            x = dice.randint(int(left) - 8, int(right) - 4)
            y = dice.randint(int(low) - 8, int(high) - 4)
            wing = box(x, y, x + dice.randint(6, 25), y + dice.randint(6, 25))
            plan = plan.union(wing) if dice.random() < 0.7 else plan.difference(wing)
            if plan.geom_type != "Polygon" or plan.interiors or plan.area < 50:
                break
        else:
            plan = plan.simplify(0)
            if turned and dice.random() < 0.3:
                plan = rotate(plan, dice.uniform(0, 360))
            return list(plan.exterior.coords)[:-1]


def star(dice):
    """Corners at uneven distances round a middle."""
    while True:
        count = dice.randint(3, 30)
        points = []
        for at in range(count):
            angle = 2 * math.pi * (at + 0.8 * dice.random()) / count
            reach = 10 + 30 * dice.random()
            points.append((40 + reach * math.cos(angle), 40 + reach * math.sin(angle)))
        if Polygon(points).is_valid and Polygon(points).area > 50:
            return points


def tour(dice):
    """Random corners, joined in an order that does not cross itself."""
    while True:
        count = dice.randint(4, 24)
        points = [(dice.uniform(0, 80), dice.uniform(0, 80)) for _ in range(count)]
        better = True
        while better:
            better = False
            for i in range(count):
                for j in range(i + 2, count - (i == 0)):
                    a, b, c, d = (
                        points[i],
                        points[i + 1],
                        points[j],
                        points[(j + 1) % count],
                    )
                    now = math.dist(a, b) + math.dist(c, d)
                    if math.dist(a, c) + math.dist(b, d) < now - 1e-9:
                        points[i + 1 : j + 1] = points[i + 1 : j + 1][::-1]
                        better = True
        if Polygon(points).is_valid and Polygon(points).area > 50:
            return points


def outside_corners(points):
    """For each corner, whether it is an outside corner of the house."""
    way = 1 if Polygon(points).exterior.is_ccw else -1
    found = []
    for at, (x, y) in enumerate(points):
        before, after = points[at - 1], points[(at + 1) % len(points)]
        turn = (x - before[0]) * (after[1] - y) - (y - before[1]) * (after[0] - x)
        found.append(turn * way > 0)
    return found


def square_house(dice):
    return house(dice, turned=False)


def plan(dice, gables=True, shapes=(house, house, star, tour)):
    points = dice.choice(shapes)(dice)
    if dice.random() < 0.5:
        points = points[::-1]
    alike = dice.random() < 0.5
    pitches = [3, 4, 5, 6, 7, 8, 9, 10, 12]
    made = {
        "points": points,
        "pitch": dice.choice(pitches),
        "sides": [{} if alike else {"pitch": dice.choice(pitches)} for _ in points],
        "north": dice.uniform(0, 360),
    }
    if dice.random() < 0.5:
        made["overhang"] = dice.choice([0.5, 1, 1.5, 2])
    if gables and dice.random() < 0.4:
        outside, last = outside_corners(points), len(points) - 1
        for at, side in enumerate(made["sides"]):
            beside = made["sides"][at - 1].get("form")
            beside = beside or (at == last and made["sides"][0].get("form"))
            fits = outside[at] and outside[(at + 1) % len(points)]
            if fits and not beside and dice.random() < 0.5:
                side["form"] = "gable"
    return made


def heights(made, plane):
    """How far each corner of a plane is from the height that its side and pitch give."""
    points = made["points"]
    way = 1 if Polygon(points).exterior.is_ccw else -1
    at = plane["sides"][0]
    (ax, ay), (bx, by) = points[at], points[(at + 1) % len(points)]
    size = math.dist((ax, ay), (bx, by))
    for x, y, z in plane["corners"]:
        inward = way * ((bx - ax) * (y - ay) - (by - ay) * (x - ax)) / size
        run = inward + made.get("overhang", 0)
        yield abs(z - run * plane["pitch"] / 12)


# shapely 2.2 (GEOS): area, union, buffer with mitred corners; plane geometry for the rest.
def test_planes_fill_the_outline_and_lie_at_their_pitch(record_property):
    dice = random.Random(20240528)
    plans = [plan(dice) for _ in range(900)]
    answers = ask([{"about": "roof_plan", "plan": made} for made in plans])
    worst = {"union": 0.0, "overlap": 0.0, "area": 0.0, "pitch": 0.0, "slope": 0.0}
    solved, with_gables, refused = 0, 0, {}

    def most(name, value):
        worst[name] = max(worst[name], value)

    for made, answer in zip(plans, answers, strict=True):
        walls = Polygon(made["points"])
        over = made.get("overhang", 0)
        whole = walls.buffer(over, join_style="mitre", mitre_limit=1e6) if over else walls
        if "error" in answer:
            reason = "".join(c for c in answer["error"] if not c.isdigit())
            refused[reason] = refused.get(reason, 0) + 1
            continue
        roof = answer["ok"]
        solved += 1
        with_gables += any(side.get("form") for side in made["sides"])
        flat = [Polygon([c[:2] for c in p["corners"]]) for p in roof["planes"]]
        assert all(p.is_valid and p.exterior.is_ccw for p in flat), made
        union = unary_union(flat)
        most("union", union.symmetric_difference(whole).area)
        most("overlap", sum(p.area for p in flat) - union.area)
        most("area", abs(roof["plan_area"] - whole.area))
        for plane, shape in zip(roof["planes"], flat, strict=True):
            most("pitch", max(heights(made, plane)))
            slope = shape.area * math.hypot(1, plane["pitch"] / 12)
            most("slope", abs(plane["area"] - slope))
    print(f"\nroof: {solved} solved, {with_gables} with gables; worst {worst}; {refused}")
    for name, value in worst.items():
        record_property(name, value)
        assert value < 1e-5, (name, value)
    assert solved >= 700 and with_gables >= 100
    # What is refused is an overhang that closes a notch, and the rare house that stays open.
    assert all("closes up" in reason or "never close" in reason for reason in refused)
    assert sum(n for reason, n in refused.items() if "never close" in reason) <= 9


def normal(ring):
    """Newell's normal of a ring in space, of length one."""
    total = [0.0, 0.0, 0.0]
    for (ax, ay, az), (bx, by, bz) in zip(ring, ring[1:] + ring[:1], strict=True):
        total[0] += (ay - by) * (az + bz)
        total[1] += (az - bz) * (ax + bx)
        total[2] += (ax - bx) * (ay + by)
    size = math.hypot(*total)
    return [part / size for part in total]


def of_cgal(made):
    """Area on the slopes, height, and length of all ridges, hips and valleys, from CGAL."""
    points = made["points"]
    sides = made["sides"]
    if not Polygon(points).exterior.is_ccw:
        points = points[::-1]
        # Side i ran to corner i + 1; from the other end, the last side is the last again.
        sides = sides[-2::-1] + sides[-1:]
    angles = [math.degrees(math.atan(s.get("pitch", made["pitch"]) / 12)) for s in sides]
    # SFCGAL's angle belongs to the side that ends at its corner, ours to the one that begins there.
    angles = angles[-1:] + angles[:-1]
    roof = sfcgal.Polygon(points).extrude_straight_skeleton_with_angles(1e4, [angles])
    faces = [[tuple(c) for c in face[0][:-1]] for face in roof.to_coordinates()]
    area, height, borders = 0.0, 0.0, {}
    for ring in faces:
        height = max(height, max(c[2] for c in ring))
        if max(c[2] for c in ring) < 1e-9:
            continue
        flat = Polygon([c[:2] for c in ring]).area
        if flat < 1e-6:
            # A sliver between places that are the same but for the last decimals.
            continue
        up = normal(ring)
        area += flat / abs(up[2])
        for a, b in zip(ring, ring[1:] + ring[:1], strict=True):
            ends = tuple(sorted(tuple(round(v, 5) for v in end) for end in (a, b)))
            borders.setdefault(ends, []).append((up, math.dist(a, b)))
    total = 0.0
    for pair in borders.values():
        if len(pair) == 2:
            (one, length), (other, _) = pair
            folded = max(abs(a - b) for a, b in zip(one, other, strict=True)) > 1e-6
            total += length if folded else 0.0
    return area, height, total


# CGAL's weighted straight skeleton through SFCGAL 2 (extrude_straight_skeleton_with_angles):
# another author's algorithm in exact arithmetic, on pitches alike and on differing ones. Houses are
# not turned here: on a turned one, sides in line are not quite so in decimals, and exact arithmetic
# then leaves spikes of no width, which count twice.
def test_ridges_hips_and_valleys_are_those_of_cgal(record_property):
    dice = random.Random(1926)
    plans = []
    while len(plans) < 300:
        made = plan(dice, gables=False, shapes=(square_house, square_house, star, tour))
        made.pop("overhang", None)
        plans.append(made)
    answers = ask([{"about": "roof_plan", "plan": made} for made in plans])
    worst, compared, weighted, skipped = [0.0, 0.0, 0.0], 0, 0, 0
    for made, answer in zip(plans, answers, strict=True):
        if "error" in answer:
            continue
        roof = answer["ok"]
        length = {total["kind"]: total["length"] for total in roof["totals"]}
        if length["wall"] or length["rake"]:
            # An upright step between slopes in line: CGAL has no such thing.
            skipped += 1
            continue
        try:
            theirs = of_cgal(made)
        except Exception as error:  # CGAL gives some inputs up; ours are not the judge of it
            print("CGAL:", error)
            skipped += 1
            continue
        ours = (
            roof["area"],
            roof["height"],
            length["ridge"] + length["hip"] + length["valley"],
        )
        off = [abs(a - b) / max(a, 1.0) for a, b in zip(ours, theirs, strict=True)]
        assert max(off) < 1e-5, (off, ours, theirs, json.dumps(made))
        worst = [max(pair) for pair in zip(worst, off, strict=True)]
        compared += 1
        weighted += any(side for side in made["sides"])
    print(f"\nCGAL: {compared} compared, {weighted} weighted, {skipped} skipped; worst {worst}")
    record_property("worst", worst)
    assert compared >= 200 and weighted >= 60


# Plane geometry by Python's math module: rise, degrees, percent; the factors of a rafter table.
@pytest.mark.parametrize("way", ["rise", "degrees", "percent"])
def test_pitch_in_every_way(way, record_property):
    rises = [step / 8 for step in range(0, 321)]
    given = {
        "rise": lambda r: r,
        "degrees": lambda r: math.degrees(math.atan2(r, 12)),
        "percent": lambda r: r / 12 * 100,
    }
    answers = ask([{"about": "pitch", way: min(given[way](r), given[way](40) - 1e-12)} for r in rises])
    worst = 0.0
    for rise, answer in zip(rises, answers, strict=True):
        pitch = answer["ok"]
        expected = {
            "rise": rise,
            "degrees": math.degrees(math.atan2(rise, 12)),
            "percent": rise / 12 * 100,
            "slope_factor": math.hypot(1, rise / 12),
            "hip_factor": math.hypot(1, 1, rise / 12),
        }
        for name, value in expected.items():
            worst = max(worst, abs(pitch[name] - value))
    record_property("worst", worst)
    assert worst < 1e-9
