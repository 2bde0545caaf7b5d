//! Reports worked out anew from the document of an archive, and what a page must hold in any bag.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use chrono::DateTime;
use ed25519_dalek::SigningKey;
use maud::html;
use serde_json::{Map, Value};

use super::super::bag::Sums;
use super::super::online::unsealed;
use super::super::photos::name_photos;
use super::super::write::SCOPE_INPUTS;
use super::super::{
    Choices, Custody, MemoryPhotos, PacketInput, PacketKind, Selection, page, report,
};
use super::Report;
use super::reports::rows;
use super::structure::{printable, text};
use crate::contain::contained;
use crate::document::Document;
use crate::job::{BlobKind, Job, RecordId, RecordRef};
use crate::limits;
use crate::sorted::Keyed;

const DOCUMENT: &str = "data/job.automerge";
const REPORT: &str = "data/report.json";
const PAGE: &str = "data/index.html";

/// Holds the report and the page of an archive against what its document says.
pub(super) fn check(
    folder: &Path,
    said: &Map<String, Value>,
    report: &mut Report,
    sums: &BTreeMap<String, Sums>,
) {
    check_page(folder, said, report, sums);
    let inputs = format!("data/{SCOPE_INPUTS}");
    // An altered document is named already; it is not worked with.
    let altered = report
        .failures
        .iter()
        .any(|failure| failure.file == DOCUMENT);
    let small = sums
        .get(DOCUMENT)
        .is_some_and(|sum| sum.size <= limits::PACKET_TEXT_BYTES);
    if altered || !small || !sums.contains_key(&inputs) {
        return;
    }
    let scope = text(folder, &inputs).ok();
    let Some(scope) = scope.and_then(|text| serde_json::from_str(&text).ok()) else {
        return report.fail(&inputs, "does not say what the scope was made with");
    };
    let choices = Choices {
        scope,
        ..Choices::default()
    };
    let worked = contained(|| {
        let document = Document::load(&std::fs::read(folder.join(DOCUMENT)).ok()?).ok()?;
        again(document.job(), &choices, said, sums)
    });
    let Ok(Some((json, html))) = worked else {
        return report.fail(DOCUMENT, "no report can be worked out from it");
    };
    let same = |name: &str, should: &str| text(folder, name).is_ok_and(|is| is == should);
    let words = [(REPORT, same(REPORT, &json)), (PAGE, same(PAGE, &html))];
    for (name, good) in words {
        if good {
            continue;
        }
        if made_by_this_version(folder) {
            report.fail(name, format!("says otherwise than {DOCUMENT}"));
        } else {
            report.notes.push(format!(
                "{name} is not what this version makes of {DOCUMENT}; another version wrote it, \
                 so the two cannot be compared."
            ));
        }
    }
}

/// The report as JSON and the page, as an archive of the job would have them.
fn again(
    job: &Job,
    choices: &Choices,
    said: &Map<String, Value>,
    sums: &BTreeMap<String, Sums>,
) -> Option<(String, String)> {
    let head = said.get("head")?.as_object()?;
    let made_at = DateTime::parse_from_rfc3339(head.get("made_at")?.as_str()?).ok()?;
    let photos = rows(said, "photos")?;
    let word = |photo: &Map<String, Value>, key: &str| Some(photo.get(key)?.as_str()?.to_owned());
    let here: BTreeSet<String> = photos
        .iter()
        .filter(|photo| word(photo, "file").is_some())
        .filter_map(|photo| word(photo, "blake3"))
        .keyed();
    let lacking: BTreeMap<String, String> = photos
        .iter()
        .filter_map(|photo| Some((word(photo, "name")?, word(photo, "lacking")?)))
        .keyed();
    let (custody, none) = (Custody::default(), MemoryPhotos::default());
    // The order of the walk is the report's own: whoever made the bag chose it.
    let records = photos.iter().filter_map(|photo| {
        let at: RecordRef = photo.get("record")?.as_str()?.parse().ok()?;
        Some(at.id)
    });
    let order: Vec<RecordId> = records.collect();
    let nobody = SigningKey::from_bytes(&[0; 32]);
    let input = PacketInput {
        order: &order,
        company: head.get("company")?.as_str()?,
        created_at: made_at.timestamp_millis(),
        ..unsealed(job, &custody, &none, choices, &nobody)
    };
    let selection = Selection::new(job, PacketKind::Archive, &order);
    let mut placed = name_photos(&selection, &|kind, hash| {
        kind == BlobKind::Thumbnail || here.contains(&hash.to_string())
    });
    for photo in &mut placed {
        let small = |path: &String| sums.contains_key(&format!("data/{path}"));
        photo.thumbnail = photo.thumbnail.take().filter(small);
        photo.lacking = lacking
            .get(&photo.stem)
            .and_then(|why| super::super::photos::why_lacking(why));
    }
    let list = selection.findings();
    let made = report::gather(&input, &selection, &list, &placed);
    let json = String::from_utf8(made.to_json().ok()?).ok()?;
    let html = page::page(&input, &selection, &list, &placed, &[]);
    Some((json, html.into_string()))
}

fn made_by_this_version(folder: &Path) -> bool {
    let agent = format!(
        "Bag-Software-Agent: chalkwalk {}\n",
        env!("CARGO_PKG_VERSION")
    );
    text(folder, "bag-info.txt").is_ok_and(|info| info.contains(&agent))
}

/// What any page must hold: the words of the report's entries, and ways to files that are there.
fn check_page(
    folder: &Path,
    said: &Map<String, Value>,
    report: &mut Report,
    sums: &BTreeMap<String, Sums>,
) {
    let Ok(page) = text(folder, PAGE) else {
        return report.fail(PAGE, "cannot be read as text within the limit");
    };
    let told: [(&str, &[&str]); 3] = [
        ("findings", &["text", "reason"]),
        ("sheet_lines", &["text"]),
        ("photos", &["caption"]),
    ];
    for (table, keys) in told {
        // The estimator's file tells the production sheet in its tables alone.
        if table == "sheet_lines" && said.contains_key("findings") {
            continue;
        }
        for row in rows(said, table).unwrap_or_default() {
            for words in keys.iter().filter_map(|key| row.get(*key)?.as_str()) {
                if !page.contains(&html! { (words) }.into_string()) {
                    let words = printable(words);
                    return report.fail(PAGE, format!("does not say \"{words}\", {REPORT} does"));
                }
            }
        }
    }
    for way in ways(&page) {
        let outside = way.starts_with('#') || sums.contains_key(&format!("data/{way}"));
        if !outside {
            let way = printable(way);
            return report.fail(PAGE, format!("leads to \"{way}\", which is not in the bag"));
        }
    }
    for photo in rows(said, "photos").unwrap_or_default() {
        if let Some(file) = photo.get("file").and_then(Value::as_str)
            && !page.contains(&format!("href=\"{file}\""))
        {
            let file = printable(file);
            return report.fail(PAGE, format!("does not show {file}, which {REPORT} names"));
        }
    }
}

/// What the page's links and pictures name.
fn ways(page: &str) -> impl Iterator<Item = &str> {
    let after = |mark: &'static str| page.split(mark).skip(1);
    let named = after(" href=\"").chain(after(" src=\""));
    named.filter_map(|rest| Some(rest.split_once('"')?.0))
}
