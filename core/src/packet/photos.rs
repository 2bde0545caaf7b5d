//! The photos of a packet: names in walk order, originals copied as they are.

use std::collections::BTreeMap;
use std::io::Read;

use super::bag::{BagWriter, Sums};
use super::names::readable;
use super::selection::Shown;
use super::without_place::{Derived, stripped};
use super::{PacketError, PacketInput, Progress, Selection};
use crate::job::*;
use crate::limits;
use crate::sorted::Keyed;

/// A photo with its place in the bag.
pub(super) struct PlacedPhoto<'a> {
    pub(super) shown: &'a Shown<'a>,
    /// Its number in the walk, from 1.
    pub(super) number: usize,
    /// `001-front-elevation-overview`.
    pub(super) stem: String,
    /// The original below `data/`; `None` where it is not in the bag.
    pub(super) file: Option<String>,
    /// The thumbnail below `data/`.
    pub(super) thumbnail: Option<String>,
    /// Why the original is not in the bag.
    pub(super) lacking: Option<&'static str>,
    /// Set where the file is a copy without what the camera wrote into the original.
    pub(super) derived: Option<Derived>,
}

/// Copies the photos of a packet into its bag.
pub(super) fn place_photos<'a>(
    bag: &mut BagWriter,
    input: &PacketInput<'_>,
    selection: &'a Selection<'a>,
    progress: &mut Progress<'_>,
) -> Result<Vec<PlacedPhoto<'a>>, PacketError> {
    let total = selection.photos().len();
    let digits = total.to_string().len().max(3);
    let mut placed = Vec::with_capacity(total);
    for (index, shown) in selection.photos().iter().enumerate() {
        let number = index + 1;
        let stem = format!("{number:0digits$}-{}", name(selection, shown));
        let mut photo = PlacedPhoto {
            shown,
            number,
            stem,
            file: None,
            thumbnail: None,
            lacking: None,
            derived: None,
        };
        match &shown.capture {
            Some(capture) => {
                let derive = !selection.tells_places(input.choices);
                copy_files(bag, input, capture, derive, &mut photo)?;
            }
            None => photo.lacking = Some(UNREADABLE),
        }
        placed.push(photo);
        if !progress(number, total) {
            return Err(PacketError::Stopped);
        }
    }
    Ok(placed)
}

/// The photos of a page that is shown without a bag: the names they would bear in one, for the
/// files that are here.
pub(super) fn name_photos<'a>(
    selection: &'a Selection<'a>,
    here: &dyn Fn(BlobKind, PhotoHash) -> bool,
) -> Vec<PlacedPhoto<'a>> {
    let digits = selection.photos().len().to_string().len().max(3);
    let named = |(index, shown): (usize, &'a Shown<'a>)| {
        let number = index + 1;
        let stem = format!("{number:0digits$}-{}", name(selection, shown));
        let capture = shown.capture.as_ref();
        let file = |kind, path: String| {
            capture
                .is_some_and(|capture| here(kind, capture.hash))
                .then_some(path)
        };
        let extension = capture.map_or("jpg", |capture| extension(capture.format));
        let original = file(BlobKind::Original, format!("photos/{stem}.{extension}"));
        PlacedPhoto {
            shown,
            number,
            lacking: match (capture, &original) {
                (None, _) => Some(UNREADABLE),
                (Some(_), None) => Some(NOT_YET),
                _ => None,
            },
            thumbnail: file(BlobKind::Thumbnail, format!("thumbs/{stem}.jpg")),
            derived: None,
            file: original,
            stem,
        }
    };
    selection.photos().iter().enumerate().map(named).collect()
}

const NOT_TAKEN_IN: &str = "the stored file is not the one that was taken in";
const UNREADABLE: &str = "its capture cannot be read";
const NOT_THERE: &str = "the original was not there";
const NOT_YET: &str = "it has not come in yet";
const NO_COPY: &str = "no copy without its place can be made of this file";

