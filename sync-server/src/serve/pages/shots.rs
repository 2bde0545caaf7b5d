//! Photos of a job as small pictures that lead to their originals.

use std::collections::BTreeSet;

use axum::response::Response;
use chalkwalk_core::job::{
    Audience, BlobKind, Capture, Kind, Photo, PhotoHash, PhotoRole, RecordId, RecordRef,
    SignedCapture,
};
use chalkwalk_core::photo::walk_order_of;
use maud::{Markup, html};

use super::at_job::AtJob;
use super::words::capital;

/// The photo files that the office holds whole.
pub(in crate::serve) struct Shots(BTreeSet<(BlobKind, PhotoHash)>);

impl Shots {
    pub(in crate::serve) async fn of(at: &AtJob) -> Result<Self, Response> {
        let whole = at.shared.hub.records().blobs(at.id).await;
        let whole = whole.map_err(|error| super::store_unwell(&at.shared, &error))?;
        Ok(Self(
            whole.iter().map(|file| (file.kind, file.hash)).collect(),
        ))
    }

    /// Whether the office holds a file of this photo.
    pub(in crate::serve) fn has(&self, kind: BlobKind, hash: PhotoHash) -> bool {
        self.0.contains(&(kind, hash))
    }

    /// The small picture alone; it says of itself what it shows.
    pub(in crate::serve) fn picture(&self, at: &AtJob, photo: &Photo) -> Markup {
        let words = caption(at, photo);
        match capture(photo) {
            Some(capture) if self.has(BlobKind::Thumbnail, capture.hash) => html! {
                img src={ (at.path()) "/thumbnail/" (capture.hash) } alt=(words) loading="lazy";
            },
            _ => html! { div.waiting { "picture on its way" } },
        }
    }

    /// The picture with what it is, leading to the original; `below` stands under it.
    pub(in crate::serve) fn figure(&self, at: &AtJob, id: &RecordId, below: &Markup) -> Markup {
        let Some(photo) = at.job.records.photos.get(id) else {
            return html! {};
        };
        let capture = capture(photo);
        let original = capture
            .as_ref()
            .map(|capture| capture.hash)
            .filter(|hash| self.has(BlobKind::Original, *hash));
        let picture = self.picture(at, photo);
        html! {
            figure id={ "photo-" (id) } {
                @match original {
                    Some(hash) => a href={ (at.path()) "/original/" (hash) } { (picture) },
                    None => (picture),
                }
                figcaption {
                    b { (capital(photo.role.map_or("photo", |role| role.label()))) }
                    @if let Some(words) = &photo.caption { " " (words) }
                    @if photo.audience == Some(Audience::OfficeOnly) { span.tag { "office only" } }
                    @if let Some(taken) = capture.as_ref().and_then(Capture::taken_at) {
                        div.soft { (at.when(taken)) ", " (at.job.who(photo.made.device)) }
                    }
                    @if original.is_none() { div.missing { "original on its way" } }
                    (below)
                }
            }
        }
    }
}

/// The photos that show a record, in walk order, so that each standoff comes before its close-ups.
pub(in crate::serve) fn showing(at: &AtJob, shown: &RecordRef) -> Vec<RecordId> {
    walk_order_of(&at.job, at.job.photos_of(shown).map(|(id, _)| id))
}

/// The photos taken at a place, in walk order.
pub(in crate::serve) fn taken_at(at: &AtJob, place: &RecordRef) -> Vec<RecordId> {
    let photos = at.job.records.photos.iter();
    let here = photos.filter(|(_, photo)| photo.place.as_ref() == Some(place));
    walk_order_of(&at.job, here.map(|(id, _)| id))
}

/// True for the picture that shows where something is.
pub(in crate::serve) fn from_afar(at: &AtJob, id: &RecordId) -> bool {
    let role = at.job.records.photos.get(id).and_then(|photo| photo.role);
    matches!(role, Some(PhotoRole::Standoff | PhotoRole::Overview))
}

/// What a photo is, in a line.
pub(in crate::serve) fn caption(at: &AtJob, photo: &Photo) -> String {
    let place = photo.place.as_ref().map(|place| at.job.place_name(place));
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

fn capture(photo: &Photo) -> Option<Capture> {
    SignedCapture::from_bytes(photo.capture.as_ref()?)
        .ok()?
        .capture()
        .ok()
}
