//! What must not raise a rule although it comes near: cleared, not present, could not see, struck,
//! a sister photo, the other side.

use super::super::house::*;
use super::super::leave_site::check;
use super::super::{PhotoFacts, Weakness};
use crate::job::*;

fn raised(house: &House, rule: &str) -> usize {
    check(&house.job, &house.facts)
        .iter()
        .filter(|point| point.rule == rule)
        .count()
}

#[test]
fn parts_not_present_are_understood() {
    let mut house = House::complete();
    house.part(
        "window-right",
        Some(RecordRef::side(Side::Right)),
        Component::Window,
        Condition::NotPresent,
    );
    assert_eq!(raised(&house, "side.parts"), 0);
    // One record without a place speaks for the whole house.
    for side in ["right", "rear", "left"] {
        house
            .job
            .records
            .components
            .remove(&id(&format!("gutter-{side}")));
    }
    assert_eq!(raised(&house, "side.parts"), 3);
    house.part("none", None, Component::Gutter, Condition::NotPresent);
    assert_eq!(raised(&house, "side.parts"), 0);
}

#[test]
fn a_house_without_gutters_needs_no_tape() {
    let mut house = House::complete();
    house.job.records.measurements.remove(&id("width"));
    assert_eq!(raised(&house, "gutter.width"), 1);
    house.job.records.findings.clear();
    for part in house.job.records.components.values_mut() {
        if part.component == Some(Component::Gutter) {
            part.fields.condition = Some(Condition::NotPresent);
        }
    }
    assert_eq!(raised(&house, "gutter.width"), 0);
}

#[test]
fn could_not_see_is_an_answer() {
    let mut house = House::complete();
    let eave = house
        .job
        .records
        .eave_openings
        .get_mut(&id("eave"))
        .unwrap();
    eave.fields.drip_edge = Some(Layer::CouldNotSee);
    eave.fields.deck = Some(Layer::CouldNotSee);
    assert_eq!(raised(&house, "eave.layers"), 0);
    assert_eq!(raised(&house, "eave.deck-gap"), 0);

    let mut locked = House::complete();
    locked.job.records.photos.remove(&id("ceiling"));
    locked.job.records.rooms.clear();
    assert_eq!(raised(&locked, "interior.ceilings"), 1);
    locked.part("ceilings", None, Component::Ceiling, Condition::Unsure);
    let part = locked
        .job
        .records
        .components
        .get_mut(&id("ceilings"))
        .unwrap();
    part.fields.details = Some("the owner did not want us inside".into());
    assert_eq!(raised(&locked, "interior.ceilings"), 0);
}

#[test]
fn struck_records_raise_nothing() {
    let mut house = House::complete();
    let dents = house.job.records.findings.get_mut(&id("dents")).unwrap();
    dents.fields.cause = None;
    dents.tally.clear();
    let by = dents.made;
    dents.struck = Some(Struck {
        reason: "dirt, not dents".into(),
        by,
    });
    assert_eq!(raised(&house, "finding.cause"), 0);
    assert_eq!(raised(&house, "finding.hits"), 0);
    // The photos of a struck finding do not stand for another one.
    let shown = at(Kind::Finding, "dents");
    assert_eq!(house.job.photos_of(&shown).count(), 2);
}

#[test]
fn struck_photos_prove_nothing() {
    let mut house = House::complete();
    let near = house.job.records.photos.get_mut(&id("near")).unwrap();
    near.struck = Some(Struck {
        reason: "another house".into(),
        by: near.made,
    });
    assert_eq!(raised(&house, "finding.close-up"), 1);
}

#[test]
fn a_sharp_sister_makes_up_for_a_blurred_photo() {
    let mut house = House::complete();
    let blurred = PhotoFacts {
        weakness: Some(Weakness::Blurred),
        ..PhotoFacts::default()
    };
    house.facts.photos.insert(id("near"), blurred);
    assert_eq!(raised(&house, "photo.unusable"), 1);
    let dents = at(Kind::Finding, "dents");
    house.photo(
        "nearer",
        PhotoRole::CloseUp,
        None,
        std::slice::from_ref(&dents),
    );
    assert_eq!(raised(&house, "photo.unusable"), 0);
    // A blurred sister does not, and one for another purpose does not.
    house.facts.photos.insert(id("nearer"), blurred);
    assert_eq!(raised(&house, "photo.unusable"), 2);
    house.photo("whole", PhotoRole::Standoff, None, &[dents]);
    assert_eq!(raised(&house, "photo.unusable"), 2);
}

