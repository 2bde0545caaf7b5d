//! What our lines rest on: findings, counts, requirements, photos, and what is unsure.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::job::*;
use crate::photo::walk_order_of;
use crate::review::scope::{Basis, ScopeLine};
use crate::review::{Reader, office_only_finding, office_only_photo};
use crate::sorted::Keyed;

/// What some lines rest on.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Evidence {
    /// What was observed and counted, a sentence each.
    pub observed: Vec<String>,
    /// How each quantity was worked out.
    pub measured: Vec<String>,
    /// The findings.
    pub findings: Vec<RecordRef>,
    /// The other records.
    pub records: Vec<RecordRef>,
    /// The photos, in walk order.
    pub photos: Vec<RecordId>,
    /// Sections of codes.
    pub requirements: Vec<Requirement>,
    /// What is still unsure, a sentence each.
    pub unsure: Vec<String>,
}

/// A section of a building code.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Requirement {
    /// The section.
    pub section: String,
    /// The code and its edition.
    pub edition: String,
    /// What it asks for, in our words.
    pub words: String,
    /// Who has the last word on it.
    pub confirm: &'static str,
}

/// Local amendments win over any section.
const CONFIRM: &str = "confirm with the local authority";

/// Finds the evidence of lines, for one reader.
pub(super) struct Witness<'a> {
    job: &'a Job,
    reader: Reader,
    /// The place of each photo in the walk.
    walk: BTreeMap<RecordId, usize>,
}

impl<'a> Witness<'a> {
    pub(super) fn new(job: &'a Job, lines: &[&ScopeLine], reader: Reader) -> Self {
        let cited: BTreeSet<&RecordId> = lines.iter().flat_map(|line| &line.photos).keyed();
        let shown = |id: &&RecordId| {
            let photo = job.records.photos.get(*id);
            photo.is_some_and(|photo| reader == Reader::Office || !office_only_photo(photo))
        };
        let walk = walk_order_of(job, cited.into_iter().filter(shown))
            .into_iter()
            .enumerate()
            .map(|(at, id)| (id, at))
            .keyed();
        Self { job, reader, walk }
    }

    /// What some lines rest on.
    pub(super) fn of(&self, lines: &[&ScopeLine]) -> Evidence {
        let mut evidence = Evidence::default();
        let mut photos: BTreeSet<(usize, &RecordId)> = BTreeSet::new();
        for line in lines {
            for at in &line.findings {
                if let Some(words) = self.observed(at) {
                    push(&mut evidence.findings, at.clone());
                    push(&mut evidence.observed, words);
                }
            }
            for at in &line.records {
                push(&mut evidence.records, at.clone());
            }
            photos.extend(
                line.photos
                    .iter()
                    .filter_map(|id| Some((*self.walk.get(id)?, id))),
            );
            if !line.how.is_empty() {
                push(&mut evidence.measured, line.how.clone());
            }
            if let Basis::Requirement {
                section,
                edition,
                words,
            } = &line.basis
            {
                push(
                    &mut evidence.requirements,
                    Requirement {
                        section: section.clone(),
                        edition: edition.clone(),
                        words: words.clone(),
                        confirm: CONFIRM,
                    },
                );
            }
            for unsure in &line.unsure {
                push(&mut evidence.unsure, unsure.clone());
            }
        }
        evidence.photos = photos.into_iter().map(|(_, id)| id.clone()).collect();
        evidence
    }

    /// A finding in a sentence; `None` where it was struck or the reader may not see it.
    fn observed(&self, at: &RecordRef) -> Option<String> {
        let finding = self
            .job
            .records
            .findings
            .get(&at.id)
            .filter(|_| at.kind == Kind::Finding)?;
        let hidden = self.reader == Reader::Anyone && office_only_finding(finding);
        if !finding.stands() || hidden {
            return None;
        }
        let text = finding
            .text
            .as_deref()
            .map(str::trim)
            .filter(|text| !text.is_empty());
        let mut words = match text {
            Some(text) => text.to_owned(),
            None => {
                let part = finding.component.map_or("a part", Component::label);
                let state = finding.condition.map_or("recorded", Condition::label);
                format!("{part}: {state}")
            }
        };
        if let Some(hits) = finding.hits() {
            words = format!("{} ({hits} hits counted)", words.trim_end_matches('.'));
        }
        Some(sentence(&words))
    }
}

/// The words with a full stop.
pub(super) fn sentence(words: &str) -> String {
    let words = words.trim();
    if words.is_empty() || words.ends_with(['.', '?']) {
        words.to_owned()
    } else {
        format!("{words}.")
    }
}

fn push<T: PartialEq>(list: &mut Vec<T>, item: T) {
    if !list.contains(&item) {
        list.push(item);
    }
}
