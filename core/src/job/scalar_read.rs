//! Reading the values of fields.

use std::fmt;

use serde::de::{Error, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer};

use super::{Scalar, ScalarRef};

/// Bytes may be a list of numbers too, as JSON has them.
impl<'de> Deserialize<'de> for Scalar {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_any(Owning)
    }
}

struct Owning;

impl<'de> Visitor<'de> for Owning {
    type Value = Scalar;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value of a field")
    }

    fn visit_bool<E>(self, v: bool) -> Result<Scalar, E> {
        Ok(Scalar::Bool(v))
    }

    fn visit_i64<E>(self, v: i64) -> Result<Scalar, E> {
        Ok(Scalar::Int(v))
    }

    fn visit_u64<E>(self, v: u64) -> Result<Scalar, E> {
        Ok(i64::try_from(v).map_or(Scalar::Num(v as f64), Scalar::Int))
    }

    fn visit_f64<E>(self, v: f64) -> Result<Scalar, E> {
        Ok(Scalar::Num(v))
    }

    fn visit_str<E>(self, v: &str) -> Result<Scalar, E> {
        Ok(Scalar::Str(v.to_owned()))
    }

    fn visit_bytes<E>(self, v: &[u8]) -> Result<Scalar, E> {
        Ok(Scalar::Bytes(v.to_vec()))
    }

    fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Scalar, A::Error> {
        let mut bytes = Vec::new();
        while let Some(byte) = list.next_element()? {
            bytes.push(byte);
        }
        Ok(Scalar::Bytes(bytes))
    }
}

/// Text and bytes are borrowed from what is read.
impl<'de: 'a, 'a> Deserialize<'de> for ScalarRef<'a> {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        from.deserialize_any(Borrowing)
    }
}

struct Borrowing;

impl<'de> Visitor<'de> for Borrowing {
    type Value = ScalarRef<'de>;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a value of a field")
    }

    fn visit_bool<E>(self, v: bool) -> Result<Self::Value, E> {
        Ok(ScalarRef::Bool(v))
    }

    fn visit_i64<E>(self, v: i64) -> Result<Self::Value, E> {
        Ok(ScalarRef::Int(v))
    }

    fn visit_u64<E: Error>(self, v: u64) -> Result<Self::Value, E> {
        let number = i64::try_from(v).map_err(E::custom)?;
        Ok(ScalarRef::Int(number))
    }

    fn visit_f64<E>(self, v: f64) -> Result<Self::Value, E> {
        Ok(ScalarRef::Num(v))
    }

    fn visit_borrowed_str<E>(self, v: &'de str) -> Result<Self::Value, E> {
        Ok(ScalarRef::Str(v))
    }

    fn visit_borrowed_bytes<E>(self, v: &'de [u8]) -> Result<Self::Value, E> {
        Ok(ScalarRef::Bytes(v))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_value_reads_back_as_what_it_was() {
        for value in [
            Scalar::Bool(true),
            Scalar::Int(i64::MIN),
            Scalar::Num(0.5),
            Scalar::Str("low".into()),
            Scalar::Bytes(b"low".to_vec()),
        ] {
            let packed = rmp_serde::to_vec(&value).unwrap();
            let borrowed: ScalarRef<'_> = rmp_serde::from_slice(&packed).unwrap();
            assert_eq!(borrowed, value.as_ref());
            let owned: Scalar = rmp_serde::from_slice(&packed).unwrap();
            assert_eq!(owned, value);
            let json = serde_json::to_string(&value).unwrap();
            assert_eq!(serde_json::from_str::<Scalar>(&json).unwrap(), value);
        }
    }
}
