//! What was found, in walk order: one list for the page, the CSV and the command.

use std::collections::BTreeMap;

use serde::Serialize;

use super::view::View;
use super::{Facts, Reader, State, office_only_finding, order::places_in_walk_order, side_of};
use crate::job::*;
use crate::sorted::Sorted;

/// How many of what, for one place or the whole house. Struck findings are not counted.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    /// Findings of damage.
    pub damaged: u32,
    /// Prior conditions.
    pub prior: u32,
    /// Findings left unsure or without a condition.
    pub unsure: u32,
    /// Findings and parts that were looked at and are in order.
    pub cleared: u32,
    /// Hits counted: those of findings, and of test squares on the place.
    pub hits: u32,
    /// Units damaged, of findings that state a total.
    pub units: u32,
    /// The totals of those findings.
    pub units_total: u32,
}

impl Counts {
    fn add(&mut self, other: Counts) {
        self.damaged += other.damaged;
        self.prior += other.prior;
        self.unsure += other.unsure;
        self.cleared += other.cleared;
        self.hits = self.hits.saturating_add(other.hits);
        self.units = self.units.saturating_add(other.units);
        self.units_total = self.units_total.saturating_add(other.units_total);
    }
}

/// One finding.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingRow {
    /// Its record.
    pub id: RecordId,
    /// Its number in the list, from 1.
    pub number: u32,
    /// What it amounts to.
    pub state: State,
    /// Its fields.
    pub finding: Finding,
    /// Hits counted by all; `None` where nobody counted.
    pub hits: Option<u32>,
    /// Photos that show it, standoffs first, then by time.
    pub photos: Vec<RecordId>,
    /// The office alone may read it.
    pub office_only: bool,
    /// Why it was struck.
    pub struck: Option<String>,
    /// Fields with more than one statement.
    pub unsettled: Vec<String>,
    /// Who recorded it.
    pub recorded_by: String,
    /// When, by that person's device.
    pub recorded_at: Millis,
}

/// A part that was counted or cleared as a whole.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PartRow {
    /// Its record.
    pub id: RecordId,
    /// Its fields.
    pub part: ComponentCount,
    /// Why it was struck.
    pub struck: Option<String>,
}

/// What was found at one place.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlaceGroup {
    /// The place; `None` for findings without one.
    pub place: Option<Place>,
    /// Its name.
    pub name: String,
    /// The side it lies on.
    pub side: Option<Side>,
    /// Sums.
    pub counts: Counts,
    /// Findings, left to right.
    pub findings: Vec<FindingRow>,
    /// Parts counted or cleared as a whole.
    pub parts: Vec<PartRow>,
}

/// What was found, place by place in walk order.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FindingsList {
    /// The places: the four sides always, others where something stands there.
    pub groups: Vec<PlaceGroup>,
    /// Sums of all places.
    pub totals: Counts,
}

/// The list for a reader. For anyone, office-only and struck entries are left out of rows and
/// counts; for the office they are there and marked, and struck ones are not counted.
pub fn findings_list(job: &Job, reader: Reader) -> FindingsList {
    let facts = Facts::default();
    let view = View::new(job, &facts);
    let mut findings = findings_by_place(&view, reader);
    let mut parts = parts_by_place(job, reader);
    let mut places: Vec<Option<Place>> = places_in_walk_order(job).into_iter().map(Some).collect();
    // Places that were struck or are not in this document still hold what was found there.
    let named: Vec<Option<Place>> = findings.keys().chain(parts.keys()).cloned().collect();
    for place in named {
        if place.is_some() && !places.contains(&place) {
            places.push(place);
        }
    }
    places.push(None);

    let mut list = FindingsList {
        groups: Vec::new(),
        totals: Counts::default(),
    };
    let mut number = 0;
    for place in places {
        let mut rows = findings.remove(&place).unwrap_or_default();
        let parts = parts.remove(&place).unwrap_or_default();
        let squares = place.as_ref().map_or(0, |place| square_hits(job, place));
        let fixed = place
            .as_ref()
            .is_some_and(|at| Side::from_code(at.id.as_str()).is_some() || at.kind == Kind::Slope);
        if rows.is_empty() && parts.is_empty() && squares == 0 && !fixed {
            continue;
        }
        for row in &mut rows {
            number += 1;
            row.number = number;
        }
        let mut counts = count(&rows, &parts);
        counts.hits = counts.hits.saturating_add(squares);
        list.totals.add(counts);
        list.groups.push(PlaceGroup {
            name: name_of(job, place.as_ref(), rows.is_empty()),
            side: place.as_ref().and_then(|place| side_of(job, place)),
            place,
            counts,
            findings: rows,
            parts,
        });
    }
    list
}

