use super::*;
use crate::job::{Capture, DeviceId, PhotoHash, PictureFormat};
use crate::photo::roll::PlacedBy;

const HOUR: i64 = 3_600_000;

fn photo(camera: &str, path: &str, local: Millis) -> RollPhoto {
    let capture = Capture {
        version: Capture::VERSION,
        hash: PhotoHash::of(path.as_bytes()),
        sha256: vec![0; 32],
        size: 1,
        format: PictureFormat::Jpeg,
        width: 1,
        height: 1,
        orientation: 1,
        file_name: path.to_owned(),
        local_time: Some(local),
        utc_offset_min: None,
        place: None,
        bearing: None,
        bearing_from: None,
        camera: Some(camera.to_owned()),
        usability: None,
        device: DeviceId::from_bytes([1; 16]),
        taken_in_at: 0,
    };
    RollPhoto {
        path: path.to_owned(),
        time: Some(local),
        placed_by: PlacedBy::Time,
        near: None,
        warnings: Vec::new(),
        satellite_time: None,
        capture,
    }
}

fn visit(photos: Vec<RollPhoto>) -> RollVisit {
    RollVisit {
        first: photos.first().and_then(|p| p.time).unwrap(),
        last: photos.last().and_then(|p| p.time).unwrap(),
        centre: Some((40.0, -90.0)),
        photos,
    }
}

fn all(visits: &[RollVisit]) -> Vec<ClockDoubt> {
    doubts(visits, &RollOptions::default())
}

#[test]
fn a_camera_that_strays_from_the_satellites_is_noticed() {
    let with = |ahead_min: i64, offset: Option<i32>| {
        let mut one = photo("A", "a1", 100 * HOUR);
        one.capture.utc_offset_min = offset;
        let shift = i64::from(offset.unwrap_or(-300));
        one.satellite_time = Some(100 * HOUR - (shift + ahead_min) * 60_000);
        all(&[visit(vec![one])])
    };
    let doubt = |ahead_min| {
        vec![ClockDoubt::Satellites {
            camera: "A".to_owned(),
            ahead_min,
        }]
    };
    assert_eq!(with(11, Some(-300)), doubt(11));
    assert_eq!(with(-60, Some(-300)), doubt(-60));
    assert_eq!(with(10, Some(-300)), []);
    // Without an offset a whole hour cannot be told from a time zone.
    assert_eq!(with(60, None), []);
}

#[test]
fn a_clock_that_steps_back_is_noticed() {
    let roll = [visit(vec![
        photo("A", "IMG_0002.jpg", HOUR),
        photo("A", "IMG_0001.jpg", 2 * HOUR),
        photo("B", "IMG_0003.jpg", 0),
    ])];
    let doubt = ClockDoubt::StepBack {
        camera: "A".to_owned(),
        path: "IMG_0002.jpg".to_owned(),
        back_min: 60,
    };
    assert_eq!(all(&roll), [doubt]);
    let fine = [visit(vec![
        photo("A", "IMG_9999.jpg", HOUR),
        photo("A", "IMG_0001.jpg", 2 * HOUR),
    ])];
    assert!(
        all(&fine).is_empty(),
        "numbers that start over are no step back"
    );
}

#[test]
fn two_cameras_whole_hours_apart_at_one_house_are_noticed() {
    let early = visit(vec![photo("A", "a1", 0), photo("A", "a2", 60_000)]);
    let late = |minutes: i64| visit(vec![photo("B", "b1", minutes * 60_000)]);
    let doubt = |hours| {
        vec![ClockDoubt::Hours {
            earlier: "A".to_owned(),
            later: "B".to_owned(),
            hours,
        }]
    };
    assert_eq!(all(&[early.clone(), late(125)]), doubt(2));
    assert_eq!(all(&[early.clone(), late(150)]), []);
    let mut elsewhere = late(120);
    elsewhere.centre = Some((41.0, -90.0));
    assert_eq!(all(&[early.clone(), elsewhere]), []);
    let same = visit(vec![photo("A", "a3", 2 * HOUR)]);
    assert_eq!(all(&[early, same]), []);
}
