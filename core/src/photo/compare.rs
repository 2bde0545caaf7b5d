//! Photos compared with one another: blurred beside their sisters, dark, or nearly the same.
//!
//! These are signals for a person to look again, never verdicts, and nothing is dropped for them.

use crate::job::Capture;
use crate::sorted::Sorted;

/// A photo counts as likely blurred below this share of its sisters' median sharpness.
/// Common practice, no source.
const BLUR_SHARE: f64 = 0.25;
/// Fewest sisters that a photo is compared with: beside one other nobody can say which is odd.
const FEWEST_SISTERS: usize = 2;
/// Mean grey below which a picture counts as dark. Common practice, no source.
const DARK_BELOW: f64 = 40.0;
/// Most bits in which near duplicates differ. Common practice, no source.
const NEAR_BITS: u32 = 6;
/// Sharpness below which a picture has too little in it for its likeness to mean anything, such
/// as a bare ceiling. Common practice, no source.
const BARE_BELOW: f64 = 4.0;

/// A photo that is less sharp than its sisters.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blurred {
    /// Its place in the list that was given.
    pub index: usize,
    /// Its sharpness.
    pub sharpness: f64,
    /// The median sharpness of its sisters.
    pub sisters: f64,
}

/// Two photos that look nearly the same.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct NearPair {
    /// The place of the earlier one in the list that was given.
    pub first: usize,
    /// The place of the later one.
    pub second: usize,
    /// Bits in which they differ, 0 to 64.
    pub bits: u32,
}

/// The photos that are likely blurred, compared with the others in the list. The list holds
/// photos of the same place and role, because sharpness depends on the scene; fewer than three
/// say nothing.
pub fn likely_blurred(sisters: &[&Capture]) -> Vec<Blurred> {
    let known: Vec<(usize, f64)> = sisters
        .iter()
        .enumerate()
        .filter_map(|(index, capture)| Some((index, capture.usability?.sharpness)))
        .collect();
    let mut sorted: Vec<f64> = known.iter().map(|(_, sharpness)| *sharpness).collect();
    sorted.order_by(f64::total_cmp);
    if sorted.len() <= FEWEST_SISTERS {
        return Vec::new();
    }
    known
        .into_iter()
        .filter_map(|(index, sharpness)| {
            let sisters = median_without(&sorted, sharpness);
            (sharpness < sisters * BLUR_SHARE).then_some(Blurred {
                index,
                sharpness,
                sisters,
            })
        })
        .collect()
}

/// The median of sorted values once one of them is left out.
fn median_without(sorted: &[f64], left_out: f64) -> f64 {
    let gap = sorted.partition_point(|value| value.total_cmp(&left_out).is_lt());
    let at = |index: usize| sorted[if index < gap { index } else { index + 1 }];
    let count = sorted.len() - 1;
    if count.is_multiple_of(2) {
        (at(count / 2 - 1) + at(count / 2)) / 2.0
    } else {
        at(count / 2)
    }
}

/// True where the picture is so dark that a person should look whether it shows anything.
pub fn is_dark(capture: &Capture) -> bool {
    capture
        .usability
        .is_some_and(|signs| signs.brightness < DARK_BELOW)
}

/// True where two different files look nearly the same. False where one of them could not be
/// decoded or shows next to nothing.
pub fn is_near(one: &Capture, other: &Capture) -> bool {
    likeness_bits(one, other).is_some_and(|bits| bits <= NEAR_BITS)
}

/// All pairs of different files that look nearly the same, by their places in the list.
pub fn near_duplicates(captures: &[&Capture]) -> Vec<NearPair> {
    let mut pairs = Vec::new();
    for (second, later) in captures.iter().enumerate() {
        for (first, earlier) in captures[..second].iter().enumerate() {
            match likeness_bits(earlier, later) {
                Some(bits) if bits <= NEAR_BITS => pairs.push(NearPair {
                    first,
                    second,
                    bits,
                }),
                _ => {}
            }
        }
    }
    pairs.order();
    pairs
}

