//! Which row stands for which line, and what comes of it.

use std::collections::BTreeMap;

use rust_decimal::Decimal;

use super::*;
use Outcome::*;
use WorkAction::*;

#[test]
fn the_same_item_work_and_place_are_matched() {
    let result = compared(
        vec![
            line(front(), Item::Gutter, RemoveAndReplace, 24.0),
            line(left(), Item::Gutter, RemoveAndReplace, 30.0),
            line(left(), Item::Gutter, Paint, 30.0),
            line(left(), Item::Screen, RemoveAndReplace, 2.0),
        ],
        "Gutters,Left side,R&R,20,LF,,\nGutters,F,R&R,24.3,LF,,\nWindow screen,Left,replace,3,EA,,\n",
    );
    assert_eq!(
        shape(&result),
        [
            (Same, 1, vec![2]),
            (Short, 1, vec![1]),
            (Missing, 1, vec![]),
            (Over, 1, vec![3])
        ]
    );
    assert_eq!(result.entries[0].certainty, Some(Certainty::Sure));
    assert!(
        result.entries[0]
            .sentence
            .contains("within the stated tolerance of 2 %")
    );
    assert!(
        result.entries[1]
            .sentence
            .contains("Theirs states 20 LF, ours 30 LF: 10 LF less.")
    );
    assert!(
        result.entries[1].reasons[0]
            .contains("is read as gutter; work: remove and replace; place:")
    );
    // Counts must be the same: one screen more is more.
    assert_eq!(
        result.entries[3].amounts.as_ref().unwrap().difference,
        Decimal::ONE
    );
}

#[test]
fn one_row_for_the_roof_is_compared_with_the_sum_of_our_slopes() {
    let lines = || {
        vec![
            line(slope("main-front"), Item::Shingles, RemoveAndReplace, 4.29),
            line(slope("main-left"), Item::Shingles, RemoveAndReplace, 2.52),
        ]
    };
    let result = compared(lines(), "Laminated shingles,Roof,R&R,681,SF,,\n");
    assert_eq!(shape(&result), [(Same, 2, vec![1])]);
    let entry = &result.entries[0];
    assert!(entry.as_sums && entry.certainty == Some(Certainty::Likely));
    assert_eq!(entry.amounts.as_ref().unwrap().theirs, Decimal::new(681, 2));
    assert!(entry.sentence.contains("1 SQ is 100 SF exactly"));
    assert!(entry.reasons.iter().any(|reason| reason.contains("Compared as sums: 1 row of theirs with 2 lines of ours")));
    // Several of theirs for one of ours.
    let ours = vec![line(None, Item::Shingles, RemoveAndReplace, 6.81)];
    let rows = "Shingles,Front slope,R&R,4.29,SQ,,\nShingles,Left slope,R&R,2.00,SQ,,\n";
    assert_eq!(shape(&compared(ours, rows)), [(Short, 1, vec![1, 2])]);
    // A row for the roof and one for a slope of it could count the slope twice.
    let rows = "Shingles,Roof,R&R,6.81,SQ,,\nShingles,Left slope,R&R,2.52,SQ,,\n";
    assert_eq!(
        shape(&compared(lines(), rows)),
        [(NotMatched, 2, vec![1, 2])]
    );
}

#[test]
fn a_row_without_a_place_stands_for_ours_only_where_none_states_one() {
    let lines = || {
        vec![
            line(front(), Item::Gutter, RemoveAndReplace, 24.0),
            line(left(), Item::Gutter, RemoveAndReplace, 30.0),
        ]
    };
    assert_eq!(
        shape(&compared(lines(), "Gutter,,R&R,54,LF,,\n")),
        [(Same, 2, vec![1])]
    );
    let result = compared(lines(), "Gutter,,R&R,30,LF,,\nGutter,Front,R&R,24,LF,,\n");
    assert_eq!(
        shape(&result),
        [(Same, 1, vec![2]), (NotMatched, 1, vec![1])]
    );
    assert!(result.entries[1].reasons[0].contains("states no place"));
    assert_eq!(result.entries[1].candidates.len(), 1);
}

