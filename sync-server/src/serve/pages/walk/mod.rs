//! The walk round the house: one photo after the other in the order in which a stranger would see
//! them, each at an address of its own, with what was found beside it.

mod facts;
mod files;
mod order;
mod page;

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::job::RecordId;
use maud::html;

use super::super::Shared;
use super::super::guard::SignedIn;
use super::at_job::AtJob;
use super::layout::Part;
use super::{nothing_here, store_unwell};

pub(in crate::serve) use order::Walk;

/// `GET /jobs/{job}/walk`: the first photo.
pub(in crate::serve) async fn first(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    shown(&at, 0).await
}

/// `GET /jobs/{job}/walk/{photo}`.
pub(in crate::serve) async fn photo(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, photo)): Path<(String, String)>,
) -> Response {
    let at = match AtJob::open(&shared, &who, &id).await {
        Ok(at) => at,
        Err(response) => return response,
    };
    let worked = at.worked();
    let place = photo
        .parse::<RecordId>()
        .ok()
        .and_then(|id| worked.walk().place_of(&id));
    match place {
        Some(place) => shown(&at, place).await,
        None => nothing_here(&shared),
    }
}

async fn shown(at: &AtJob, place: usize) -> Response {
    let worked = at.worked();
    let walk = worked.walk();
    if walk.steps.is_empty() {
        let main = html! {
            h2 { "Walk round" }
            div.sheet.empty {
                strong { "No photo has come in yet." }
                p { "The walk begins with the first photo of the job, the front of the house. "
                    a href=(at.path()) { "What is still on its way" } }
            }
        };
        return at.page(Part::Walk, &[], &main);
    }
    match files::Here::of(at, walk, place).await {
        Ok(here) => {
            let main = page::main(at, walk, place, &here);
            at.page(Part::Walk, &["walk.js"], &main)
        }
        Err(error) => store_unwell(&at.shared, &error),
    }
}
