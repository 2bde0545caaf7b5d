//! What one session needs of the hub.

use std::collections::BTreeSet;
use std::sync::PoisonError;

use chalkwalk_core::document::{Accepted, Admitted, ChangeRow, Document, Refusal, Table};
use chalkwalk_core::job::{
    BlobKind, BlobProgress, Certificate, DeviceId, JobId, Kind, PhotoHash, RecordRef,
    SignedCertificate,
};
use chalkwalk_core::sync::Replica;
use tokio::runtime::Handle;

use super::files::Piece;
use super::signers::Proven;
use super::{Hub, News, office_role, quarantine};
use crate::judge::Case;
use crate::store::here::wait_for;
use crate::store::{AuditKind, BlobKey, Device, PeerHolds, StoreError};

/// The side of the hub that one session speaks with. Its calls block.
pub struct HubReplica {
    hub: Hub,
    runtime: Handle,
    session: u64,
    peer: Option<Certificate>,
    /// Jobs that the peer was found to see, the one last spoken of first.
    seen: Vec<JobId>,
    proven: Proven,
}

impl HubReplica {
    pub(super) fn new(hub: Hub, runtime: Handle, session: u64) -> Self {
        Self {
            hub,
            runtime,
            session,
            peer: None,
            seen: Vec::new(),
            proven: Proven::default(),
        }
    }

    /// The number of the session, which its own [`News`] bear.
    pub fn session(&self) -> u64 {
        self.session
    }

    /// Sees that the peer was not shut out since the session began; what is known of it here.
    fn still_admitted(&self) -> Result<Option<Device>, Refusal> {
        match &self.peer {
            Some(peer) => wait_for(&self.runtime, self.hub.admits(peer)),
            None => Err(Refusal::Forbidden("no peer has shown who it is".to_owned())),
        }
    }

    fn meet(&mut self, peer: &Certificate) -> Result<Option<Device>, Refusal> {
        if self.peer.as_ref() != Some(peer) {
            self.peer = Some(peer.clone());
        }
        self.still_admitted()
    }

    /// Sees that the peer still is admitted and sees a job.
    fn must_see(&mut self, job: JobId) -> Result<(), Refusal> {
        self.still_admitted()?;
        self.must_see_once_admitted(job)
    }

    fn must_see_once_admitted(&mut self, job: JobId) -> Result<(), Refusal> {
        let sees = match &self.peer {
            Some(peer) => wait_for(&self.runtime, self.hub.sees(peer.device, peer.role, job))?,
            None => false,
        };
        self.seen.retain(|seen| *seen != job);
        if sees {
            self.seen.insert(0, job);
            return Ok(());
        }
        Err(Refusal::Forbidden(format!(
            "job {job} is not one that this device sees"
        )))
    }

    fn tell(&self, job: JobId, files: bool) {
        let session = self.session;
        self.hub.tell(News::Job {
            job,
            session,
            files,
        });
    }

    /// Whether a photo is one of a job that the peer sees.
    fn sees_photo(&mut self, hash: PhotoHash) -> Result<bool, Refusal> {
        if self
            .peer
            .as_ref()
            .is_some_and(|peer| office_role(peer.role))
        {
            return Ok(true);
        }
        if self.is_described(hash)? {
            return Ok(true);
        }
        // What was recorded a moment ago may not be written down yet.
        for job in &self.seen {
            wait_for(&self.runtime, self.hub.freshen(*job))?;
        }
        self.is_described(hash)
    }

    fn is_described(&mut self, hash: PhotoHash) -> Result<bool, Refusal> {
        for (at, job) in self.seen.iter().enumerate() {
            let found = self.hub.records().photo(*job, hash);
            if wait_for(&self.runtime, found)?.is_some() {
                self.seen[..=at].rotate_right(1);
                return Ok(true);
            }
        }
        Ok(false)
    }

    /// Keeps a refused batch where somebody can look at it.
    fn put_aside(&self, device: DeviceId, job: JobId, refusal: &Refusal, batch: &[ChangeRow]) {
        let Some(quarantine) = &self.hub.0.quarantine else {
            return;
        };
        if !quarantine::worth_a_look(refusal) {
            return;
        }
        let kept = quarantine.keep(self.hub.now(), device, job, &refusal.to_string(), batch);
        if let Err(error) = kept {
            tracing::warn!(%job, %error, "a refused batch could not be put aside");
        }
    }

    fn judge(
        &mut self,
        job: JobId,
        batch: &[ChangeRow],
        certificates: &[SignedCertificate],
        peer: Option<Device>,
    ) -> Result<Judged, Refusal> {
        let hub = &self.hub;
        let desk = hub.0.desks.of(job);
        let mut desk = desk.lock().unwrap_or_else(PoisonError::into_inner);
        let authors: BTreeSet<DeviceId> = batch.iter().map(|row| row.author.device).collect();
        let proven = &mut self.proven;
        let signers = hub.signers(&authors, certificates, peer, proven);
        let signers = wait_for(&self.runtime, signers)?;
        let document = wait_for(&self.runtime, hub.take_document(&mut desk, job))?;
        let case = Case {
            job,
            batch,
            keys: &signers.keys,
            roles: &signers.roles,
        };
        let Admitted {
            document,
            rows,
            touched,
        } = match hub
            .judge()
            .judge((hub.office().company().id, job), document, &case)
        {
            Ok(admitted) => admitted,
            Err((document, refusal)) => {
                // It is as it was.
                *desk = Some(*document);
                return Err(refusal);
            }
        };
        let appended = wait_for(&self.runtime, async {
            hub.records()
                .append(job, &rows, &signers.new, hub.now())
                .await
        })?;
        let held = held_of(&document, batch);
        let new = appended.new_changes;
        if new > 0 {
            wait_for(&self.runtime, hub.after_append(job, &document, new));
        }
        *desk = Some(document);
        let photos = |at: &RecordRef| at.kind == Kind::Photo;
        Ok(Judged {
            accepted: Accepted {
                held,
                new_changes: new,
            },
            // Where too many were touched to tell, photos may be among them.
            files: touched.is_empty() || touched.iter().any(photos),
        })
    }
}

