use super::*;
use crate::job::{
    Capture, DeviceId, EaveOpening, Elevation, Fields, PictureFormat, Records, Room, Slope, Stamp,
    Struck, Structure, StructureKind, TestSquare,
};
use ed25519_dalek::SigningKey;
use proptest::prelude::*;
use serde_bytes::ByteBuf;

const MADE: Stamp = Stamp {
    device: DeviceId::from_bytes([1; 16]),
    at: 1_000,
};

fn id(name: &str) -> RecordId {
    name.parse().unwrap()
}

fn record<F: Fields>(fields: F) -> Record<F> {
    let mut record = Record::new(MADE);
    record.fields = fields;
    record
}

fn at(text: &str) -> Option<RecordRef> {
    Some(text.parse().unwrap())
}

fn capture(name: &str, minute: i64) -> ByteBuf {
    let capture = Capture {
        version: Capture::VERSION,
        hash: PhotoHash::of(name.as_bytes()),
        sha256: vec![0; 32],
        size: 1,
        format: PictureFormat::Jpeg,
        width: 1,
        height: 1,
        orientation: 1,
        file_name: name.to_owned(),
        local_time: Some(minute * 60_000),
        utc_offset_min: Some(0),
        place: None,
        bearing: None,
        bearing_from: None,
        camera: None,
        usability: None,
        device: MADE.device,
        taken_in_at: 0,
    };
    let signed = SignedCapture::sign(&capture, &SigningKey::from_bytes(&[1; 32])).unwrap();
    ByteBuf::from(signed.to_bytes().unwrap())
}

/// One photo as a line: name, minute, role, place, place from the left, what it shows.
type Line = (
    &'static str,
    i64,
    PhotoRole,
    &'static str,
    Option<u32>,
    &'static [&'static str],
);

fn add(job: &mut Job, (name, minute, role, place, from_left, shows): Line) {
    let mut photo = record(Photo {
        capture: Some(capture(name, minute)),
        role: Some(role),
        place: if place.is_empty() { None } else { at(place) },
        from_left,
        ..Photo::default()
    });
    photo.shows = shows.iter().map(|at| at.parse().unwrap()).collect();
    job.records.photos.insert(id(name), photo);
}

fn house() -> Job {
    let mut records = Records::default();
    for side in Side::ALL {
        let wall = Elevation {
            side: Some(*side),
            ..Elevation::default()
        };
        records.elevations.insert(id(side.code()), record(wall));
        let slope = Slope {
            side: Some(*side),
            ..Slope::default()
        };
        let name = format!("slope_{}", side.code());
        records.slopes.insert(id(&name), record(slope));
    }
    for (name, storey) in [("kitchen", 1), ("attic", 3)] {
        let room = Room {
            name: Some(name.to_owned()),
            storey: Some(storey),
            ..Room::default()
        };
        records.rooms.insert(id(name), record(room));
    }
    let fence = Structure {
        kind: Some(StructureKind::Fence),
        ..Structure::default()
    };
    records.structures.insert(id("fence"), record(fence));
    let eave = EaveOpening {
        slope: at("slope/slope_rear"),
        ..EaveOpening::default()
    };
    records.eave_openings.insert(id("eave"), record(eave));
    let square = TestSquare {
        slope: at("slope/slope_front"),
        ..TestSquare::default()
    };
    records.test_squares.insert(id("square"), record(square));
    for (name, place, from_left) in [
        ("gutter", "elevation/front", Some(3)),
        ("shutter", "elevation/front", Some(1)),
        ("screen", "elevation/front", None),
        ("tab", "slope/slope_front", None),
    ] {
        let finding = Finding {
            place: at(place),
            from_left,
            ..Finding::default()
        };
        records.findings.insert(id(name), record(finding));
    }
    Job {
        id: None,
        schema: 1,
        crew: BTreeMap::new(),
        records,
    }
}

