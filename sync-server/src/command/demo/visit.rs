//! The invented visit: what is recorded when, read from the fixtures.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};

use chalkwalk_core::env::Env;
use chalkwalk_core::job::{JobId, Millis, Property, RecordId};
use chalkwalk_core::notebook::Notebook;
use chrono::DateTime;
use serde_json::Value;

use super::super::jobs::read_json;
use super::super::output::Failure;
use super::super::record;
use crate::env::SystemEnv;

/// The clocks of the visit, one for each device: each shows the time at which its person does the
/// next thing, so that two who record at once do not move each other's hands.
#[derive(Clone, Debug, Default)]
pub(super) struct Clock(Arc<AtomicI64>);

impl Env for Clock {
    fn now(&mut self) -> Millis {
        self.0.fetch_add(1, Ordering::Relaxed)
    }

    fn random(&mut self, buffer: &mut [u8]) {
        SystemEnv.random(buffer);
    }
}

/// Names that a file of actions gave to records, and their ids.
pub(super) type Names = Vec<(String, RecordId)>;

pub(super) struct Visit {
    fixtures: PathBuf,
    pub(super) clock: Clocks,
}

/// A clock for each device, by its name.
#[derive(Debug, Default)]
pub(super) struct Clocks(std::sync::Mutex<BTreeMap<String, Clock>>);

impl Clocks {
    pub(super) fn of(&self, device: &str) -> Clock {
        let mut clocks = self
            .0
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        clocks.entry(device.to_owned()).or_default().clone()
    }

    fn set_all(&self, time: Millis) {
        let clocks = self
            .0
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        for clock in clocks.values() {
            clock.0.fetch_max(time, Ordering::Relaxed);
        }
    }
}

impl Visit {
    pub(super) fn read(folder: Option<&Path>) -> Result<Self, Failure> {
        let beside = Path::new(env!("CARGO_MANIFEST_DIR")).join("../fixtures");
        let fixtures = folder.map_or(beside, Path::to_owned);
        if !fixtures.join("visit/rep.json").is_file() {
            return Err(Failure::new(format!(
                "the invented house is not in {}: name its folder with --fixtures",
                fixtures.display()
            )));
        }
        Ok(Self {
            fixtures,
            clock: Clocks::default(),
        })
    }

    pub(super) fn fixtures(&self) -> &Path {
        &self.fixtures
    }

    pub(super) fn property(&self) -> Result<Property, Failure> {
        read_json(&self.fixtures.join("visit/property.json"))
    }

    /// The evening before: 2026-04-27 17:00 at the house's offset.
    pub(super) fn at_the_office(&self) {
        self.clock.set_all(1_777_327_200_000);
    }

    /// When both have done their part.
    pub(super) fn later(&self) {
        let end = ["rep.json", "helper.json"]
            .iter()
            .filter_map(|file| self.entries(file).ok()?.last().and_then(time_of))
            .max();
        if let Some(end) = end {
            self.clock.set_all(end + 60_000);
        }
    }

    fn entries(&self, file: &str) -> Result<Vec<Value>, Failure> {
        read_json(&self.fixtures.join("visit").join(file))
    }

    /// Records a file of actions, each at its time. `known` are names of records that exist.
    pub(super) fn record(
        &self,
        notebook: &mut Notebook,
        job: JobId,
        file: &str,
        known: &[(String, RecordId)],
    ) -> Result<Names, Failure> {
        let clock = self.clock.of(&notebook.identity().device_name.clone());
        let photos = self.fixtures.join("photos");
        let mut names: Names = known.to_vec();
        for (i, mut entry) in self.entries(file)?.into_iter().enumerate() {
            if let Some(time) = time_of(&entry) {
                clock.0.fetch_max(time, Ordering::Relaxed);
            }
            if let Some(map) = entry.as_object_mut() {
                map.remove("at");
            }
            let name = name_of(&entry);
            replace(&mut entry, &names);
            let at = record::entry_of(notebook, job, entry, &photos).map_err(|failure| {
                Failure::new(format!("{file}, entry {}: {}", i + 1, failure.words))
            })?;
            if let Some(name) = name {
                names.push((name, at.id));
            }
        }
        Ok(names)
    }
}

fn time_of(entry: &Value) -> Option<Millis> {
    let text = entry.get("at")?.as_str()?;
    Some(DateTime::parse_from_rfc3339(text).ok()?.timestamp_millis())
}

fn name_of(entry: &Value) -> Option<String> {
    let id = entry.get("add").or_else(|| entry.get("photo"))?.get("id")?;
    Some(id.as_str()?.to_owned())
}

/// Puts the ids of known records where their names stand.
fn replace(value: &mut Value, names: &[(String, RecordId)]) {
    match value {
        Value::String(text) => {
            let (head, name) = match text.split_once('/') {
                Some((kind, name)) => (Some(kind.to_owned()), name.to_owned()),
                None => (None, text.clone()),
            };
            if let Some((_, id)) = names.iter().find(|(known, _)| *known == name) {
                *text = head.map_or_else(|| id.to_string(), |head| format!("{head}/{id}"));
            }
        }
        Value::Array(list) => list.iter_mut().for_each(|inner| replace(inner, names)),
        Value::Object(map) => {
            for (key, inner) in map.iter_mut() {
                let pointer = matches!(
                    key.as_str(),
                    "id" | "place" | "slope" | "about" | "shows" | "at" | "visit" | "other_slope"
                );
                if pointer || inner.is_object() {
                    replace(inner, names);
                }
            }
        }
        _ => {}
    }
}
