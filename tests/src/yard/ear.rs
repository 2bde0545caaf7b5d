//! The device's side of a session that keeps what comes in memory and judges nothing, so that
//! benches measure the server.

use chalkwalk_core::document::{Accepted, ChangeRow, Held, Refusal, Table};
use chalkwalk_core::job::{
    BlobKind, BlobProgress, Certificate, DeviceId, JobId, PhotoHash, SignedCertificate,
};
use chalkwalk_core::sync::Replica;

/// Changes of one job in memory.
pub struct Ear {
    /// The job.
    pub job: JobId,
    /// The changes that are held, in causal order.
    pub rows: Vec<ChangeRow>,
    /// The certificate of whoever wrote them.
    pub signed: SignedCertificate,
}

impl Ear {
    fn held(&self) -> Table {
        let mut table = Table::new();
        for row in &self.rows {
            let mut short_hash = [0; 8];
            short_hash.copy_from_slice(&row.hash[..8]);
            let number = row.number;
            table.insert(row.author, Held { number, short_hash });
        }
        table
    }
}

impl Replica for Ear {
    fn jobs(&mut self, _: &Certificate) -> Result<Vec<JobId>, Refusal> {
        Ok(if self.rows.is_empty() {
            Vec::new()
        } else {
            vec![self.job]
        })
    }

    fn may_exchange(&mut self, _: &Certificate, job: JobId) -> Result<bool, Refusal> {
        Ok(job == self.job)
    }

    fn table(&mut self, _: JobId) -> Result<Table, Refusal> {
        Ok(self.held())
    }

    fn lacking(&mut self, _: JobId, peer: &Table, max: usize) -> Result<Vec<ChangeRow>, Refusal> {
        let (mut bytes, mut rows) = (0, Vec::new());
        for row in &self.rows {
            let theirs = peer.get(&row.author).map_or(0, |held| held.number);
            if row.number > theirs {
                bytes += row.bytes.len();
                if bytes > max && !rows.is_empty() {
                    break;
                }
                rows.push(row.clone());
            }
        }
        Ok(rows)
    }

    fn certificates(&mut self, _: &[DeviceId]) -> Result<Vec<SignedCertificate>, Refusal> {
        Ok(vec![self.signed.clone()])
    }

    fn accept(
        &mut self,
        _: &Certificate,
        _: JobId,
        batch: Vec<ChangeRow>,
        _: &[SignedCertificate],
    ) -> Result<Accepted, Refusal> {
        let new_changes = batch.len();
        self.rows.extend(batch);
        Ok(Accepted {
            held: self.held(),
            new_changes,
        })
    }

    fn wanted(&mut self, _: JobId, _: BlobKind) -> Result<Vec<(PhotoHash, u64)>, Refusal> {
        Ok(Vec::new())
    }

    fn blob_size(&mut self, _: BlobKind, _: PhotoHash) -> Result<Option<u64>, Refusal> {
        Ok(None)
    }

    fn read_blob(
        &mut self,
        _: BlobKind,
        _: PhotoHash,
        _: u64,
        _: usize,
    ) -> Result<Vec<u8>, Refusal> {
        Ok(Vec::new())
    }

    fn write_blob(
        &mut self,
        _: JobId,
        _: BlobKind,
        _: PhotoHash,
        _: u64,
        _: u64,
        _: &[u8],
    ) -> Result<BlobProgress, Refusal> {
        Err(Refusal::Malformed("no file was asked for".to_owned()))
    }

    fn note_peer_holds(&mut self, _: DeviceId, _: JobId, _: &Table) -> Result<(), Refusal> {
        Ok(())
    }

    fn note_peer_holds_blob(
        &mut self,
        _: DeviceId,
        _: BlobKind,
        _: PhotoHash,
    ) -> Result<(), Refusal> {
        Ok(())
    }
}
