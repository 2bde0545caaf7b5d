//! Hits by side and slope.

use std::collections::BTreeMap;

use serde::Serialize;

use super::super::view::{View, standing};
use super::super::{office_only_finding, places_in_walk_order, side_of};
use crate::job::*;
use crate::limits;
use crate::review::Reader;

/// Hits on one kind of part at one place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PartHits {
    /// The part; `None` where the finding names none.
    pub component: Option<Component>,
    /// Thin metal or mesh, which small hail marks.
    pub soft_metal: bool,
    /// Hits counted as hail.
    pub hail: u64,
    /// Of these, hits lower than [`limits::LOW_HIT_INCHES`] above grade.
    pub low: u64,
    /// Hits counted with another cause, or none stated.
    pub other: u64,
}

/// Hits at one place.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlaceHits {
    /// The place.
    pub place: Place,
    /// Its name.
    pub name: String,
    /// The side it lies on.
    pub side: Option<Side>,
    /// Hits of findings, by part.
    pub parts: Vec<PartHits>,
    /// Hits counted in test squares here.
    pub in_squares: u64,
    /// Hail hits of findings and test squares together.
    pub hail: u64,
}

pub(super) fn places(view: &View<'_>, reader: Reader) -> Vec<PlaceHits> {
    let mut parts: BTreeMap<&Place, BTreeMap<Option<Component>, PartHits>> = BTreeMap::new();
    for (_, finding) in view.findings() {
        let (Some(place), Some(hits)) = (&finding.fields.place, finding.hits()) else {
            continue;
        };
        if reader == Reader::Anyone && office_only_finding(finding) {
            continue;
        }
        let component = finding.component;
        let row = parts.entry(place).or_default().entry(component);
        let row = row.or_insert_with(|| PartHits {
            component,
            soft_metal: component.is_some_and(|part| part.facts().soft_metal),
            hail: 0,
            low: 0,
            other: 0,
        });
        row.add(finding, u64::from(hits));
    }
    let mut squares: BTreeMap<&Place, u64> = BTreeMap::new();
    for (_, square) in standing(Kind::TestSquare, &view.job.records.test_squares) {
        if let (Some(slope), Some(hits)) = (&square.fields.slope, square.hits()) {
            *squares.entry(slope).or_default() += u64::from(hits);
        }
    }
    let mut order = places_in_walk_order(view.job);
    let known = |place: &&&Place| !order.contains(**place);
    let further: Vec<Place> = parts
        .keys()
        .chain(squares.keys())
        .filter(known)
        .map(|place| (*place).clone())
        .collect();
    order.extend(further);
    order.dedup();
    order
        .into_iter()
        .filter_map(|place| {
            let rows = parts.remove(&place).unwrap_or_default();
            let in_squares = squares.remove(&place).unwrap_or(0);
            let side =
                place.kind == Kind::Elevation && Side::from_code(place.id.as_str()).is_some();
            if rows.is_empty() && in_squares == 0 && !side {
                return None;
            }
            let parts: Vec<PartHits> = rows.into_values().collect();
            let hail: u64 = parts.iter().map(|part| part.hail).sum();
            Some(PlaceHits {
                name: name(view.job, &place),
                side: side_of(view.job, &place),
                hail: hail + in_squares,
                parts,
                in_squares,
                place,
            })
        })
        .collect()
}

impl PartHits {
    fn add(&mut self, finding: &Finding, hits: u64) {
        if finding.cause != Some(Cause::Hail) {
            self.other += hits;
            return;
        }
        self.hail += hits;
        let low = |height: Length| height.to_inches() < limits::LOW_HIT_INCHES;
        if finding.height.is_some_and(low) {
            self.low += hits;
        }
    }
}

fn name(job: &Job, place: &Place) -> String {
    match Side::from_code(place.id.as_str()) {
        Some(side) if place.kind == Kind::Elevation => format!("{side} elevation"),
        _ => job.place_name(place),
    }
}
