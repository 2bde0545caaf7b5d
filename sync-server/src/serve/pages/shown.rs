//! What a statement rests on: its photos as small pictures, its records in words.

use std::collections::BTreeSet;

use axum::response::Response;
use chalkwalk_core::job::{
    BlobKind, Job, Photo, PhotoHash, Record, RecordId, RecordRef, SignedCapture,
};
use maud::{Markup, html};

use super::at_job::AtJob;
use super::words::{record_name, record_path};
use super::{counted, store_unwell};

/// The pictures of a job that the office holds.
pub(in crate::serve) struct Pictures {
    path: String,
    thumbnails: BTreeSet<PhotoHash>,
    originals: BTreeSet<PhotoHash>,
}

impl Pictures {
    /// Those of a job.
    ///
    /// # Errors
    /// The whole answer where storage does not answer.
    pub(in crate::serve) async fn of(at: &AtJob) -> Result<Self, Response> {
        let files = at.shared.hub.records().blobs(at.id).await;
        let files = files.map_err(|error| store_unwell(&at.shared, &error))?;
        let kind = |kind| {
            let of_kind = files.iter().filter(move |file| file.kind == kind);
            of_kind.map(|file| file.hash).collect()
        };
        Ok(Self {
            path: at.path(),
            thumbnails: kind(BlobKind::Thumbnail),
            originals: kind(BlobKind::Original),
        })
    }

    /// A row of small pictures, at most so many, and how many more there are.
    pub(in crate::serve) fn row(&self, job: &Job, photos: &[RecordId], most: usize) -> Markup {
        html! {
            @if !photos.is_empty() {
                ul.strip {
                    @for id in photos.iter().take(most) { li { (self.one(job, id)) } }
                    @if photos.len() > most {
                        li.more { (counted((photos.len() - most) as u64, "more", "more")) }
                    }
                }
            }
        }
    }

    /// All of them with their captions.
    pub(in crate::serve) fn all(&self, job: &Job, photos: &[RecordId]) -> Markup {
        html! {
            @if !photos.is_empty() {
                ul.thumbs {
                    @for id in photos { li { figure {
                        (self.one(job, id))
                        figcaption { (caption(job, id)) }
                    } } }
                }
            }
        }
    }

    fn one(&self, job: &Job, id: &RecordId) -> Markup {
        let words = caption(job, id);
        let hash = job.records.photos.get(id).and_then(hash_of);
        let picture = html! {
            @match hash.filter(|hash| self.thumbnails.contains(hash)) {
                Some(hash) => img src={ (self.path) "/thumbnail/" (hash) } alt=(words) loading="lazy";,
                None => span.waiting { "picture on its way" },
            }
        };
        html! {
            @match hash.filter(|hash| self.originals.contains(hash)) {
                Some(hash) => a href={ (self.path) "/original/" (hash) } { (picture) },
                None => (picture),
            }
        }
    }
}

fn hash_of(photo: &Record<Photo>) -> Option<PhotoHash> {
    let signed = SignedCapture::from_bytes(photo.capture.as_ref()?).ok()?;
    Some(signed.capture().ok()?.hash)
}

fn caption(job: &Job, id: &RecordId) -> String {
    let Some(photo) = job.records.photos.get(id) else {
        return "a photo that is not in the record".to_owned();
    };
    let place = photo.place.as_ref().map(|place| job.place_name(place));
    let role = photo.role.map(|role| role.to_string());
    let parts: Vec<String> = [place, role, photo.caption.clone()]
        .into_iter()
        .flatten()
        .collect();
    if parts.is_empty() {
        "a photo without a place".to_owned()
    } else {
        parts.join(", ")
    }
}

/// A record by its name, with the way to its page where it has one.
pub(in crate::serve) fn called(at: &AtJob, record: &RecordRef) -> Markup {
    let name = record_name(&at.job, record);
    html! {
        @match record_path(record) {
            Some(path) => a href={ (at.path()) (path) } { (name) },
            None => (name),
        }
    }
}
