//! Writes a packet: the one place that says which files each of the two holds.

use std::path::{Path, PathBuf};

use serde::Serialize;

use super::bag::{BagInfo, BagWriter};
use super::captures::CaptureFile;
use super::custody::{certificates, custody_file};
use super::photos::{PlacedPhoto, place_photos};
use super::rendering::{rendering, still};
use super::seal::Held;
use super::without_place::{Derived, FILE as DERIVED};
use super::{
    PacketError, PacketInput, PacketKind, Progress, Selection, page, records, report, texts,
};
use crate::job::{Kind, RecordRef, hex};
use crate::review::production::SheetOptions;

/// What the scope of an archive was made with, below `data/`.
pub(super) const SCOPE_INPUTS: &str = "scope-inputs.json";

/// What was written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Written {
    /// The bag.
    pub folder: PathBuf,
    /// Payload files.
    pub files: usize,
    /// Bytes of payload.
    pub bytes: u64,
    /// Photos that the packet shows.
    pub photos: usize,
    /// Of those, the names of the ones whose original is not in the bag, and why.
    pub lacking: Vec<(String, &'static str)>,
}

/// Writes `folder/shared`, `folder/owner`, `folder/production` or `folder/archive`, whole or not
/// at all.
///
/// Fails where that folder is there already, and where a file cannot be read or written. A photo
/// whose original is missing or altered does not fail it: the page and [`Written::lacking`] say so.
pub fn write(
    kind: PacketKind,
    input: &PacketInput<'_>,
    folder: &Path,
    progress: &mut Progress<'_>,
) -> Result<Written, PacketError> {
    let selection = Selection::new(input.job, kind, input.order);
    let mut bag = BagWriter::begin(folder, kind.folder())?;
    let photos = match fill(&mut bag, input, &selection, progress) {
        Ok(photos) => photos,
        Err(error) => {
            bag.abandon();
            return Err(error);
        }
    };
    let description = match kind {
        PacketKind::Shared => "Storm inspection record, shared",
        PacketKind::Owner => "Storm inspection record, for the owner",
        PacketKind::Production => "Storm inspection record, for production",
        PacketKind::Archive => "Storm inspection record, archive of the office",
    };
    let info = BagInfo {
        company: input.company,
        description,
        created_at: input.created_at,
    };
    let held = (kind == PacketKind::Archive).then(|| {
        let entries = input.custody.entries.iter();
        Held::of(entries.map(|entry| entry.deed.change.as_str()))
    });
    let lacking = photos
        .iter()
        .filter_map(|photo| Some((photo.stem.clone(), photo.lacking?)))
        .collect();
    let photos = photos.len();
    let (folder, files, bytes) = bag.finish(&info, input.sealer, held)?;
    Ok(Written {
        folder,
        files,
        bytes,
        photos,
        lacking,
    })
}

/// Writes the payload.
fn fill<'a>(
    bag: &mut BagWriter,
    input: &PacketInput<'_>,
    selection: &'a Selection<'a>,
    progress: &mut Progress<'_>,
) -> Result<Vec<PlacedPhoto<'a>>, PacketError> {
    let photos = place_photos(bag, input, selection, progress)?;
    let copies: Vec<&Derived> = photos.iter().filter_map(|p| p.derived.as_ref()).collect();
    if selection.tells_places(input.choices) {
        write_captures(bag, input, &photos)?;
    } else {
        // A signed capture holds the place: it stays with the original.
        bag.add(DERIVED, &json(&copies)?)?;
    }
    let list = selection.findings();
    let report = report::gather(input, selection, &list, &photos);
    for table in report.tables() {
        bag.add(&table.file(), &report::to_csv(&table)?)?;
    }
    bag.add("report.json", &report.to_json()?)?;
    bag.add(report::SCHEMA_FILE, report::SCHEMA.as_bytes())?;
    let page = match selection.kind() {
        PacketKind::Shared | PacketKind::Archive => {
            page::page(input, selection, &list, &photos, &[])
        }
        PacketKind::Owner | PacketKind::Production => page::reader_page(&report, &photos),
    };
    bag.add("index.html", page.into_string().as_bytes())?;
    let office_key = input.office_key.map(|key| hex(key.as_bytes()));
    let custody = custody_file(input.job, input.custody, selection, office_key);
    bag.add("custody.json", &json(&custody)?)?;
    bag.add("HOW-TO-CHECK.txt", texts::HOW_TO_CHECK.as_bytes())?;
    if selection.for_office() {
        write_archive_files(bag, input)?;
    }
    let rendering = rendering(input, selection, &report, &list, &photos);
    let rendered = input
        .renderer
        .render(&rendering, &mut still(progress, photos.len()))?;
    for (name, bytes) in rendered {
        bag.add(&name, &bytes)?;
    }
    if !progress(photos.len(), photos.len()) {
        return Err(PacketError::Stopped);
    }
    Ok(photos)
}

fn write_captures(
    bag: &mut BagWriter,
    input: &PacketInput<'_>,
    photos: &[PlacedPhoto<'_>],
) -> Result<(), PacketError> {
    let known = certificates(input.custody);
    for photo in photos {
        let (Some(signed), Some(capture)) = (&photo.shown.signed, &photo.shown.capture) else {
            continue;
        };
        let file = CaptureFile::new(
            photo.file.clone(),
            RecordRef::new(Kind::Photo, photo.shown.id.clone()).to_string(),
            signed,
            capture,
            known.get(&capture.device).cloned(),
        );
        bag.add(&format!("captures/{}.json", photo.stem), &json(&file)?)?;
    }
    Ok(())
}

fn write_archive_files(bag: &mut BagWriter, input: &PacketInput<'_>) -> Result<(), PacketError> {
    #[derive(Serialize)]
    struct Change<'a> {
        device: String,
        number: u64,
        hash: &'a str,
        signature: Option<String>,
    }
    let changes: Vec<Change<'_>> = input
        .custody
        .entries
        .iter()
        .map(|entry| Change {
            device: entry.deed.by.device.to_string(),
            number: entry.deed.number,
            hash: &entry.deed.change,
            signature: entry.signature.map(|signature| hex(&signature)),
        })
        .collect();
    let history: Vec<_> = input
        .custody
        .entries
        .iter()
        .map(|entry| &entry.deed)
        .collect();
    bag.add("job.automerge", input.document)?;
    if input.choices.sheet == SheetOptions::default() {
        // With it, whoever checks can work the report out anew.
        bag.add(SCOPE_INPUTS, &json(&input.choices.scope)?)?;
    }
    bag.add("changes.json", &json(&changes)?)?;
    bag.add("history.json", &json(&history)?)?;
    let words = records::records_in_words(input.job);
    bag.add(
        "records.json",
        &words.map_err(|_| PacketError::Format("records.json"))?,
    )
}

fn json<T: Serialize>(value: &T) -> Result<Vec<u8>, PacketError> {
    let mut bytes =
        serde_json::to_vec_pretty(value).map_err(|_| PacketError::Format("a JSON file"))?;
    bytes.push(b'\n');
    Ok(bytes)
}
