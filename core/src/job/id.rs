//! Names of jobs, records and devices.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use ulid::Ulid;

/// Milliseconds since 1970-01-01T00:00:00Z.
pub type Millis = i64;

/// A text that is not an id of the kind it was read as.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("\"{text}\" is not {expected}")]
pub struct IdError {
    text: String,
    expected: &'static str,
}

macro_rules! ulid_id {
    ($(#[$meta:meta])* $name:ident, $expected:literal) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name([u8; 16]);

        impl $name {
            /// An id from a time in milliseconds and ten random bytes.
            pub fn new(now: Millis, random: [u8; 10]) -> Self {
                let mut wide = [0u8; 16];
                wide[6..].copy_from_slice(&random);
                let time = u64::try_from(now).unwrap_or(0);
                Self(Ulid::from_parts(time, u128::from_be_bytes(wide)).to_bytes())
            }

            /// The id with these sixteen bytes.
            pub const fn from_bytes(bytes: [u8; 16]) -> Self {
                Self(bytes)
            }

            /// The sixteen bytes of the id.
            pub const fn as_bytes(&self) -> &[u8; 16] {
                &self.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(&Ulid::from_bytes(self.0).to_string())
            }
        }

        impl FromStr for $name {
            type Err = IdError;
            fn from_str(text: &str) -> Result<Self, IdError> {
                Ulid::from_string(text)
                    .map(|id| Self(id.to_bytes()))
                    .map_err(|_| IdError { text: text.chars().take(64).collect(), expected: $expected })
            }
        }

        impl Serialize for $name {
            fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
                if s.is_human_readable() {
                    s.collect_str(self)
                } else {
                    s.serialize_bytes(&self.0)
                }
            }
        }

        impl<'de> Deserialize<'de> for $name {
            fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
                if d.is_human_readable() {
                    let text = String::deserialize(d)?;
                    text.parse().map_err(de::Error::custom)
                } else {
                    let bytes: serde_bytes::ByteBuf = Deserialize::deserialize(d)?;
                    let bytes: [u8; 16] = bytes
                        .as_slice()
                        .try_into()
                        .map_err(|_| de::Error::custom("an id has sixteen bytes"))?;
                    Ok(Self(bytes))
                }
            }
        }
    };
}

ulid_id!(
    /// One job: one house after one storm.
    JobId,
    "a job id (26 letters and digits)"
);
ulid_id!(
    /// One installation on one phone, laptop or server.
    DeviceId,
    "a device id (26 letters and digits)"
);
ulid_id!(
    /// One office: the company whose key signs its devices.
    CompanyId,
    "a company id (26 letters and digits)"
);

impl DeviceId {
    /// The author of the change every document starts from; no device has it.
    pub const GENESIS: DeviceId = DeviceId([0; 16]);
}

/// The name of one record inside a job: a ULID, or a short fixed word such as `front`
/// for the records that every job has from its first change.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RecordId(String);

impl RecordId {
    /// Longest id in bytes.
    pub const MAX: usize = 40;

    /// A fresh id from a time and ten random bytes.
    pub fn new(now: Millis, random: [u8; 10]) -> Self {
        Self(JobId::new(now, random).to_string())
    }

    /// One of the fixed words of the genesis change. The caller keeps to `[a-z_]`.
    pub fn fixed(word: &'static str) -> Self {
        Self(word.to_owned())
    }

    /// The id as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for RecordId {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

impl FromStr for RecordId {
    type Err = IdError;
    fn from_str(text: &str) -> Result<Self, IdError> {
        let good = !text.is_empty()
            && text.len() <= Self::MAX
            && text
                .bytes()
                .all(|b| b.is_ascii_alphanumeric() || b == b'_' || b == b'-');
        if good {
            Ok(Self(text.to_owned()))
        } else {
            Err(IdError {
                text: text.chars().take(64).collect(),
                expected: "a record id (letters, digits, - and _, at most 40)",
            })
        }
    }
}

impl Serialize for RecordId {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(&self.0)
    }
}