#[test]
fn places_that_could_be_two_are_left_to_a_person() {
    let lines = vec![
        line(front(), Item::Gutter, RemoveAndReplace, 24.0),
        line(
            Some(RecordRef::side(Side::Rear)),
            Item::Gutter,
            RemoveAndReplace,
            50.0,
        ),
    ];
    let result = compared(lines, "Gutter,R,R&R,50,LF,,\nGutter,Area 3,R&R,9,LF,,\n");
    assert_eq!(shape(&result), [(NotMatched, 2, vec![1, 2])]);
}

#[test]
fn another_work_is_no_match() {
    let lines = vec![line(left(), Item::GutterGuard, DetachAndReset, 30.0)];
    let result = compared(lines.clone(), "Gutter guards,Left,R&R,30,LF,,\n");
    assert_eq!(shape(&result), [(NotMatched, 1, vec![1])]);
    assert!(
        result.entries[0]
            .sentence
            .contains("asks for another work than ours")
    );
    // Work that is not stated is that of our one line there.
    let result = compared(lines, "Gutter guards,Left,,30,LF,,\n");
    assert_eq!(shape(&result), [(Same, 1, vec![1])]);
    assert_eq!(result.entries[0].certainty, Some(Certainty::Likely));
    // With two kinds of work in ours it is not clear.
    let two = vec![
        line(left(), Item::Gutter, RemoveAndReplace, 30.0),
        line(left(), Item::Gutter, Paint, 30.0),
    ];
    assert_eq!(
        shape(&compared(two.clone(), "Gutter,Left,,30,LF,,\n")),
        [(NotMatched, 2, vec![1])]
    );
    // Until another row says which of the two it is.
    let rows = "Gutter,Left,,30,LF,,\nGutter,Left,paint,30,LF,,\n";
    assert_eq!(
        shape(&compared(two, rows)),
        [(Same, 1, vec![1]), (Same, 1, vec![2])]
    );
}

#[test]
fn taking_off_and_putting_on_are_compared_apart() {
    let ours = || {
        vec![line(
            slope("main-left"),
            Item::Shingles,
            RemoveAndReplace,
            10.0,
        )]
    };
    let both = "Shingles,Left slope,remove,10,SQ,,\nShingles,Left slope,install,8,SQ,,\n";
    let result = compared(ours(), both);
    assert_eq!(shape(&result), [(Short, 1, vec![1, 2])]);
    assert_eq!(
        result.entries[0].amounts.as_ref().unwrap().part,
        Some("installing")
    );
    let result = compared(ours(), "Shingles,Left slope,install,10,SQ,,\n");
    assert!(
        result.entries[0]
            .sentence
            .contains("Theirs states 0 SQ for removing, ours 10 SQ")
    );
}

#[test]
fn units_are_never_converted_but_squares() {
    let result = compared(
        vec![
            line(front(), Item::Gutter, RemoveAndReplace, 24.0),
            line(left(), Item::Siding, RemoveAndReplace, 100.0),
            line(left(), Item::Screen, RemoveAndReplace, 2.0),
        ],
        "Gutter,Front,R&R,2,EA,,\nSiding,Left,R&R,1,SQ,,\nWindow screen,Left,R&R,3,HR,,\n",
    );
    assert_eq!(
        shape(&result),
        [
            (UnitMismatch, 1, vec![1]),
            (Same, 1, vec![2]),
            (UnitMismatch, 1, vec![3])
        ]
    );
    assert!(result.entries[0].sentence.contains("states EA and ours LF"));
    assert!(result.entries[2].sentence.contains("\"HR\""));
}

