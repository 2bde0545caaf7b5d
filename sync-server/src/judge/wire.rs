//! What server and worker say to each other: MessagePack in frames of a limited length.

use std::collections::BTreeMap;
use std::io::{self, Read, Write};

use chalkwalk_core::document::{Author, ChangeRow, Document, Refusal};
use chalkwalk_core::job::{CompanyId, DeviceId, JobId, Role};
use ed25519_dalek::VerifyingKey;
use serde::de::DeserializeOwned;
use serde::{Deserialize, Serialize};
use serde_bytes::{ByteArray, ByteBuf};

use super::{Case, Place};

/// What the server asks of a worker.
#[derive(Debug, Serialize, Deserialize)]
pub(super) enum Ask {
    /// Keep this document; it was judged before.
    Keep {
        place: (CompanyId, JobId),
        document: ByteBuf,
    },
    /// Judge a batch on the document with these heads.
    Judge {
        place: (CompanyId, JobId),
        heads: Vec<ByteArray<32>>,
        batch: Vec<Row>,
        signers: Vec<Signer>,
    },
}

/// A change as it goes to a worker.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Row {
    author: ByteArray<24>,
    number: u64,
    hash: ByteArray<32>,
    bytes: ByteBuf,
    signature: Option<ByteArray<64>>,
}

/// A device that may sign.
#[derive(Debug, Serialize, Deserialize)]
pub(super) struct Signer {
    device: DeviceId,
    key: ByteArray<32>,
    role: Option<String>,
}

/// What a worker answers.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) enum Answer {
    /// It has started under its limits.
    Ready,
    /// The document is kept.
    Kept,
    /// The document is not here, or in another state.
    Behind,
    /// The batch may be applied.
    Good,
    /// The batch is refused.
    Refused(Said),
}

/// A refusal.
#[derive(Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) enum Said {
    Limit(String),
    Malformed(String),
    Unsigned(String),
    Forked(DeviceId, u64),
    Forbidden(String),
    Gap,
    Storage(String),
}

impl Ask {
    pub(super) fn keep(place: Place, document: &Document) -> Self {
        Ask::Keep {
            place,
            document: ByteBuf::from(document.save()),
        }
    }

    pub(super) fn judge(place: Place, document: &Document, case: &Case<'_>) -> Self {
        let signers = case.keys.iter().map(|(device, key)| Signer {
            device: *device,
            key: ByteArray::new(key.to_bytes()),
            role: case.roles.get(device).map(|role| role.code().to_owned()),
        });
        Ask::Judge {
            place,
            heads: document.heads().into_iter().map(ByteArray::new).collect(),
            batch: case.batch.iter().map(Row::from).collect(),
            signers: signers.collect(),
        }
    }
}

/// Keys and roles by device.
pub(super) type Signers = (BTreeMap<DeviceId, VerifyingKey>, BTreeMap<DeviceId, Role>);

/// Signers as the gate takes them; one that cannot be read counts as unknown.
pub(super) fn signers(given: &[Signer]) -> Signers {
    let (mut keys, mut roles) = (BTreeMap::new(), BTreeMap::new());
    for signer in given {
        if let Ok(key) = VerifyingKey::from_bytes(&signer.key) {
            keys.insert(signer.device, key);
        }
        if let Some(role) = signer.role.as_deref().and_then(Role::from_code) {
            roles.insert(signer.device, role);
        }
    }
    (keys, roles)
}

impl From<&ChangeRow> for Row {
    fn from(row: &ChangeRow) -> Self {
        Self {
            author: ByteArray::new(row.author.to_bytes()),
            number: row.number,
            hash: ByteArray::new(row.hash),
            bytes: ByteBuf::from(row.bytes.clone()),
            signature: row.signature.map(ByteArray::new),
        }
    }
}

impl Row {
    pub(super) fn change(self) -> ChangeRow {
        ChangeRow {
            author: Author::from_bytes(&*self.author).unwrap_or(Author::GENESIS),
            number: self.number,
            hash: self.hash.into_array(),
            bytes: self.bytes.into_vec(),
            signature: self.signature.map(ByteArray::into_array),
        }
    }
}

impl From<Refusal> for Said {
    fn from(refusal: Refusal) -> Self {
        match refusal {
            Refusal::Limit(words) => Said::Limit(words),
            Refusal::Malformed(words) => Said::Malformed(words),
            Refusal::Unsigned(words) => Said::Unsigned(words),
            Refusal::Forked { device, number } => Said::Forked(device, number),
            Refusal::Forbidden(words) => Said::Forbidden(words),
            Refusal::Gap => Said::Gap,
            Refusal::Storage(words) => Said::Storage(words),
            other => Said::Malformed(other.to_string()),
        }
    }
}

impl From<Said> for Refusal {
    fn from(said: Said) -> Self {
        match said {
            Said::Limit(words) => Refusal::Limit(words),
            Said::Malformed(words) => Refusal::Malformed(words),
            Said::Unsigned(words) => Refusal::Unsigned(words),
            Said::Forked(device, number) => Refusal::Forked { device, number },
            Said::Forbidden(words) => Refusal::Forbidden(words),
            Said::Gap => Refusal::Gap,
            Said::Storage(words) => Refusal::Storage(words),
        }
    }
}

/// A frame with its length before it.
pub(super) fn packed(what: &impl Serialize, most: usize) -> io::Result<Vec<u8>> {
    let mut frame = vec![0; 4];
    rmp_serde::encode::write(&mut frame, what).map_err(io::Error::other)?;
    let length = frame.len() - 4;
    if length > most {
        return Err(io::Error::other(format!(
            "a frame of more than {most} bytes"
        )));
    }
    let length = u32::try_from(length).map_err(io::Error::other)?;
    frame[..4].copy_from_slice(&length.to_be_bytes());
    Ok(frame)
}

pub(super) fn send(to: &mut impl Write, frame: &[u8]) -> io::Result<()> {
    to.write_all(frame)?;
    to.flush()
}

/// The next frame; `None` where the other side has ended.
pub(super) fn receive<T: DeserializeOwned>(
    from: &mut impl Read,
    most: usize,
) -> io::Result<Option<T>> {
    let mut length = [0; 4];
    match from.read_exact(&mut length) {
        Err(error) if error.kind() == io::ErrorKind::UnexpectedEof => return Ok(None),
        read => read?,
    }
    let length = u64::from(u32::from_be_bytes(length));
    if length > most as u64 {
        return Err(io::Error::other(format!(
            "a frame of more than {most} bytes"
        )));
    }
    // Grows with what comes: a length alone takes no memory.
    let mut frame = Vec::new();
    if from.take(length).read_to_end(&mut frame)? as u64 != length {
        return Err(io::ErrorKind::UnexpectedEof.into());
    }
    rmp_serde::from_slice(&frame)
        .map(Some)
        .map_err(io::Error::other)
}
