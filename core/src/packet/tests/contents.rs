//! What is in the two packets.

use std::fs;

use proptest::prelude::*;

use super::super::*;
use super::site::*;
use crate::job::*;
use crate::limits;
use crate::review::house::*;
use crate::review::random_jobs::random_job;

#[test]
fn both_packets_are_good_and_say_what_they_hold() {
    let site = Site::complete();
    let out = tempfile::tempdir().unwrap();
    let mut steps = Vec::new();
    let shared = write(
        PacketKind::Shared,
        &site.input(),
        out.path(),
        &mut |done, all| {
            steps.push((done, all));
            true
        },
    )
    .unwrap();
    let archive = site.write(PacketKind::Archive, out.path());
    let photos = site.house.job.records.photos.len();
    // The ceiling of a room without a finding stays at the office.
    assert_eq!(shared.photos, photos - 1);
    assert_eq!(steps.last(), Some(&(photos - 1, photos - 1)));
    assert!(shared.lacking.is_empty());
    for (folder, shown) in [(&shared.folder, photos - 1), (&archive, photos)] {
        let report = site.check(folder);
        assert_eq!(report.failures, [], "{}", folder.display());
        assert_eq!(report.photos, shown);
        assert!(report.signatures > 0);
    }
    let names = files(&shared.folder);
    for name in [
        "index.html",
        "findings.csv",
        "scope.csv",
        "photos.csv",
        "report.json",
        "report.schema.json",
        "custody.json",
        "HOW-TO-CHECK.txt",
    ] {
        assert!(names.contains_key(&format!("data/{name}")), "{name}");
    }
    assert!(
        !names
            .keys()
            .any(|name| name.contains("automerge") || name.contains("history"))
    );
    let kept = files(&archive);
    for name in [
        "job.automerge",
        "history.json",
        "changes.json",
        "records.json",
    ] {
        assert!(kept.contains_key(&format!("data/{name}")), "{name}");
    }
    assert_eq!(
        files(out.path())
            .keys()
            .filter(|name| name.contains(".part"))
            .count(),
        0
    );
}

#[test]
fn the_same_job_gives_the_same_bytes() {
    let site = Site::complete();
    let (one, two) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    for kind in PacketKind::ALL {
        let folder = site.write(*kind, one.path());
        Site::complete().write(*kind, two.path());
        let zip = |name: &str, within: &tempfile::TempDir| {
            let to = within.path().join(format!("{name}-{}.zip", kind.folder()));
            zip_bag(&folder, "house", &to, &mut |_, _| true).unwrap();
            fs::read(to).unwrap()
        };
        assert_eq!(zip("a", &one), zip("a", &two));
    }
    assert_eq!(files(one.path()), files(two.path()));
}

#[test]
fn a_packet_is_written_whole_or_not_at_all() {
    let site = Site::complete();
    let out = tempfile::tempdir().unwrap();
    let left = out.path().join(".shared.part/data");
    fs::create_dir_all(&left).unwrap();
    fs::write(left.join("half.jpg"), b"cut off").unwrap();
    let folder = site.write(PacketKind::Shared, out.path());
    assert!(site.check(&folder).good());
    let again = write(
        PacketKind::Shared,
        &site.input(),
        out.path(),
        &mut |_, _| true,
    );
    assert!(matches!(again, Err(PacketError::Exists(path)) if path == folder));
}

#[test]
fn a_packet_that_is_stopped_leaves_nothing() {
    let site = Site::complete();
    let out = tempfile::tempdir().unwrap();
    let stopped = write(
        PacketKind::Shared,
        &site.input(),
        out.path(),
        &mut |done, _| done < 3,
    );
    assert!(matches!(stopped, Err(PacketError::Stopped)));
    assert_eq!(files(out.path()).len(), 0);
    let folder = site.write(PacketKind::Shared, out.path());
    let zip = out.path().join("shared.zip");
    let stopped = zip_bag(&folder, "house", &zip, &mut |done, _| done < 3);
    assert!(matches!(stopped, Err(PacketError::Stopped)));
    assert!(!files(out.path()).keys().any(|name| name.contains("zip")));
}

