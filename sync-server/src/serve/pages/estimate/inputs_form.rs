//! What an estimator sets for a scope, as a form: read from what was typed, and shown again.

use std::collections::{BTreeMap, BTreeSet};
use std::str::FromStr;

use chalkwalk_core::job::{Job, Length, Pitch, RecordId};
use chalkwalk_core::review::scope::ScopeInputs;

use super::super::fields::Fields;
use crate::limits;

/// What is wrong with fields: name and words, in the order of the form.
pub(super) type Wrong = Vec<(&'static str, String)>;

/// The standing slopes with their names, in the order of the record.
pub(super) fn slopes(job: &Job) -> Vec<(RecordId, String)> {
    let slopes = job.records.slopes.iter();
    slopes
        .filter(|(_, slope)| slope.stands())
        .map(|(id, _)| {
            let place =
                chalkwalk_core::job::RecordRef::new(chalkwalk_core::job::Kind::Slope, id.clone());
            (id.clone(), job.place_name(&place))
        })
        .collect()
}

/// Reads a form.
///
/// # Errors
/// Every field that is wrong, with what to do.
pub(super) fn read(fields: &Fields, job: &Job) -> Result<ScopeInputs, Wrong> {
    let mut wrong = Wrong::new();
    let mut inputs = ScopeInputs::default();
    let percent = "Write a percentage from 0 to 100, such as 12, or leave it open.";
    inputs.waste_percent = optional(fields.get("waste"), percent_of)
        .unwrap_or_else(|()| note(&mut wrong, "waste", percent));
    inputs.replace_from_hits = optional(fields.get("hits"), |text| {
        text.parse().ok().filter(|hits| (1..=1_000).contains(hits))
    })
    .unwrap_or_else(|()| {
        let words = "Write the hits in a test square as a whole number, or leave it open.";
        note(&mut wrong, "hits", words)
    });
    let defaults = ScopeInputs::default();
    inputs.steep_from = or_default(fields.get("steep"), defaults.steep_from, |text| {
        Pitch::from_str(text).ok()
    })
    .unwrap_or_else(|()| {
        note::<()>(
            &mut wrong,
            "steep",
            "Write the pitch as rise in twelve: 7/12.",
        );
        defaults.steep_from
    });
    inputs.high_from_storeys =
        or_default(fields.get("storeys"), defaults.high_from_storeys, |text| {
            text.parse()
                .ok()
                .filter(|storeys| (1..=20).contains(storeys))
        })
        .unwrap_or_else(|()| {
            note::<()>(
                &mut wrong,
                "storeys",
                "Write the storeys as a whole number from 1.",
            );
            defaults.high_from_storeys
        });
    inputs.widest_gap = or_default(fields.get("gap"), defaults.widest_gap, |text| {
        Length::from_str(text).ok()
    })
    .unwrap_or_else(|()| {
        note::<()>(
            &mut wrong,
            "gap",
            "Write the gap in inches: 3/8\" or 1/4\".",
        );
        defaults.widest_gap
    });
    inputs.gap_rule = text(fields, "rule", &mut wrong).unwrap_or(defaults.gap_rule);
    inputs.code_edition = text(fields, "edition", &mut wrong);
    inputs.starter_at_rakes = fields.ticked("rakes");
    read_slopes(fields, job, &mut inputs, &mut wrong);
    if wrong.is_empty() {
        Ok(inputs)
    } else {
        Err(wrong)
    }
}

fn read_slopes(fields: &Fields, job: &Job, inputs: &mut ScopeInputs, wrong: &mut Wrong) {
    let known = slopes(job);
    let mut groups: BTreeMap<&str, BTreeSet<RecordId>> = BTreeMap::new();
    let rows = fields
        .all("slope")
        .zip(fields.all("waste_of"))
        .zip(fields.all("roof"));
    for ((slope, waste), roof) in rows {
        let Some((id, _)) = known.iter().find(|(id, _)| id.as_str() == slope) else {
            continue;
        };
        match optional(waste, percent_of) {
            Ok(Some(percent)) => {
                inputs.waste_percent_of.insert(id.clone(), percent);
            }
            Ok(None) => {}
            Err(()) => {
                note::<()>(
                    wrong,
                    "waste_of",
                    "Write each slope's waste from 0 to 100, or leave it open.",
                );
            }
        }
        if !roof.is_empty() {
            groups.entry(roof).or_default().insert(id.clone());
        }
    }
    inputs.one_roof = groups
        .into_values()
        .filter(|group| group.len() > 1)
        .collect();
}

/// The group of each slope as a letter, as the form shows it.
pub(super) fn letter(inputs: &ScopeInputs, slope: &RecordId) -> &'static str {
    let at = inputs
        .one_roof
        .iter()
        .position(|group| group.contains(slope));
    at.and_then(|at| LETTERS.get(at)).copied().unwrap_or("")
}

