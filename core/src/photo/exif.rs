//! What a picture file says of time, place, direction and camera.
//!
//! Tags and their meaning: EXIF 2.32 (CIPA DC-008-2019). A field that is missing, out of range or
//! broken is left out; it never fails the photo.

use std::io::Cursor;

use ::exif::{DateTime, Exif, In, Rational, Reader, Tag, Value};
use chrono::NaiveDate;

use super::PhotoWarning;
use crate::contain::contained;
use crate::job::{CapturePlace, Millis, North};

/// Longest camera name that is kept, in characters.
const CAMERA_CHARACTERS: usize = 100;
/// Offsets from UTC that exist, minutes: from 12 hours west to 14 hours east.
const OFFSETS: std::ops::RangeInclusive<i32> = -12 * 60..=14 * 60;

/// The fields a capture is made of.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Said {
    pub(super) local_time: Option<Millis>,
    pub(super) utc_offset_min: Option<i32>,
    pub(super) place: Option<CapturePlace>,
    pub(super) bearing: Option<f64>,
    pub(super) bearing_from: Option<North>,
    pub(super) orientation: Option<u8>,
    pub(super) camera: Option<String>,
    /// Width and height in pixels.
    pub(super) pixels: Option<(u32, u32)>,
    /// The time that the satellites gave, milliseconds since 1970 UTC.
    pub(super) satellite_time: Option<Millis>,
}

/// Reads the EXIF of a whole file.
pub(super) fn read(data: &[u8]) -> (Said, Option<PhotoWarning>) {
    let read = contained(|| {
        let mut reader = Reader::new();
        reader.continue_on_error(true);
        match reader.read_from_container(&mut Cursor::new(data)) {
            Ok(exif) => (said(&exif), None),
            Err(::exif::Error::PartialResult(part)) => {
                let (exif, _) = part.into_inner();
                (said(&exif), Some(PhotoWarning::BrokenExif))
            }
            Err(::exif::Error::NotFound(_)) => (Said::default(), Some(PhotoWarning::NoExif)),
            Err(_) => (Said::default(), Some(PhotoWarning::BrokenExif)),
        }
    });
    read.unwrap_or((Said::default(), Some(PhotoWarning::BrokenExif)))
}

fn said(exif: &Exif) -> Said {
    let (local_time, utc_offset_min) = time(exif);
    let bearing = rational(exif, Tag::GPSImgDirection).filter(|b| (0.0..=360.0).contains(b));
    let bearing_from = match letter(exif, Tag::GPSImgDirectionRef) {
        Some(b'T') => Some(North::True),
        Some(b'M') => Some(North::Magnetic),
        _ => None,
    };
    Said {
        local_time,
        utc_offset_min,
        place: place(exif),
        bearing,
        bearing_from: bearing_from.filter(|_| bearing.is_some()),
        orientation: whole(exif, Tag::Orientation)
            .and_then(|value| u8::try_from(value).ok())
            .filter(|value| (1..=8).contains(value)),
        camera: camera(exif),
        pixels: whole(exif, Tag::PixelXDimension).zip(whole(exif, Tag::PixelYDimension)),
        satellite_time: satellite_time(exif),
    }
}

/// The time of taking, else the time of digitising, each with its own offset and fraction.
fn time(exif: &Exif) -> (Option<Millis>, Option<i32>) {
    let tags = [
        (
            Tag::DateTimeOriginal,
            Tag::SubSecTimeOriginal,
            Tag::OffsetTimeOriginal,
        ),
        (
            Tag::DateTimeDigitized,
            Tag::SubSecTimeDigitized,
            Tag::OffsetTimeDigitized,
        ),
    ];
    for (date, fraction, offset) in tags {
        let Some(mut found) = ascii(exif, date).and_then(|text| DateTime::from_ascii(text).ok())
        else {
            continue;
        };
        // A fraction or an offset that cannot be read is left out; the time stays.
        if let Some(text) = ascii(exif, fraction) {
            let _ = found.parse_subsec(text);
        }
        if let Some(text) = ascii(exif, offset) {
            let _ = found.parse_offset(text);
        }
        if let Some(time) = millis(&found) {
            let offset = found.offset.map(i32::from);
            return (Some(time), offset.filter(|o| OFFSETS.contains(o)));
        }
    }
    (None, None)
}

