use super::*;
use crate::photo::{header, samples};
use image::Rgb;

fn small(format: PictureFormat, data: &[u8], orientation: u8) -> Result<Small, PhotoWarning> {
    let size = header::size(format, data).ok_or(PhotoWarning::Undecodable)?;
    small_upright(format, data, size, orientation)
}

/// A picture whose corners are red, green, blue and white, clockwise from the top left.
fn corners(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        match (x < width / 2, y < height / 2) {
            (true, true) => Rgb([220, 20, 20]),
            (false, true) => Rgb([20, 220, 20]),
            (false, false) => Rgb([20, 20, 220]),
            (true, false) => Rgb([220, 220, 220]),
        }
    })
}

/// The corners of a picture, clockwise from the top left, as letters.
fn read_corners(picture: &RgbImage) -> String {
    let (right, bottom) = (picture.width() - 8, picture.height() - 8);
    [(7, 7), (right, 7), (right, bottom), (7, bottom)]
        .map(|(x, y)| match picture.get_pixel(x, y).0.map(|v| v > 128) {
            [true, false, false] => 'r',
            [false, true, false] => 'g',
            [false, false, true] => 'b',
            [true, true, true] => 'w',
            _ => '?',
        })
        .iter()
        .collect()
}

/// Source: EXIF 2.32, tag 0x0112: where the first row and the first column of the stored picture
/// lie in the scene. Stored row 0 is r, g; stored column 0 is r, w.
#[test]
fn every_orientation_is_turned_upright() {
    let stored = samples::jpeg(&corners(640, 400), 90);
    for (orientation, expected, tall) in [
        (1, "rgbw", false),
        (2, "grwb", false),
        (3, "bwrg", false),
        (4, "wbgr", false),
        (5, "rwbg", true),
        (6, "wrgb", true),
        (7, "bgrw", true),
        (8, "gbwr", true),
        (0, "rgbw", false),
        (9, "rgbw", false),
    ] {
        let small = small(PictureFormat::Jpeg, &stored, orientation).unwrap();
        let size = small.picture.dimensions();
        assert_eq!(size, if tall { (200, 320) } else { (320, 200) });
        assert_eq!(read_corners(&small.picture), expected, "{orientation}");
        assert!(!small.truncated);
    }
}

#[test]
fn the_long_side_is_that_of_a_thumbnail_and_no_picture_grows() {
    for (from, to) in [
        ((4000, 40), (320, 3)),
        ((700, 699), (320, 320)),
        ((321, 1), (320, 1)),
        ((320, 7), (320, 7)),
        ((30, 20), (30, 20)),
        ((90, 2700), (11, 320)),
    ] {
        let picture = samples::scene(from.0, from.1.max(8), 1);
        let picture = image::imageops::crop_imm(&picture, 0, 0, from.0, from.1).to_image();
        let jpeg = small(PictureFormat::Jpeg, &samples::jpeg(&picture, 80), 1).unwrap();
        assert_eq!(jpeg.picture.dimensions(), to);
        let png = small(PictureFormat::Png, &samples::png(&picture), 1).unwrap();
        assert_eq!(png.picture.dimensions(), to);
    }
}

#[test]
fn reduced_decoding_shows_what_full_decoding_shows() {
    let picture = samples::scene(1600, 1200, 5);
    let reduced = small(PictureFormat::Jpeg, &samples::jpeg(&picture, 92), 1).unwrap();
    let full = image::imageops::resize(&picture, 320, 240, FilterType::Triangle);
    let off: u64 = reduced
        .picture
        .as_raw()
        .iter()
        .zip(full.as_raw())
        .map(|(a, b)| u64::from(a.abs_diff(*b)))
        .sum();
    let mean = off as f64 / full.as_raw().len() as f64;
    assert!(mean < 3.0, "{mean}");
}

