//! Cells of a row: text, numbers, positions.

use csv::ByteRecord;

use crate::limits::TEXT_BYTES;
use crate::trade::geo::Position;

/// Smallest and largest stone that is believed, inches: bounds against a wrong unit, no source.
/// The largest on record measured 8 in (Vivian, South Dakota, 2010).
const HAIL_IN: std::ops::RangeInclusive<f64> = 0.1..=12.0;
/// Largest wind that is believed, in either unit: bounds against a wrong column, no source.
const WIND: f64 = 300.0;

/// Longest words that are kept, bytes: a field of the record, with room for what it adds.
const WORDS_BYTES: usize = TEXT_BYTES - 256;

/// The cell's text without spaces at its ends; empty where the row has no such cell.
pub(super) fn cell(row: &ByteRecord, index: usize) -> &str {
    let bytes = row.get(index).unwrap_or_default();
    std::str::from_utf8(bytes.trim_ascii()).unwrap_or_default()
}

/// The cell's words: whatever is no UTF-8 or no print becomes a mark or a space, and what is
/// longer than a field of the record may be is cut.
pub(super) fn words(bytes: &[u8]) -> String {
    let mut out = String::with_capacity(bytes.len().min(WORDS_BYTES));
    append(&mut out, bytes);
    out
}

/// The words of several cells, those that are empty left out.
pub(super) fn joined<'a>(cells: impl IntoIterator<Item = &'a [u8]>, between: &str) -> String {
    let mut out = String::with_capacity(64);
    for bytes in cells
        .into_iter()
        .map(<[u8]>::trim_ascii)
        .filter(|bytes| !bytes.is_empty())
    {
        if !out.is_empty() {
            out.push_str(between);
        }
        append(&mut out, bytes);
    }
    out
}

fn append(out: &mut String, bytes: &[u8]) {
    let bytes = bytes.trim_ascii();
    // Nearly every cell is short and plain; no early end, so that it takes a few instructions.
    let print = |byte: &u8| *byte >= b' ' && *byte <= b'~';
    let plain = bytes.iter().fold(true, |plain, byte| plain & print(byte));
    if plain
        && out.len() + bytes.len() <= WORDS_BYTES
        && let Ok(text) = std::str::from_utf8(bytes)
    {
        out.push_str(text);
        return;
    }
    for c in String::from_utf8_lossy(bytes).chars() {
        if out.len() + c.len_utf8() > WORDS_BYTES {
            return;
        }
        out.push(if c.is_control() { ' ' } else { c });
    }
}

/// A short piece of somebody's text, in quotation marks.
pub(super) fn quoted(text: &str) -> String {
    format!("\"{}\"", text.chars().take(24).collect::<String>())
}

/// A finite number; `None` where the cell is empty or says that it is unknown.
pub(super) fn number(text: &str, what: &str) -> Result<Option<f64>, String> {
    if text.is_empty() || text.eq_ignore_ascii_case("UNK") {
        return Ok(None);
    }
    let plain = text
        .bytes()
        .all(|b| b.is_ascii_digit() || b"+-.".contains(&b));
    match text.parse::<f64>() {
        Ok(number) if plain && number.is_finite() => Ok(Some(number)),
        _ => Err(format!("the {what} {} is no number", quoted(text))),
    }
}

/// A hail size in inches.
pub(super) fn hail(inches: f64) -> Result<f64, String> {
    if HAIL_IN.contains(&inches) {
        Ok(inches)
    } else {
        Err(format!("a hail size of {inches} in is outside 0.1 to 12"))
    }
}

/// A wind speed.
pub(super) fn wind(speed: f64) -> Result<f64, String> {
    if speed > 0.0 && speed <= WIND {
        Ok(speed)
    } else {
        Err(format!("a wind speed of {speed} is outside 0 to {WIND}"))
    }
}

/// A position; `None` where the row gives none.
pub(super) fn position(latitude: &str, longitude: &str) -> Result<Option<Position>, String> {
    let north = number(latitude, "latitude")?;
    let east = number(longitude, "longitude")?;
    match (north, east) {
        (None, None) => Ok(None),
        (Some(north), Some(east)) if north != 0.0 || east != 0.0 => Position::new(north, east)
            .map(Some)
            .map_err(|error| error.to_string()),
        (Some(_), Some(_)) => Ok(None),
        _ => Err("only one of latitude and longitude is there".to_owned()),
    }
}
