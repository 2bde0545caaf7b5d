//! A person's word on the columns, and the mapping of an earlier file.

use std::collections::BTreeMap;

use serde_json::Value;

use super::head::fingerprint;
use super::meaning::Meaning;
use super::{Columns, MappedBy};
use crate::job::{Job, Kind, RecordRef};
use crate::limits::{SCOPE_HEAD_ROWS, TEXT_BYTES};
use crate::review::compare::table::Table;
use crate::sorted::Sorted;

/// The key of a mapping that names the line of the head.
const HEAD_LINE: &str = "head_line";

/// A mapping that cannot be used; the text says what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum MappingError {
    /// Not an object of JSON.
    #[error(
        "the mapping is not read: write for example {{\"item\": \"Description\", \"quantity\": 3, \"place\": null}}"
    )]
    Shape,
    /// A key that is no meaning.
    #[error(
        "\"{0}\" is not a meaning of a column: write item, quantity, unit, place, action, unit_price, total or remarks, or head_line"
    )]
    Meaning(String),
    /// No such line.
    #[error("there is no filled line {0}: name the line of the file that names the columns")]
    HeadLine(String),
    /// No such column.
    #[error("there is no column {0}: its titles are {1}")]
    Column(String, String),
    /// Two meanings for one column.
    #[error("column {0} is named twice: give it one meaning")]
    Twice(u32),
    /// The column is needed and not known.
    #[error("no column for {0} is known: name it in a mapping, for example {{\"{1}\": 2}}")]
    Lacking(&'static str, &'static str),
}

impl Columns {
    /// Applies a person's mapping: an object of JSON from a meaning's code to a column, by its
    /// number (1 for the leftmost) or its title, or to `null` for none. What it does not name
    /// stays as it was. `"head_line"` names the line of the head where it was not found, or `null`
    /// where the file has none; the columns are then read anew below it.
    ///
    /// # Errors
    /// Where it is not such an object, or names a line or column that is not there, or one twice.
    pub fn with_mapping(mut self, table: &Table, mapping: &str) -> Result<Self, MappingError> {
        if mapping.len() > TEXT_BYTES {
            return Err(MappingError::Shape);
        }
        let Ok(Value::Object(mut stated)) = serde_json::from_str(mapping) else {
            return Err(MappingError::Shape);
        };
        if let Some(line) = stated.remove(HEAD_LINE) {
            let at = row_at(table, &line)?;
            self = Self::guess_below(table, at);
        }
        let mut set: Vec<(Meaning, Option<usize>)> = Vec::new();
        for (code, at) in &stated {
            let meaning =
                Meaning::from_code(code).ok_or_else(|| MappingError::Meaning(short(code)))?;
            let at = self.column_named(at)?;
            if at.is_some() && set.iter().any(|(_, other)| *other == at) {
                return Err(MappingError::Twice(number(at)));
            }
            set.push((meaning, at));
        }
        for (meaning, at) in set {
            for (index, column) in self.columns.iter_mut().enumerate() {
                let chosen = at == Some(index);
                if column.meaning == Some(meaning) && !chosen {
                    column.meaning = None;
                    column.rate(0);
                    "not used".clone_into(&mut column.why);
                }
                if chosen {
                    column.meaning = Some(meaning);
                    column.rate(100);
                    "a person said so".clone_into(&mut column.why);
                }
            }
        }
        self.by = MappedBy::Person;
        self.notes.clear();
        self.note_what_is_lacking();
        Ok(self)
    }

    fn column_named(&self, at: &Value) -> Result<Option<usize>, MappingError> {
        let lacking = |named: String| {
            let titles: Vec<String> = self
                .columns
                .iter()
                .map(|column| format!("{} \"{}\"", column.number, short(&column.title)))
                .collect();
            MappingError::Column(named, titles.join(", "))
        };
        match at {
            Value::Null => Ok(None),
            Value::Number(number) => number
                .as_u64()
                .and_then(|number| usize::try_from(number).ok()?.checked_sub(1))
                .filter(|at| *at < self.columns.len())
                .map(Some)
                .ok_or_else(|| lacking(number.to_string())),
            Value::String(title) => {
                let wanted = title.trim().to_lowercase();
                self.columns
                    .iter()
                    .position(|column| column.title.trim().to_lowercase() == wanted)
                    .map(Some)
                    .ok_or_else(|| lacking(format!("\"{}\"", short(title))))
            }
            _ => Err(MappingError::Shape),
        }
    }

    /// The columns of a file as the latest earlier scope of another in this job has them whose
    /// file has the same head, and that scope. Records that were struck count too: the file may
    /// have been wrong, its head was not.
    pub fn earlier(table: &Table, job: &Job) -> Option<(RecordRef, Self)> {
        let mut heads: BTreeMap<String, usize> = BTreeMap::new();
        for (at, row) in table.rows.iter().take(SCOPE_HEAD_ROWS).enumerate() {
            heads.entry(fingerprint(&row.cells)).or_insert(at);
        }
        let mut found: Vec<_> = job
            .records
            .other_scopes
            .iter()
            .filter_map(|(id, record)| {
                let columns: Columns = serde_json::from_str(record.columns.as_deref()?).ok()?;
                let at = *heads.get(&columns.fingerprint)?;
                Some((record.made, id, at, columns))
            })
            .collect();
        found.order_by(|a, b| (a.0.at, a.0.device, a.1).cmp(&(b.0.at, b.0.device, b.1)));
        let (_, id, at, earlier) = found.pop()?;
        let columns = Self::guess_below(table, Some(at)).with_meanings_of(&earlier);
        Some((RecordRef::new(Kind::OtherScope, id.clone()), columns))
    }

    fn with_meanings_of(mut self, earlier: &Columns) -> Self {
        for column in &mut self.columns {
            let before = earlier
                .columns
                .iter()
                .find(|other| other.number == column.number);
            column.meaning = before.and_then(|before| before.meaning);
            column.rate(before.map_or(0, |before| before.score));
            column.why = match column.meaning {
                Some(_) => "as in an earlier file with the same head".to_owned(),
                None => "not used".to_owned(),
            };
        }
        self.by = MappedBy::Earlier;
        self.notes.clear();
        self.note_what_is_lacking();
        self
    }

    /// The index of a column that reading cannot do without.
    pub(in crate::review::compare) fn needed(
        &self,
        meaning: Meaning,
    ) -> Result<usize, MappingError> {
        self.index(meaning)
            .ok_or(MappingError::Lacking(meaning.label(), meaning.code()))
    }
}

/// The index of the row at a line; `None` for `null`.
fn row_at(table: &Table, line: &Value) -> Result<Option<usize>, MappingError> {
    if line.is_null() {
        return Ok(None);
    }
    let at = line.as_u64().and_then(|line| {
        table
            .rows
            .iter()
            .position(|row| u64::from(row.line) == line)
    });
    at.map(Some)
        .ok_or_else(|| MappingError::HeadLine(short(&line.to_string())))
}

fn short(text: &str) -> String {
    text.chars().take(40).collect()
}

fn number(at: Option<usize>) -> u32 {
    at.and_then(|at| u32::try_from(at + 1).ok())
        .unwrap_or(u32::MAX)
}
