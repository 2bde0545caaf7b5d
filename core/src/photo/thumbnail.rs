//! The small picture that travels first: a JPEG of 320 pixels without any metadata.

use image::RgbImage;
use image::codecs::jpeg::JpegEncoder;

use super::decode::within_bounds;
use super::header;
use crate::job::PictureFormat;
use crate::limits;

/// Qualities tried until the picture fits; the last one always does.
const QUALITIES: [u8; 6] = [82, 70, 55, 40, 20, 5];

/// Encodes a small picture within [`limits::THUMBNAIL_BYTES`].
pub(super) fn encode(picture: &RgbImage) -> Option<Vec<u8>> {
    QUALITIES.iter().find_map(|quality| {
        let mut bytes = Vec::with_capacity(32 << 10);
        JpegEncoder::new_with_quality(&mut bytes, *quality)
            .encode_image(picture)
            .ok()?;
        (bytes.len() as u64 <= limits::THUMBNAIL_BYTES).then_some(bytes)
    })
}

/// True for bytes that may be shown as a thumbnail: a whole JPEG of at most the thumbnail's size.
pub fn is_thumbnail(data: &[u8]) -> bool {
    let fits = data.len() as u64 <= limits::THUMBNAIL_BYTES
        && header::sniff(data) == Some(PictureFormat::Jpeg)
        && data.ends_with(&[0xFF, 0xD9]);
    match header::size(PictureFormat::Jpeg, data) {
        Some(size) if fits => {
            size.width.max(size.height) <= limits::THUMBNAIL_SIDE && within_bounds(size)
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::samples;

    #[test]
    fn even_noise_fits() {
        let noise = samples::noise(320, 320);
        let plain = samples::jpeg(&noise, 82);
        assert!(plain.len() as u64 > limits::THUMBNAIL_BYTES);
        let bytes = encode(&noise).unwrap();
        assert!(bytes.len() as u64 <= limits::THUMBNAIL_BYTES);
        assert!(is_thumbnail(&bytes));
    }

    #[test]
    fn what_is_no_thumbnail_is_told_apart() {
        let good = encode(&samples::scene(320, 240, 3)).unwrap();
        assert!(is_thumbnail(&good));
        assert!(!is_thumbnail(&good[..good.len() - 1]));
        assert!(!is_thumbnail(&samples::jpeg(
            &samples::scene(321, 240, 3),
            80
        )));
        assert!(!is_thumbnail(b"words"));
        let mut long = good.clone();
        long.resize(limits::THUMBNAIL_BYTES as usize - 1, 0);
        long.extend([0xFF, 0xD9]);
        assert!(!is_thumbnail(&long), "one byte past the limit");
    }

    /// The only segments of a thumbnail are those a decoder needs (ITU-T T.81) and JFIF's APP0.
    #[test]
    fn a_thumbnail_carries_no_metadata() {
        let bytes = encode(&samples::scene(64, 48, 3)).unwrap();
        let mut at = 2;
        loop {
            let marker = bytes[at + 1];
            if marker == 0xDA {
                break;
            }
            assert!(
                matches!(marker, 0xE0 | 0xDB | 0xC0 | 0xC4),
                "segment {marker:x}"
            );
            at += 2 + usize::from(u16::from_be_bytes([bytes[at + 2], bytes[at + 3]]));
        }
    }
}
