//! Nothing that is for the office leaves in the shared packet: unique words in every such text.

use super::super::*;
use super::site::*;
use crate::job::*;
use crate::review::house::*;

/// Hands out words that occur nowhere else.
#[derive(Default)]
struct Words(Vec<String>);

impl Words {
    fn next(&mut self) -> String {
        self.0.push(format!("canary-{:03}-x", self.0.len()));
        self.0.last().unwrap().clone()
    }
}

/// Fills every text field that takes a word.
struct Fill<'a> {
    words: &'a mut Words,
    id: RecordId,
}

impl KindVisitor for Fill<'_> {
    fn visit<F: Fields>(
        &mut self,
        kind: Kind,
        records: &mut std::collections::BTreeMap<RecordId, Record<F>>,
    ) {
        let record = records.get_mut(&self.id).unwrap();
        for key in kind.keys() {
            let word = self.words.next();
            let taken = record.fields.read(key, ScalarRef::Str(&word));
            if taken != FieldRead::Taken {
                self.words.0.pop();
            }
        }
    }
}

fn fill(house: &mut House, words: &mut Words, kind: Kind, word: &str) {
    let id = id(word);
    house.job.records.with_kind(kind, &mut Fill { words, id });
}

fn ladder_dent(audience: Audience) -> Finding {
    Finding {
        place: Some(RecordRef::side(Side::Front)),
        component: Some(Component::Gutter),
        condition: Some(Condition::Damaged),
        cause: Some(Cause::Mechanical),
        audience: Some(audience),
        ..Finding::default()
    }
}

fn strike<F>(record: &mut Record<F>, reason: String) {
    let by = record.made;
    record.struck = Some(Struck { reason, by });
}

fn house_with_canaries(words: &mut Words) -> House {
    let mut house = House::complete();
    let front = Some(RecordRef::side(Side::Front));
    let ladder = at(Kind::Finding, "ladder");
    house.finding("ladder", ladder_dent(Audience::OfficeOnly));
    fill(&mut house, words, Kind::Finding, "ladder");

    // A finding that one of two people called office-only.
    let word = words.next();
    let disputed = house.finding("disputed", ladder_dent(Audience::Shared));
    disputed.fields.text = Some(word);
    let by = disputed.made;
    disputed.conflicts.push(Conflict {
        field: "audience".into(),
        statements: vec![Statement {
            value: Some(Scalar::Str("office_only".into())),
            by,
        }],
    });

    let (word, reason) = (words.next(), words.next());
    let struck = house.finding("mistake", ladder_dent(Audience::Shared));
    struck.fields.text = Some(word);
    strike(struck, reason);

    // Photos: office-only; of an office-only finding; of a struck one; of nothing; inside; struck.
    let mut photo = |house: &mut House, name: &str, place: Option<Place>, shows: &[RecordRef]| {
        let name = format!("{name}-{}", words.next());
        house.photo(&name, PhotoRole::CloseUp, place, shows);
        let caption = words.next();
        let photo = house.job.records.photos.get_mut(&id(&name)).unwrap();
        photo.fields.caption = Some(caption);
        let text = words.next();
        let marks = vec![Mark::Text { x: 1, y: 1, text }];
        photo.fields.marks = Some(rmp_serde::to_vec(&marks).unwrap().into());
        id(&name)
    };
    let office = photo(
        &mut house,
        "office",
        front.clone(),
        &[at(Kind::Finding, "dents")],
    );
    let of_ladder = photo(
        &mut house,
        "ladder",
        front.clone(),
        std::slice::from_ref(&ladder),
    );
    photo(
        &mut house,
        "mistake",
        front.clone(),
        &[at(Kind::Finding, "mistake")],
    );
    photo(&mut house, "nothing", None, &[]);
    photo(&mut house, "inside", Some(at(Kind::Room, "bedroom")), &[]);
    let struck = photo(&mut house, "struck", front, &[]);
    let reason = words.next();
    let photos = &mut house.job.records.photos;
    photos.get_mut(&office).unwrap().fields.audience = Some(Audience::OfficeOnly);
    strike(photos.get_mut(&struck).unwrap(), reason);

    // Notes: office-only; of an office-only finding; of its photo; of such a note.
    let note = |about: Option<RecordRef>, audience, text| {
        record(Note {
            about,
            text: Some(text),
            audience,
        })
    };
    let notes = [
        ("n1", None, Some(Audience::OfficeOnly)),
        ("n2", Some(ladder), None),
        ("n3", Some(RecordRef::new(Kind::Photo, of_ladder)), None),
        ("n4", Some(at(Kind::Note, "n1")), Some(Audience::Shared)),
        ("n5", Some(at(Kind::Question, "q")), None),
    ];
    for (word, about, audience) in notes {
        let text = words.next();
        house
            .job
            .records
            .notes
            .insert(id(word), note(about, audience, text));
    }

    // Kinds that stay at the office whole.
    house
        .job
        .records
        .questions
        .insert(id("q"), record(Question::default()));
    house
        .job
        .records
        .answers
        .insert(id("a"), record(Answer::default()));
    for (kind, word) in [
        (Kind::Interview, "house"),
        (Kind::Recap, "house"),
        (Kind::Question, "q"),
        (Kind::Answer, "a"),
    ] {
        fill(&mut house, words, kind, word);
    }
    let property = house.job.records.properties.get_mut(&Job::only()).unwrap();
    property.fields.owner = Some(words.next());
    property.fields.owner_phone = Some(words.next());
    property.fields.owner_email = Some(words.next());
    let signature = house
        .job
        .records
        .signatures
        .get_mut(&id("signature"))
        .unwrap();
    signature.fields.signer = Some(words.next());
    let visit = house.job.records.visits.get_mut(&id("visit")).unwrap();
    visit.fields.crew = Some(words.next());
    let mut left = record(Departure::default());
    left.fields.known_open = Some(words.next());
    house.job.records.departures.insert(id("left"), left);
    house
}

