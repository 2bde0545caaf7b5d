//! The company, its devices, codes and the audit.

use chalkwalk_core::job::{CompanyId, DeviceId, JobId, Millis, SignedCertificate};
use rusqlite::{Connection, Row, params};

use super::encoding::{bytes, bytes_or_none, role};
use crate::store::{
    AuditEntry, AuditKind, Code, CodeRefusal, Company, Device, Enrolled, StoreError,
};

pub(super) fn company(tx: &Connection) -> Result<Option<Company>, StoreError> {
    let mut query = tx.prepare_cached("SELECT id, name, office_key, founded_at FROM company")?;
    let mut rows = query.query([])?;
    let Some(row) = rows.next()? else {
        return Ok(None);
    };
    Ok(Some(Company {
        id: CompanyId::from_bytes(bytes(row, 0)?),
        name: row.get(1)?,
        office_key: bytes(row, 2)?,
        founded_at: row.get(3)?,
    }))
}

pub(super) fn found(tx: &Connection, new: &Company) -> Result<Company, StoreError> {
    if let Some(known) = company(tx)? {
        return Ok(known);
    }
    tx.execute(
        "INSERT INTO company (only_one, id, name, office_key, founded_at)
         VALUES (1, ?1, ?2, ?3, ?4)",
        params![new.id.as_bytes(), new.name, new.office_key, new.founded_at],
    )?;
    Ok(new.clone())
}

const DEVICE: &str =
    "SELECT id, key, certificate, certificate_signature, known_since, revoked_at FROM device";

fn read_device(row: &Row<'_>) -> Result<Device, StoreError> {
    Ok(Device {
        id: DeviceId::from_bytes(bytes(row, 0)?),
        key: bytes(row, 1)?,
        certificate: SignedCertificate {
            body: row.get(2)?,
            signature: row.get(3)?,
        },
        known_since: row.get(4)?,
        revoked_at: row.get(5)?,
    })
}

pub(super) fn device(tx: &Connection, id: DeviceId) -> Result<Option<Device>, StoreError> {
    let mut query = tx.prepare_cached(&format!("{DEVICE} WHERE id = ?1"))?;
    let mut rows = query.query([id.as_bytes()])?;
    rows.next()?.map(read_device).transpose()
}

pub(super) fn devices(tx: &Connection) -> Result<Vec<Device>, StoreError> {
    let mut query = tx.prepare_cached(&format!("{DEVICE} ORDER BY id"))?;
    let mut rows = query.query([])?;
    let mut devices = Vec::new();
    while let Some(row) = rows.next()? {
        devices.push(read_device(row)?);
    }
    Ok(devices)
}

pub(super) fn certificates(
    tx: &Connection,
    ids: &[DeviceId],
) -> Result<Vec<SignedCertificate>, StoreError> {
    let mut found = Vec::new();
    for id in ids {
        found.extend(device(tx, *id)?.map(|device| device.certificate));
    }
    Ok(found)
}

/// Makes a device known, unless it is.
pub(super) fn know(tx: &Connection, new: &Device) -> Result<(), StoreError> {
    match device(tx, new.id)? {
        Some(known) if known.key != new.key => {
            Err(StoreError::Contradiction("a device with two keys"))
        }
        Some(_) => Ok(()),
        None => insert(tx, new),
    }
}

fn insert(tx: &Connection, new: &Device) -> Result<(), StoreError> {
    tx.prepare_cached(
        "INSERT INTO device (id, key, certificate, certificate_signature, known_since, revoked_at)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?
    .execute(params![
        new.id.as_bytes(),
        new.key,
        new.certificate.body,
        new.certificate.signature,
        new.known_since,
        new.revoked_at
    ])?;
    Ok(())
}

pub(super) fn set_revoked(
    tx: &Connection,
    id: DeviceId,
    at: Option<Millis>,
) -> Result<bool, StoreError> {
    let changed = tx.execute(
        "UPDATE device SET revoked_at = ?2 WHERE id = ?1",
        params![id.as_bytes(), at],
    )?;
    Ok(changed > 0)
}

pub(super) fn put_code(tx: &Connection, code: &Code) -> Result<(), StoreError> {
    tx.execute(
        "INSERT INTO code (hash, role, person, made_at, expires_at) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![
            code.hash,
            code.role.code(),
            code.person,
            code.made_at,
            code.expires_at
        ],
    )?;
    Ok(())
}

/// A code and the device that used it.
pub(super) fn code(
    tx: &Connection,
    hash: &[u8; 32],
) -> Result<Option<(Code, Option<DeviceId>)>, StoreError> {
    let mut query = tx.prepare_cached(
        "SELECT hash, role, person, made_at, expires_at, used_by FROM code WHERE hash = ?1",
    )?;
    let mut rows = query.query([hash])?;
    let Some(row) = rows.next()? else {
        return Ok(None);
    };
    let word: String = row.get(1)?;
    let code = Code {
        hash: bytes(row, 0)?,
        role: role(&word)?,
        person: row.get(2)?,
        made_at: row.get(3)?,
        expires_at: row.get(4)?,
    };
    Ok(Some((
        code,
        bytes_or_none(row, 5)?.map(DeviceId::from_bytes),
    )))
}

pub(super) fn enrol(
    tx: &Connection,
    hash: &[u8; 32],
    new: &Device,
    now: Millis,
) -> Result<Enrolled, StoreError> {
    let Some((code, used_by)) = code(tx, hash)? else {
        return Ok(Enrolled::Refused(CodeRefusal::Unknown));
    };
    let known = device(tx, new.id)?;
    if let Some(used_by) = used_by {
        return Ok(match known {
            Some(known) if used_by == new.id && known.key == new.key => {
                Enrolled::Before(known.certificate)
            }
            _ => Enrolled::Refused(CodeRefusal::Used),
        });
    }
    if now >= code.expires_at {
        return Ok(Enrolled::Refused(CodeRefusal::Expired));
    }
    if known.is_some() {
        return Ok(Enrolled::Refused(CodeRefusal::DeviceTaken));
    }
    tx.execute(
        "UPDATE code SET used_by = ?2 WHERE hash = ?1",
        params![hash, new.id.as_bytes()],
    )?;
    insert(tx, new)?;
    Ok(Enrolled::Done)
}

pub(super) fn note(tx: &Connection, entry: &AuditEntry) -> Result<(), StoreError> {
    tx.execute(
        "INSERT INTO audit (at, what, device, job, detail) VALUES (?1, ?2, ?3, ?4, ?5)",
        params![
            entry.at,
            entry.what.code(),
            entry.device.as_ref().map(DeviceId::as_bytes),
            entry.job.as_ref().map(JobId::as_bytes),
            entry.detail
        ],
    )?;
    Ok(())
}

pub(super) fn audit(tx: &Connection, max: usize) -> Result<Vec<AuditEntry>, StoreError> {
    let mut query = tx.prepare_cached(
        "SELECT at, what, device, job, detail FROM audit ORDER BY seq DESC LIMIT ?1",
    )?;
    let mut rows = query.query([i64::try_from(max).unwrap_or(i64::MAX)])?;
    let mut entries = Vec::new();
    while let Some(row) = rows.next()? {
        let what: String = row.get(1)?;
        entries.push(AuditEntry {
            at: row.get(0)?,
            what: AuditKind::from_code(&what)
                .ok_or(StoreError::Corrupt("an audit word of a newer version"))?,
            device: bytes_or_none(row, 2)?.map(DeviceId::from_bytes),
            job: bytes_or_none(row, 3)?.map(JobId::from_bytes),
            detail: row.get(4)?,
        });
    }
    Ok(entries)
}
