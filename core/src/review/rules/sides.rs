//! The four sides: overviews, walking, and the parts every side is looked at for.

use super::super::view::{View, standing};
use super::Raise;
use crate::job::*;

/// The four sides and the further walls that stand.
fn walls(view: &View<'_>) -> Vec<(RecordRef, Option<Elevation>)> {
    let records = &view.job.records.elevations;
    let mut walls: Vec<(RecordRef, Option<Elevation>)> = Side::ALL
        .iter()
        .map(|side| RecordRef::side(*side))
        .filter(|at| records.get(&at.id).is_none_or(Record::stands))
        .map(|at| {
            let fields = records.get(&at.id).map(|record| record.fields.clone());
            (at, fields)
        })
        .collect();
    let further = standing(Kind::Elevation, records)
        .filter(|(at, _)| Side::from_code(at.id.as_str()).is_none())
        .map(|(at, record)| (at, Some(record.fields.clone())));
    walls.extend(further);
    walls
}

fn name(view: &View<'_>, at: &RecordRef) -> String {
    match Side::from_code(at.id.as_str()) {
        Some(side) => format!("{side} elevation"),
        None => view.job.place_name(at),
    }
}

fn overviews(view: &View<'_>, at: &RecordRef) -> usize {
    view.taken_at(at)
        .filter(|shot| shot.is(PhotoRole::Overview))
        .count()
}

pub(super) fn overview(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, _) in walls(view) {
        if overviews(view, &at) == 0 {
            let wall = name(view, &at);
            raise.point(format!("The {wall} has no overview photo."), vec![at]);
        }
    }
}

pub(super) fn blocked_overview(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, fields) in walls(view) {
        let Some(blocked) = fields.and_then(|f| f.blocked_by).filter(|b| !b.is_empty()) else {
            continue;
        };
        if overviews(view, &at) == 1 {
            let wall = name(view, &at);
            raise.point(
                format!("The {wall} is blocked ({blocked}) and has only one overview photo."),
                vec![at],
            );
        }
    }
}

pub(super) fn front_first(view: &View<'_>, raise: &mut Raise<'_>) {
    let front = RecordRef::side(Side::Front);
    // A photo with a wrong clock has no place in the order; another rule names it.
    let strays: Vec<&RecordId> = super::photos::outside_visits(view)
        .into_iter()
        .map(|shot| shot.id)
        .collect();
    let Some(first) = view.shots().iter().find(|shot| !strays.contains(&shot.id)) else {
        return;
    };
    let has_front = overviews(view, &front) > 0;
    let shows_front =
        first.photo.place.as_ref() == Some(&front) || first.photo.shows.contains(&front);
    if has_front && !(shows_front && first.is(PhotoRole::Overview)) {
        raise.point(
            "The first photo of the job is not the overview of the front.",
            vec![first.at()],
        );
    }
}

pub(super) fn walked(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, fields) in walls(view) {
        if fields.and_then(|fields| fields.walked) != Some(true) {
            let wall = name(view, &at);
            raise.point(format!("The {wall} was not walked."), vec![at]);
        }
    }
}

pub(super) fn parts(view: &View<'_>, raise: &mut Raise<'_>) {
    const EXPECTED: &[Component] = &[
        Component::Gutter,
        Component::Downspout,
        Component::Window,
        Component::Screen,
    ];
    for side in Side::ALL {
        let at = RecordRef::side(*side);
        let struck = view.job.elevation(*side).is_some_and(|e| !e.stands());
        let missing: Vec<&str> = EXPECTED
            .iter()
            .filter(|part| {
                !view.accounted(**part, |place| {
                    place.is_none_or(|p| view.side(Some(p)) == Some(*side))
                })
            })
            .map(|part| part.label())
            .collect();
        if !struck && !missing.is_empty() {
            raise.point(
                format!(
                    "On the {side} elevation nobody said whether these are damaged, cleared or not \
                     present: {}.",
                    missing.join(", ")
                ),
                vec![at],
            );
        }
    }
}

pub(super) fn eave_height(view: &View<'_>, raise: &mut Raise<'_>) {
    let without: Vec<RecordRef> = walls(view)
        .into_iter()
        .filter(|(_, fields)| {
            fields
                .as_ref()
                .is_none_or(|f| f.eave_height.is_none() && f.storeys.is_none())
        })
        .map(|(at, _)| at)
        .collect();
    let whole = view.job.property().and_then(|property| property.storeys);
    if whole.is_none() && !without.is_empty() {
        let names: Vec<String> = without.iter().map(|at| name(view, at)).collect();
        raise.point(
            format!(
                "Neither storeys nor eave height are known: {}.",
                names.join(", ")
            ),
            without,
        );
    }
}
