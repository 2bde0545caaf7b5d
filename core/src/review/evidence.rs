//! The photos behind a record, for a reader.

use super::view::{Shot, View};
use super::{Reader, office_only_finding, office_only_photo};
use crate::job::{Kind, RecordId, RecordRef};

/// Standing photos that show a record, by time. For anyone, photos that are office-only, or that
/// show a finding which is office-only or struck, are left out.
pub(crate) fn photos_of(view: &View<'_>, at: &RecordRef, reader: Reader) -> Vec<RecordId> {
    view.showing(at)
        .filter(|shot| reader == Reader::Office || may_see(view, shot))
        .map(|shot| shot.id.clone())
        .collect()
}

/// The photos of several records, each once.
pub(crate) fn photos_of_all(view: &View<'_>, from: &[RecordRef], reader: Reader) -> Vec<RecordId> {
    let mut photos = Vec::new();
    for at in from {
        for photo in photos_of(view, at, reader) {
            if !photos.contains(&photo) {
                photos.push(photo);
            }
        }
    }
    photos
}

fn may_see(view: &View<'_>, shot: &Shot<'_>) -> bool {
    let findings = &view.job.records.findings;
    let hidden = |at: &RecordRef| {
        at.kind == Kind::Finding
            && findings
                .get(&at.id)
                .is_some_and(|finding| office_only_finding(finding) || !finding.stands())
    };
    !office_only_photo(shot.photo) && !shot.photo.shows.iter().any(hidden)
}
