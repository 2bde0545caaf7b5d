//! The check of a bought measurement report: its pitches, areas and edges against the gauge, the
//! recorded edges and the solved plan.
//!
//! A report is read from CSV or JSON with any column names: which column means what is guessed
//! from words of the trade, shown, and can be said. Rows that cannot be read are told with their
//! line and left out. A name that fits no slope stays without one: nothing is matched by guess.

mod cells;
mod check;
mod columns;
mod compare;
mod read;
mod rows;
mod table;

#[cfg(test)]
mod tests;

pub(crate) use check::same_name;
pub use check::{MeasurementCheck, SolvedRoof, SolvedSlope, Totals, measurement_check};
pub use columns::{Column, ColumnUse, Columns};
pub use compare::{EdgeCheck, SlopeCheck, Verdict};
pub use read::{BrokenRow, ReadReport, read_report};
pub use rows::{ReportRow, decode_rows, encode_rows, report_rows};

/// Why a measurement report could not be read as a whole.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MeasurementError {
    /// More bytes than a job can keep.
    #[error("the table has {bytes} bytes, more than {most}: keep only the rows of this house")]
    TooLarge {
        /// Its size.
        bytes: usize,
        /// The most that is taken.
        most: usize,
    },
    /// Not text.
    #[error("the file is not text in UTF-8: save it as \"CSV UTF-8\" or JSON")]
    NotText,
    /// Broken JSON.
    #[error("the file starts like JSON but is none: {0}")]
    NotJson(String),
    /// Nothing to read.
    #[error("the file holds no rows: a CSV needs a head and rows, JSON a list of objects")]
    Empty,
    /// More columns than any report has.
    #[error("the table has more than {most} columns: keep only those of slopes and edges")]
    TooWide {
        /// The most that is taken.
        most: usize,
    },
    /// No column that says anything of use.
    #[error(
        "no column for area, pitch or length was recognised among {columns}: say which column \
         means which"
    )]
    NoColumn {
        /// The columns there are.
        columns: String,
    },
    /// A column was named that is not there.
    #[error("there is no column \"{asked}\": the columns are {columns}")]
    UnknownColumn {
        /// What was asked for.
        asked: String,
        /// The columns there are.
        columns: String,
    },
    /// The rows kept in the job cannot be read back.
    #[error("the rows kept with the report cannot be read: import the file again")]
    Stored,
}
