//! Whether records are in order: every change hashes to its name, every author counts without
//! gaps, every signature is of the device that is named.

use std::collections::BTreeMap;

use chalkwalk_core::document::{Author, check_change_signature, parse_change};
use chalkwalk_core::job::{DeviceId, PhotoHash};
use ed25519_dalek::VerifyingKey;

use super::{Carried, CarryError};
use crate::store::tables::{BLOB, CHANGE, Row, TABLES, as_bytes, as_number, as_text, device_key};
use crate::store::{BlobEntry, StoreError, WholeFile, kind_of};

/// Goes through records row by row.
#[derive(Default)]
pub(super) struct Check {
    keys: BTreeMap<DeviceId, VerifyingKey>,
    job: Vec<u8>,
    next_place: i64,
    numbers: BTreeMap<Author, u64>,
    pub(super) jobs: u64,
    pub(super) changes: u64,
}

fn wrong(words: impl Into<String>) -> CarryError {
    CarryError::NotInOrder(words.into())
}

impl Check {
    /// Learns the devices' keys, before any change.
    pub(super) fn device(&mut self, row: &Row) -> Result<(), CarryError> {
        let (id, key) = device_key(row).ok_or_else(|| wrong("a device cannot be read"))?;
        let key = VerifyingKey::from_bytes(&key)
            .map_err(|_| wrong(format!("the key of device {id} cannot be read")))?;
        self.keys.insert(id, key);
        Ok(())
    }

    /// Takes the next change, in the order of job and place.
    pub(super) fn change(&mut self, row: &Row) -> Result<(), CarryError> {
        let job = as_bytes(row, 0).unwrap_or_default();
        if self.job != job || self.changes == 0 {
            self.job = job.to_vec();
            self.next_place = 0;
            self.numbers.clear();
            self.jobs += 1;
        }
        let place = as_number(row, 1);
        if place != Some(self.next_place) {
            return Err(self.off("a change is missing"));
        }
        let bytes = as_bytes(row, 6).unwrap_or_default();
        let read = parse_change(bytes).map_err(|error| self.off(&error.to_string()))?;
        let named = as_bytes(row, 4) == Some(&read.hash)
            && as_bytes(row, 2) == Some(read.author.to_bytes().as_slice())
            && as_number(row, 3).and_then(|n| u64::try_from(n).ok()) == Some(read.number);
        if !named {
            return Err(self.off("a change is not what its row names"));
        }
        let last = self.numbers.insert(read.author, read.number).unwrap_or(0);
        if read.number != last + 1 {
            return Err(self.off("the numbers of an author have a gap"));
        }
        if let Some(signature) = as_bytes(row, 5) {
            let signature: [u8; 64] = signature
                .try_into()
                .map_err(|_| self.off("a signature cannot be read"))?;
            let signed = self
                .keys
                .get(&read.author.device)
                .is_some_and(|key| check_change_signature(key, &read.hash, &signature));
            if !signed {
                return Err(self.off("a signature is not of the device that is named"));
            }
        }
        self.next_place += 1;
        self.changes += 1;
        Ok(())
    }

    fn off(&self, words: &str) -> CarryError {
        let job: String = self.job.iter().map(|byte| format!("{byte:02x}")).collect();
        wrong(format!(
            "job {job}, change {}: {words}",
            self.next_place + 1
        ))
    }
}

/// A row of the files that are whole.
pub(super) fn blob(row: &Row) -> Result<BlobEntry, CarryError> {
    let unread = || wrong("a row of the files cannot be read");
    let hash: [u8; 32] = as_bytes(row, 1)
        .and_then(|hash| hash.try_into().ok())
        .ok_or_else(unread)?;
    let size = as_number(row, 2).and_then(|size| u64::try_from(size).ok());
    Ok(BlobEntry {
        kind: kind_of(as_text(row, 0).unwrap_or_default()).map_err(CarryError::Store)?,
        hash: PhotoHash::from_bytes(hash),
        size: size.ok_or_else(unread)?,
    })
}

/// Checks a whole database file.
pub(super) fn records(file: &WholeFile) -> Result<(Carried, Vec<BlobEntry>), CarryError> {
    file.check()?;
    let mut check = Check::default();
    let mut carried = Carried::default();
    let mut blobs = Vec::new();
    let mut counted: u64 = 0;
    for table in TABLES {
        match table.name {
            "device" => file.each(table, |row| {
                carried.devices += 1;
                check.device(&row)
            })?,
            "job" => file.each(table, |row| {
                counted += as_number(&row, 1)
                    .and_then(|n| u64::try_from(n).ok())
                    .unwrap_or(0);
                Ok::<_, CarryError>(())
            })?,
            "blob" => file.each(BLOB, |row| {
                blobs.push(blob(&row)?);
                Ok::<_, CarryError>(())
            })?,
            _ => {}
        }
    }
    file.each(CHANGE, |row| check.change(&row))?;
    if counted != check.changes {
        return Err(wrong(format!(
            "{counted} changes are counted and {} are there",
            check.changes
        )));
    }
    carried.jobs = check.jobs;
    carried.changes = check.changes;
    let mut company = 0;
    for table in TABLES.iter().filter(|table| table.name == "company") {
        file.each(table, |_| {
            company += 1;
            Ok::<_, StoreError>(())
        })?;
    }
    if company != 1 {
        return Err(wrong("it holds no office"));
    }
    Ok((carried, blobs))
}
