//! An estimator's changes, laid over the lines that are worked out. What stood before stays
//! readable, and no change is lost when its line no longer stands.

use super::line::{Earlier, LineChange, Orphan};
use super::sheet::Order;
use super::{Basis, Item, LineKey, Quantity, ScopeLine};
use crate::job::*;
use crate::sorted::Sorted;

/// The lines after the changes, those left out, and changes without a line.
pub(super) struct Changed {
    pub(super) lines: Vec<ScopeLine>,
    pub(super) left_out: Vec<ScopeLine>,
    pub(super) orphaned: Vec<Orphan>,
}

/// Applies the standing changes, the earliest first, so that a later one wins: by the time it was
/// made, then by its id.
pub(super) fn apply(job: &Job, lines: Vec<ScopeLine>) -> Changed {
    let mut changes: Vec<(RecordRef, &Record<ScopeChange>)> =
        crate::review::view::standing(Kind::ScopeChange, &job.records.scope_changes).collect();
    changes.order_by_key(|(at, change)| (change.made.at, at.id.clone()));
    let mut all = lines;
    let mut orphaned = Vec::new();
    for (at, change) in changes {
        let key = key_of(&at, change);
        let kind = change.kind;
        let standing = all.iter_mut().find(|line| line.key == key);
        match (kind, standing) {
            (Some(kind), Some(line)) => amend(line, kind, &at, change),
            (Some(ScopeChangeKind::Added), None) => all.push(added(job, key, &at, change)),
            _ => orphaned.push(orphan(job, key, at, change)),
        }
    }
    let order = Order::of(job);
    all.sort_by_cached_key(|line| order.rank(line));
    let (left_out, lines) = all.into_iter().partition(|line| {
        let change = line.change.as_ref();
        change.is_some_and(|change| change.kind == ScopeChangeKind::LeftOut)
    });
    Changed {
        lines,
        left_out,
        orphaned,
    }
}

/// The key that a change names; an added line without one is known by its record.
fn key_of(at: &RecordRef, change: &ScopeChange) -> LineKey {
    match change
        .line
        .as_deref()
        .map(str::trim)
        .filter(|line| !line.is_empty())
    {
        Some(line) => LineKey::named(line),
        None => LineKey::named(&at.to_string()),
    }
}

fn amend(
    line: &mut ScopeLine,
    kind: ScopeChangeKind,
    at: &RecordRef,
    change: &Record<ScopeChange>,
) {
    let mut was = Vec::new();
    let (mut by, mut reason) = (None, None);
    if let Some(before) = line.change.take() {
        was = before.was;
        (by, reason) = (Some(before.by), Some(before.reason));
    }
    was.push(Earlier {
        action: line.action,
        quantity: line.quantity,
        audience: line.audience,
        by,
        reason,
    });
    if kind != ScopeChangeKind::LeftOut {
        line.action = change.action.unwrap_or(line.action);
        line.audience = audience(change).unwrap_or(line.audience);
        if let Some(quantity) = stated(change, line.unit()) {
            line.quantity = Some(quantity);
            line.how = format!("{quantity}, as the estimator set it");
        }
    }
    note(line, kind, at, change, was);
}

fn added(job: &Job, key: LineKey, at: &RecordRef, change: &Record<ScopeChange>) -> ScopeLine {
    let item = match change
        .item
        .as_deref()
        .map(str::trim)
        .filter(|item| !item.is_empty())
    {
        Some(words) => Item::from_words(words),
        None => Item::Other("an item without a name".to_owned()),
    };
    let quantity = stated(change, item.unit());
    let mut line = ScopeLine {
        key,
        place_words: match &change.place {
            Some(place) => job.place_name(place),
            None => "house as a whole".to_owned(),
        },
        place: change.place.clone(),
        item_words: change
            .item
            .clone()
            .unwrap_or_else(|| item.label().to_owned()),
        item,
        size: None,
        action: change.action.unwrap_or(WorkAction::Inspect),
        quantity,
        how: match quantity {
            Some(quantity) => format!("{quantity}, as the estimator set it"),
            None => String::new(),
        },
        findings: Vec::new(),
        records: vec![at.clone()],
        photos: Vec::new(),
        basis: Basis::Estimator,
        unsure: Vec::new(),
        audience: audience(change).unwrap_or(Audience::Shared),
        change: None,
    };
    if quantity.is_none() {
        line.unsure.push("the estimator set no quantity".to_owned());
    }
    if change.action.is_none() {
        line.unsure.push("the estimator named no work".to_owned());
    }
    note(&mut line, ScopeChangeKind::Added, at, change, Vec::new());
    line
}

fn note(
    line: &mut ScopeLine,
    kind: ScopeChangeKind,
    at: &RecordRef,
    change: &Record<ScopeChange>,
    was: Vec<Earlier>,
) {
    for conflict in &change.conflicts {
        line.unsure.push(format!(
            "\"{}\" of the estimator's change was stated differently: settle it",
            conflict.field.replace('_', " ")
        ));
    }
    line.change = Some(LineChange {
        kind,
        record: at.clone(),
        by: change.made,
        reason: change.reason.clone().unwrap_or_default(),
        was,
    });
}

/// The quantity a change states; without a unit of its own it is in the line's.
fn stated(change: &ScopeChange, unit: Option<Unit>) -> Option<Quantity> {
    Quantity::new(change.quantity?, change.unit.or(unit)?)
}

/// In doubt a line stays in the office: a disputed or newer word counts as office only.
fn audience(change: &Record<ScopeChange>) -> Option<Audience> {
    let field = "audience";
    let doubtful = change
        .conflicts
        .iter()
        .any(|conflict| conflict.field == field)
        || change.unread.iter().any(|key| key == field);
    if doubtful {
        return Some(Audience::OfficeOnly);
    }
    change.audience
}

fn orphan(job: &Job, line: LineKey, at: RecordRef, change: &Record<ScopeChange>) -> Orphan {
    let mut words = match change.kind {
        Some(kind) => format!("{kind} {line}"),
        None => format!("a change to {line} that does not say what is done"),
    };
    let item = change
        .item
        .as_deref()
        .map(str::trim)
        .filter(|item| !item.is_empty());
    if let Some(item) = item {
        words = format!("{words}: {item}");
    }
    if let Some(place) = &change.place {
        words = format!("{words}, {}", job.place_name(place));
    }
    if let Some(action) = change.action {
        words = format!("{words}, {action}");
    }
    if let Some(quantity) = change.quantity {
        let unit = change.unit.map_or("", Unit::label);
        words = format!("{words}, {quantity} {unit}").trim_end().to_owned();
    }
    let reason = change.reason.as_deref().unwrap_or("no reason given");
    Orphan {
        words: format!("{words}. Reason: {reason}"),
        audience: audience(change).unwrap_or(Audience::Shared),
        by: change.made,
        record: at,
        line,
    }
}
