//! From the bytes of a picture to a small upright one, within bounds and without ever failing
//! the caller.

use std::io::{Cursor, Read};

use image::codecs::png::PngDecoder;
use image::imageops::FilterType;
use image::metadata::Orientation;
use image::{DynamicImage, GrayImage, ImageDecoder, RgbImage};

use super::PhotoWarning;
use super::eighth::eighth;
use super::header::Size;
use crate::contain::contained;
use crate::job::PictureFormat;
use crate::limits;

/// A small picture and whether the file broke off.
pub(super) struct Small {
    pub(super) picture: RgbImage,
    pub(super) truncated: bool,
}

/// Decodes to an upright picture with at most [`limits::THUMBNAIL_SIDE`] pixels on its long
/// side. The warning says why there is none.
pub(super) fn small_upright(
    format: PictureFormat,
    data: &[u8],
    size: Size,
    orientation: u8,
) -> Result<Small, PhotoWarning> {
    let side = limits::THUMBNAIL_SIDE;
    reduced_upright(format, data, size, orientation, (side, side))
}

/// The same with another long side: the decoder reduces to no less than the first, and what is not
/// longer than the second then is left so; the rest is reduced to the first.
pub(super) fn reduced_upright(
    format: PictureFormat,
    data: &[u8],
    size: Size,
    orientation: u8,
    (side, most): (u32, u32),
) -> Result<Small, PhotoWarning> {
    if !within_bounds(size) {
        return Err(PhotoWarning::TooManyPixels);
    }
    // Decoders are written for hostile input, yet a panic in one must not end a batch.
    let decoded = contained(|| {
        let (picture, truncated) = match format {
            PictureFormat::Jpeg => jpeg(data, size, side)?,
            PictureFormat::Png => (png(data)?, false),
            PictureFormat::Heic => return Err(PhotoWarning::NotDecoded),
        };
        Ok(Small {
            picture: upright(shrink(picture, side, most), orientation),
            truncated,
        })
    });
    decoded.unwrap_or(Err(PhotoWarning::Undecodable))
}

/// True where a picture may be decoded.
pub(super) fn within_bounds(size: Size) -> bool {
    size.width <= limits::PICTURE_SIDE
        && size.height <= limits::PICTURE_SIDE
        && u64::from(size.width) * u64::from(size.height) <= limits::PICTURE_PIXELS
        && size.memory <= limits::DECODE_BYTES
}

fn jpeg(data: &[u8], size: Size, side: u32) -> Result<(DynamicImage, bool), PhotoWarning> {
    if size.width.max(size.height) >= side.saturating_mul(8)
        && let Some(small) = eighth(data)
    {
        return Ok((small.picture, small.truncated));
    }
    match jpeg_reduced(data, size, side) {
        Ok(picture) => Ok((picture, false)),
        // A file that was cut short: with an end marker put behind it the decoder fills the rest
        // with grey.
        Err(_) => {
            let end = [0xFF, 0xD9].repeat(32);
            jpeg_reduced(data.chain(Cursor::new(end)), size, side)
                .map(|picture| (picture, true))
                .map_err(|_| PhotoWarning::Undecodable)
        }
    }
}

/// Decodes at an eighth, a quarter or half of the size, whichever is the smallest that still has
/// the long side.
fn jpeg_reduced(data: impl Read, size: Size, side: u32) -> Result<DynamicImage, PhotoWarning> {
    let bad = |_| PhotoWarning::Undecodable;
    let mut decoder = jpeg_decoder::Decoder::new(data);
    let bound = usize::try_from(limits::DECODE_BYTES).unwrap_or(usize::MAX);
    decoder.set_max_decoding_buffer_size(bound);
    decoder.read_info().map_err(bad)?;
    let side = u16::try_from(side).unwrap_or(u16::MAX);
    // The decoder stops at the first axis that is large enough: only the long one may count.
    let asked = if size.width >= size.height {
        (side, u16::MAX)
    } else {
        (u16::MAX, side)
    };
    let (width, height) = decoder.scale(asked.0, asked.1).map_err(bad)?;
    let pixels = decoder.decode().map_err(bad)?;
    let kind = decoder
        .info()
        .ok_or(PhotoWarning::Undecodable)?
        .pixel_format;
    let (width, height) = (u32::from(width), u32::from(height));
    let picture = match kind {
        jpeg_decoder::PixelFormat::RGB24 => {
            RgbImage::from_raw(width, height, pixels).map(DynamicImage::from)
        }
        jpeg_decoder::PixelFormat::L8 => {
            GrayImage::from_raw(width, height, pixels).map(DynamicImage::from)
        }
        jpeg_decoder::PixelFormat::L16 => {
            let high = pixels.chunks_exact(2).map(|pair| pair[1]).collect();
            GrayImage::from_raw(width, height, high).map(DynamicImage::from)
        }
        jpeg_decoder::PixelFormat::CMYK32 => {
            let rgb = pixels.chunks_exact(4).flat_map(cmyk_to_rgb).collect();
            RgbImage::from_raw(width, height, rgb).map(DynamicImage::from)
        }
    };
    picture.ok_or(PhotoWarning::Undecodable)
}

fn cmyk_to_rgb(pixel: &[u8]) -> [u8; 3] {
    let black = 255 - u32::from(pixel[3]);
    [0, 1, 2].map(|i| ((255 - u32::from(pixel[i])) * black / 255) as u8)
}

fn png(data: &[u8]) -> Result<DynamicImage, PhotoWarning> {
    let mut bounds = image::Limits::default();
    bounds.max_alloc = Some(limits::DECODE_BYTES);
    bounds.max_image_width = Some(limits::PICTURE_SIDE);
    bounds.max_image_height = Some(limits::PICTURE_SIDE);
    // By its own decoder: a reader of any format would bring the library's for JPEG in as well.
    let decoded = PngDecoder::with_limits(Cursor::new(data), bounds.clone()).and_then(|mut png| {
        bounds.reserve(png.total_bytes())?;
        png.set_limits(bounds)?;
        DynamicImage::from_decoder(png)
    });
    decoded.map_err(|error| match error {
        image::ImageError::IoError(cause) if cause.kind() == std::io::ErrorKind::UnexpectedEof => {
            PhotoWarning::Truncated
        }
        image::ImageError::Limits(_) => PhotoWarning::TooManyPixels,
        _ => PhotoWarning::Undecodable,
    })
}

/// Reduces to a long side of `side` pixels what is longer than `most`.
fn shrink(picture: DynamicImage, side: u32, most: u32) -> RgbImage {
    let (width, height) = (picture.width(), picture.height());
    let long = width.max(height);
    let picture = picture.into_rgb8();
    if long <= most {
        return picture;
    }
    let scaled = |pixels: u32| {
        let exact = u64::from(pixels) * u64::from(side);
        let rounded = (exact + u64::from(long) / 2) / u64::from(long);
        u32::try_from(rounded).unwrap_or(1).max(1)
    };
    image::imageops::resize(
        &picture,
        scaled(width),
        scaled(height),
        FilterType::Triangle,
    )
}

/// Turns and mirrors as EXIF says. Source: EXIF 2.32 (CIPA DC-008), tag 0x0112.
fn upright(picture: RgbImage, orientation: u8) -> RgbImage {
    let mut picture = DynamicImage::from(picture);
    if let Some(turn) = Orientation::from_exif(orientation) {
        picture.apply_orientation(turn);
    }
    picture.into_rgb8()
}

#[cfg(test)]
#[path = "decode_tests.rs"]
mod tests;
