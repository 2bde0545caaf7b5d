//! Invented changes and devices.

use chalkwalk_core::document::{Author, ChangeRow, Held, Table};
use chalkwalk_core::job::{DeviceId, JobId, SignedCertificate};
use chalkwalk_sync_server::store::{Code, Device};

pub(crate) fn job(n: u8) -> JobId {
    JobId::from_bytes([n; 16])
}

pub(crate) fn author(n: u8) -> Author {
    Author {
        device: DeviceId::from_bytes([n; 16]),
        nonce: [n; 8],
    }
}

/// A change of 100 bytes whose hash follows from its name.
pub(crate) fn row(author: Author, number: u64, signed: bool) -> ChangeRow {
    let mut name = author.to_bytes().to_vec();
    name.extend_from_slice(&number.to_be_bytes());
    let hash = *blake3::hash(&name).as_bytes();
    ChangeRow {
        author,
        number,
        hash,
        bytes: hash.iter().copied().cycle().take(100).collect(),
        signature: signed.then_some([author.nonce[0]; 64]),
    }
}

pub(crate) fn table(rows: &[ChangeRow]) -> Table {
    let mut table = Table::new();
    for row in rows {
        let held = Held {
            number: row.number,
            short_hash: row.hash[..8].try_into().unwrap(),
        };
        table.insert(row.author, held);
    }
    table
}

pub(crate) fn device(n: u8) -> Device {
    Device {
        id: DeviceId::from_bytes([n; 16]),
        key: [n; 32],
        certificate: SignedCertificate {
            body: vec![n; 40],
            signature: vec![n; 64],
        },
        known_since: 10,
        revoked_at: None,
    }
}

pub(crate) fn code(n: u8, expires_at: i64) -> Code {
    Code {
        hash: [n; 32],
        role: chalkwalk_core::job::Role::Crew,
        person: "Ada".into(),
        made_at: 1,
        expires_at,
    }
}
