//! Photos: the file first, then the record of it.

use std::collections::BTreeMap;
use std::path::Path;

use serde_bytes::ByteBuf;

use super::{Notebook, NotebookError};
use crate::document::Action;
use crate::env::EnvIds;
use crate::job::{
    Audience, BlobKind, Capture, JobId, Photo, PhotoHash, PhotoRole, Place, RecordId, RecordRef,
    SignedCapture,
};
use crate::journal::JournalError;
use crate::photo::PhotoWarning;
use crate::sorted::Keyed;

/// What the crew says of a photo when it is added.
#[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct PhotoNote {
    /// What it is for.
    pub role: Option<PhotoRole>,
    /// Where it was taken.
    pub place: Option<Place>,
    /// Words below it.
    pub caption: Option<String>,
    /// Who may see it.
    pub audience: Option<Audience>,
    /// Place from left to right, 1 at the left end.
    pub from_left: Option<u32>,
    /// The records it shows.
    pub shows: Vec<RecordRef>,
}

/// A photo that was added.
#[derive(Clone, Debug)]
pub struct AddedPhoto {
    /// Its record.
    pub record: RecordRef,
    /// What is fixed about it.
    pub capture: Capture,
    /// What may be wrong with it.
    pub warnings: Vec<PhotoWarning>,
    /// The job had this very file already; its record is given and nothing was added.
    pub known: bool,
}

impl Notebook {
    /// Takes in a photo: copies and hashes the file, signs its capture, and adds its record. File
    /// and record are on the disk when this returns.
    pub fn add_photo(
        &mut self,
        job: JobId,
        file: &Path,
        note: PhotoNote,
    ) -> Result<AddedPhoto, NotebookError> {
        self.add_photo_as(job, None, file, note)
    }

    /// As [`Notebook::add_photo`], with an id of the caller's for the record.
    pub fn add_photo_as(
        &mut self,
        job: JobId,
        id: Option<RecordId>,
        file: &Path,
        note: PhotoNote,
    ) -> Result<AddedPhoto, NotebookError> {
        let now = self.env.now();
        let taken = self.photos.intake(file, self.identity.device, now)?;
        let capture = taken.capture;
        if let Some(id) = self.photo_record(job, capture.hash)? {
            let record = RecordRef::new(crate::job::Kind::Photo, id);
            return Ok(AddedPhoto {
                record,
                capture,
                warnings: taken.warnings,
                known: true,
            });
        }
        let signed = SignedCapture::sign(&capture, &self.identity.key)
            .and_then(|signed| signed.to_bytes())
            .map_err(|error| JournalError::Value(error.to_string()))?;
        let photo = Photo {
            capture: Some(ByteBuf::from(signed)),
            role: note.role,
            place: note.place,
            caption: note.caption,
            audience: note.audience,
            from_left: note.from_left,
            marks: None,
        };
        let id = id.unwrap_or_else(|| self.env.record_id());
        let action = Action::Add {
            id,
            record: photo.into(),
            hits: None,
            shows: note.shows,
        };
        let record = self.act(job, &action)?.record;
        Ok(AddedPhoto {
            record,
            capture,
            warnings: taken.warnings,
            known: false,
        })
    }

    /// The record of a photo in a job, by the hash of its file.
    pub fn photo_record(
        &mut self,
        job: JobId,
        hash: PhotoHash,
    ) -> Result<Option<RecordId>, NotebookError> {
        let found = captures(self.job(job)?).find(|(_, capture)| capture.hash == hash);
        Ok(found.map(|(id, _)| id.clone()))
    }

    /// The photo files that a job names, in walk order, with their sizes. Struck photos come last:
    /// they stay in the record, and so do their files.
    pub(super) fn photo_files(
        &mut self,
        job: JobId,
    ) -> Result<&Vec<(PhotoHash, u64)>, NotebookError> {
        self.ensure_open(job, false)?;
        let open = self
            .open
            .get_mut(&job)
            .ok_or(NotebookError::NoSuchJob(job))?;
        let changes = open.document.changes();
        if open.files.as_ref().is_none_or(|(at, _)| *at != changes) {
            let hydrated = open.document.job();
            let mut known: BTreeMap<&RecordId, Capture> = captures(hydrated).keyed();
            let mut files = Vec::with_capacity(known.len());
            for id in crate::photo::walk_order(hydrated) {
                files.extend(
                    known
                        .remove(&id)
                        .map(|capture| (capture.hash, capture.size)),
                );
            }
            files.extend(
                known
                    .into_values()
                    .map(|capture| (capture.hash, capture.size)),
            );
            open.files = Some((changes, files));
        }
        open.files
            .as_ref()
            .map(|(_, files)| files)
            .ok_or(NotebookError::NoSuchJob(job))
    }

    /// Photos of a job whose original is not on this device, with how many of its bytes are.
    pub fn missing_originals(
        &mut self,
        job: JobId,
    ) -> Result<Vec<(RecordId, PhotoHash, u64)>, NotebookError> {
        let known: Vec<(RecordId, PhotoHash)> = captures(self.job(job)?)
            .map(|(id, capture)| (id.clone(), capture.hash))
            .collect();
        let mut missing = Vec::new();
        for (id, hash) in known {
            if self.photos.have(BlobKind::Original, hash)?.is_none() {
                missing.push((id, hash, self.photos.held(BlobKind::Original, hash)?));
            }
        }
        Ok(missing)
    }
}

/// The captures of a job's photos, struck ones included.
pub(super) fn captures(job: &crate::job::Job) -> impl Iterator<Item = (&RecordId, Capture)> {
    job.records.photos.iter().filter_map(|(id, photo)| {
        let bytes = photo.capture.as_ref()?;
        Some((id, SignedCapture::from_bytes(bytes).ok()?.capture().ok()?))
    })
}