#[test]
fn no_office_word_occurs_in_any_byte_of_the_shared_packet() {
    let mut words = Words::default();
    let mut site = Site::of(house_with_canaries(&mut words));
    for entry in &mut site.custody.entries {
        entry.deed.what = words.next();
        entry.deed.wrote = vec![("text".into(), words.next())];
    }
    assert!(words.0.len() > 50, "{} words", words.0.len());
    let out = tempfile::tempdir().unwrap();
    let mut shared = files(&site.write(PacketKind::Shared, out.path()));
    // The crew that lays the roof has to know of gates and pets; nobody else does.
    let interview = site.house.job.interview().unwrap();
    let told = [&interview.locked_gates, &interview.pets].map(|word| word.clone().unwrap());
    for (name, bytes) in files(&site.write(PacketKind::Production, out.path())) {
        let mut text = String::from_utf8_lossy(&bytes).into_owned();
        for word in &told {
            text = text.replace(word, "");
        }
        // The cautions name ladders.
        text = text.to_lowercase().replace("ladder", "");
        shared.insert(format!("production/{name}"), text.into_bytes());
    }
    let archive = files(&site.write(PacketKind::Archive, out.path()));

    for (name, bytes) in &shared {
        let text = String::from_utf8_lossy(bytes).to_lowercase();
        for hidden in ["canary", "ladder"] {
            assert!(!name.contains(hidden), "{name}");
            let at = text.find(hidden);
            let near = at.and_then(|at| text.get(at.saturating_sub(60)..(at + 80).min(text.len())));
            assert!(at.is_none(), "{name}: {near:?}");
        }
        // Signed bytes are carried as hexadecimal digits.
        let as_hex = hex(b"canary");
        assert!(!text.contains(&as_hex), "{name}");
    }
    // The archive has every one of them, so that the words above could have been found.
    let whole: Vec<String> = archive
        .values()
        .map(|bytes| String::from_utf8_lossy(bytes).into_owned())
        .collect();
    for word in &words.0 {
        assert!(whole.iter().any(|text| text.contains(word)), "{word}");
    }
    assert!(site.check(&out.path().join("shared")).good());
}

