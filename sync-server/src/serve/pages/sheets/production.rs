//! `GET /jobs/{job}/production`: what the crew that lays the roof must know of this house.

use std::sync::Arc;

use axum::Extension;
use axum::extract::{Path, State};
use axum::response::Response;
use chalkwalk_core::review::Reader;
use chalkwalk_core::review::production::{
    Certainty, ProductionSheet, SheetLine, SheetOptions, production_sheet,
};
use chalkwalk_core::review::scope::ScopeInputs;
use chalkwalk_core::trade::materials::{MaterialLine, Waste};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::estimate::{Reckoned, aside};
use super::super::form::{Tone, notice};
use super::super::layout::Part;
use super::super::memo::Worked;
use super::super::shots::Shots;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::serve::icons::icon;

/// Photos beside a line.
const BESIDE: usize = 4;

/// `GET /jobs/{job}/production`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    let read = async {
        let at = AtJob::open(&shared, &who, &id).await?;
        let reckoned = Reckoned::of(&at).await?;
        let (inputs, with) = (reckoned.set.inputs, reckoned.mark);
        let worked = at.worked();
        let sheet = aside(&at.shared, move || sheet_with(&worked, &inputs, &with)).await?;
        let pictures = Shots::of(&at).await?;
        Ok::<_, Response>((at, sheet, pictures))
    };
    match read.await {
        Ok((at, sheet, pictures)) => at.page(
            Part::Production,
            &["print.js"],
            &body(&at, &sheet, &pictures),
        ),
        Err(response) => response,
    }
}

/// The sheet of a reading of a job with what an estimator set, whose mark is given.
pub(in crate::serve) fn sheet_with(
    worked: &Worked,
    inputs: &ScopeInputs,
    mark: &str,
) -> Arc<ProductionSheet> {
    let mut options = SheetOptions::default();
    options.choices.waste = inputs.waste_percent.map(|percent| Waste {
        name: "as the office set it".to_owned(),
        percent,
    });
    options.choices.starter_at_rakes = inputs.starter_at_rakes.then_some(true);
    options.high_from_storeys = inputs.high_from_storeys;
    worked.once(mark, |job| production_sheet(job, Reader::Office, &options))
}

fn body(at: &AtJob, sheet: &ProductionSheet, pictures: &Shots) -> Markup {
    let parts: [(&str, &str, &[SheetLine]); 8] = [
        (
            "Access",
            "Gates, pets, height, steep slopes.",
            &sheet.access,
        ),
        ("Deck", "What the roofing is nailed to.", &sheet.deck),
        ("Layers", "", &sheet.layers),
        ("In the way of tear-off", "", &sheet.obstacles),
        (
            "Confirm at tear-off",
            "Nobody could see it from outside.",
            &sheet.confirm_at_tear_off,
        ),
        (
            "There before",
            "So that nobody is blamed for it.",
            &sheet.prior_conditions,
        ),
        ("Paint to match", "", &sheet.paint_to_match),
        ("Comes off and goes back", "", &sheet.detach_and_reset),
    ];
    html! {
        h2 { "Production sheet" }
        (contact(sheet))
        div.row.no-print {
            a.button href={ (at.path()) "/scope/inputs" } { (icon("settings")) "Waste and choices" }
            button type="button" data-print hidden { (icon("printer")) "Print" }
        }
        div.note.warn { (icon("triangle-alert")) div {
            p { strong { (sheet.deference) } }
            ul.quiet { @for caution in sheet.cautions { li { (caution.text) " " span.soft.small { "(" (caution.source) ")" } } } }
        } }
        (materials(sheet))
        @for (title, under, lines) in parts {
            @if !lines.is_empty() {
                section {
                    h3 { (title) }
                    @if !under.is_empty() { p.hint { (under) } }
                    ul.sheet-lines { @for line in lines { li {
                        p { (certainty(line.certainty)) (line.text) }
                        (pictures.row(&at.job, &line.photos, BESIDE))
                    } } }
                }
            }
        }
    }
}

fn contact(sheet: &ProductionSheet) -> Markup {
    let contact = sheet.contact.clone().unwrap_or_default();
    let parts: Vec<&str> = [&contact.owner, &contact.phone, &contact.email]
        .into_iter()
        .filter_map(Option::as_deref)
        .collect();
    html! {
        p.under {
            @if sheet.address.is_empty() { "address not recorded" } @else { (sheet.address) }
            @if !parts.is_empty() { " · owner: " (parts.join(", ")) }
        }
    }
}

fn certainty(certainty: Certainty) -> Markup {
    html! {
        @match certainty {
            Certainty::Known => {},
            Certainty::Confirm => { span.state.unsure { (icon("circle-dashed")) "confirm" } " " },
            Certainty::Unknown => { span.state.unsure { (icon("circle-question-mark")) "nobody recorded it" } " " },
        }
    }
}

fn materials(sheet: &ProductionSheet) -> Markup {
    html! {
        h3 { "Materials" }
        @if let Some(words) = &sheet.materials_refused {
            (notice(Tone::Warn, &html! { p { "No materials could be worked out: " (words) "." } }))
        } @else if sheet.materials.is_empty() {
            p.soft { "The record names no roof to work them out from." }
        } @else {
            div.sheet { table.stack {
                thead { tr {
                    th scope="col" { "Material" } th.count scope="col" { "Quantity" }
                    th scope="col" { "How it is worked out" }
                } }
                tbody { @for line in &sheet.materials { (material(line)) } }
            } }
        }
    }
}

fn material(line: &MaterialLine) -> Markup {
    let unit = line.unit.label();
    html! {
        tr {
            th scope="row" { (line.item.label()) @if let Some(place) = &line.place { div.soft { (place) } } }
            td.count data-label="Quantity" {
                @match (line.quantity, line.at_least) {
                    (Some(quantity), _) => strong.nowrap { (amount(quantity)) " " (unit) },
                    (None, Some(least)) => { "at least " strong.nowrap { (amount(least)) " " (unit) } },
                    (None, None) => span.state.unsure { (icon("circle-question-mark")) "not known" },
                }
            }
            td data-label="How" {
                (line.arithmetic)
                @for words in &line.not_known { p.unsure-line { span.state.unsure { (icon("circle-question-mark")) "not known" } " " (words) } }
                @if let Some(rule) = &line.rule { div.soft.small { (rule) ", to be confirmed with the local authority" } }
            }
        }
    }
}

/// A quantity with two decimals at most.
fn amount(quantity: f64) -> String {
    let words = format!("{quantity:.2}");
    words.trim_end_matches('0').trim_end_matches('.').to_owned()
}
