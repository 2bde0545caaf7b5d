//! Good bytes made bad.

/// Alters bytes: flips, overwrites, cuts, repeats and inserts, a few at a time.
pub fn mutate(bytes: &mut Vec<u8>, random: &mut fastrand::Rng) {
    for _ in 0..random.usize(1..=6) {
        if bytes.is_empty() {
            bytes.push(random.u8(..));
            continue;
        }
        let at = random.usize(..bytes.len());
        match random.u8(..9) {
            0 | 1 => bytes[at] ^= 1 << random.u8(..8),
            2 => bytes[at] = random.u8(..),
            3 => bytes[at] = [0, 1, 0x7f, 0x80, 0xff][random.usize(..5)],
            4 => bytes.insert(at, random.u8(..)),
            5 => drop(bytes.remove(at)),
            6 => {
                // A number that says far too much.
                let many = [0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0x7f];
                let end = (at + random.usize(1..many.len())).min(bytes.len());
                bytes[at..end].copy_from_slice(&many[..end - at]);
            }
            7 => {
                let end = (at + random.usize(1..40)).min(bytes.len());
                let piece = bytes[at..end].to_vec();
                let to = random.usize(..=bytes.len());
                bytes.splice(to..to, piece);
            }
            _ => bytes.truncate(at),
        }
    }
}
