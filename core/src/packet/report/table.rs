//! Tables that every format renders alike: columns with a type, cells with a value.

use chrono::NaiveDate;
use serde::{Serialize, Serializer};

use super::super::when::utc;
use crate::job::Millis;

/// What a column holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CellKind {
    /// Words.
    Text,
    /// A whole number, never negative.
    Count,
    /// A number.
    Number,
    /// A day.
    Day,
    /// A moment in UTC.
    Moment,
    /// Yes or no.
    Flag,
    /// Several words.
    List,
}

/// One column.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Column {
    /// Its name in CSV and JSON.
    pub key: &'static str,
    /// Its head for people, with the unit.
    pub title: &'static str,
    /// What it holds.
    pub kind: CellKind,
    /// A cell may be empty.
    pub may_be_empty: bool,
    /// It is in the office's reports only.
    pub office: bool,
}

/// One cell.
#[derive(Clone, Debug, PartialEq)]
pub enum Cell {
    /// Not known, or nothing to say.
    Empty,
    /// Words.
    Text(String),
    /// A whole number.
    Count(u64),
    /// A number; finite.
    Number(f64),
    /// A day.
    Day(NaiveDate),
    /// Milliseconds since 1970 UTC.
    Moment(Millis),
    /// Yes or no.
    Flag(bool),
    /// Several words.
    List(Vec<String>),
}

impl Cell {
    /// The cell as a text: what CSV holds.
    pub fn words(&self) -> String {
        match self {
            Cell::Empty => String::new(),
            Cell::Text(text) => text.clone(),
            Cell::Count(count) => count.to_string(),
            Cell::Number(number) => number.to_string(),
            Cell::Day(day) => day.to_string(),
            Cell::Moment(at) => utc(*at),
            Cell::Flag(flag) => if *flag { "yes" } else { "no" }.to_owned(),
            Cell::List(list) => list.join("; "),
        }
    }
}

/// A table as every format renders it.
#[derive(Clone, Debug, PartialEq)]
pub struct Table {
    /// Its name in JSON; the CSV file has dashes for underscores.
    pub key: &'static str,
    /// Its name for people.
    pub title: &'static str,
    /// The columns.
    pub columns: Vec<Column>,
    /// The rows, each with one cell a column.
    pub rows: Vec<Vec<Cell>>,
}

impl Table {
    /// A table of entries; columns of the office stand in it where it is for the office.
    pub(super) fn of<L: Line>(
        key: &'static str,
        title: &'static str,
        lines: &[L],
        office: bool,
    ) -> Self {
        let shown = |column: &Column| office || !column.office;
        let row = |line: &L| -> Vec<Cell> {
            let cells = line.cells().into_iter().zip(L::COLUMNS);
            let cells = cells.filter(|(_, column)| shown(column));
            cells.map(|(cell, _)| cell).collect()
        };
        Self {
            key,
            title,
            columns: L::COLUMNS.iter().filter(|c| shown(c)).copied().collect(),
            rows: lines.iter().map(row).collect(),
        }
    }

    /// The name of its CSV file: `test-squares.csv`.
    pub fn file(&self) -> String {
        format!("{}.csv", self.key.replace('_', "-"))
    }
}

/// An entry of a table.
pub(super) trait Line {
    /// The columns, in order.
    const COLUMNS: &'static [Column];
    /// One cell a column.
    fn cells(&self) -> Vec<Cell>;
}

/// A value that fits a cell.
pub(super) trait CellValue {
    const KIND: CellKind;
    const MAY_BE_EMPTY: bool = false;
    fn cell(&self) -> Cell;
}

/// Milliseconds since 1970 UTC, written as RFC 3339.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Moment(pub Millis);

impl Serialize for Moment {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        to.serialize_str(&utc(self.0))
    }
}

macro_rules! cell_values {
    ($($type:ty, $kind:ident, |$value:ident| $cell:expr;)*) => {
        $(impl CellValue for $type {
            const KIND: CellKind = CellKind::$kind;
            fn cell(&self) -> Cell {
                let $value = self;
                $cell
            }
        })*
    };
}

cell_values! {
    String, Text, |text| Cell::Text(text.clone());
    u32, Count, |count| Cell::Count(u64::from(*count));
    u64, Count, |count| Cell::Count(*count);
    f64, Number, |number| if number.is_finite() { Cell::Number(*number) } else { Cell::Empty };
    NaiveDate, Day, |day| Cell::Day(*day);
    Moment, Moment, |at| Cell::Moment(at.0);
    bool, Flag, |flag| Cell::Flag(*flag);
    Vec<String>, List, |list| Cell::List(list.clone());
}

impl<T: CellValue> CellValue for Option<T> {
    const KIND: CellKind = T::KIND;
    const MAY_BE_EMPTY: bool = true;
    fn cell(&self) -> Cell {
        self.as_ref().map_or(Cell::Empty, CellValue::cell)
    }
}

/// Declares an entry: a plain struct, and its columns in the same order. What stands in
/// brackets is in the office's reports only.
macro_rules! entries {
    ($( $(#[$meta:meta])* $name:ident {
        $( $field:ident: $type:ty, $title:literal, $doc:literal; )*
        [ $( $office:ident: $office_title:literal, $office_doc:literal; )* ]
    } )*) => {
        $(
            $(#[$meta])*
            #[derive(Clone, Debug, PartialEq, Serialize)]
            pub struct $name {
                $( #[doc = $doc] pub $field: $type, )*
                $( #[doc = $office_doc]
                   #[serde(skip_serializing_if = "Option::is_none")]
                   pub $office: Option<String>, )*
            }

            impl Line for $name {
                const COLUMNS: &'static [Column] = &[
                    $( Column {
                        key: stringify!($field),
                        title: $title,
                        kind: <$type as CellValue>::KIND,
                        may_be_empty: <$type as CellValue>::MAY_BE_EMPTY,
                        office: false,
                    }, )*
                    $( Column {
                        key: stringify!($office),
                        title: $office_title,
                        kind: CellKind::Text,
                        may_be_empty: true,
                        office: true,
                    }, )*
                ];
                fn cells(&self) -> Vec<Cell> {
                    vec![
                        $( CellValue::cell(&self.$field), )*
                        $( CellValue::cell(&self.$office), )*
                    ]
                }
            }
        )*
    };
}

pub(super) use entries;
