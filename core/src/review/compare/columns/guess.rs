//! The guess: points from the head's words and from the cells.

use super::head::{fingerprint, head_row, meanings_of};
use super::meaning::Meaning;
use super::numbers::{NumberColumns, check_by_arithmetic};
use super::{Column, Columns, MappedBy};
use crate::review::compare::Certainty;
use crate::review::compare::table::{AmountStyle, Table, TableRow, amount};
use crate::review::compare::words::{ActionWords, ItemWords, Items, action_of, item_of, unit_of};
use crate::sorted::Sorted;

/// Points below which a column is not used.
const LEAST: u8 = 40;
/// Most points from the cells, beside a title that says the same and without one.
const CELLS_BESIDE: u32 = 30;
const CELLS_ALONE: u32 = 60;
/// Rows below the head that are looked at.
const LOOKED_AT: usize = 200;

impl Columns {
    /// Guesses what the columns of a file mean. What is not clear is left unused, and says so.
    pub fn guess(table: &Table) -> Self {
        Self::guess_below(table, head_row(table))
    }

    /// The same with the head at this index of the table's rows, or without one.
    pub(super) fn guess_below(table: &Table, head: Option<usize>) -> Self {
        let titles = head.and_then(|at| table.rows.get(at));
        let below = head.map_or(0, |at| at + 1);
        let rows = table.rows.get(below..).unwrap_or_default();
        let rows = rows.get(..LOOKED_AT.min(rows.len())).unwrap_or_default();
        let in_rows = rows.iter().map(|row| row.cells.len()).max().unwrap_or(0);
        let width = in_rows.max(titles.map_or(0, |row| row.cells.len()));
        let title = |at: usize| {
            titles
                .and_then(|row| row.cells.get(at))
                .cloned()
                .unwrap_or_default()
        };
        let mut columns = Self {
            head_line: titles.map(|row| row.line),
            fingerprint: titles.map_or_else(String::new, |row| fingerprint(&row.cells)),
            by: MappedBy::Guess,
            columns: (0..width).map(|at| Column::unused(at, title(at))).collect(),
            notes: Vec::new(),
        };
        if titles.is_none() {
            columns.notes.push(
                "No row that names the columns was found: the columns were read from their cells."
                    .to_owned(),
            );
        }
        let claims = claims(&columns.columns, rows);
        columns.give_out(claims);
        let style = AmountStyle::of(
            rows.iter()
                .flat_map(|row| row.cells.iter().map(String::as_str)),
        );
        check_by_arithmetic(
            &mut columns,
            &NumberColumns::of(rows, width, style),
            titles.is_some(),
        );
        columns.note_what_is_lacking();
        columns
    }

    /// The highest claim first; a column has one meaning and a meaning one column.
    fn give_out(&mut self, mut claims: Vec<Claim>) {
        claims.order_by(|a, b| {
            b.score
                .cmp(&a.score)
                .then(a.meaning.cmp(&b.meaning))
                .then(a.at.cmp(&b.at))
        });
        for claim in &claims {
            let taken = self.index(claim.meaning);
            if let Some(other) = taken {
                let rival = self
                    .columns
                    .get(other)
                    .is_some_and(|column| column.score == claim.score);
                let free = self
                    .columns
                    .get(claim.at)
                    .is_some_and(|column| column.meaning.is_none());
                if rival && free && claim.score >= LEAST {
                    self.notes.push(format!(
                        "Column {} could be {} as well as column {}: say which.",
                        claim.at + 1,
                        claim.meaning.label(),
                        other + 1
                    ));
                }
                continue;
            }
            let Some(column) = self.columns.get_mut(claim.at) else {
                continue;
            };
            if column.meaning.is_none() && claim.score >= LEAST {
                column.meaning = Some(claim.meaning);
                column.rate(claim.score);
                column.why.clone_from(&claim.why);
            }
        }
    }

    pub(super) fn note_what_is_lacking(&mut self) {
        for meaning in [Meaning::Item, Meaning::Quantity] {
            if self.index(meaning).is_none() {
                self.notes.push(format!(
                    "No column for {} was found: name it in a mapping, for example {{\"{}\": 2}}.",
                    meaning.label(),
                    meaning.code()
                ));
            }
        }
    }
}

impl Column {
    fn unused(at: usize, title: String) -> Self {
        Self {
            number: u32::try_from(at + 1).unwrap_or(u32::MAX),
            title,
            meaning: None,
            score: 0,
            certainty: Certainty::Unsure,
            why: "not used".to_owned(),
        }
    }

