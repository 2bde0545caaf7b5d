//! Which character parts the cells of a text file.

use std::collections::BTreeMap;

use super::text::reader;
use crate::limits::SCOPE_HEAD_ROWS;
use crate::review::compare::columns::head_words;

const DELIMITERS: [u8; 4] = *b",;\t|";

/// The delimiter under which a row of the beginning names the most columns, and among equals the
/// one under which most rows have the same number of cells. A file of one column has commas.
pub(super) fn choose(text: &str) -> u8 {
    let mut best = (Fit::default(), b',');
    for delimiter in DELIMITERS {
        let fit = fit(text, delimiter);
        if fit > best.0 {
            best = (fit, delimiter);
        }
    }
    best.1
}

/// How well a delimiter fits, most important first.
#[derive(Default, PartialEq, Eq, PartialOrd, Ord)]
struct Fit {
    columns_named: usize,
    rows_alike: usize,
    cells: usize,
}

fn fit(text: &str, delimiter: u8) -> Fit {
    let mut fit = Fit::default();
    let mut lengths: BTreeMap<usize, usize> = BTreeMap::new();
    let records = reader(text, delimiter)
        .into_records()
        .map_while(Result::ok)
        .take(SCOPE_HEAD_ROWS);
    for record in records {
        let cells: Vec<&str> = record.iter().collect();
        fit.columns_named = fit.columns_named.max(head_words(&cells));
        if cells.len() > 1 {
            *lengths.entry(cells.len()).or_default() += 1;
        }
    }
    let most = lengths.iter().max_by_key(|(cells, rows)| (**rows, **cells));
    if let Some((cells, rows)) = most {
        fit.rows_alike = *rows;
        fit.cells = *cells;
    }
    // One cell a row under this delimiter: it parts nothing.
    if fit.cells == 0 {
        fit.columns_named = 0;
    }
    fit
}
