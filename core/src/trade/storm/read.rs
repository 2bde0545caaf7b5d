//! Reads a file of storm reports of either kind. What is broken is listed with its line, and
//! passed over.

use std::io::Read;

use chrono::NaiveDate;
use csv::{ByteRecord, ReaderBuilder};
use serde::Serialize;

use super::events::Columns;
use super::{Report, ReportKind, WindUnit, daily};
use crate::limits::{
    STORM_BROKEN_LISTED, STORM_FILE_BYTES, STORM_LONG_ROWS, STORM_ROW_BYTES, STORM_ROWS,
};

/// Bytes of a usual row of Storm Events, for a first guess of how many there are.
const USUAL_ROW_BYTES: usize = 600;

/// What a file does not say of itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ReadOptions {
    /// The date of a file of daily reports, which its rows do not state: the day that begins at
    /// 12:00 UTC of that date. Not needed for Storm Events.
    pub day: Option<NaiveDate>,
    /// The unit of wind in daily reports, which the file does not state. Miles an hour is what its
    /// readers mostly take it for.
    pub wind_unit: WindUnit,
}

impl Default for ReadOptions {
    fn default() -> Self {
        Self {
            day: None,
            wind_unit: WindUnit::MilesPerHour,
        }
    }
}

/// Which file it is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum StormFormat {
    /// Daily reports of the Storm Prediction Center.
    DailyReports,
    /// Details file of the Storm Events Database.
    StormEvents,
}

/// A row that could not be read.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct BrokenRow {
    /// The line on which it begins, 1 for the first.
    pub line: u64,
    /// Why.
    pub reason: String,
}

/// What was read from a file.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct StormFile {
    /// Which file it is.
    pub format: StormFormat,
    /// Its reports of hail, wind and tornadoes, in the order of the file.
    pub reports: Vec<Report>,
    /// Its broken rows, at most [`STORM_BROKEN_LISTED`].
    pub broken: Vec<BrokenRow>,
    /// How many rows are broken.
    pub broken_rows: usize,
    /// Rows that tell of other kinds of event.
    pub other_rows: usize,
    /// Rows for a whole zone, without a position: they cannot be near an address.
    pub zone_rows: usize,
    /// What was assumed because the file does not say it.
    pub assumed: Vec<String>,
}

/// A file that cannot be read at all; the text says what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum StormError {
    /// Nothing in it.
    #[error("the file is empty")]
    Empty,
    /// Over [`STORM_FILE_BYTES`].
    #[error("the file is larger than {} MB; hand in one year or one day at a time", STORM_FILE_BYTES >> 20)]
    TooLarge,
    /// Compressed and damaged.
    #[error("the file is compressed and could not be unpacked; fetch it again")]
    Compressed,
    /// Neither file.
    #[error(
        "the first line is neither that of daily storm reports (Time,Size,Location,County,State,\
         Lat,Lon,Comments) nor that of Storm Events details (BEGIN_DATE_TIME, EVENT_TYPE, ...)"
    )]
    NotStormReports,
    /// Storm Events without a column that is needed.
    #[error(
        "the Storm Events file has no column {0}; hand in the details file, as it was published"
    )]
    NoColumn(&'static str),
    /// Daily reports without their date.
    #[error("daily reports do not state their date: hand in the date of the file")]
    NoDay,
    /// Over [`STORM_ROWS`].
    #[error("the file has more than {STORM_ROWS} rows; hand in one year at a time")]
    TooManyRows,
    /// Over [`STORM_LONG_ROWS`] rows without an end.
    #[error("the file has too many rows longer than {} KB; it is damaged", STORM_ROW_BYTES >> 10)]
    TooManyLongRows,
}

/// What one row turned out to be.
pub(super) enum Row {
    /// A report, which was added to the others.
    Report,
    /// Another kind of event.
    OtherEvent,
    /// A report for a whole zone.
    ZoneOnly,
}

/// Reads a file of storm reports, as published or compressed with gzip.
pub fn read(data: &[u8], options: &ReadOptions) -> Result<StormFile, StormError> {
    if data.starts_with(&[0x1f, 0x8b]) {
        return read_plain(&unpacked(data)?, options);
    }
    read_plain(data, options)
}

fn unpacked(data: &[u8]) -> Result<Vec<u8>, StormError> {
    let mut plain = Vec::new();
    let limit = STORM_FILE_BYTES as u64 + 1;
    let mut unpack = flate2::read::MultiGzDecoder::new(data).take(limit);
    unpack
        .read_to_end(&mut plain)
        .map_err(|_| StormError::Compressed)?;
    Ok(plain)
}

