//! How ids and tables stand in the columns of every database.

use chalkwalk_core::document::{Author, Held, Table};
use chalkwalk_core::job::{BlobKind, DeviceId, Role};

use super::StoreError;

pub(super) fn fixed<const N: usize>(value: &[u8]) -> Result<[u8; N], StoreError> {
    value
        .try_into()
        .map_err(|_| StoreError::Corrupt("a column of the wrong length"))
}

/// A count, as the databases' whole numbers are signed.
pub(super) fn unsigned(value: i64) -> Result<u64, StoreError> {
    u64::try_from(value).map_err(|_| StoreError::Corrupt("a count below zero"))
}

pub(super) fn signed(value: u64) -> Result<i64, StoreError> {
    i64::try_from(value).map_err(|_| StoreError::Limit("a number past what the database holds"))
}

pub(super) fn author_of(bytes: &[u8]) -> Result<Author, StoreError> {
    Author::from_bytes(bytes).ok_or(StoreError::Corrupt("an author"))
}

/// The first and the last author that a device may have, as columns hold and order them.
pub(super) fn authors_of(device: DeviceId) -> ([u8; 24], [u8; 24]) {
    let (mut from, mut to) = ([0; 24], [0xff; 24]);
    from[..16].copy_from_slice(device.as_bytes());
    to[..16].copy_from_slice(device.as_bytes());
    (from, to)
}

pub(super) fn role(code: &str) -> Result<Role, StoreError> {
    Role::from_code(code).ok_or(StoreError::Corrupt("a role of a newer version"))
}

pub(super) const fn kind(kind: BlobKind) -> &'static str {
    match kind {
        BlobKind::Thumbnail => "thumbnail",
        BlobKind::Original => "original",
    }
}

pub(crate) fn kind_of(code: &str) -> Result<BlobKind, StoreError> {
    match code {
        "thumbnail" => Ok(BlobKind::Thumbnail),
        "original" => Ok(BlobKind::Original),
        _ => Err(StoreError::Corrupt("a kind of file of a newer version")),
    }
}

const HELD_BYTES: usize = 24 + 8 + 8;

/// A table as bytes: author, number, short hash, each of fixed length.
pub(super) fn table_to_bytes(table: &Table) -> Vec<u8> {
    let mut bytes = Vec::with_capacity(table.len() * HELD_BYTES);
    for (author, held) in table {
        bytes.extend_from_slice(&author.to_bytes());
        bytes.extend_from_slice(&held.number.to_be_bytes());
        bytes.extend_from_slice(&held.short_hash);
    }
    bytes
}

pub(super) fn table_from_bytes(bytes: &[u8]) -> Result<Table, StoreError> {
    let mut table = Table::new();
    for held in bytes.chunks(HELD_BYTES) {
        let held: [u8; HELD_BYTES] = fixed(held)?;
        table.insert(
            author_of(&held[..24])?,
            Held {
                number: u64::from_be_bytes(fixed(&held[24..32])?),
                short_hash: fixed(&held[32..])?,
            },
        );
    }
    Ok(table)
}
