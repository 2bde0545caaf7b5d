//! What kind of picture a file is and how large, told from its first bytes before any decoding.

use crate::job::PictureFormat;

/// Bytes from the start of a file that [`sniff`] looks at.
pub(super) const SNIFF_BYTES: usize = 64;

/// HEIF brands with HEVC pictures. Source: ISO/IEC 23008-12, annex B (`heic`, `heix`, `heim`,
/// `heis`, `hevc`, `hevx`, `hevm`, `hevs`) and clause 10 (`mif1`, `msf1`).
const HEIF_BRANDS: [&[u8; 4]; 10] = [
    b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"hevm", b"hevs", b"mif1", b"msf1",
];

/// The kind of picture, by the first bytes.
pub(super) fn sniff(start: &[u8]) -> Option<PictureFormat> {
    if start.starts_with(&[0xFF, 0xD8, 0xFF]) {
        return Some(PictureFormat::Jpeg);
    }
    if start.starts_with(b"\x89PNG\r\n\x1a\n") {
        return Some(PictureFormat::Png);
    }
    let brand = start.get(8..12)?;
    let heif = start.get(4..8)? == b"ftyp" && HEIF_BRANDS.iter().any(|known| *known == brand);
    heif.then_some(PictureFormat::Heic)
}

/// Size of a picture as its header says, and the memory that decoding it would take.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Size {
    /// Pixels across, as stored.
    pub(super) width: u32,
    /// Pixels down, as stored.
    pub(super) height: u32,
    /// Bytes that a decoder needs besides the small picture.
    pub(super) memory: u64,
    /// Colour components.
    pub(super) parts: u64,
}

/// The size of a JPEG or PNG; `None` where the header does not say it.
pub(super) fn size(format: PictureFormat, data: &[u8]) -> Option<Size> {
    match format {
        PictureFormat::Jpeg => jpeg_size(data),
        PictureFormat::Png => png_size(data),
        PictureFormat::Heic => None,
    }
}

/// Walks the marker segments up to the frame header. Source: ITU-T T.81, B.2.2.
fn jpeg_size(data: &[u8]) -> Option<Size> {
    let mut at = 2;
    loop {
        while *data.get(at)? != 0xFF {
            at += 1;
        }
        while *data.get(at)? == 0xFF {
            at += 1;
        }
        let marker = data[at];
        at += 1;
        match marker {
            // Stand-alone markers and stuffed bytes.
            0x00 | 0x01 | 0xD0..=0xD8 => continue,
            // The picture data or the end come before any frame header.
            0xD9 | 0xDA => return None,
            // Start of frame; C4, C8 and CC are other segments.
            0xC0..=0xCF if !matches!(marker, 0xC4 | 0xC8 | 0xCC) => {
                return frame_header(marker, data.get(at..)?);
            }
            _ => at += usize::from(u16_at(data, at)?),
        }
    }
}

fn frame_header(marker: u8, segment: &[u8]) -> Option<Size> {
    let height = u32::from(u16_at(segment, 3)?);
    let width = u32::from(u16_at(segment, 5)?);
    let parts = usize::from(*segment.get(7)?);
    if width == 0 || height == 0 || parts == 0 {
        return None;
    }
    let mut samples = 0u64;
    let mut largest = 1u64;
    for part in 0..parts {
        let factors = *segment.get(9 + part * 3)?;
        let factor = u64::from(factors >> 4) * u64::from(factors & 15);
        samples += factor;
        largest = largest.max(factor);
    }
    let pixels = u64::from(width) * u64::from(height);
    // Sequential pictures are reduced as they come; the others keep every coefficient, in two
    // bytes each, until the last scan.
    let memory = if matches!(marker, 0xC0 | 0xC1) {
        pixels * samples / largest / 16
    } else {
        pixels * samples / largest * 2
    };
    Some(Size {
        width,
        height,
        memory,
        parts: parts as u64,
    })
}

/// Source: PNG specification (third edition), 11.2.1, the IHDR chunk.
fn png_size(data: &[u8]) -> Option<Size> {
    if data.get(12..16)? != b"IHDR" {
        return None;
    }
    let width = u32_at(data, 16)?;
    let height = u32_at(data, 20)?;
    let depth = u64::from(*data.get(24)?);
    if width == 0 || height == 0 {
        return None;
    }
    let channels = match *data.get(25)? {
        0 => 1,
        2 | 3 => 3,
        4 => 2,
        _ => 4,
    };
    // The decoded picture and its copy in three bytes a pixel.
    let pixels = u64::from(width).checked_mul(u64::from(height))?;
    let memory = pixels.checked_mul(channels * depth.div_ceil(8) + 3)?;
    Some(Size {
        width,
        height,
        memory,
        parts: channels,
    })
}

fn u16_at(data: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes(data.get(at..at + 2)?.try_into().ok()?))
}

fn u32_at(data: &[u8], at: usize) -> Option<u32> {
    Some(u32::from_be_bytes(data.get(at..at + 4)?.try_into().ok()?))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::samples;

    #[test]
    fn kinds_are_told_by_the_first_bytes() {
        let picture = samples::scene(40, 30, 1);
        assert_eq!(
            sniff(&samples::jpeg(&picture, 80)),
            Some(PictureFormat::Jpeg)
        );
        assert_eq!(sniff(&samples::png(&picture)), Some(PictureFormat::Png));
        assert_eq!(
            sniff(b"\0\0\0\x18ftypheic\0\0\0\0"),
            Some(PictureFormat::Heic)
        );
        for other in [
            &b"\0\0\0\x18ftypisom\0\0\0\0"[..],
            b"GIF89a",
            b"%PDF-1.7",
            b"",
            b"\xFF\xD8",
        ] {
            assert_eq!(sniff(other), None, "{other:?}");
        }
    }

    #[test]
    fn sizes_are_read_without_decoding() {
        let picture = samples::scene(40, 30, 1);
        for (format, data) in [
            (PictureFormat::Jpeg, samples::jpeg(&picture, 80)),
            (PictureFormat::Png, samples::png(&picture)),
        ] {
            let size = size(format, &data).unwrap();
            assert_eq!((size.width, size.height), (40, 30));
            assert!(size.memory < 40 * 30 * 8);
            for end in 0..data.len().min(25) {
                assert_eq!(super::size(format, &data[..end]), None);
            }
        }
    }

    #[test]
    fn a_progressive_frame_asks_for_all_its_coefficients() {
        let frame = |marker| {
            let mut data = vec![0xFF, 0xD8, 0xFF, marker, 0, 17, 8, 0x10, 0, 0x20, 0, 3];
            data.extend([1, 0x22, 0, 2, 0x11, 1, 3, 0x11, 1]);
            jpeg_size(&data).unwrap()
        };
        // 0x2000 by 0x1000 pixels at 4:2:0 hold one and a half samples a pixel.
        assert_eq!(frame(0xC2).memory, 0x2000 * 0x1000 * 3);
        assert_eq!(frame(0xC0).width, 0x2000);
        assert!(frame(0xC0).memory < frame(0xC2).memory / 20);
    }
}
