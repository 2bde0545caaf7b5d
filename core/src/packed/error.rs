//! Why a value cannot be read.

use std::fmt;

use serde::de;

/// Why a value cannot be read.
#[derive(Debug, thiserror::Error)]
pub(crate) enum PackedError {
    /// The bytes end within a value.
    #[error("it ends too soon")]
    Ends,
    /// Lists in lists, deeper than allowed.
    #[error("it nests too deep")]
    Deep,
    /// Another kind of value than the type states.
    #[error("{0}")]
    Misfit(String),
}

impl de::Error for PackedError {
    fn custom<T: fmt::Display>(words: T) -> Self {
        Self::Misfit(words.to_string())
    }
}
