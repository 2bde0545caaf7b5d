//! The demo house beside the scope of an insurer that does not exist. `planted.json` says what was
//! left out, shortened, raised, added and worded strangely: each is found, and nothing else.

use std::path::Path;

use rust_decimal::Decimal;
use serde_json::{Value, json};

use crate::job::*;
use crate::review::Reader;
use crate::review::compare::columns::Meaning;
use crate::review::compare::*;
use crate::review::demo_job::demo_job;
use crate::review::scope::{ScopeInputs, scope};

fn fixture(name: &str) -> Vec<u8> {
    std::fs::read(
        Path::new(env!("CARGO_MANIFEST_DIR"))
            .join("../fixtures/scope")
            .join(name),
    )
    .unwrap()
}

fn taken(job: &Job, file_name: &str) -> TakenIn {
    let file = TheirFile {
        name: "Tern & Heron Mutual (invented)",
        file_name,
        bytes: &fixture(file_name),
        ..TheirFile::default()
    };
    take_in(job, &file).unwrap()
}

fn compared(reader: Reader) -> Comparison {
    let job = demo_job();
    let taken = taken(&job, "insurer-scope.csv");
    let ours = scope(&job, &ScopeInputs::default());
    compare(
        &job,
        &ours,
        &taken.scope,
        None,
        &Options {
            reader,
            ..Options::default()
        },
    )
}

/// An entry as the list of what was planted has it.
fn planted(entry: &Entry) -> Value {
    let lines: Vec<&str> = entry.ours.iter().map(|line| line.key.as_str()).collect();
    let rows: Vec<u32> = entry.theirs.iter().map(|row| row.row).collect();
    json!({ "outcome": entry.outcome.code(), "lines": lines, "rows": rows })
}

#[test]
fn what_was_planted_is_found_and_nothing_else() {
    let result = compared(Reader::Anyone);
    let differing = result
        .entries
        .iter()
        .filter(|entry| entry.outcome != Outcome::Same);
    let mut found: Vec<Value> = differing.map(planted).collect();
    let list: Value = serde_json::from_slice(&fixture("planted.json")).unwrap();
    let mut expected: Vec<Value> = list["planted"].as_array().unwrap().clone();
    for entry in &mut expected {
        entry.as_object_mut().unwrap().remove("why").unwrap();
    }
    let by_text = |value: &Value| value.to_string();
    found.sort_by_key(by_text);
    expected.sort_by_key(by_text);
    let show = |list: &[Value]| {
        list.iter()
            .map(Value::to_string)
            .collect::<Vec<_>>()
            .join("\n")
    };
    assert_eq!(show(&found), show(&expected));
}

#[test]
fn what_is_the_same_is_matched_with_a_reason() {
    let result = compared(Reader::Anyone);
    let same: Vec<&Entry> = result
        .entries
        .iter()
        .filter(|entry| entry.outcome == Outcome::Same)
        .collect();
    let list: Value = serde_json::from_slice(&fixture("planted.json")).unwrap();
    let rows: Vec<u32> = same
        .iter()
        .flat_map(|entry| &entry.theirs)
        .map(|row| row.row)
        .collect();
    let mut sorted = rows;
    sorted.sort_unstable();
    assert_eq!(json!(sorted), list["same_rows"]);
    assert!(
        same.iter()
            .all(|entry| entry.certainty.is_some() && !entry.reasons.is_empty())
    );
    assert!(result.broken.is_empty());
}

#[test]
fn the_columns_are_understood_and_proven() {
    let job = demo_job();
    let taken = taken(&job, "insurer-scope.csv");
    let meanings: Vec<Option<Meaning>> = taken
        .columns
        .columns
        .iter()
        .map(|column| column.meaning)
        .collect();
    use Meaning::*;
    assert_eq!(
        meanings,
        [
            None,
            Some(Place),
            Some(Item),
            Some(Action),
            Some(Quantity),
            Some(Unit),
            Some(UnitPrice),
            Some(Total)
        ]
    );
    assert_eq!(taken.columns.columns[4].score, 100);
}

