//! How a device becomes one of the office's: a code that counts once and not for long.

use std::path::Path;
use std::time::Duration;

use chalkwalk_core::env::Env;
use chalkwalk_core::job::{Certificate, DeviceId, Millis, Role, SignedCertificate, hex};
use chalkwalk_core::limits;
use ed25519_dalek::VerifyingKey;

use crate::ServerError;
use crate::env::SystemEnv;
use crate::office::Office;
use crate::storage::Storage;
use crate::store::{
    AuditEntry, AuditKind, Code, CodeRefusal, Device, Enrolled, Records, StoreError,
};

mod ticket;

pub use chalkwalk_link::{EnrolAnswer, EnrolRequest, Ticket, TicketError, pin_of};
pub use ticket::picture;

/// Letters and digits that nobody takes for one another: no I, L, O and U. Five bits each.
const ALPHABET: &[u8; 32] = b"0123456789ABCDEFGHJKMNPQRSTVWXYZ";
const LETTERS: usize = 12;
const CONTEXT: &str = "chalkwalk enrolment code v1";
/// How long a code made on a page counts: three days.
pub const CODE_LASTS: Duration = Duration::from_secs(72 * 3_600);

/// What the office hands to a person: by voice, on paper, as text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Invitation {
    /// The code, such as `7K3M-Q2ZD-X9RA`: sixty random bits.
    pub code: String,
    /// The office key's pin: [`pin_of`] it. With the pin a device knows that it speaks with this
    /// office.
    pub pin: String,
    /// The first moment at which the code no longer counts.
    pub expires_at: Millis,
}

/// Why a device is not enrolled.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum EnrolError {
    /// The code does not count.
    #[error(transparent)]
    Code(#[from] CodeRefusal),
    /// The code was made for another role.
    #[error("the code was made for another role: ask the office for one for yours")]
    Role,
    /// The request does not read.
    #[error("the request is not complete: {0}")]
    Malformed(&'static str),
    /// Storage failed.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The certificate could not be made.
    #[error("the certificate could not be made")]
    Certificate(#[from] chalkwalk_core::job::SealError),
}

/// Makes a code on the office of a data folder; the server may run meanwhile. `person` is a hint
/// of whom it is for. Blocks; not to be called from asynchronous code.
pub fn invite(
    data: &Path,
    role: Role,
    person: &str,
    lasts: Duration,
) -> Result<Invitation, ServerError> {
    invite_on(data, &Storage::default(), role, person, lasts)
}

/// As [`invite`], on this storage.
pub fn invite_on(
    data: &Path,
    storage: &Storage,
    role: Role,
    person: &str,
    lasts: Duration,
) -> Result<Invitation, ServerError> {
    let runtime = tokio::runtime::Builder::new_current_thread()
        .enable_all()
        .build()
        .map_err(ServerError::Stopped)?;
    runtime.block_on(async {
        let records = storage.open_records(data).await?;
        let mut env = SystemEnv;
        let office = Office::open(data, &*records, None, &mut env).await?;
        Ok(make_code(&*records, &office, role, person, lasts, &mut env).await?)
    })
}

/// Makes a code.
pub async fn make_code(
    records: &dyn Records,
    office: &Office,
    role: Role,
    person: &str,
    lasts: Duration,
    env: &mut dyn Env,
) -> Result<Invitation, StoreError> {
    let mut random = [0; LETTERS];
    env.random(&mut random);
    let now = env.now();
    let lasts = Millis::try_from(lasts.as_millis()).unwrap_or(Millis::MAX);
    let letters: Vec<char> = random
        .iter()
        .map(|byte| char::from(ALPHABET[usize::from(byte & 31)]))
        .collect();
    let code: Vec<String> = letters
        .chunks(4)
        .map(|part| part.iter().collect())
        .collect();
    let code = code.join("-");
    let expires_at = now.saturating_add(lasts);
    let entry = AuditEntry {
        at: now,
        what: AuditKind::CodeMade,
        device: None,
        job: None,
        detail: role.code().to_owned(),
    };
    records
        .put_code(&Code {
            hash: hash_of(&code),
            role,
            person: person.to_owned(),
            made_at: now,
            expires_at,
        })
        .await?;
    records.note(&entry).await?;
    Ok(Invitation {
        code,
        pin: pin_of(&office.public_key()),
        expires_at,
    })
}

/// Enrols a device: the certificate, its office and company.
pub async fn enrol(
    records: &dyn Records,
    office: &Office,
    request: &EnrolRequest,
    now: Millis,
) -> Result<EnrolAnswer, EnrolError> {
    let key = check(request)?;
    let hash = hash_of(&request.code);
    let code = records.code(hash).await?.ok_or(CodeRefusal::Unknown)?;
    if code.role != request.role || code.role == Role::Office {
        return Err(EnrolError::Role);
    }
    let signed = office.sign(&Certificate {
        company: office.company().id,
        device: request.device,
        key: key.to_vec(),
        person: request.person.trim().to_owned(),
        role: code.role,
        device_name: request.device_name.trim().to_owned(),
        issued_at: now,
    })?;
    let device = Device {
        id: request.device,
        key,
        certificate: signed.clone(),
        known_since: now,
        revoked_at: None,
    };
    let signed = match records.enrol(hash, &device, now).await? {
        Enrolled::Done => {
            let entry = AuditEntry {
                at: now,
                what: AuditKind::Enrolled,
                device: Some(device.id),
                job: None,
                detail: code.role.code().to_owned(),
            };
            records.note(&entry).await?;
            signed
        }
        Enrolled::Before(signed) => signed,
        Enrolled::Refused(why) => return Err(why.into()),
    };
    Ok(answer(office, &signed))
}

fn answer(office: &Office, signed: &SignedCertificate) -> EnrolAnswer {
    EnrolAnswer {
        certificate: hex(&signed.body),
        signature: hex(&signed.signature),
        office_key: hex(&office.public_key().to_bytes()),
        company: office.company().id.to_string(),
        company_name: office.company().name.clone(),
    }
}

fn check(request: &EnrolRequest) -> Result<[u8; 32], EnrolError> {
    let named = |text: &str| {
        let text = text.trim();
        !text.is_empty() && text.len() <= limits::NAME_BYTES && !text.contains(char::is_control)
    };
    if !named(&request.person) {
        return Err(EnrolError::Malformed("the person's name"));
    }
    if !named(&request.device_name) {
        return Err(EnrolError::Malformed("the device's name"));
    }
    if request.device == DeviceId::GENESIS {
        return Err(EnrolError::Malformed("the device's id"));
    }
    let key = chalkwalk_core::job::unhex(&request.key)
        .and_then(|key| <[u8; 32]>::try_from(key).ok())
        .filter(|key| VerifyingKey::from_bytes(key).is_ok_and(|key| !key.is_weak()))
        .ok_or(EnrolError::Malformed("the device's key"))?;
    Ok(key)
}

/// What is kept of a code. Typing errors that cannot be meant otherwise are forgiven: small
/// letters, spaces, dashes, O for 0, I and L for 1.
fn hash_of(code: &str) -> [u8; 32] {
    let letters: String = code
        .chars()
        .filter(|c| c.is_ascii_alphanumeric())
        .map(|c| match c.to_ascii_uppercase() {
            'O' => '0',
            'I' | 'L' => '1',
            other => other,
        })
        .collect();
    blake3::derive_key(CONTEXT, letters.as_bytes())
}