#[test]
fn another_size_or_kind_is_said() {
    let mut gutter = line(left(), Item::Gutter, RemoveAndReplace, 30.0);
    gutter.size = Some(Length::inches(6));
    let valley = line(front(), Item::ValleyOpenMetal, RemoveAndReplace, 18.0);
    let rows = "\"Gutter, 5\"\"\",Left,R&R,30,LF,,\nClosed valley,Front,R&R,18,LF,,\n";
    let result = compared(vec![gutter.clone(), valley.clone()], rows);
    assert_eq!(
        shape(&result),
        [(OtherKind, 1, vec![1]), (OtherKind, 1, vec![2])]
    );
    assert!(
        result.entries[0]
            .sentence
            .contains("Row 1 says 5\"; ours is 6\"")
    );
    assert!(
        result.entries[1]
            .sentence
            .contains("Row 2 names closed-cut valley; ours is open metal valley")
    );
    // A valley without its lining, a gutter without its width say nothing against ours.
    let rows = "Gutter,Left,R&R,30,LF,,\nValley lining,Front,R&R,18,LF,,\n";
    assert_eq!(
        shape(&compared(vec![gutter, valley], rows)),
        [(Same, 1, vec![1]), (Same, 1, vec![2])]
    );
}

#[test]
fn what_ours_has_not_is_extra_and_what_names_nothing_is_left_open() {
    let result = compared(
        vec![line(left(), Item::Gutter, RemoveAndReplace, 30.0)],
        "Gutter,Rear,R&R,50,LF,,\nGutter / downspout,Left,R&R,40,LF,,\nRoof jack flange misc,,,1,EA,,\n",
    );
    // A row of two items could stand for our gutter; it is not said that it does.
    assert_eq!(
        shape(&result),
        [
            (NotMatched, 1, vec![2]),
            (Extra, 0, vec![1]),
            (NotMatched, 0, vec![3])
        ]
    );
    assert!(result.entries[1].reasons[0].contains("Ours has this item elsewhere: left"));
}

#[test]
fn waste_that_is_inside_of_theirs_is_added_to_ours() {
    let lines = || {
        vec![
            line(slope("main-left"), Item::Shingles, RemoveAndReplace, 10.0),
            line(slope("main-left"), Item::ShingleWaste, Install, 1.0),
        ]
    };
    let result = compared(
        lines(),
        "Shingles incl. 10% waste,Left slope,install,11,SQ,,\n",
    );
    assert_eq!(result.entries.len(), 1);
    let amounts = result.entries[0].amounts.as_ref().unwrap();
    assert_eq!(amounts.part, Some("removing"));
    let result = compared(
        lines(),
        "Shingles,Left slope,R&R,10,SQ,,\nWaste,Left slope,install,1,SQ,,\n",
    );
    assert_eq!(shape(&result), [(Same, 1, vec![1]), (Same, 1, vec![2])]);
}

fn said(other: &RecordRef, row: u32, line: &str) -> Record<ScopeMatch> {
    record(ScopeMatch {
        other: Some(other.clone()),
        row: Some(row),
        line: Some(line.to_owned()),
        reason: Some("spoke with them".to_owned()),
    })
}

