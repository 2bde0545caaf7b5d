//! How a struct of optional fields becomes the keys of one record in the document.

use super::{AnyFields, Scalar, ScalarRef};

/// What became of one key that was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FieldRead {
    /// The struct has the field and took the value.
    Taken,
    /// The struct has the field, but not for this value (a newer word, another type).
    Mistyped,
    /// A key of a newer version: it stays in the document, untouched.
    Unknown,
}

/// The fields of one kind of record: all optional, because a record fills up as the crew works.
pub trait Fields: Default + Clone + PartialEq {
    /// Every key, in the order people read them.
    const KEYS: &'static [&'static str];
    /// Calls `put` for each field that has a value.
    fn each(&self, put: &mut dyn FnMut(&'static str, Scalar));
    /// Reads one key.
    fn read(&mut self, key: &str, value: ScalarRef<'_>) -> FieldRead;
    /// Empties one field; false where there is no such field.
    fn clear(&mut self, key: &str) -> bool;
    /// One field as a person reads it.
    fn words(&self, key: &str) -> Option<String>;
    /// A stored value of one field as a person reads it.
    fn value_in_words(key: &str, value: ScalarRef<'_>) -> Option<String>;
}

/// The fields of a record of some kind, without a word on which.
pub trait FieldList {
    /// Calls `put` for each field that has a value.
    fn each_field(&self, put: &mut dyn FnMut(&'static str, Scalar));
    /// A copy with its kind.
    fn to_any(&self) -> AnyFields;
}

impl<F: Fields + Into<AnyFields>> FieldList for F {
    fn each_field(&self, put: &mut dyn FnMut(&'static str, Scalar)) {
        self.each(put);
    }

    fn to_any(&self) -> AnyFields {
        self.clone().into()
    }
}

macro_rules! record {
    ($(#[$meta:meta])* $name:ident { $( $(#[$field_meta:meta])* $field:ident : $type:ty ),* $(,)? }) => {
        $(#[$meta])*
        #[derive(Clone, Debug, Default, PartialEq, serde::Serialize, serde::Deserialize)]
        #[serde(default, deny_unknown_fields)]
        pub struct $name {
            $(
                $(#[$field_meta])*
                #[serde(skip_serializing_if = "Option::is_none")]
                pub $field: Option<$type>,
            )*
        }

        impl crate::job::Fields for $name {
            const KEYS: &'static [&'static str] = &[$(stringify!($field)),*];

            fn each(&self, put: &mut dyn FnMut(&'static str, crate::job::Scalar)) {
                $(
                    if let Some(value) = &self.$field {
                        put(stringify!($field), crate::job::FieldValue::to_scalar(value));
                    }
                )*
            }

            fn read(&mut self, key: &str, value: crate::job::ScalarRef<'_>) -> crate::job::FieldRead {
                match key {
                    $(
                        stringify!($field) => {
                            match <$type as crate::job::FieldValue>::from_scalar(value) {
                                Some(value) => {
                                    self.$field = Some(value);
                                    crate::job::FieldRead::Taken
                                }
                                None => crate::job::FieldRead::Mistyped,
                            }
                        }
                    )*
                    _ => crate::job::FieldRead::Unknown,
                }
            }

            fn clear(&mut self, key: &str) -> bool {
                match key {
                    $( stringify!($field) => { self.$field = None; true } )*
                    _ => false,
                }
            }

            fn words(&self, key: &str) -> Option<String> {
                match key {
                    $( stringify!($field) => self.$field.as_ref().map(crate::job::FieldValue::in_words), )*
                    _ => None,
                }
            }

            fn value_in_words(key: &str, value: crate::job::ScalarRef<'_>) -> Option<String> {
                match key {
                    $(
                        stringify!($field) => <$type as crate::job::FieldValue>::from_scalar(value)
                            .as_ref()
                            .map(crate::job::FieldValue::in_words),
                    )*
                    _ => None,
                }
            }
        }
    };
}
pub(super) use record;
