//! Storm reports from the two open files of the US government, and those near an address.
//!
//! - The daily reports of the Storm Prediction Center: CSV with a head for each kind, times in
//!   UTC, sizes in hundredths of an inch, a day from 12:00 to 12:00 UTC.
//! - The details file of the Storm Events Database of the National Centers for Environmental
//!   Information: CSV of 51 columns, described in "Storm Data Bulk CSV Format".
//!
//! A report says what somebody saw at one spot. [`NO_PROOF`] goes with every answer.

mod clock;
mod daily;
mod events;
mod near;
mod parts;
mod read;
mod record;
mod report;
mod summary;
#[cfg(test)]
mod tests;

pub use near::{NearReport, Nearby, Order, Search, SearchError, near};
pub use read::{BrokenRow, ReadOptions, StormError, StormFile, StormFormat, read};
pub use report::{Measured, Report, ReportKind, Wind, WindKind, WindUnit};
pub use summary::{NEWEST_MISSING, NO_PROOF, PRELIMINARY};
