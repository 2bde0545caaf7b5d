//! Findings: the list, and one finding with all it holds. Changing one is as with every record.

mod filter;
mod table;

pub(in crate::serve) use table::rows;

use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use chalkwalk_core::job::{Kind, RecordId, RecordRef, Role};
use chalkwalk_core::review::findings_list::findings_list;
use chalkwalk_core::review::{FindingRow, FindingsList, PlaceGroup, Reader};
use maud::{Markup, html};

use super::super::Shared;
use super::super::guard::SignedIn;
use super::super::icons::icon;
use super::at_job::AtJob;
use super::layout::Part;
use super::memo::Worked;
use super::shots::Shots;
use super::{counted, edit, escaped, nothing_here};
use crate::limits;
use filter::Filter;

/// The findings as the office reads them.
pub(in crate::serve) fn listed(worked: &Worked) -> Arc<FindingsList> {
    worked.once("office", |job| findings_list(job, Reader::Office))
}

/// `GET /jobs/{job}/findings`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    Query(query): Query<Vec<(String, String)>>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let shots = Shots::of(&at).await?;
    let list = listed(&at.worked());
    let filter = Filter::of(&query);
    let (shown, of) = count(&list, &filter);
    let pages = (shown as usize).div_ceil(limits::FINDINGS_PAGE).max(1);
    let asked = query.iter().find(|(name, _)| name == "page");
    let page = asked
        .and_then(|(_, page)| page.parse::<usize>().ok())
        .unwrap_or(1)
        .clamp(1, pages);
    let turned = Paged {
        page,
        pages,
        query: &query,
    };
    let mut before = (page - 1) * limits::FINDINGS_PAGE;
    let mut room = limits::FINDINGS_PAGE;
    let groups: Vec<(&PlaceGroup, Vec<&FindingRow>)> = list
        .groups
        .iter()
        .map(|group| {
            let rows = group.findings.iter().filter(|row| filter.takes(row));
            let rows: Vec<&FindingRow> = rows.collect();
            let skipped = before.min(rows.len());
            before -= skipped;
            let rows: Vec<_> = rows.into_iter().skip(skipped).take(room).collect();
            room -= rows.len();
            (group, rows)
        })
        .collect();
    let path = format!("{}/findings", at.path());
    let main = html! {
        header.head {
            h2 { "Findings" }
            @if at.may(Role::Estimator) {
                a.button href={ (at.path()) "/records/finding/new" } { (icon("plus")) "Add a finding" }
            }
        }
        @if of == 0 {
            div.card.empty {
                p { "No finding has come in yet. The crew's phones hand in what they record as soon \
                     as they meet the office; the list fills by itself." }
            }
        } @else {
            (filter.form(&path, &at.job, &list))
            p.under role="status" {
                @if filter.is_open() { (counted(of, "finding", "findings")) }
                @else { (shown) " of " (counted(of, "finding", "findings")) }
            }
            @if shown == 0 {
                div.card.empty { p { "No finding is of this kind. " a href=(path) { "Show all" } } }
            }
            (turned.links(&path))
            @for (group, rows) in &groups {
                @if !rows.is_empty() { (table::group(&at, &shots, group, rows)) }
            }
            (turned.links(&path))
        }
    };
    Ok(at.page(Part::Findings, &[], &main))
}

/// One page of a long list, and the ways to the others.
struct Paged<'a> {
    page: usize,
    pages: usize,
    query: &'a [(String, String)],
}

impl Paged<'_> {
    fn links(&self, path: &str) -> Markup {
        let to = |page: usize| {
            let mut to = format!("{path}?page={page}");
            let rest = self.query.iter().filter(|(name, _)| name != "page");
            for (name, value) in rest {
                to.push_str(&format!("&{}={}", escaped(name), escaped(value)));
            }
            to
        };
        html! {
            @if self.pages > 1 {
                p.row.tight {
                    @if self.page > 1 {
                        a href=(to(self.page - 1)) { (icon("chevron-left")) "The ones before" }
                    }
                    span.soft { "Page " (self.page) " of " (self.pages) }
                    @if self.page < self.pages {
                        a href=(to(self.page + 1)) { "The next ones" (icon("chevron-right")) }
                    }
                }
            }
        }
    }
}

fn count(list: &FindingsList, filter: &Filter) -> (u64, u64) {
    let rows = || list.groups.iter().flat_map(|group| &group.findings);
    (
        rows().filter(|row| filter.takes(row)).count() as u64,
        rows().count() as u64,
    )
}

/// `GET /jobs/{job}/findings/{finding}`.
pub(in crate::serve) async fn one_page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path((id, finding)): Path<(String, String)>,
    Query(query): Query<Vec<(String, String)>>,
) -> Result<Response, Response> {
    let at = AtJob::open(&shared, &who, &id).await?;
    let known = finding.parse::<RecordId>().ok();
    let known = known.filter(|id| at.job.records.findings.contains_key(id));
    let known = known.ok_or_else(|| nothing_here(&shared))?;
    let done = query
        .iter()
        .find(|(name, _)| name == "done")
        .map(|(_, what)| what.as_str());
    let main = edit::body(&at, &RecordRef::new(Kind::Finding, known), done).await?;
    Ok(at.page(Part::Findings, &[], &main))
}
