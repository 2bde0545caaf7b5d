//! Captures against their devices, devices against the office, custody against both.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use ed25519_dalek::VerifyingKey;

use super::super::bag::Sums;
use super::super::captures::{CaptureFile, ReadableCapture};
use super::super::custody::{CertificateFile, CustodyFile};
use super::super::photos::is_original;
use super::super::seal::Held;
use super::super::without_place::{Derived, FILE as DERIVED};
use super::structure::{printable, text};
use super::{Report, seal};
use crate::contain::contained;
use crate::document::{Document, check_change_signature};
use crate::job::{Certificate, SignedCapture, SignedCertificate, hex, unhex};
use crate::limits;
use crate::sorted::Keyed;

const CUSTODY: &str = "data/custody.json";

pub(super) fn check(
    folder: &Path,
    office: Option<&VerifyingKey>,
    report: &mut Report,
    sums: &BTreeMap<String, Sums>,
) {
    let custody = read_custody(folder, report);
    let key = office_key(custody.as_ref(), office, report);
    let held = seal::check(folder, key.as_ref(), report, sums);
    let vouched = captures(folder, key.as_ref(), report, sums);
    let copies = copies(folder, report, sums);
    for file in sums.keys().filter(|name| name.starts_with("data/photos/")) {
        if !vouched.contains(file) && !copies.contains(file) {
            report.fail(file, "no signed capture vouches for it");
        }
    }
    report.photos = vouched.len();
    report.copies = copies.len();
    if let Some(custody) = &custody {
        check_custody(custody, key.as_ref(), report);
    }
    check_document(folder, held, report, sums);
}

fn read_custody(folder: &Path, report: &mut Report) -> Option<CustodyFile> {
    let text = match text(folder, CUSTODY) {
        Ok(text) => text,
        Err(error) => {
            report.fail(CUSTODY, format!("cannot be read: {error}"));
            return None;
        }
    };
    let custody = serde_json::from_str(&text);
    if custody.is_err() {
        report.fail(CUSTODY, "is not a custody list");
    }
    custody.ok()
}

/// The key that counts: the one handed in, else the one in the packet, with a note.
fn office_key(
    custody: Option<&CustodyFile>,
    office: Option<&VerifyingKey>,
    report: &mut Report,
) -> Option<VerifyingKey> {
    let stated = custody.and_then(|custody| custody.office_key.as_deref());
    let inside = stated.and_then(|text| {
        let bytes: [u8; 32] = unhex(text)?.try_into().ok()?;
        VerifyingKey::from_bytes(&bytes).ok()
    });
    if stated.is_some() && inside.is_none() {
        report.fail(CUSTODY, "states an office key that is none");
    }
    match (office, inside) {
        (Some(given), inside) => {
            if inside.is_some_and(|inside| inside != *given) {
                report.fail(CUSTODY, "states another office key than the one given");
            }
            Some(*given)
        }
        (None, Some(inside)) => {
            report.notes.push(format!(
                "Devices were held against the key in the packet itself, {}: compare it with the \
                 one the office gives.",
                hex(inside.as_bytes())
            ));
            Some(inside)
        }
        (None, None) => {
            report
                .notes
                .push("There is no office key, so nobody vouches for the devices.".to_owned());
            None
        }
    }
}

/// Checks every capture; the answer is the photos that one vouches for.
fn captures(
    folder: &Path,
    office: Option<&VerifyingKey>,
    report: &mut Report,
    sums: &BTreeMap<String, Sums>,
) -> BTreeSet<String> {
    let mut vouched = BTreeSet::new();
    for name in sums
        .keys()
        .filter(|name| name.starts_with("data/captures/"))
    {
        let file = text(folder, name)
            .ok()
            .and_then(|text| serde_json::from_str::<CaptureFile>(&text).ok());
        let Some(file) = file else {
            report.fail(name, "is not a signed capture");
            continue;
        };
        match check_capture(&file, office, sums) {
            Ok(Some(photo)) => {
                if !vouched.insert(photo.clone()) {
                    report.fail(&photo, "two captures vouch for it");
                }
            }
            Ok(None) => report
                .notes
                .push(format!("{name}: the original is not in the packet.")),
            Err(reason) => report.fail(name, reason),
        }
    }
    vouched
}