/// The lines in the order they should be walked; times are against the order on purpose.
const WALK: &[Line] = {
    use PhotoRole::*;
    &[
        ("opening", 5, Overview, "elevation/front", None, &[]),
        ("kitchen_far", 70, Overview, "room/kitchen", None, &[]),
        ("kitchen_near", 60, CloseUp, "room/kitchen", None, &[]),
        ("attic_deck", 50, CloseUp, "room/attic", None, &[]),
        ("front_more", 90, Overview, "elevation/front", None, &[]),
        (
            "shutter_far",
            80,
            Standoff,
            "elevation/front",
            None,
            &["finding/shutter"],
        ),
        ("shutter_near", 10, CloseUp, "", None, &["finding/shutter"]),
        ("porch", 3, Standoff, "elevation/front", Some(2), &[]),
        (
            "gutter_far",
            81,
            Standoff,
            "elevation/front",
            None,
            &["finding/gutter", "finding/screen"],
        ),
        (
            "gutter_near_a",
            11,
            CloseUp,
            "elevation/front",
            None,
            &["finding/gutter"],
        ),
        (
            "gutter_near_b",
            12,
            CloseUp,
            "elevation/front",
            None,
            &["finding/gutter"],
        ),
        (
            "screen_near",
            1,
            CloseUp,
            "elevation/front",
            None,
            &["finding/screen"],
        ),
        ("front_tape", 2, Measurement, "elevation/front", None, &[]),
        ("right_all", 40, Overview, "elevation/right", None, &[]),
        ("rear_all", 39, Overview, "elevation/rear", None, &[]),
        ("left_all", 38, Overview, "elevation/left", None, &[]),
        ("fence_all", 37, Overview, "structure/fence", None, &[]),
        ("eave_tape", 36, Measurement, "eave_opening/eave", None, &[]),
        ("eave_felt", 35, Layer, "eave_opening/eave", None, &[]),
        ("turn_one", 30, Panorama, "slope/slope_rear", None, &[]),
        ("turn_two", 31, Panorama, "", None, &[]),
        (
            "slope_front_all",
            29,
            Overview,
            "slope/slope_front",
            None,
            &[],
        ),
        (
            "tab_far",
            28,
            Standoff,
            "slope/slope_front",
            None,
            &["finding/tab"],
        ),
        (
            "tab_near",
            27,
            CloseUp,
            "slope/slope_front",
            None,
            &["finding/tab"],
        ),
        (
            "slope_gauge",
            26,
            Measurement,
            "slope/slope_front",
            None,
            &[],
        ),
        (
            "square_all",
            25,
            Overview,
            "",
            None,
            &["test_square/square"],
        ),
        (
            "slope_left_all",
            24,
            Overview,
            "slope/slope_left",
            None,
            &[],
        ),
        ("nowhere", 23, CloseUp, "", None, &[]),
        ("label", 4, Document, "elevation/front", None, &[]),
    ]
};

fn names(order: &[RecordId]) -> Vec<&str> {
    order.iter().map(RecordId::as_str).collect()
}

#[test]
fn the_walk_goes_round_the_house() {
    let mut job = house();
    for line in WALK {
        add(&mut job, *line);
    }
    let expected: Vec<&str> = WALK.iter().map(|line| line.0).collect();
    assert_eq!(names(&walk_order(&job)), expected);
}

#[test]
fn struck_and_unknown_photos_are_left_out() {
    let mut job = house();
    add(&mut job, WALK[0]);
    add(&mut job, WALK[4]);
    let struck = job.records.photos.get_mut(&id("opening")).unwrap();
    struck.struck = Some(Struck {
        reason: "wrong house".to_owned(),
        by: MADE,
    });
    assert_eq!(names(&walk_order(&job)), ["front_more"]);
    let asked = [
        id("opening"),
        id("front_more"),
        id("front_more"),
        id("none"),
    ];
    assert_eq!(names(&walk_order_of(&job, &asked)), ["front_more"]);
}

