use super::*;
use crate::photo::samples;
use proptest::prelude::*;

/// Pictures of 150 by 101 pixels, written by libjpeg-turbo through Pillow: coarse colours with
/// restart markers, coarse colours across with optimised tables, fine colours, and grey.
const SAMPLES: [(&str, &[u8]); 4] = [
    ("4:2:0", include_bytes!("pictures/420_restart.jpg")),
    ("4:2:2", include_bytes!("pictures/422_optimised.jpg")),
    ("4:4:4", include_bytes!("pictures/444.jpg")),
    ("grey", include_bytes!("pictures/grey.jpg")),
];
const PROGRESSIVE: &[u8] = include_bytes!("pictures/progressive.jpg");

/// The picture at an eighth by the jpeg-decoder crate, another reader.
fn by_another(data: &[u8]) -> (RgbImage, bool) {
    let mut decoder = jpeg_decoder::Decoder::new(data);
    let (width, height) = decoder.scale(1, 1).unwrap();
    let pixels = decoder.decode().unwrap();
    let (width, height) = (u32::from(width), u32::from(height));
    let grey = pixels.len() == (width * height) as usize;
    let picture = if grey {
        DynamicImage::from(GrayImage::from_raw(width, height, pixels).unwrap())
    } else {
        DynamicImage::from(RgbImage::from_raw(width, height, pixels).unwrap())
    };
    (picture.into_rgb8(), grey)
}

#[test]
fn every_common_kind_is_read_as_another_decoder_reads_it() {
    for (name, data) in SAMPLES {
        let ours = eighth(data).unwrap();
        assert!(!ours.truncated, "{name}");
        let ours = ours.picture.into_rgb8();
        let (theirs, grey) = by_another(data);
        assert_eq!(ours.dimensions(), (19, 13), "{name}");
        assert_eq!(theirs.dimensions(), (19, 13), "{name}");
        let exact = grey || name == "4:4:4";
        for (a, b) in ours.pixels().zip(theirs.pixels()) {
            // The other reader smooths coarse colours; the light is the same in both.
            let light = |p: &image::Rgb<u8>| {
                let [r, g, b] = p.0.map(i32::from);
                (299 * r + 587 * g + 114 * b) / 1000
            };
            let clipped = a.0.iter().chain(&b.0).any(|v| *v == 0 || *v == 255);
            if !clipped {
                assert!((light(a) - light(b)).abs() <= 2, "{name}: {a:?} {b:?}");
            }
            // Another decoder's vector code rounds colours its own way, by a level or two.
            if exact && !clipped {
                assert!(
                    a.0.iter().zip(b.0).all(|(a, b)| a.abs_diff(b) <= 3),
                    "{name}: {a:?} {b:?}"
                );
            }
        }
    }
}

#[test]
fn an_eighth_is_the_mean_of_each_block() {
    let picture = samples::scene(640, 480, 9);
    let small = eighth(&samples::jpeg(&picture, 100)).unwrap();
    let small = small.picture.into_rgb8();
    for (x, y, pixel) in small.enumerate_pixels() {
        let block = image::imageops::crop_imm(&picture, x * 8, y * 8, 8, 8).to_image();
        for channel in 0..3 {
            let sum: f64 = block.pixels().map(|p| f64::from(p.0[channel])).sum();
            let off = (sum / 64.0 - f64::from(pixel.0[channel])).abs();
            assert!(off < 4.0, "{x} {y}: {off}");
        }
    }
}

#[test]
fn other_kinds_are_left_to_another_decoder() {
    assert!(eighth(PROGRESSIVE).is_none());
    assert!(eighth(b"\xFF\xD8\xFF\xD9").is_none());
    assert!(eighth(b"").is_none());
}

#[test]
fn a_cut_file_keeps_what_came_before() {
    for (name, data) in SAMPLES {
        let whole = eighth(data).unwrap().picture.into_rgb8();
        let cut = eighth(&data[..data.len() * 4 / 5]).unwrap();
        assert!(cut.truncated, "{name}");
        let cut = cut.picture.into_rgb8();
        assert_eq!(
            cut.as_raw()[..19 * 3 * 4],
            whole.as_raw()[..19 * 3 * 4],
            "{name}"
        );
        assert_eq!(cut.get_pixel(18, 12).0, [128; 3], "{name}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]
    /// Altered bytes give a picture of the size the header says, or none.
    #[test]
    fn altered_bytes_do_no_harm(
        sample in 0usize..4,
        changes in proptest::collection::vec((any::<u16>(), any::<u8>()), 1..4),
        cut in 0usize..4,
    ) {
        let mut data = SAMPLES[sample].1.to_vec();
        for (at, value) in changes {
            let at = usize::from(at) % data.len();
            data[at] = value;
        }
        data.truncate(data.len() - data.len() * cut / 8);
        // What a header may ask for is bounded before this decoder is called.
        let size = crate::photo::header::size(crate::job::PictureFormat::Jpeg, &data);
        if size.is_some_and(|size| u64::from(size.width) * u64::from(size.height) < 10_000_000)
            && let Some(small) = eighth(&data)
        {
            prop_assert!(small.picture.width() > 0 && small.picture.height() > 0);
        }
    }
}
