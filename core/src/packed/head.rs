//! The head of a value: its kind, and what stands in it where it has no parts.
//! Source: the MessagePack specification, "Formats".

use super::PackedError;

/// The head of a value.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Head<'de> {
    Nil,
    Bool(bool),
    Unsigned(u64),
    Signed(i64),
    Short(f32),
    Long(f64),
    Text(&'de [u8]),
    Bytes(&'de [u8]),
    /// So many values follow.
    List(usize),
    /// So many pairs of values follow.
    Map(usize),
}

impl<'de> Head<'de> {
    /// Takes a head from the front of the bytes.
    pub(super) fn take(rest: &mut &'de [u8]) -> Result<Self, PackedError> {
        let [marker] = array(rest)?;
        Ok(match marker {
            0x00..=0x7f => Self::Unsigned(u64::from(marker)),
            0x80..=0x8f => Self::Map(usize::from(marker & 0x0f)),
            0x90..=0x9f => Self::List(usize::from(marker & 0x0f)),
            0xa0..=0xbf => Self::Text(bytes(rest, usize::from(marker & 0x1f))?),
            0xc0 => Self::Nil,
            0xc2 | 0xc3 => Self::Bool(marker == 0xc3),
            0xc4..=0xc6 => {
                let length = length(rest, marker - 0xc4)?;
                Self::Bytes(bytes(rest, length)?)
            }
            0xca => Self::Short(f32::from_be_bytes(array(rest)?)),
            0xcb => Self::Long(f64::from_be_bytes(array(rest)?)),
            0xcc => Self::Unsigned(u64::from(u8::from_be_bytes(array(rest)?))),
            0xcd => Self::Unsigned(u64::from(u16::from_be_bytes(array(rest)?))),
            0xce => Self::Unsigned(u64::from(u32::from_be_bytes(array(rest)?))),
            0xcf => Self::Unsigned(u64::from_be_bytes(array(rest)?)),
            0xd0 => Self::Signed(i64::from(i8::from_be_bytes(array(rest)?))),
            0xd1 => Self::Signed(i64::from(i16::from_be_bytes(array(rest)?))),
            0xd2 => Self::Signed(i64::from(i32::from_be_bytes(array(rest)?))),
            0xd3 => Self::Signed(i64::from_be_bytes(array(rest)?)),
            0xd9..=0xdb => {
                let length = length(rest, marker - 0xd9)?;
                Self::Text(bytes(rest, length)?)
            }
            0xdc | 0xdd => Self::List(length(rest, marker - 0xdb)?),
            0xde | 0xdf => Self::Map(length(rest, marker - 0xdd)?),
            0xe0..=0xff => Self::Signed(i64::from(marker.cast_signed())),
            // Never used, or an extension.
            0xc1 | 0xc7..=0xc9 | 0xd4..=0xd8 => {
                return Err(PackedError::Misfit("a kind of value nobody writes".into()));
            }
        })
    }
}

/// A length in one, two or four bytes.
fn length(rest: &mut &[u8], width: u8) -> Result<usize, PackedError> {
    let length = match width {
        0 => u32::from(u8::from_be_bytes(array(rest)?)),
        1 => u32::from(u16::from_be_bytes(array(rest)?)),
        _ => u32::from_be_bytes(array(rest)?),
    };
    usize::try_from(length).map_err(|_| PackedError::Ends)
}

fn bytes<'de>(rest: &mut &'de [u8], length: usize) -> Result<&'de [u8], PackedError> {
    rest.split_off(..length).ok_or(PackedError::Ends)
}

fn array<const N: usize>(rest: &mut &[u8]) -> Result<[u8; N], PackedError> {
    let (first, after) = rest.split_first_chunk().ok_or(PackedError::Ends)?;
    *rest = after;
    Ok(*first)
}
