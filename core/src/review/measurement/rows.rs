//! The rows of a report as a job keeps them.

use serde::{Deserialize, Serialize};

use super::MeasurementError;
use crate::job::{Area, EdgeKind, Length, MeasurementReport, Pitch};
use crate::limits;

/// One row of a measurement report.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum ReportRow {
    /// A slope.
    Slope {
        /// Its line in the file, from 1; in JSON its number among the rows.
        line: u32,
        /// Its name or number.
        name: String,
        /// Its area along the slope.
        area: Option<Area>,
        /// Its pitch.
        pitch: Option<Pitch>,
    },
    /// An edge.
    Edge {
        /// Its line in the file, from 1; in JSON its number among the rows.
        line: u32,
        /// What kind of edge.
        kind: EdgeKind,
        /// Its name or number.
        name: Option<String>,
        /// Its length.
        length: Length,
    },
}

/// The rows as `MeasurementReport.rows` keeps them (MessagePack).
///
/// # Errors
/// Where they take more than [`limits::TABLE_BYTES`].
pub fn encode_rows(rows: &[ReportRow]) -> Result<Vec<u8>, MeasurementError> {
    let bytes = rmp_serde::to_vec_named(rows).map_err(|_| MeasurementError::Stored)?;
    within(bytes.len())?;
    Ok(bytes)
}

/// Reads what [`encode_rows`] wrote.
///
/// # Errors
/// Where the bytes are too many or are no rows.
pub fn decode_rows(bytes: &[u8]) -> Result<Vec<ReportRow>, MeasurementError> {
    within(bytes.len())?;
    rmp_serde::from_slice(bytes).map_err(|_| MeasurementError::Stored)
}

/// The rows kept with a report; empty where none were imported.
///
/// # Errors
/// As [`decode_rows`].
pub fn report_rows(report: &MeasurementReport) -> Result<Vec<ReportRow>, MeasurementError> {
    match &report.rows {
        Some(bytes) => decode_rows(bytes),
        None => Ok(Vec::new()),
    }
}

pub(super) fn within(bytes: usize) -> Result<(), MeasurementError> {
    let most = limits::TABLE_BYTES;
    if bytes > most {
        return Err(MeasurementError::TooLarge { bytes, most });
    }
    Ok(())
}