#[test]
fn custody_of_the_shared_packet_tells_of_shown_records_only() {
    let mut house = House::complete();
    house.finding("ladder", ladder_dent(Audience::OfficeOnly));
    let site = Site::of(house);
    let out = tempfile::tempdir().unwrap();
    let shared = files(&site.write(PacketKind::Shared, out.path()));
    let archive = files(&site.write(PacketKind::Archive, out.path()));
    let text = |files: &std::collections::BTreeMap<String, Vec<u8>>| {
        String::from_utf8(files["data/custody.json"].clone()).unwrap()
    };
    assert!(text(&shared).contains("finding/dents"));
    assert!(!text(&shared).contains("finding/ladder"));
    assert!(text(&archive).contains("finding/ladder"));
}

#[test]
fn what_may_be_shown_is_shown() {
    let mut house = House::complete();
    let room = at(Kind::Room, "bedroom");
    house.finding(
        "stain",
        Finding {
            place: Some(room.clone()),
            component: Some(Component::Ceiling),
            condition: Some(Condition::Damaged),
            cause: Some(Cause::Prior),
            ..Finding::default()
        },
    );
    house.finding("ladder", ladder_dent(Audience::OfficeOnly));
    let stain = at(Kind::Finding, "stain");
    // Inside, but of a shared prior condition; and of two findings, one of them shared.
    house.photo("stain", PhotoRole::CloseUp, Some(room), &[stain]);
    let both = [at(Kind::Finding, "ladder"), at(Kind::Finding, "dents")];
    house.photo("both", PhotoRole::CloseUp, None, &both);
    let ids = |kind| -> Vec<String> {
        let selection = Selection::new(&house.job, kind, &[]);
        selection.photo_ids().map(ToString::to_string).collect()
    };
    let shared = ids(PacketKind::Shared);
    assert!(shared.contains(&"stain".to_owned()) && shared.contains(&"both".to_owned()));
    assert!(!shared.contains(&"ceiling".to_owned()));
    assert_eq!(
        ids(PacketKind::Archive).len(),
        house.job.records.photos.len()
    );
}

#[test]
fn the_owner_gets_the_inside_of_the_home_and_nothing_of_the_office() {
    let mut words = Words::default();
    let mut house = house_with_canaries(&mut words);
    // What the owner said, was told and signed is the owner's to read.
    for (kind, word) in [(Kind::Recap, "house"), (Kind::Interview, "house")] {
        let mut plain = Words(vec![]);
        fill(&mut house, &mut plain, kind, word);
    }
    house.job.records.recaps.remove(&Job::only());
    house.job.records.interviews.remove(&Job::only());
    house.job.records.signatures.clear();
    let room = at(Kind::Room, "bedroom");
    house.photo("ceiling-inside", PhotoRole::Overview, Some(room), &[]);
    let inside = id("inside-of-the-home");
    let photo = house
        .job
        .records
        .photos
        .remove(&id("ceiling-inside"))
        .unwrap();
    house.job.records.photos.insert(inside.clone(), photo);
    let ids: Vec<RecordId> = Selection::new(&house.job, PacketKind::Owner, &[])
        .photo_ids()
        .cloned()
        .collect();
    assert!(ids.contains(&inside));
    let shared = Selection::new(&house.job, PacketKind::Shared, &[]);
    assert!(!shared.photo_ids().any(|id| *id == inside));

    // The canaries of rooms are photos that the owner may see: they are taken out here.
    let of_rooms = |photo: &Record<Photo>| {
        photo
            .fields
            .place
            .as_ref()
            .is_some_and(|place| place.kind == Kind::Room)
    };
    let photos = &mut house.job.records.photos;
    photos.retain(|id, photo| !(of_rooms(photo) && id.as_str().contains("canary")));
    let site = Site::of(house);
    let out = tempfile::tempdir().unwrap();
    for (name, bytes) in files(&site.write(PacketKind::Owner, out.path())) {
        let text = String::from_utf8_lossy(&bytes).to_lowercase();
        for hidden in ["canary", "ladder"] {
            let at = text.find(hidden);
            let near = at.and_then(|at| text.get(at.saturating_sub(60)..(at + 80).min(text.len())));
            // The cautions of the owner name a ladder.
            let caution = near.is_some_and(|near| near.contains("climb on the roof or a ladder"));
            assert!(at.is_none() || caution, "{name}: {near:?}");
        }
    }
}

