//! A copy of a photo for paper: reduced where it is large, without any metadata.

use image::codecs::jpeg::JpegEncoder;

use super::bare;
use super::decode::reduced_upright;
use super::header::{self, Size};
use crate::job::PictureFormat;

/// JPEG quality: no blocks are seen at 300 dots an inch.
const QUALITY: u8 = 80;
/// A JPEG of at most this many bytes, and at most twice as long as asked, is taken as it is: to
/// make it anew would lose sharpness and save little paper.
const SMALL_BYTES: usize = 320 << 10;

/// A copy for paper.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PrintCopy {
    /// A JPEG without metadata.
    pub jpeg: Vec<u8>,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// How it is to be turned, as EXIF counts, 1 to 8; width and height are those before.
    pub orientation: u8,
}

impl PrintCopy {
    /// Width and height once it is turned upright.
    pub fn upright(&self) -> (u32, u32) {
        if self.orientation >= 5 {
            (self.height, self.width)
        } else {
            (self.width, self.height)
        }
    }
}

/// Reduces a photo to `side` pixels on its long side, or up to half more where the decoder reduces
/// to that by itself; a small file is taken as it is but for its metadata. `orientation` is EXIF's. `None` for bytes that are no picture that can be read
/// here (HEIC among them). The same bytes give the same copy.
pub fn print_copy(data: &[u8], orientation: u8, side: u32) -> Option<PrintCopy> {
    let format = header::sniff(data)?;
    let size = header::size(format, data)?;
    if let Some(copy) = as_it_is(format, data, size, orientation, side) {
        return Some(copy);
    }
    let small = reduced_upright(format, data, size, orientation, (side, side / 2 * 3)).ok()?;
    let (width, height) = small.picture.dimensions();
    let mut jpeg = Vec::with_capacity(128 << 10);
    let mut encoder = JpegEncoder::new_with_quality(&mut jpeg, QUALITY);
    encoder.encode_image(&small.picture).ok()?;
    Some(PrintCopy {
        jpeg,
        width,
        height,
        orientation: 1,
    })
}

fn as_it_is(
    format: PictureFormat,
    data: &[u8],
    size: Size,
    orientation: u8,
    side: u32,
) -> Option<PrintCopy> {
    let colours = size.parts == 1 || size.parts == 3;
    let small = size.width.max(size.height) <= side.saturating_mul(2);
    if format != PictureFormat::Jpeg || !colours || !small {
        return None;
    }
    // What a camera appends to the picture does not count.
    let jpeg = bare(format, data, 1).filter(|jpeg| jpeg.len() <= SMALL_BYTES)?;
    Some(PrintCopy {
        jpeg,
        width: size.width,
        height: size.height,
        orientation: if (1..=8).contains(&orientation) {
            orientation
        } else {
            1
        },
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::samples;

    #[test]
    fn a_large_photo_is_reduced_turned_and_bare() {
        let data = samples::jpeg(&samples::scene(1600, 1200, 3), 90);
        let copy = print_copy(&data, 6, 500).unwrap();
        assert_eq!((copy.width, copy.height, copy.orientation), (375, 500, 1));
        assert_eq!(copy.upright(), (375, 500));
        assert!(!copy.jpeg.windows(4).any(|four| four == b"Exif"));
        assert_eq!(print_copy(&data, 6, 500).unwrap(), copy);
        // Half of it is what the decoder gives.
        assert_eq!(print_copy(&data, 1, 600).unwrap().width, 800);
        assert_eq!(print_copy(b"words", 1, 1000), None);
    }

    #[test]
    fn a_small_photo_keeps_its_picture_and_loses_its_metadata() {
        let plain = samples::jpeg(&samples::scene(1600, 1200, 3), 60);
        assert!(plain.len() <= SMALL_BYTES);
        let mut told = plain[..2].to_vec();
        told.extend(b"\xff\xe1\0\x0eExif\0\0canary\xff\xfe\0\x08canary");
        told.extend(&plain[2..]);
        told.extend(b"canary");
        let copy = print_copy(&told, 6, 1000).unwrap();
        assert_eq!((copy.width, copy.height, copy.orientation), (1600, 1200, 6));
        assert_eq!(copy.upright(), (1200, 1600));
        assert!(!copy.jpeg.windows(6).any(|six| six == b"canary"));
        let pixels = |jpeg: &[u8]| image::load_from_memory(jpeg).unwrap().into_rgb8();
        assert_eq!(pixels(&copy.jpeg), pixels(&plain));
        assert_eq!(print_copy(&told, 0, 1000).unwrap().orientation, 1);
        // One that broke off is decoded as far as it goes.
        let broken = print_copy(&plain[..plain.len() / 2], 6, 1000).unwrap();
        assert_eq!((broken.width, broken.orientation), (750, 1));
    }
}
