//! The company, its devices, codes and the audit.

use chalkwalk_core::job::{CompanyId, DeviceId, JobId, Millis, SignedCertificate};
use tokio_postgres::Row;
use tokio_postgres::types::Type;

use super::pool::Lease;
use super::row::{bytes, bytes_or_none, many_bytes, number, number_or_none, text};
use crate::store::encoding::role;
use crate::store::{
    AuditEntry, AuditKind, Code, CodeRefusal, Company, Device, Enrolled, StoreError,
};

pub(super) async fn company(db: &Lease) -> Result<Option<Company>, StoreError> {
    let row = db
        .maybe("SELECT id, name, office_key, founded_at FROM @company", &[])
        .await?;
    let Some(row) = row else { return Ok(None) };
    Ok(Some(Company {
        id: CompanyId::from_bytes(bytes(&row, 0)?),
        name: text(&row, 1)?,
        office_key: bytes(&row, 2)?,
        founded_at: number(&row, 3)?,
    }))
}

pub(super) async fn found(db: &Lease, new: &Company) -> Result<Company, StoreError> {
    db.change(
        "INSERT INTO @company (only_one, id, name, office_key, founded_at)
         VALUES (1, $1, $2, $3, $4) ON CONFLICT DO NOTHING",
        &[
            (&new.id.as_bytes().as_slice(), Type::BYTEA),
            (&new.name, Type::TEXT),
            (&new.office_key.as_slice(), Type::BYTEA),
            (&new.founded_at, Type::INT8),
        ],
    )
    .await?;
    company(db).await?.ok_or(StoreError::Corrupt(
        "a company that was written is not there",
    ))
}

const DEVICE: &str =
    "SELECT id, key, certificate, certificate_signature, known_since, revoked_at FROM @device";

fn read_device(row: &Row) -> Result<Device, StoreError> {
    Ok(Device {
        id: DeviceId::from_bytes(bytes(row, 0)?),
        key: bytes(row, 1)?,
        certificate: SignedCertificate {
            body: many_bytes(row, 2)?,
            signature: many_bytes(row, 3)?,
        },
        known_since: number(row, 4)?,
        revoked_at: number_or_none(row, 5)?,
    })
}

pub(super) async fn device(db: &Lease, id: DeviceId) -> Result<Option<Device>, StoreError> {
    let row = db
        .maybe(
            &format!("{DEVICE} WHERE id = $1"),
            &[(&id.as_bytes().as_slice(), Type::BYTEA)],
        )
        .await?;
    row.as_ref().map(read_device).transpose()
}

pub(super) async fn devices(db: &Lease) -> Result<Vec<Device>, StoreError> {
    let rows = db.all(&format!("{DEVICE} ORDER BY id"), &[]).await?;
    rows.iter().map(read_device).collect()
}

pub(super) async fn certificates(
    db: &Lease,
    ids: &[DeviceId],
) -> Result<Vec<SignedCertificate>, StoreError> {
    let asked: Vec<&[u8]> = ids.iter().map(|id| id.as_bytes().as_slice()).collect();
    let rows = db
        .all(
            "SELECT d.certificate, d.certificate_signature
             FROM unnest($1) WITH ORDINALITY AS t (id, turn) JOIN @device d ON d.id = t.id
             ORDER BY t.turn",
            &[(&asked, Type::BYTEA_ARRAY)],
        )
        .await?;
    rows.iter()
        .map(|row| {
            Ok(SignedCertificate {
                body: many_bytes(row, 0)?,
                signature: many_bytes(row, 1)?,
            })
        })
        .collect()
}

/// Makes devices known, unless they are. Within a transaction: an error ends it.
pub(super) async fn know(db: &Lease, new: &[Device]) -> Result<(), StoreError> {
    let mut sorted: Vec<&Device> = new.iter().collect();
    // In one order, so that two batches never wait for each other's devices.
    sorted.sort_by_key(|device| device.id);
    for device in sorted {
        insert(db, device).await?;
        let row = db
            .one(
                "SELECT key FROM @device WHERE id = $1",
                &[(&device.id.as_bytes().as_slice(), Type::BYTEA)],
            )
            .await?;
        if bytes::<32>(&row, 0)? != device.key {
            return Err(StoreError::Contradiction("a device with two keys"));
        }
    }
    Ok(())
}

/// Whether the device was not known before.
async fn insert(db: &Lease, new: &Device) -> Result<bool, StoreError> {
    let added = db
        .change(
            "INSERT INTO @device
                (id, key, certificate, certificate_signature, known_since, revoked_at)
             VALUES ($1, $2, $3, $4, $5, $6) ON CONFLICT DO NOTHING",
            &[
                (&new.id.as_bytes().as_slice(), Type::BYTEA),
                (&new.key.as_slice(), Type::BYTEA),
                (&new.certificate.body, Type::BYTEA),
                (&new.certificate.signature, Type::BYTEA),
                (&new.known_since, Type::INT8),
                (&new.revoked_at, Type::INT8),
            ],
        )
        .await?;
    Ok(added > 0)
}