/// The reason why an original is lacking that reads so.
pub(super) fn why_lacking(words: &str) -> Option<&'static str> {
    [NOT_TAKEN_IN, UNREADABLE, NOT_THERE, NOT_YET, NO_COPY]
        .into_iter()
        .find(|why| *why == words)
}

const fn extension(format: PictureFormat) -> &'static str {
    match format {
        PictureFormat::Jpeg => "jpg",
        PictureFormat::Png => "png",
        PictureFormat::Heic => "heic",
    }
}

fn copy_files(
    bag: &mut BagWriter,
    input: &PacketInput<'_>,
    capture: &Capture,
    derive: bool,
    photo: &mut PlacedPhoto<'_>,
) -> Result<(), PacketError> {
    let extension = extension(capture.format);
    let file = format!("photos/{}.{extension}", photo.stem);
    let unreadable = |cause| PacketError::File {
        path: file.clone().into(),
        cause,
    };
    match input.photos.original(capture.hash).map_err(unreadable)? {
        None => photo.lacking = Some(NOT_THERE),
        Some(reader) if derive => {
            let mut bytes = Vec::new();
            let mut reader = reader.take(limits::ORIGINAL_BYTES + 1);
            reader.read_to_end(&mut bytes).map_err(unreadable)?;
            if !is_original(&Sums::of(&bytes), capture) {
                photo.lacking = Some(NOT_TAKEN_IN);
            } else if let Some(copy) = stripped(&bytes, capture) {
                bag.add(&file, &copy)?;
                photo.derived = Some(Derived::new(&file, &copy, capture));
                photo.file = Some(file);
            } else {
                photo.lacking = Some(NO_COPY);
            }
        }
        Some(reader) => {
            let mut reader = reader.take(limits::ORIGINAL_BYTES + 1);
            let sums = bag.copy(&file, &mut reader)?;
            if is_original(&sums, capture) {
                photo.file = Some(file);
            } else {
                bag.remove(&file)?;
                photo.lacking = Some(NOT_TAKEN_IN);
            }
        }
    }
    let name = format!("thumbs/{}.jpg", photo.stem);
    let unreadable = |cause| PacketError::File {
        path: name.clone().into(),
        cause,
    };
    let thumbnail = input.photos.thumbnail(capture.hash).map_err(unreadable)?;
    if let Some(bytes) = thumbnail.filter(|bytes| bytes.len() as u64 <= limits::THUMBNAIL_BYTES) {
        bag.add(&name, &bytes)?;
        photo.thumbnail = Some(name);
    }
    Ok(())
}

/// Size and both hashes are those that the device signed.
pub(super) fn is_original(sums: &Sums, capture: &Capture) -> bool {
    sums.size == capture.size
        && sums.blake3 == *capture.hash.as_bytes()
        && sums.sha256.as_slice() == capture.sha256.as_slice()
}

/// What a person would call the photo: place, part and role, from what the packet shows.
fn name(selection: &Selection<'_>, shown: &Shown<'_>) -> String {
    let job = selection.job();
    let at = shown
        .photo
        .shows
        .iter()
        .find(|at| selection.shows_record(at));
    let finding = at
        .filter(|at| at.kind == Kind::Finding)
        .and_then(|at| job.records.findings.get(&at.id));
    let place = shown
        .photo
        .place
        .as_ref()
        .or_else(|| finding.and_then(|finding| finding.place.as_ref()))
        .or_else(|| at.filter(|at| at.is_place()))
        .filter(|place| selection.shows_record(place));
    let place = place.map(|place| job.place_name(place)).unwrap_or_default();
    let part = finding
        .and_then(|finding| finding.component)
        .map_or("", Component::label);
    let role = shown.photo.role.map_or("", PhotoRole::label);
    readable([place.as_str(), part, role])
}

/// The placed photos by record.
pub(super) fn by_record<'p, 'a>(
    photos: &'p [PlacedPhoto<'a>],
) -> BTreeMap<&'p RecordId, &'p PlacedPhoto<'a>> {
    photos.iter().map(|photo| (photo.shown.id, photo)).keyed()
}
