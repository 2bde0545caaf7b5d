//! Photos of a job as small pictures that lead to their originals.

use std::collections::HashSet;
use std::sync::Arc;

use axum::response::Response;
use chalkwalk_core::job::{
    Audience, BlobKind, Capture, Job, Kind, Photo, PhotoHash, PhotoRole, RecordId, RecordRef,
    SignedCapture,
};
use chalkwalk_core::packet::overlay;
use maud::{Markup, html};

use super::at_job::AtJob;
use super::memo::Worked;
use super::words::capital;
use super::{counted, store_unwell};
use crate::hub::Hub;
use crate::store::{BlobEntry, JobStatus, StoreError};

/// The photo files that the office holds whole.
pub(in crate::serve) struct Files {
    known: HashSet<(BlobKind, PhotoHash)>,
    /// Bytes of the originals.
    pub(in crate::serve) originals: u64,
}

impl Files {
    /// Those of a job, read once for a reading of it and so many files.
    pub(in crate::serve) async fn read(
        hub: &Hub,
        status: &JobStatus,
        worked: &Worked,
    ) -> Result<Arc<Self>, StoreError> {
        // Files are only ever added, so that as many of them are the same ones.
        let (small, whole) = (status.thumbnails, status.originals);
        let with = format!("{small} thumbnails, {whole} originals");
        if let Some(files) = worked.found(&with) {
            return Ok(files);
        }
        let read = hub.records().blobs(status.job).await?;
        Ok(worked.keep(&with, Self::of(&read)))
    }

    /// Whether a file of this photo is among them.
    pub(in crate::serve) fn has(&self, kind: BlobKind, hash: PhotoHash) -> bool {
        self.known.contains(&(kind, hash))
    }

    fn of(files: &[BlobEntry]) -> Self {
        let originals = files.iter().filter(|file| file.kind == BlobKind::Original);
        Self {
            originals: originals.map(|file| file.size).sum(),
            known: files.iter().map(|file| (file.kind, file.hash)).collect(),
        }
    }
}

/// Pictures of a job, as far as their files are here.
pub(in crate::serve) struct Shots {
    path: String,
    worked: Arc<Worked>,
    pub(in crate::serve) files: Arc<Files>,
}

impl Shots {
    /// Those of a job.
    ///
    /// # Errors
    /// The whole answer where storage does not answer.
    pub(in crate::serve) async fn of(at: &AtJob) -> Result<Self, Response> {
        let worked = at.worked();
        let files = Files::read(&at.shared.hub, &at.status, &worked).await;
        Ok(Self {
            path: at.path(),
            worked,
            files: files.map_err(|error| store_unwell(&at.shared, &error))?,
        })
    }

    /// Whether the office holds a file of this photo.
    pub(in crate::serve) fn has(&self, kind: BlobKind, hash: PhotoHash) -> bool {
        self.files.has(kind, hash)
    }

    /// The small picture alone, with its marks; it says of itself what it shows.
    pub(in crate::serve) fn picture(&self, job: &Job, photo: &Photo) -> Markup {
        self.small(photo, capture(photo).as_ref(), &caption(job, photo))
    }

    fn small(&self, photo: &Photo, capture: Option<&Capture>, words: &str) -> Markup {
        match capture.filter(|capture| self.has(BlobKind::Thumbnail, capture.hash)) {
            Some(known) => html! {
                span.marked {
                    img src={ (self.path) "/thumbnail/" (known.hash) } alt=(words) loading="lazy";
                    @if let Some(marks) = overlay(photo, capture) { (marks) }
                }
            },
            None => html! { span.waiting { "picture on its way" } },
        }
    }

    /// The small picture, leading to the original where that is here.
    fn linked(&self, photo: &Photo, capture: Option<&Capture>, words: &str) -> Markup {
        let picture = self.small(photo, capture, words);
        let original = capture.filter(|capture| self.has(BlobKind::Original, capture.hash));
        html! {
            @match original {
                Some(known) => a href={ (self.path) "/original/" (known.hash) } { (picture) },
                None => (picture),
            }
        }
    }

    /// The picture with what it is, leading to the original; `below` stands under it.
    pub(in crate::serve) fn figure(&self, at: &AtJob, id: &RecordId, below: &Markup) -> Markup {
        let Some(photo) = at.job.records.photos.get(id) else {
            return html! {};
        };
        let capture = self.worked.capture(id);
        let whole = capture
            .as_ref()
            .is_some_and(|capture| self.has(BlobKind::Original, capture.hash));
        html! {
            figure id={ "photo-" (id) } {
                (self.linked(photo, capture.as_deref(), &caption(&at.job, photo)))
                figcaption {
                    b { (capital(photo.role.map_or("photo", |role| role.label()))) }
                    @if let Some(words) = &photo.caption { " " (words) }
                    @if photo.audience == Some(Audience::OfficeOnly) { span.tag { "office only" } }
                    @if let Some(taken) = capture.as_deref().and_then(Capture::taken_at) {
                        div.soft { (at.when(taken)) ", " (at.job.who(photo.made.device)) }
                    }
                    @if !whole { div.missing { "original on its way" } }
                    (below)
                }
            }
        }
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
                        @if let Some(photo) = job.records.photos.get(id) {
                            figcaption { (caption(job, photo)) }
                        }
                    } } }
                }
            }
        }
    }

    fn one(&self, job: &Job, id: &RecordId) -> Markup {
        match job.records.photos.get(id) {
            Some(photo) => {
                let capture = self.worked.capture(id);
                self.linked(photo, capture.as_deref(), &caption(job, photo))
            }
            None => html! { span.waiting { "a photo that is not in the record" } },
        }
    }
}

/// The photos that show a record, in walk order, so that each standoff comes before its close-ups.
pub(in crate::serve) fn showing(at: &AtJob, shown: &RecordRef) -> Vec<RecordId> {
    at.worked().walk().showing(shown)
}

/// The photos taken at a place, in walk order.
pub(in crate::serve) fn taken_at(at: &AtJob, place: &RecordRef) -> Vec<RecordId> {
    at.worked().walk().taken_at(place)
}

/// True for the picture that shows where something is.
pub(in crate::serve) fn from_afar(at: &AtJob, id: &RecordId) -> bool {
    let role = at.job.records.photos.get(id).and_then(|photo| photo.role);
    matches!(role, Some(PhotoRole::Standoff | PhotoRole::Overview))
}

/// What a photo is, in a line.
pub(in crate::serve) fn caption(job: &Job, photo: &Photo) -> String {
    let place = photo.place.as_ref().map(|place| job.place_name(place));
    let role = photo.role.map(|role| role.to_string());
    let parts = [place, role, photo.caption.clone()];
    let parts: Vec<String> = parts.into_iter().flatten().collect();
    if parts.is_empty() {
        "a photo without a place".to_owned()
    } else {
        parts.join(", ")
    }
}

/// A pointer to a photo.
pub(in crate::serve) fn photo_at(id: &RecordId) -> RecordRef {
    RecordRef::new(Kind::Photo, id.clone())
}

/// What the phone sealed of a photo.
pub(in crate::serve) fn capture(photo: &Photo) -> Option<Capture> {
    SignedCapture::from_bytes(photo.capture.as_ref()?)
        .ok()?
        .capture()
        .ok()
}
