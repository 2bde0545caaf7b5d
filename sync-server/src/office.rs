//! Who the office is: its name, the key that signs devices, and the server's own device.

use std::fs::{self, File, OpenOptions};
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use chalkwalk_core::env::Env;
use chalkwalk_core::job::{Certificate, CompanyId, DeviceId, Role, SealError, SignedCertificate};
use ed25519_dalek::{SigningKey, VerifyingKey};

use crate::ServerError;
use crate::store::{AuditEntry, AuditKind, Company, Person, Records};

/// What a pen's key is derived under, from the office's key.
const PEN: &str = "chalkwalk 2026-11-25 the pen with which a person records at the office's pages";

/// With what a person records at the pages: a device of the server's own.
#[derive(Clone)]
pub struct Pen {
    /// Its key.
    pub key: SigningKey,
    /// What the office says of it.
    pub certificate: Certificate,
    /// The same with the office's signature.
    pub signed: SignedCertificate,
}

/// The office and its keys.
#[derive(Clone)]
pub struct Office {
    company: Company,
    key: Arc<SigningKey>,
    server_key: Arc<SigningKey>,
    server: Certificate,
    server_signed: SignedCertificate,
}

impl Office {
    /// Opens the office of a data folder. At the first start it makes the keys, in files that only
    /// their owner may read, and writes the company down under `name`; later on `name` is ignored.
    pub async fn open(
        data: &Path,
        records: &dyn Records,
        name: Option<&str>,
        env: &mut dyn Env,
    ) -> Result<Self, ServerError> {
        let keys = data.join("keys");
        let key_file = keys.join("office.key");
        let known = records.company().await?;
        if known.is_none() && name.is_none() {
            return Err(ServerError::NoCompany);
        }
        if known.is_some() && !key_file.exists() {
            return Err(ServerError::OtherKey(key_file));
        }
        private_folder(&keys).map_err(ServerError::Folder)?;
        let key = key_at(&key_file, env)?;
        let server_key = key_at(&keys.join("server.key"), env)?;
        let company = match known {
            Some(company) => company,
            None => found(records, name.unwrap_or_default(), &key, env).await?,
        };
        if company.office_key != key.verifying_key().to_bytes() {
            return Err(ServerError::OtherKey(key_file));
        }
        Ok(Self::with_keys(company, key, server_key)?)
    }

    /// The office with these keys.
    pub fn with_keys(
        company: Company,
        key: SigningKey,
        server_key: SigningKey,
    ) -> Result<Self, SealError> {
        let public = server_key.verifying_key().to_bytes();
        let server = Certificate {
            company: company.id,
            device: device_of(&server_key),
            key: public.to_vec(),
            person: company.name.clone(),
            role: Role::Office,
            device_name: "office server".to_owned(),
            issued_at: company.founded_at,
        };
        let server_signed = SignedCertificate::sign(&server, &key)?;
        Ok(Self {
            company,
            key: Arc::new(key),
            server_key: Arc::new(server_key),
            server,
            server_signed,
        })
    }

    /// The company.
    pub fn company(&self) -> &Company {
        &self.company
    }

    /// The key that every certificate of this office is checked with.
    pub fn public_key(&self) -> VerifyingKey {
        self.key.verifying_key()
    }

    /// The key that seals packets: the one that vouches for devices.
    pub(crate) fn seal_key(&self) -> &SigningKey {
        &self.key
    }

    /// What the office says of its own server.
    pub fn server(&self) -> &Certificate {
        &self.server
    }

    /// The same with the office's signature.
    pub fn server_signed(&self) -> &SignedCertificate {
        &self.server_signed
    }

    /// The server's own key, for sessions.
    pub fn server_key(&self) -> &SigningKey {
        &self.server_key
    }

    /// The pen of a person in the part that the person has now. Its key follows from the office's.
    pub fn pen(&self, person: &Person) -> Result<Pen, SealError> {
        let mut secret = blake3::Hasher::new_derive_key(PEN);
        secret.update(self.key.as_bytes());
        secret.update(&person.id.0);
        secret.update(person.role.code().as_bytes());
        let key = SigningKey::from_bytes(secret.finalize().as_bytes());
        let certificate = Certificate {
            company: self.company.id,
            device: device_of(&key),
            key: key.verifying_key().to_bytes().to_vec(),
            person: person.name.clone(),
            role: person.role,
            device_name: "office pages".to_owned(),
            issued_at: person.made_at,
        };
        let signed = self.sign(&certificate)?;
        Ok(Pen {
            key,
            certificate,
            signed,
        })
    }

    /// Signs a device's certificate.
    pub fn sign(&self, certificate: &Certificate) -> Result<SignedCertificate, SealError> {
        SignedCertificate::sign(certificate, &self.key)
    }

    /// Reads a certificate that this office signed for this company.
    pub fn verify(&self, signed: &SignedCertificate) -> Result<Certificate, SealError> {
        let certificate = signed.verify(&self.public_key())?;
        if certificate.company == self.company.id {
            Ok(certificate)
        } else {
            Err(SealError::Mismatch)
        }
    }
}

/// The id of a device of the server's own.
fn device_of(key: &SigningKey) -> DeviceId {
    let mut id = [0; 16];
    id.copy_from_slice(&blake3::hash(key.verifying_key().as_bytes()).as_bytes()[..16]);
    DeviceId::from_bytes(id)
}

async fn found(
    records: &dyn Records,
    name: &str,
    key: &SigningKey,
    env: &mut dyn Env,
) -> Result<Company, ServerError> {
    let mut id = [0; 10];
    env.random(&mut id);
    let now = env.now();
    let company = Company {
        id: CompanyId::new(now, id),
        name: name.to_owned(),
        office_key: key.verifying_key().to_bytes(),
        founded_at: now,
    };
    let company = records.found(&company).await?;
    let entry = AuditEntry {
        at: now,
        what: AuditKind::Founded,
        device: None,
        job: None,
        detail: String::new(),
    };
    records.note(&entry).await?;
    Ok(company)
}

/// The key in a file, or a new one written there durably.
fn key_at(path: &PathBuf, env: &mut dyn Env) -> Result<SigningKey, ServerError> {
    if path.exists() {
        let bytes = fs::read(path).map_err(ServerError::Folder)?;
        let seed: [u8; 32] = bytes
            .try_into()
            .map_err(|_| ServerError::DamagedKey(path.clone()))?;
        return Ok(SigningKey::from_bytes(&seed));
    }
    let mut seed = [0; 32];
    env.random(&mut seed);
    write_private(path, &seed).map_err(ServerError::Folder)?;
    Ok(SigningKey::from_bytes(&seed))
}

fn private_folder(path: &Path) -> std::io::Result<()> {
    let mut builder = fs::DirBuilder::new();
    builder.recursive(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::DirBuilderExt;
        builder.mode(0o700);
    }
    builder.create(path)
}

fn write_private(path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    let part = path.with_extension("part");
    match fs::remove_file(&part) {
        Err(error) if error.kind() != std::io::ErrorKind::NotFound => return Err(error),
        _ => {}
    }
    let mut options = OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::OpenOptionsExt;
        options.mode(0o600);
    }
    let mut file = options.open(&part)?;
    file.write_all(bytes)?;
    file.sync_all()?;
    fs::rename(&part, path)?;
    if let Some(folder) = path.parent() {
        File::open(folder)?.sync_all()?;
    }
    Ok(())
}
