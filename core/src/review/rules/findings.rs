//! Findings: the pair of photos that proves each, and what each must hold.

use std::collections::BTreeMap;

use super::super::state::is_storm;
use super::super::view::{Shot, View};
use super::super::{State, office_only_finding};
use super::Raise;
use crate::job::*;

pub(super) fn standoff(view: &View<'_>, raise: &mut Raise<'_>) {
    without_role(view, raise, PhotoRole::Standoff, "standoff");
}

pub(super) fn close_up(view: &View<'_>, raise: &mut Raise<'_>) {
    without_role(view, raise, PhotoRole::CloseUp, "close-up");
}

fn without_role(view: &View<'_>, raise: &mut Raise<'_>, role: PhotoRole, word: &str) {
    for (at, finding) in view.damage() {
        if !view.showing(&at).any(|shot| shot.is(role)) {
            raise.point(
                format!("Damage without a {word} photo: {}.", view.call(finding)),
                vec![at],
            );
        }
    }
}

pub(super) fn pair_order(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.damage() {
        let first = |role| view.showing(&at).find(|shot| shot.is(role)).map(Shot::time);
        let (standoff, close) = (first(PhotoRole::Standoff), first(PhotoRole::CloseUp));
        if let (Some(standoff), Some(close)) = (standoff, close)
            && standoff > close
        {
            raise.point(
                format!(
                    "The standoff was taken after its close-up: {}.",
                    view.call(finding)
                ),
                vec![at],
            );
        }
    }
}

pub(super) fn prior_photo(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.findings() {
        if State::of(finding) == State::Prior && view.showing(&at).next().is_none() {
            raise.point(
                format!("A prior condition without a photo: {}.", view.call(finding)),
                vec![at],
            );
        }
    }
}

pub(super) fn place(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.findings() {
        if finding.place.is_none() {
            raise.point(
                format!("A finding without a place: {}.", view.call(finding)),
                vec![at],
            );
        }
    }
}

pub(super) fn what(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.findings() {
        let lacks = match (finding.component, finding.condition) {
            (None, _) => "the part it is about",
            (_, None) => "its condition",
            _ => continue,
        };
        raise.point(
            format!("A finding does not say {lacks}: {}.", view.call(finding)),
            vec![at],
        );
    }
}

pub(super) fn cause(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.damage() {
        if finding.cause.is_none() {
            raise.point(
                format!(
                    "Damage without a cause, not even \"unsure\": {}.",
                    view.call(finding)
                ),
                vec![at],
            );
        }
    }
}

pub(super) fn cause_reason(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.damage() {
        let storm = finding.cause.filter(|cause| is_storm(*cause));
        let reason = finding.cause_reason.as_deref().unwrap_or("");
        if let Some(cause) = storm
            && reason.trim().is_empty()
        {
            raise.point(
                format!(
                    "{cause} is stated without a reason: {}.",
                    view.call(finding)
                ),
                vec![at],
            );
        }
    }
}

pub(super) fn unsure(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.findings() {
        if State::of(finding) == State::Unsure {
            raise.point(format!("Left unsure: {}.", view.call(finding)), vec![at]);
        }
    }
}

pub(super) fn hits(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in hail(view) {
        // Shingles are counted in test squares, not one by one.
        if finding.component != Some(Component::Shingles) && finding.hits().is_none() {
            raise.point(
                format!("Hail damage without hits counted: {}.", view.call(finding)),
                vec![at],
            );
        }
    }
}

pub(super) fn single_hit(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in hail(view) {
        if finding.hits() == Some(1) && finding.units.unwrap_or(1) <= 1 {
            raise.point(
                format!("One isolated hit is called hail: {}.", view.call(finding)),
                vec![at],
            );
        }
    }
}

/// Sides on which every hail finding with a height lies within 3 ft of grade.
pub(super) fn only_low_hits(view: &View<'_>, raise: &mut Raise<'_>) {
    let mut heights: BTreeMap<Side, Vec<(RecordRef, Length)>> = BTreeMap::new();
    let mut higher: BTreeMap<Side, bool> = BTreeMap::new();
    for (at, finding) in hail(view) {
        let Some(side) = view.side(finding.place.as_ref()) else {
            continue;
        };
        match finding.height {
            Some(height) if height < LOW => heights.entry(side).or_default().push((at, height)),
            // A finding on the roof or without a height may well lie higher.
            _ => {
                higher.insert(side, true);
            }
        }
    }
    for (side, low) in heights {
        if !higher.contains_key(&side) {
            raise.point(
                format!("On the {side} side hail is claimed only within 3 ft of grade."),
                low.into_iter().map(|(at, _)| at).collect(),
            );
        }
    }
}

