//! The bag itself: its files, its manifests, its counts.

use std::collections::{BTreeMap, BTreeSet};
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

use super::super::bag::{BAG_FILES, DECLARATION, Sums, in_tag_manifest};
use super::Report;
use crate::job::{hex, unhex};
use crate::limits;

/// Hashes every file and compares it with what the bag says.
pub(super) fn check(folder: &Path, report: &mut Report, sums: &mut BTreeMap<String, Sums>) {
    let mut found = BTreeSet::new();
    walk(folder, "", 0, report, &mut found);
    for name in BAG_FILES {
        if !found.contains(*name) {
            report.fail(name, "is missing");
        }
    }
    for name in &found {
        if !name.starts_with("data/") && !BAG_FILES.contains(&name.as_str()) {
            report.fail(name, "does not belong here: only payload and tag files do");
            continue;
        }
        match hash(&folder.join(name)) {
            Ok(hashes) => {
                sums.insert(name.clone(), hashes);
            }
            Err(error) => report.fail(name, format!("cannot be read: {error}")),
        }
    }
    declaration(folder, report);
    let payload = |name: &str| name.starts_with("data/");
    manifest(
        folder,
        "manifest-sha256.txt",
        payload,
        |s| s.sha256,
        report,
        sums,
    );
    manifest(folder, "blake3.txt", payload, |s| s.blake3, report, sums);
    manifest(
        folder,
        "tagmanifest-sha256.txt",
        in_tag_manifest,
        |s| s.sha256,
        report,
        sums,
    );
    oxum(folder, report, sums);
    report.files = sums.keys().filter(|name| payload(name)).count();
}

/// Every file below the folder; links and odd entries are failures and are not followed.
fn walk(
    folder: &Path,
    below: &str,
    depth: usize,
    report: &mut Report,
    found: &mut BTreeSet<String>,
) {
    let entries = match fs::read_dir(folder.join(below)) {
        Ok(entries) => entries,
        Err(error) => {
            let name = if below.is_empty() { "." } else { below };
            return report.fail(name, format!("cannot be read: {error}"));
        }
    };
    for entry in entries {
        let Ok(entry) = entry else {
            report.fail(below, "holds an entry that cannot be read");
            continue;
        };
        let file_name = entry.file_name().to_string_lossy().into_owned();
        let name = if below.is_empty() {
            file_name
        } else {
            format!("{below}/{file_name}")
        };
        let kind = entry.file_type();
        if found.len() >= limits::PACKET_FILES {
            return report.fail(&name, "comes after more files than a packet may hold");
        }
        match kind {
            Ok(kind) if kind.is_dir() && depth < limits::PACKET_DEPTH => {
                walk(folder, &name, depth + 1, report, found);
            }
            Ok(kind) if kind.is_file() => {
                found.insert(name);
            }
            _ => report.fail(&name, "is no plain file or lies too deep"),
        }
    }
}

fn hash(path: &Path) -> io::Result<Sums> {
    Sums::copying(&mut File::open(path)?, &mut io::sink())
}

fn declaration(folder: &Path, report: &mut Report) {
    match text(folder, "bagit.txt") {
        Ok(text) if text == DECLARATION => {}
        Ok(_) => report.fail(
            "bagit.txt",
            "does not declare a bag of version 1.0 in UTF-8",
        ),
        Err(_) => {}
    }
}

/// Each line names a file that is there with that hash, and each file has its line.
fn manifest(
    folder: &Path,
    name: &str,
    belongs: impl Fn(&str) -> bool,
    pick: impl Fn(&Sums) -> [u8; 32],
    report: &mut Report,
    sums: &BTreeMap<String, Sums>,
) {
    let Ok(text) = text(folder, name) else {
        if sums.contains_key(name) {
            report.fail(name, "cannot be read as text within the limit");
        }
        return;
    };
    let mut listed = BTreeSet::new();
    for line in text.lines() {
        let Some((sum, file)) = line.split_once("  ") else {
            report.fail(name, "holds a line that is no hash and name");
            continue;
        };
        if !belongs(file) || file.split('/').any(|part| part == "..") {
            report.fail(name, format!("names what it may not: {}", printable(file)));
            continue;
        }
        if !listed.insert(file.to_owned()) {
            report.fail(name, format!("names a file twice: {}", printable(file)));
        }
        match sums.get(file) {
            None => report.fail(file, format!("is missing, although {name} names it")),
            Some(sums) if unhex(sum).as_deref() != Some(&pick(sums)) => {
                let is = hex(&pick(sums));
                report.fail(
                    file,
                    format!(
                        "was altered: {name} says {}, it is {}",
                        short(sum),
                        short(&is)
                    ),
                );
            }
            Some(_) => {}
        }
    }
    for file in sums.keys().filter(|file| belongs(file)) {
        if !listed.contains(file) {
            report.fail(file, format!("was added: {name} does not name it"));
        }
    }
}

fn oxum(folder: &Path, report: &mut Report, sums: &BTreeMap<String, Sums>) {
    let Ok(text) = text(folder, "bag-info.txt") else {
        return;
    };
    let payload = sums.iter().filter(|(name, _)| name.starts_with("data/"));
    let (bytes, files) = payload.fold((0u64, 0u64), |(bytes, files), (_, s)| {
        (bytes.saturating_add(s.size), files + 1)
    });
    let said = text
        .lines()
        .find_map(|line| line.strip_prefix("Payload-Oxum: "));
    let is = format!("{bytes}.{files}");
    if said != Some(is.as_str()) {
        report.fail(
            "bag-info.txt",
            format!(
                "says that the payload is {}, it is {is}",
                printable(said.unwrap_or("nothing"))
            ),
        );
    }
}

/// A tag file or a small JSON file, under a limit.
pub(super) fn text(folder: &Path, name: &str) -> io::Result<String> {
    let file = File::open(folder.join(name))?;
    if file.metadata()?.len() > limits::PACKET_TEXT_BYTES {
        return Err(io::Error::new(
            io::ErrorKind::FileTooLarge,
            "it is larger than any packet's text",
        ));
    }
    let mut text = String::new();
    file.take(limits::PACKET_TEXT_BYTES)
        .read_to_string(&mut text)?;
    Ok(text)
}

fn short(sum: &str) -> String {
    printable(sum).chars().take(12).collect()
}

/// Text from a packet nobody vouches for: no control characters reach a terminal.
pub(super) fn printable(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).take(120).collect()
}
