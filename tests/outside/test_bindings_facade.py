"""The whole facade on the demo's job: each answer of the bindings beside the command's, and figures
that plane geometry gives.
"""

import math
import os
import pathlib
import shutil

import pytest

from test_bindings import PHOTOS, ROOT, begun, cw
from test_faults import chalkwalk

DEMO = pathlib.Path(os.environ["CHALKWALK_SUMMARY"]).parent
SCOPE = ROOT / "fixtures/scope"


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """The rep's notebook after the demo, twice: for the command and for the bindings."""
    stage = tmp_path_factory.mktemp("demo")
    for copy in ["command", "bindings"]:
        shutil.copytree(DEMO / "rep", stage / copy)
    notebook = cw.Notebook.open(str(stage / "bindings"))
    [card] = notebook.jobs()
    yield notebook, card.id, lambda verb, *more: chalkwalk(stage / "command", verb, card.id, *map(str, more))
    notebook.shut()


def test_a_roof_from_its_plan():
    # 40 by 30 ft at 6 in 12 with a level eave all round: every plane has the same slope factor,
    # sqrt(1 + (6/12)^2), so the area follows from the plan alone (plane geometry).
    roof = cw.roof_of_plan('{"points": [[0,0],[40,0],[40,30],[0,30]], "pitch": 6, "overhang": 0}')
    assert math.isclose(roof.plan_area, 1200.0) and len(roof.planes) == 4
    assert math.isclose(roof.area, 1200 * math.sqrt(1.25), rel_tol=1e-9)
    assert math.isclose(roof.squares, roof.area / 100)
    lengths = {edges.kind: (edges.count, edges.length) for edges in roof.edges}
    # The ridge is the difference of the sides; a hip runs 15 ft and 15 ft and rises 7.5 ft.
    assert math.isclose(lengths["ridge"][1], 10.0) and lengths["hip"][0] == 4
    assert math.isclose(lengths["hip"][1], 4 * math.sqrt(15**2 + 15**2 + 7.5**2), rel_tol=1e-9)
    assert math.isclose(lengths["eave"][1], 140.0) and roof.drawing.startswith("<svg")
    with pytest.raises(cw.ChalkwalkError.Input):
        cw.roof_of_plan("a sketch")


def test_the_jobs_roof_and_its_slopes(demo):
    notebook, job, command = demo
    roof = notebook.roof(job)
    totals = command("measured", SCOPE / "measurement-report.csv")["check"]["totals"]
    named = sum(plane.area for plane in roof.planes if plane.slope)
    assert math.isclose(named, totals["solved_sq_ft"], rel_tol=1e-9) and roof.drawing.startswith("<svg")


def test_the_pattern_of_hits(demo):
    notebook, job, command = demo
    ours, theirs = notebook.hit_pattern(job, True), command("hits")
    assert {place.place: place.hail for place in ours.places} == {place["place"]: place["hail"] for place in theirs["places"]}
    assert ours.sentence == theirs["pattern"]["sentence"] and ours.wind_from == theirs["pattern"]["fit"]["from"]
    assert ours.warnings == [warning["sentence"] for warning in theirs["pattern"]["warnings"]]
    assert ours.drawing.startswith("<svg")


def test_a_comparison_with_the_insurers_scope(demo):
    notebook, job, command = demo
    for file in ["insurer-scope.csv", "insurer-scope.xlsx"]:
        ours = notebook.compare_with_file(job, str(SCOPE / file), "the insurer", True)
        theirs = command("compare", SCOPE / file)
        assert [one.reason for one in ours.differences] == [one["reason"] for one in theirs["disputes"]["disputes"]]
        assert ours.same == theirs["comparison"]["counts"]["same"] and ours.read_as == theirs["read_as"]
        assert ours.about == theirs["disputes"]["about"] and "policy" in ours.about
        assert ours.csv.decode().count("\n") >= len(ours.differences)
    for bad, kind in [("none.csv", cw.ChalkwalkError.NotFound), ("planted.json", cw.ChalkwalkError.Input)]:
        with pytest.raises(kind):
            notebook.compare_with_file(job, str(SCOPE / bad), "the insurer", True)
    with pytest.raises(cw.ChalkwalkError.NotFound):
        notebook.compare_with_kept(job, "01KQ8F9NR0RSKB01A55AW9WXC0", True)