fn likeness_bits(one: &Capture, other: &Capture) -> Option<u32> {
    let (a, b) = (one.usability?, other.usability?);
    let says_something = a.sharpness >= BARE_BELOW && b.sharpness >= BARE_BELOW;
    (says_something && one.hash != other.hash).then(|| (a.likeness ^ b.likeness).count_ones())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{DeviceId, PhotoHash, PictureFormat, Usability};

    fn capture(name: &str, signs: Option<(f64, f64, u64)>) -> Capture {
        Capture {
            version: Capture::VERSION,
            hash: PhotoHash::of(name.as_bytes()),
            sha256: vec![0; 32],
            size: 1,
            format: PictureFormat::Jpeg,
            width: 1,
            height: 1,
            orientation: 1,
            file_name: name.to_owned(),
            local_time: None,
            utc_offset_min: None,
            place: None,
            bearing: None,
            bearing_from: None,
            camera: None,
            usability: signs.map(|(sharpness, brightness, likeness)| Usability {
                sharpness,
                brightness,
                likeness,
            }),
            device: DeviceId::from_bytes([1; 16]),
            taken_in_at: 0,
        }
    }

    fn blurred(sharpness: &[f64]) -> Vec<usize> {
        let captures: Vec<Capture> = sharpness
            .iter()
            .map(|s| capture("a", Some((*s, 100.0, 0))))
            .collect();
        let list: Vec<&Capture> = captures.iter().collect();
        likely_blurred(&list).iter().map(|b| b.index).collect()
    }

    #[test]
    fn blur_is_judged_beside_sisters_only() {
        assert_eq!(blurred(&[400.0, 380.0, 60.0, 500.0]), [2]);
        // A plain wall reads low in every photo: none stands out.
        assert_eq!(blurred(&[12.0, 9.0, 11.0]), [0usize; 0]);
        assert_eq!(blurred(&[400.0, 1.0]), [0usize; 0]);
        assert_eq!(blurred(&[]), [0usize; 0]);
        assert_eq!(blurred(&[400.0, 400.0, 99.9]), [2]);
        assert_eq!(blurred(&[400.0, 400.0, 100.0]), [0usize; 0]);
        assert_eq!(blurred(&[0.0, 0.0, 0.0]), [0usize; 0]);
    }

    #[test]
    fn the_median_leaves_the_photo_itself_out() {
        let captures = [10.0, 100.0, 200.0, 300.0].map(|s| capture("a", Some((s, 1.0, 0))));
        let list: Vec<&Capture> = captures.iter().collect();
        assert_eq!(
            likely_blurred(&list),
            [Blurred {
                index: 0,
                sharpness: 10.0,
                sisters: 200.0
            }]
        );
    }

    #[test]
    fn dark_is_a_signal_only_for_decoded_pictures() {
        assert!(is_dark(&capture("a", Some((1.0, 39.9, 0)))));
        assert!(!is_dark(&capture("a", Some((1.0, 40.0, 0)))));
        assert!(!is_dark(&capture("a", None)));
    }

    #[test]
    fn near_pictures_pair_up_and_bare_ones_do_not() {
        let captures = [
            capture("a", Some((90.0, 90.0, 0))),
            capture("b", Some((90.0, 90.0, u64::MAX))),
            capture("c", Some((90.0, 90.0, 0b11_1111))),
            capture("d", Some((90.0, 90.0, 0b111_1111))),
            capture("bare", Some((3.9, 90.0, 0))),
            capture("a", Some((90.0, 90.0, 0))),
            capture("unread", None),
        ];
        let list: Vec<&Capture> = captures.iter().collect();
        let pairs: Vec<(usize, usize, u32)> = near_duplicates(&list)
            .iter()
            .map(|pair| (pair.first, pair.second, pair.bits))
            .collect();
        // The sixth is the same file as the first: an exact duplicate is no near one.
        assert_eq!(pairs, [(0, 2, 6), (2, 3, 1), (2, 5, 6)]);
    }
}