fn millis(time: &DateTime) -> Option<Millis> {
    let day = NaiveDate::from_ymd_opt(
        i32::from(time.year),
        u32::from(time.month),
        u32::from(time.day),
    )?;
    let whole = day.and_hms_opt(
        u32::from(time.hour),
        u32::from(time.minute),
        u32::from(time.second),
    )?;
    let fraction = i64::from(time.nanosecond.unwrap_or(0) / 1_000_000);
    Some(whole.and_utc().timestamp_millis() + fraction)
}

fn place(exif: &Exif) -> Option<CapturePlace> {
    let latitude = degrees(exif, Tag::GPSLatitude, Tag::GPSLatitudeRef, b'S', 90.0)?;
    let longitude = degrees(exif, Tag::GPSLongitude, Tag::GPSLongitudeRef, b'W', 180.0)?;
    // A receiver without a fix writes zeros. Common practice, no source.
    if latitude == 0.0 && longitude == 0.0 {
        return None;
    }
    let below = whole(exif, Tag::GPSAltitudeRef).is_some_and(|r| r == 1 || r == 3);
    Some(CapturePlace {
        latitude,
        longitude,
        altitude_m: rational(exif, Tag::GPSAltitude).map(|up| if below { -up } else { up }),
        accuracy_m: rational(exif, Tag::GPSHPositioningError),
    })
}

fn degrees(exif: &Exif, tag: Tag, side: Tag, negative: u8, most: f64) -> Option<f64> {
    let parts = rationals(exif, tag)?;
    let mut value = 0.0;
    for (part, share) in parts.iter().zip([1.0, 60.0, 3600.0]) {
        value += ratio(part)? / share;
    }
    if parts.is_empty() || value > most {
        return None;
    }
    Some(if letter(exif, side)? == negative {
        -value
    } else {
        value
    })
}

fn satellite_time(exif: &Exif) -> Option<Millis> {
    let date = std::str::from_utf8(ascii(exif, Tag::GPSDateStamp)?).ok()?;
    let day = NaiveDate::parse_from_str(date.trim_matches(['\0', ' ']), "%Y:%m:%d").ok()?;
    let [hour, minute, second] = rationals(exif, Tag::GPSTimeStamp)? else {
        return None;
    };
    let seconds = ratio(hour)? * 3600.0 + ratio(minute)? * 60.0 + ratio(second)?;
    let midnight = day.and_hms_opt(0, 0, 0)?.and_utc().timestamp_millis();
    (0.0..=86_400.0)
        .contains(&seconds)
        .then(|| midnight + (seconds * 1000.0).round() as i64)
}

/// Make and model; the make is left out where the model already begins with it.
fn camera(exif: &Exif) -> Option<String> {
    let model = words(exif, Tag::Model);
    let make = words(exif, Tag::Make);
    let name = match (make, model) {
        (Some(make), Some(model)) if model.to_lowercase().starts_with(&make.to_lowercase()) => {
            model
        }
        (Some(make), Some(model)) => format!("{make} {model}"),
        (make, model) => make.or(model)?,
    };
    Some(name.chars().take(CAMERA_CHARACTERS).collect())
}

fn words(exif: &Exif, tag: Tag) -> Option<String> {
    let text = String::from_utf8_lossy(ascii(exif, tag)?);
    let clean: String = text.chars().filter(|c| !c.is_control()).collect();
    let clean = clean.trim();
    (!clean.is_empty()).then(|| clean.to_owned())
}

fn value(exif: &Exif, tag: Tag) -> Option<&Value> {
    Some(&exif.get_field(tag, In::PRIMARY)?.value)
}

fn ascii(exif: &Exif, tag: Tag) -> Option<&[u8]> {
    match value(exif, tag)? {
        Value::Ascii(lines) => lines.first().map(Vec::as_slice),
        _ => None,
    }
}

fn letter(exif: &Exif, tag: Tag) -> Option<u8> {
    ascii(exif, tag)?.first().map(u8::to_ascii_uppercase)
}

fn whole(exif: &Exif, tag: Tag) -> Option<u32> {
    value(exif, tag)?.get_uint(0)
}

fn rationals(exif: &Exif, tag: Tag) -> Option<&[Rational]> {
    match value(exif, tag)? {
        Value::Rational(values) => Some(values),
        _ => None,
    }
}

fn rational(exif: &Exif, tag: Tag) -> Option<f64> {
    ratio(rationals(exif, tag)?.first()?)
}

fn ratio(value: &Rational) -> Option<f64> {
    (value.denom != 0).then(|| f64::from(value.num) / f64::from(value.denom))
}

#[cfg(test)]
#[path = "exif_tests.rs"]
mod tests;