fn read_plain(data: &[u8], options: &ReadOptions) -> Result<StormFile, StormError> {
    let data = data.strip_prefix("\u{feff}".as_bytes()).unwrap_or(data);
    if data.len() > STORM_FILE_BYTES {
        return Err(StormError::TooLarge);
    }
    if data.iter().all(u8::is_ascii_whitespace) {
        return Err(StormError::Empty);
    }
    let layout = Layout::find(data, options)?;
    let mut file = StormFile {
        format: layout.format(),
        reports: Vec::with_capacity(data.len() / USUAL_ROW_BYTES),
        broken: Vec::new(),
        broken_rows: 0,
        other_rows: 0,
        zone_rows: 0,
        assumed: layout.assumed(),
    };
    let mut reading = Reading {
        layout,
        file: &mut file,
        rows: 0,
    };
    let (mut from, mut lines_before, mut long_rows) = (0, 0, 0);
    while let Some((start, line)) = reading.until_long_row(&data[from..], lines_before)? {
        long_rows += 1;
        if long_rows > STORM_LONG_ROWS {
            return Err(StormError::TooManyLongRows);
        }
        // Begin again with the line after the one on which the long row began.
        let rest = &data[from + start..];
        let Some(end) = rest.iter().position(|byte| *byte == b'\n') else {
            break;
        };
        from += start + end + 1;
        lines_before = line;
    }
    Ok(file)
}

/// Which file it is, and what its rows need.
enum Layout {
    Daily {
        section: ReportKind,
        day: NaiveDate,
        unit: WindUnit,
    },
    Events(Box<Columns>),
}

impl Layout {
    fn find(data: &[u8], options: &ReadOptions) -> Result<Self, StormError> {
        let mut head = ByteRecord::new();
        let start = &data[..data.len().min(STORM_ROW_BYTES)];
        let mut reader = ReaderBuilder::new().has_headers(false).from_reader(start);
        if !matches!(reader.read_byte_record(&mut head), Ok(true)) {
            return Err(StormError::NotStormReports);
        }
        if let Some(section) = daily::head(&head) {
            return Ok(Layout::Daily {
                section,
                day: options.day.ok_or(StormError::NoDay)?,
                unit: options.wind_unit,
            });
        }
        match Columns::find(&head) {
            Ok(columns) => Ok(Layout::Events(Box::new(columns))),
            Err("EVENT_TYPE") => Err(StormError::NotStormReports),
            Err(missing) => Err(StormError::NoColumn(missing)),
        }
    }

    fn format(&self) -> StormFormat {
        match self {
            Layout::Daily { .. } => StormFormat::DailyReports,
            Layout::Events(_) => StormFormat::StormEvents,
        }
    }

    fn assumed(&self) -> Vec<String> {
        match self {
            Layout::Daily { day, unit, .. } => vec![
                format!("The file is that of {day}, 12:00 UTC to 12:00 UTC of the next day."),
                format!(
                    "Wind speeds are in {}; the file does not say.",
                    unit.label()
                ),
            ],
            Layout::Events(_) => Vec::new(),
        }
    }
}

struct Reading<'a> {
    layout: Layout,
    file: &'a mut StormFile,
    rows: usize,
}

impl Reading<'_> {
    /// Reads rows to the end, or to a row that is too long: where it begins in `data`, and its
    /// line in the file.
    fn until_long_row(
        &mut self,
        data: &[u8],
        lines_before: u64,
    ) -> Result<Option<(usize, u64)>, StormError> {
        // Daily reports quote nothing: a quotation mark is part of a comment.
        let quoting = matches!(self.layout, Layout::Events(_));
        let mut reader = ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .quoting(quoting)
            .from_reader(data);
        let mut row = ByteRecord::new();
        while matches!(reader.read_byte_record(&mut row), Ok(true)) {
            let (start, line) = row.position().map_or((0, 0), |at| (at.byte(), at.line()));
            // The position is that before blank lines, which the reader passes over.
            let blank = data
                .iter()
                .skip(start as usize)
                .take_while(|byte| b"\r\n".contains(byte));
            let blank = blank.filter(|byte| **byte == b'\n').count() as u64;
            let line = lines_before + line + blank;
            self.rows += 1;
            if self.rows > STORM_ROWS {
                return Err(StormError::TooManyRows);
            }
            if row.as_slice().len() > STORM_ROW_BYTES {
                let kb = STORM_ROW_BYTES >> 10;
                self.broken(
                    line,
                    format!("longer than {kb} KB; a quotation mark may be open"),
                );
                return Ok(Some((start as usize, line)));
            }
            self.row(&row, line);
        }
        Ok(None)
    }

    fn row(&mut self, row: &ByteRecord, line: u64) {
        let read = match &mut self.layout {
            Layout::Daily { section, day, unit } => {
                if let Some(next) = daily::head(row) {
                    *section = next;
                    return;
                }
                daily::row(row, *section, *day, *unit, line, &mut self.file.reports)
            }
            Layout::Events(_) if self.rows == 1 => return,
            Layout::Events(columns) => columns.row(row, line, &mut self.file.reports),
        };
        match read {
            Ok(Row::Report) => {}
            Ok(Row::OtherEvent) => self.file.other_rows += 1,
            Ok(Row::ZoneOnly) => self.file.zone_rows += 1,
            Err(reason) => self.broken(line, reason),
        }
    }

    fn broken(&mut self, line: u64, reason: String) {
        self.file.broken_rows += 1;
        if self.file.broken.len() < STORM_BROKEN_LISTED {
            self.file.broken.push(BrokenRow { line, reason });
        }
    }
}
