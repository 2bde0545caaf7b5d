//! A JPEG at an eighth of its size, from the mean of each block alone: what every large photo is
//! reduced by first. It passes over all other coefficients, which is most of the work saved.
//!
//! Only the common kind is read: sequential, Huffman-coded, eight bits, grey or YCbCr in one
//! scan. Source: ITU-T T.81.

use image::{DynamicImage, GrayImage, RgbImage};

use super::bits::{Bits, Codes};

/// A reduced picture, and whether the file broke off within it.
pub(super) struct Eighth {
    pub(super) picture: DynamicImage,
    pub(super) truncated: bool,
}

/// Decodes at an eighth, each side rounded up; `None` for a JPEG of another kind.
pub(super) fn eighth(data: &[u8]) -> Option<Eighth> {
    let mut header = Header::default();
    let scan = header.read(data)?;
    let mut parts = header.parts(data.get(scan..)?)?;
    let whole = decode(data, scan, &header, &mut parts).is_some();
    Some(Eighth {
        picture: picture(&header, &parts)?,
        truncated: !whole,
    })
}

/// What stands before the scan.
#[derive(Default)]
struct Header {
    width: usize,
    height: usize,
    /// Component: name, factors across and down, quantisation table.
    components: Vec<(u8, usize, usize, usize)>,
    /// The step of each quantisation table's first coefficient.
    steps: [Option<i32>; 4],
    first_codes: [Option<Codes>; 4],
    rest_codes: [Option<Codes>; 4],
    restart_every: usize,
}

/// One component as it is decoded.
struct Part {
    across: usize,
    down: usize,
    step: i32,
    first_codes: usize,
    rest_codes: usize,
    /// Blocks in a row, those that fill up the last unit included.
    stride: usize,
    means: Vec<u8>,
}

impl Header {
    /// Reads up to the scan; gives where its header starts.
    fn read(&mut self, data: &[u8]) -> Option<usize> {
        let mut at = 2;
        loop {
            let marker = match data.get(at..at + 2)? {
                [0xFF, 0xFF] => {
                    at += 1;
                    continue;
                }
                [0xFF, marker] => *marker,
                _ => return None,
            };
            let length = usize::from(u16::from_be_bytes([*data.get(at + 2)?, *data.get(at + 3)?]));
            let segment = data.get(at + 4..at + 2 + length)?;
            match marker {
                0xC0 | 0xC1 => self.frame(segment)?,
                0xC4 => self.codes(segment)?,
                0xDB => self.quantisation(segment)?,
                0xDD => self.restart_every = usize::from(u16_at(segment, 0)?),
                // Adobe's marker may say that the colours are not YCbCr.
                0xEE if segment.starts_with(b"Adobe") && segment.get(11) != Some(&1) => {
                    return None;
                }
                0xDA => return Some(at + 4),
                0xC2..=0xCF => return None,
                _ => {}
            }
            at += 2 + length;
        }
    }

    fn frame(&mut self, segment: &[u8]) -> Option<()> {
        let count = usize::from(*segment.get(5)?);
        if segment[0] != 8 || !self.components.is_empty() || !matches!(count, 1 | 3) {
            return None;
        }
        self.height = usize::from(u16_at(segment, 1)?);
        self.width = usize::from(u16_at(segment, 3)?);
        for part in segment.get(6..6 + count * 3)?.chunks(3) {
            let (across, down) = (usize::from(part[1] >> 4), usize::from(part[1] & 15));
            let good = matches!(across, 1 | 2 | 4) && matches!(down, 1 | 2 | 4);
            if !good || part[2] > 3 {
                return None;
            }
            // A single component has one block a unit, whatever its factors.
            let (across, down) = if count == 1 { (1, 1) } else { (across, down) };
            self.components
                .push((part[0], across, down, usize::from(part[2])));
        }
        let rgb = self.components.iter().map(|c| c.0).eq(*b"RGB");
        (self.width > 0 && self.height > 0 && !rgb).then_some(())
    }

    fn codes(&mut self, mut segment: &[u8]) -> Option<()> {
        while let Some((kind, rest)) = segment.split_first() {
            let (counts, rest) = rest.split_at_checked(16)?;
            let total = counts.iter().map(|n| usize::from(*n)).sum();
            let (symbols, rest) = rest.split_at_checked(total)?;
            let codes = Codes::new(counts.try_into().ok()?, symbols)?;
            let tables = match kind >> 4 {
                0 => &mut self.first_codes,
                1 => &mut self.rest_codes,
                _ => return None,
            };
            *tables.get_mut(usize::from(kind & 15))? = Some(codes);
            segment = rest;
        }
        Some(())
    }

    fn quantisation(&mut self, mut segment: &[u8]) -> Option<()> {
        while let Some((kind, rest)) = segment.split_first() {
            let wide = kind >> 4 != 0;
            let (table, rest) = rest.split_at_checked(if wide { 128 } else { 64 })?;
            let step = if wide {
                i32::from(u16_at(table, 0)?)
            } else {
                i32::from(table[0])
            };
            *self.steps.get_mut(usize::from(kind & 15))? = Some(step);
            segment = rest;
        }
        Some(())
    }

