use super::*;
use WorkAction::{Clean, RemoveAndReplace};

fn gutter_house() -> House {
    let mut house = House::empty();
    let mut gutter = hail(left(), Component::Gutter);
    gutter.extent_length = Some(Length::feet_inches(24, 0));
    house.finding("gutter", gutter);
    house
}

const GUTTER: &str = "elevation/left|gutter|remove_and_replace";

fn change(house: &mut House, word: &str, time: i64, change: ScopeChange) {
    let mut change = record(change);
    change.made.at = time;
    house.job.records.scope_changes.insert(id(word), change);
}

fn amended(quantity: f64, reason: &str) -> ScopeChange {
    ScopeChange {
        line: Some(GUTTER.into()),
        kind: Some(ScopeChangeKind::Amended),
        quantity: Some(quantity),
        reason: Some(reason.into()),
        ..ScopeChange::default()
    }
}

#[test]
fn the_later_change_wins_and_all_that_stood_before_is_readable() {
    let mut house = gutter_house();
    change(&mut house, "b", 10, amended(30.0, "measured again"));
    change(
        &mut house,
        "a",
        20,
        amended(28.0, "the corner was counted twice"),
    );
    let scope = scope_of(&house);
    let line = find(&scope, &Item::Gutter, RemoveAndReplace).unwrap();
    assert_eq!(line.quantity.unwrap().to_string(), "28 LF");
    let change = line.change.as_ref().unwrap();
    assert_eq!(change.reason, "the corner was counted twice");
    let was: Vec<(String, Option<&str>)> = change
        .was
        .iter()
        .map(|was| (was.quantity.unwrap().to_string(), was.reason.as_deref()))
        .collect();
    assert_eq!(
        was,
        [
            ("24 LF".into(), None),
            ("30 LF".into(), Some("measured again"))
        ]
    );
    assert_eq!(scope.totals[0].quantity.to_string(), "28 LF");
}

#[test]
fn at_the_same_time_the_id_decides_and_a_struck_change_does_not_count() {
    let mut house = gutter_house();
    change(&mut house, "b", 10, amended(30.0, "b"));
    change(&mut house, "a", 10, amended(28.0, "a"));
    assert_eq!(
        quantity(&scope_of(&house), &Item::Gutter, RemoveAndReplace),
        "30 LF"
    );
    let struck = house.job.records.scope_changes.get_mut(&id("b")).unwrap();
    struck.struck = Some(Struck {
        reason: "a mistake".into(),
        by: struck.made,
    });
    assert_eq!(
        quantity(&scope_of(&house), &Item::Gutter, RemoveAndReplace),
        "28 LF"
    );
}

#[test]
fn a_line_left_out_stays_readable_and_out_of_the_sums() {
    let mut house = gutter_house();
    let out = ScopeChange {
        kind: Some(ScopeChangeKind::LeftOut),
        quantity: None,
        ..amended(0.0, "the owner has it repaired")
    };
    change(&mut house, "out", 10, out);
    let scope = scope_of(&house);
    assert!(scope.lines.is_empty() && scope.totals.is_empty());
    assert_eq!(scope.left_out[0].quantity.unwrap().to_string(), "24 LF");
    change(
        &mut house,
        "back",
        20,
        amended(24.0, "the owner changed her mind"),
    );
    assert_eq!(scope_of(&house).lines.len(), 1);
}

#[test]
fn an_added_line_stands_for_itself() {
    let mut house = gutter_house();
    let added = ScopeChange {
        line: None,
        kind: Some(ScopeChangeKind::Added),
        place: Some(left()),
        item: Some("Crane, half a day".into()),
        action: Some(Clean),
        unit: Some(Unit::Each),
        ..amended(1.0, "no other way to the roof")
    };
    change(&mut house, "crane", 10, added);
    let scope = scope_of(&house);
    let line = find(&scope, &Item::Other("Crane, half a day".into()), Clean).unwrap();
    assert_eq!(
        (line.basis.clone(), line.key.as_str()),
        (Basis::Estimator, "scope_change/crane")
    );
    assert_eq!(line.quantity.unwrap().to_string(), "1 EA");
    let more = ScopeChange {
        line: Some("scope_change/crane".into()),
        ..amended(2.0, "two half days")
    };
    change(&mut house, "more", 20, more);
    let scope = scope_of(&house);
    assert_eq!(
        quantity(&scope, &Item::Other("Crane, half a day".into()), Clean),
        "2 EA"
    );
}

#[test]
fn a_change_whose_line_is_gone_is_listed_and_never_lost() {
    let mut house = gutter_house();
    change(&mut house, "a", 10, amended(30.0, "measured again"));
    house.job.records.findings.clear();
    let scope = scope_of(&house);
    assert!(scope.lines.is_empty());
    let orphan = &scope.orphaned[0];
    assert_eq!(orphan.record, at(Kind::ScopeChange, "a"));
    assert_eq!(orphan.line.as_str(), GUTTER);
    assert!(orphan.words.contains("30") && orphan.words.contains("measured again"));
}

#[test]
fn office_only_lines_reach_nobody_else() {
    let mut house = gutter_house();
    let hidden = ScopeChange {
        audience: Some(Audience::OfficeOnly),
        quantity: None,
        ..amended(0.0, "not for the packet")
    };
    change(&mut house, "a", 10, hidden);
    let scope = scope_of(&house);
    assert_eq!(scope.lines.len(), 1);
    let csv = String::from_utf8(scope.to_csv(&house.job, Reader::Office).unwrap()).unwrap();
    assert!(csv.contains("not for the packet") && csv.contains("24,LF"));
    let shared = String::from_utf8(scope.to_csv(&house.job, Reader::Anyone).unwrap()).unwrap();
    assert_eq!(shared.lines().count(), 1, "{shared}");
    let anyone = scope.for_reader(Reader::Anyone);
    assert!(anyone.lines.is_empty() && anyone.totals.is_empty());
}
