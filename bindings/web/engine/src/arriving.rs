//! An original on its way from another phone: hashed as it comes, counted once all of it is right.

use chalkwalk_core::job::{BlobProgress, PhotoHash};

/// One original that is coming.
#[derive(Clone, Debug)]
pub(crate) struct Arriving {
    hasher: blake3::Hasher,
    /// Bytes from the start that are held.
    pub(crate) held: u64,
}

impl Arriving {
    /// Nothing of it is here yet.
    pub(crate) fn new() -> Self {
        Self {
            hasher: blake3::Hasher::new(),
            held: 0,
        }
    }

    /// The part of `bytes` that is new; `None` where there is a gap before it.
    pub(crate) fn new_part<'a>(&self, offset: u64, bytes: &'a [u8]) -> Option<&'a [u8]> {
        let known = usize::try_from(self.held.checked_sub(offset)?).ok()?;
        Some(bytes.get(known..).unwrap_or_default())
    }

    /// Takes more of it. Where it is whole by now, whether it is what its name says.
    pub(crate) fn take(&mut self, part: &[u8], size: u64, hash: PhotoHash) -> Came {
        self.hasher.update(part);
        self.held += part.len() as u64;
        if self.held < size {
            return Came::Partly(BlobProgress {
                held: self.held,
                complete: false,
            });
        }
        let right = self.held == size && self.hasher.finalize().as_bytes() == hash.as_bytes();
        if right { Came::Whole } else { Came::Wrong }
    }
}

/// How far an original has come.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Came {
    /// More is to come.
    Partly(BlobProgress),
    /// It is whole and what its name says.
    Whole,
    /// It is another file.
    Wrong,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name_of(bytes: &[u8]) -> PhotoHash {
        PhotoHash::from_bytes(*blake3::hash(bytes).as_bytes())
    }

    #[test]
    fn what_comes_in_pieces_counts_once_it_is_what_its_name_says() {
        let file: Vec<u8> = (0..1_000_u32).flat_map(u32::to_le_bytes).collect();
        let (hash, size) = (name_of(&file), file.len() as u64);
        let mut coming = Arriving::new();
        let mut last = None;
        for (n, piece) in file.chunks(700).enumerate() {
            let offset = n as u64 * 700;
            assert_eq!(coming.new_part(offset, piece), Some(piece));
            last = Some(coming.take(piece, size, hash));
            // The same again adds nothing.
            assert_eq!(coming.new_part(offset, piece), Some(&[][..]));
        }
        assert_eq!(last, Some(Came::Whole));
    }

    #[test]
    fn a_gap_is_seen_and_another_file_refused() {
        let file = [7_u8; 900];
        let mut coming = Arriving::new();
        assert_eq!(coming.new_part(1, &file[1..]), None);
        assert!(
            matches!(coming.take(&file[..500], 900, name_of(&file)), Came::Partly(held) if held.held == 500)
        );
        let mut altered = file[500..].to_vec();
        altered[0] ^= 1;
        assert_eq!(coming.take(&altered, 900, name_of(&file)), Came::Wrong);
    }
}
