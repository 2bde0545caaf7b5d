//! What the record means: the check before leaving, the findings, the scope.

use chalkwalk_core::job::{JobId, Place, RecordId, RecordRef, Side, WorkAction};
use chalkwalk_core::review::scope::{ScopeInputs, ScopeLine as CoreLine, scope};
use chalkwalk_core::review::{self, Reader, Urgency, findings_list, leave_site};

use crate::{Answer, ChalkwalkError, Notebook};

/// How much an open point matters.
#[uniffi::remote(Enum)]
pub enum Urgency {
    /// The record does not stand without it.
    Must,
    /// The office will ask for it.
    Should,
    /// Worth a thought.
    Consider,
}

/// One thing that is missing or does not fit.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct OpenPoint {
    /// The id of the rule.
    pub rule: String,
    /// How much it matters.
    pub urgency: Urgency,
    /// What is missing, for the crew.
    pub sentence: String,
    /// Why it matters.
    pub why: String,
    /// Where the rule comes from.
    pub source: String,
    /// The records that raised it; empty where it is the absence of any.
    pub triggered_by: Vec<RecordRef>,
    /// What would settle it.
    pub settles: String,
    /// The office could settle it without a second visit.
    pub office_can_settle: bool,
}

/// How many of what. Struck findings are not counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, uniffi::Record)]
pub struct Counts {
    /// Findings of damage.
    pub damaged: u32,
    /// Prior conditions.
    pub prior: u32,
    /// Findings left unsure or without a condition.
    pub unsure: u32,
    /// Findings and parts that are in order.
    pub cleared: u32,
    /// Hits counted.
    pub hits: u32,
    /// Units damaged.
    pub units: u32,
    /// The totals of those findings.
    pub units_total: u32,
}

/// One finding in the list.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct FindingRow {
    /// Its record.
    pub id: RecordId,
    /// Its number in the list, from 1.
    pub number: u32,
    /// Its fields.
    pub finding: chalkwalk_core::job::Finding,
    /// Hits counted by all; empty where nobody counted.
    pub hits: Option<u32>,
    /// Photos that show it.
    pub photos: Vec<RecordId>,
    /// The office alone may read it.
    pub office_only: bool,
    /// Why it was struck.
    pub struck: Option<String>,
    /// Who recorded it.
    pub recorded_by: String,
    /// When, by that person's device.
    pub recorded_at: i64,
}

/// What was found at one place.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct PlaceGroup {
    /// The place; empty for findings without one.
    pub place: Option<Place>,
    /// Its name.
    pub name: String,
    /// The side it lies on.
    pub side: Option<Side>,
    /// Sums.
    pub counts: Counts,
    /// Findings, left to right.
    pub findings: Vec<FindingRow>,
}

/// What was found, place by place in walk order.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct FindingsList {
    /// The places.
    pub groups: Vec<PlaceGroup>,
    /// Sums of all places.
    pub totals: Counts,
}

/// One line of a scope.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct ScopeLine {
    /// What it is known by; a change to the scope names it.
    pub key: String,
    /// Where; empty for the house as a whole.
    pub place: Option<Place>,
    /// Where, in words.
    pub place_words: String,
    /// What, in words.
    pub item: String,
    /// The work.
    pub action: WorkAction,
    /// How much; empty where it is not known.
    pub quantity: Option<f64>,
    /// How much with its unit, in words.
    pub quantity_words: Option<String>,
    /// How the quantity was worked out.
    pub how: String,
    /// The records it rests on.
    pub records: Vec<RecordRef>,
    /// The photos that show them.
    pub photos: Vec<RecordId>,
    /// What is still unsure, a sentence each.
    pub unsure: Vec<String>,
    /// Why an estimator changed it; empty where nobody did.
    pub change_reason: Option<String>,
}

/// The scope of a job.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct Scope {
    /// The lines, in walk order.
    pub lines: Vec<ScopeLine>,
    /// Findings that make no line, and why.
    pub withheld: Vec<String>,
    /// The same as a list for a spreadsheet (CSV, UTF-8).
    pub csv: Vec<u8>,
}

#[uniffi::export]
impl Notebook {
    /// What is still open before leaving the site, the urgent first.
    pub fn check(&self, job: JobId) -> Answer<Vec<OpenPoint>> {
        self.inner.with(|core| {
            let facts = core.facts(job)?;
            let points = leave_site::check(core.job(job)?, &facts);
            Ok(points.into_iter().map(open_point).collect())
        })
    }

    /// What was found, place by place in walk order. For anybody else than the office, what is
    /// office only or struck is left out.
    pub fn findings(&self, job: JobId, for_office: bool) -> Answer<FindingsList> {
        self.inner.with(|core| {
            let list = findings_list::findings_list(core.job(job)?, reader(for_office));
            Ok(FindingsList {
                totals: counts(list.totals),
                groups: list.groups.into_iter().map(group).collect(),
            })
        })
    }

    /// The lines of work that the record asks for. It says what was found, never what is covered.
    pub fn scope(&self, job: JobId, for_office: bool) -> Answer<Scope> {
        self.inner.with(|core| {
            let job = core.job(job)?;
            let reader = reader(for_office);
            let scope = scope(job, &ScopeInputs::default()).for_reader(reader);
            let csv = scope.to_csv(job, reader).map_err(ChalkwalkError::storage)?;
            Ok(Scope {
                lines: scope.lines.into_iter().map(line).collect(),
                withheld: scope.withheld.into_iter().map(|held| held.words).collect(),
                csv,
            })
        })
    }
}

pub(crate) fn reader(for_office: bool) -> Reader {
    if for_office {
        Reader::Office
    } else {
        Reader::Anyone
    }
}

fn open_point(point: review::OpenPoint) -> OpenPoint {
    OpenPoint {
        rule: point.rule.to_owned(),
        urgency: point.urgency,
        sentence: point.sentence,
        why: point.why.to_owned(),
        source: point.source.to_string(),
        triggered_by: point.triggered_by,
        settles: point.settles.to_owned(),
        office_can_settle: point.office_can_settle,
    }
}

fn counts(from: review::Counts) -> Counts {
    let review::Counts {
        damaged,
        prior,
        unsure,
        cleared,
        hits,
        units,
        units_total,
    } = from;
    Counts {
        damaged,
        prior,
        unsure,
        cleared,
        hits,
        units,
        units_total,
    }
}

fn group(group: review::PlaceGroup) -> PlaceGroup {
    let rows = group.findings.into_iter().map(|row| FindingRow {
        id: row.id,
        number: row.number,
        finding: row.finding,
        hits: row.hits,
        photos: row.photos,
        office_only: row.office_only,
        struck: row.struck,
        recorded_by: row.recorded_by,
        recorded_at: row.recorded_at,
    });
    PlaceGroup {
        place: group.place,
        name: group.name,
        side: group.side,
        counts: counts(group.counts),
        findings: rows.collect(),
    }
}

fn line(line: CoreLine) -> ScopeLine {
    let mut records = line.findings;
    records.extend(line.records);
    ScopeLine {
        key: line.key.to_string(),
        place: line.place,
        place_words: line.place_words,
        item: line.item_words,
        action: line.action,
        quantity: line.quantity.map(|quantity| quantity.value()),
        quantity_words: line.quantity.map(|quantity| quantity.to_string()),
        how: line.how,
        records,
        photos: line.photos,
        unsure: line.unsure,
        change_reason: line.change.map(|change| change.reason),
    }
}