// ISO/IEC 10918-1 (JPEG), EXIF 2.32: a picture with a place, and its copy without.
#[test]
fn a_sharing_copy_carries_no_place_and_the_archive_keeps_the_original() {
    let mut exif = b"Exif\0\0MM\0\x2a canary GPS 41.5 -93.6".to_vec();
    exif.resize(60, b'.');
    let mut picture = vec![0xff, 0xd8, 0xff, 0xe1, 0, 62];
    picture.extend(&exif);
    picture.extend([0xff, 0xfe, 0, 9]);
    picture.extend(b"canary?");
    picture.extend([
        0xff, 0xdb, 0, 4, 1, 2, 0xff, 0xda, 0, 4, 9, 9, 7, 0xff, 0, 8,
    ]);
    picture.extend([0xff, 0xd9]);
    picture.extend(b"canary behind the end");

    let mut site = Site::complete();
    for photo in site.house.job.records.photos.values_mut() {
        let Some(signed) = photo.fields.capture.as_ref() else {
            continue;
        };
        let mut capture = SignedCapture::from_bytes(signed)
            .unwrap()
            .capture()
            .unwrap();
        let mut file = picture.clone();
        file.extend(capture.hash.to_string().bytes());
        capture.hash = PhotoHash::of(&file);
        capture.sha256 = super::super::bag::Sums::of(&file).sha256.to_vec();
        capture.size = file.len() as u64;
        capture.orientation = 6;
        capture.place = Some(CapturePlace {
            latitude: 41.523_456,
            longitude: -93.654_321,
            altitude_m: None,
            accuracy_m: None,
        });
        let signed = SignedCapture::sign(&capture, &device_key()).unwrap();
        photo.fields.capture = Some(signed.to_bytes().unwrap().into());
        site.photos.originals.insert(capture.hash, file);
    }
    site.choices.without_places = true;
    let out = tempfile::tempdir().unwrap();
    let folder = site.write(PacketKind::Shared, out.path());
    let report = site.check(&folder);
    assert_eq!(report.failures, []);
    assert!(report.copies > 0 && report.photos == 0 && report.sealed);
    let shared = files(&folder);
    for (name, bytes) in &shared {
        let text = String::from_utf8_lossy(bytes);
        for place in ["canary", "41.5234", "93.6543"] {
            assert!(!text.contains(place), "{name}: {place}");
        }
        let binary = rmp_serde::to_vec(&41.523_456f64).unwrap();
        assert!(!text.contains(&hex(&binary)), "{name}");
    }
    let copy = shared
        .iter()
        .find(|(name, _)| name.starts_with("data/photos/"))
        .unwrap();
    let up = b"Exif\0\0MM\0\x2a\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06";
    assert!(
        copy.1.windows(up.len()).any(|part| part == up),
        "which way is up is kept"
    );
    assert!(copy.1.ends_with(&[9, 9, 7, 0xff, 0, 8, 0xff, 0xd9]));

    // A copy that was altered afterwards is named, and the archive has the originals.
    let name = copy.0.clone();
    std::fs::write(folder.join(&name), b"another").unwrap();
    reseal(&folder);
    let report = site.check(&folder);
    assert!(report.failures.iter().any(|failure| failure.file == name));
    // The archive is as without the choice: whoever checks works its report out anew.
    let folder = site.write(PacketKind::Archive, out.path());
    assert_eq!(site.check(&folder).failures, []);
    let archive = files(&folder);
    let report = String::from_utf8_lossy(&archive["data/report.json"]);
    assert!(report.contains("41.5234"));
    let kept = archive
        .iter()
        .find(|(name, _)| name.starts_with("data/photos/"))
        .unwrap();
    assert!(kept.1.starts_with(&picture));
}
