//! Every change to a packet is named: by the file it was made to, and why.

use std::fs::{self, File};
use std::path::{Path, PathBuf};

use ed25519_dalek::SigningKey;
use serde_json::Value;

use super::super::*;
use super::site::*;
use crate::job::*;
use crate::limits;
use crate::review::house::device;

fn packets() -> (Site, tempfile::TempDir, [PathBuf; 2]) {
    let site = Site::complete();
    let out = tempfile::tempdir().unwrap();
    let folders =
        [PacketKind::Shared, PacketKind::Archive].map(|kind| site.write(kind, out.path()));
    (site, out, folders)
}

fn shared() -> (Site, tempfile::TempDir, PathBuf) {
    let (site, out, [shared, _]) = packets();
    (site, out, shared)
}

/// The first files below `data/` of that folder.
fn some(folder: &Path, below: &str) -> Vec<String> {
    let below = format!("data/{below}/");
    files(folder)
        .into_keys()
        .filter(|name| name.starts_with(&below))
        .collect()
}

fn reasons(report: &Report, file: &str) -> String {
    let found: Vec<&str> = report
        .failures
        .iter()
        .filter(|failure| failure.file == file)
        .map(|failure| failure.reason.as_str())
        .collect();
    assert!(
        !found.is_empty(),
        "{file} is not named in {:#?}",
        report.failures
    );
    found.join("; ")
}

fn edit_json(path: &Path, edit: impl FnOnce(&mut Value)) {
    let mut value: Value = serde_json::from_slice(&fs::read(path).unwrap()).unwrap();
    edit(&mut value);
    fs::write(path, serde_json::to_vec_pretty(&value).unwrap()).unwrap();
}

#[test]
fn one_altered_byte_of_any_file_is_named() {
    let (site, _out, folders) = packets();
    for folder in folders {
        for (name, bytes) in files(&folder) {
            for place in [0, bytes.len() / 2, bytes.len() - 1] {
                let mut altered = bytes.clone();
                altered[place] ^= 0x01;
                fs::write(folder.join(&name), &altered).unwrap();
                let report = site.check(&folder);
                let named = report
                    .failures
                    .iter()
                    .any(|failure| failure.file == name || failure.reason.contains(&name));
                assert!(named, "{name} at {place}: {:#?}", report.failures);
            }
            fs::write(folder.join(&name), &bytes).unwrap();
        }
        assert!(site.check(&folder).good());
    }
}

#[test]
fn a_dropped_photo_is_named() {
    let (site, _out, folder) = shared();
    let photo = some(&folder, "photos")[2].clone();
    fs::remove_file(folder.join(&photo)).unwrap();
    assert!(reasons(&site.check(&folder), &photo).contains("is missing"));
    // With new manifests it is the capture that misses its photo.
    reseal(&folder);
    let capture = some(&folder, "captures")[2].clone();
    assert!(reasons(&site.check(&folder), &capture).contains("is missing"));
}

#[test]
fn an_added_file_is_named() {
    let (site, _out, folder) = shared();
    for name in ["data/photos/999-extra.jpg", "data/extra.txt", "extra.txt"] {
        fs::write(folder.join(name), b"extra").unwrap();
        reasons(&site.check(&folder), name);
        fs::remove_file(folder.join(name)).unwrap();
    }
    let photo = "data/photos/999-extra.jpg";
    fs::write(folder.join(photo), b"extra").unwrap();
    reseal(&folder);
    let report = site.check(&folder);
    assert!(reasons(&report, photo).contains("no signed capture vouches for it"));
}

#[test]
fn two_swapped_photos_are_named_even_with_new_manifests() {
    let (site, _out, folder) = shared();
    let photos = some(&folder, "photos");
    let captures = some(&folder, "captures");
    let (one, two) = (folder.join(&photos[0]), folder.join(&photos[1]));
    let (first, second) = (fs::read(&one).unwrap(), fs::read(&two).unwrap());
    fs::write(&one, second).unwrap();
    fs::write(&two, first).unwrap();
    let report = site.check(&folder);
    for photo in &photos[..2] {
        assert!(reasons(&report, photo).contains("was altered"));
    }
    reseal(&folder);
    let report = site.check(&folder);
    for capture in &captures[..2] {
        assert!(reasons(&report, capture).contains("is not the photo that was signed"));
    }
}

