//! Valleys, sidewalls, chimneys and skylights as the record has them. Nobody having said whether
//! there are any is kept apart from there being none.

use super::Gathered;
use super::slopes::known;
use crate::job::*;
use crate::review::view::{View, standing};
use crate::trade::code::{About, Input, OpeningInputs, SidewallInputs, ValleyInputs};

pub(super) fn valleys(view: &View<'_>, gathered: &mut Gathered) {
    let mut valleys = Vec::new();
    for (at, edge) in edges(view, EdgeKind::Valley) {
        let (lining, eaves) = lining_of(view, edge);
        let about = About::Valley(valleys.len());
        gathered.source(about, Input::ValleyLining, eaves);
        thing(gathered, about, at, edge.slope.as_ref());
        valleys.push(ValleyInputs {
            name: place_of(view, "valley", edge.slope.as_ref()),
            lining,
            width: None,
        });
    }
    if valleys.is_empty() {
        for (at, eave) in view.eaves() {
            if eave.beside_valley != Some(true) && known(eave.valley_lining).is_none() {
                continue;
            }
            let about = About::Valley(valleys.len());
            let place = eave.slope.clone().unwrap_or_else(|| at.clone());
            thing(gathered, about, at.clone(), Some(&place));
            valleys.push(ValleyInputs {
                name: place_of(view, "valley", Some(&place)),
                lining: known(eave.valley_lining),
                width: None,
            });
        }
    }
    let absent = none_said(view, Component::Valley, gathered, Input::Valleys);
    gathered.inputs.valleys = listed(valleys, absent);
}

/// How a valley is lined: its own record first, else an opening on one of its slopes.
fn lining_of(view: &View<'_>, edge: &Edge) -> (Option<ValleyLining>, Vec<RecordRef>) {
    if let Some(lining) = known(edge.lining) {
        return (Some(lining), Vec::new());
    }
    let beside = view.eaves().find_map(|(at, eave)| {
        let slope = eave.slope.as_ref()?;
        let here = edge.slope.as_ref() == Some(slope) || edge.other_slope.as_ref() == Some(slope);
        let lining = known(eave.valley_lining).filter(|_| here)?;
        Some((lining, at))
    });
    match beside {
        Some((lining, at)) => (Some(lining), vec![at]),
        None => (None, Vec::new()),
    }
}

pub(super) fn sidewalls(view: &View<'_>, gathered: &mut Gathered) {
    let mut walls = Vec::new();
    for (at, edge) in edges(view, EdgeKind::Sidewall) {
        let about = About::Sidewall(walls.len());
        thing(gathered, about, at, edge.slope.as_ref());
        walls.push(SidewallInputs {
            name: place_of(view, "sidewall", edge.slope.as_ref()),
            length: edge.length,
        });
    }
    if walls.is_empty() {
        for (at, place) in present(view, Component::StepFlashing) {
            let about = About::Sidewall(walls.len());
            thing(gathered, about, at, place.as_ref());
            walls.push(SidewallInputs {
                name: place_of(view, "step flashing", place.as_ref()),
                length: None,
            });
        }
    }
    let absent = none_said(view, Component::StepFlashing, gathered, Input::Sidewalls);
    gathered.inputs.sidewalls = listed(walls, absent);
}

pub(super) fn openings(view: &View<'_>, gathered: &mut Gathered) {
    const WIDE: &[Component] = &[Component::Chimney, Component::Skylight];
    let mut openings = Vec::new();
    for component in WIDE {
        for (at, place) in present(view, *component) {
            let about = About::Opening(openings.len());
            // A part that was counted has its width beside the count.
            let width = match at.kind {
                Kind::Component => view.job.records.components.get(&at.id),
                _ => None,
            };
            thing(gathered, about, at, place.as_ref());
            openings.push(OpeningInputs {
                name: place_of(view, component.label(), place.as_ref()),
                width: width.and_then(|part| part.length),
                skylight: *component == Component::Skylight,
            });
        }
    }
    let absent: Vec<bool> = WIDE
        .iter()
        .map(|part| none_said(view, *part, gathered, Input::Openings))
        .collect();
    let absent = absent.iter().all(|one| *one);
    gathered.inputs.openings = listed(openings, absent);
}

/// A list that may be empty because there is nothing, or because nobody said.
fn listed<T>(things: Vec<T>, none_there: bool) -> Option<Vec<T>> {
    (!things.is_empty() || none_there).then_some(things)
}

fn thing(gathered: &mut Gathered, about: About, at: RecordRef, place: Option<&Place>) {
    if let Some(place) = place {
        gathered.places.insert(about, place.clone());
    }
    gathered.things.insert(about, at);
}

fn edges<'a>(
    view: &View<'a>,
    kind: EdgeKind,
) -> impl Iterator<Item = (RecordRef, &'a Record<Edge>)> {
    standing(Kind::Edge, &view.job.records.edges).filter(move |(_, edge)| edge.kind == Some(kind))
}

/// A part that is there: each count of it; where nobody counted, each place where it was found.
fn present(view: &View<'_>, component: Component) -> Vec<(RecordRef, Option<Place>)> {
    let there = |condition: Option<Condition>| condition != Some(Condition::NotPresent);
    let counted: Vec<_> = view
        .parts(component)
        .filter(|(_, part)| there(part.condition) && part.count != Some(0))
        .map(|(at, part)| (at, part.place.clone()))
        .collect();
    if !counted.is_empty() {
        return counted;
    }
    let mut found: Vec<(RecordRef, Option<Place>)> = Vec::new();
    for (at, finding) in view.findings() {
        let new = !found.iter().any(|(_, place)| *place == finding.place);
        if finding.component == Some(component) && there(finding.condition) && new {
            found.push((at, finding.place.clone()));
        }
    }
    found
}

/// Somebody said that the house has none; the record that says so is kept as the source.
fn none_said(view: &View<'_>, component: Component, gathered: &mut Gathered, input: Input) -> bool {
    let said: Vec<RecordRef> = view
        .parts(component)
        .filter(|(_, part)| part.condition == Some(Condition::NotPresent))
        .map(|(at, _)| at)
        .collect();
    let any = !said.is_empty();
    gathered.source(About::House, input, said);
    any
}

fn place_of(view: &View<'_>, what: &str, place: Option<&Place>) -> String {
    match place {
        Some(place) => format!("{what}, {}", view.job.place_name(place)),
        None => what.to_owned(),
    }
}
