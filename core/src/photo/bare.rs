//! A picture file without what the camera wrote into it. The picture itself is not decoded.

use crate::job::PictureFormat;

/// The file without its metadata; `None` where that cannot be done for this file. Of a JPEG, which
/// way is up is kept: an EXIF `orientation` of 2 to 8 is written into it.
pub fn bare(format: PictureFormat, bytes: &[u8], orientation: u8) -> Option<Vec<u8>> {
    match format {
        PictureFormat::Jpeg => jpeg(bytes, orientation),
        PictureFormat::Png => png(bytes),
        PictureFormat::Heic => None,
    }
}

/// ISO/IEC 10918-1, annex B: segments up to the start of the scan. Application segments are left
/// out apart from JFIF (0), colour profiles (2) and Adobe's colour transform (14), comments too.
/// What follows the end of the picture is left out as well: some cameras append a second one.
fn jpeg(bytes: &[u8], orientation: u8) -> Option<Vec<u8>> {
    const START: [u8; 2] = [0xff, 0xd8];
    let mut rest = bytes.strip_prefix(&START)?;
    let mut out = START.to_vec();
    let mut turned = !(2..=8).contains(&orientation);
    loop {
        let [0xff, marker, after @ ..] = rest else {
            return None;
        };
        if *marker == 0xff {
            rest = rest.get(1..)?;
            continue;
        }
        let size = usize::from(u16::from_be_bytes([*after.first()?, *after.get(1)?]));
        let (segment, next) = (rest.get(..2 + size)?, rest.get(2 + size..)?);
        let colour = *marker == 0xe2 && segment.get(4..)?.starts_with(b"ICC_PROFILE\0");
        let adobe = *marker == 0xee && segment.get(4..)?.starts_with(b"Adobe");
        let jfif = *marker == 0xe0 && segment.get(4..)?.starts_with(b"JFIF\0");
        if jfif {
            // Without the small picture that may lie in it.
            let plain = segment.get(4..16)?;
            out.extend([0xff, 0xe0, 0, 16]);
            out.extend(plain);
            out.extend([0, 0]);
            rest = next;
            continue;
        }
        if !turned {
            out.extend(orientation_segment(orientation));
            turned = true;
        }
        match marker {
            0xda => {
                out.extend(segment);
                out.extend(scans(next)?);
                return Some(out);
            }
            0xe0..=0xef | 0xfe if !(colour || adobe) => {}
            0xc0..=0xfe => out.extend(segment),
            _ => return None,
        }
        rest = next;
    }
}

/// Everything up to and with the end of the picture. Segments between scans are kept unless they
/// are application data or comments.
fn scans(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = Vec::with_capacity(bytes.len());
    let mut at = 0;
    while let Some(byte) = bytes.get(at) {
        if *byte != 0xff {
            out.push(*byte);
            at += 1;
            continue;
        }
        let marker = *bytes.get(at + 1)?;
        match marker {
            0xd9 => {
                out.extend([0xff, 0xd9]);
                return Some(out);
            }
            0x00 | 0xd0..=0xd7 => {
                out.extend([0xff, marker]);
                at += 2;
            }
            0xff => at += 1,
            0xc0..=0xfe => {
                let size = usize::from(u16::from_be_bytes([
                    *bytes.get(at + 2)?,
                    *bytes.get(at + 3)?,
                ]));
                let segment = bytes.get(at..at + 2 + size)?;
                if !matches!(marker, 0xe0..=0xef | 0xfe) {
                    out.extend(segment);
                }
                at += 2 + size;
            }
            _ => return None,
        }
    }
    None
}

/// EXIF with one entry: which way is up (EXIF 2.32, tag 0x0112).
fn orientation_segment(orientation: u8) -> Vec<u8> {
    let mut body = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    body.push(orientation);
    body.extend([0; 6]);
    let size = u16::try_from(body.len() + 2).unwrap_or_default();
    let mut segment = vec![0xff, 0xe1];
    segment.extend(size.to_be_bytes());
    segment.extend(body);
    segment
}

/// PNG, third edition, section 11: critical chunks and those that say how colours are shown.
fn png(bytes: &[u8]) -> Option<Vec<u8>> {
    const START: &[u8] = b"\x89PNG\r\n\x1a\n";
    const KEPT: &[&[u8]] = &[
        b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"gAMA", b"cHRM", b"sRGB", b"iCCP", b"sBIT",
        b"pHYs",
    ];
    let mut rest = bytes.strip_prefix(START)?;
    let mut out = START.to_vec();
    loop {
        let size = u32::from_be_bytes(rest.get(..4)?.try_into().ok()?);
        let whole = usize::try_from(size).ok()?.checked_add(12)?;
        let chunk = rest.get(..whole)?;
        let kind = chunk.get(4..8)?;
        if KEPT.contains(&kind) {
            out.extend(chunk);
        }
        if kind == b"IEND" {
            return Some(out);
        }
        rest = rest.get(whole..)?;
    }
}
