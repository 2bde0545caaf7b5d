//! Every record in words, for the archive: what the document holds, for readers without a program
//! that reads it.

use serde::Serialize;

use super::when::utc;
use crate::job::{Job, Kind, RecordRef};
use crate::sorted::Keyed;

#[derive(Serialize)]
struct RecordInWords {
    record: String,
    kind: &'static str,
    by: String,
    at: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    struck: Option<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    shows: Vec<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    unread: Vec<String>,
    #[serde(skip_serializing_if = "Vec::is_empty")]
    unsettled: Vec<String>,
    fields: std::collections::BTreeMap<&'static str, String>,
}

/// `records.json`.
pub(super) fn records_in_words(job: &Job) -> Result<Vec<u8>, serde_json::Error> {
    let records: Vec<RecordInWords> = job
        .records
        .headers()
        .map(|(at, header)| RecordInWords {
            kind: at.kind.label(),
            by: job.who(header.made.device),
            at: utc(header.made.at),
            struck: header.struck.map(|struck| struck.reason.clone()),
            shows: shows(job, &at),
            unread: header.unread.to_vec(),
            unsettled: header.conflicts.iter().map(|c| c.field.clone()).collect(),
            fields: at
                .kind
                .keys()
                .iter()
                .filter_map(|key| Some((*key, job.records.words(&at, key)?)))
                .keyed(),
            record: at.to_string(),
        })
        .collect();
    let mut bytes = serde_json::to_vec_pretty(&records)?;
    bytes.push(b'\n');
    Ok(bytes)
}

fn shows(job: &Job, at: &RecordRef) -> Vec<String> {
    if at.kind != Kind::Photo {
        return Vec::new();
    }
    let photo = job.records.photos.get(&at.id);
    photo.map_or_else(Vec::new, |photo| {
        photo.shows.iter().map(ToString::to_string).collect()
    })
}