#[test]
fn a_persons_word_stands_before_all() {
    let other = at(Kind::OtherScope, "theirs");
    let lines = vec![
        line(front(), Item::Gutter, RemoveAndReplace, 24.0),
        line(left(), Item::Gutter, RemoveAndReplace, 30.0),
    ];
    let rows =
        theirs("Gutter,Front,R&R,24,LF,,\nMisc metal,Left,,30,LF,,\nGutter,Left,R&R,30,LF,,\n");
    let mut house = house();
    let key = lines[1].key.as_str().to_owned();
    let words = &mut house.job.records.scope_matches;
    words.insert(id("a"), said(&other, 2, &key));
    words.insert(id("b"), said(&other, 1, ""));
    words.insert(id("c"), said(&other, 9, &key));
    words.insert(id("d"), said(&other, 3, "house|gone|clean"));
    words.insert(id("e"), said(&at(Kind::OtherScope, "another"), 3, &key));
    let mut struck = said(&other, 3, &key);
    struck.struck = Some(Struck {
        reason: "wrong".into(),
        by: struck.made,
    });
    words.insert(id("f"), struck);
    let scope = scope_of(lines);
    let result = compare(&house.job, &scope, &rows, Some(&other), &Options::default());
    assert_eq!(
        shape(&result),
        [
            (Missing, 1, vec![]),
            (Same, 1, vec![2]),
            (Extra, 0, vec![1]),
            (NotMatched, 0, vec![3])
        ]
    );
    assert_eq!(
        result.entries[1].reasons,
        ["A person said so: spoke with them."]
    );
    assert_eq!(result.notes.len(), 3, "{:?}", result.notes);
    // What the office wrote to itself does not leave it.
    let anyone = Options {
        reader: crate::review::Reader::Anyone,
        ..Options::default()
    };
    let result = compare(&house.job, &scope, &rows, Some(&other), &anyone);
    assert_eq!(result.entries[1].reasons, ["A person said so."]);
    // Two words against each other count for nothing.
    house
        .job
        .records
        .scope_matches
        .insert(id("g"), said(&other, 2, ""));
    let result = compare(&house.job, &scope, &rows, Some(&other), &Options::default());
    assert!(
        result
            .notes
            .iter()
            .any(|note| note.contains("matched to a line and to none"))
    );
}

#[test]
fn money_is_decimal_and_theirs_stays_theirs() {
    let lines = vec![
        line(front(), Item::Gutter, RemoveAndReplace, 24.5),
        line(left(), Item::Gutter, RemoveAndReplace, 30.0),
    ];
    let prices = BTreeMap::from([(lines[0].key.clone(), Decimal::new(1005, 3))]);
    let rows = theirs(
        "Gutter,Front,R&R,24.5,LF,2.10,51.45\nGutter,Left,R&R,30,LF,2.10,\nGutter,Rear,R&R,5,LF,,\n",
    );
    let options = Options {
        prices: Some(&prices),
        ..Options::default()
    };
    let result = compare(&house().job, &scope_of(lines), &rows, None, &options);
    // 24.5 x 1.005 = 24.6225.
    assert_eq!(result.entries[0].our_money, Some(Decimal::new(2462, 2)));
    assert_eq!(result.entries[1].our_money, None);
    assert_eq!(result.entries[1].their_money, Some(Decimal::new(6300, 2)));
    let money = result.money;
    assert_eq!(
        (money.ours, money.ours_without),
        (Some(Decimal::new(2462, 2)), 1)
    );
    assert_eq!(
        (money.theirs, money.theirs_without),
        (Some(Decimal::new(11445, 2)), 1)
    );
    let total = &result.totals[0];
    assert_eq!(
        (total.ours, total.theirs, total.lines, total.rows),
        (Decimal::new(545, 1), Decimal::new(595, 1), 2, 3)
    );
    assert_eq!(total.rows_not_matched, 1);
}

#[test]
fn the_office_keeps_its_lines_to_itself() {
    let mut secret = line(left(), Item::Gutter, RemoveAndReplace, 30.0);
    secret.audience = Audience::OfficeOnly;
    let scope = scope_of(vec![
        secret,
        line(front(), Item::Gutter, RemoveAndReplace, 24.0),
    ]);
    let rows = theirs("Gutter,Front,R&R,20,LF,,\n");
    let office = compare(&house().job, &scope, &rows, None, &Options::default());
    assert_eq!(office.entries.len(), 2);
    let options = Options {
        reader: crate::review::Reader::Anyone,
        ..Options::default()
    };
    let anyone = compare(&house().job, &scope, &rows, None, &options);
    assert_eq!(shape(&anyone), [(Short, 1, vec![1])]);
    let list = disputes(&anyone);
    assert_eq!((list.disputes.len(), list.disputes[0].status), (1, "open"));
}
