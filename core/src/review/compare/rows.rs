//! The rows of another's scope, read with a mapping of its columns.

use rust_decimal::Decimal;
use serde::{Deserialize, Serialize};

use super::columns::{Column, Columns, MappingError, Meaning, head_words, is_place};
use super::table::{Amount, AmountStyle, BrokenRow, Table, TableRow, amount};
use super::words::{tokens, unit_of};
use crate::job::Unit;
use crate::limits::{SCOPE_MONEY, SCOPE_QUANTITY};
use crate::sorted::Sorted;

/// Most words of a heading; a longer row by itself is a remark.
const HEADING_WORDS: usize = 5;

/// One row of another's scope.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TheirRow {
    /// Its number, 1 for the first filled row below the head.
    pub row: u32,
    /// Its line in the file, or row of the sheet.
    pub line: u32,
    /// The item in their words.
    pub item: String,
    /// The place in their words; the heading of the section where the row states none.
    pub place: String,
    /// The work in their words; empty where no column tells it.
    pub action: String,
    /// How much; `None` where the row states nothing.
    pub quantity: Option<Decimal>,
    /// In which unit; `None` for one of another kind.
    pub unit: Option<Unit>,
    /// The unit in their words.
    pub unit_words: String,
    /// Their money for one unit.
    pub unit_price: Option<Decimal>,
    /// Their money for the row.
    pub total: Option<Decimal>,
    /// Their remarks.
    pub remarks: String,
}

impl TheirRow {
    /// True where its amounts are within the limits that reading keeps to.
    pub(super) fn within_limits(&self) -> bool {
        let good = |amount: Option<Decimal>, meaning| {
            amount.is_none_or(|amount| amount.abs() <= most(meaning))
        };
        good(self.quantity, Meaning::Quantity)
            && self
                .quantity
                .is_none_or(|quantity| quantity >= Decimal::ZERO)
            && good(self.unit_price, Meaning::UnitPrice)
            && good(self.total, Meaning::Total)
    }
}

/// Largest amount of a column.
fn most(meaning: Meaning) -> Decimal {
    match meaning {
        Meaning::Quantity => Decimal::try_from(SCOPE_QUANTITY).unwrap_or(Decimal::MAX),
        _ => Decimal::from(SCOPE_MONEY),
    }
}

/// A row that is no item, and what it was taken for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SkippedRow {
    /// Its line in the file, or row of the sheet.
    pub line: u32,
    /// What it was taken for.
    pub taken_for: TakenFor,
    /// Its words.
    pub words: String,
}

/// What a row was taken for that is no item.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum TakenFor {
    /// Above the head.
    Title,
    /// The head, or the head again.
    Head,
    /// The heading of a section: the place of the rows below it.
    Section,
    /// A sum of rows.
    Sum,
    /// Words without a quantity or money.
    Remark,
}

/// What was read from a file.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct TheirScope {
    /// The rows.
    pub rows: Vec<TheirRow>,
    /// Rows that are no items.
    pub skipped: Vec<SkippedRow>,
    /// Rows that could not be read, by line.
    pub broken: Vec<BrokenRow>,
}

/// Reads the rows of a table. Every row of the table comes back once: as a row, skipped or broken.
///
/// # Errors
/// Where the mapping has no column for the item or the quantity.
pub fn read_rows(table: &Table, columns: &Columns) -> Result<TheirScope, MappingError> {
    columns.needed(Meaning::Item)?;
    columns.needed(Meaning::Quantity)?;
    let mut reading = Reading {
        columns,
        style: style_of(table, columns),
        section: String::new(),
        number: 0,
        scope: TheirScope {
            broken: table.broken.clone(),
            ..TheirScope::default()
        },
    };
    for row in &table.rows {
        reading.take(row);
    }
    let mut scope = reading.scope;
    scope.broken.order_by_key(|row| row.line);
    Ok(scope)
}

struct Reading<'a> {
    columns: &'a Columns,
    style: AmountStyle,
    section: String,
    number: u32,
    scope: TheirScope,
}