/// Shuts a device out or lets it in, and tells the other nodes in the same statement.
pub(super) async fn set_revoked(
    db: &Lease,
    id: DeviceId,
    at: Option<Millis>,
) -> Result<bool, StoreError> {
    let row = db
        .one(
            "WITH changed AS (UPDATE @device SET revoked_at = $2 WHERE id = $1 RETURNING id),
                told AS (INSERT INTO @news (device)
                    SELECT id FROM changed WHERE $2 IS NOT NULL RETURNING seq)
             SELECT count(*) FROM changed",
            &[(&id.as_bytes().as_slice(), Type::BYTEA), (&at, Type::INT8)],
        )
        .await?;
    Ok(number(&row, 0)? > 0)
}

pub(super) async fn put_code(db: &Lease, code: &Code) -> Result<(), StoreError> {
    db.change(
        "INSERT INTO @code (hash, role, person, made_at, expires_at) VALUES ($1, $2, $3, $4, $5)",
        &[
            (&code.hash.as_slice(), Type::BYTEA),
            (&code.role.code(), Type::TEXT),
            (&code.person, Type::TEXT),
            (&code.made_at, Type::INT8),
            (&code.expires_at, Type::INT8),
        ],
    )
    .await
    .map(drop)
}

/// A code and the device that used it; `lock` keeps others off it until the transaction ends.
pub(super) async fn code(
    db: &Lease,
    hash: &[u8; 32],
    lock: bool,
) -> Result<Option<(Code, Option<DeviceId>)>, StoreError> {
    let lock = if lock { " FOR UPDATE" } else { "" };
    let query =
        "SELECT hash, role, person, made_at, expires_at, used_by FROM @code WHERE hash = $1";
    let row = db
        .maybe(
            &format!("{query}{lock}"),
            &[(&hash.as_slice(), Type::BYTEA)],
        )
        .await?;
    let Some(row) = row else { return Ok(None) };
    let code = Code {
        hash: bytes(&row, 0)?,
        role: role(&text(&row, 1)?)?,
        person: text(&row, 2)?,
        made_at: number(&row, 3)?,
        expires_at: number(&row, 4)?,
    };
    let used_by = bytes_or_none(&row, 5)?.map(DeviceId::from_bytes);
    Ok(Some((code, used_by)))
}

pub(super) async fn enrol(
    db: &Lease,
    hash: &[u8; 32],
    new: &Device,
    now: Millis,
) -> Result<Enrolled, StoreError> {
    db.begin().await?;
    let done = enrol_within(db, hash, new, now).await;
    db.end(done).await
}

async fn enrol_within(
    db: &Lease,
    hash: &[u8; 32],
    new: &Device,
    now: Millis,
) -> Result<Enrolled, StoreError> {
    let Some((code, used_by)) = code(db, hash, true).await? else {
        return Ok(Enrolled::Refused(CodeRefusal::Unknown));
    };
    let known = device(db, new.id).await?;
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
    if known.is_some() || !insert(db, new).await? {
        return Ok(Enrolled::Refused(CodeRefusal::DeviceTaken));
    }
    db.change(
        "UPDATE @code SET used_by = $2 WHERE hash = $1",
        &[
            (&hash.as_slice(), Type::BYTEA),
            (&new.id.as_bytes().as_slice(), Type::BYTEA),
        ],
    )
    .await?;
    Ok(Enrolled::Done)
}

pub(super) async fn note(db: &Lease, entry: &AuditEntry) -> Result<(), StoreError> {
    let device = entry.device.as_ref().map(|id| id.as_bytes().as_slice());
    let job = entry.job.as_ref().map(|id| id.as_bytes().as_slice());
    db.change(
        "INSERT INTO @audit (at, what, device, job, detail) VALUES ($1, $2, $3, $4, $5)",
        &[
            (&entry.at, Type::INT8),
            (&entry.what.code(), Type::TEXT),
            (&device, Type::BYTEA),
            (&job, Type::BYTEA),
            (&entry.detail, Type::TEXT),
        ],
    )
    .await
    .map(drop)
}

pub(super) async fn audit(db: &Lease, max: usize) -> Result<Vec<AuditEntry>, StoreError> {
    let max = i64::try_from(max).unwrap_or(i64::MAX);
    let rows = db
        .all(
            "SELECT at, what, device, job, detail FROM @audit ORDER BY seq DESC LIMIT $1",
            &[(&max, Type::INT8)],
        )
        .await?;
    rows.iter()
        .map(|row| {
            Ok(AuditEntry {
                at: number(row, 0)?,
                what: AuditKind::from_code(&text(row, 1)?)
                    .ok_or(StoreError::Corrupt("an audit word of a newer version"))?,
                device: bytes_or_none(row, 2)?.map(DeviceId::from_bytes),
                job: bytes_or_none(row, 3)?.map(JobId::from_bytes),
                detail: text(row, 4)?,
            })
        })
        .collect()
}
