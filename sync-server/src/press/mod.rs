//! Reports in the formats that core does not write.

mod xlsx;

use chalkwalk_core::packet::report::FullReport;
use chalkwalk_core::packet::{PacketError, Renderer};

pub use xlsx::workbook;

/// Adds a spreadsheet to every bag.
#[derive(Clone, Copy, Debug, Default)]
pub struct Press;

impl Renderer for Press {
    fn render(&self, report: &FullReport) -> Result<Vec<(String, Vec<u8>)>, PacketError> {
        let failed = |error| {
            tracing::error!(%error, "a spreadsheet could not be written");
            PacketError::Format("report.xlsx")
        };
        let bytes = workbook(report).map_err(failed)?;
        Ok(vec![("report.xlsx".to_owned(), bytes)])
    }
}
