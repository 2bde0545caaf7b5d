//! Which files of the photos on one page are here.

use std::collections::BTreeSet;

use chalkwalk_core::job::{BlobKind, PhotoHash};

use super::super::at_job::AtJob;
use super::order::Walk;
use crate::store::{BlobKey, StoreError};

/// Photos of the strip before and after the one that is shown.
pub(super) const BEFORE: usize = 4;
/// See [`BEFORE`].
pub(super) const AFTER: usize = 7;
/// Photos shown beside one as of the same finding.
pub(super) const BESIDE: usize = 12;

/// The files that are whole at the office.
pub(super) struct Here {
    thumbnails: Held,
    originals: Held,
}

enum Held {
    All,
    These(BTreeSet<PhotoHash>),
}

impl Here {
    pub(super) async fn of(at: &AtJob, walk: &Walk, place: usize) -> Result<Self, StoreError> {
        let wanted: BTreeSet<PhotoHash> = near(walk, place)
            .into_iter()
            .filter_map(|at| Some(walk.steps.get(at)?.capture.as_ref()?.hash))
            .collect();
        let status = &at.status;
        let held = async |all: bool, kind: BlobKind| {
            if all {
                return Ok::<_, StoreError>(Held::All);
            }
            let mut these = BTreeSet::new();
            for hash in &wanted {
                let key = BlobKey { kind, hash: *hash };
                if at.shared.hub.records().blob(key).await?.is_some() {
                    these.insert(*hash);
                }
            }
            Ok(Held::These(these))
        };
        Ok(Self {
            thumbnails: held(status.thumbnails == status.photos, BlobKind::Thumbnail).await?,
            originals: held(status.originals == status.photos, BlobKind::Original).await?,
        })
    }

    pub(super) fn has(&self, kind: BlobKind, hash: PhotoHash) -> bool {
        let held = match kind {
            BlobKind::Thumbnail => &self.thumbnails,
            BlobKind::Original => &self.originals,
        };
        match held {
            Held::All => true,
            Held::These(these) => these.contains(&hash),
        }
    }
}

/// The photos that a page shows: the one, its strip, those of the same findings.
fn near(walk: &Walk, place: usize) -> BTreeSet<usize> {
    let mut near: BTreeSet<usize> = strip(walk, place).collect();
    near.insert(place);
    let findings = walk.steps.get(place).map_or(&[][..], |step| &step.findings);
    for finding in findings {
        near.extend(walk.of_finding(finding).iter().take(BESIDE));
    }
    near
}

/// The photos before and after.
pub(super) fn strip(walk: &Walk, place: usize) -> std::ops::Range<usize> {
    place.saturating_sub(BEFORE)..(place + AFTER + 1).min(walk.steps.len())
}
