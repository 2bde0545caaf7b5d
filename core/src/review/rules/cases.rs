//! For each rule a change to the complete house that raises it. The complete house itself, on
//! which no rule finds anything, is the record that does not.

use std::collections::BTreeSet;

use super::super::house::*;
use super::super::leave_site::check;
use super::super::{PhotoFacts, Weakness};
use super::RULES;
use crate::job::*;

type Case = (&'static str, fn(&mut House));

const CASES: &[Case] = &[
    ("visit.date-of-loss", |h| property(h).date_of_loss = None),
    ("visit.interview", |h| h.job.records.interviews.clear()),
    ("visit.leave-to-climb", |h| {
        interview(h).may_climb = Some(Known::Unknown)
    }),
    ("visit.cautions", |h| visit(h).cautions_read = None),
    ("visit.ice-barrier-area", |h| {
        property(h).ice_barrier_designated = Some(Known::Unknown)
    }),
    ("interior.ceilings", |h| remove_photo(h, "ceiling")),
    ("interior.room-photo", |h| remove_photo(h, "ceiling")),
    ("interior.room-size", |h| {
        dents(h).place = Some(at(Kind::Room, "bedroom"))
    }),
    ("interior.leak", |h| {
        interview(h).interior_leaks = Some(Known::Yes)
    }),
    ("side.overview", |h| remove_photo(h, "overview-left")),
    ("side.blocked-overview", |h| {
        wall(h, Side::Left).blocked_by = Some("neighbour's fence".into())
    }),
    ("side.front-first", |h| {
        photo(h, "overview-front").capture = None;
        h.job
            .records
            .photos
            .get_mut(&id("overview-front"))
            .unwrap()
            .made
            .at += 200 * MINUTE;
    }),
    ("side.walked", |h| wall(h, Side::Rear).walked = Some(false)),
    ("side.parts", |h| remove_part(h, "window-right")),
    ("side.height", |h| property(h).storeys = None),
    ("structure.none", |h| h.job.records.structures.clear()),
    ("structure.walked", |h| {
        h.job
            .records
            .structures
            .get_mut(&id("fence"))
            .unwrap()
            .fields
            .walked = None
    }),
    ("photo.unattached", |h| {
        h.photo("lost", PhotoRole::Overview, None, &[])
    }),
    ("photo.role", |h| photo(h, "near").role = None),
    ("photo.unusable", |h| {
        facts(h, "near").weakness = Some(Weakness::Blurred)
    }),
    ("photo.out-of-time", |h| {
        visit(h).arrived_at = Some(NOON + 600 * MINUTE)
    }),
    ("photo.far", |h| facts(h, "near").distance_m = Some(151.0)),
    ("photo.original-missing", |h| {
        facts(h, "near").here = Some(false)
    }),
    ("photo.not-safe", |h| {
        facts(h, "near").here = Some(true);
        facts(h, "near").at_office = Some(false);
    }),
    ("finding.place", |h| dents(h).place = None),
    ("finding.what", |h| dents(h).condition = None),
    ("finding.standoff", |h| remove_photo(h, "far")),
    ("finding.close-up", |h| remove_photo(h, "near")),
    ("finding.pair-order", |h| {
        photo(h, "far").role = Some(PhotoRole::CloseUp);
        photo(h, "near").role = Some(PhotoRole::Standoff);
    }),
    ("finding.prior-photo", |h| {
        h.finding(
            "stain",
            Finding {
                place: Some(at(Kind::Room, "bedroom")),
                component: Some(Component::Ceiling),
                condition: Some(Condition::Damaged),
                cause: Some(Cause::Prior),
                ..Finding::default()
            },
        );
    }),
    ("finding.cause", |h| dents(h).cause = None),
    ("finding.cause-reason", |h| {
        dents(h).cause_reason = Some(" ".into())
    }),
    ("finding.unsure", |h| dents(h).cause = Some(Cause::Unsure)),
    ("finding.hits", |h| dents_record(h).tally.clear()),
    ("finding.single-hit", |h| {
        dents_record(h).tally.insert(device(), 1);
    }),
    ("finding.low-hits", |h| {
        dents(h).height = Some(Length::feet_inches(2, 11))
    }),
    ("finding.clean-soft-metal", |h| {
        let shingles = dents(h).clone();
        h.finding(
            "bruises",
            Finding {
                place: Some(RecordRef::side(Side::Rear)),
                component: Some(Component::Shingles),
                ..shingles
            },
        );
    }),
    ("finding.total", |h| {
        dents(h).component = Some(Component::Shutter);
        dents(h).units = Some(3);
    }),
    ("finding.over-total", |h| {
        dents(h).units = Some(9);
        dents(h).units_total = Some(8);
    }),
    ("finding.garage-panel", |h| {
        dents(h).component = Some(Component::GarageDoor)
    }),
    ("finding.finish", |h| dents(h).finish = None),
    ("finding.extent", |h| dents(h).extent_length = None),
    ("finding.mechanical-shared", |h| {
        dents(h).cause = Some(Cause::Mechanical)
    }),
    ("gutter.width", |h| {
        measurement(h, "width").method = Some(MeasureMethod::Estimated)
    }),
    ("gutter.guards", |h| remove_part(h, "guards")),
    ("gutter.guards-held", |h| {
        part(h, "guards").condition = Some(Condition::Cleared)
    }),
    ("eave.opening", |h| h.job.records.eave_openings.clear()),
    ("eave.layers", |h| eave(h).drip_edge = None),
    ("eave.photo", |h| remove_photo(h, "layers")),
    ("eave.deck-gap", |h| {
        eave(h).deck = Some(Layer::Seen(DeckKind::Planks))
    }),
    ("eave.reason", |h| eave(h).reason = None),
    ("eave.valley-lining", |h| {
        h.job
            .records
            .edges
            .get_mut(&id("valley"))
            .unwrap()
            .fields
            .lining = None;
        eave(h).valley_lining = None;
    }),
    ("eave.beside-valley", |h| {
        eave(h).beside_valley = Some(false)
    }),
    ("roof.slopes", |h| h.job.records.slopes.clear()),
    ("roof.walked", |h| slope(h).walked = None),
    ("roof.panorama", |h| remove_photo(h, "turn")),
    ("roof.layers", |h| {
        slope(h).layers = None;
        eave(h).roofing_layers = None;
    }),
    ("roof.pitch", |h| {
        measurement(h, "pitch").method = Some(MeasureMethod::Report)
    }),
    ("roof.pitch-photo", |h| remove_photo(h, "gauge")),
    ("roof.pitch-report", |h| {
        slope(h).report_pitch = Pitch::from_rise(6.5)
    }),
    ("roof.low-slope", |h| {
        measurement(h, "pitch").pitch = Pitch::from_rise(1.5)
    }),
    ("roof.test-square", |h| h.job.records.test_squares.clear()),
    ("roof.test-square-count", |h| {
        h.job
            .records
            .test_squares
            .get_mut(&id("square"))
            .unwrap()
            .tally
            .clear()
    }),
    ("roof.test-square-size", |h| {
        h.job
            .records
            .test_squares
            .get_mut(&id("square"))
            .unwrap()
            .fields
            .width = Some(Length::feet_inches(9, 0))
    }),
    ("roof.test-square-photo", |h| remove_photo(h, "square")),
    ("roof.pattern", |h| {
        // Many hits on two slopes that face away from each other, none on those between.
        for (word, bearing, hits) in [
            ("n", 0.0, 30),
            ("e", 90.0, 0),
            ("s", 180.0, 30),
            ("w", 270.0, 0),
        ] {
            let mut plane = h.job.records.slopes[&id("main")].clone();
            plane.fields.name = Some(word.into());
            plane.fields.bearing = Some(bearing);
            h.job.records.slopes.insert(id(word), plane);
            let mut square = h.job.records.test_squares[&id("square")].clone();
            square.fields.slope = Some(at(Kind::Slope, word));
            square.tally.insert(device(), hits);
            h.job.records.test_squares.insert(id(word), square);
        }
    }),
    ("roof.counts", |h| remove_part(h, "boots")),
    ("roof.obstacles", |h| remove_part(h, "dish")),
    ("record.conflict", |h| {
        let by = dents_record(h).made;
        let said = |code: &str| Statement {
            value: Some(Scalar::Str(code.into())),
            by,
        };
        dents_record(h).conflicts.push(Conflict {
            field: "cause".into(),
            statements: vec![said("hail"), said("mechanical")],
        });
    }),
    ("record.unread", |h| {
        dents_record(h).unread.push("tomorrow".into())
    }),
    ("record.question", |h| {
        h.job.records.questions.insert(
            id("why"),
            record(Question {
                text: Some("Is the rear gutter six inches?".into()),
                ..Question::default()
            }),
        );
    }),
    ("visit.recap", |h| h.job.records.recaps.clear()),
    ("visit.signature", |h| h.job.records.signatures.clear()),
];

fn property(h: &mut House) -> &mut Property {
    &mut h
        .job
        .records
        .properties
        .get_mut(&Job::only())
        .unwrap()
        .fields
}
fn interview(h: &mut House) -> &mut Interview {
    &mut h
        .job
        .records
        .interviews
        .get_mut(&Job::only())
        .unwrap()
        .fields
}
fn visit(h: &mut House) -> &mut Visit {
    &mut h.job.records.visits.get_mut(&id("visit")).unwrap().fields
}
fn wall(h: &mut House, side: Side) -> &mut Elevation {
    let id = RecordRef::side(side).id;
    &mut h.job.records.elevations.get_mut(&id).unwrap().fields
}
fn slope(h: &mut House) -> &mut Slope {
    &mut h.job.records.slopes.get_mut(&id("main")).unwrap().fields
}
fn eave(h: &mut House) -> &mut EaveOpening {
    &mut h
        .job
        .records
        .eave_openings
        .get_mut(&id("eave"))
        .unwrap()
        .fields
}
fn measurement<'a>(h: &'a mut House, word: &str) -> &'a mut Measurement {
    &mut h
        .job
        .records
        .measurements
        .get_mut(&id(word))
        .unwrap()
        .fields
}
fn part<'a>(h: &'a mut House, word: &str) -> &'a mut ComponentCount {
    &mut h.job.records.components.get_mut(&id(word)).unwrap().fields
}
fn photo<'a>(h: &'a mut House, word: &str) -> &'a mut Photo {
    &mut h.job.records.photos.get_mut(&id(word)).unwrap().fields
}
fn dents_record(h: &mut House) -> &mut Record<Finding> {
    h.job.records.findings.get_mut(&id("dents")).unwrap()
}
fn dents(h: &mut House) -> &mut Finding {
    &mut dents_record(h).fields
}
fn remove_photo(h: &mut House, word: &str) {
    h.job.records.photos.remove(&id(word)).unwrap();
}
fn remove_part(h: &mut House, word: &str) {
    h.job.records.components.remove(&id(word)).unwrap();
}
fn facts<'a>(h: &'a mut House, word: &str) -> &'a mut PhotoFacts {
    h.facts.photos.entry(id(word)).or_default()
}