#[test]
fn originals_are_never_rewritten_and_stand_in_the_given_order() {
    let mut site = Site::complete();
    site.order = ["near", "far", "overview-front"].map(id).to_vec();
    let out = tempfile::tempdir().unwrap();
    let folder = site.write(PacketKind::Shared, out.path());
    let names = files(&folder);
    let photos: Vec<&String> = names
        .keys()
        .filter(|n| n.starts_with("data/photos/"))
        .collect();
    assert_eq!(
        photos[0],
        "data/photos/001-front-elevation-gutter-close-up.jpg"
    );
    assert_eq!(
        photos[1],
        "data/photos/002-front-elevation-gutter-standoff.jpg"
    );
    assert_eq!(names[photos[0]], b"the picture near");
    assert_eq!(names[photos[1]], b"the picture far");
    // BagIt, RFC 8493, section 5.1.1 warns of characters that systems disagree about.
    for name in names.keys() {
        let plain = |b: u8| b.is_ascii_alphanumeric() || b"-._/".contains(&b);
        assert!(name.bytes().all(plain), "{name}");
    }
}

#[test]
fn a_photo_that_is_missing_or_altered_is_named_and_left_out() {
    let mut site = Site::complete();
    let hash = |word: &str| PhotoHash::of(format!("the picture {word}").as_bytes());
    site.photos.originals.remove(&hash("near"));
    site.photos
        .originals
        .insert(hash("far"), b"another picture".to_vec());
    let large = vec![0; limits::THUMBNAIL_BYTES as usize + 1];
    site.photos.thumbnails.insert(hash("tape"), large);
    let out = tempfile::tempdir().unwrap();
    let written = write(
        PacketKind::Shared,
        &site.input(),
        out.path(),
        &mut |_, _| true,
    )
    .unwrap();
    let why: Vec<&str> = written.lacking.iter().map(|(_, why)| *why).collect();
    assert_eq!(
        why,
        [
            "the stored file is not the one that was taken in",
            "the original was not there"
        ]
    );
    let report = site.check(&written.folder);
    assert!(report.good(), "{:?}", report.failures);
    let absent = |note: &&String| note.contains("original is not in the packet");
    assert_eq!(report.notes.iter().filter(absent).count(), 2);
    let names = files(&written.folder);
    assert!(!names.keys().any(|name| name.contains("thumbs")
        && name.contains("measurement")
        && names[name].len() as u64 > limits::THUMBNAIL_BYTES));
}

#[test]
fn texts_can_break_neither_page_nor_table() {
    let mut site = Site::complete();
    let evil = "</style><script>alert(1)</script>\"'&<img src=x onerror=y>";
    let finding = site
        .house
        .job
        .records
        .findings
        .get_mut(&id("dents"))
        .unwrap();
    finding.fields.text = Some(evil.into());
    finding.fields.cause_reason = Some(format!("=HYPERLINK(\"{evil}\")\r\nnext line"));
    finding.fields.unit_name = Some("-1".into());
    let house = site
        .house
        .job
        .records
        .properties
        .get_mut(&Job::only())
        .unwrap();
    house.fields.street = Some(evil.into());
    let slope = site.house.job.records.slopes.get_mut(&id("main")).unwrap();
    slope.fields.name = Some(evil.into());
    let photo = site.house.job.records.photos.get_mut(&id("near")).unwrap();
    photo.fields.caption = Some(evil.into());
    let marks = vec![Mark::Text {
        x: 1,
        y: 2,
        text: evil.into(),
    }];
    photo.fields.marks = Some(rmp_serde::to_vec(&marks).unwrap().into());
    let person = site.house.job.crew.get_mut(&device()).unwrap();
    person.person = evil.into();
    let out = tempfile::tempdir().unwrap();
    for kind in [PacketKind::Shared, PacketKind::Archive] {
        let folder = site.write(kind, out.path());
        let page = fs::read_to_string(folder.join("data/index.html")).unwrap();
        assert!(!page.contains("<script") && !page.contains("<img src=x"));
        assert_eq!(page.matches("</style>").count(), 1);
        assert!(page.contains("&lt;script&gt;"));

        // RFC 4180: lines end in CRLF, quotes are doubled, every record has the same fields.
        let table = fs::read(folder.join("data/findings.csv")).unwrap();
        assert!(table.ends_with(b"\r\n"));
        let mut reader = csv::ReaderBuilder::new().from_reader(table.as_slice());
        let cells: Vec<String> = reader
            .records()
            .flat_map(|record| {
                record
                    .unwrap()
                    .iter()
                    .map(str::to_owned)
                    .collect::<Vec<_>>()
            })
            .collect();
        assert!(cells.iter().any(|cell| cell == evil));
        assert!(cells.iter().any(|cell| cell.starts_with("'=HYPERLINK")));
        assert!(cells.iter().any(|cell| cell == "'-1"));
        assert!(
            !cells
                .iter()
                .any(|cell| cell.starts_with(['=', '+', '-', '@']))
        );
    }
}