/// What came of a batch, and whether it may have named photos.
struct Judged {
    accepted: Accepted,
    files: bool,
}

fn held_of(document: &Document, batch: &[ChangeRow]) -> Table {
    let table = document.table();
    batch
        .iter()
        .filter_map(|row| Some((row.author, *table.get(&row.author)?)))
        .collect()
}

impl Replica for HubReplica {
    fn jobs(&mut self, peer: &Certificate) -> Result<Vec<JobId>, Refusal> {
        self.meet(peer)?;
        let jobs = wait_for(&self.runtime, self.hub.jobs_of(peer.device, peer.role))?;
        self.seen.clone_from(&jobs);
        Ok(jobs)
    }

    fn may_exchange(&mut self, peer: &Certificate, job: JobId) -> Result<bool, Refusal> {
        self.meet(peer)?;
        match self.must_see_once_admitted(job) {
            Ok(()) => Ok(true),
            Err(Refusal::Forbidden(_)) => Ok(false),
            Err(refusal) => Err(refusal),
        }
    }

    fn table(&mut self, job: JobId) -> Result<Table, Refusal> {
        Ok(wait_for(&self.runtime, self.hub.records().table(job))?)
    }

    fn lacking(
        &mut self,
        job: JobId,
        peer: &Table,
        max_bytes: usize,
    ) -> Result<Vec<ChangeRow>, Refusal> {
        self.must_see(job)?;
        Ok(wait_for(
            &self.runtime,
            self.hub.records().lacking(job, peer, max_bytes),
        )?)
    }

    fn certificates(&mut self, devices: &[DeviceId]) -> Result<Vec<SignedCertificate>, Refusal> {
        Ok(wait_for(
            &self.runtime,
            self.hub.records().certificates(devices),
        )?)
    }

    fn accept(
        &mut self,
        peer: &Certificate,
        job: JobId,
        batch: Vec<ChangeRow>,
        certificates: &[SignedCertificate],
    ) -> Result<Accepted, Refusal> {
        let known = self.meet(peer)?;
        self.must_see_once_admitted(job)?;
        wait_for(&self.runtime, self.hub.room_for_job(job))?;
        match self.judge(job, &batch, certificates, known) {
            Ok(Judged { accepted, files }) => {
                if accepted.new_changes > 0 {
                    self.tell(job, files);
                }
                Ok(accepted)
            }
            Err(refusal) => {
                if matches!(refusal, Refusal::Storage(_)) {
                    // The word that it was kept may be all that was lost.
                    self.tell(job, true);
                }
                tracing::warn!(%job, device = %peer.device, %refusal, "a batch was refused");
                self.put_aside(peer.device, job, &refusal, &batch);
                let noted = wait_for(
                    &self.runtime,
                    self.hub.audit(
                        AuditKind::Refused,
                        Some(peer.device),
                        Some(job),
                        &refusal.to_string(),
                    ),
                );
                if let Err(error) = noted {
                    tracing::warn!(error = error.chain(), "a refusal could not be written down");
                }
                Err(refusal)
            }
        }
    }

    fn wanted(&mut self, job: JobId, kind: BlobKind) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        wait_for(&self.runtime, self.hub.wanted(job, kind))
    }

    fn blob_size(&mut self, kind: BlobKind, hash: PhotoHash) -> Result<Option<u64>, Refusal> {
        if !self.sees_photo(hash)? {
            return Ok(None);
        }
        let file = wait_for(
            &self.runtime,
            self.hub.records().blob(BlobKey { kind, hash }),
        )?;
        Ok(file.map(|file| file.size))
    }

    fn read_blob(
        &mut self,
        kind: BlobKind,
        hash: PhotoHash,
        offset: u64,
        max: usize,
    ) -> Result<Vec<u8>, Refusal> {
        self.still_admitted()?;
        if !self.sees_photo(hash)? {
            return Err(Refusal::Forbidden(
                "a photo of a job that this device does not see".to_owned(),
            ));
        }
        let key = BlobKey { kind, hash };
        Ok(wait_for(
            &self.runtime,
            self.hub.blobs().range(key, offset, max),
        )?)
    }

    fn write_blob(
        &mut self,
        job: JobId,
        kind: BlobKind,
        hash: PhotoHash,
        size: u64,
        offset: u64,
        bytes: &[u8],
    ) -> Result<BlobProgress, Refusal> {
        self.must_see(job)?;
        let progress = self.hub.keep_piece(
            &self.runtime,
            &Piece {
                job,
                key: BlobKey { kind, hash },
                size,
                offset,
                bytes,
            },
        )?;
        if progress.complete {
            self.tell(job, true);
        }
        Ok(progress)
    }

    fn note_peer_holds(&mut self, peer: DeviceId, job: JobId, held: &Table) -> Result<(), Refusal> {
        let holds = PeerHolds {
            device: peer,
            table: held.clone(),
            at: self.hub.now(),
        };
        let noted: Result<(), StoreError> =
            wait_for(&self.runtime, self.hub.records().note_peer(job, &holds));
        Ok(noted?)
    }

    fn note_peer_holds_blob(
        &mut self,
        _peer: DeviceId,
        _kind: BlobKind,
        _hash: PhotoHash,
    ) -> Result<(), Refusal> {
        // The office keeps every file for good, whoever else holds it.
        Ok(())
    }
}