#[test]
fn nothing_is_open_at_the_complete_house() {
    let house = House::complete();
    let points: Vec<String> = check(&house.job, &house.facts)
        .into_iter()
        .map(|point| format!("{}: {}", point.rule, point.sentence))
        .collect();
    assert!(points.is_empty(), "{points:#?}");
}

#[test]
fn each_rule_is_raised_by_its_case() {
    for (rule, change) in CASES {
        let mut house = House::complete();
        change(&mut house);
        let points = check(&house.job, &house.facts);
        let raised = points.iter().find(|point| point.rule == *rule);
        let others: Vec<_> = points.iter().map(|point| point.rule).collect();
        let point = raised.unwrap_or_else(|| panic!("{rule} was not raised; {others:?} were"));
        assert!(!point.sentence.is_empty());
        for record in &point.triggered_by {
            let there = house.job.records.header(record).is_some();
            assert!(there, "{rule} points to {record}, which is not there");
        }
    }
}

#[test]
fn the_table_is_complete() {
    let ids: BTreeSet<&str> = RULES.iter().map(|rule| rule.id).collect();
    assert_eq!(ids.len(), RULES.len(), "an id stands twice");
    let cases: BTreeSet<&str> = CASES.iter().map(|(rule, _)| *rule).collect();
    assert_eq!(ids, cases, "each rule has one case and each case its rule");
    for rule in RULES {
        for words in [rule.why, rule.settles] {
            assert!(
                words.ends_with('.'),
                "{}: {words:?} is no sentence",
                rule.id
            );
            // Whether something is covered or owed is never said (licensed work in many states).
            for never in ["covered by", "owed", "owes", "insurer must", "entitled"] {
                assert!(!words.contains(never), "{}: {words:?}", rule.id);
            }
        }
    }
}

#[test]
fn urgent_points_come_first_and_the_same_job_gives_the_same_bytes() {
    let house = House::empty();
    let points = check(&house.job, &house.facts);
    assert!(
        points
            .windows(2)
            .all(|pair| pair[0].urgency <= pair[1].urgency)
    );
    let again = check(&house.job.clone(), &house.facts);
    assert_eq!(
        serde_json::to_vec(&points).unwrap(),
        serde_json::to_vec(&again).unwrap()
    );
}
