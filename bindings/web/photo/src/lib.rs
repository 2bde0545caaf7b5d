//! Reading picture files for a browser, compiled to wasm: loaded once a photo is taken.
//!
//! It knows no key and keeps nothing: what it reads goes to the engine, which signs it.

#![cfg_attr(test, allow(clippy::unwrap_used))]

use std::io::Cursor;

use chalkwalk_core::job::{CapturePlace, DeviceId};
use chalkwalk_core::photo::{PhotoWarning, look_from};
use js_sys::{Array, Uint8Array};
use serde_json::json;
use wasm_bindgen::prelude::*;

/// What was read of a picture file.
#[derive(Debug)]
struct Looked {
    /// The hash, size in bytes and warnings, as JSON.
    facts: String,
    thumbnail: Option<Vec<u8>>,
    /// What the engine is to sign.
    capture: Vec<u8>,
}

/// Reads a picture file: `[{hash, size, warnings}, thumbnail, capture]`, the capture unsigned.
/// `place` is the phone's own, for a file that names none; `now` in milliseconds since 1970.
///
/// # Errors
/// The file is no picture, empty, or too large.
#[wasm_bindgen(js_name = look)]
pub fn look_at(
    file: &[u8],
    name: &str,
    device: &str,
    now: f64,
    place: Option<String>,
) -> Result<Array, JsError> {
    let device: DeviceId = device.parse().map_err(|_| JsError::new("no such device"))?;
    let place = place.as_deref().map(serde_json::from_str).transpose()?;
    // Milliseconds since 1970 stay far below what a float holds exactly.
    let looked =
        look(file, name, device, now as i64, place).map_err(|words| JsError::new(&words))?;
    let bytes = |of: &[u8]| JsValue::from(Uint8Array::from(of));
    let thumbnail = looked.thumbnail.as_deref().map_or(JsValue::NULL, bytes);
    Ok(Array::of3(
        &looked.facts.into(),
        &thumbnail,
        &bytes(&looked.capture),
    ))
}

fn look(
    file: &[u8],
    name: &str,
    device: DeviceId,
    now: i64,
    place: Option<CapturePlace>,
) -> Result<Looked, String> {
    let taken =
        look_from(&mut Cursor::new(file), name, device, now).map_err(|error| error.to_string())?;
    let mut capture = taken.capture;
    capture.place = capture.place.or(place);
    let placed = capture.place.is_some();
    let warnings: Vec<String> = taken
        .warnings
        .iter()
        .filter(|warning| !(placed && **warning == PhotoWarning::NoPlace))
        .map(ToString::to_string)
        .collect();
    let facts = json!({"hash": capture.hash, "size": capture.size, "warnings": warnings});
    Ok(Looked {
        facts: facts.to_string(),
        thumbnail: taken.thumbnail,
        capture: rmp_serde::to_vec_named(&capture).map_err(|error| error.to_string())?,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use chalkwalk_core::job::Capture;

    /// A picture of the demo house, with its place, and one without.
    const PLACED: &[u8] = include_bytes!("../../../../fixtures/photos/h01-eave-front-tape.jpg");
    const BARE: &[u8] = include_bytes!("../../../../core/src/photo/pictures/grey.jpg");

    #[test]
    fn a_picture_is_read_and_its_own_place_counts_before_the_phones() {
        let device = DeviceId::from_bytes([7; 16]);
        let phone = CapturePlace {
            latitude: 1.5,
            longitude: 2.5,
            altitude_m: None,
            accuracy_m: Some(8.0),
        };
        let read = |file: &[u8], place| {
            let looked = look(file, "a.jpg", device, 1_777_000_000_000, place).unwrap();
            let capture: Capture = rmp_serde::from_slice(&looked.capture).unwrap();
            assert_eq!(capture.hash.as_bytes(), blake3::hash(file).as_bytes());
            assert_eq!((capture.device, capture.size), (device, file.len() as u64));
            assert!(looked.facts.contains(&capture.hash.to_string()));
            assert!(looked.thumbnail.is_some_and(|small| small.len() > 300));
            let warned = PhotoWarning::NoPlace.to_string();
            (capture.place, looked.facts.contains(&warned))
        };
        let (own, _) = read(PLACED, Some(phone));
        assert!(own.is_some_and(|place| place.latitude != 1.5));
        assert_eq!(read(BARE, Some(phone)), (Some(phone), false));
        assert_eq!(read(BARE, None), (None, true));
    }

    #[test]
    fn what_is_no_picture_is_refused_with_words() {
        let device = DeviceId::from_bytes([7; 16]);
        assert!(look(b"a letter", "a.jpg", device, 0, None).is_err_and(|words| !words.is_empty()));
    }
}
