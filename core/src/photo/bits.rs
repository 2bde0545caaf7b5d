//! Reading the entropy-coded part of a JPEG bit by bit. Source: ITU-T T.81, annex F.2.2.

/// Bits of the code that one look-up settles; longer codes are rare.
const LOOK_BITS: u32 = 10;

/// The bits between two markers. Past the end zeros follow, and the reader knows it.
pub(super) struct Bits<'a> {
    data: &'a [u8],
    at: usize,
    /// The next bits, from the top.
    buffer: u64,
    /// How many bits of the buffer count.
    count: u32,
    /// How many of those, at the end, were not in the file.
    padding: u32,
}

impl<'a> Bits<'a> {
    pub(super) fn new(data: &'a [u8], at: usize) -> Self {
        Self {
            data,
            at,
            buffer: 0,
            count: 0,
            padding: 0,
        }
    }

    /// True once bits were used that the file does not have.
    pub(super) fn ran_out(&self) -> bool {
        self.padding > self.count
    }

    /// Goes on behind the next restart marker; false where there is none.
    pub(super) fn restart(&mut self) -> bool {
        while let [byte, next, ..] = self.data.get(self.at..).unwrap_or_default() {
            match (byte, next) {
                (0xFF, 0xD0..=0xD7) => {
                    *self = Self::new(self.data, self.at + 2);
                    return true;
                }
                // Stuffed bytes and fill bytes; any other marker ends the scan.
                (0xFF, 0x00 | 0xFF) | (0..=0xFE, _) => self.at += 1,
                _ => return false,
            }
        }
        false
    }

    /// Makes sure of 32 bits: the longest code and its value.
    #[inline]
    fn fill(&mut self) {
        if self.count >= 32 {
            return;
        }
        if let Some(next) = self.data.get(self.at..self.at + 8)
            && let Ok(next) = <[u8; 8]>::try_from(next)
        {
            let word = u64::from_be_bytes(next);
            // Borrows reach the top bit of a byte only where the byte of `word` is FF.
            let turned = !word;
            let marks = turned.wrapping_sub(0x0101_0101_0101_0101) & word & 0x8080_8080_8080_8080;
            if marks == 0 {
                let bytes = (63 - self.count) / 8;
                self.buffer |= word >> self.count;
                self.count += bytes * 8;
                self.at += bytes as usize;
                // What was read beyond whole bytes is read again.
                self.buffer &= u64::MAX << (64 - self.count);
                return;
            }
        }
        self.fill_slowly();
    }

    #[cold]
    fn fill_slowly(&mut self) {
        while self.count <= 56 {
            let byte = match (self.data.get(self.at), self.data.get(self.at + 1)) {
                (Some(0xFF), Some(0x00)) => {
                    self.at += 2;
                    0xFF
                }
                (Some(0xFF), _) | (None, _) => {
                    self.padding += 8;
                    0
                }
                (Some(byte), _) => {
                    self.at += 1;
                    *byte
                }
            };
            self.buffer |= u64::from(byte) << (56 - self.count);
            self.count += 8;
        }
    }

    #[inline]
    fn peek(&self, bits: u32) -> u32 {
        (self.buffer >> (64 - bits)) as u32
    }

    #[inline]
    fn skip(&mut self, bits: u32) {
        self.buffer <<= bits;
        self.count = self.count.saturating_sub(bits);
    }
}

/// A Huffman table, made for passing over coefficients quickly.
pub(super) struct Codes {
    /// By the next ten bits: the code's length in bits, and its symbol; length 0 for longer codes.
    short: Vec<(u8, u8)>,
    /// The same for runs of coefficients: bits of code and value together, and how far it goes.
    steps: Vec<(u8, u8)>,
    /// By length from 1: the first code, the index of its symbol, and how many there are.
    long: [(u32, usize, u32); 16],
    symbols: Vec<u8>,
}

impl Codes {
    /// A table from its counts by length and its symbols; `None` where they make no table.
    pub(super) fn new(counts: &[u8; 16], symbols: &[u8]) -> Option<Self> {
        let looks = 1usize << LOOK_BITS;
        let mut codes = Self {
            short: vec![(0, 0); looks],
            steps: vec![(0, 0); looks],
            long: [(0, 0, 0); 16],
            symbols: symbols.to_vec(),
        };
        let (mut code, mut index) = (0u32, 0usize);
        for (length, count) in (1u32..).zip(counts) {
            let count = u32::from(*count);
            if code + count > 1 << length {
                return None;
            }
            codes.long[length as usize - 1] = (code, index, count);
            for _ in 0..count {
                let symbol = *symbols.get(index)?;
                if length <= LOOK_BITS {
                    let from = (code as usize) << (LOOK_BITS - length);
                    let to = (code as usize + 1) << (LOOK_BITS - length);
                    codes.short[from..to].fill((length as u8, symbol));
                    codes.steps[from..to].fill((length as u8 + (symbol & 15), advance(symbol)));
                }
                code += 1;
                index += 1;
            }
            code <<= 1;
        }
        Some(codes)
    }

