//! A file of actions: how a script, a form or an app without the library records.
//!
//! The file is a JSON list. Each entry is one action as `document::Action` names it, or a photo:
//! `{"photo": {"id": "p1", "file": "a.jpg", "role": "standoff", "shows": ["finding/dents"]}}`.
//! Ids may be names of the file's own (`dents`, `slope/main-front`): each becomes an id that is
//! fixed for this device, job and name, so that a later file may use the same names.

use std::path::Path;

use chalkwalk_core::document::Action;
use chalkwalk_core::job::{DeviceId, JobId, Kind, RecordId, RecordRef, Side};
use chalkwalk_core::notebook::{Notebook, PhotoNote};
use serde::Deserialize;
use serde_json::{Value, json};

use super::args::RecordArgs;
use super::jobs::{close, open, read_json};
use super::output::{Failure, Output};

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct PhotoEntry {
    #[serde(default)]
    id: Option<RecordId>,
    file: std::path::PathBuf,
    #[serde(flatten)]
    note: PhotoNote,
}

pub(super) fn run(dir: &Path, args: &RecordArgs, out: Output) -> Result<(), Failure> {
    let entries: Vec<Value> = read_json(&args.file)?;
    let folder = args.file.parent().unwrap_or(Path::new("."));
    let mut notebook = open(dir)?;
    let bar = out.bar(entries.len() as u64, "recording");
    let mut done = Vec::new();
    let mut problem = None;
    for (i, entry) in entries.into_iter().enumerate() {
        match entry_of(&mut notebook, args.job, entry, folder) {
            Ok(record) => done.push(record),
            Err(failure) => {
                // What stands before the mistake is recorded and stays.
                let words = format!(
                    "entry {} was not recorded: {}. The {} before it are recorded.",
                    i + 1,
                    failure.words,
                    done.len()
                );
                problem = Some(Failure::new(words));
                break;
            }
        }
        bar.inc(1);
    }
    bar.finish_and_clear();
    close(notebook)?;
    match problem {
        Some(failure) => Err(failure),
        None => out.give(&json!({ "recorded": done }), || match done.len() {
            1 => "1 entry recorded".to_owned(),
            count => format!("{count} entries recorded"),
        }),
    }
}

/// Records one entry.
pub(super) fn entry_of(
    notebook: &mut Notebook,
    job: JobId,
    mut entry: Value,
    folder: &Path,
) -> Result<RecordRef, Failure> {
    let device = notebook.identity().device;
    resolve_names(&mut entry, device, job);
    if let Some(photo) = entry.get("photo") {
        let photo: PhotoEntry = serde_json::from_value(photo.clone())?;
        let added = notebook.add_photo_as(job, photo.id, &folder.join(&photo.file), photo.note)?;
        return Ok(added.record);
    }
    let action: Action = serde_json::from_value(entry)?;
    Ok(notebook.act(job, &action)?.record)
}

/// The id that a name of a file stands for, on one device and in one job.
pub(super) fn named_id(device: DeviceId, job: JobId, name: &str) -> RecordId {
    let mut hasher = blake3::Hasher::new();
    hasher.update(device.as_bytes());
    hasher.update(job.as_bytes());
    hasher.update(name.as_bytes());
    let mut random = [0; 10];
    random.copy_from_slice(&hasher.finalize().as_bytes()[..10]);
    let mut time = [0; 8];
    time[2..].copy_from_slice(&job.as_bytes()[..6]);
    RecordId::new(i64::from_be_bytes(time), random)
}

/// Replaces names by ids: the values of `id` and `photo`, and whatever is written `kind/name`.
fn resolve_names(value: &mut Value, device: DeviceId, job: JobId) {
    match value {
        Value::Object(map) => {
            for (key, inner) in map.iter_mut() {
                match inner {
                    Value::String(text) if matches!(key.as_str(), "id" | "photo") => {
                        if let Some((kind, name)) = text.split_once('/') {
                            *text = format!("{kind}/{}", resolved(name, device, job));
                        } else {
                            *text = resolved(text, device, job);
                        }
                    }
                    Value::String(text) if !matches!(key.as_str(), "text" | "file") => {
                        if let Some((kind, name)) = text.split_once('/')
                            && Kind::from_code(kind).is_some()
                        {
                            *text = format!("{kind}/{}", resolved(name, device, job));
                        }
                    }
                    _ => resolve_names(inner, device, job),
                }
            }
        }
        Value::Array(list) => {
            for inner in list {
                if let Value::String(text) = inner {
                    if let Some((kind, name)) = text.split_once('/')
                        && Kind::from_code(kind).is_some()
                    {
                        *text = format!("{kind}/{}", resolved(name, device, job));
                    }
                } else {
                    resolve_names(inner, device, job);
                }
            }
        }
        _ => {}
    }
}

fn resolved(name: &str, device: DeviceId, job: JobId) -> String {
    let fixed = name == "house" || Side::from_code(name).is_some();
    if fixed || name.parse::<JobId>().is_ok() {
        name.to_owned()
    } else {
        named_id(device, job, name).to_string()
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn names_become_ids_and_fixed_words_stay() {
        let (device, job) = (DeviceId::from_bytes([1; 16]), JobId::from_bytes([2; 16]));
        let mut entry = json!({"add": {"id": "dents", "record": {"finding": {
            "place": "elevation/front", "text": "finding/dents stays", "component": "gutter"
        }}, "shows": ["finding/dents", "slope/main"]}});
        resolve_names(&mut entry, device, job);
        let dents = named_id(device, job, "dents").to_string();
        assert_eq!(entry["add"]["id"], json!(dents));
        assert_eq!(entry["add"]["shows"][0], json!(format!("finding/{dents}")));
        let finding = &entry["add"]["record"]["finding"];
        assert_eq!(finding["place"], "elevation/front");
        assert_eq!(finding["text"], "finding/dents stays");
        let other = named_id(DeviceId::from_bytes([3; 16]), job, "dents").to_string();
        assert_ne!(dents, other, "two devices would write the same record");
    }
}
