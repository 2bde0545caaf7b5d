//! The shared packet's page without its folder: for a server that shows one job to somebody
//! outside. It names the same files; the server hands them out itself.

use std::collections::BTreeMap;

use super::photos::{by_record, name_photos};
use super::{
    Custody, MemoryPhotos, PacketError, PacketInput, PacketKind, Selection, csv_list, page,
};
use crate::job::{BlobKind, Job, Kind, Millis, PhotoHash, RecordId, RecordRef};
use crate::review::{FindingsList, findings_list};

/// The page and everything it refers to.
#[derive(Clone, Debug)]
pub struct OnlinePage {
    /// The page.
    pub html: String,
    /// `findings.csv`.
    pub findings_csv: Vec<u8>,
    /// The pictures by the path that the page names, below the page's own folder.
    pub files: BTreeMap<String, (BlobKind, PhotoHash)>,
}

/// The findings and counted parts of a packet as CSV, apart from the packet.
///
/// # Errors
/// Where the table cannot be written.
pub fn findings_table(
    job: &Job,
    order: &[RecordId],
    kind: PacketKind,
) -> Result<Vec<u8>, PacketError> {
    let selection = Selection::new(job, kind, order);
    let photos = name_photos(&selection, &|_, _| true);
    csv_list::findings_csv(
        &shown_findings(job, &selection),
        &selection,
        &by_record(&photos),
    )
}

/// The findings that a packet lists.
pub(super) fn shown_findings(job: &Job, selection: &Selection<'_>) -> FindingsList {
    let mut list = findings_list::findings_list(job, selection.reader());
    list.groups.retain(|group| {
        let closed_room = |at: &RecordRef| at.kind == Kind::Room && !selection.shows_record(at);
        !group.place.as_ref().is_some_and(closed_room)
    });
    list
}

/// The page of the shared packet: what [`Selection`] shows to anybody, and nothing else.
/// `here` says which files there are; `order` is the walk.
pub fn online_page(
    job: &Job,
    order: &[RecordId],
    company: &str,
    now: Millis,
    here: &dyn Fn(BlobKind, PhotoHash) -> bool,
) -> Result<OnlinePage, PacketError> {
    let (custody, none) = (Custody::default(), MemoryPhotos::default());
    let input = PacketInput {
        job,
        document: &[],
        custody: &custody,
        photos: &none,
        order,
        company,
        office_key: None,
        created_at: now,
    };
    let selection = Selection::new(job, PacketKind::Shared, order);
    let photos = name_photos(&selection, here);
    let list = shown_findings(job, &selection);
    let mut files = BTreeMap::new();
    for photo in &photos {
        let Some(capture) = &photo.shown.capture else {
            continue;
        };
        let kinds = [
            (BlobKind::Original, &photo.file),
            (BlobKind::Thumbnail, &photo.thumbnail),
        ];
        for (kind, path) in kinds {
            files.extend(path.clone().map(|path| (path, (kind, capture.hash))));
        }
    }
    let findings_csv = csv_list::findings_csv(&list, &selection, &by_record(&photos))?;
    let html = page::page(&input, &selection, &list, &photos).into_string();
    Ok(OnlinePage {
        html,
        findings_csv,
        files,
    })
}