/// Roofs that slopes can be put together to.
pub(super) const LETTERS: &[&str] = &["A", "B", "C", "D", "E", "F", "G", "H"];

fn percent_of(text: &str) -> Option<f64> {
    let text = text.trim_end_matches('%').trim_end();
    let percent = text.parse::<f64>().ok()?;
    (0.0..=100.0).contains(&percent).then_some(percent)
}

/// `None` for an empty field, an error for one that does not read.
fn optional<T>(text: &str, read: impl FnOnce(&str) -> Option<T>) -> Result<Option<T>, ()> {
    match text {
        "" => Ok(None),
        text => read(text).map(Some).ok_or(()),
    }
}

fn or_default<T>(text: &str, default: T, read: impl FnOnce(&str) -> Option<T>) -> Result<T, ()> {
    Ok(optional(text, read)?.unwrap_or(default))
}

fn text(fields: &Fields, name: &'static str, wrong: &mut Wrong) -> Option<String> {
    let text = fields.get(name);
    if text.len() > limits::NAME_BYTES {
        note::<()>(wrong, name, "Write it shorter.");
    }
    (!text.is_empty()).then(|| text.to_owned())
}

fn note<T>(wrong: &mut Wrong, name: &'static str, words: &str) -> Option<T> {
    wrong.push((name, words.to_owned()));
    None
}

#[cfg(test)]
mod tests {
    use axum::extract::Form;

    use super::*;

    fn typed(pairs: &[(&str, &str)]) -> Fields {
        let pairs = pairs
            .iter()
            .map(|(n, v)| ((*n).to_owned(), (*v).to_owned()));
        Fields::of(Form(pairs.collect()))
    }

    fn empty_job() -> Job {
        chalkwalk_core::document::Document::new()
            .unwrap()
            .job()
            .clone()
    }

    #[test]
    fn an_empty_form_is_what_stands_when_nothing_is_set() {
        let job = empty_job();
        assert_eq!(read(&typed(&[]), &job), Ok(ScopeInputs::default()));
    }

    #[test]
    fn what_is_typed_is_read_and_what_is_wrong_is_named() {
        let job = empty_job();
        let good = [
            ("waste", "12.5 %"),
            ("hits", "8"),
            ("steep", "8/12"),
            ("storeys", "3"),
            ("gap", "1/4\""),
            ("rule", "the town's"),
            ("edition", "IRC 2021"),
            ("rakes", "yes"),
        ];
        let inputs = read(&typed(&good), &job).unwrap();
        assert_eq!(inputs.waste_percent, Some(12.5));
        assert_eq!(
            (inputs.replace_from_hits, inputs.high_from_storeys),
            (Some(8), 3)
        );
        assert_eq!(inputs.steep_from.to_string(), "8/12");
        assert_eq!(inputs.widest_gap.to_string(), "1/4\"");
        assert!(inputs.starter_at_rakes);
        let bad = [
            ("waste", "101"),
            ("hits", "-1"),
            ("steep", "flat"),
            ("storeys", "two"),
            ("gap", "narrow"),
        ];
        let wrong: Vec<&str> = read(&typed(&bad), &job)
            .unwrap_err()
            .iter()
            .map(|(n, _)| *n)
            .collect();
        assert_eq!(wrong, ["waste", "hits", "steep", "storeys", "gap"]);
        for waste in ["NaN", "inf", "-0.1", "1e3"] {
            assert!(read(&typed(&[("waste", waste)]), &job).is_err(), "{waste}");
        }
    }
}
