use super::*;
use crate::env::SeededEnv;
use crate::job::{CapturePlace, PictureFormat, Usability};
use crate::photo::samples;
use crate::photo::split::distance_m;
use proptest::prelude::*;

const DEVICE: DeviceId = DeviceId::from_bytes([9; 16]);
const MINUTE: i64 = 60_000;

fn place(latitude: f64, longitude: f64) -> CapturePlace {
    CapturePlace {
        latitude,
        longitude,
        altitude_m: None,
        accuracy_m: Some(5.0),
    }
}

/// A photo at a minute and so many metres north of a house.
fn taken(path: &str, minute: Option<i64>, north_m: Option<f64>) -> (String, Taken) {
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
        local_time: minute.map(|minute| minute * MINUTE),
        utc_offset_min: None,
        place: north_m.map(|north| place(40.0 + north / 111_195.0, -90.0)),
        bearing: None,
        bearing_from: None,
        camera: Some("Example Phone 1".to_owned()),
        usability: None,
        device: DEVICE,
        taken_in_at: 0,
    };
    let taken = Taken {
        capture,
        thumbnail: None,
        warnings: Vec::new(),
        satellite_time: None,
    };
    (path.to_owned(), taken)
}

fn paths(roll: &Roll) -> Vec<Vec<&str>> {
    let of = |visit: &'_ RollVisit| visit.photos.len();
    assert!(roll.visits.iter().all(|visit| of(visit) > 0));
    roll.visits
        .iter()
        .map(|visit| visit.photos.iter().map(|p| p.path.as_str()).collect())
        .collect()
}

fn roll(photos: Vec<(String, Taken)>) -> Roll {
    roll_of(photos, &RollOptions::default())
}

/// Source: one degree of a great circle on a sphere of radius R is R·π/180; London to Paris by
/// the haversine formula on the IUGG mean radius is about 343.6 km.
#[test]
fn distances_are_those_of_the_sphere() {
    let degree = 6_371_008.8 * std::f64::consts::PI / 180.0;
    assert!((distance_m(&place(0.0, 0.0), &place(1.0, 0.0)) - degree).abs() < 1e-3);
    assert!((distance_m(&place(0.0, 179.5), &place(0.0, -179.5)) - degree).abs() < 1e-3);
    assert!((distance_m(&place(60.0, 0.0), &place(60.0, 1.0)) - degree / 2.0).abs() < 5.0);
    let far = distance_m(&place(51.5074, -0.1278), &place(48.8566, 2.3522));
    assert!((far - 343_560.0).abs() < 100.0, "{far}");
}

#[test]
fn a_gap_of_more_than_ninety_minutes_ends_a_visit() {
    let roll = roll(vec![
        taken("a1.jpg", Some(0), Some(0.0)),
        taken("a2.jpg", Some(90), Some(0.0)),
        taken("a3.jpg", Some(181), Some(0.0)),
    ]);
    assert_eq!(paths(&roll), [vec!["a1.jpg", "a2.jpg"], vec!["a3.jpg"]]);
    assert_eq!(roll.visits[0].first, 0);
    assert_eq!(roll.visits[0].last, 90 * MINUTE);
}

#[test]
fn another_house_is_another_visit_even_at_once() {
    let roll = roll(vec![
        taken("a1.jpg", Some(0), Some(0.0)),
        taken("b1.jpg", Some(1), Some(400.0)),
        taken("a2.jpg", Some(2), Some(40.0)),
        taken("b2.jpg", Some(3), Some(380.0)),
        taken("b3.jpg", Some(4), None),
    ]);
    assert_eq!(
        paths(&roll),
        [vec!["a1.jpg", "a2.jpg"], vec!["b1.jpg", "b2.jpg", "b3.jpg"]]
    );
    let (north, _) = roll.visits[0].centre.unwrap();
    assert!((north - (40.0 + 20.0 / 111_195.0)).abs() < 1e-7);
}

#[test]
fn an_uncertain_place_does_not_split() {
    let near = |accuracy| {
        let mut vague = taken("a2.jpg", Some(1), Some(300.0));
        vague.1.capture.place.as_mut().unwrap().accuracy_m = Some(accuracy);
        roll(vec![taken("a1.jpg", Some(0), Some(0.0)), vague])
            .visits
            .len()
    };
    assert_eq!(near(150.0), 1);
    assert_eq!(near(140.0), 2);
    // The distance itself counts too: 160 m and twice 5 m of doubt are one house, 161 m are two.
    let at = |north| {
        roll(vec![
            taken("a1.jpg", Some(0), Some(0.0)),
            taken("a2.jpg", Some(1), Some(north)),
        ])
        .visits
        .len()
    };
    assert_eq!((at(159.5), at(160.5)), (1, 2));
}

#[test]
fn photos_without_a_time_follow_their_neighbours_or_are_unsure() {
    let roll = roll(vec![
        taken("IMG_0010.jpg", Some(0), Some(0.0)),
        taken("IMG_0011.jpg", None, None),
        taken("IMG_0012.jpg", Some(5), Some(0.0)),
        taken("IMG_0013.jpg", None, None),
        taken("IMG_0014.jpg", Some(500), Some(0.0)),
        taken("other/IMG_0011.jpg", None, None),
        taken("letter.jpg", None, Some(0.0)),
    ]);
    assert_eq!(
        paths(&roll),
        [
            vec!["IMG_0010.jpg", "IMG_0011.jpg", "IMG_0012.jpg"],
            vec!["IMG_0014.jpg"]
        ]
    );
    let placed = &roll.visits[0].photos[1];
    assert_eq!(placed.placed_by, PlacedBy::FileName);
    assert_eq!(placed.time, Some(0));
    let unsure: Vec<&str> = roll.unsure.iter().map(|p| p.path.as_str()).collect();
    assert_eq!(unsure, ["IMG_0013.jpg", "letter.jpg", "other/IMG_0011.jpg"]);
}

