use super::*;
use WorkAction::{DetachAndReset, Inspect, Paint, RemoveAndReplace, Repair, Stain, StraightenFins};

#[test]
fn three_of_eight_shutters_are_three() {
    let mut house = House::empty();
    let mut shutters = hail(left(), Component::Shutter);
    (shutters.units, shutters.units_total) = (Some(3), Some(8));
    house.finding("shutters", shutters);
    let shown = at(Kind::Finding, "shutters");
    house.photo(
        "far",
        PhotoRole::Standoff,
        None,
        std::slice::from_ref(&shown),
    );
    let scope = scope_of(&house);
    let line = find(&scope, &Item::Shutter, RemoveAndReplace).unwrap();
    assert_eq!(line.quantity.unwrap().to_string(), "3 EA");
    assert_eq!(line.how, "3 of 8 counted");
    assert_eq!(
        (&line.findings, &line.photos),
        (&vec![shown], &vec![id("far")])
    );
    assert_eq!(
        line.key.as_str(),
        "elevation/left|shutter|remove_and_replace"
    );
    assert_eq!(scope.lines.len(), 1);
}

#[test]
fn what_was_not_counted_is_no_quantity_and_says_so() {
    let mut house = House::empty();
    house.finding("shutters", hail(left(), Component::Shutter));
    house.finding("gutter", hail(left(), Component::Gutter));
    let scope = scope_of(&house);
    assert_eq!(
        quantity(&scope, &Item::Shutter, RemoveAndReplace),
        "not known"
    );
    let gutter = find(&scope, &Item::Gutter, RemoveAndReplace).unwrap();
    assert_eq!(gutter.quantity, None);
    for doubt in [
        "length of the gutter was not measured",
        "width was not measured",
        "paint to match",
    ] {
        assert!(
            gutter.unsure.iter().any(|said| said.contains(doubt)),
            "{doubt}: {:?}",
            gutter.unsure
        );
    }
}

#[test]
fn two_findings_of_one_part_are_one_line() {
    let mut house = House::empty();
    for (word, feet) in [("a", 24), ("b", 10)] {
        let mut gutter = hail(left(), Component::Gutter);
        gutter.extent_length = Some(Length::feet_inches(feet, 6));
        house.finding(word, gutter);
    }
    let scope = scope_of(&house);
    assert_eq!(quantity(&scope, &Item::Gutter, RemoveAndReplace), "35 LF");
    assert_eq!(scope.lines.len(), 1);
}

#[test]
fn field_painted_gutters_are_painted_and_their_width_is_named() {
    let mut house = House::empty();
    let mut gutter = hail(left(), Component::Gutter);
    gutter.extent_length = Some(Length::feet_inches(30, 0));
    gutter.finish = Some(Finish::FieldPainted);
    gutter.material = Some(Material::Aluminium);
    house.finding("gutter", gutter);
    house.job.records.measurements.insert(
        id("width"),
        record(Measurement {
            place: Some(left()),
            of: Some(MeasuredThing::GutterWidth),
            length: Some(Length::inches(6)),
            ..Measurement::default()
        }),
    );
    let scope = scope_of(&house);
    let line = find(&scope, &Item::Gutter, RemoveAndReplace).unwrap();
    assert_eq!(line.item_words, "gutter, 6 in, aluminium");
    assert_eq!(line.size, Some(Length::inches(6)));
    assert_eq!(line.records, [at(Kind::Measurement, "width")]);
    assert_eq!(quantity(&scope, &Item::Gutter, Paint), "30 LF");
}

#[test]
fn guards_go_off_and_on_for_a_new_gutter() {
    let mut house = House::empty();
    house.part(
        "guards",
        Some(left()),
        Component::GutterGuard,
        Condition::Cleared,
    );
    let guards = house.job.records.components.get_mut(&id("guards")).unwrap();
    guards.fields.length = Some(Length::feet_inches(30, 0));
    assert!(scope_of(&house).lines.is_empty());
    let mut gutter = hail(left(), Component::Gutter);
    gutter.extent_length = Some(Length::feet_inches(30, 0));
    house.finding("gutter", gutter);
    assert_eq!(
        quantity(&scope_of(&house), &Item::GutterGuard, DetachAndReset),
        "30 LF"
    );
    let mut hit = hail(left(), Component::GutterGuard);
    hit.extent_length = Some(Length::feet_inches(12, 0));
    house.finding("guard", hit);
    let scope = scope_of(&house);
    assert_eq!(
        quantity(&scope, &Item::GutterGuard, RemoveAndReplace),
        "12 LF"
    );
    assert_eq!(
        quantity(&scope, &Item::GutterGuard, DetachAndReset),
        "18 LF"
    );
}

