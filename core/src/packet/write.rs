//! Writes a packet: the one place that says which files each of the two holds.

use std::path::{Path, PathBuf};

use serde::Serialize;

use super::bag::BagWriter;
use super::captures::CaptureFile;
use super::custody::{certificates, custody_file};
use super::online::shown_findings;
use super::photos::{PlacedPhoto, by_record, place_photos};
use super::{
    PacketError, PacketInput, PacketKind, Progress, Selection, csv_list, page, records, texts,
};
use crate::job::{Kind, RecordRef, hex};

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

/// Writes `folder/shared` or `folder/archive`, whole or not at all.
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
    let photos = place_photos(&mut bag, input, &selection, progress)?;
    write_captures(&mut bag, input, &photos)?;

    let list = shown_findings(input.job, &selection);
    let placed = by_record(&photos);
    bag.add(
        "findings.csv",
        &csv_list::findings_csv(&list, &selection, &placed)?,
    )?;
    let markup = page::page(input, &selection, &list, &photos);
    bag.add("index.html", markup.into_string().as_bytes())?;
    let office_key = input.office_key.map(|key| hex(key.as_bytes()));
    let custody = custody_file(input.job, input.custody, &selection, office_key);
    bag.add("custody.json", &json(&custody)?)?;
    bag.add("HOW-TO-CHECK.txt", texts::HOW_TO_CHECK.as_bytes())?;
    if kind == PacketKind::Archive {
        write_archive_files(&mut bag, input)?;
    }

    let description = match kind {
        PacketKind::Shared => "Storm inspection record, shared",
        PacketKind::Archive => "Storm inspection record, archive of the office",
    };
    let lacking = photos
        .iter()
        .filter_map(|photo| Some((photo.stem.clone(), photo.lacking?)))
        .collect();
    let photos = photos.len();
    let (folder, files, bytes) = bag.finish(input.company, description, input.created_at)?;
    Ok(Written {
        folder,
        files,
        bytes,
        photos,
        lacking,
    })
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
