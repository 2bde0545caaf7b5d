use super::super::house::*;
use super::*;
use crate::job::*;
use crate::trade::code::{CodeRule, Standing};

fn measure(of: MeasuredThing, place: Option<Place>, length: Length) -> Record<Measurement> {
    record(Measurement {
        of: Some(of),
        place,
        length: Some(length),
        method: Some(MeasureMethod::Tape),
        ..Measurement::default()
    })
}

fn of(job: &Job, rule: CodeRule) -> Vec<Requirement> {
    let mut all = requirements(job, &Stated::default());
    all.retain(|requirement| requirement.answer.rule == rule);
    all
}

#[test]
fn an_ice_barrier_rests_on_the_measures_of_its_slope() {
    let mut house = House::complete();
    let property = house.job.records.properties.get_mut(&Job::only()).unwrap();
    property.fields.ice_barrier_designated = Some(Known::Yes);
    property.fields.code_edition = Some("IRC 2018".into());
    let measures = &mut house.job.records.measurements;
    let wall = Some(RecordRef::side(Side::Front));
    measures.insert(
        id("overhang"),
        measure(MeasuredThing::Overhang, wall, Length::inches(12)),
    );
    measures.insert(
        id("wall"),
        measure(MeasuredThing::WallThickness, None, Length::inches(6)),
    );
    // Another slope's overhang is not taken for this one.
    measures.insert(
        id("other"),
        measure(
            MeasuredThing::Overhang,
            Some(at(Kind::Slope, "other")),
            Length::inches(40),
        ),
    );
    let found = of(&house.job, CodeRule::IceBarrier);
    assert_eq!(found.len(), 1);
    let barrier = &found[0];
    // 42 in x sqrt(1.25), plane geometry; IRC 2018 R905.1.2.
    let along = barrier.answer.figure("along the slope").unwrap();
    assert!((along - 46.957).abs() < 0.0005);
    assert_eq!(barrier.answer.citation(), "IRC 2018, R905.1.2");
    for word in ["overhang", "wall", "pitch"] {
        assert!(
            barrier.from.contains(&at(Kind::Measurement, word)),
            "{word}"
        );
    }
    assert!(barrier.from.contains(&at(Kind::Property, "house")));
    assert_eq!(barrier.place, Some(at(Kind::Slope, "main")));
}

#[test]
fn the_gauge_comes_before_the_report_and_the_most_layers_count() {
    let mut house = House::complete();
    let records = &mut house.job.records;
    let gauge = records.measurements.get_mut(&id("pitch")).unwrap();
    gauge.fields.pitch = Pitch::from_rise(3.0);
    let eave = records.eave_openings.get_mut(&id("eave")).unwrap();
    eave.fields.roofing_layers = Some(2);
    let job = &house.job;
    let layers = &of(job, CodeRule::Underlayment)[0].answer;
    assert!(layers.sentence.starts_with("Two layers"));
    let recover = &of(job, CodeRule::Recover)[0];
    assert_eq!(recover.answer.standing, Standing::Asks);
    assert!(recover.from.contains(&at(Kind::EaveOpening, "eave")));

    // Without the gauge the report's pitch is used, and it is the slope's record that says so.
    let gauge = house
        .job
        .records
        .measurements
        .get_mut(&id("pitch"))
        .unwrap();
    gauge.fields.pitch = None;
    let single = &of(&house.job, CodeRule::Underlayment)[0];
    assert!(single.answer.sentence.starts_with("One layer"));
    assert_eq!(single.from, [at(Kind::Slope, "main")]);
}

#[test]
fn nothing_said_and_said_to_be_none_are_two_things() {
    let mut house = House::complete();
    house.part("chimney", None, Component::Chimney, Condition::NotPresent);
    let crickets = of(&house.job, CodeRule::Cricket);
    // The complete house says that it has no skylight.
    assert_eq!(crickets[0].answer.standing, Standing::NotAsked);
    assert!(crickets[0].from.contains(&at(Kind::Component, "chimney")));
    let walls = of(&house.job, CodeRule::Sidewall);
    assert_eq!(walls[0].answer.standing, Standing::NotKnown);

    house.part("chimney", None, Component::Chimney, Condition::Cleared);
    let crickets = of(&house.job, CodeRule::Cricket);
    assert_eq!(crickets[0].answer.standing, Standing::NotKnown);
    let part = house
        .job
        .records
        .components
        .get_mut(&id("chimney"))
        .unwrap();
    part.fields.length = Some(Length::inches(36));
    let crickets = of(&house.job, CodeRule::Cricket);
    assert_eq!(crickets[0].answer.standing, Standing::Asks);
    assert_eq!(crickets[0].from, [at(Kind::Component, "chimney")]);
}

#[test]
fn a_record_in_conflict_is_named() {
    let mut house = House::complete();
    let slope = house.job.records.slopes.get_mut(&id("main")).unwrap();
    let by = slope.made;
    slope.conflicts.push(Conflict {
        field: "layers".into(),
        statements: vec![Statement { value: None, by }],
    });
    let recover = &of(&house.job, CodeRule::Recover)[0];
    assert_eq!(recover.unsettled, [at(Kind::Slope, "main")]);
}