#[test]
fn a_forged_capture_is_named() {
    let (site, _out, folder) = shared();
    let name = some(&folder, "captures")[0].clone();
    let path = folder.join(&name);
    let good = fs::read(&path).unwrap();
    let value: Value = serde_json::from_slice(&good).unwrap();
    let body = unhex(value["body"].as_str().unwrap()).unwrap();
    let mut capture: Capture = rmp_serde::from_slice(&body).unwrap();
    capture.local_time = capture.local_time.map(|time| time - 86_400_000);

    // Other bytes under the old signature.
    edit_json(&path, |file| {
        file["body"] = hex(&rmp_serde::to_vec_named(&capture).unwrap()).into();
    });
    reseal(&folder);
    assert!(reasons(&site.check(&folder), &name).contains("was not signed by its device"));

    // Signed by a key of the forger's own, which the office never saw.
    let forger = SigningKey::from_bytes(&[66; 32]);
    let signed = SignedCapture::sign(&capture, &forger).unwrap();
    let certificate = &value["certificate"]["body"];
    let mut certificate: Certificate =
        rmp_serde::from_slice(&unhex(certificate.as_str().unwrap()).unwrap()).unwrap();
    certificate.key = forger.verifying_key().to_bytes().to_vec();
    let vouched = SignedCertificate::sign(&certificate, &forger).unwrap();
    edit_json(&path, |file| {
        file["body"] = hex(&signed.body).into();
        file["signature"] = hex(&signed.signature).into();
        file["certificate"]["body"] = hex(&vouched.body).into();
        file["certificate"]["signature"] = hex(&vouched.signature).into();
    });
    reseal(&folder);
    let report = site.check(&folder);
    assert!(reasons(&report, &name).contains("the office does not vouch for its device"));

    // Words that differ from what was signed.
    fs::write(&path, &good).unwrap();
    edit_json(&path, |file| {
        file["capture"]["taken"] = "1 Jan 2020, 09:00:00".into()
    });
    reseal(&folder);
    assert!(reasons(&site.check(&folder), &name).contains("reads otherwise"));

    // A certificate that names another person.
    fs::write(&path, &good).unwrap();
    edit_json(&path, |file| {
        file["certificate"]["person"] = "Somebody Else".into()
    });
    reseal(&folder);
    assert!(reasons(&site.check(&folder), &name).contains("reads otherwise"));
}

#[test]
fn altered_custody_is_named() {
    let (site, _out, folder) = shared();
    let custody = folder.join("data/custody.json");
    let good = fs::read(&custody).unwrap();
    edit_json(&custody, |file| {
        let change = file["entries"][0]["change"].as_str().unwrap().to_owned();
        let flipped = if change.starts_with('0') { "1" } else { "0" };
        file["entries"][0]["change"] = format!("{flipped}{}", &change[1..]).into();
    });
    reseal(&folder);
    let report = site.check(&folder);
    assert!(reasons(&report, "data/custody.json").contains("not signed by its device"));

    fs::write(&custody, &good).unwrap();
    let other = SigningKey::from_bytes(&[5; 32]).verifying_key();
    edit_json(&custody, |file| {
        file["office_key"] = hex(other.as_bytes()).into()
    });
    reseal(&folder);
    let report = site.check(&folder);
    assert!(reasons(&report, "data/custody.json").contains("another office key"));
}

#[test]
fn without_the_office_key_the_report_says_whose_word_it_took() {
    let (site, _out, folder) = shared();
    let report = verify(&folder, None);
    assert!(report.good());
    let key = hex(site.office.verifying_key().as_bytes());
    assert!(report.notes.iter().any(|note| note.contains(&key)));
    // And a stranger's key fails every photo.
    let stranger = SigningKey::from_bytes(&[5; 32]).verifying_key();
    let report = verify(&folder, Some(&stranger));
    assert!(report.failures.len() >= some(&folder, "captures").len());
}

#[test]
fn an_archive_whose_changes_are_not_those_of_its_document_is_named() {
    let (site, _out, [_, archive]) = packets();
    edit_json(&archive.join("data/changes.json"), |list| {
        list.as_array_mut().unwrap().pop();
    });
    reseal(&archive);
    let report = site.check(&archive);
    assert!(reasons(&report, "data/changes.json").contains("the document holds"));
    fs::write(archive.join("data/job.automerge"), b"no document").unwrap();
    reseal(&archive);
    assert!(reasons(&site.check(&archive), "data/job.automerge").contains("cannot be opened"));
}

#[test]
fn manifests_cannot_point_out_of_the_bag() {
    let (site, _out, folder) = shared();
    let path = folder.join("manifest-sha256.txt");
    let mut text = fs::read_to_string(&path).unwrap();
    text.push_str(&format!("{}  data/../../outside.txt\n", "0".repeat(64)));
    fs::write(&path, text).unwrap();
    let report = site.check(&folder);
    assert!(reasons(&report, "manifest-sha256.txt").contains("names what it may not"));
}

#[test]
fn a_folder_that_is_no_packet_is_told_apart() {
    let empty = tempfile::tempdir().unwrap();
    let report = verify(empty.path(), None);
    for name in BAG_FILES {
        assert!(reasons(&report, name).contains("is missing"));
    }
    assert!(!verify(&empty.path().join("nowhere"), None).good());
}

