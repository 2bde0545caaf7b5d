//! `GET /jobs/{job}/custody/findings.csv`: the findings as CSV, for the office.

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::document::Refusal;
use chalkwalk_core::packet::{PacketKind, findings_table};
use chalkwalk_core::photo::walk_order;

use super::super::at_job::AtJob;
use super::super::estimate::{aside, given};
use super::super::unwell;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;

/// `GET /jobs/{job}/custody/findings.csv`.
pub(in crate::serve) async fn findings(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    let made = async {
        let at = AtJob::open(&shared, &who, &id).await?;
        let job = at.job.clone();
        let work = move || findings_table(&job, &walk_order(&job), PacketKind::Archive);
        let table = aside(&shared, work).await?;
        let table = table.map_err(|error| unwell(&shared, &Refusal::Storage(error.to_string())))?;
        Ok(given(&at, "findings.csv", "text/csv; charset=utf-8", table).await)
    };
    made.await.unwrap_or_else(|response| response)
}