def test_a_measurement_report(demo):
    notebook, job, command = demo
    report = str(SCOPE / "measurement-report.csv")
    ours, theirs = notebook.check_measurement_file(job, report), command("measured", report)["check"]
    assert ours.sentence == theirs["sentence"]
    assert [one.sentence for one in ours.slopes] == [one["sentence"] for one in theirs["slopes"]]
    assert [one.sentence for one in ours.edges] == [one["sentence"] for one in theirs["edges"]]
    before = len(notebook.records(job, cw.Kind.MEASUREMENT_REPORT))
    kept = notebook.keep_measurement_file(job, report).record
    assert notebook.keep_measurement_file(job, report).record == kept
    assert len(notebook.records(job, cw.Kind.MEASUREMENT_REPORT)) <= before + 1
    assert notebook.check_measurement(job, kept.split("/")[1]).sentence == ours.sentence


def test_the_owners_account_and_the_production_sheet(demo):
    notebook, job, command = demo
    ours, theirs = notebook.owners_account(job), command("account")
    assert ours.no_promise == theirs["no_promise"] and ours.signature_means == theirs["signature"]["means"]
    observed = [(place.name, [line.text for line in place.lines]) for place in ours.observed]
    assert observed == [(place["name"], [line["text"] for line in place["lines"]]) for place in theirs["observed"]]
    assert ours.cautions == theirs["cautions"] and ours.next == theirs["next"]
    sheet, theirs = notebook.production_sheet(job, True), command("production")
    for part in ["deck", "layers", "obstacles", "confirm_at_tear_off", "access", "prior_conditions", "paint_to_match", "detach_and_reset"]:
        assert [line.text for line in getattr(sheet, part)] == [line["text"] for line in theirs[part]], part
    assert sheet.cautions and sheet.defer


def test_check_scope_and_questions(demo):
    notebook, job, command = demo
    ours, theirs = notebook.check(job), command("check")
    assert [(point.rule, point.sentence) for point in ours] == [(point["rule"], point["sentence"]) for point in theirs]
    lines = command("scope")["scope"]["lines"]
    assert [line.key for line in notebook.scope(job, True).lines] == [line["key"] for line in lines]
    assert [one.text for one in notebook.questions(job)] == [one["text"] for one in command("questions")]


def test_a_packet_and_its_check():
    packet = os.environ["CHALKWALK_PACKET"]
    found = cw.check_packet(f"{packet}/shared")
    assert found.failures == [] and found.files > 100 and found.photos > 90


def test_a_packet_that_was_altered(tmp_path):
    shutil.copytree(pathlib.Path(os.environ["CHALKWALK_PACKET"]) / "shared", tmp_path / "shared")
    page = tmp_path / "shared/data/index.html"
    page.write_bytes(page.read_bytes() + b" ")
    assert any("index.html" in failure for failure in cw.check_packet(str(tmp_path / "shared")).failures)


class Steps(cw.ProgressListener):
    def __init__(self):
        self.steps = []

    def on_progress(self, done, of):
        self.steps.append((done, of))


def test_a_camera_roll_is_cut_and_taken_in(tmp_path):
    roll = tmp_path / "roll"
    (roll / "more").mkdir(parents=True)
    for photo in PHOTOS[:6]:
        shutil.copy(photo, roll / photo.name)
    shutil.copy(PHOTOS[0], roll / "more/twice.jpg")
    (roll / "words.txt").write_text("no photo")
    steps = Steps()
    ours = cw.read_camera_roll(str(roll), listener=steps)
    assert steps.steps[-1] == (8, 8)
    theirs = chalkwalk(tmp_path / "none", "import", str(roll))
    assert [[photo.hash for photo in visit.photos] for visit in ours.visits] == [[photo["capture"]["hash"] for photo in visit["photos"]] for visit in theirs["visits"]]
    taken = [photo for visit in ours.visits for photo in visit.photos] + ours.unsure
    assert len(taken) == 6 and len(ours.left_out) == 2
    notebook = cw.Notebook.create(str(tmp_path / "one"), "Ada", "phone", cw.Role.CREW)
    job = begun(notebook)
    outcomes = notebook.add_photos(job, [cw.NewPhoto(path=photo.path, note=cw.PhotoNote()) for photo in taken])
    assert [outcome.added.hash for outcome in outcomes] == [photo.hash for photo in taken]
    with pytest.raises(cw.ChalkwalkError):
        cw.read_camera_roll(str(tmp_path / "nowhere"))


def test_the_offices_question_reaches_the_crew(tmp_path):
    """What the crew adds as an answer stands beside the question that the office asked."""
    notebook = cw.Notebook.create(str(tmp_path / "one"), "Ada", "phone", cw.Role.CREW)
    job = begun(notebook)
    with pytest.raises(cw.ChalkwalkError.Refused):
        notebook.add(job, cw.Fields.QUESTION(cw.Question(text="Is the drip edge there?")))
    assert notebook.questions(job) == []
