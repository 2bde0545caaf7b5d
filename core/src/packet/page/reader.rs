//! The pages of the owner and of production, from their reports.

use std::collections::BTreeMap;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use super::super::overlay::overlay;
use super::super::photos::PlacedPhoto;
use super::super::report::{FullReport, OwnersReport, PhotoEntry, ProductionReport, ReaderReport};
use super::super::when::utc_for_people;
use super::capital;
use crate::job::RecordId;
use crate::review::account::AccountLine;
use crate::sorted::Keyed;

struct ReaderPage<'a> {
    report: &'a FullReport,
    /// By record and by name.
    photos: BTreeMap<&'a str, (&'a PhotoEntry, &'a PlacedPhoto<'a>)>,
}

/// The page of a report that is no list of findings.
pub(in crate::packet) fn reader_page(report: &FullReport, photos: &[PlacedPhoto<'_>]) -> Markup {
    let pairs = || report.photos().iter().zip(photos);
    let by_name = pairs().map(|(entry, photo)| (entry.name.as_str(), (entry, photo)));
    let by_record = pairs().map(|(entry, photo)| (photo.shown.id.as_str(), (entry, photo)));
    let page = ReaderPage {
        report,
        photos: by_record.chain(by_name).keyed(),
    };
    let head = &report.head;
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="robots" content="noindex";
                title { (head.title) ", " (head.address) }
                style { (PreEscaped(include_str!("style.css"))) }
            }
            body {
                header.top {
                    p.kicker { (head.company) " · " (head.title) }
                    h1 { (head.address) }
                    dl.about {
                        div { dt { "Date of loss" } dd {
                            @match head.date_of_loss {
                                Some(day) => (day.format("%-d %b %Y")), None => "not recorded"
                            }
                        } }
                        div { dt { "Recorded by" } dd { (head.recorded_by.join(", ")) } }
                    }
                    p.statement { (head.statement) }
                }
                main {
                    @match &report.report {
                        ReaderReport::OwnersAccount(own) => (page.account(own)),
                        ReaderReport::ProductionSheet(sheet) => (page.sheet(sheet)),
                        _ => {}
                    }
                    section #photos {
                        h2 { "All photos, in walk order" }
                        @if report.photos().is_empty() { p { "None." } }
                        div.shots { @for entry in page.report.photos() {
                            (page.figure(&entry.name))
                        } }
                    }
                }
                footer { p { "Made " (utc_for_people(head.made_at.0)) ". "
                    a href="HOW-TO-CHECK.txt" { "How to check this folder" } "." } }
            }
        }
    }
}

impl ReaderPage<'_> {
    fn account(&self, report: &OwnersReport) -> Markup {
        let account = &report.account;
        let list = |lines: &[AccountLine]| {
            html! { @for line in lines {
                p { (line.text) }
                (self.of_records(&line.photos))
            } }
        };
        html! {
            section { h2 { "What was looked at" } (list(&account.looked_at)) }
            section {
                h2 { "What was observed" }
                @for place in &account.observed { h3 { (capital(&place.name)) } (list(&place.lines)) }
            }
            @if !account.before.is_empty() {
                section { h2 { "What was there before" } (list(&account.before)) }
            }
            @if !account.unsure.is_empty() {
                section { h2 { "What is unsure or could not be seen" } (list(&account.unsure)) }
            }
            section { h2 { "What happens next" } ul { @for step in &account.next { li { (step) } } } }
            section { h2 { "Take care" } ul { @for word in account.cautions { li { (word) } } } }
            section {
                h2 { "The signature" }
                @if !account.signature.signed_by.is_empty() {
                    p { "Signed by " (account.signature.signed_by.join(", ")) "." }
                }
                p { (account.signature.means) }
                p.statement { (account.no_promise) }
            }
        }
    }

    fn sheet(&self, report: &ProductionReport) -> Markup {
        let mut parts: Vec<&str> = Vec::new();
        for line in &report.sheet_lines {
            if parts.last() != Some(&line.part.as_str()) {
                parts.push(&line.part);
            }
        }
        html! {
            section {
                h2 { "Safety" }
                p.statement { (report.sheet.deference) }
                ul { @for caution in report.sheet.cautions {
                    li { (caution.text) " (" (caution.source) ")" }
                } }
            }
            section {
                h2 { "Materials" }
                @if let Some(why) = &report.sheet.materials_refused { p { (why) } }
                div.wide { table {
                    thead { tr { th { "Material" } th { "Place" } th.n { "Quantity" } th { "Unit" }
                        th { "Worked out from" } th { "Not known" } } }
                    tbody { @for line in &report.materials { tr {
                        td { (line.item) }
                        td { (line.place.as_deref().unwrap_or("")) }
                        td.n { @match (line.quantity, line.at_least) {
                            (Some(quantity), _) => (quantity),
                            (None, Some(least)) => { "at least " (least) }
                            (None, None) => "not known",
                        } }
                        td { (line.unit) }
                        td { (line.arithmetic) }
                        td { (line.not_known.join("; ")) }
                    } } }
                } }
            }
            @for part in parts {
                section {
                    h2 { (capital(part)) }
                    @for line in report.sheet_lines.iter().filter(|line| line.part == part) {
                        p { (line.text) @if line.certainty != "known" { " (" (line.certainty) ")" } }
                        div.shots { @for name in &line.photos { (self.figure(name)) } }
                    }
                }
            }
        }
    }

    fn of_records(&self, photos: &[RecordId]) -> Markup {
        html! { @if !photos.is_empty() {
            div.shots { @for id in photos { (self.figure(id.as_str())) } }
        } }
    }

    fn figure(&self, of: &str) -> Markup {
        let Some((entry, photo)) = self.photos.get(of) else {
            return html! {};
        };
        let role = entry.role.as_deref().unwrap_or("photo");
        let place = entry.place.as_deref().unwrap_or("");
        let picture = html! {
            @match &photo.thumbnail {
                Some(file) => {
                    img src=(file) alt={ "Photo " (entry.number) ": " (role) " " (place) }
                        loading="lazy";
                }
                None => { span.none { "No small picture of photo " (entry.number) } }
            }
            @if let Some(marks) = overlay(photo.shown.photo, photo.shown.capture.as_ref()) { (marks) }
        };
        html! {
            figure {
                @match &photo.file {
                    Some(file) => { a.frame href=(file) { (picture) } }
                    None => { span.frame { (picture) } }
                }
                figcaption {
                    b { (entry.number) " · " (role) } br;
                    @if let Some(caption) = &entry.caption { (caption) br; }
                    (entry.taken.as_deref().unwrap_or(""))
                    @if let Some(hash) = entry.blake3.as_deref().and_then(|hash| hash.get(..8)) {
                        " · " span.hash { (hash) }
                    }
                }
            }
        }
    }
}