#[test]
fn other_causes_make_no_line_and_are_listed_with_the_reason() {
    let mut house = House::empty();
    for (word, cause) in [
        ("a", Cause::Mechanical),
        ("b", Cause::WearOrAge),
        ("c", Cause::InstallationFault),
        ("d", Cause::Prior),
    ] {
        let mut finding = hail(left(), Component::Screen);
        finding.cause = Some(cause);
        finding.cause_reason = Some("no hit on the frame".into());
        house.finding(word, finding);
    }
    let mut ladder = hail(left(), Component::Gutter);
    ladder.audience = Some(Audience::OfficeOnly);
    house.finding("e", ladder);
    let scope = scope_of(&house);
    assert!(scope.lines.is_empty());
    let words: Vec<&str> = scope
        .withheld
        .iter()
        .map(|held| held.words.as_str())
        .collect();
    assert_eq!(words.len(), 5);
    assert!(words[0].contains("mechanical") && words[0].contains("no hit on the frame"));
    assert!(words[4].contains("office only, recorded as hail"));
    assert_eq!(scope.withheld[4].audience, Audience::OfficeOnly);
    assert_eq!(scope.for_reader(Reader::Anyone).withheld.len(), 4);
}

#[test]
fn an_unsure_cause_is_inspected() {
    let mut house = House::empty();
    let mut torn = hail(left(), Component::Screen);
    torn.cause = Some(Cause::Unsure);
    torn.units = Some(1);
    house.finding("torn", torn);
    let scope = scope_of(&house);
    let line = find(&scope, &Item::Screen, Inspect).unwrap();
    assert!(line.unsure.iter().any(|said| said == "the cause is unsure"));
    assert_eq!(scope.lines.len(), 1);
}

#[test]
fn struck_findings_never_count() {
    let mut house = House::empty();
    let finding = house.finding("gone", hail(left(), Component::Mailbox));
    finding.struck = Some(Struck {
        reason: "a shadow".into(),
        by: finding.made,
    });
    let scope = scope_of(&house);
    assert!(scope.lines.is_empty() && scope.withheld.is_empty());
}

#[test]
fn a_field_in_conflict_is_named() {
    let mut house = House::empty();
    let mut screens = hail(left(), Component::Screen);
    screens.units = Some(2);
    let finding = house.finding("screens", screens);
    let said = |units| Statement {
        value: Some(Scalar::Int(units)),
        by: finding.made,
    };
    finding.conflicts.push(Conflict {
        field: "units".into(),
        statements: vec![said(2), said(3)],
    });
    let scope = scope_of(&house);
    let line = find(&scope, &Item::Screen, RemoveAndReplace).unwrap();
    assert_eq!(line.quantity.unwrap().to_string(), "2 EA");
    let named = "\"units\" of a finding was stated differently (Robin Vale: 2; Robin Vale: 3)";
    assert!(
        line.unsure.iter().any(|said| said.starts_with(named)),
        "{:?}",
        line.unsure
    );
}

#[test]
fn fins_are_combed_and_looked_at_where_the_unit_does_less() {
    let mut house = House::empty();
    let unit = at(Kind::Structure, "condenser");
    let mut fins = hail(unit, Component::Condenser);
    (fins.units, fins.units_total) = (Some(2), Some(4));
    fins.severity = Some(Severity::Cosmetic);
    house.finding("a", fins.clone());
    let light = scope_of(&house);
    assert_eq!(quantity(&light, &Item::Condenser, StraightenFins), "1 EA");
    assert_eq!(quantity(&light, &Item::Condenser, Inspect), "no line");
    fins.severity = Some(Severity::Functional);
    house.finding("b", fins.clone());
    let heavy = scope_of(&house);
    assert_eq!(quantity(&heavy, &Item::Condenser, StraightenFins), "1 EA");
    assert_eq!(quantity(&heavy, &Item::Condenser, Inspect), "1 EA");
    fins.condition = Some(Condition::Missing);
    house.finding("a", fins.clone());
    house.finding("b", fins);
    // Two findings at one unit are one unit.
    assert_eq!(
        quantity(&scope_of(&house), &Item::Condenser, RemoveAndReplace),
        "1 EA"
    );
}

