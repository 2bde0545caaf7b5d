//! Rows of the Storm Events details file, columns found by their names.

use csv::ByteRecord;

use super::parts::{cell, hail, joined, number, position, wind, words};
use super::read::Row;
use super::{Measured, Report, ReportKind, Wind, WindKind, WindUnit, clock};

/// Kinds of event that tell of hail, wind or a tornado; all others are passed over. The names are
/// those of the National Weather Service's instruction 10-1605, table 1.
const KINDS: &[(&str, ReportKind)] = &[
    ("Hail", ReportKind::Hail),
    ("Marine Hail", ReportKind::Hail),
    ("Thunderstorm Wind", ReportKind::Wind),
    ("Marine Thunderstorm Wind", ReportKind::Wind),
    ("High Wind", ReportKind::Wind),
    ("Marine High Wind", ReportKind::Wind),
    ("Strong Wind", ReportKind::Wind),
    ("Marine Strong Wind", ReportKind::Wind),
    ("Tornado", ReportKind::Tornado),
];

/// What MAGNITUDE_TYPE means ("Storm Data Bulk CSV Format").
const TYPES: &[(&str, Measured, WindKind)] = &[
    ("EG", Measured::Estimated, WindKind::Gust),
    ("ES", Measured::Estimated, WindKind::Sustained),
    ("MG", Measured::Measured, WindKind::Gust),
    ("MS", Measured::Measured, WindKind::Sustained),
];

macro_rules! columns {
    ($($field:ident $name:literal),* ; $($maybe:ident $other:literal),*) => {
        /// Where each column stands.
        #[derive(Clone, Debug)]
        pub(super) struct Columns {
            width: usize,
            $($field: usize,)*
            $($maybe: Option<usize>,)*
        }

        impl Columns {
            /// Finds the columns in a head; the name of the first that is missing where one is.
            pub(super) fn find(head: &ByteRecord) -> Result<Self, &'static str> {
                let at = |name: &str| {
                    (0..head.len()).find(|index| cell(head, *index).eq_ignore_ascii_case(name))
                };
                Ok(Self {
                    width: head.len(),
                    $($field: at($name).ok_or($name)?,)*
                    $($maybe: at($other),)*
                })
            }
        }
    };
}
columns! {
    kind "EVENT_TYPE", begin "BEGIN_DATE_TIME", zone "CZ_TIMEZONE", magnitude "MAGNITUDE",
    magnitude_type "MAGNITUDE_TYPE", latitude "BEGIN_LAT", longitude "BEGIN_LON";
    year "YEAR", scale "TOR_F_SCALE", range "BEGIN_RANGE", azimuth "BEGIN_AZIMUTH",
    location "BEGIN_LOCATION", county "CZ_NAME", state "STATE", narrative "EVENT_NARRATIVE"
}

impl Columns {
    /// Reads one row; a report is added to `reports`.
    pub(super) fn row(
        &self,
        row: &ByteRecord,
        line: u64,
        reports: &mut Vec<Report>,
    ) -> Result<Row, String> {
        if row.len() != self.width {
            return Err(format!("{} columns where {} belong", row.len(), self.width));
        }
        let event = cell(row, self.kind);
        if event.is_empty() {
            return Err("there is no kind of event".to_owned());
        }
        let Some((_, kind)) = KINDS
            .iter()
            .find(|(name, _)| name.eq_ignore_ascii_case(event))
        else {
            return Ok(Row::OtherEvent);
        };
        let maybe = |column: Option<usize>| column.map_or("", |column| cell(row, column));
        let year = number(maybe(self.year), "year")?.map(|year| year as i32);
        let at = clock::event(cell(row, self.begin), cell(row, self.zone), year)?;
        let (north, east) = (cell(row, self.latitude), cell(row, self.longitude));
        let Some(position) = position(north, east)? else {
            return Ok(Row::ZoneOnly);
        };
        let magnitude = number(cell(row, self.magnitude), "magnitude")?.filter(|size| *size != 0.0);
        let mut report = Report {
            kind: *kind,
            at,
            position,
            hail_in: None,
            wind: None,
            scale: String::new(),
            place: self.place(row),
            remarks: self.narrative.map_or_else(String::new, |column| {
                words(row.get(column).unwrap_or_default())
            }),
            line,
        };
        match kind {
            ReportKind::Hail => report.hail_in = magnitude.map(hail).transpose()?,
            ReportKind::Wind => {
                let code = cell(row, self.magnitude_type);
                let known = TYPES
                    .iter()
                    .find(|(name, ..)| name.eq_ignore_ascii_case(code));
                let (measured, of) = known.map_or(
                    (Measured::NotStated, WindKind::NotStated),
                    |(_, how, of)| (*how, *of),
                );
                report.wind = magnitude.map(wind).transpose()?.map(|speed| Wind {
                    speed,
                    unit: WindUnit::Knots,
                    unit_assumed: false,
                    measured,
                    of,
                });
            }
            ReportKind::Tornado => report.scale = maybe(self.scale).chars().take(8).collect(),
        }
        reports.push(report);
        Ok(Row::Report)
    }

    /// `4 SW TESSEL FORD, TESSEL, TEXAS`.
    fn place(&self, row: &ByteRecord) -> String {
        let text = |column: Option<usize>| {
            column
                .and_then(|column| row.get(column))
                .unwrap_or_default()
        };
        let [range, azimuth, location] = [self.range, self.azimuth, self.location].map(text);
        let spot = if location.is_empty() || range.is_empty() || azimuth.is_empty() {
            joined([location], " ")
        } else {
            joined([range, azimuth, location], " ")
        };
        joined([spot.as_bytes(), text(self.county), text(self.state)], ", ")
    }
}
