//! Rows, skipped rows, broken rows, and what is kept of them.

use super::*;

fn read(text: &str) -> TheirScope {
    let table = read_table(text.as_bytes(), None).unwrap();
    read_rows(&table, &Columns::guess(&table)).unwrap()
}

const FILE: &str = "An invented insurer\nEstimate of 3 May\n\nDescription,Area,Qty,Unit,Price\n\
Front elevation\nGutter,,24,LF,5.00\n\"Screens, all\",,2 EA,,40\nGutters\nGutter,,30,,\n\
Description,Area,Qty,Unit,Price\n\
,Left,5,LF,\nShutter,Left,three,EA,\nShutter,Left,(3),EA,\nFence,Yard,5 LF,SF,\n\
Gutter,Left,1,234,LF,5.00\nPlease see the photos in the file,,,,\nTotal,,,,999.00\n";

#[test]
fn every_row_is_an_item_or_skipped_or_broken() {
    let scope = read(FILE);
    let rows: Vec<_> = scope
        .rows
        .iter()
        .map(|row| (row.row, row.line, row.item.as_str(), row.place.as_str()))
        .collect();
    assert_eq!(
        rows,
        [
            (2, 6, "Gutter", "Front elevation"),
            (3, 7, "Screens, all", "Front elevation"),
            // The heading of a trade ends the section of a place.
            (5, 9, "Gutter", ""),
        ]
    );
    assert_eq!(scope.rows[1].unit, Some(Unit::Each));
    assert_eq!(
        (scope.rows[2].unit, scope.rows[2].unit_words.as_str()),
        (None, "")
    );
    let skipped: Vec<_> = scope
        .skipped
        .iter()
        .map(|row| (row.line, row.taken_for))
        .collect();
    use TakenFor::*;
    assert_eq!(
        skipped,
        [
            (1, Title),
            (2, Title),
            (4, Head),
            (5, Section),
            (8, Section),
            (10, Head),
            (16, Remark),
            (17, Sum)
        ]
    );
    let broken: Vec<_> = scope
        .broken
        .iter()
        .map(|row| (row.line, row.reason.as_str()))
        .collect();
    assert_eq!(
        broken,
        [
            (11, "the row has numbers and no item"),
            (12, "the quantity \"three\" is not a number"),
            (13, "the quantity is negative: a credit is not compared"),
            (14, "the quantity says \"LF\" and the unit \"SF\""),
            (
                15,
                "the row has 6 cells and the head 5: put quotes round a cell that has a comma in it"
            ),
        ]
    );
}

#[test]
fn amounts_past_the_limits_are_broken_rows() {
    let most = crate::limits::SCOPE_QUANTITY;
    let money = crate::limits::SCOPE_MONEY;
    let scope = read(&format!(
        "Item,Quantity,Unit,Total\nGutter,{most},LF,{money}\nGutter,{most}.01,LF,\nGutter,1,LF,{money}.01\n"
    ));
    assert_eq!((scope.rows.len(), scope.broken.len()), (1, 2));
    assert!(scope.broken[0].reason.contains("the quantity is over"));
}

#[test]
fn what_was_taken_in_reads_back_from_its_record() {
    let job = House::empty().job;
    let file = TheirFile {
        name: "an invented insurer",
        file_name: "scope.csv",
        bytes: FILE.as_bytes(),
        ..TheirFile::default()
    };
    let taken = take_in(&job, &file).unwrap();
    let (columns, scope) = kept(&taken.record).unwrap();
    assert_eq!(
        (columns, scope),
        (taken.columns.clone(), taken.scope.clone())
    );
    assert_eq!(
        taken.record.file_hash.as_deref(),
        Some(blake3::hash(FILE.as_bytes()).to_hex().as_str())
    );

    let mut next = job;
    next.records
        .other_scopes
        .insert(id("first"), record(taken.record.clone()));
    let again = take_in(&next, &file).unwrap();
    assert_eq!(again.mapping_from, Some(at(Kind::OtherScope, "first")));
    assert_eq!(again.scope, taken.scope);
    let stated = TheirFile {
        mapping: Some(r#"{"item": null}"#),
        ..file
    };
    assert!(matches!(
        take_in(&next, &stated),
        Err(TakeInError::Mapping(_))
    ));

    let empty = OtherScope::default();
    assert_eq!(kept(&empty), Err(TakeInError::Kept));
    let rubbish = OtherScope {
        rows: Some(serde_bytes::ByteBuf::from(vec![0xC1; 40])),
        ..taken.record
    };
    assert_eq!(kept(&rubbish), Err(TakeInError::Kept));
}

#[test]
fn more_rows_than_a_record_holds_are_refused() {
    let row = format!("Gutter,1,LF,{}\n", "x".repeat(200));
    let rows = crate::limits::TABLE_BYTES / 200;
    let text = format!("Item,Quantity,Unit,Remarks\n{}", row.repeat(rows));
    let file = TheirFile {
        bytes: text.as_bytes(),
        ..TheirFile::default()
    };
    let error = take_in(&House::empty().job, &file).unwrap_err();
    assert!(matches!(error, TakeInError::TooMuch(..)), "{error}");
}
