//! The values a field may hold in the document, and how a type becomes one.

use serde::Serialize;

use super::{JobId, PhotoHash, RecordId, hex};

/// One value as the document stores it.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Scalar {
    /// Yes or no.
    Bool(bool),
    /// A whole number.
    Int(i64),
    /// A number with a fraction.
    Num(f64),
    /// A word or a text.
    Str(String),
    /// Bytes of an immutable value.
    Bytes(#[serde(with = "serde_bytes")] Vec<u8>),
}

impl Scalar {
    /// The same value, borrowed.
    pub fn as_ref(&self) -> ScalarRef<'_> {
        match self {
            Scalar::Bool(v) => ScalarRef::Bool(*v),
            Scalar::Int(v) => ScalarRef::Int(*v),
            Scalar::Num(v) => ScalarRef::Num(*v),
            Scalar::Str(v) => ScalarRef::Str(v),
            Scalar::Bytes(v) => ScalarRef::Bytes(v),
        }
    }
}

/// A borrowed [`Scalar`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum ScalarRef<'a> {
    /// Yes or no.
    Bool(bool),
    /// A whole number.
    Int(i64),
    /// A number with a fraction.
    Num(f64),
    /// A word or a text.
    Str(&'a str),
    /// Bytes of an immutable value.
    Bytes(&'a [u8]),
}

impl ScalarRef<'_> {
    /// An owned copy.
    pub fn to_owned(self) -> Scalar {
        match self {
            ScalarRef::Bool(v) => Scalar::Bool(v),
            ScalarRef::Int(v) => Scalar::Int(v),
            ScalarRef::Num(v) => Scalar::Num(v),
            ScalarRef::Str(v) => Scalar::Str(v.to_owned()),
            ScalarRef::Bytes(v) => Scalar::Bytes(v.to_vec()),
        }
    }
}

/// A type that one key of a record may hold.
pub trait FieldValue: Sized {
    /// The value as stored.
    fn to_scalar(&self) -> Scalar;
    /// The value from what is stored; `None` where it is of another type or unknown word.
    fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self>;
    /// The value as a person reads it.
    fn in_words(&self) -> String;
}

impl FieldValue for bool {
    fn to_scalar(&self) -> Scalar {
        Scalar::Bool(*self)
    }
    fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
        if let ScalarRef::Bool(v) = scalar {
            Some(v)
        } else {
            None
        }
    }
    fn in_words(&self) -> String {
        if *self { "yes".into() } else { "no".into() }
    }
}

impl FieldValue for i64 {
    fn to_scalar(&self) -> Scalar {
        Scalar::Int(*self)
    }
    fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
        if let ScalarRef::Int(v) = scalar {
            Some(v)
        } else {
            None
        }
    }
    fn in_words(&self) -> String {
        self.to_string()
    }
}

impl FieldValue for u32 {
    fn to_scalar(&self) -> Scalar {
        Scalar::Int(i64::from(*self))
    }
    fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
        if let ScalarRef::Int(v) = scalar {
            v.try_into().ok()
        } else {
            None
        }
    }
    fn in_words(&self) -> String {
        self.to_string()
    }
}

impl FieldValue for f64 {
    fn to_scalar(&self) -> Scalar {
        Scalar::Num(*self)
    }
    fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
        match scalar {
            ScalarRef::Num(v) if v.is_finite() => Some(v),
            ScalarRef::Int(v) => i32::try_from(v).ok().map(f64::from),
            _ => None,
        }
    }
    fn in_words(&self) -> String {
        self.to_string()
    }
}

impl FieldValue for String {
    fn to_scalar(&self) -> Scalar {
        Scalar::Str(self.clone())
    }
    fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
        if let ScalarRef::Str(v) = scalar {
            Some(v.to_owned())
        } else {
            None
        }
    }
    fn in_words(&self) -> String {
        self.clone()
    }
}

impl FieldValue for serde_bytes::ByteBuf {
    fn to_scalar(&self) -> Scalar {
        Scalar::Bytes(self.to_vec())
    }
    fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
        if let ScalarRef::Bytes(v) = scalar {
            Some(Self::from(v.to_vec()))
        } else {
            None
        }
    }
    fn in_words(&self) -> String {
        hex(&self[..self.len().min(8)])
    }
}

macro_rules! field_by_text {
    ($($type:ty),*) => {$(
        impl FieldValue for $type {
            fn to_scalar(&self) -> Scalar {
                Scalar::Str(self.to_string())
            }
            fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
                if let ScalarRef::Str(v) = scalar { v.parse().ok() } else { None }
            }
            fn in_words(&self) -> String {
                self.to_string()
            }
        }
    )*};
}
field_by_text!(RecordId, JobId, PhotoHash, chrono::NaiveDate);