/// Parts without a place speak for the whole house; findings without one have yet to get it.
fn name_of(job: &Job, place: Option<&Place>, parts_only: bool) -> String {
    let Some(place) = place else {
        let name = if parts_only {
            "house as a whole"
        } else {
            "without a place"
        };
        return name.to_owned();
    };
    let side = Side::from_code(place.id.as_str());
    match side.filter(|_| place.kind == Kind::Elevation) {
        Some(side) => format!("{side} elevation"),
        None => job.place_name(place),
    }
}

fn findings_by_place(view: &View<'_>, reader: Reader) -> BTreeMap<Option<Place>, Vec<FindingRow>> {
    let mut by_place: BTreeMap<Option<Place>, Vec<FindingRow>> = BTreeMap::new();
    for (id, record) in &view.job.records.findings {
        let office_only = office_only_finding(record);
        if reader == Reader::Anyone && (office_only || !record.stands()) {
            continue;
        }
        let at = RecordRef::new(Kind::Finding, id.clone());
        let mut photos: Vec<_> = view
            .showing(&at)
            .map(|shot| (role_rank(shot.photo.role), shot.time(), shot.id.clone()))
            .collect();
        photos.order();
        by_place
            .entry(record.place.clone())
            .or_default()
            .push(FindingRow {
                id: id.clone(),
                number: 0,
                state: State::of(record),
                finding: record.fields.clone(),
                hits: record.hits(),
                photos: photos.into_iter().map(|(_, _, id)| id).collect(),
                office_only,
                struck: record.struck.as_ref().map(|struck| struck.reason.clone()),
                unsettled: record.conflicts.iter().map(|c| c.field.clone()).collect(),
                recorded_by: view.job.who(record.made.device),
                recorded_at: record.made.at,
            });
    }
    for rows in by_place.values_mut() {
        rows.order_by(|a, b| position(a).cmp(&position(b)));
    }
    by_place
}

/// Left to right as one faces the side, then upwards; what has no position comes last.
fn position(row: &FindingRow) -> (u32, u32, Option<Component>, &RecordId) {
    (
        row.finding.from_left.unwrap_or(u32::MAX),
        row.finding.storey.unwrap_or(u32::MAX),
        row.finding.component,
        &row.id,
    )
}

fn role_rank(role: Option<PhotoRole>) -> u8 {
    match role {
        Some(PhotoRole::Overview) => 0,
        Some(PhotoRole::Standoff) => 1,
        Some(PhotoRole::CloseUp) => 2,
        _ => 3,
    }
}

fn parts_by_place(job: &Job, reader: Reader) -> BTreeMap<Option<Place>, Vec<PartRow>> {
    let mut by_place: BTreeMap<Option<Place>, Vec<PartRow>> = BTreeMap::new();
    for (id, record) in &job.records.components {
        if reader == Reader::Anyone && !record.stands() {
            continue;
        }
        by_place
            .entry(record.place.clone())
            .or_default()
            .push(PartRow {
                id: id.clone(),
                part: record.fields.clone(),
                struck: record.struck.as_ref().map(|struck| struck.reason.clone()),
            });
    }
    for rows in by_place.values_mut() {
        rows.order_by(|a, b| (a.part.component, &a.id).cmp(&(b.part.component, &b.id)));
    }
    by_place
}

