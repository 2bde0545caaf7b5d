//! Originals that the office has yet to acknowledge, for a shell that uploads them itself.

use super::photos::captures;
use super::{Notebook, NotebookError};
use crate::job::{BlobKind, DeviceId, JobId, PhotoHash};

impl Notebook {
    /// Originals of a job that are whole here and that the office never said it holds, in walk
    /// order, with their sizes.
    pub fn originals_to_upload(
        &mut self,
        job: JobId,
    ) -> Result<Vec<(PhotoHash, u64)>, NotebookError> {
        let mut due = Vec::new();
        for (hash, size) in self.photo_files(job)?.clone() {
            let here = self.photos.have(BlobKind::Original, hash)? == Some(size);
            if here && !self.original_safe_at_office(hash)? {
                due.push((hash, size));
            }
        }
        Ok(due)
    }

    /// The office said outside a session that it holds an original whole and durably: its answer
    /// to an upload. False where no job here has the photo with so many bytes, or no session with
    /// the office has taken place; nothing is noted then.
    pub fn note_original_at_office(
        &mut self,
        job: JobId,
        hash: PhotoHash,
        size: u64,
    ) -> Result<bool, NotebookError> {
        let ours = captures(self.job(job)?)
            .any(|(_, capture)| capture.hash == hash && capture.size == size);
        let Some(office) = self.office_device()?.filter(|_| ours) else {
            return Ok(false);
        };
        self.journal
            .note_peer_photo(office, BlobKind::Original, hash)?;
        Ok(true)
    }

    fn office_device(&self) -> Result<Option<DeviceId>, NotebookError> {
        for device in self.journal.peers()? {
            if self.journal.peer(device)?.is_some_and(|(_, office)| office) {
                return Ok(Some(device));
            }
        }
        Ok(None)
    }
}
