//! Where on the lot something is, and how one record points to another.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer, de};

use super::{IdError, Kind, RecordId, Side};

/// A pointer to a record: its kind and its id, written `finding/01J…`.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RecordRef {
    /// The kind of record.
    pub kind: Kind,
    /// Its id.
    pub id: RecordId,
}

/// A place is a record of one of the kinds that have a location: an elevation, slope, room,
/// structure or eave opening.
pub type Place = RecordRef;

impl RecordRef {
    /// A pointer from its parts.
    pub fn new(kind: Kind, id: RecordId) -> Self {
        Self { kind, id }
    }

    /// The elevation of one of the four sides.
    pub fn side(side: Side) -> Self {
        Self {
            kind: Kind::Elevation,
            id: RecordId::fixed(side.code()),
        }
    }

    /// True for the kinds that have a location.
    pub fn is_place(&self) -> bool {
        matches!(
            self.kind,
            Kind::Elevation | Kind::Slope | Kind::Room | Kind::Structure | Kind::EaveOpening
        )
    }
}

impl fmt::Display for RecordRef {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}/{}", self.kind.code(), self.id)
    }
}

/// A text that is not a pointer to a record.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum RefError {
    /// No kind stands before the slash.
    #[error("\"{0}\" does not name a record: write kind/id, for example elevation/front")]
    Shape(String),
    /// The id is not an id.
    #[error(transparent)]
    Id(#[from] IdError),
}

impl FromStr for RecordRef {
    type Err = RefError;
    fn from_str(text: &str) -> Result<Self, RefError> {
        let error = || RefError::Shape(text.chars().take(64).collect());
        let (kind, id) = text.split_once('/').ok_or_else(error)?;
        let kind = Kind::from_code(kind).ok_or_else(error)?;
        Ok(Self {
            kind,
            id: id.parse()?,
        })
    }
}

impl Serialize for RecordRef {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for RecordRef {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        String::deserialize(d)?.parse().map_err(de::Error::custom)
    }
}

impl super::FieldValue for RecordRef {
    fn to_scalar(&self) -> super::Scalar {
        super::Scalar::Str(self.to_string())
    }
    fn from_scalar(scalar: super::ScalarRef<'_>) -> Option<Self> {
        if let super::ScalarRef::Str(v) = scalar {
            v.parse().ok()
        } else {
            None
        }
    }
    fn in_words(&self) -> String {
        self.to_string()
    }
}