#[test]
fn one_past_each_limit_is_refused() {
    let (site, _out, folder) = shared();
    let deep = folder.join("data/a/b/c");
    fs::create_dir_all(&deep).unwrap();
    // data, a and b are levels 1 to 3; c is one too many.
    assert_eq!(limits::PACKET_DEPTH, 3);
    assert!(reasons(&site.check(&folder), "data/a/b/c").contains("too deep"));
    fs::remove_dir_all(folder.join("data/a")).unwrap();

    let custody = folder.join("data/custody.json");
    let good = fs::read(&custody).unwrap();
    File::create(&custody)
        .unwrap()
        .set_len(limits::PACKET_TEXT_BYTES + 1)
        .unwrap();
    let report = site.check(&folder);
    assert!(reasons(&report, "data/custody.json").contains("larger than any packet's text"));
    fs::write(&custody, good).unwrap();

    let held = files(&folder).len();
    let many = folder.join("data/many");
    fs::create_dir(&many).unwrap();
    for number in 0..=(limits::PACKET_FILES - held) {
        File::create(many.join(number.to_string())).unwrap();
    }
    let report = site.check(&folder);
    let over = |failure: &&Failure| failure.reason.contains("more files than a packet may hold");
    assert!(report.failures.iter().any(|failure| over(&failure)));
}

#[test]
fn an_altered_document_fails_no_reader_even_with_new_manifests() {
    let (site, _out, [_, archive]) = packets();
    let path = archive.join("data/job.automerge");
    let good = fs::read(&path).unwrap();
    for step in 0..40 {
        let mut altered = good.clone();
        let place = step * (good.len() - 1) / 39;
        altered[place] ^= 0x10;
        fs::write(&path, altered).unwrap();
        reseal(&archive);
        assert!(!site.check(&archive).good(), "byte {place}");
    }
}

#[test]
fn a_photo_dropped_with_its_capture_and_every_list_is_named_by_the_seal() {
    let (site, _out, folder) = shared();
    let photo = some(&folder, "photos")[2].clone();
    let capture = some(&folder, "captures")[2].clone();
    fs::remove_file(folder.join(&photo)).unwrap();
    fs::remove_file(folder.join(&capture)).unwrap();
    reseal(&folder);
    // The report still names it.
    let report = site.check(&folder);
    assert!(reasons(&report, &photo).contains("data/report.json names it"));
    assert!(reasons(&report, "tagmanifest-sha256.txt").contains("after the bag was sealed"));
    // With the report rewritten as well, the seal is what is left.
    let name = photo.strip_prefix("data/").unwrap().to_owned();
    let mut at = 0;
    edit_json(&folder.join("data/report.json"), |report| {
        let photos = report["photos"].as_array_mut().unwrap();
        at = photos
            .iter()
            .position(|photo| photo["file"] == name)
            .unwrap();
        photos.remove(at);
    });
    let table = folder.join("data/photos.csv");
    let lines = fs::read_to_string(&table).unwrap();
    let lines: Vec<&str> = lines.split_inclusive("\r\n").collect();
    let kept: String = lines
        .iter()
        .enumerate()
        .filter(|(i, _)| *i != at + 1)
        .map(|(_, l)| *l)
        .collect();
    fs::write(&table, kept).unwrap();
    reseal(&folder);
    let report = site.check(&folder);
    let files: Vec<&str> = report
        .failures
        .iter()
        .map(|failure| failure.file.as_str())
        .collect();
    assert_eq!(files, ["data/index.html", "tagmanifest-sha256.txt"]);
}

#[test]
fn a_seal_of_somebody_else_is_named() {
    let (site, _out, folder) = shared();
    let manifest = fs::read_to_string(folder.join("tagmanifest-sha256.txt")).unwrap();
    let forger = SigningKey::from_bytes(&[66; 32]);
    let certificate = Certificate {
        company: CompanyId::from_bytes([1; 16]),
        device: device(),
        key: forger.verifying_key().to_bytes().to_vec(),
        person: "Somebody".into(),
        role: Role::Office,
        device_name: "a device".into(),
        issued_at: 0,
    };
    let own = SignedCertificate::sign(&certificate, &forger).unwrap();
    let device_of = |key, certificate| Sealer::Device {
        key,
        device: device(),
        certificate,
    };
    for sealer in [
        Sealer::Office(&forger),
        device_of(&forger, None),
        device_of(&forger, Some(&own)),
    ] {
        let sealed = super::super::seal::seal(sealer, &manifest, None);
        fs::write(folder.join("seal.txt"), sealed.text).unwrap();
        fs::write(folder.join("seal.sig"), sealed.signature).unwrap();
        fs::write(folder.join("seal-key.pem"), sealed.key).unwrap();
        let report = site.check(&folder);
        assert!(
            reasons(&report, "seal.txt").contains("vouch"),
            "{:?}",
            report.failures
        );
        assert!(!report.sealed);
    }
    // A device that the office vouches for seals as well as the office.
    let vouched = SignedCertificate::sign(&certificate, &site.office).unwrap();
    let sealed = super::super::seal::seal(device_of(&forger, Some(&vouched)), &manifest, None);
    fs::write(folder.join("seal.txt"), sealed.text).unwrap();
    fs::write(folder.join("seal.sig"), sealed.signature).unwrap();
    fs::write(folder.join("seal-key.pem"), sealed.key).unwrap();
    let report = site.check(&folder);
    assert!(report.good() && report.sealed, "{:?}", report.failures);
}