impl<'de> Deserialize<'de> for RecordId {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        text.parse().map_err(de::Error::custom)
    }
}

/// The BLAKE3 hash of a file: how a photo is known.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PhotoHash([u8; 32]);

impl PhotoHash {
    /// The hash with these bytes.
    pub const fn from_bytes(bytes: [u8; 32]) -> Self {
        Self(bytes)
    }

    /// The hash of these bytes.
    pub fn of(data: &[u8]) -> Self {
        Self(*blake3::hash(data).as_bytes())
    }

    /// The thirty-two bytes.
    pub const fn as_bytes(&self) -> &[u8; 32] {
        &self.0
    }

    /// The first twelve hexadecimal digits, for people.
    pub fn short(&self) -> String {
        hex(&self.0[..6])
    }
}

impl fmt::Display for PhotoHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&hex(&self.0))
    }
}

impl fmt::Debug for PhotoHash {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "PhotoHash({})", self.short())
    }
}

impl FromStr for PhotoHash {
    type Err = IdError;
    fn from_str(text: &str) -> Result<Self, IdError> {
        let error = || IdError {
            text: text.chars().take(70).collect(),
            expected: "a photo hash (64 hexadecimal digits)",
        };
        let bytes = unhex(text).ok_or_else(error)?;
        Ok(Self(bytes.try_into().map_err(|_| error())?))
    }
}

impl Serialize for PhotoHash {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        if s.is_human_readable() {
            s.collect_str(self)
        } else {
            s.serialize_bytes(&self.0)
        }
    }
}

impl<'de> Deserialize<'de> for PhotoHash {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        if d.is_human_readable() {
            String::deserialize(d)?.parse().map_err(de::Error::custom)
        } else {
            let bytes: serde_bytes::ByteBuf = Deserialize::deserialize(d)?;
            let bytes: [u8; 32] = bytes
                .as_slice()
                .try_into()
                .map_err(|_| de::Error::custom("a photo hash has thirty-two bytes"))?;
            Ok(Self(bytes))
        }
    }
}

/// Bytes as lower-case hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    const DIGITS: &[u8; 16] = b"0123456789abcdef";
    let mut out = String::with_capacity(bytes.len() * 2);
    for byte in bytes {
        out.push(char::from(DIGITS[usize::from(byte >> 4)]));
        out.push(char::from(DIGITS[usize::from(byte & 15)]));
    }
    out
}

/// The bytes of an even run of hexadecimal digits.
pub fn unhex(text: &str) -> Option<Vec<u8>> {
    let digits = text.as_bytes();
    if !digits.len().is_multiple_of(2) {
        return None;
    }
    let value = |digit: u8| {
        char::from(digit)
            .to_digit(16)
            .and_then(|v| u8::try_from(v).ok())
    };
    digits
        .chunks(2)
        .map(|pair| Some(value(pair[0])? << 4 | value(pair[1])?))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ids_read_back() {
        let id = JobId::new(1_700_000_000_000, [7; 10]);
        assert_eq!(id.to_string().parse(), Ok(id));
        let record = RecordId::new(1_700_000_000_000, [9; 10]);
        assert_eq!(record.as_str().parse(), Ok(record.clone()));
        let hash = PhotoHash::of(b"eave");
        assert_eq!(hash.to_string().parse(), Ok(hash));
    }

    #[test]
    fn bad_ids_are_refused_with_words() {
        assert!("front gutter".parse::<RecordId>().is_err());
        assert!("".parse::<RecordId>().is_err());
        assert!("a".repeat(41).parse::<RecordId>().is_err());
        let error = "zz".parse::<PhotoHash>().unwrap_err();
        assert_eq!(
            error.to_string(),
            "\"zz\" is not a photo hash (64 hexadecimal digits)"
        );
    }
}
