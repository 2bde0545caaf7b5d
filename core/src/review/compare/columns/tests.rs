use super::*;
use crate::job::{Job, OtherScope, RecordId};
use crate::review::compare::table::{Table, read_table};
use crate::review::house::{House, id, record};

fn table(text: &str) -> Table {
    read_table(text.as_bytes(), None).unwrap()
}

fn meanings(columns: &Columns) -> Vec<&str> {
    let meaning = |column: &Column| column.meaning.map_or("-", Meaning::code);
    columns.columns.iter().map(meaning).collect()
}

#[test]
fn plain_titles_are_understood() {
    for (head, row, read) in [
        (
            "Item,Quantity,Unit,Unit Price,Total",
            "Gutter,24,LF,5.00,120.00",
            "item quantity unit unit_price total",
        ),
        (
            "Line no.,Description,Qty,UOM,Rate,Amount",
            "1,Gutter,24,LF,5.00,120.00",
            "- item quantity unit unit_price total",
        ),
        (
            "Location,Work item,Activity,How much,Measured in,Notes",
            "Front,Gutter,replace,24,LF,as seen",
            "place item action quantity unit remarks",
        ),
        (
            "ITEM DESCRIPTION,QTY.,UNITS,PRICE PER UNIT (USD),REPLACEMENT COST",
            "Gutter,24,LF,5.00,120.00",
            "item quantity unit unit_price total",
        ),
    ] {
        let columns = Columns::guess(&table(&format!("{head}\n{row}\n")));
        assert_eq!(meanings(&columns).join(" "), read, "{:?}", columns.columns);
        let sure = |meaning| {
            let column = &columns.columns[columns.index(meaning).unwrap()];
            column.certainty >= Certainty::Likely
        };
        assert!(
            sure(Meaning::Item) && sure(Meaning::Quantity),
            "{:?}",
            columns.columns
        );
    }
}

const PRICED: &str = "Some insurer\n\nWhat,Side,How much,UOM,Rate,Amount\nGutter,Front,24,LF,5.00,120.00\nScreen,Left,2,EA,40.00,80.00\nShutter,Left,3,EA,75.50,226.50\nTotal,,,,,426.50\n";

#[test]
fn arithmetic_proves_the_columns_of_numbers() {
    let columns = Columns::guess(&table(PRICED));
    assert_eq!(columns.head_line, Some(3));
    assert_eq!(
        meanings(&columns).join(" "),
        "item place quantity unit unit_price total"
    );
    for at in [2, 4, 5] {
        assert_eq!(
            columns.columns[at].score, 100,
            "{}",
            columns.columns[at].why
        );
    }
    assert!(columns.notes.is_empty(), "{:?}", columns.notes);
    let wrong = PRICED.replace("120.00", "999.00").replace("80.00", "1.00");
    let columns = Columns::guess(&table(&wrong));
    assert!(
        columns.notes[0].contains("1 of 3 rows"),
        "{:?}",
        columns.notes
    );
    assert!(columns.columns[5].score <= 70);
}

#[test]
fn without_a_head_the_cells_tell() {
    let text =
        "Gutter,LF,24,$5.00,$120.00\nScreen,EA,2,$40.00,$80.00\nShutter,EA,3,$75.50,$226.50\n";
    let columns = Columns::guess(&table(text));
    assert_eq!(columns.head_line, None);
    assert_eq!(columns.fingerprint, "");
    assert_eq!(
        meanings(&columns).join(" "),
        "item unit quantity unit_price total"
    );
    // Without money signs the price and the quantity could change places: it is said.
    let columns = Columns::guess(&table(&text.replace('$', "")));
    assert!(
        columns
            .notes
            .iter()
            .any(|note| note.contains("other way round"))
    );
}

#[test]
fn two_columns_for_one_meaning_are_said() {
    let columns = Columns::guess(&table("Item,Quantity,Quantity\nGutter,24,30\n"));
    assert!(
        columns.notes.iter().any(|note| note.contains("Column 3")),
        "{:?}",
        columns.notes
    );
}