#[test]
fn low_hits_beside_high_ones_are_no_warning() {
    let mut house = House::complete();
    let dents = house.job.records.findings.get_mut(&id("dents")).unwrap();
    dents.fields.height = Some(Length::feet_inches(2, 0));
    let mut higher = dents.fields.clone();
    assert_eq!(raised(&house, "finding.low-hits"), 1);
    higher.height = Some(Length::feet_inches(3, 0));
    house.finding("higher", higher);
    assert_eq!(raised(&house, "finding.low-hits"), 0);
}

#[test]
fn damaged_soft_metal_on_the_side_supports_the_shingles() {
    let mut house = House::complete();
    let mut bruises = house.job.records.findings[&id("dents")].fields.clone();
    bruises.component = Some(Component::Shingles);
    bruises.place = Some(at(Kind::Slope, "main"));
    house.finding("bruises", bruises.clone());
    // The front gutter is dented: no warning for the front slope.
    assert_eq!(raised(&house, "finding.clean-soft-metal"), 0);
    bruises.place = Some(RecordRef::side(Side::Left));
    house.finding("bruises", bruises);
    assert_eq!(raised(&house, "finding.clean-soft-metal"), 1);
}

#[test]
fn a_visit_lasts_until_the_crew_leaves() {
    let mut house = House::complete();
    house.photo(
        "late",
        PhotoRole::Overview,
        Some(RecordRef::side(Side::Front)),
        &[],
    );
    let left = |house: &mut House, at_minute: i64| {
        let mut departure = record(Departure {
            visit: Some(at(Kind::Visit, "visit")),
            ..Departure::default()
        });
        departure.made.at = NOON + at_minute * MINUTE;
        house.job.records.departures.insert(id("left"), departure);
    };
    // Photos are a minute apart, and half an hour of slack follows the departure.
    left(&mut house, 1);
    assert_eq!(raised(&house, "photo.out-of-time"), 0);
    left(&mut house, -20);
    assert!(raised(&house, "photo.out-of-time") > 0);
}

#[test]
fn one_test_square_serves_each_direction() {
    let mut house = House::complete();
    let mut second = house.job.records.slopes[&id("main")].clone();
    second.fields.name = Some("dormer, front".into());
    house
        .job
        .records
        .slopes
        .insert(id("dormer"), second.clone());
    assert_eq!(raised(&house, "roof.test-square"), 0);
    second.fields.side = Some(Side::Rear);
    house
        .job
        .records
        .slopes
        .insert(id("dormer"), second.clone());
    house.job.records.slopes.insert(id("rear"), second);
    assert_eq!(raised(&house, "roof.test-square"), 1);
}

// Half an inch in twelve is what a gauge is read to (common practice, no source).
#[test]
fn pitches_nearer_than_the_gauge_reads_agree() {
    let mut house = House::complete();
    let slope = house.job.records.slopes.get_mut(&id("main")).unwrap();
    slope.fields.report_pitch = Pitch::from_rise(6.49);
    assert_eq!(raised(&house, "roof.pitch-report"), 0);
}

#[test]
fn a_photo_at_the_edge_of_the_lot_is_near() {
    let mut house = House::complete();
    let facts = house.facts.photos.entry(id("near")).or_default();
    facts.distance_m = Some(crate::limits::FAR_FROM_LOT_M);
    assert_eq!(raised(&house, "photo.far"), 0);
}

#[test]
fn without_a_departure_a_visit_ends_after_a_long_day() {
    use crate::limits::{VISIT_MILLIS, VISIT_SLACK_MILLIS};
    let mut house = House::empty();
    house.photo(
        "one",
        PhotoRole::Overview,
        Some(RecordRef::side(Side::Front)),
        &[],
    );
    let taken = NOON + MINUTE;
    let arrived = |house: &mut House, at: i64| {
        let visit = Visit {
            arrived_at: Some(at),
            ..Visit::default()
        };
        house.job.records.visits.insert(id("visit"), record(visit));
        raised(house, "photo.out-of-time")
    };
    let longest = VISIT_MILLIS + VISIT_SLACK_MILLIS;
    assert_eq!(arrived(&mut house, taken - longest), 0);
    assert_eq!(arrived(&mut house, taken - longest - 1), 1);
    assert_eq!(arrived(&mut house, taken + VISIT_SLACK_MILLIS), 0);
    assert_eq!(arrived(&mut house, taken + VISIT_SLACK_MILLIS + 1), 1);
}
