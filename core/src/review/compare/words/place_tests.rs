use super::*;
use crate::review::house::{House, at, id, record};

/// A house whose front faces south-east, with four slopes, a wing and a shed.
fn places() -> Places {
    let mut house = House::empty();
    for side in Side::ALL {
        house.job.records.elevations.insert(
            RecordRef::side(*side).id,
            record(Elevation {
                side: Some(*side),
                ..Elevation::default()
            }),
        );
        house.job.records.slopes.insert(
            id(&format!("main-{}", side.code())),
            record(Slope {
                name: Some(format!("main {}", side.code())),
                side: Some(*side),
                ..Slope::default()
            }),
        );
    }
    house.job.records.slopes.insert(
        id("wing-left"),
        record(Slope {
            name: Some("garage wing, left".into()),
            side: Some(Side::Left),
            ..Slope::default()
        }),
    );
    house.job.records.structures.insert(
        id("shed"),
        record(Structure {
            kind: Some(StructureKind::Shed),
            ..Structure::default()
        }),
    );
    house.job.records.properties.insert(
        Job::only(),
        record(Property {
            front_bearing: Some(140.0),
            ..Property::default()
        }),
    );
    Places::of(&house.job)
}

fn read(words: &str) -> String {
    match places().read(words) {
        Cover::Unsaid => "unsaid".into(),
        Cover::Unknown(_) => "unknown".into(),
        Cover::Unclear(..) => "unclear".into(),
        Cover::Whole(_) => "whole".into(),
        Cover::These { places, .. } => {
            let ids: Vec<&str> = places.iter().map(|place| place.id.as_str()).collect();
            ids.join(" ")
        }
    }
}

#[test]
fn places_are_read_in_words() {
    for (words, places) in [
        ("", "unsaid"),
        ("Front elevation", "front main-front"),
        ("F slope", "front main-front"),
        ("Back", "rear main-rear"),
        ("R slope", "unclear"),
        ("front left", "unclear"),
        (
            "Front & right elevations",
            "front right main-front main-right",
        ),
        ("Main front slope", "main-front"),
        ("Left slope", "left main-left wing-left"),
        ("garage left", "wing-left"),
        ("Garage", "wing-left"),
        ("Roof", "whole"),
        ("Dwelling roof", "whole"),
        ("Whole house", "whole"),
        ("Main roof", "main-front main-left main-rear main-right"),
        ("Shed roof", "shed"),
        ("Kitchen", "unknown"),
        ("Area 3", "unknown"),
    ] {
        assert_eq!(read(words), places, "{words}");
    }
}

// The front faces 140 degrees: the right side 50, the rear 320, the left 230 (plane geometry).
#[test]
fn bearings_name_a_side_only_where_no_other_could_be_meant() {
    assert_eq!(read("SE side"), "front main-front");
    assert_eq!(read("north east"), "right main-right");
    assert_eq!(read("NW elevation"), "rear main-rear");
    assert_eq!(read("southwest"), "left main-left wing-left");
    // 180 degrees: forty from the front, fifty from the left.
    assert_eq!(read("South slope"), "unclear");
}

#[test]
fn words_of_an_item_name_a_side_only_plainly() {
    let places = places();
    assert_eq!(places.read_in_item("Front door"), Cover::Unsaid);
    assert!(matches!(
        places.read_in_item("Gutter, front elevation"),
        Cover::These { .. }
    ));
}

#[test]
fn the_whole_house_has_no_shed() {
    let whole = places().read("roof");
    assert!(whole.covers(Some(&RecordRef::side(Side::Left))));
    assert!(whole.covers(None));
    assert!(!whole.covers(Some(&at(Kind::Structure, "shed"))));
    assert!(!places().read("shed").covers(None));
}