#[test]
fn the_page_states_what_was_found_and_nothing_of_insurance() {
    let site = Site::complete();
    let out = tempfile::tempdir().unwrap();
    let folder = site.write(PacketKind::Shared, out.path());
    let page = fs::read_to_string(folder.join("data/index.html")).unwrap();
    for text in [
        "14 Larkspur Row",
        "3 Jun 2026",
        "Robin Vale",
        "makes no statement on insurance",
        "round dents of like size, spread evenly",
        "Open until tear-off",
        "ice barrier, could not see",
        "(report: 6/12)",
        "Prior conditions",
    ] {
        assert!(page.contains(text), "{text}");
    }
    let lower = page.to_lowercase();
    for never in [
        "coverage",
        "covered by",
        "owed",
        "entitled",
        "<script",
        "http://",
        "https://",
    ] {
        assert!(!lower.contains(never), "{never}");
    }
}

#[test]
fn the_formats_are_as_reviewed() {
    let site = Site::complete();
    let out = tempfile::tempdir().unwrap();
    let names = files(&site.write(PacketKind::Shared, out.path()));
    let text = |name: &str| String::from_utf8(names[name].clone()).unwrap();
    insta::assert_snapshot!("report_json", text("data/report.json"));
    insta::assert_snapshot!("findings_csv", text("data/findings.csv").replace('\r', ""));
    insta::assert_snapshot!("custody_json", text("data/custody.json"));
    let capture = names
        .keys()
        .find(|name| name.starts_with("data/captures/001"))
        .unwrap();
    insta::assert_snapshot!("capture_json", text(capture));
    // Bytes and files of the payload, RFC 8493, 2.2.2: counted here, as they follow from all the rest.
    let payload = names.iter().filter(|(name, _)| name.starts_with("data/"));
    let (bytes, count) = payload.fold((0, 0), |(bytes, count), (_, file)| {
        (bytes + file.len(), count + 1)
    });
    let (info, oxum) = (text("bag-info.txt"), format!("{bytes}.{count}"));
    assert!(info.contains(&format!("Payload-Oxum: {oxum}")), "{info}");
    insta::assert_snapshot!("bag_info", info.replace(&oxum, "bytes.files"));
}

#[test]
fn a_photo_of_what_is_not_on_the_page_is_among_the_further_ones() {
    let mut house = House::complete();
    for kind in [Kind::EaveOpening, Kind::Measurement, Kind::TestSquare] {
        let gone = RecordRef::new(kind, "gone".parse().unwrap());
        house.photo(kind.collection(), PhotoRole::CloseUp, None, &[gone]);
    }
    let gone = RecordRef::new(Kind::EaveOpening, "gone".parse().unwrap());
    house.photo("placed", PhotoRole::CloseUp, Some(gone), &[]);
    let stamp = house.job.records.findings.values().next().unwrap().made;
    for (id, photo) in &mut house.job.records.photos {
        photo.fields.caption = Some(format!("caption of {}", id.as_str()));
        // Of a finding that stands: the archive shows what was struck as well.
        if id.as_str() == "near" {
            let reason = "blurred".to_owned();
            photo.struck = Some(Struck { reason, by: stamp });
        }
    }
    let site = Site::of(house);
    let out = tempfile::tempdir().unwrap();
    for kind in PacketKind::ALL {
        let folder = site.write(*kind, out.path());
        assert_eq!(site.check(&folder).failures, vec![], "{kind:?}");
    }
    let again = tempfile::tempdir().unwrap();
    let names = files(&site.write(PacketKind::Archive, again.path()));
    let page = String::from_utf8(names["data/index.html"].clone()).unwrap();
    for id in site.house.job.records.photos.keys() {
        assert!(
            page.contains(&format!("caption of {}", id.as_str())),
            "{id:?}"
        );
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    #[test]
    fn any_job_makes_good_packets(seed in proptest::collection::vec(any::<u32>(), 1..400)) {
        let mut house = House::empty();
        house.job = random_job(&seed);
        let site = Site::of(house);
        let out = tempfile::tempdir().unwrap();
        for kind in PacketKind::ALL {
            let folder = site.write(*kind, out.path());
            prop_assert_eq!(site.check(&folder).failures, vec![]);
        }
    }
}
