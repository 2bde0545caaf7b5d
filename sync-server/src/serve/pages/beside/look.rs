//! A file of theirs as it reads with the columns that a person names.

use std::time::Duration;

use axum::response::Response;
use chalkwalk_core::job::{Job, unhex};
use chalkwalk_core::review::compare::columns::{Columns, Meaning};
use chalkwalk_core::review::compare::table::{Table, read_table};
use chalkwalk_core::review::compare::{TheirScope, read_rows};
use serde_json::{Map, Value};
use tokio::sync::OwnedSemaphorePermit;

use super::super::at_job::AtJob;
use super::super::fields::Fields;
use super::super::{nothing_here, store_unwell};
use crate::limits;
use crate::papers::Paper;
use crate::serve::Shared;

/// What a file reads as.
pub(super) struct Look {
    pub(super) table: Table,
    pub(super) columns: Columns,
    /// The rows, or what is still to be said.
    pub(super) rows: Result<TheirScope, String>,
    /// What of the wishes could not be followed.
    pub(super) trouble: Option<String>,
}

/// Waits for a turn to read a table.
///
/// # Errors
/// Words that say that others are at it.
pub(super) async fn turn(shared: &Shared) -> Result<OwnedSemaphorePermit, &'static str> {
    let wait = Duration::from_millis(limits::TABLE_WAIT_MS);
    let turns = shared.house.tables.clone();
    match tokio::time::timeout(wait, turns.acquire_owned()).await {
        Ok(Ok(turn)) => Ok(turn),
        _ => Err("Other files are being read just now: try again in a moment."),
    }
}

/// The bytes of the file that an address names.
///
/// # Errors
/// The whole answer where it is not here.
pub(super) async fn bytes(at: &AtJob, asked: &Fields) -> Result<Vec<u8>, Response> {
    let hash = unhex(asked.get("file")).and_then(|hash| <[u8; 32]>::try_from(hash).ok());
    let hash = hash.ok_or_else(|| nothing_here(&at.shared))?;
    match at.shared.papers.read(Paper::Theirs(hash)).await {
        Ok(Some(bytes)) => Ok(bytes),
        Ok(None) => Err(nothing_here(&at.shared)),
        Err(error) => Err(store_unwell(&at.shared, &error)),
    }
}

/// Reads a file as the fields say.
///
/// # Errors
/// In words: it is no table.
pub(super) fn look(job: &Job, bytes: &[u8], asked: &Fields) -> Result<Look, String> {
    let table = read_table(bytes, sheet(asked)).map_err(|error| sentence(&error.to_string()))?;
    let guessed = match Columns::earlier(&table, job) {
        Some((_, columns)) => columns,
        None => Columns::guess(&table),
    };
    let (columns, trouble) = match mapping(asked) {
        None => (guessed, None),
        Some(mapping) => match guessed.clone().with_mapping(&table, &mapping) {
            Ok(columns) => (columns, None),
            Err(error) => (guessed, Some(plain(&error.to_string()))),
        },
    };
    let rows = read_rows(&table, &columns).map_err(|error| plain(&error.to_string()));
    Ok(Look {
        table,
        columns,
        rows,
        trouble,
    })
}

/// The sheet that is asked for.
pub(super) fn sheet(asked: &Fields) -> Option<&str> {
    Some(asked.get("sheet")).filter(|sheet| !sheet.is_empty())
}

/// What a person says of the columns, as the core reads it; `None` where nothing was said. Where
/// another sheet or head is chosen, its columns are guessed anew.
pub(super) fn mapping(asked: &Fields) -> Option<String> {
    if asked.get("said").is_empty() {
        return None;
    }
    let moved = |name: &str| asked.get(name) != asked.get(&format!("was-{name}"));
    if moved("sheet") {
        return None;
    }
    let mut said = Map::new();
    if !asked.get("head").is_empty() {
        let line = asked.get("head").parse::<u32>().ok();
        said.insert(
            "head_line".to_owned(),
            line.map_or(Value::Null, Value::from),
        );
    }
    if !moved("head") {
        for meaning in Meaning::ALL {
            let at = asked.get(meaning.code()).parse::<u32>().ok();
            said.insert(
                meaning.code().to_owned(),
                at.map_or(Value::Null, Value::from),
            );
        }
    }
    Some(Value::Object(said).to_string())
}

/// The words of an error about columns, for somebody at a form.
fn plain(words: &str) -> String {
    let told = words
        .split(": name it in a mapping")
        .next()
        .unwrap_or(words);
    if told.len() < words.len() {
        return format!("{} Choose it below.", sentence(told));
    }
    sentence(words)
}

/// An error's words as a sentence of a page.
pub(super) fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    let end = if words.ends_with('.') { "" } else { "." };
    format!("{}{}{end}", first.unwrap_or_default(), letters.as_str())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(pairs: &[(&str, &str)]) -> Fields {
        let pairs = pairs
            .iter()
            .map(|(n, v)| ((*n).to_owned(), (*v).to_owned()));
        Fields::of(axum::extract::Form(pairs.collect()))
    }

    fn empty_job() -> Job {
        chalkwalk_core::document::Document::new()
            .unwrap()
            .job()
            .clone()
    }

    const ODD: &[u8] = b"A,B,C\nGutter,30,LF\nPipe boot,2,EA\n";

    #[test]
    fn columns_that_are_not_recognised_are_asked_for_and_then_read() {
        let job = empty_job();
        let first = look(&job, ODD, &asked(&[])).unwrap();
        let mut said = vec![("said", "yes"), ("head", "1"), ("was-head", "1")];
        said.extend([("item", "1"), ("quantity", "2"), ("unit", "3")]);
        let then = look(&job, ODD, &asked(&said)).unwrap();
        assert_eq!(then.rows.unwrap().rows.len(), 2);
        assert_eq!(first.table.rows.len(), 3);
        // One column for two meanings is no mapping.
        said.retain(|(name, _)| *name != "unit");
        said.push(("unit", "2"));
        let twice = look(&job, ODD, &asked(&said)).unwrap();
        assert!(twice.trouble.unwrap().contains("named twice"));
    }

    #[test]
    fn what_is_lacking_is_said_without_talk_of_mappings() {
        let job = empty_job();
        let said = [
            ("said", "yes"),
            ("head", "1"),
            ("was-head", "1"),
            ("item", "1"),
        ];
        let words = look(&job, ODD, &asked(&said)).unwrap().rows.unwrap_err();
        assert!(
            words.ends_with("Choose it below.") && !words.contains("mapping"),
            "{words}"
        );
    }
}
