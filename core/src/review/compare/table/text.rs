//! Text files: the encoding, then RFC 4180 with the delimiter that fits best.

use super::{BrokenRow, Intake, ReadError, Table, delimiter};

/// Reads a text file.
pub(super) fn read_text(bytes: &[u8]) -> Result<Table, ReadError> {
    let (text, encoding) = decode(bytes)?;
    let (hint, body) = stated_delimiter(&text);
    let delimiter = hint.unwrap_or_else(|| delimiter::choose(body));
    let skipped = text.len() - body.len();
    let mut lines = Lines::new(&text);
    let mut intake = Intake::default();
    let mut reader = reader(body, delimiter);
    let mut record = csv::StringRecord::new();
    loop {
        let more = match reader.read_record(&mut record) {
            Ok(more) => more,
            // The text is known to be UTF-8 and rows may differ in length: nothing is left that
            // the reader refuses, and if it does, the rest of the file is said to be unread.
            Err(error) => {
                let line = lines.at(skipped + reader.position().byte() as usize);
                intake.broken(
                    line,
                    format!("the file could not be read from here on: {error}"),
                );
                false
            }
        };
        if !more {
            break;
        }
        let begins = record.position().map_or(0, csv::Position::byte) as usize;
        let line = lines.at(skipped + begins);
        let cells: Vec<String> = record.iter().map(str::to_owned).collect();
        if let Some(reason) = open_quote(&cells, delimiter) {
            intake.table.broken.push(BrokenRow { line, reason });
            continue;
        }
        intake.row(line, cells)?;
    }
    intake.table.read_as = format!("{encoding}, cells parted by {}", in_words(delimiter));
    Ok(intake.table)
}

/// A reader of one dialect: quotes doubled inside quotes, rows of any length, any line end.
pub(super) fn reader(text: &str, delimiter: u8) -> csv::Reader<&[u8]> {
    csv::ReaderBuilder::new()
        .delimiter(delimiter)
        .has_headers(false)
        .flexible(true)
        .from_reader(text.as_bytes())
}

/// The text and the name of its encoding. A byte order mark decides; else UTF-8 where it is valid,
/// else Windows-1252, in which every byte means something (WHATWG Encoding Standard).
fn decode(bytes: &[u8]) -> Result<(String, &'static str), ReadError> {
    let (encoding, mark) = match encoding_rs::Encoding::for_bom(bytes) {
        Some(found) => found,
        None if std::str::from_utf8(bytes).is_ok() => (encoding_rs::UTF_8, 0),
        None => (encoding_rs::WINDOWS_1252, 0),
    };
    let body = bytes.get(mark..).unwrap_or_default();
    let (text, _) = encoding.decode_without_bom_handling(body);
    if text.contains('\0') {
        return Err(ReadError::OtherKind("not a text table"));
    }
    Ok((text.into_owned(), encoding.name()))
}

/// A first line such as `sep=;`, which some spreadsheets write, and what follows it.
fn stated_delimiter(text: &str) -> (Option<u8>, &str) {
    let (first, rest) = text.split_once('\n').unwrap_or((text, ""));
    let stated = first.trim_end_matches('\r').strip_prefix("sep=");
    match stated.map(str::as_bytes) {
        Some([delimiter]) if delimiter.is_ascii() && *delimiter != b'"' => (Some(*delimiter), rest),
        _ => (None, text),
    }
}

/// A quote that was opened and never closed swallows the rest of the file into one cell.
fn open_quote(cells: &[String], delimiter: u8) -> Option<String> {
    let delimiter = char::from(delimiter);
    let swallowed = cells.last().is_some_and(|cell| {
        let lines = cell.lines().count();
        lines > 3 && cell.lines().filter(|line| line.contains(delimiter)).count() * 2 > lines
    });
    swallowed.then(|| {
        "a quote was opened and not closed, so that rows run together: close it or remove it"
            .to_owned()
    })
}

fn in_words(delimiter: u8) -> String {
    match delimiter {
        b',' => "commas".to_owned(),
        b';' => "semicolons".to_owned(),
        b'\t' => "tabs".to_owned(),
        b'|' => "upright strokes".to_owned(),
        other => format!("\"{}\"", char::from(other)),
    }
}

/// Tells on which line a byte of the text stands. The CSV reader's own count is of the line where
/// it stopped, which for a row behind blank lines is an earlier one.
struct Lines<'a> {
    bytes: &'a [u8],
    at: usize,
    line: u32,
}

impl<'a> Lines<'a> {
    fn new(text: &'a str) -> Self {
        Self {
            bytes: text.as_bytes(),
            at: 0,
            line: 1,
        }
    }

    /// The line of the first byte from there on that is no line end. Offsets must not fall.
    fn at(&mut self, offset: usize) -> u32 {
        while let Some(byte) = self.bytes.get(self.at) {
            let ends_line = matches!(byte, b'\n' | b'\r');
            if self.at >= offset && !ends_line {
                break;
            }
            let half = *byte == b'\r' && self.bytes.get(self.at + 1) == Some(&b'\n');
            if ends_line && !half {
                self.line = self.line.saturating_add(1);
            }
            self.at += 1;
        }
        self.line
    }
}
