//! Pictures and EXIF for the tests of this room.

use ::exif::experimental::Writer;
use ::exif::{Field, In, Rational, Tag, Value};
use image::codecs::jpeg::JpegEncoder;
use image::{Rgb, RgbImage};

/// A scene of a few boxes on a slope of light, different for each seed.
pub(super) fn scene(width: u32, height: u32, seed: u32) -> RgbImage {
    let word = |n: u32| {
        let bytes = blake3::hash(&[seed.to_le_bytes(), n.to_le_bytes()].concat());
        u32::from(bytes.as_bytes()[0]) << 8 | u32::from(bytes.as_bytes()[1])
    };
    let mut picture = RgbImage::from_fn(width, height, |x, y| {
        let base = 60 + (x * 40 / width + y * 30 / height) as u8;
        Rgb([base, base, base.saturating_add(10)])
    });
    for n in 0..14 {
        let (left, top) = (word(n * 7) % width, word(n * 7 + 1) % height);
        let right = (left + width / 8 + word(n * 7 + 2) % (width / 4).max(1)).min(width);
        let bottom = (top + height / 8 + word(n * 7 + 3) % (height / 4).max(1)).min(height);
        let colour = [4, 5, 6].map(|i| (word(n * 7 + i) % 220 + 20) as u8);
        for y in top..bottom {
            for x in left..right {
                picture.put_pixel(x, y, Rgb(colour));
            }
        }
    }
    picture
}

/// Noise that no encoder can press.
pub(super) fn noise(width: u32, height: u32) -> RgbImage {
    let mut bytes = vec![0; (width * height * 3) as usize];
    blake3::Hasher::new().finalize_xof().fill(&mut bytes);
    RgbImage::from_raw(width, height, bytes).unwrap()
}

pub(super) fn jpeg(picture: &RgbImage, quality: u8) -> Vec<u8> {
    let mut bytes = Vec::new();
    JpegEncoder::new_with_quality(&mut bytes, quality)
        .encode_image(picture)
        .unwrap();
    bytes
}

pub(super) fn png(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture
        .write_to(&mut bytes, image::ImageFormat::Png)
        .unwrap();
    bytes.into_inner()
}

/// A JPEG with these EXIF fields.
pub(super) fn jpeg_with(picture: &RgbImage, fields: &[Field]) -> Vec<u8> {
    splice(&jpeg(picture, 85), &tiff(fields))
}

/// Puts an EXIF segment behind the start marker of a JPEG.
pub(super) fn splice(jpeg: &[u8], tiff: &[u8]) -> Vec<u8> {
    let mut bytes = jpeg[..2].to_vec();
    bytes.extend([0xFF, 0xE1]);
    bytes.extend(u16::try_from(tiff.len() + 8).unwrap().to_be_bytes());
    bytes.extend(b"Exif\0\0");
    bytes.extend(tiff);
    bytes.extend(&jpeg[2..]);
    bytes
}

/// The fields as EXIF writes them.
pub(super) fn tiff(fields: &[Field]) -> Vec<u8> {
    let mut writer = Writer::new();
    for field in fields {
        writer.push_field(field);
    }
    let mut bytes = std::io::Cursor::new(Vec::new());
    writer.write(&mut bytes, false).unwrap();
    bytes.into_inner()
}

pub(super) fn text(tag: Tag, value: &str) -> Field {
    field(tag, Value::Ascii(vec![value.as_bytes().to_vec()]))
}

pub(super) fn short(tag: Tag, value: u16) -> Field {
    field(tag, Value::Short(vec![value]))
}

pub(super) fn byte(tag: Tag, value: u8) -> Field {
    field(tag, Value::Byte(vec![value]))
}

pub(super) fn ratios(tag: Tag, values: &[(u32, u32)]) -> Field {
    let values = values.iter().map(|(num, denom)| Rational {
        num: *num,
        denom: *denom,
    });
    field(tag, Value::Rational(values.collect()))
}

/// What a phone writes: time with offset, place and direction.
pub(super) fn phone_fields(date: &str, latitude: f64, longitude: f64) -> Vec<Field> {
    let parts = |value: f64| {
        let value = value.abs();
        let minutes = value.fract() * 60.0;
        let seconds = (minutes.fract() * 60.0 * 10_000.0).round() as u32;
        [(value as u32, 1), (minutes as u32, 1), (seconds, 10_000)]
    };
    let north = if latitude < 0.0 { "S" } else { "N" };
    let east = if longitude < 0.0 { "W" } else { "E" };
    vec![
        text(Tag::Make, "Example"),
        text(Tag::Model, "Phone 1"),
        text(Tag::DateTimeOriginal, date),
        text(Tag::OffsetTimeOriginal, "-05:00"),
        text(Tag::SubSecTimeOriginal, "250"),
        text(Tag::GPSLatitudeRef, north),
        ratios(Tag::GPSLatitude, &parts(latitude)),
        text(Tag::GPSLongitudeRef, east),
        ratios(Tag::GPSLongitude, &parts(longitude)),
        byte(Tag::GPSAltitudeRef, 0),
        ratios(Tag::GPSAltitude, &[(2315, 10)]),
        ratios(Tag::GPSHPositioningError, &[(47, 10)]),
        text(Tag::GPSImgDirectionRef, "T"),
        ratios(Tag::GPSImgDirection, &[(26_325, 100)]),
    ]
}

fn field(tag: Tag, value: Value) -> Field {
    Field {
        tag,
        ifd_num: In::PRIMARY,
        value,
    }
}