impl Reading<'_> {
    fn take(&mut self, row: &TableRow) {
        match self.columns.head_line {
            Some(head) if row.line < head => return self.skip(row, TakenFor::Title),
            Some(head) if row.line == head => return self.skip(row, TakenFor::Head),
            _ => {}
        }
        self.number = self.number.saturating_add(1);
        match self.read(row) {
            Ok(Read::Row(read)) => self.scope.rows.push(*read),
            Ok(Read::Skipped(TakenFor::Section)) => {
                let words = words_of(row);
                // A heading of another kind, such as a trade, ends the section before it.
                self.section = if is_place(&words) {
                    words
                } else {
                    String::new()
                };
                self.skip(row, TakenFor::Section);
            }
            Ok(Read::Skipped(taken_for)) => self.skip(row, taken_for),
            Err(reason) => self.scope.broken.push(BrokenRow {
                line: row.line,
                reason,
            }),
        }
    }

    fn skip(&mut self, row: &TableRow, taken_for: TakenFor) {
        self.scope.skipped.push(SkippedRow {
            line: row.line,
            taken_for,
            words: words_of(row),
        });
    }

    fn read(&self, row: &TableRow) -> Result<Read, String> {
        let text = |meaning| self.cell(row, meaning).to_owned();
        if is_head_again(row, self.columns) {
            return Ok(Read::Skipped(TakenFor::Head));
        }
        if is_sum(row) {
            return Ok(Read::Skipped(TakenFor::Sum));
        }
        let item = text(Meaning::Item);
        let stated = [Meaning::Quantity, Meaning::UnitPrice, Meaning::Total]
            .iter()
            .any(|meaning| !self.cell(row, *meaning).is_empty());
        if !stated {
            let filled = row
                .cells
                .iter()
                .filter(|cell| !cell.trim().is_empty())
                .count();
            let heading = filled == 1 && tokens(&words_of(row)).len() <= HEADING_WORDS;
            return Ok(Read::Skipped(if heading {
                TakenFor::Section
            } else {
                TakenFor::Remark
            }));
        }
        let titled = |column: &Column| !column.title.trim().is_empty();
        let width = self
            .columns
            .columns
            .iter()
            .rposition(titled)
            .map_or(0, |at| at + 1);
        if self.columns.head_line.is_some() && row.cells.len() > width {
            return Err(format!(
                "the row has {} cells and the head {width}: put quotes round a cell that has a comma in it",
                row.cells.len()
            ));
        }
        if item.is_empty() {
            return Err("the row has numbers and no item".to_owned());
        }
        let quantity = self.number(row, Meaning::Quantity)?;
        let unit_words = match (text(Meaning::Unit), &quantity) {
            (unit, Some(amount)) if unit.is_empty() => amount.behind.clone(),
            (unit, _) => unit,
        };
        let unit = unit_of(&unit_words);
        if let Some(amount) = quantity.as_ref().filter(|amount| !amount.behind.is_empty()) {
            let behind = unit_of(&amount.behind);
            if unit.is_some() && behind != unit {
                return Err(format!(
                    "the quantity says \"{}\" and the unit \"{unit_words}\"",
                    short(&amount.behind)
                ));
            }
        }
        let quantity = quantity.map(|amount| amount.number);
        if quantity.is_some_and(|quantity| quantity.is_sign_negative() && !quantity.is_zero()) {
            return Err("the quantity is negative: a credit is not compared".to_owned());
        }
        let place = match text(Meaning::Place) {
            place if place.is_empty() => self.section.clone(),
            place => place,
        };
        Ok(Read::Row(Box::new(TheirRow {
            row: self.number,
            line: row.line,
            item,
            place,
            action: text(Meaning::Action),
            quantity,
            unit,
            unit_words,
            unit_price: self
                .number(row, Meaning::UnitPrice)?
                .map(|amount| amount.number),
            total: self
                .number(row, Meaning::Total)?
                .map(|amount| amount.number),
            remarks: text(Meaning::Remarks),
        })))
    }

    fn cell<'a>(&self, row: &'a TableRow, meaning: Meaning) -> &'a str {
        let at = self.columns.index(meaning);
        at.and_then(|at| row.cells.get(at))
            .map_or("", |cell| cell.trim())
    }

    fn number(&self, row: &TableRow, meaning: Meaning) -> Result<Option<Amount>, String> {
        let cell = self.cell(row, meaning);
        let read = amount(cell, self.style)
            .map_err(|text| format!("{} \"{text}\" is not a number", meaning.label()))?;
        let most = most(meaning);
        match read {
            Some(amount) if amount.number.abs() > most => {
                Err(format!("{} is over {most}", meaning.label()))
            }
            read => Ok(read),
        }
    }
}

enum Read {
    Row(Box<TheirRow>),
    Skipped(TakenFor),
}

/// The style of the numbers, from the columns that hold them.
fn style_of(table: &Table, columns: &Columns) -> AmountStyle {
    let at: Vec<usize> = [Meaning::Quantity, Meaning::UnitPrice, Meaning::Total]
        .iter()
        .filter_map(|meaning| columns.index(*meaning))
        .collect();
    let rows = table
        .rows
        .iter()
        .filter(|row| columns.head_line.is_none_or(|head| row.line > head));
    AmountStyle::of(rows.flat_map(|row| {
        at.iter()
            .filter_map(|at| row.cells.get(*at))
            .map(String::as_str)
    }))
}

/// The head once more, as on each page of a printed file.
fn is_head_again(row: &TableRow, columns: &Columns) -> bool {
    let cells: Vec<&str> = row.cells.iter().map(String::as_str).collect();
    let same = cells.len() > 1
        && cells
            .iter()
            .zip(&columns.columns)
            .all(|(cell, column)| tokens(cell) == tokens(&column.title));
    columns.head_line.is_some() && same && head_words(&cells) > 1
}

/// A row whose first filled cell says that it is a sum.
fn is_sum(row: &TableRow) -> bool {
    const WORDS: &[&str] = &[
        "total",
        "subtotal",
        "sum",
        "net claim",
        "net total",
        "grand total",
    ];
    let first = row
        .cells
        .iter()
        .map(|cell| cell.trim())
        .find(|cell| !cell.is_empty());
    let spoken = first.map(tokens).unwrap_or_default().join(" ");
    WORDS.iter().any(|word| {
        spoken == *word || spoken.starts_with(&format!("{word} ")) || spoken.ends_with(" total")
    })
}

fn words_of(row: &TableRow) -> String {
    let filled: Vec<&str> = row
        .cells
        .iter()
        .map(|cell| cell.trim())
        .filter(|cell| !cell.is_empty())
        .collect();
    filled.join(" ").chars().take(200).collect()
}

fn short(text: &str) -> String {
    text.chars().take(40).collect()
}