/// The photos that are copies of originals, as the packet lists them. What a copy was made from
/// stands in the list alone: the seal over the bag vouches for it.
fn copies(folder: &Path, report: &mut Report, sums: &BTreeMap<String, Sums>) -> BTreeSet<String> {
    let name = format!("data/{DERIVED}");
    if !sums.contains_key(&name) {
        return BTreeSet::new();
    }
    let listed = text(folder, &name).ok();
    let listed = listed.and_then(|text| serde_json::from_str::<Vec<Derived>>(&text).ok());
    let Some(listed) = listed else {
        report.fail(&name, "is not a list of copies");
        return BTreeSet::new();
    };
    let mut copies = BTreeSet::new();
    for copy in listed {
        let photo = format!("data/{}", copy.photo);
        match sums.get(&photo) {
            Some(is) if hex(&is.sha256) == copy.sha256 && hex(&is.blake3) == copy.blake3 => {
                copies.insert(photo);
            }
            Some(_) => report.fail(&photo, format!("is not the copy that {name} lists")),
            None => report.fail(
                &printable(&photo),
                format!("is missing, although {name} names it"),
            ),
        }
    }
    if !copies.is_empty() {
        report.notes.push(format!(
            "{} photos are copies without what the camera wrote into the originals, which the \
             office keeps; the seal vouches for them.",
            copies.len()
        ));
    }
    copies
}

fn check_capture(
    file: &CaptureFile,
    office: Option<&VerifyingKey>,
    sums: &BTreeMap<String, Sums>,
) -> Result<Option<String>, String> {
    let hexadecimal = |text: &str| unhex(text).ok_or("holds what are no hexadecimal digits");
    let signed = SignedCapture {
        body: hexadecimal(&file.body)?,
        signature: hexadecimal(&file.signature)?,
    };
    let certificate = file
        .certificate
        .as_ref()
        .ok_or("has no certificate of its device")?;
    let certificate = check_certificate(certificate, office)?;
    let key = certificate
        .verifying_key()
        .map_err(|_| "its certificate holds no key")?;
    let capture = signed
        .verify(&key)
        .map_err(|error| format!("was not signed by its device: {error}"))?;
    if capture.device != certificate.device {
        return Err("was signed by another device than it names".to_owned());
    }
    if ReadableCapture::of(&capture) != file.capture {
        return Err("reads otherwise than what was signed".to_owned());
    }
    let Some(photo) = &file.photo else {
        return Ok(None);
    };
    let path = format!("data/{photo}");
    let Some(sums) = sums.get(&path) else {
        return Err(format!("its photo {} is missing", printable(photo)));
    };
    if is_original(sums, &capture) {
        Ok(Some(path))
    } else {
        Err(format!(
            "{} is not the photo that was signed",
            printable(&path)
        ))
    }
}

fn check_certificate(
    file: &CertificateFile,
    office: Option<&VerifyingKey>,
) -> Result<Certificate, String> {
    let signed = SignedCertificate {
        body: unhex(&file.body).ok_or("its certificate cannot be read")?,
        signature: unhex(&file.signature).ok_or("its certificate cannot be read")?,
    };
    let certificate: Certificate = match office {
        Some(office) => signed
            .verify(office)
            .map_err(|error| format!("the office does not vouch for its device: {error}"))?,
        None => rmp_serde::from_slice(&signed.body)
            .map_err(|_| "its certificate cannot be read".to_owned())?,
    };
    let same = certificate.device.to_string() == file.device
        && certificate.person == file.person
        && certificate.device_name == file.device_name;
    if same {
        Ok(certificate)
    } else {
        Err("its certificate reads otherwise than what was signed".to_owned())
    }
}

