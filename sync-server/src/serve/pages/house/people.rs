//! Who recorded the job, what the owner said, and the cautions of a climb.

use std::collections::BTreeMap;
use std::sync::Arc;

use chalkwalk_core::job::{DeviceId, Interview, Job, Millis, Property, Role};
use chalkwalk_core::review::{CAUTIONS, DEFERENCE};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::counted;
use super::super::memo::Worked;

#[derive(Clone, Copy, Default)]
pub(in crate::serve) struct Work {
    findings: usize,
    photos: usize,
    last: Option<Millis>,
}

fn work(job: &Job) -> BTreeMap<DeviceId, Work> {
    let mut work: BTreeMap<DeviceId, Work> = BTreeMap::new();
    for (_, header) in job.records.headers() {
        let own = work.entry(header.made.device).or_default();
        own.last = own.last.max(Some(header.made.at));
    }
    for finding in job.records.findings.values() {
        work.entry(finding.made.device).or_default().findings += 1;
    }
    for photo in job.records.photos.values() {
        work.entry(photo.made.device).or_default().photos += 1;
    }
    work
}

/// The same, worked out once.
pub(in crate::serve) fn recorded(worked: &Worked) -> Arc<BTreeMap<DeviceId, Work>> {
    worked.once("who", work)
}

/// The people of the job and how much each recorded.
pub(super) fn who_recorded(at: &AtJob) -> Markup {
    let job = &at.job;
    let work = recorded(&at.worked());
    html! {
        h2 { "Who recorded it" }
        @if job.crew.is_empty() { p.soft { "Nobody has recorded anything yet." } } @else {
            div.sheet { table.stack {
                thead { tr {
                    th scope="col" { "Person" } th scope="col" { "Part" } th scope="col" { "Device" }
                    th.count scope="col" { "Findings" } th.count scope="col" { "Photos" }
                    th scope="col" { "Last record" }
                } }
                tbody { @for (device, member) in &job.crew {
                    @let own = work.get(device).copied().unwrap_or_default();
                    tr {
                        th scope="row" { (member.person) }
                        td data-label="Part" { (member.role) }
                        td data-label="Device" { (member.device_name) }
                        td.count data-label="Findings" { (own.findings) }
                        td.count data-label="Photos" { (own.photos) }
                        td data-label="Last record" { @match own.last {
                            Some(last) => (at.when(last)),
                            None => span.soft { "none" },
                        } }
                    }
                } }
            } }
        }
    }
}

/// The owner, how to reach them, and what they said before the work.
pub(super) fn owner(at: &AtJob) -> Markup {
    let property = at.job.property();
    let interview = at.job.interview();
    let mut fields = property
        .map(|property| told_of(property))
        .unwrap_or_default();
    fields.extend(handed_in(at));
    let said = interview
        .map(|interview| said(interview))
        .unwrap_or_default();
    html! {
        div.cards {
            section.card {
                h2 { "The house and its owner" (edit(at, "property", property.is_some())) }
                (pairs(&fields, "Nothing is recorded of the owner yet."))
            }
            section.card {
                h2 { "What the owner said" (edit(at, "interview", interview.is_some())) }
                (pairs(&said, "No interview is recorded yet."))
            }
        }
    }
}

fn edit(at: &AtJob, kind: &str, known: bool) -> Markup {
    html! {
        @if known && at.may(Role::Estimator) {
            a.beside-head href={ (at.path()) "/records/" (kind) "/" (Job::only()) "/edit" } {
                (icon("pencil")) "Edit" span.out-of-sight { " " (kind) }
            }
        }
    }
}

type Told = Vec<(&'static str, String)>;

fn told_of(property: &Property) -> Told {
    let text = |value: &Option<String>| value.clone();
    let bearing = property
        .front_bearing
        .map(|bearing| format!("{bearing:.0}° from north"));
    told(&[
        ("Owner", text(&property.owner)),
        ("Phone", text(&property.owner_phone)),
        ("Mail", text(&property.owner_email)),
        (
            "Date of loss",
            property
                .date_of_loss
                .map(|date| date.format("%-d %B %Y").to_string()),
        ),
        (
            "Storeys",
            property.storeys.map(|storeys| storeys.to_string()),
        ),
        ("Built", property.year_built.map(|year| year.to_string())),
        ("Front faces", bearing),
        ("Code in force", text(&property.code_edition)),
        (
            "Ice barrier area",
            property
                .ice_barrier_designated
                .map(|known| known.to_string()),
        ),
        ("Measurement report", text(&property.measurement_report)),
        ("Storm reports", text(&property.storm_reports)),
    ])
}

/// The reports that were handed in as files.
fn handed_in(at: &AtJob) -> Told {
    let records = &at.job.records;
    let reports = records
        .measurement_reports
        .values()
        .filter(|report| report.stands());
    let names: Vec<String> = reports.filter_map(|report| report.name.clone()).collect();
    let storms = records
        .storm_reports
        .values()
        .filter(|report| report.stands())
        .count();
    let storms = (storms > 0).then(|| counted(storms as u64, "report kept", "reports kept"));
    told(&[
        (
            "Figures of the report",
            (!names.is_empty()).then(|| names.join(", ")),
        ),
        ("Storm reports near", storms),
    ])
}

fn said(interview: &Interview) -> Told {
    let text = |value: &Option<String>| value.clone();
    told(&[
        (
            "May climb",
            interview.may_climb.map(|known| known.to_string()),
        ),
        (
            "Leaks inside",
            interview.interior_leaks.map(|known| known.to_string()),
        ),
        ("Where", text(&interview.leak_details)),
        ("Earlier repairs", text(&interview.earlier_repairs)),
        (
            "Age of the roof",
            interview
                .roof_age_years
                .map(|years| format!("{years} years")),
        ),
        ("Earlier claims", text(&interview.earlier_claims)),
        ("Pets", text(&interview.pets)),
        ("Locked gates", text(&interview.locked_gates)),
        ("Remarks", text(&interview.remarks)),
    ])
}

fn told(fields: &[(&'static str, Option<String>)]) -> Told {
    let filled = |(name, value): &(&'static str, Option<String>)| Some((*name, value.clone()?));
    fields.iter().filter_map(filled).collect()
}

fn pairs(told: &Told, nothing: &str) -> Markup {
    html! {
        @if told.is_empty() { p.soft { (nothing) } } @else {
            dl.pairs { @for (name, value) in told { dt { (name) } dd { (value) } } }
        }
    }
}

/// What everybody who climbs is shown.
pub(super) fn cautions() -> Markup {
    html! {
        details.card {
            summary { "Cautions for ladder and roof" }
            p { (DEFERENCE) }
            ul { @for caution in CAUTIONS { li { (caution.text) " " span.soft.small { (caution.source) } } } }
        }
    }
}
