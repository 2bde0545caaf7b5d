//! The reader that types are read from.

use serde::Deserializer;
use serde::de::{
    DeserializeSeed, EnumAccess, Error, MapAccess, SeqAccess, Unexpected, VariantAccess, Visitor,
};

use super::PackedError;
use super::head::Head;

/// Values, one behind the other.
#[derive(Debug)]
pub(crate) struct Packed<'de> {
    rest: &'de [u8],
    deeper: usize,
}

type Read<T> = Result<T, PackedError>;

impl<'de> Packed<'de> {
    /// Reads from these bytes what nests at most so deep.
    pub(crate) fn new(bytes: &'de [u8], depth: usize) -> Self {
        Self {
            rest: bytes,
            deeper: depth,
        }
    }

    /// True once everything was read.
    pub(crate) fn is_empty(&self) -> bool {
        self.rest.is_empty()
    }

    fn head(&mut self) -> Read<Head<'de>> {
        Head::take(&mut self.rest)
    }

    /// Takes a nil where one stands.
    fn nil(&mut self) -> bool {
        let mut rest = self.rest;
        let nil = matches!(Head::take(&mut rest), Ok(Head::Nil));
        if nil {
            self.rest = rest;
        }
        nil
    }

    fn enter(&mut self) -> Read<()> {
        self.deeper = self.deeper.checked_sub(1).ok_or(PackedError::Deep)?;
        Ok(())
    }

    fn skip(&mut self) -> Read<()> {
        let parts = match self.head()? {
            Head::List(length) => length,
            Head::Map(length) => length.saturating_mul(2),
            _ => return Ok(()),
        };
        self.enter()?;
        for _ in 0..parts {
            self.skip()?;
        }
        self.deeper += 1;
        Ok(())
    }

    fn list<V: Visitor<'de>>(&mut self, length: usize, visitor: V) -> Read<V::Value> {
        self.enter()?;
        let mut left = Left {
            from: self,
            left: length,
        };
        let value = visitor.visit_seq(&mut left)?;
        let left = left.left;
        self.leave(left, value)
    }

    fn map<V: Visitor<'de>>(&mut self, length: usize, visitor: V) -> Read<V::Value> {
        self.enter()?;
        let mut left = Left {
            from: self,
            left: length,
        };
        let value = visitor.visit_map(&mut left)?;
        let left = left.left;
        self.leave(left, value)
    }

    fn leave<T>(&mut self, left: usize, value: T) -> Read<T> {
        self.deeper += 1;
        if left == 0 {
            Ok(value)
        } else {
            Err(too_long())
        }
    }
}

#[cold]
fn too_long() -> PackedError {
    PackedError::Misfit("a list is longer than its type".into())
}

#[cold]
fn misfit(head: Head<'_>, expected: &dyn serde::de::Expected) -> PackedError {
    let found = match head {
        Head::Nil => Unexpected::Unit,
        Head::Bool(v) => Unexpected::Bool(v),
        Head::Unsigned(v) => Unexpected::Unsigned(v),
        Head::Signed(v) => Unexpected::Signed(v),
        Head::Short(v) => Unexpected::Float(v.into()),
        Head::Long(v) => Unexpected::Float(v),
        Head::Text(v) => match std::str::from_utf8(v) {
            Ok(text) => Unexpected::Str(text),
            Err(_) => Unexpected::Bytes(v),
        },
        Head::Bytes(v) => Unexpected::Bytes(v),
        Head::List(_) => Unexpected::Seq,
        Head::Map(_) => Unexpected::Map,
    };
    PackedError::invalid_type(found, expected)
}

fn text(bytes: &[u8]) -> Read<&str> {
    std::str::from_utf8(bytes).map_err(|_| PackedError::Misfit("a text that is no UTF-8".into()))
}