#[test]
fn grey_pictures_are_decoded() {
    let grey = image::imageops::grayscale(&samples::scene(400, 300, 2));
    let mut data = Vec::new();
    image::codecs::jpeg::JpegEncoder::new(&mut data)
        .encode_image(&grey)
        .unwrap();
    let small = small(PictureFormat::Jpeg, &data, 1).unwrap();
    assert!(
        small
            .picture
            .pixels()
            .all(|p| p.0[0] == p.0[1] && p.0[1] == p.0[2])
    );
    assert_eq!(cmyk_to_rgb(&[0, 0, 0, 0]), [255, 255, 255]);
    assert_eq!(cmyk_to_rgb(&[255, 0, 0, 0]), [0, 255, 255]);
    assert_eq!(cmyk_to_rgb(&[0, 0, 0, 255]), [0, 0, 0]);
}

#[test]
fn one_past_each_bound_is_not_decoded() {
    let size = |width, height, memory| Size {
        width,
        height,
        memory,
        parts: 3,
    };
    let side = limits::PICTURE_SIDE;
    assert!(within_bounds(size(side, 10, 0)) && !within_bounds(size(side + 1, 10, 0)));
    assert!(within_bounds(size(10, side, 0)) && !within_bounds(size(10, side + 1, 0)));
    // 220,000,000 = 22,000 x 10,000.
    assert!(within_bounds(size(22_000, 10_000, 0)));
    assert_eq!(limits::PICTURE_PIXELS, 220_000_000);
    assert!(!within_bounds(size(22_001, 10_000, 0)));
    let most = limits::DECODE_BYTES;
    assert!(within_bounds(size(9, 9, most)) && !within_bounds(size(9, 9, most + 1)));
    let data = samples::jpeg(&samples::scene(64, 48, 1), 80);
    let refused = small_upright(PictureFormat::Jpeg, &data, size(side + 1, 1, 0), 1).err();
    assert_eq!(refused, Some(PhotoWarning::TooManyPixels));
}

#[test]
fn a_cut_picture_shows_what_is_left() {
    let picture = samples::scene(640, 480, 4);
    let data = samples::jpeg(&picture, 85);
    let cut = small(PictureFormat::Jpeg, &data[..data.len() * 3 / 4], 1).unwrap();
    assert!(cut.truncated);
    let whole = small(PictureFormat::Jpeg, &data, 1).unwrap();
    let row = 320 * 3 * 40;
    assert_eq!(cut.picture.as_raw()[..row], whole.picture.as_raw()[..row]);
    let png = samples::png(&picture);
    let cut = small(PictureFormat::Png, &png[..png.len() / 2], 1).err();
    assert_eq!(cut, Some(PhotoWarning::Truncated));
}

/// Thousands of altered files: each is decoded or refused, and nothing else happens.
#[test]
fn altered_bytes_do_no_harm() {
    let picture = samples::scene(96, 64, 6);
    let fields = samples::phone_fields("2024:06:11 10:00:00", 40.0, -90.0);
    let jpeg = samples::jpeg_with(&picture, &fields);
    let png = samples::png(&picture);
    let mut decoded = 0;
    for (format, data) in [(PictureFormat::Jpeg, jpeg), (PictureFormat::Png, png)] {
        let mut dice = blake3::Hasher::new_derive_key("altered pictures").finalize_xof();
        for _ in 0..2500 {
            let mut altered = data.clone();
            let mut throw = [0u8; 8];
            dice.fill(&mut throw);
            for pair in throw[1..7].chunks(3).take(1 + usize::from(throw[0] % 2)) {
                let at = usize::from(pair[0]) << 8 | usize::from(pair[1]);
                let at = at % altered.len();
                altered[at] ^= pair[2].max(1);
            }
            if throw[7] < 40 {
                altered.truncate(altered.len() * usize::from(throw[7]) / 40);
            }
            let (said, _) = crate::photo::exif::read(&altered);
            if let Some(place) = said.place {
                assert!(place.latitude.abs() <= 90.0 && place.longitude.abs() <= 180.0);
            }
            if let Ok(small) = small(format, &altered, said.orientation.unwrap_or(1)) {
                assert!(
                    small.picture.width().max(small.picture.height()) <= limits::THUMBNAIL_SIDE
                );
                decoded += 1;
            }
        }
    }
    assert!(decoded > 500, "{decoded}");
}