#[test]
fn the_spreadsheet_has_the_same_rows() {
    let job = demo_job();
    let (text, sheet) = (
        taken(&job, "insurer-scope.csv"),
        taken(&job, "insurer-scope.xlsx"),
    );
    let normal = |scope: &TheirScope| -> Vec<TheirRow> {
        let mut rows = scope.rows.clone();
        for row in &mut rows {
            row.quantity = row.quantity.map(|number| number.normalize());
            row.unit_price = row.unit_price.map(|number| number.normalize());
            row.total = row.total.map(|number| number.normalize());
        }
        rows
    };
    assert_eq!(normal(&text.scope), normal(&sheet.scope));
    assert_eq!(text.columns.fingerprint, sheet.columns.fingerprint);
    assert_eq!(sheet.read_as, "spreadsheet, sheet \"Scope of loss\"");
}

#[test]
fn their_money_is_the_sum_at_the_foot_of_their_file() {
    let result = compared(Reader::Office);
    // The sum in the last row of insurer-scope.csv.
    let foot = String::from_utf8(fixture("insurer-scope.csv")).unwrap();
    let foot = foot
        .lines()
        .last()
        .unwrap()
        .replace([';', '"', '$', ','], "")
        .replace("Total", "");
    assert_eq!(
        result.money.theirs,
        Some(Decimal::from_str_exact(&foot).unwrap())
    );
    assert_eq!((result.money.theirs_without, result.money.ours), (0, None));
}

/// The list in a form that a person can read.
fn in_words(list: &DisputeList) -> String {
    let mut out = format!("{}\n", list.about);
    for dispute in &list.disputes {
        out += &format!(
            "\n{}. {} | {} | {}\n   theirs: {}\n   ours: {}\n   difference: {}\n   {}\n   photos: {}\n",
            dispute.number,
            dispute.outcome.label(),
            dispute.place,
            dispute.item,
            dispute.theirs,
            dispute.ours,
            dispute.difference,
            dispute.reason,
            dispute
                .photos
                .iter()
                .map(RecordId::as_str)
                .collect::<Vec<_>>()
                .join(" "),
        );
        for doubt in &dispute.unsure {
            out += &format!("   unsure: {doubt}\n");
        }
    }
    out
}

#[test]
fn the_disputes_read_as_an_adjuster_follows_them() {
    let list = disputes(&compared(Reader::Anyone));
    insta::assert_snapshot!("demo_disputes", in_words(&list));
}

// Interpreting cover or negotiating a claim is licensed work in many states: the list states what
// was observed, measured and counted, and no more (common practice, no source for the words).
#[test]
fn nothing_is_said_to_be_owed_or_covered() {
    for reader in [Reader::Anyone, Reader::Office] {
        let result = compared(reader);
        let text = serde_json::to_string(&(&result, disputes(&result)))
            .unwrap()
            .to_lowercase();
        let words: Vec<&str> = text.split(|c: char| !c.is_alphabetic()).collect();
        for word in [
            "owe",
            "owed",
            "owes",
            "entitled",
            "coverage",
            "covered",
            "underpaid",
            "deny",
            "must",
        ] {
            assert!(!words.contains(&word), "{word}");
        }
    }
}

#[test]
fn the_csv_has_a_row_for_each_dispute() {
    let list = disputes(&compared(Reader::Anyone));
    let csv = disputes_csv(&list);
    let mut reader = csv::Reader::from_reader(csv.as_slice());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), list.disputes.len());
    for (row, dispute) in rows.iter().zip(&list.disputes) {
        assert_eq!(&row[0], dispute.number.to_string());
        assert_eq!(&row[14], "open");
        assert_eq!(row[8].split_whitespace().count(), dispute.photos.len());
    }
}