/// Methods for values of one kind.
macro_rules! stated {
    ($($method:ident)* => |$from:ident, $visitor:ident| $read:expr) => {$(
        fn $method<V: Visitor<'de>>(self, $visitor: V) -> Read<V::Value> {
            let $from = self;
            $read
        }
    )*};
}

impl<'de> Deserializer<'de> for &mut Packed<'de> {
    type Error = PackedError;

    fn is_human_readable(&self) -> bool {
        false
    }

    stated!(deserialize_any => |from, visitor| match from.head()? {
        Head::Nil => visitor.visit_unit(),
        Head::Bool(v) => visitor.visit_bool(v),
        Head::Unsigned(v) => visitor.visit_u64(v),
        Head::Signed(v) => visitor.visit_i64(v),
        Head::Short(v) => visitor.visit_f32(v),
        Head::Long(v) => visitor.visit_f64(v),
        Head::Text(v) => visitor.visit_borrowed_str(text(v)?),
        Head::Bytes(v) => visitor.visit_borrowed_bytes(v),
        Head::List(length) => from.list(length, visitor),
        Head::Map(length) => from.map(length, visitor),
    });

    stated!(deserialize_bool => |from, visitor| match from.head()? {
        Head::Bool(v) => visitor.visit_bool(v),
        other => Err(misfit(other, &visitor)),
    });

    stated!(
        deserialize_u8 deserialize_u16 deserialize_u32 deserialize_u64
        deserialize_i8 deserialize_i16 deserialize_i32 deserialize_i64
        => |from, visitor| match from.head()? {
            Head::Unsigned(v) => visitor.visit_u64(v),
            Head::Signed(v) => visitor.visit_i64(v),
            other => Err(misfit(other, &visitor)),
        }
    );

    stated!(deserialize_f32 deserialize_f64 => |from, visitor| match from.head()? {
        Head::Short(v) => visitor.visit_f32(v),
        Head::Long(v) => visitor.visit_f64(v),
        Head::Unsigned(v) => visitor.visit_u64(v),
        Head::Signed(v) => visitor.visit_i64(v),
        other => Err(misfit(other, &visitor)),
    });

    stated!(deserialize_str deserialize_string deserialize_char => |from, visitor| match from.head()? {
        Head::Text(v) => visitor.visit_borrowed_str(text(v)?),
        other => Err(misfit(other, &visitor)),
    });

    stated!(deserialize_identifier => |from, visitor| match from.head()? {
        Head::Text(v) => visitor.visit_borrowed_str(text(v)?),
        Head::Unsigned(v) => visitor.visit_u64(v),
        other => Err(misfit(other, &visitor)),
    });

    stated!(deserialize_bytes deserialize_byte_buf => |from, visitor| match from.head()? {
        Head::Bytes(v) | Head::Text(v) => visitor.visit_borrowed_bytes(v),
        Head::List(length) => from.list(length, visitor),
        other => Err(misfit(other, &visitor)),
    });

    stated!(deserialize_option => |from, visitor| {
        if from.nil() { visitor.visit_none() } else { visitor.visit_some(from) }
    });

    stated!(deserialize_unit => |from, visitor| match from.head()? {
        Head::Nil => visitor.visit_unit(),
        other => Err(misfit(other, &visitor)),
    });

    stated!(deserialize_seq => |from, visitor| match from.head()? {
        Head::List(length) => from.list(length, visitor),
        other => Err(misfit(other, &visitor)),
    });

    stated!(deserialize_map => |from, visitor| match from.head()? {
        Head::Map(length) => from.map(length, visitor),
        other => Err(misfit(other, &visitor)),
    });

    stated!(deserialize_ignored_any => |from, visitor| {
        from.skip()?;
        visitor.visit_unit()
    });

    fn deserialize_unit_struct<V: Visitor<'de>>(self, _: &'static str, v: V) -> Read<V::Value> {
        match self.head()? {
            Head::Nil | Head::List(0) => v.visit_unit(),
            other => Err(misfit(other, &v)),
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(self, _: &'static str, v: V) -> Read<V::Value> {
        v.visit_newtype_struct(self)
    }

    fn deserialize_tuple<V: Visitor<'de>>(self, _: usize, v: V) -> Read<V::Value> {
        self.deserialize_seq(v)
    }

    fn deserialize_tuple_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: usize,
        v: V,
    ) -> Read<V::Value> {
        self.deserialize_seq(v)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Read<V::Value> {
        match self.head()? {
            Head::List(length) => self.list(length, visitor),
            Head::Map(length) => self.map(length, visitor),
            other => Err(misfit(other, &visitor)),
        }
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        _: &'static str,
        _: &'static [&'static str],
        visitor: V,
    ) -> Read<V::Value> {
        let mut rest = self.rest;
        let with_content = match Head::take(&mut rest)? {
            Head::Map(1) => true,
            Head::Text(_) | Head::Unsigned(_) => false,
            other => return Err(misfit(other, &visitor)),
        };
        if with_content {
            self.rest = rest;
        }
        self.enter()?;
        let value = visitor.visit_enum(Variant {
            from: self,
            with_content,
        })?;
        self.deeper += 1;
        Ok(value)
    }
}