#[test]
fn equal_photos_go_by_hash() {
    let mut job = house();
    let twins = ["a", "b", "c", "d"];
    for name in twins {
        add(
            &mut job,
            (name, 7, PhotoRole::CloseUp, "room/attic", None, &[]),
        );
    }
    let mut expected = twins;
    expected.sort_by_key(|name| PhotoHash::of(name.as_bytes()));
    assert_eq!(names(&walk_order(&job)), expected);
}

#[test]
fn a_photo_whose_capture_cannot_be_read_is_still_walked() {
    let mut job = house();
    add(&mut job, WALK[1]);
    let photo = job.records.photos.get_mut(&id(WALK[1].0)).unwrap();
    photo.fields.capture = Some(ByteBuf::from(vec![1, 2, 3]));
    assert_eq!(names(&walk_order(&job)), [WALK[1].0]);
}

/// Role, place, place from the left, findings shown and minute.
type AnyPhoto = (usize, usize, Option<u32>, Vec<usize>, i64);

/// Any photo: everything that orders it varies.
fn any_photo() -> impl Strategy<Value = AnyPhoto> {
    (
        0..PhotoRole::ALL.len(),
        0usize..8,
        proptest::option::of(0u32..3),
        proptest::collection::vec(0usize..4, 0..3),
        0i64..3,
    )
}

const NAMES: [&str; 12] = [
    "p0", "p1", "p2", "p3", "p4", "p5", "p6", "p7", "p8", "p9", "p10", "p11",
];

fn any_job(photos: &[AnyPhoto]) -> Job {
    let places = [
        "",
        "elevation/front",
        "elevation/left",
        "room/attic",
        "structure/fence",
        "eave_opening/eave",
        "slope/slope_front",
        "slope/gone",
    ];
    let shown = [
        "finding/gutter",
        "finding/shutter",
        "finding/tab",
        "test_square/square",
    ];
    let mut job = house();
    for (name, (role, place, from_left, shows, minute)) in NAMES.iter().zip(photos) {
        let role = PhotoRole::ALL[*role];
        add(
            &mut job,
            (name, *minute, role, places[*place], *from_left, &[]),
        );
        let photo = job.records.photos.get_mut(&id(name)).unwrap();
        photo.shows = shows.iter().map(|i| shown[*i].parse().unwrap()).collect();
    }
    job
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(512))]

    #[test]
    fn the_order_does_not_depend_on_the_input(
        photos in proptest::collection::vec(any_photo(), 1..12),
        shuffle in Just((0..11usize).collect::<Vec<_>>()).prop_shuffle(),
    ) {
        let job = any_job(&photos);
        let order = walk_order(&job);
        prop_assert_eq!(order.len(), photos.len());
        let all: Vec<&RecordId> = job.records.photos.keys().collect();
        let mixed: Vec<&RecordId> =
            shuffle.iter().filter_map(|i| all.get(*i).copied()).collect();
        prop_assert_eq!(&walk_order_of(&job, mixed), &order);
    }

    /// At one place no close-up comes between a finding's standoff and its other close-ups, and
    /// none comes before the standoff.
    #[test]
    fn pairs_stay_together(photos in proptest::collection::vec(any_photo(), 1..12)) {
        let photos: Vec<_> = photos
            .into_iter()
            .map(|(role, _, from_left, shows, minute)| {
                (1 + role % 2, 1, from_left, vec![shows.len() % 2], minute)
            })
            .collect();
        let job = any_job(&photos);
        let order = walk_order(&job);
        let facts: Vec<(&RecordRef, PhotoRole)> = order
            .iter()
            .map(|id| &job.records.photos[id])
            .map(|photo| (&photo.shows[0], photo.role.unwrap()))
            .collect();
        let mut seen: Vec<&RecordRef> = Vec::new();
        for (index, (finding, role)) in facts.iter().enumerate() {
            let same = index > 0 && facts[index - 1].0 == *finding;
            prop_assert!(same || !seen.contains(finding), "{finding} comes twice");
            if same && *role == PhotoRole::Standoff {
                prop_assert_eq!(facts[index - 1].1, PhotoRole::Standoff);
            }
            seen.push(finding);
        }
    }
}
