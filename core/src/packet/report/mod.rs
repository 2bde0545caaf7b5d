//! One report for each reader, all from the same record: the insurer's packet, the owner's
//! account, the production sheet, the estimator's file. Each is a plain struct; the page, CSV,
//! JSON and what a shell adds (XLSX, PDF) render it and add nothing of their own.

mod csv_table;
mod entries;
mod findings;
mod gather;
mod schema;
mod scopes;
mod site;
mod table;

use serde::Serialize;

pub use entries::*;
pub use schema::{SCHEMA, SCHEMA_FILE};
pub use table::{Cell, CellKind, Column, Moment, Table};

pub(super) use csv_table::to_csv;
pub(super) use gather::{address, gather};

use super::PacketError;
use crate::review::account::OwnersAccount;
use crate::review::production::ProductionSheet;

/// The layout of the reports, named in each.
pub const FORMAT: &str = "chalkwalk report 1";

/// What the insurer's adjuster gets: what was found, by side and slope, with its photos and
/// measures, and what sections of the code say. Nothing of it is for the office only.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct InsurersPacket {
    /// Sums by place, in walk order.
    pub places: Vec<PlaceEntry>,
    /// Findings, in walk order.
    pub findings: Vec<FindingEntry>,
    /// Parts counted or cleared as a whole.
    pub components: Vec<ComponentEntry>,
    /// Quantities of work that the record supports.
    pub scope: Vec<ScopeEntry>,
    /// Their sums.
    pub scope_totals: Vec<TotalEntry>,
    /// Differences from the insurer's scope; empty where there is none to compare.
    pub disputes: Vec<DisputeEntry>,
    /// Measurements.
    pub measurements: Vec<MeasurementEntry>,
    /// Test squares.
    pub test_squares: Vec<SquareEntry>,
    /// Storm reports near the house.
    pub storm_reports: Vec<StormEntry>,
    /// Sections of the code.
    pub requirements: Vec<RequirementEntry>,
    /// To confirm at tear-off.
    pub confirm: Vec<ConfirmEntry>,
    /// Photos, in walk order.
    pub photos: Vec<PhotoEntry>,
}

/// What the owner gets.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct OwnersReport {
    /// The account.
    pub account: OwnersAccount,
    /// Photos that the owner may see, in walk order.
    pub photos: Vec<PhotoEntry>,
}

/// What the crew that lays the new roof gets.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProductionReport {
    /// The sheet.
    pub sheet: ProductionSheet,
    /// Its materials.
    pub materials: Vec<MaterialEntry>,
    /// Its lines.
    pub sheet_lines: Vec<SheetEntry>,
    /// Photos, in walk order.
    pub photos: Vec<PhotoEntry>,
}

/// What stays at the office: everything, what is for the office only included and marked.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EstimatorsFile {
    /// The same tables as the insurer's packet, with what is for the office only.
    #[serde(flatten)]
    pub all: InsurersPacket,
    /// Our scope beside the insurer's; empty where there is none to compare.
    pub comparison: Vec<ComparisonEntry>,
    /// What an estimator should look at.
    pub doubts: Vec<DoubtEntry>,
    /// The production sheet, with how to reach the owner.
    pub sheet: ProductionSheet,
    /// Its materials.
    pub materials: Vec<MaterialEntry>,
    /// Its lines.
    pub sheet_lines: Vec<SheetEntry>,
    /// The owner's account.
    pub account: OwnersAccount,
}

/// The report of one reader.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "report", rename_all = "snake_case")]
pub enum ReaderReport {
    /// For the insurer's adjuster.
    InsurersPacket(Box<InsurersPacket>),
    /// For the owner.
    OwnersAccount(Box<OwnersReport>),
    /// For the crew that lays the new roof.
    ProductionSheet(Box<ProductionReport>),
    /// For the office.
    EstimatorsFile(Box<EstimatorsFile>),
}

/// A report with its head: what is written as JSON.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FullReport {
    /// [`FORMAT`].
    pub format: &'static str,
    /// The head.
    pub head: Head,
    /// The report.
    #[serde(flatten)]
    pub report: ReaderReport,
}

impl FullReport {
    /// The report's tables, in the order in which they are read.
    pub fn tables(&self) -> Vec<Table> {
        match &self.report {
            ReaderReport::InsurersPacket(packet) => packet.tables(false),
            ReaderReport::OwnersAccount(report) => vec![photo_table(&report.photos, false)],
            ReaderReport::ProductionSheet(report) => vec![
                Table::of("materials", "Materials", &report.materials, false),
                Table::of("sheet_lines", "Sheet", &report.sheet_lines, false),
                photo_table(&report.photos, false),
            ],
            ReaderReport::EstimatorsFile(file) => {
                let mut tables = file.all.tables(true);
                let own = [
                    Table::of("comparison", "Comparison", &file.comparison, true),
                    Table::of("doubts", "Doubts", &file.doubts, true),
                    Table::of("materials", "Materials", &file.materials, true),
                    Table::of("sheet_lines", "Production sheet", &file.sheet_lines, true),
                ];
                tables.splice(5..5, own);
                tables
            }
        }
    }

    /// The photos of the report, in walk order.
    pub fn photos(&self) -> &[PhotoEntry] {
        match &self.report {
            ReaderReport::InsurersPacket(packet) => &packet.photos,
            ReaderReport::OwnersAccount(report) => &report.photos,
            ReaderReport::ProductionSheet(report) => &report.photos,
            ReaderReport::EstimatorsFile(file) => &file.all.photos,
        }
    }

    /// The report as JSON, as [`SCHEMA`] describes it.
    ///
    /// # Errors
    /// Where it cannot be written.
    pub fn to_json(&self) -> Result<Vec<u8>, PacketError> {
        let failed = |_| PacketError::Format("report.json");
        let mut bytes = serde_json::to_vec_pretty(self).map_err(failed)?;
        bytes.push(b'\n');
        Ok(bytes)
    }
}

impl InsurersPacket {
    fn tables(&self, office: bool) -> Vec<Table> {
        vec![
            Table::of("places", "Places", &self.places, office),
            Table::of("findings", "Findings", &self.findings, office),
            Table::of("components", "Components", &self.components, office),
            Table::of("scope", "Scope", &self.scope, office),
            Table::of("scope_totals", "Scope totals", &self.scope_totals, office),
            Table::of("disputes", "Disputes", &self.disputes, office),
            Table::of("measurements", "Measurements", &self.measurements, office),
            Table::of("test_squares", "Test squares", &self.test_squares, office),
            Table::of(
                "storm_reports",
                "Storm reports",
                &self.storm_reports,
                office,
            ),
            Table::of("requirements", "Requirements", &self.requirements, office),
            Table::of("confirm", "Confirm at tear-off", &self.confirm, office),
            photo_table(&self.photos, office),
        ]
    }
}

fn photo_table(photos: &[PhotoEntry], office: bool) -> Table {
    Table::of("photos", "Photos", photos, office)
}