    /// The change of the first coefficient of a block; `None` for bits that are no code.
    #[inline]
    pub(super) fn first(&self, bits: &mut Bits<'_>) -> Option<i32> {
        bits.fill();
        let size = u32::from(self.symbol(bits)?);
        if size == 0 {
            return Some(0);
        }
        if size > 15 {
            return None;
        }
        let value = bits.peek(size) as i32;
        bits.skip(size);
        // A leading 0 stands for a negative value.
        let half = 1 << (size - 1);
        Some(if value < half {
            value - 2 * half + 1
        } else {
            value
        })
    }

    /// Passes over the other coefficients of a block; `None` for bits that are no code.
    #[inline]
    pub(super) fn pass_rest(&self, bits: &mut Bits<'_>) -> Option<()> {
        let mut done = 1u32;
        while done < 64 {
            bits.fill();
            let (length, forward) = self.steps[bits.peek(LOOK_BITS) as usize];
            if length > 0 {
                bits.skip(u32::from(length));
                done += u32::from(forward);
            } else {
                let symbol = self.symbol(bits)?;
                bits.skip(u32::from(symbol & 15));
                done += u32::from(advance(symbol));
            }
        }
        Some(())
    }

    #[inline]
    fn symbol(&self, bits: &mut Bits<'_>) -> Option<u8> {
        let (length, symbol) = self.short[bits.peek(LOOK_BITS) as usize];
        if length > 0 {
            bits.skip(u32::from(length));
            return Some(symbol);
        }
        for length in LOOK_BITS + 1..=16 {
            let (first, index, count) = self.long[length as usize - 1];
            let above = bits.peek(length).wrapping_sub(first);
            if above < count {
                bits.skip(length);
                return self.symbols.get(index + above as usize).copied();
            }
        }
        None
    }
}

/// How many coefficients a symbol stands for: the zeros before a value and the value, sixteen
/// zeros, or all the rest.
fn advance(symbol: u8) -> u8 {
    match (symbol >> 4, symbol & 15) {
        (15, 0) => 16,
        (_, 0) => 64,
        (zeros, _) => zeros + 1,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stuffed_bytes_and_markers_are_seen() {
        let data = [0xFF, 0x00, 0x80, 0xFF, 0xD3, 0x40];
        let mut bits = Bits::new(&data, 0);
        bits.fill();
        assert_eq!(bits.peek(16), 0xFF80);
        bits.skip(16);
        assert!(!bits.ran_out());
        bits.skip(1);
        assert!(bits.ran_out());
        assert!(bits.restart());
        bits.fill();
        assert_eq!(bits.peek(8), 0x40);
        assert!(!bits.restart());
    }

    /// Any bytes give the same bits on the quick and on the slow path.
    #[test]
    fn quick_and_slow_filling_agree() {
        let mut data = vec![0u8; 4000];
        blake3::Hasher::new().finalize_xof().fill(&mut data);
        let plain: Vec<u8> = data.iter().map(|b| b & 0xFE).collect();
        let (mut quick, mut slow) = (Bits::new(&plain, 0), Bits::new(&plain, 0));
        for step in 0..1500u32 {
            quick.fill();
            if slow.count < 32 {
                slow.fill_slowly();
            }
            let bits = 1 + step * 7 % 31;
            assert_eq!(quick.peek(bits), slow.peek(bits), "step {step}");
            quick.skip(bits);
            slow.skip(bits);
        }
        assert!(!quick.ran_out());
    }

    #[test]
    fn tables_that_are_none_are_refused() {
        let mut counts = [0u8; 16];
        counts[0] = 3;
        assert!(Codes::new(&counts, &[1, 2, 3]).is_none());
        counts[0] = 2;
        assert!(Codes::new(&counts, &[1]).is_none());
        assert!(Codes::new(&counts, &[1, 2]).is_some());
    }

    #[test]
    fn long_codes_are_found() {
        // One code of each length from 1 to 12: 0, 10, 110, …
        let mut counts = [0u8; 16];
        counts[..12].fill(1);
        let symbols: Vec<u8> = (0..12).collect();
        let codes = Codes::new(&counts, &symbols).unwrap();
        let data = [0b1111_1111, 0x00, 0b1110_0111, 0, 0, 0, 0];
        let mut bits = Bits::new(&data, 0);
        bits.fill();
        assert_eq!(codes.symbol(&mut bits), Some(11));
        assert_eq!(codes.symbol(&mut bits), Some(0));
        let ones = [0xFF, 0x00, 0xFF, 0x00, 0xFF, 0x00];
        let mut bits = Bits::new(&ones, 0);
        bits.fill();
        assert_eq!(codes.symbol(&mut bits), None);
    }
}
