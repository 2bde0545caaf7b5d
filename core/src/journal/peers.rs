//! What other devices said they hold durably, and the certificates of devices.

use rusqlite::{OptionalExtension, params};
use serde::{Deserialize, Serialize};

use super::{Journal, JournalError};
use crate::document::{Author, Table};
use crate::job::{BlobKind, Certificate, DeviceId, JobId, PhotoHash, Role, SignedCertificate};

/// How far a peer said it holds each author's changes.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct PeerHolds {
    /// By author: the number of the last change.
    pub changes: Vec<(DeviceId, [u8; 8], u64)>,
}

impl Journal {
    /// Notes that a peer holds changes.
    pub fn note_peer_changes(
        &mut self,
        peer: DeviceId,
        job: JobId,
        held: &Table,
    ) -> Result<(), JournalError> {
        let tx = self.db.transaction()?;
        {
            let mut upsert = tx.prepare_cached(
                "INSERT INTO peer_changes (peer, job, author, number) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (peer, job, author) DO UPDATE SET number = max(number, excluded.number)",
            )?;
            for (author, held) in held {
                let number = i64::try_from(held.number).unwrap_or(i64::MAX);
                upsert.execute(params![
                    peer.as_bytes(),
                    job.as_bytes(),
                    author.to_bytes(),
                    number
                ])?;
            }
        }
        tx.commit()?;
        Ok(())
    }

    /// What a peer said it holds of a job.
    pub fn peer_changes(&self, peer: DeviceId, job: JobId) -> Result<PeerHolds, JournalError> {
        let mut query = self.db.prepare_cached(
            "SELECT author, number FROM peer_changes WHERE peer = ?1 AND job = ?2 ORDER BY author",
        )?;
        let mut rows = query.query(params![peer.as_bytes(), job.as_bytes()])?;
        let mut holds = PeerHolds::default();
        while let Some(row) = rows.next()? {
            let author: Vec<u8> = row.get(0)?;
            let number: i64 = row.get(1)?;
            if let Some(author) = Author::from_bytes(&author) {
                let number = u64::try_from(number).unwrap_or(0);
                holds.changes.push((author.device, author.nonce, number));
            }
        }
        Ok(holds)
    }

    /// Notes that a peer holds a file whole.
    pub fn note_peer_photo(
        &self,
        peer: DeviceId,
        kind: BlobKind,
        hash: PhotoHash,
    ) -> Result<(), JournalError> {
        self.db
            .prepare_cached(
                "INSERT OR IGNORE INTO peer_photos (peer, kind, hash) VALUES (?1, ?2, ?3)",
            )?
            .execute(params![peer.as_bytes(), kind_number(kind), hash.as_bytes()])?;
        Ok(())
    }

    /// Whether a peer said it holds a file whole.
    pub fn peer_has_photo(
        &self,
        peer: DeviceId,
        kind: BlobKind,
        hash: PhotoHash,
    ) -> Result<bool, JournalError> {
        let mut query = self.db.prepare_cached(
            "SELECT 1 FROM peer_photos WHERE peer = ?1 AND kind = ?2 AND hash = ?3",
        )?;
        Ok(query.exists(params![peer.as_bytes(), kind_number(kind), hash.as_bytes()])?)
    }

    /// Notes who a peer is, as its checked certificate says.
    pub fn note_peer(&self, peer: &Certificate) -> Result<(), JournalError> {
        let office = peer.role == Role::Office;
        self.db
            .prepare_cached(
                "INSERT INTO peers (device, name, office) VALUES (?1, ?2, ?3)
                 ON CONFLICT (device) DO UPDATE SET name = excluded.name, office = excluded.office",
            )?
            .execute(params![peer.device.as_bytes(), peer.device_name, office])?;
        Ok(())
    }

    /// Name of a peer and whether it is the office; `None` for one that was never met.
    pub fn peer(&self, device: DeviceId) -> Result<Option<(String, bool)>, JournalError> {
        let mut query = self
            .db
            .prepare_cached("SELECT name, office FROM peers WHERE device = ?1")?;
        let found = query.query_row([device.as_bytes()], |row| Ok((row.get(0)?, row.get(1)?)));
        Ok(found.optional()?)
    }

    /// The devices that said they hold something.
    pub fn peers(&self) -> Result<Vec<DeviceId>, JournalError> {
        let mut query = self.db.prepare_cached(
            "SELECT peer FROM peer_changes UNION SELECT peer FROM peer_photos ORDER BY 1",
        )?;
        let rows = query.query_map([], |row| row.get::<_, [u8; 16]>(0))?;
        rows.map(|id| Ok(DeviceId::from_bytes(id?))).collect()
    }

    /// Keeps a certificate that was checked.
    pub fn keep_certificate(
        &self,
        device: DeviceId,
        certificate: &SignedCertificate,
    ) -> Result<(), JournalError> {
        let data = rmp_serde::to_vec(certificate)
            .map_err(|error| JournalError::Value(error.to_string()))?;
        self.db
            .prepare_cached(
                "INSERT INTO certificates (device, data) VALUES (?1, ?2)
             ON CONFLICT (device) DO UPDATE SET data = excluded.data",
            )?
            .execute(params![device.as_bytes(), data])?;
        Ok(())
    }

    /// The certificate of a device, where it is known.
    pub fn certificate(&self, device: DeviceId) -> Result<Option<SignedCertificate>, JournalError> {
        let mut query = self
            .db
            .prepare_cached("SELECT data FROM certificates WHERE device = ?1")?;
        let mut rows = query.query([device.as_bytes()])?;
        let Some(row) = rows.next()? else {
            return Ok(None);
        };
        let data: Vec<u8> = row.get(0)?;
        rmp_serde::from_slice(&data)
            .map(Some)
            .map_err(|error| JournalError::Value(error.to_string()))
    }
}

const fn kind_number(kind: BlobKind) -> i64 {
    match kind {
        BlobKind::Thumbnail => 0,
        BlobKind::Original => 1,
    }
}