#[test]
fn the_same_file_is_dropped_and_a_near_one_marked() {
    let mut twin = taken("copy/a1.jpg", Some(0), Some(0.0));
    let mut first = taken("a1.jpg", Some(0), Some(0.0));
    let mut near = taken("a2.jpg", Some(1), Some(0.0));
    let mut other = taken("a3.jpg", Some(2), Some(0.0));
    let signs = |likeness| {
        Some(Usability {
            sharpness: 100.0,
            brightness: 100.0,
            likeness,
        })
    };
    first.1.capture.usability = signs(0);
    near.1.capture.usability = signs(3);
    other.1.capture.usability = signs(u64::MAX);
    twin.1.capture = first.1.capture.clone();
    let hash = first.1.capture.hash;
    let roll = roll(vec![twin, other, near, first]);
    assert_eq!(paths(&roll), [vec!["a1.jpg", "a2.jpg", "a3.jpg"]]);
    let marks: Vec<Option<PhotoHash>> = roll.visits[0].photos.iter().map(|p| p.near).collect();
    assert_eq!(marks, [None, Some(hash), None]);
    let dropped = Dropped {
        path: "copy/a1.jpg".to_owned(),
        same_as: "a1.jpg".to_owned(),
    };
    assert_eq!(roll.dropped, [dropped]);
}

#[test]
fn a_folder_with_anything_in_it_is_read_whole() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| {
        let path = folder.path().join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(path, bytes).unwrap();
    };
    let photo = |seed, date| {
        let fields = samples::phone_fields(date, 40.0, -90.0);
        samples::jpeg_with(&samples::scene(64, 48, seed), &fields)
    };
    write("b/2.jpg", &photo(1, "2024:06:11 10:00:00"));
    write("a/1.JPG", &photo(2, "2024:06:11 10:05:00"));
    write("c.jpg", &photo(2, "2024:06:11 10:05:00"));
    write("notes.txt", b"words");
    write("empty.jpg", b"");
    write(".hidden.jpg", b"");
    let mut env = SeededEnv::new(1, 0, 1);
    let mut steps = Vec::new();
    let roll = read_roll(
        folder.path(),
        DEVICE,
        &mut env,
        &RollOptions::default(),
        &mut |done, all| steps.push((done, all)),
    )
    .unwrap();
    assert_eq!(paths(&roll), [vec!["b/2.jpg", "a/1.JPG"]]);
    assert_eq!(roll.dropped[0].path, "c.jpg");
    let refused: Vec<&str> = roll.refused.iter().map(|r| r.path.as_str()).collect();
    assert_eq!(refused, ["empty.jpg", "notes.txt"]);
    assert_eq!(steps.last(), Some(&(5, 5)));
    let text = serde_json::to_string(&roll).unwrap();
    assert_eq!(serde_json::from_str::<Roll>(&text).unwrap(), roll);
    let none = folder.path().join("none");
    let gone = read_roll(
        &none,
        DEVICE,
        &mut env,
        &RollOptions::default(),
        &mut |_, _| {},
    );
    assert_eq!(
        gone,
        Err(PhotoError::Unreadable(std::io::ErrorKind::NotFound))
    );
}

#[test]
fn one_file_past_the_limit_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    for name in ["a", "b", "c"] {
        fs::write(folder.path().join(name), b"").unwrap();
    }
    assert_eq!(files_below(folder.path(), 3).unwrap().0.len(), 3);
    let past = files_below(folder.path(), 2).err();
    assert_eq!(past, Some(PhotoError::TooMany { limit: 2 }));
}

proptest! {
    /// No photo is lost or doubled, whatever the times and places; visits are in order of time,
    /// and the order of the input does not matter.
    #[test]
    fn every_photo_is_somewhere_once(
        facts in proptest::collection::vec(
            (proptest::option::of(0i64..600), proptest::option::of(0f64..900.0)), 0..30),
    ) {
        let photos: Vec<(String, Taken)> = facts
            .iter()
            .enumerate()
            .map(|(i, (minute, north))| taken(&format!("IMG_{i:04}.jpg"), *minute, *north))
            .collect();
        let roll = roll(photos.clone());
        let mut all: Vec<&str> = paths(&roll).concat();
        all.extend(roll.unsure.iter().map(|p| p.path.as_str()));
        all.sort_unstable();
        let expected: Vec<&str> = photos.iter().map(|(path, _)| path.as_str()).collect();
        prop_assert_eq!(all, expected);
        for visit in &roll.visits {
            prop_assert!(visit.photos.is_sorted_by_key(|photo| photo.time));
            prop_assert_eq!(Some(visit.first), visit.photos[0].time);
            for pair in visit.photos.windows(2) {
                prop_assert!(pair[1].time.unwrap() - pair[0].time.unwrap() <= 90 * MINUTE);
            }
        }
        prop_assert!(roll.visits.is_sorted_by_key(|visit| visit.first));
        let mut turned = photos;
        turned.reverse();
        prop_assert_eq!(roll_of(turned, &RollOptions::default()), roll);
    }
}
