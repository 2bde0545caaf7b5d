//! A report as PDF (ISO 32000), tagged as PDF/UA-1 (ISO 14289-1) asks, for Letter and A4.

use chalkwalk_core::job::Millis;
use chalkwalk_core::packet::report::{FullReport, PhotoEntry};
use chalkwalk_core::packet::{PacketError, PaperSize, Picture, Rendering};
use chalkwalk_core::photo::print_copy;
use chrono::{DateTime, Datelike, Timelike};
use rayon::prelude::*;
use serde_json::{Value as Json, json};
use typst::diag::SourceDiagnostic;
use typst::foundations::{Array, Bytes, Dict, IntoValue, Smart, Value};
use typst_layout::PagedDocument;
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use super::letters::{settle, settled};
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
    let pairs: Vec<_> = photos.iter().zip(&rendering.pictures).collect();
    // As many at a time as there are processors: their originals are in memory together.
    for some in pairs.chunks(rayon::current_num_threads().max(1)) {
        let mut originals = Vec::with_capacity(some.len());
        for (entry, picture) in some {
            if !progress() {
                return Err(PacketError::Stopped);
            }
            let original = rendering.read(picture);
            originals.push(original.map_err(|cause| PacketError::File {
                path: entry.name.clone().into(),
                cause,
            })?);
        }
        let copies: Vec<_> = (some, originals)
            .into_par_iter()
            .map(|((_, picture), original)| {
                let copy = print_copy(&original?, picture.orientation, SIDE)?;
                Some((copy.upright(), svg(&copy, &picture.marks)))
            })
            .collect();
        for ((entry, picture), copy) in some.iter().zip(copies) {
            match copy {
                Some(((width, height), svg)) => {
                    about.push(json!({
                        "alt": in_words_of(entry, picture),
                        "tall": f64::from(height) / f64::from(width.max(1)),
                    }));
                    files.push(Bytes::new(svg).into_value());
                }
                None => {
                    about.push(Json::Null);
                    files.push(Value::None);
                }
            }
        }
    }
    let mut report =
        serde_json::to_value(rendering.report).map_err(|_| PacketError::Format(FILE))?;
    let lacking = settle(&mut report);
    let report = serde_json::to_vec(&report).map_err(|_| PacketError::Format(FILE))?;
    let (drawing, _) = settled(&rendering.drawing);
    let extra = extra(rendering, about, lacking)?;
    let bytes = |json: Vec<u8>| Bytes::new(json).into_value();
    Ok([
        ("report".into(), bytes(report)),
        ("extra".into(), bytes(extra)),
        ("pictures".into(), files.into_value()),
        ("drawing".into(), bytes(drawing.into_bytes())),
    ]
    .into_iter()
    .collect())
}

fn extra(
    rendering: &Rendering<'_>,
    pictures: Vec<Json>,
    lacking: usize,
) -> Result<Vec<u8>, PacketError> {
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
        "lacking": lacking,
    });
    serde_json::to_vec(&extra).map_err(|_| PacketError::Format(FILE))
}

/// The moment; that of the epoch where no calendar names it.
fn moment(at: Millis) -> DateTime<chrono::Utc> {
    DateTime::from_timestamp_millis(at).unwrap_or_default()
}

