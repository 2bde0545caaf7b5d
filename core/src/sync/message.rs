//! What a frame says: one struct for each type, written as a MessagePack array.
//!
//! The order and meaning of the fields is described in `WIRE.md`; a snapshot holds the bytes.

use serde::{Deserialize, Serialize, de::DeserializeOwned};
use serde_bytes::{ByteArray, ByteBuf};

use super::frame::{FrameError, open_frame, seal_frame};
use crate::job::{BlobKind, JobId, Millis, PhotoHash};

/// Types from here on may be passed over by a reader that does not know them.
const PASSED_OVER_FROM: u8 = 0x40;
/// A frame nests three deep at most.
const DEPTH: usize = 16;

/// One line of a table: author, number of the last change, first bytes of its hash.
pub(crate) type WireHeld = (ByteArray<24>, u64, ByteArray<8>);

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Hello {
    pub(crate) initiator: bool,
    pub(crate) live: bool,
    pub(crate) nonce: ByteArray<32>,
    pub(crate) certificate: ByteBuf,
    pub(crate) certificate_signature: ByteArray<64>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Prove {
    pub(crate) only: Option<Vec<JobId>>,
    pub(crate) signature: ByteArray<64>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Digests {
    pub(crate) cut: bool,
    pub(crate) jobs: Vec<(JobId, ByteArray<16>)>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct TableOf {
    pub(crate) job: JobId,
    pub(crate) held: Vec<WireHeld>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Declined {
    pub(crate) job: JobId,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct BatchPart {
    pub(crate) job: JobId,
    pub(crate) more: bool,
    pub(crate) bytes: ByteBuf,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Done {
    pub(crate) settled: bool,
    pub(crate) seen: u64,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Want {
    pub(crate) job: JobId,
    #[serde(with = "kind")]
    pub(crate) kind: BlobKind,
    pub(crate) files: Vec<(PhotoHash, u64)>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Lacks {
    #[serde(with = "kind")]
    pub(crate) kind: BlobKind,
    pub(crate) files: Vec<PhotoHash>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Piece {
    #[serde(with = "kind")]
    pub(crate) kind: BlobKind,
    pub(crate) hash: PhotoHash,
    pub(crate) size: u64,
    pub(crate) offset: u64,
    pub(crate) bytes: ByteBuf,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Files {
    pub(crate) job: JobId,
    pub(crate) pieces: Vec<Piece>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct KeptPiece {
    #[serde(with = "kind")]
    pub(crate) kind: BlobKind,
    pub(crate) hash: PhotoHash,
    pub(crate) held: u64,
    pub(crate) state: u8,
}

impl KeptPiece {
    pub(crate) const PARTLY: u8 = 0;
    pub(crate) const WHOLE: u8 = 1;
    pub(crate) const REFUSED: u8 = 2;
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Kept {
    pub(crate) pieces: Vec<KeptPiece>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Bye {
    pub(crate) code: u8,
    pub(crate) words: String,
    pub(crate) fork: Option<(ByteArray<16>, u64)>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct BundleHead {
    pub(crate) made_at: Millis,
    pub(crate) certificate: ByteBuf,
    pub(crate) certificate_signature: ByteArray<64>,
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(crate) struct Seal {
    pub(crate) last: bool,
    pub(crate) signature: ByteArray<64>,
}

macro_rules! messages {
    ($($code:literal $name:ident($body:ty),)*) => {
        /// Everything a frame may say.
        #[derive(Clone, Debug, PartialEq, Eq)]
        pub(crate) enum Message {
            $($name($body),)*
            /// Still there.
            Ping,
            /// Of a type that may be passed over.
            PassedOver,
        }

        impl Message {
            /// The frame of this message with this number.
            pub(crate) fn encode(&self, number: u64) -> Result<Vec<u8>, FrameError> {
                let mut body = pack(&number)?;
                match self {
                    $(Message::$name(content) => {
                        body.extend(pack(&($code as u8))?);
                        body.extend(pack(content)?);
                    })*
                    Message::Ping | Message::PassedOver => body.extend(pack(&PING)?),
                }
                Ok(seal_frame(&body))
            }

            /// What a frame says, and its number.
            pub(crate) fn decode(frame: &[u8]) -> Result<(u64, Message), FrameError> {
                let body = open_frame(frame)?;
                let mut from = rmp_serde::Deserializer::new(body);
                from.set_max_depth(DEPTH);
                let number = u64::deserialize(&mut from).map_err(unreadable)?;
                let code = u8::deserialize(&mut from).map_err(unreadable)?;
                let message = match code {
                    $($code => Message::$name(Deserialize::deserialize(&mut from).map_err(unreadable)?),)*
                    PING => Message::Ping,
                    PASSED_OVER_FROM.. => return Ok((number, Message::PassedOver)),
                    _ => return Err(FrameError::Unreadable(format!("type {code} is not known"))),
                };
                if from.get_ref().is_empty() {
                    Ok((number, message))
                } else {
                    Err(FrameError::Unreadable("bytes are left over".into()))
                }
            }
        }
    };
}

const PING: u8 = 13;

messages! {
    1 Hello(Hello),
    2 Prove(Prove),
    3 Digests(Digests),
    4 Table(TableOf),
    5 Declined(Declined),
    6 Batch(BatchPart),
    7 Ack(TableOf),
    8 Done(Done),
    9 Want(Want),
    10 Lacks(Lacks),
    11 Files(Files),
    12 Kept(Kept),
    14 Bye(Bye),
    15 BundleHead(BundleHead),
    16 Seal(Seal),
    17 Doubt(Lacks),
    18 Holds(Lacks),
}

/// MessagePack with structs as arrays.
pub(crate) fn pack<T: Serialize>(value: &T) -> Result<Vec<u8>, FrameError> {
    rmp_serde::to_vec(value).map_err(|error| FrameError::Unreadable(error.to_string()))
}

/// Reads one value that fills the bytes.
pub(crate) fn unpack<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, FrameError> {
    let mut from = rmp_serde::Deserializer::new(bytes);
    from.set_max_depth(DEPTH);
    let value = T::deserialize(&mut from).map_err(unreadable)?;
    if from.get_ref().is_empty() {
        Ok(value)
    } else {
        Err(FrameError::Unreadable("bytes are left over".into()))
    }
}

fn unreadable(error: rmp_serde::decode::Error) -> FrameError {
    // The error's own words may quote what was sent.
    let what = match error {
        rmp_serde::decode::Error::InvalidMarkerRead(_)
        | rmp_serde::decode::Error::InvalidDataRead(_) => "it ends too soon",
        rmp_serde::decode::Error::DepthLimitExceeded => "it nests too deep",
        _ => "it does not fit its type",
    };
    FrameError::Unreadable(what.into())
}

mod kind {
    use serde::{Deserialize, Deserializer, Serializer, de};

    use crate::job::BlobKind;

    pub(super) fn serialize<S: Serializer>(kind: &BlobKind, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_u8(match kind {
            BlobKind::Thumbnail => 0,
            BlobKind::Original => 1,
        })
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(d: D) -> Result<BlobKind, D::Error> {
        match u8::deserialize(d)? {
            0 => Ok(BlobKind::Thumbnail),
            1 => Ok(BlobKind::Original),
            _ => Err(de::Error::custom("an unknown kind of file")),
        }
    }
}
