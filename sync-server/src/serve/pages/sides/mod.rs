//! The house place by place: what was found, counted, measured and seen at each side, slope, room
//! and structure, and what the hits and the storm reports say together.

mod eaves;
mod edges;
mod measures;
mod one;
mod overview;
mod pattern;
mod pitches;
mod squares;
mod storms;

pub(in crate::serve) use overview::counted;

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::job::{Kind, RecordRef, Role};
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::super::icons::icon;
use super::at_job::AtJob;
use super::layout::Part;
use super::nothing_here;

/// `GET /jobs/{job}/sides`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    Ok(at.page(Part::Sides, &[], &overview::body(&at)))
}

/// `GET /jobs/{job}/sides/{kind}/{place}`.
pub(in crate::serve) async fn place_page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, kind, place)): Path<(String, String, String)>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let kind = Kind::from_code(&kind);
    let place = kind
        .zip(place.parse().ok())
        .map(|(kind, id)| RecordRef::new(kind, id));
    let place = place.filter(|place| place.is_place() && at.job.records.header(place).is_some());
    let Some(place) = place else {
        return Err(nothing_here(&shared));
    };
    let main = one::body(&at, &place).await?;
    Ok(at.page(Part::Sides, &[], &main))
}

/// The way to a form that adds a record, with fields filled in; for those who may.
fn add(at: &AtJob, kind: &str, filled: &str, words: &str) -> Markup {
    html! {
        @if at.may(Role::Estimator) {
            a.button.small href={ (at.path()) "/records/" (kind) "/new?" (filled) } { (icon("plus")) (words) }
        }
    }
}

/// A place with the way to its page.
fn linked(at: &AtJob, place: &RecordRef) -> Markup {
    let name = super::words::capital(&at.job.place_name(place));
    html! { a href={ (at.path()) "/sides/" (place.kind.code()) "/" (place.id) } { (name) } }
}
