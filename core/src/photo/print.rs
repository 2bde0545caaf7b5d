//! A copy of a photo for paper: upright, reduced, without any metadata.

use image::codecs::jpeg::JpegEncoder;

use super::decode::reduced_upright;
use super::header;

/// JPEG quality: no blocks are seen at 300 dots an inch.
const QUALITY: u8 = 80;

/// A copy for paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PrintCopy {
    /// A JPEG without metadata.
    pub jpeg: Vec<u8>,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
}

/// Reduces a photo to at most `side` pixels on its long side; `orientation` is EXIF's. `None` for
/// bytes that are no picture that can be read here (HEIC among them). The same bytes give the same
/// copy.
pub fn print_copy(data: &[u8], orientation: u8, side: u32) -> Option<PrintCopy> {
    let format = header::sniff(data)?;
    let size = header::size(format, data)?;
    let small = reduced_upright(format, data, size, orientation, side).ok()?;
    let (width, height) = small.picture.dimensions();
    let mut jpeg = Vec::with_capacity(128 << 10);
    let mut encoder = JpegEncoder::new_with_quality(&mut jpeg, QUALITY);
    encoder.encode_image(&small.picture).ok()?;
    Some(PrintCopy {
        jpeg,
        width,
        height,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::samples;

    #[test]
    fn a_copy_is_reduced_turned_and_bare() {
        let data = samples::jpeg(&samples::scene(1600, 1200, 3), 90);
        let copy = print_copy(&data, 6, 1000).unwrap();
        assert_eq!((copy.width, copy.height), (750, 1000));
        assert!(!copy.jpeg.windows(4).any(|four| four == b"Exif"));
        assert_eq!(print_copy(&data, 6, 1000).unwrap(), copy);
        let small = print_copy(&data, 1, 4000).unwrap();
        assert_eq!((small.width, small.height), (1600, 1200));
        assert_eq!(print_copy(b"words", 1, 1000), None);
    }
}