const LOW: Length = Length::feet_inches(3, 0);

/// Shingle hail on a side where soft metal was looked at and none of it is damaged.
pub(super) fn clean_soft_metal(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in hail(view) {
        let side = view.side(finding.place.as_ref());
        if finding.component != Some(Component::Shingles) || side.is_none() {
            continue;
        }
        let here = |place: Option<&Place>| view.side(place) == side;
        let soft = |component: Option<Component>| component.is_some_and(|c| c.facts().soft_metal);
        let hit = view
            .damage()
            .any(|(_, other)| soft(other.component) && here(other.place.as_ref()));
        let mut clean: Vec<RecordRef> = view
            .findings()
            .filter(|(_, other)| {
                soft(other.component)
                    && other.condition == Some(Condition::Cleared)
                    && here(other.place.as_ref())
            })
            .map(|(other, _)| other)
            .collect();
        let parts = Component::ALL.iter().filter(|c| c.facts().soft_metal);
        clean.extend(parts.flat_map(|component| {
            view.parts(*component)
                .filter(|(_, part)| {
                    part.condition == Some(Condition::Cleared) && here(part.place.as_ref())
                })
                .map(|(part, _)| part)
        }));
        if !hit && !clean.is_empty() {
            let sentence = format!(
                "Hail on shingles, but the soft metal of that side is clean: {}.",
                view.call(finding)
            );
            raise.point(sentence, std::iter::once(at).chain(clean).collect());
        }
    }
}

pub(super) fn total(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.damage() {
        let Some(component) = finding.component.filter(|c| c.facts().of_total) else {
            continue;
        };
        let counted = view.parts(component).any(|(_, part)| {
            part.count.is_some() && part.place.is_some() && part.place == finding.place
        });
        if finding.units_total.is_none() && !counted {
            raise.point(
                format!(
                    "Damaged units without how many there are: {}.",
                    view.call(finding)
                ),
                vec![at],
            );
        }
    }
}

pub(super) fn over_total(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.findings() {
        if let (Some(units), Some(total)) = (finding.units, finding.units_total)
            && units > total
        {
            raise.point(
                format!(
                    "{units} of {total} damaged cannot be: {}.",
                    view.call(finding)
                ),
                vec![at],
            );
        }
    }
}

pub(super) fn garage_panel(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.damage() {
        let named = finding.unit_name.as_ref().is_some_and(|n| !n.is_empty());
        if finding.component == Some(Component::GarageDoor) && !named {
            raise.point(
                format!("Which garage door panel? {}.", view.call(finding)),
                vec![at],
            );
        }
    }
}

/// Gutters and downspouts that were hit: their finish decides whether they are painted to match.
pub(super) fn finish(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.damage() {
        let Some(part) = finding
            .component
            .filter(|c| matches!(c, Component::Gutter | Component::Downspout))
        else {
            continue;
        };
        let known = finding.finish.is_some()
            || view
                .parts(part)
                .any(|(_, count)| count.finish.is_some() && count.place == finding.place);
        if !known {
            raise.point(
                format!("Factory colour or field-painted? {}.", view.call(finding)),
                vec![at],
            );
        }
    }
}

/// Parts stated by the foot: without a length nobody can write a line for them.
pub(super) fn extent(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.damage() {
        let Some(part) = finding
            .component
            .filter(|c| c.facts().unit == Unit::LinearFoot)
        else {
            continue;
        };
        let known = finding.extent_length.is_some()
            || view
                .parts(part)
                .any(|(_, count)| count.length.is_some() && count.place == finding.place);
        if !known {
            raise.point(
                format!(
                    "Damage by the foot without a length: {}.",
                    view.call(finding)
                ),
                vec![at],
            );
        }
    }
}

pub(super) fn mechanical_shared(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, finding) in view.damage() {
        if finding.cause == Some(Cause::Mechanical) && !office_only_finding(finding) {
            raise.point(
                format!(
                    "Mechanical damage is marked as shared: {}.",
                    view.call(finding)
                ),
                vec![at],
            );
        }
    }
}

fn hail<'a>(view: &'a View<'a>) -> impl Iterator<Item = (RecordRef, &'a Record<Finding>)> {
    view.damage()
        .filter(|(_, finding)| finding.cause == Some(Cause::Hail))
}