#[test]
fn a_document_that_was_rolled_back_is_named() {
    let (site, _out, [_, archive]) = packets();
    // An earlier state of the same document, with every list and manifest to match.
    let mut earlier = crate::document::Document::new().unwrap();
    let whole = crate::document::Document::load(&site.document).unwrap();
    let rows = whole.rows();
    earlier.replay(&rows[..rows.len() - 1]).unwrap();
    let held: Vec<String> = earlier
        .history()
        .into_iter()
        .map(|deed| deed.change)
        .collect();
    fs::write(archive.join("data/job.automerge"), earlier.export()).unwrap();
    edit_json(&archive.join("data/changes.json"), |list| {
        let kept = |change: &Value| held.iter().any(|hash| change["hash"] == *hash);
        list.as_array_mut().unwrap().retain(kept);
    });
    edit_json(&archive.join("data/custody.json"), |file| {
        let kept = |line: &Value| held.iter().any(|hash| line["change"] == *hash);
        file["entries"].as_array_mut().unwrap().retain(kept);
    });
    reseal(&archive);
    let report = site.check(&archive);
    assert!(reasons(&report, "data/job.automerge").contains("was rolled back or replaced"));
    assert!(reasons(&report, "tagmanifest-sha256.txt").contains("after the bag was sealed"));
}

#[test]
fn a_report_that_says_otherwise_than_the_document_is_named() {
    let site = Site::of_document();
    let out = tempfile::tempdir().unwrap();
    let archive = site.write(PacketKind::Archive, out.path());
    assert!(site.check(&archive).good(), "{:#?}", site.check(&archive));
    // Report, tables and page are altered alike, and every list and manifest is made to match.
    for name in ["data/report.json", "data/findings.csv", "data/index.html"] {
        let path = archive.join(name);
        let good = fs::read_to_string(&path).unwrap();
        assert!(good.contains("Robin Vale"), "{name}");
        fs::write(&path, good.replace("Robin Vale", "Robin Dale")).unwrap();
    }
    reseal(&archive);
    let report = site.check(&archive);
    for name in ["data/report.json", "data/index.html"] {
        assert!(reasons(&report, name).contains("otherwise than data/job.automerge"));
    }
}

#[test]
fn a_page_that_says_less_than_the_report_is_named() {
    let (site, _out, folder) = shared();
    let page = folder.join("data/index.html");
    let good = fs::read_to_string(&page).unwrap();
    fs::write(&page, good.replace("round dents", "")).unwrap();
    reseal(&folder);
    assert!(reasons(&site.check(&folder), "data/index.html").contains("does not say"));
    let photo = some(&folder, "photos").remove(0);
    let photo = photo.strip_prefix("data/").unwrap();
    fs::write(&page, good.replace(&format!("href=\"{photo}\""), "")).unwrap();
    reseal(&folder);
    assert!(reasons(&site.check(&folder), "data/index.html").contains("does not show"));
    fs::write(&page, good.replace(photo, "photos/999-none.jpg")).unwrap();
    reseal(&folder);
    assert!(reasons(&site.check(&folder), "data/index.html").contains("not in the bag"));
}

#[test]
fn a_table_that_says_otherwise_than_the_report_is_named() {
    let (site, _out, folder) = shared();
    let table = folder.join("data/findings.csv");
    let good = fs::read_to_string(&table).unwrap();
    assert!(good.contains("round dents"));
    fs::write(&table, good.replacen("round dents", "small dents", 1)).unwrap();
    reseal(&folder);
    let report = site.check(&folder);
    assert!(reasons(&report, "data/findings.csv").contains("the report says \"round dents"));
    let short: String = good.split_inclusive("\r\n").take(1).collect();
    fs::write(&table, short).unwrap();
    reseal(&folder);
    assert!(reasons(&site.check(&folder), "data/findings.csv").contains("rows"));
}