/// What is left of a list or map.
struct Left<'a, 'de> {
    from: &'a mut Packed<'de>,
    left: usize,
}

impl Left<'_, '_> {
    fn next(&mut self) -> bool {
        let more = self.left > 0;
        self.left = self.left.saturating_sub(1);
        more
    }
}

impl<'de> SeqAccess<'de> for Left<'_, 'de> {
    type Error = PackedError;

    fn next_element_seed<T: DeserializeSeed<'de>>(&mut self, seed: T) -> Read<Option<T::Value>> {
        if self.next() {
            seed.deserialize(&mut *self.from).map(Some)
        } else {
            Ok(None)
        }
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.left)
    }
}

impl<'de> MapAccess<'de> for Left<'_, 'de> {
    type Error = PackedError;

    fn next_key_seed<K: DeserializeSeed<'de>>(&mut self, seed: K) -> Read<Option<K::Value>> {
        self.next_element_seed(seed)
    }

    fn next_value_seed<V: DeserializeSeed<'de>>(&mut self, seed: V) -> Read<V::Value> {
        seed.deserialize(&mut *self.from)
    }

    fn size_hint(&self) -> Option<usize> {
        Some(self.left)
    }
}

/// One of several words, with or without content.
struct Variant<'a, 'de> {
    from: &'a mut Packed<'de>,
    with_content: bool,
}

impl<'a, 'de> EnumAccess<'de> for Variant<'a, 'de> {
    type Error = PackedError;
    type Variant = Self;

    fn variant_seed<V: DeserializeSeed<'de>>(self, seed: V) -> Read<(V::Value, Self)> {
        let word = seed.deserialize(&mut *self.from)?;
        Ok((word, self))
    }
}

impl<'a, 'de> Variant<'a, 'de> {
    fn content(self) -> Read<&'a mut Packed<'de>> {
        if self.with_content {
            Ok(self.from)
        } else {
            Err(PackedError::Misfit("a word without its content".into()))
        }
    }
}

impl<'de> VariantAccess<'de> for Variant<'_, 'de> {
    type Error = PackedError;

    fn unit_variant(self) -> Read<()> {
        if self.with_content && !self.from.nil() {
            return Err(PackedError::Misfit("a word with content".into()));
        }
        Ok(())
    }

    fn newtype_variant_seed<T: DeserializeSeed<'de>>(self, seed: T) -> Read<T::Value> {
        seed.deserialize(self.content()?)
    }

    fn tuple_variant<V: Visitor<'de>>(self, _: usize, visitor: V) -> Read<V::Value> {
        self.content()?.deserialize_seq(visitor)
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Read<V::Value> {
        self.content()?.deserialize_struct("", fields, visitor)
    }
}
