//! A report as PDF (ISO 32000), tagged as PDF/UA-1 (ISO 14289-1) asks, for Letter and A4.

use chalkwalk_core::job::Millis;
use chalkwalk_core::packet::report::{FullReport, PhotoEntry};
use chalkwalk_core::packet::{PacketError, PaperSize, Picture, Rendering};
use chalkwalk_core::photo::print_copy;
use chrono::{DateTime, Datelike, Timelike};
use serde_json::{Value as Json, json};
use typst::diag::SourceDiagnostic;
use typst::foundations::{Array, Bytes, Dict, IntoValue, Smart, Value};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use super::picture::{SIDE, in_words, svg};
use super::shop::Shop;

/// What the PDF names as the program that made it.
const CREATOR: &str = "Chalkwalk";
const FILE: &str = "report.pdf";

/// The report as the bytes of a PDF. The same report gives the same bytes. `progress` is asked
/// before each photo whether to go on.
///
/// # Errors
/// [`PacketError::Stopped`] where it was not to go on; where a photo cannot be read, or the report
/// cannot be set.
pub fn document(
    rendering: &Rendering<'_>,
    progress: &mut dyn FnMut() -> bool,
) -> Result<Vec<u8>, PacketError> {
    let made = inputs(rendering, progress).and_then(|inputs| set(rendering, inputs));
    // What was worked out for this report is of no use to the next, and holds all its pictures.
    typst::comemo::evict(0);
    made
}

fn set(rendering: &Rendering<'_>, inputs: Dict) -> Result<Vec<u8>, PacketError> {
    let shop = Shop::new(inputs).ok_or(PacketError::Format(FILE))?;
    let compiled = typst::compile::<PagedDocument>(&shop);
    for warning in &compiled.warnings {
        tracing::debug!(message = %warning.message, "a report's template");
    }
    let paged = compiled.output.map_err(|errors| unset(&errors))?;
    drop(shop);
    let standards = PdfStandards::new(&[PdfStandard::Ua_1]);
    let standards = standards.map_err(|_| PacketError::Format(FILE))?;
    let head = &rendering.report.head;
    let options = PdfOptions {
        ident: Smart::Custom(format!(
            "{} {} {}",
            rendering.job, head.title, head.made_at.0
        )),
        creator: Smart::Custom(Some(CREATOR.to_owned())),
        standards,
        ..PdfOptions::default()
    };
    typst_pdf::pdf(&paged, &options).map_err(|errors| unset(&errors))
}

fn unset(errors: &[SourceDiagnostic]) -> PacketError {
    for error in errors {
        let hints: Vec<_> = error.hints.iter().map(|hint| hint.v.as_str()).collect();
        tracing::error!(message = %error.message, hints = hints.join("; "), "a report could not be set");
    }
    PacketError::Format(FILE)
}

/// What the template is given: the report as JSON, what only paper needs, the pictures.
fn inputs(
    rendering: &Rendering<'_>,
    progress: &mut dyn FnMut() -> bool,
) -> Result<Dict, PacketError> {
    let photos = rendering.report.photos();
    let mut files = Array::new();
    let mut about = Vec::new();
    for (entry, picture) in photos.iter().zip(&rendering.pictures) {
        if !progress() {
            return Err(PacketError::Stopped);
        }
        let copied = rendering
            .read(picture)
            .map_err(|cause| PacketError::File {
                path: entry.name.clone().into(),
                cause,
            })?
            .and_then(|bytes| print_copy(&bytes, picture.orientation, SIDE));
        match copied {
            Some(copy) => {
                about.push(json!({
                    "alt": in_words_of(entry, picture),
                    "tall": f64::from(copy.height) / f64::from(copy.width.max(1)),
                }));
                files.push(Bytes::new(svg(&copy, &picture.marks)).into_value());
            }
            None => {
                about.push(Json::Null);
                files.push(Value::None);
            }
        }
    }
    let extra = extra(rendering, about)?;
    let bytes = |json: Vec<u8>| Bytes::new(json).into_value();
    Ok([
        ("report".into(), bytes(rendering.report.to_json()?)),
        ("extra".into(), bytes(extra)),
        ("pictures".into(), files.into_value()),
        (
            "drawing".into(),
            bytes(rendering.drawing.clone().into_bytes()),
        ),
    ]
    .into_iter()
    .collect())
}

fn extra(rendering: &Rendering<'_>, pictures: Vec<Json>) -> Result<Vec<u8>, PacketError> {
    let report: &FullReport = rendering.report;
    let at = moment(report.head.made_at.0);
    let extra = json!({
        "job": rendering.job,
        "paper": match rendering.paper {
            PaperSize::Letter => "us-letter",
            PaperSize::A4 => "a4",
        },
        "drawing_alt": described(&rendering.drawing),
        "made": at.format("%-d %b %Y, %H:%M UTC").to_string(),
        "date": [
            i64::from(at.year()), i64::from(at.month()), i64::from(at.day()),
            i64::from(at.hour()), i64::from(at.minute()), i64::from(at.second()),
        ],
        "pictures": pictures,
    });
    serde_json::to_vec(&extra).map_err(|_| PacketError::Format(FILE))
}

/// The moment; that of the epoch where no calendar names it.
fn moment(at: Millis) -> DateTime<chrono::Utc> {
    DateTime::from_timestamp_millis(at).unwrap_or_default()
}

/// What a drawing says of itself, for who cannot see it.
fn described(drawing: &str) -> String {
    let from = drawing.split_once("<desc").and_then(|(_, rest)| rest.split_once('>'));
    let said = from.and_then(|(_, rest)| Some(rest.split_once("</desc>")?.0));
    let said = said.unwrap_or("The house from above.");
    let plain = said
        .replace("&lt;", "<")
        .replace("&gt;", ">")
        .replace("&quot;", "\"")
        .replace("&#39;", "'");
    plain.replace("&amp;", "&")
}

/// A photo in words: what it shows, where, and its marks.
fn in_words_of(entry: &PhotoEntry, picture: &Picture) -> String {
    let mut words = format!("Photo {}", entry.number);
    for more in [&entry.role, &entry.place, &entry.caption].into_iter().flatten() {
        words = format!("{words}, {more}");
    }
    let marks = in_words(&picture.marks);
    if marks.is_empty() {
        words
    } else {
        format!("{words}; marked on it: {marks}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_drawing_is_told_as_it_tells_itself() {
        let svg = "<svg><title id=\"a\">T</title><desc id=\"b\">Front: 2 &amp; 3.</desc></svg>";
        assert_eq!(described(svg), "Front: 2 & 3.");
        assert_eq!(described("<svg/>"), "The house from above.");
    }
}