fn check_custody(custody: &CustodyFile, office: Option<&VerifyingKey>, report: &mut Report) {
    let mut devices: BTreeMap<String, (VerifyingKey, String)> = BTreeMap::new();
    for file in &custody.certificates {
        let checked = check_certificate(file, office)
            .and_then(|c| Ok((c.verifying_key().map_err(|e| e.to_string())?, c)));
        match checked {
            Ok((key, certificate)) => {
                devices.insert(certificate.device.to_string(), (key, certificate.person));
            }
            Err(reason) => {
                report.fail(
                    CUSTODY,
                    format!("device {}: {reason}", printable(&file.device)),
                );
            }
        }
    }
    let mut covered = 0usize;
    for line in &custody.entries {
        let change = printable(&line.change);
        let Some((key, _)) = devices.get(&line.device) else {
            report.fail(
                CUSTODY,
                format!("change {change}: its device has no certificate"),
            );
            continue;
        };
        let Some(signature) = &line.signature else {
            covered += 1;
            continue;
        };
        let hash: Option<[u8; 32]> = unhex(&line.change).and_then(|b| b.try_into().ok());
        let signature: Option<[u8; 64]> = unhex(signature).and_then(|b| b.try_into().ok());
        let good = matches!((hash, signature), (Some(hash), Some(signature))
            if check_change_signature(key, &hash, &signature));
        if good {
            report.signatures += 1;
        } else {
            report.fail(
                CUSTODY,
                format!("change {change}: not signed by its device"),
            );
        }
    }
    if covered > 0 {
        report.notes.push(format!(
            "{covered} entries of custody carry no signature of their own; a later change of the \
             same author covers each."
        ));
    }
}

/// In the archive: the document holds exactly the changes that custody lists.
fn check_document(
    folder: &Path,
    sealed: Option<Held>,
    report: &mut Report,
    sums: &BTreeMap<String, Sums>,
) {
    const DOCUMENT: &str = "data/job.automerge";
    const CHANGES: &str = "data/changes.json";
    #[derive(serde::Deserialize)]
    struct Change {
        hash: String,
    }
    if !sums.contains_key(DOCUMENT) {
        return;
    }
    // An altered document is named already and is not loaded.
    if report
        .failures
        .iter()
        .any(|failure| failure.file == DOCUMENT)
    {
        return;
    }
    let size = sums.get(DOCUMENT).map_or(0, |sums| sums.size);
    if size > limits::SNAPSHOT_BYTES as u64 {
        report.fail(DOCUMENT, "is larger than any document");
        return;
    }
    let Some(held) = changes_of(&folder.join(DOCUMENT)) else {
        report.fail(DOCUMENT, "cannot be opened");
        return;
    };
    let is = Held::of(held.iter().map(String::as_str));
    if let Some(sealed) = sealed.filter(|sealed| *sealed != is) {
        report.fail(
            DOCUMENT,
            format!(
                "was rolled back or replaced: it was sealed with {} changes, it holds {} and not \
                 the same",
                sealed.changes, is.changes
            ),
        );
    }
    let listed = text(folder, CHANGES)
        .ok()
        .and_then(|text| serde_json::from_str::<Vec<Change>>(&text).ok());
    let Some(listed) = listed else {
        report.fail(CHANGES, "is not a list of changes");
        return;
    };
    let listed: BTreeSet<String> = listed.into_iter().map(|change| change.hash).keyed();
    if listed != held {
        report.fail(CHANGES, "does not list the changes that the document holds");
    }
}

/// The hashes of the changes in a document; `None` where it cannot be read, or makes its reader
/// fail.
fn changes_of(path: &Path) -> Option<BTreeSet<String>> {
    let bytes = std::fs::read(path).ok()?;
    let read = contained(|| {
        let document = Document::load(&bytes).ok()?;
        Some(
            document
                .history()
                .into_iter()
                .map(|deed| deed.change)
                .keyed(),
        )
    });
    read.ok().flatten()
}
