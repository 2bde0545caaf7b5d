//! Reports in the formats that core does not write: a spreadsheet, and a PDF to print.

mod letters;
mod pdf;
mod picture;
mod shop;
mod xlsx;

use chalkwalk_core::packet::{PacketError, Renderer, Rendering};

pub use pdf::document;
pub use xlsx::workbook;

/// Adds a spreadsheet and a PDF to every bag.
#[derive(Clone, Copy, Debug, Default)]
pub struct Press;

impl Renderer for Press {
    fn render(
        &self,
        rendering: &Rendering<'_>,
        progress: &mut dyn FnMut() -> bool,
    ) -> Result<Vec<(String, Vec<u8>)>, PacketError> {
        let failed = |error| {
            tracing::error!(%error, "a spreadsheet could not be written");
            PacketError::Format("report.xlsx")
        };
        let book = workbook(rendering.report, rendering.paper).map_err(failed)?;
        let paper = document(rendering, progress)?;
        Ok(vec![
            ("report.xlsx".to_owned(), book),
            ("report.pdf".to_owned(), paper),
        ])
    }
}
