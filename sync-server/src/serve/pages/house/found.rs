//! What was found, place by place and in a few lines each.

use std::collections::BTreeMap;

use chalkwalk_core::job::{Audience, Condition, Finding, Job, Kind, Place, Record, RecordId};
use chalkwalk_core::review::{State, places_in_walk_order, side_of};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::escaped;
use super::super::words::{capital, look};
use crate::serve::icons::icon;

/// Findings told one by one on the front page; the list has all.
pub(super) const BRIEF: usize = 8;

/// The findings that stand, laid out by place.
pub(super) struct Found<'a> {
    pub(super) all: usize,
    pub(super) places: Vec<Found1<'a>>,
    findings: Vec<(&'a RecordId, &'a Record<Finding>, State)>,
}

/// What was found at one place.
pub(super) struct Found1<'a> {
    pub(super) place: Option<Place>,
    pub(super) name: String,
    /// From left to right, then what was cleared.
    pub(super) amounts: Vec<State>,
    order: Vec<(u32, &'a RecordId, State)>,
}

impl<'a> Found<'a> {
    pub(super) fn of(job: &'a Job) -> Self {
        let mut findings = Vec::new();
        let mut at: BTreeMap<Option<Place>, Vec<(u32, &'a RecordId, State)>> = BTreeMap::new();
        for (id, finding) in job.standing_findings() {
            let state = State::of(finding);
            findings.push((id, finding, state));
            let here = at.entry(finding.place.clone()).or_default();
            here.push((finding.from_left.unwrap_or(u32::MAX), id, state));
        }
        let mut cleared: BTreeMap<Option<Place>, usize> = BTreeMap::new();
        let parts = job.records.components.values().filter(|part| part.stands());
        for part in parts.filter(|part| part.condition == Some(Condition::Cleared)) {
            *cleared.entry(part.place.clone()).or_default() += 1;
        }
        let mut places: Vec<Option<Place>> =
            places_in_walk_order(job).into_iter().map(Some).collect();
        let named: Vec<Option<Place>> = at.keys().chain(cleared.keys()).cloned().collect();
        for place in named {
            if !places.contains(&place) {
                places.push(place);
            }
        }
        let laid = places.into_iter().filter_map(|place| {
            let mut order = at.remove(&place).unwrap_or_default();
            order.sort_unstable();
            let cleared = cleared.remove(&place).unwrap_or(0);
            let shown = place
                .as_ref()
                .is_some_and(|place| place.kind != Kind::EaveOpening);
            (shown || !order.is_empty() || cleared > 0).then(|| Found1 {
                name: name(job, place.as_ref()),
                amounts: order
                    .iter()
                    .map(|(_, _, state)| *state)
                    .chain(std::iter::repeat_n(State::Cleared, cleared))
                    .collect(),
                order,
                place,
            })
        });
        let places = laid.collect();
        Self {
            all: findings.len(),
            places,
            findings,
        }
    }

    /// How many amount to this.
    pub(super) fn total(&self, state: State) -> usize {
        self.findings.iter().filter(|(.., of)| *of == state).count()
    }

    /// What was found at a place.
    pub(super) fn at(&self, place: &Place) -> Vec<State> {
        let here = self
            .places
            .iter()
            .find(|here| here.place.as_ref() == Some(place));
        here.map_or_else(Vec::new, |here| here.amounts.clone())
    }

    /// The first findings of one amount, each with the way to it.
    pub(super) fn brief(&self, at: &AtJob, state: State) -> Markup {
        let job = &at.job;
        let of = |id: &RecordId| job.records.findings.get(id);
        let ids: Vec<&RecordId> = self
            .places
            .iter()
            .flat_map(|place| &place.order)
            .filter(|(_, _, of)| *of == state)
            .map(|(_, id, _)| *id)
            .collect();
        let path = at.path();
        html! {
            @if !ids.is_empty() {
                section.card {
                    h2 { (super::super::words::state(state)) }
                    ul.brief { @for (id, finding) in ids.iter().take(BRIEF).filter_map(|id| Some((id, of(id)?))) {
                        li { (line(at, id, finding)) }
                    } }
                    @if ids.len() > BRIEF {
                        p { a href={ (path) "/findings?state=" (escaped(state.label())) } {
                            "All " (ids.len()) " that are " (state.label()) } }
                    }
                }
            }
        }
    }
}

fn name(job: &Job, place: Option<&Place>) -> String {
    place.map_or_else(
        || "the whole house".to_owned(),
        |place| job.place_name(place),
    )
}

/// A finding in a line, with its photo where there is one.
fn line(at: &AtJob, id: &RecordId, finding: &Record<Finding>) -> Markup {
    let worked = at.worked();
    let walk = worked.walk();
    let photo = walk
        .of_finding(id)
        .first()
        .and_then(|at| walk.steps.get(*at));
    let what = capital(
        finding
            .component
            .map_or("something", |component| component.label()),
    );
    let path = at.path();
    let side = finding
        .place
        .as_ref()
        .and_then(|place| side_of(&at.job, place));
    html! {
        @match photo {
            Some(step) => a href={ (path) "/walk/" (step.id) } { (what) },
            None => a href={ (path) "/findings/" (id) } { (what) },
        }
        @if let Some(place) = &finding.place { ", " (at.job.place_name(place))
            @if let Some(side) = side.filter(|_| place.kind == Kind::EaveOpening) { " (" (side) ")" } }
        @if let Some(hits) = finding.hits().filter(|hits| *hits > 0) { ", " (hits) " hits" }
        @if let Some(cause) = finding.cause { ": " (cause) }
        @if finding.audience == Some(Audience::OfficeOnly) { span.tag { "office only" } }
        @if photo.is_none() { div.small.missing { "no photo of it here" } }
    }
}

/// Amounts as shapes and counts.
pub(super) fn tells(amounts: &[State]) -> Markup {
    let order = [
        State::Damaged,
        State::Prior,
        State::Unsure,
        State::Open,
        State::Cleared,
        State::NotPresent,
    ];
    let count = |state: State| amounts.iter().filter(|of| **of == state).count();
    html! {
        @if amounts.is_empty() { span.soft { "nothing recorded" } }
        span.tells { @for state in order { @if count(state) > 0 {
            @let (class, shape) = look(state);
            span class={ "state " (class) } { (icon(shape)) (count(state)) " " (state.label()) }
        } } }
    }
}