    /// Sets the points and the certainty that goes with them.
    pub(super) fn rate(&mut self, score: u8) {
        self.score = score.min(100);
        self.certainty = match self.score {
            80.. => Certainty::Sure,
            50.. => Certainty::Likely,
            _ => Certainty::Unsure,
        };
    }
}

/// One column's claim to one meaning.
struct Claim {
    at: usize,
    meaning: Meaning,
    score: u8,
    why: String,
}

fn claims(columns: &[Column], rows: &[TableRow]) -> Vec<Claim> {
    let items = Items::of_the_table();
    let mut claims = Vec::new();
    for (at, column) in columns.iter().enumerate() {
        let cells: Vec<&str> = rows
            .iter()
            .filter_map(|row| row.cells.get(at))
            .map(|cell| cell.trim())
            .filter(|cell| !cell.is_empty())
            .collect();
        let titled = meanings_of(&column.title);
        for meaning in Meaning::ALL {
            let head = titled
                .iter()
                .find(|(of, _)| of == meaning)
                .map(|(_, points)| *points);
            let Some(share) = share_of(*meaning, &cells, &items) else {
                if let Some(points) = head {
                    let why = format!("the head says \"{}\"", column.title.trim());
                    claims.push(Claim {
                        at,
                        meaning: *meaning,
                        score: points,
                        why,
                    });
                }
                continue;
            };
            let of = cells.len();
            let (score, why) = match head {
                Some(points) => (
                    u32::from(points) + share_points(share, of, CELLS_BESIDE),
                    format!(
                        "the head says \"{}\"; {share} of {of} cells fit",
                        column.title.trim()
                    ),
                ),
                None => (
                    share_points(share, of, CELLS_ALONE),
                    format!("{share} of {of} cells fit"),
                ),
            };
            // A title that says something else outweighs the cells; numbers all look alike.
            let counts = head.is_some() || titled.is_empty() && !is_number(*meaning);
            if counts {
                let score = u8::try_from(score).unwrap_or(100);
                claims.push(Claim {
                    at,
                    meaning: *meaning,
                    score,
                    why,
                });
            }
        }
    }
    claims
}

fn share_points(share: usize, of: usize, most: u32) -> u32 {
    let share = u32::try_from(share).unwrap_or(0);
    let of = u32::try_from(of).unwrap_or(u32::MAX).max(1);
    share.saturating_mul(most) / of
}

fn is_number(meaning: Meaning) -> bool {
    matches!(
        meaning,
        Meaning::Quantity | Meaning::UnitPrice | Meaning::Total
    )
}

/// How many cells fit a meaning; `None` where there are no cells, or cells tell nothing.
fn share_of(meaning: Meaning, cells: &[&str], items: &Items) -> Option<usize> {
    if cells.is_empty() {
        return None;
    }
    let number = |cell: &str| {
        [AmountStyle::Point, AmountStyle::Comma]
            .iter()
            .any(|style| matches!(amount(cell, *style), Ok(Some(_))))
    };
    let fits = |cell: &&&str| match meaning {
        Meaning::Item => item_of(items, cell) != ItemWords::None && !number(cell),
        Meaning::Unit => unit_of(cell).is_some(),
        Meaning::Action => {
            matches!(action_of(cell), ActionWords::Said(_))
                && item_of(items, cell) == ItemWords::None
        }
        Meaning::Place => is_place(cell),
        Meaning::Quantity | Meaning::UnitPrice | Meaning::Total => number(cell),
        Meaning::Remarks => false,
    };
    match meaning {
        Meaning::Remarks => None,
        _ => Some(cells.iter().filter(fits).count()),
    }
}

/// Words of places in general; which place of the job they name is found later.
pub(in crate::review::compare) fn is_place(cell: &str) -> bool {
    const WORDS: &[&str] = &[
        "front",
        "right",
        "rear",
        "left",
        "elevation",
        "slope",
        "roof",
        "exterior",
        "interior",
        "room",
        "bedroom",
        "kitchen",
        "garage",
        "house",
        "dwelling",
        "shed",
        "fence",
        "north",
        "south",
        "east",
        "west",
        "side",
        "yard",
    ];
    let spoken = crate::review::compare::words::tokens(cell);
    spoken.len() <= 5 && spoken.iter().any(|word| WORDS.contains(&word.as_str()))
}