#[test]
fn ceilings_are_painted_from_wall_to_wall() {
    let mut house = House::empty();
    house.job.records.rooms.insert(
        id("bedroom"),
        record(Room {
            length: Some(Length::feet_inches(13, 0)),
            width: Some(Length::feet_inches(11, 0)),
            ..Room::default()
        }),
    );
    let mut wet = hail(at(Kind::Room, "bedroom"), Component::Ceiling);
    wet.extent_area = Some(Area::from_square_feet(6.0));
    house.finding("wet", wet.clone());
    house.finding("wet-too", wet);
    let scope = scope_of(&house);
    assert_eq!(quantity(&scope, &Item::Ceiling, RemoveAndReplace), "12 SF");
    assert_eq!(quantity(&scope, &Item::Ceiling, Paint), "143 SF");
}

#[test]
fn stained_fences_are_stained_and_walls_of_a_shed_measured() {
    let mut house = House::empty();
    for (word, kind, height) in [
        ("fence", StructureKind::Fence, 6),
        ("shed", StructureKind::Shed, 7),
    ] {
        house.job.records.structures.insert(
            id(word),
            record(Structure {
                kind: Some(kind),
                length: Some(Length::feet_inches(44, 0)),
                height: Some(Length::feet_inches(height, 0)),
                ..Structure::default()
            }),
        );
    }
    let mut boards = hail(at(Kind::Structure, "fence"), Component::FenceBoard);
    (boards.units, boards.units_total) = (Some(8), Some(96));
    boards.finish = Some(Finish::Stained);
    house.finding("boards", boards);
    let mut wall = hail(at(Kind::Structure, "shed"), Component::ShedWall);
    wall.extent_length = Some(Length::feet_inches(8, 0));
    house.finding("wall", wall);
    let scope = scope_of(&house);
    assert_eq!(
        quantity(&scope, &Item::FenceBoard, RemoveAndReplace),
        "8 EA"
    );
    assert_eq!(quantity(&scope, &Item::FenceStain, Stain), "264 SF");
    assert_eq!(quantity(&scope, &Item::ShedWall, RemoveAndReplace), "56 SF");
}

#[test]
fn wind_on_a_few_tabs_is_a_repair() {
    let mut house = House::complete();
    let mut tabs = hail(at(Kind::Slope, "main"), Component::Shingles);
    tabs.cause = Some(Cause::Wind);
    tabs.units = Some(2);
    house.finding("tabs", tabs);
    let scope = scope_of(&house);
    assert_eq!(quantity(&scope, &Item::Shingles, Repair), "2 EA");
    assert_eq!(
        quantity(&scope, &Item::Shingles, RemoveAndReplace),
        "no line"
    );
    assert_eq!(
        quantity(&scope, &Item::Starter, RemoveAndReplace),
        "no line"
    );
}

#[test]
fn a_part_counted_as_damaged_without_a_finding_is_inspected() {
    let mut house = House::empty();
    house.part("vents", None, Component::BoxVent, Condition::Damaged);
    let scope = scope_of(&house);
    let line = find(&scope, &Item::BoxVent, Inspect).unwrap();
    assert_eq!((line.quantity, line.place_words.as_str()), (None, "roof"));
}

#[test]
fn keys_do_not_depend_on_what_else_was_found() {
    let mut house = House::empty();
    house.finding("m", hail(left(), Component::Mailbox));
    let before = scope_of(&house).lines[0].key.clone();
    for component in Component::ALL {
        house.finding(
            component.code(),
            hail(RecordRef::side(Side::Front), *component),
        );
    }
    let scope = scope_of(&house);
    assert!(scope.lines.iter().any(|line| line.key == before));
    let mut keys: Vec<&LineKey> = scope.lines.iter().map(|line| &line.key).collect();
    keys.sort();
    keys.dedup();
    assert_eq!(keys.len(), scope.lines.len(), "every key stands once");
}
