//! One record by itself, whatever its kind: what it says, how it came about, and changing it. Every
//! change is an action in the document, signed by the person's pen, and reaches the phones.

mod change;
mod fields;
mod form;
mod one;
mod plan;
mod spec;
mod tables;

pub(in crate::serve) use change::{
    add, amend, code_of, count, edit_page, new_page, photos, reinstate, strike,
};
pub(in crate::serve) use fields::{in_a_sentence, plain};
pub(in crate::serve) use one::{body, not_written, page, strike_form};
pub(in crate::serve) use tables::{label, sheet_of};

use chalkwalk_core::job::{AnyFields, FieldValue, Kind, Place, RecordRef};

use super::at_job::AtJob;
use super::layout::Part;
use super::words::{capital, record_path};

/// Where records of a kind are changed.
fn records(at: &AtJob, kind: Kind) -> String {
    format!("{}/records/{}", at.path(), kind.code())
}

/// A record's own page.
fn own_path(at: &AtJob, of: &RecordRef) -> String {
    match of.kind {
        Kind::Finding => format!("{}/findings/{}", at.path(), of.id),
        kind => format!("{}/{}", records(at, kind), of.id),
    }
}

/// Where a record lies.
fn place_of(fields: &AnyFields) -> Option<Place> {
    let mut place = None;
    fields.each(&mut |key, value| {
        if matches!(key, "place" | "slope") {
            place = RecordRef::from_scalar(value.as_ref());
        }
    });
    place
}

/// The page above a record, and its words; a new one lies at `place`.
fn back(at: &AtJob, of: &RecordRef, place: Option<&str>) -> (String, String) {
    let job = at.path();
    match of.kind {
        Kind::Finding => return (format!("{job}/findings"), "All findings".to_owned()),
        Kind::Photo => return (format!("{job}/walk/{}", of.id), "The walk round".to_owned()),
        Kind::Property | Kind::Interview => return (job, "The house".to_owned()),
        Kind::Question | Kind::Answer | Kind::Note => {
            return (format!("{job}/open"), "Open points".to_owned());
        }
        _ => {}
    }
    let itself = of.is_place().then(|| of.clone());
    let place = place.and_then(|place| place.parse().ok()).or(itself);
    let place = place.filter(|place: &Place| at.job.records.header(place).is_some());
    match place.and_then(|place| Some((record_path(&place)?, at.job.place_name(&place)))) {
        Some((path, name)) => (format!("{job}{path}"), capital(&name)),
        None => (format!("{job}/sides"), "Sides and slopes".to_owned()),
    }
}

/// The chapter of a job that a kind of record belongs to.
fn part_of(kind: Kind) -> Part {
    match kind {
        Kind::Finding => Part::Findings,
        Kind::Photo => Part::Walk,
        Kind::Property | Kind::Interview => Part::House,
        Kind::Question | Kind::Answer | Kind::Note => Part::Open,
        _ => Part::Sides,
    }
}