    /// Units across and down: the blocks of all components that are coded together.
    fn units(&self) -> (usize, usize) {
        let (across, down) = self.most();
        (
            self.width.div_ceil(8 * across),
            self.height.div_ceil(8 * down),
        )
    }

    /// The largest factors across and down.
    fn most(&self) -> (usize, usize) {
        let across = self.components.iter().map(|c| c.1).max();
        let down = self.components.iter().map(|c| c.2).max();
        (across.unwrap_or(1), down.unwrap_or(1))
    }

    /// The components with their tables, as the scan's header names them.
    fn parts(&self, scan: &[u8]) -> Option<Vec<Part>> {
        let count = self.components.len();
        if count == 0 || usize::from(*scan.first()?) != count {
            return None;
        }
        let (wide, high) = self.units();
        let mut parts = Vec::with_capacity(count);
        for (component, named) in self.components.iter().zip(scan.get(1..)?.chunks_exact(2)) {
            let (name, across, down, table) = *component;
            let (first_codes, rest_codes) =
                (usize::from(named[1] >> 4), usize::from(named[1] & 15));
            self.first_codes.get(first_codes)?.as_ref()?;
            self.rest_codes.get(rest_codes)?.as_ref()?;
            if named[0] != name {
                return None;
            }
            parts.push(Part {
                across,
                down,
                step: self.steps[table]?,
                first_codes,
                rest_codes,
                stride: wide * across,
                means: vec![128; wide * across * high * down],
            });
        }
        (parts.len() == count).then_some(parts)
    }
}

/// Fills the means of all blocks; `None` where the bits end or make no sense, with grey left in
/// the blocks from there.
fn decode(data: &[u8], scan: usize, header: &Header, parts: &mut [Part]) -> Option<()> {
    // The count, two bytes a component, and three that only progressive pictures use.
    let mut bits = Bits::new(data, scan + 1 + parts.len() * 2 + 3);
    let (wide, high) = header.units();
    let mut before = [0i32; 4];
    let mut until_restart = header.restart_every;
    for row in 0..high {
        for column in 0..wide {
            if header.restart_every > 0 {
                if until_restart == 0 {
                    if !bits.restart() {
                        return None;
                    }
                    before = [0; 4];
                    until_restart = header.restart_every;
                }
                until_restart -= 1;
            }
            for (part, before) in parts.iter_mut().zip(&mut before) {
                let first = header.first_codes[part.first_codes].as_ref()?;
                let rest = header.rest_codes[part.rest_codes].as_ref()?;
                for down in 0..part.down {
                    let line = (row * part.down + down) * part.stride + column * part.across;
                    for across in 0..part.across {
                        *before = before.wrapping_add(first.first(&mut bits)?);
                        rest.pass_rest(&mut bits)?;
                        if bits.ran_out() {
                            return None;
                        }
                        part.means[line + across] = mean(*before, part.step);
                    }
                }
            }
        }
    }
    Some(())
}

/// The mean of a block: its first coefficient is eight times that, less the middle grey.
fn mean(first: i32, step: i32) -> u8 {
    let eightfold = first.wrapping_mul(step).clamp(-1024, 1024);
    (((eightfold + 4) >> 3) + 128).clamp(0, 255) as u8
}

fn picture(header: &Header, parts: &[Part]) -> Option<DynamicImage> {
    let (width, height) = (header.width.div_ceil(8), header.height.div_ceil(8));
    let (most_across, most_down) = header.most();
    let lines = |part: &Part, y: usize| (y * part.down / most_down) * part.stride;
    let (wide, high) = (u32::try_from(width).ok()?, u32::try_from(height).ok()?);
    match parts {
        [grey] => {
            let mut means = Vec::with_capacity(width * height);
            for y in 0..height {
                means.extend_from_slice(&grey.means[lines(grey, y)..][..width]);
            }
            GrayImage::from_raw(wide, high, means).map(DynamicImage::from)
        }
        [light, blue, red] => {
            let mut pixels = Vec::with_capacity(width * height * 3);
            for y in 0..height {
                let [l, b, r] = [light, blue, red].map(|part| &part.means[lines(part, y)..]);
                for x in 0..width {
                    let at = |part: &Part| x * part.across / most_across;
                    pixels.extend(to_rgb(l[at(light)], b[at(blue)], r[at(red)]));
                }
            }
            RgbImage::from_raw(wide, high, pixels).map(DynamicImage::from)
        }
        _ => None,
    }
}

/// Source: JFIF (ITU-T T.871), clause 7, in 65536ths.
fn to_rgb(light: u8, blue: u8, red: u8) -> [u8; 3] {
    let (light, blue, red) = (
        i32::from(light) << 16,
        i32::from(blue) - 128,
        i32::from(red) - 128,
    );
    [
        light + 91_881 * red,
        light - 22_554 * blue - 46_802 * red,
        light + 116_130 * blue,
    ]
    .map(|value| ((value + 32_768) >> 16).clamp(0, 255) as u8)
}

fn u16_at(data: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes(data.get(at..at + 2)?.try_into().ok()?))
}

#[cfg(test)]
#[path = "eighth_tests.rs"]
mod tests;