#[test]
fn a_person_overrides_the_guess() {
    let columns = Columns::guess(&table(PRICED));
    let stated = columns
        .clone()
        .with_mapping(
            &table(PRICED),
            r#"{"quantity": 5, "unit_price": "How much", "place": null}"#,
        )
        .unwrap();
    assert_eq!(
        meanings(&stated).join(" "),
        "item - unit_price unit quantity total"
    );
    assert_eq!(stated.by, MappedBy::Person);
    for (mapping, word) in [
        ("[1]", "not read"),
        (r#"{"thing": 1}"#, "not a meaning"),
        (r#"{"item": 9}"#, "no column 9"),
        (r#"{"item": 0}"#, "no column 0"),
        (r#"{"item": "Nothing"}"#, "no column \"Nothing\""),
        (r#"{"item": 1, "place": 1}"#, "named twice"),
        (r#"{"item": true}"#, "not read"),
    ] {
        let error = columns
            .clone()
            .with_mapping(&table(PRICED), mapping)
            .unwrap_err()
            .to_string();
        assert!(error.contains(word), "{error}");
    }
    let without = columns
        .with_mapping(&table(PRICED), r#"{"item": null}"#)
        .unwrap();
    assert!(without.notes[0].contains("No column for the item"));
    let error = crate::review::compare::read_rows(&table(PRICED), &without).unwrap_err();
    assert!(
        error
            .to_string()
            .contains("no column for the item is known")
    );
}

fn kept(columns: &Columns, at: i64) -> crate::job::Record<OtherScope> {
    let mut made = record(OtherScope {
        columns: Some(serde_json::to_string(columns).unwrap()),
        ..OtherScope::default()
    });
    made.made.at = at;
    made
}

#[test]
fn the_next_file_with_the_same_head_finds_the_mapping() {
    let mapping = r#"{"quantity": 5, "unit_price": 3}"#;
    let first = Columns::guess(&table(PRICED))
        .with_mapping(&table(PRICED), mapping)
        .unwrap();
    let older = Columns::guess(&table(PRICED));
    let mut job: Job = House::empty().job;
    job.records
        .other_scopes
        .insert(id("b"), kept(&first, 2_000));
    job.records
        .other_scopes
        .insert(id("z"), kept(&older, 1_000));
    let broken = OtherScope {
        columns: Some("{".into()),
        ..OtherScope::default()
    };
    job.records
        .other_scopes
        .insert(id("broken"), record(broken));
    // Titles above, capitals and signs do not count; another order does.
    let next = PRICED
        .replace("Some insurer", "Another house\nof theirs")
        .replace("What,Side", "WHAT:,side");
    let (at, columns) = Columns::earlier(&table(&next), &job).unwrap();
    assert_eq!(at.id, "b".parse::<RecordId>().unwrap());
    assert_eq!(columns.by, MappedBy::Earlier);
    assert_eq!(columns.head_line, Some(4));
    assert_eq!(meanings(&columns), meanings(&first));
    let other = table(&PRICED.replace("What,Side", "Side,What"));
    assert!(Columns::earlier(&other, &job).is_none());
}

#[test]
fn a_head_in_unknown_words_is_named_once_and_remembered() {
    let text = "Post,Was,Wieviel\nx,Gutter,24\ny,Screen,2\n";
    let file = table(text);
    assert_eq!(Columns::guess(&file).head_line, None);
    let mapping = r#"{"head_line": 1, "item": "was", "quantity": "Wieviel"}"#;
    let stated = Columns::guess(&file).with_mapping(&file, mapping).unwrap();
    assert_eq!(stated.head_line, Some(1));
    let scope = crate::review::compare::read_rows(&file, &stated).unwrap();
    assert_eq!((scope.rows.len(), scope.broken.len()), (2, 0));
    let mut job: Job = House::empty().job;
    job.records.other_scopes.insert(id("a"), kept(&stated, 1));
    let next = table(&format!("Another house\n\n{text}"));
    let (_, columns) = Columns::earlier(&next, &job).unwrap();
    assert_eq!(columns.head_line, Some(3));
    assert_eq!(meanings(&columns), meanings(&stated));
    for line in ["9", "0", "\"x\""] {
        let mapping = format!("{{\"head_line\": {line}}}");
        let error = Columns::guess(&file)
            .with_mapping(&file, &mapping)
            .unwrap_err();
        assert!(matches!(error, MappingError::HeadLine(_)), "{error}");
    }
    let none = stated
        .with_mapping(&file, r#"{"head_line": null}"#)
        .unwrap();
    assert_eq!((none.head_line, none.fingerprint.as_str()), (None, ""));
}

#[test]
fn a_head_below_the_limit_is_not_looked_for() {
    let title = "a title of some words\n";
    let rows = "Item,Quantity\nGutter,24\n";
    let above = title.repeat(crate::limits::SCOPE_HEAD_ROWS - 1);
    let head = u32::try_from(crate::limits::SCOPE_HEAD_ROWS).unwrap();
    assert_eq!(
        Columns::guess(&table(&format!("{above}{rows}"))).head_line,
        Some(head)
    );
    assert_eq!(
        Columns::guess(&table(&format!("{above}{title}{rows}"))).head_line,
        None
    );
}