fn square_hits(job: &Job, place: &Place) -> u32 {
    job.records
        .test_squares
        .values()
        .filter(|square| square.stands() && square.slope.as_ref() == Some(place))
        .filter_map(Record::hits)
        .fold(0, u32::saturating_add)
}

fn count(findings: &[FindingRow], parts: &[PartRow]) -> Counts {
    let mut counts = Counts::default();
    for row in findings.iter().filter(|row| row.struck.is_none()) {
        match row.state {
            State::Damaged => counts.damaged += 1,
            State::Prior => counts.prior += 1,
            State::Unsure | State::Open => counts.unsure += 1,
            State::Cleared => counts.cleared += 1,
            State::NotPresent => {}
        }
        counts.hits = counts.hits.saturating_add(row.hits.unwrap_or(0));
        if let (State::Damaged, Some(units), Some(total)) =
            (row.state, row.finding.units, row.finding.units_total)
        {
            counts.units = counts.units.saturating_add(units);
            counts.units_total = counts.units_total.saturating_add(total);
        }
    }
    let cleared = parts
        .iter()
        .filter(|row| row.struck.is_none() && row.part.condition == Some(Condition::Cleared));
    counts.cleared += u32::try_from(cleared.count()).unwrap_or(u32::MAX);
    counts
}

#[cfg(test)]
mod tests {
    use super::super::house::*;
    use super::*;

    fn group<'a>(list: &'a FindingsList, name: &str) -> &'a PlaceGroup {
        list.groups.iter().find(|group| group.name == name).unwrap()
    }

    #[test]
    fn places_come_in_walk_order_and_findings_left_to_right() {
        let mut house = House::complete();
        let dents = house.job.records.findings[&id("dents")].fields.clone();
        for (word, from_left) in [("z", 1), ("a", 2)] {
            house.finding(
                word,
                Finding {
                    from_left: Some(from_left),
                    ..dents.clone()
                },
            );
        }
        let list = findings_list(&house.job, Reader::Office);
        let names: Vec<&str> = list
            .groups
            .iter()
            .map(|group| group.name.as_str())
            .collect();
        assert_eq!(
            names,
            [
                "front elevation",
                "main, front slope",
                "right elevation",
                "rear elevation",
                "left elevation",
                "house as a whole"
            ]
        );
        let ids: Vec<&str> = list.groups[0]
            .findings
            .iter()
            .map(|row| row.id.as_str())
            .collect();
        assert_eq!(ids, ["z", "a", "dents"]);
        assert_eq!(list.groups[0].findings[2].photos, [id("far"), id("near")]);
    }

    #[test]
    fn counts_add_up_and_hide_what_the_reader_may_not_see() {
        let mut house = House::complete();
        let front = Some(RecordRef::side(Side::Front));
        house.finding(
            "ladder",
            Finding {
                place: front.clone(),
                condition: Some(Condition::Damaged),
                cause: Some(Cause::Mechanical),
                audience: Some(Audience::OfficeOnly),
                units: Some(1),
                units_total: Some(2),
                ..Finding::default()
            },
        );
        house.finding(
            "old",
            Finding {
                place: front,
                condition: Some(Condition::Damaged),
                cause: Some(Cause::Prior),
                ..Finding::default()
            },
        );
        let square = house
            .job
            .records
            .test_squares
            .get_mut(&id("square"))
            .unwrap();
        square.tally.insert(device(), 6);

        let office = findings_list(&house.job, Reader::Office);
        let front = group(&office, "front elevation").counts;
        assert_eq!((front.damaged, front.prior, front.hits), (2, 1, 9));
        assert_eq!((front.units, front.units_total), (1, 2));
        assert_eq!(group(&office, "main, front slope").counts.hits, 6);
        assert_eq!(office.totals.hits, 15);

        let anyone = findings_list(&house.job, Reader::Anyone);
        let front = group(&anyone, "front elevation").counts;
        assert_eq!((front.damaged, front.prior, front.units), (1, 1, 0));
    }
}
