//! Signs of whether a picture is of use: sharpness, brightness and a hash of what it looks like.

use image::{GrayImage, RgbImage};

use super::likeness::likeness;
use crate::job::Usability;

/// The signs of a small upright picture.
pub(super) fn usability(picture: &RgbImage) -> Usability {
    let grey = grey(picture);
    let (width, height) = (grey.width() as usize, grey.height() as usize);
    let values = grey.as_raw();
    let sum: u64 = values.iter().map(|v| u64::from(*v)).sum();
    Usability {
        sharpness: thousandths(laplacian_variance(values, width, height)),
        brightness: thousandths(sum as f64 / values.len().max(1) as f64),
        likeness: likeness(values, width, height),
    }
}

/// Rounded, so that a value reads back equal from any text it was written to.
fn thousandths(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

/// Luma of ITU-R BT.601-7, in thousandths so that every device gets the same bytes.
fn grey(picture: &RgbImage) -> GrayImage {
    let mut grey = GrayImage::new(picture.width(), picture.height());
    for (from, to) in picture.pixels().zip(grey.pixels_mut()) {
        let [r, g, b] = from.0.map(u32::from);
        to.0 = [((299 * r + 587 * g + 114 * b + 500) / 1000) as u8];
    }
    grey
}

/// Variance of the Laplacian of a grey picture, rows of `width` values: the four neighbours less
/// four times the middle, mirrored at the border without repeating it. 0 for an empty picture or
/// where `values` has not `width` times `height` entries.
///
/// Equals the variance of `cv2.Laplacian(picture, cv2.CV_64F)` of OpenCV.
pub fn laplacian_variance(values: &[u8], width: usize, height: usize) -> f64 {
    if width == 0 || height == 0 || values.len() != width * height {
        return 0.0;
    }
    let mirror = |at: usize, back: bool, len: usize| match (at, back) {
        _ if len == 1 => 0,
        (0, true) => 1,
        (_, true) => at - 1,
        (_, false) if at + 1 == len => len - 2,
        (_, false) => at + 1,
    };
    let (mut sum, mut squares) = (0i64, 0i64);
    for y in 0..height {
        let row = |y: usize| &values[y * width..(y + 1) * width];
        let (above, here, below) = (
            row(mirror(y, true, height)),
            row(y),
            row(mirror(y, false, height)),
        );
        for x in 0..width {
            let around = i64::from(above[x])
                + i64::from(below[x])
                + i64::from(here[mirror(x, true, width)])
                + i64::from(here[mirror(x, false, width)]);
            let edge = around - 4 * i64::from(here[x]);
            sum += edge;
            squares += edge * edge;
        }
    }
    let count = values.len() as f64;
    let mean = sum as f64 / count;
    squares as f64 / count - mean * mean
}

#[cfg(test)]
mod tests {
    use super::*;

    fn square(value: impl Fn(usize, usize) -> u8) -> f64 {
        let values: Vec<u8> = (0..64 * 64).map(|i| value(i % 64, i / 64)).collect();
        laplacian_variance(&values, 64, 64)
    }

    /// Source of the three figures: computed with OpenCV 4, `cv2.Laplacian(m, cv2.CV_64F).var()`;
    /// `tests/outside/test_photo.py` computes them and more again.
    #[test]
    fn sharpness_is_that_of_opencv() {
        assert_eq!(square(|_, _| 90), 0.0);
        let checks = square(|x, y| if (x + y) % 2 == 0 { 0 } else { 255 });
        assert_eq!(checks, 1_040_400.0);
        assert_eq!(square(|x, _| if x < 32 { 0 } else { 255 }), 2032.03125);
    }

    #[test]
    fn odd_shapes_do_no_harm() {
        assert_eq!(laplacian_variance(&[], 0, 0), 0.0);
        assert_eq!(laplacian_variance(&[7], 1, 1), 0.0);
        assert_eq!(laplacian_variance(&[1, 2, 3], 2, 2), 0.0);
        // One row: the mirror gives 2·(10−0), then −2·... at both ends.
        assert_eq!(laplacian_variance(&[0, 10], 2, 1), 400.0);
    }

    #[test]
    fn grey_weighs_colours() {
        let mut picture = RgbImage::new(1, 1);
        for (colour, expected) in [([255, 0, 0], 76), ([0, 255, 0], 150), ([0, 0, 255], 29)] {
            picture.get_pixel_mut(0, 0).0 = colour;
            assert_eq!(grey(&picture).get_pixel(0, 0).0[0], expected);
        }
    }
}
