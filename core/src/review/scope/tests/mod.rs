//! The scope, rule by rule, on the invented house.

mod along;
mod changes;
mod demo;
mod found;
mod prices;
mod random;
mod slopes;

use super::*;
use crate::job::*;
use crate::review::house::{House, at, id, record};

pub(super) fn scope_of(house: &House) -> Scope {
    scope(&house.job, &ScopeInputs::default())
}

pub(super) fn find<'a>(scope: &'a Scope, item: &Item, action: WorkAction) -> Option<&'a ScopeLine> {
    scope
        .lines
        .iter()
        .find(|line| line.item == *item && line.action == action)
}

pub(super) fn quantity(scope: &Scope, item: &Item, action: WorkAction) -> String {
    match find(scope, item, action) {
        Some(line) => line
            .quantity
            .map_or("not known".to_owned(), |q| q.to_string()),
        None => "no line".to_owned(),
    }
}

/// A finding of storm damage.
pub(super) fn hail(place: Place, component: Component) -> Finding {
    Finding {
        place: Some(place),
        component: Some(component),
        condition: Some(Condition::Damaged),
        cause: Some(Cause::Hail),
        ..Finding::default()
    }
}

pub(super) fn left() -> Place {
    RecordRef::side(Side::Left)
}
