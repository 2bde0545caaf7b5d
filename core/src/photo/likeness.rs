//! A hash of what a picture looks like: near pictures differ in few of its 64 bits.

/// Columns and rows of averages: each of the 64 bits compares a column with the next.
const COLUMNS: usize = 9;
const ROWS: usize = 8;

/// The difference hash of a grey picture: the picture averaged over nine by eight fields, one bit
/// for each field that is brighter than the one to its right. It barely changes with size,
/// compression and exposure. Common practice, no source.
pub(super) fn likeness(values: &[u8], width: usize, height: usize) -> u64 {
    if width == 0 || height == 0 || values.len() != width * height {
        return 0;
    }
    let span = |field: usize, fields: usize, len: usize| {
        let from = field * len / fields;
        let to = ((field + 1) * len / fields).max(from + 1);
        from..to.min(len)
    };
    let mut bits = 0u64;
    for row in 0..ROWS {
        let rows = span(row, ROWS, height);
        let mut before: Option<(u64, u64)> = None;
        for column in 0..COLUMNS {
            let columns = span(column, COLUMNS, width);
            let count = (rows.len() * columns.len()) as u64;
            let sum: u64 = rows
                .clone()
                .flat_map(|y| &values[y * width..][columns.clone()])
                .map(|v| u64::from(*v))
                .sum();
            if let Some((left, left_count)) = before {
                bits = bits << 1 | u64::from(left * count > sum * left_count);
            }
            before = Some((sum, count));
        }
    }
    bits
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::photo::samples;

    fn of(picture: &image::RgbImage) -> u64 {
        let grey = image::imageops::grayscale(picture);
        likeness(grey.as_raw(), grey.width() as usize, grey.height() as usize)
    }

    #[test]
    fn a_ramp_sets_all_bits_or_none() {
        let ramp: Vec<u8> = (0..90 * 8).map(|i| (i % 90) as u8).collect();
        assert_eq!(likeness(&ramp, 90, 8), 0);
        let fall: Vec<u8> = ramp.iter().map(|v| 200 - v).collect();
        assert_eq!(likeness(&fall, 90, 8), u64::MAX);
        assert_eq!(likeness(&[5; 4], 2, 2), 0);
    }

    #[test]
    fn near_pictures_differ_in_few_bits_and_others_in_many() {
        for seed in 0..8 {
            let scene = samples::scene(320, 240, seed);
            let mut brighter = scene.clone();
            for pixel in brighter.pixels_mut() {
                pixel.0 = pixel.0.map(|v| (u16::from(v) * 11 / 10).min(250) as u8);
            }
            let bytes = samples::jpeg(&scene, 40);
            let pressed = image::load_from_memory(&bytes).unwrap().to_rgb8();
            for near in [&brighter, &pressed] {
                assert!((of(&scene) ^ of(near)).count_ones() <= 4);
            }
            let other = samples::scene(320, 240, seed + 100);
            assert!((of(&scene) ^ of(&other)).count_ones() >= 12);
        }
    }
}
