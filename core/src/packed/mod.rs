//! Reading MessagePack with little code for each type.
//!
//! `rmp-serde`, which writes it, reads each type as if it might be anything: a table of every kind
//! of value for every type, half a megabyte of a phone's library. Here one function reads a value's
//! head, and a type is asked only for the kind it stated. What is read is the same, but for what
//! nothing writes: extensions, and bytes where a list was stated.

mod error;
mod from;
mod head;
#[cfg(test)]
mod tests;

pub(crate) use error::PackedError;
pub(crate) use from::Packed;

use serde::Deserialize;

/// Deep enough for everything that is stored.
const DEPTH: usize = 64;

/// Reads one value at the beginning of the bytes.
pub(crate) fn from_slice<'de, T: Deserialize<'de>>(bytes: &'de [u8]) -> Result<T, PackedError> {
    T::deserialize(&mut Packed::new(bytes, DEPTH))
}
