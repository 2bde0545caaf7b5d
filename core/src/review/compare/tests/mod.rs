//! Tests of the whole comparison.

mod demo;
mod large;
mod matches;
mod random;
mod rows;

use crate::job::*;
use crate::review::compare::columns::Columns;
use crate::review::compare::table::read_table;
use crate::review::compare::*;
use crate::review::house::{House, at, id, record};
use crate::review::scope::{Basis, Item, LineKey, Quantity, Scope, ScopeLine};

/// A house whose front faces south-east, with four sides, two slopes and a shed.
fn house() -> House {
    let mut house = House::empty();
    for side in Side::ALL {
        house.job.records.elevations.insert(
            RecordRef::side(*side).id,
            record(Elevation {
                side: Some(*side),
                ..Elevation::default()
            }),
        );
    }
    for (word, side) in [("main-front", Side::Front), ("main-left", Side::Left)] {
        house.job.records.slopes.insert(
            id(word),
            record(Slope {
                name: Some(word.replace('-', " ")),
                side: Some(side),
                ..Slope::default()
            }),
        );
    }
    house.job.records.structures.insert(
        id("shed"),
        record(Structure {
            kind: Some(StructureKind::Shed),
            ..Structure::default()
        }),
    );
    house
}

fn front() -> Option<Place> {
    Some(RecordRef::side(Side::Front))
}

fn left() -> Option<Place> {
    Some(RecordRef::side(Side::Left))
}

fn slope(word: &str) -> Option<Place> {
    Some(at(Kind::Slope, word))
}

/// One line of ours.
fn line(place: Option<Place>, item: Item, action: WorkAction, quantity: f64) -> ScopeLine {
    let unit = item.unit().unwrap_or(Unit::Each);
    ScopeLine {
        key: LineKey::of(place.as_ref(), &item, action, false),
        place_words: place
            .as_ref()
            .map_or_else(|| "house".to_owned(), |place| place.id.to_string()),
        place,
        item_words: item.label().to_owned(),
        item,
        size: None,
        action,
        quantity: Quantity::new(quantity, unit),
        how: "as measured".to_owned(),
        findings: Vec::new(),
        records: Vec::new(),
        photos: Vec::new(),
        basis: Basis::ExistingCondition,
        unsure: Vec::new(),
        audience: Audience::Shared,
        change: None,
    }
}

fn scope_of(lines: Vec<ScopeLine>) -> Scope {
    Scope {
        lines,
        ..Scope::default()
    }
}

const HEAD: &str = "Item,Place,Action,Quantity,Unit,Unit price,Total\n";

fn theirs(rows: &str) -> TheirScope {
    let table = read_table(format!("{HEAD}{rows}").as_bytes(), None).unwrap();
    read_rows(&table, &Columns::guess(&table)).unwrap()
}

fn compared(lines: Vec<ScopeLine>, rows: &str) -> Comparison {
    compare(
        &house().job,
        &scope_of(lines),
        &theirs(rows),
        None,
        &Options::default(),
    )
}

/// Outcome, lines and rows of each entry.
fn shape(comparison: &Comparison) -> Vec<(Outcome, usize, Vec<u32>)> {
    let entries = comparison.entries.iter();
    entries
        .map(|entry| {
            let rows = entry.theirs.iter().map(|row| row.row).collect();
            (entry.outcome, entry.ours.len(), rows)
        })
        .collect()
}