/// What a drawing says of itself, for who cannot see it.
fn described(drawing: &str) -> String {
    let from = drawing
        .split_once("<desc")
        .and_then(|(_, rest)| rest.split_once('>'));
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
    for more in [&entry.role, &entry.place, &entry.caption]
        .into_iter()
        .flatten()
    {
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
    use chalkwalk_core::document::Document;
    use chalkwalk_core::job::PhotoHash;
    use chalkwalk_core::packet::{Choices, MemoryPhotos, online_page};

    use super::*;

    /// The insurer's packet of a job without records, and its drawing.
    fn report() -> FullReport {
        let document = Document::new().unwrap();
        let (job, choices) = (document.job().clone(), Choices::default());
        let page = online_page(
            &job,
            &[],
            "The office",
            (&choices, 1_777_381_629_331),
            &|_, _| false,
            &[],
        );
        page.unwrap().report
    }

    fn rendering<'a>(
        report: &'a FullReport,
        photos: &'a MemoryPhotos,
        paper: PaperSize,
    ) -> Rendering<'a> {
        Rendering {
            report,
            job: "01M8ANR4E4Z83P03NXJDA6575C".to_owned(),
            drawing: "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"9\" height=\"9\"/>"
                .to_owned(),
            pictures: Vec::new(),
            photos,
            paper,
        }
    }

    #[test]
    fn the_same_report_gives_the_same_bytes_on_the_paper_that_was_asked() {
        let (report, photos) = (report(), MemoryPhotos::default());
        let set = |paper| document(&rendering(&report, &photos, paper), &mut || true).unwrap();
        let letter = set(PaperSize::Letter);
        assert!(letter.starts_with(b"%PDF-1.7"));
        assert_eq!(letter, set(PaperSize::Letter));
        let holds = |pdf: &[u8], words: &[u8]| pdf.windows(words.len()).any(|is| is == words);
        assert!(holds(&letter, b"[0 0 612 792]"));
        let a4 = set(PaperSize::A4);
        assert!(!holds(&a4, b"[0 0 612 792]") && holds(&a4, b"[0 0 595.27"));
    }

    #[test]
    fn words_are_set_as_words_and_never_read_as_markup() {
        let mut report = report();
        for words in [
            "#panic(\"no\") *bold* _it_ $x$ @ref <label> \\ `raw` // comment",
            "#{ while true {} }",
            "\u{202e}right to left\u{0}\n\n= Heading",
            "屋根 крыша سقف \u{1f3e0}",
            "",
        ] {
            report.head.address = words.to_owned();
            report.head.company = words.to_owned();
            report.head.recorded_by = vec![words.to_owned()];
            let photos = MemoryPhotos::default();
            let made = document(&rendering(&report, &photos, PaperSize::Letter), &mut || {
                true
            });
            assert!(made.is_ok(), "{words}: {made:?}");
        }
    }

    #[test]
    fn it_is_stopped_before_the_next_photo() {
        let (mut report, photos) = (report(), MemoryPhotos::default());
        let chalkwalk_core::packet::report::ReaderReport::InsurersPacket(packet) =
            &mut report.report
        else {
            panic!("not the insurer's packet");
        };
        packet.photos = vec![photo()];
        let mut asked = rendering(&report, &photos, PaperSize::Letter);
        asked.pictures = vec![Picture {
            original: Some(PhotoHash::of(b"none")),
            ..Picture::default()
        }];
        let stopped = document(&asked, &mut || false);
        assert!(matches!(stopped, Err(PacketError::Stopped)), "{stopped:?}");
        // A photo that is not there has a place that says so.
        assert!(document(&asked, &mut || true).is_ok());
    }

    fn photo() -> PhotoEntry {
        PhotoEntry {
            number: 1,
            name: "001-front".to_owned(),
            file: None,
            lacking: Some("the original was not there".to_owned()),
            record: "photo/01KQ8F9NR0FDTHT23DFVTFME7C".to_owned(),
            role: None,
            place: None,
            side: None,
            caption: Some("#strong[a caption]".to_owned()),
            taken: None,
            taken_in_at: None,
            latitude: None,
            longitude: None,
            camera: None,
            width_px: None,
            height_px: None,
            bytes: None,
            blake3: None,
            sha256: None,
            audience: None,
            struck: None,
        }
    }

    #[test]
    fn a_drawing_is_told_as_it_tells_itself() {
        let svg = "<svg><title id=\"a\">T</title><desc id=\"b\">Front: 2 &amp; 3.</desc></svg>";
        assert_eq!(described(svg), "Front: 2 & 3.");
        assert_eq!(described("<svg/>"), "The house from above.");
    }
}
