//! `/jobs/{job}/scope/inputs`: what the scope is made with and the record does not say.

use axum::Extension;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::Response;
use chalkwalk_core::review::scope::ScopeInputs;
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::fields::{Fields, Sent};
use super::super::form::{Field, Tone, notice};
use super::super::layout::Part;
use super::super::{store_unwell, to};
use super::inputs_form::{LETTERS, Wrong, letter, read, slopes};
use super::reckoned::{Reckoned, SetBy, SetInputs};
use crate::limits;
use crate::papers::Paper;
use crate::serve::Shared;
use crate::serve::guard::SignedIn;
use crate::store::{Actor, DeedKind};

/// `GET /jobs/{job}/scope/inputs`.
pub(in crate::serve) async fn page(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
) -> Response {
    match opened(&shared, &who, &id).await {
        Ok((at, reckoned)) => {
            let main = body(&at, &reckoned, None, &[], &html! {});
            at.page(Part::Scope, &[], &main)
        }
        Err(response) => response,
    }
}

async fn opened(shared: &Shared, who: &SignedIn, id: &str) -> Result<(AtJob, Reckoned), Response> {
    let at = AtJob::open(shared, who, id).await?;
    let reckoned = Reckoned::of(&at).await?;
    Ok((at, reckoned))
}

/// `POST /jobs/{job}/scope/inputs`.
pub(in crate::serve) async fn post(
    State(shared): State<Shared>,
    Extension(who): Extension<SignedIn>,
    Path(id): Path<String>,
    sent: Sent,
) -> Response {
    let fields = Fields::of(sent);
    let (at, reckoned) = match opened(&shared, &who, &id).await {
        Ok(opened) => opened,
        Err(response) => return response,
    };
    let again =
        |code: StatusCode, at: &AtJob, reckoned: &Reckoned, wrong: &Wrong, above: &Markup| {
            let main = body(at, reckoned, Some(&fields), wrong, above);
            let mut response = at.page(Part::Scope, &[], &main);
            *response.status_mut() = code;
            response
        };
    let inputs = match read(&fields, &at.job) {
        Ok(inputs) => inputs,
        Err(wrong) => {
            let words = html! { p { strong { "Nothing was set. " } "Mend what is marked." } };
            let above = notice(Tone::Bad, &words);
            return again(
                StatusCode::UNPROCESSABLE_ENTITY,
                &at,
                &reckoned,
                &wrong,
                &above,
            );
        }
    };
    let by = SetBy {
        by: at.person.name.clone(),
        at: shared.hub.now(),
    };
    let set = SetInputs {
        set: Some(by),
        inputs,
    };
    let (paper, was) = (Paper::Inputs(at.id), fields.get("was"));
    let bytes = serde_json::to_vec(&set).unwrap_or_default();
    match shared.papers.replace(paper, was, &bytes).await {
        Ok(true) => {}
        Ok(false) => {
            let by = reckoned.set.set.clone().unwrap_or_default();
            let above = notice(
                Tone::Warn,
                &html! {
                    p { strong { (by.by) " set this anew meanwhile, " (at.when(by.at)) ", so nothing was overwritten." } }
                    p { "What stands now: " (in_words(&reckoned.set.inputs)) }
                    p { "What you typed stands in the form. Send it again if it still holds." }
                },
            );
            return again(StatusCode::CONFLICT, &at, &reckoned, &Wrong::new(), &above);
        }
        Err(error) => return store_unwell(&shared, &error),
    }
    let actor = Actor::Person(at.person.id);
    let noted = shared
        .note(actor, DeedKind::InputsSet, Some(at.id), "")
        .await;
    match noted {
        Ok(()) => to(&shared, &format!("/jobs/{}/scope", at.id)),
        Err(error) => store_unwell(&shared, &error),
    }
}

fn in_words(inputs: &ScopeInputs) -> String {
    let open = || "not stated".to_owned();
    format!(
        "waste {}; replaced from {} hits; steep from {}; high from {} storeys; widest gap {}; code {}",
        inputs
            .waste_percent
            .map_or_else(open, |percent| format!("{percent} %")),
        inputs
            .replace_from_hits
            .map_or_else(open, |hits| hits.to_string()),
        inputs.steep_from,
        inputs.high_from_storeys,
        inputs.widest_gap,
        inputs.code_edition.clone().unwrap_or_else(open),
    )
}

fn body(
    at: &AtJob,
    reckoned: &Reckoned,
    typed: Option<&Fields>,
    wrong: &[(&'static str, String)],
    above: &Markup,
) -> Markup {
    let inputs = &reckoned.set.inputs;
    let percent = |percent: Option<f64>| percent.map_or_else(String::new, |p| p.to_string());
    let field = |name: &'static str, label: &'static str, hint: &'static str, now: String| {
        let value = typed.map_or(now, |typed| typed.get(name).to_owned());
        Field {
            name,
            label,
            hint,
            value: &value,
            wrong: wrong_with(wrong, name),
            most: Some(limits::NAME_BYTES),
            autocomplete: Some("off"),
            ..Field::default()
        }
        .line("text")
    };
    // After a mistake the form is still of what was seen first; after a clash, of what stands now.
    let was = match typed.filter(|_| !wrong.is_empty()) {
        Some(typed) => typed.get("was"),
        None => &reckoned.mark,
    };
    let rakes = typed.map_or(inputs.starter_at_rakes, |typed| typed.ticked("rakes"));
    html! {
        p.up { a href={ (at.path()) "/scope" } { "The scope" } }
        h2 { "What the scope is made with" }
        p.under { "Nothing here decides whether a slope is replaced: the crew's finding does, and you." }
        (above)
        form method="post" action={ (at.path()) "/scope/inputs" } {
            input type="hidden" name="was" value=(was);
            div.card {
                h3 { "Code" }
                (field("edition", "Code and edition in force", "As the local authority names it. Left open, what the crew recorded counts.", inputs.code_edition.clone().unwrap_or_default()))
                @if let Some(recorded) = at.job.property().and_then(|p| p.code_edition.as_deref()) {
                    p.hint { "Recorded at the house: " (recorded) }
                }
            }
            div.card {
                h3 { "Roof" }
                div.fields {
                    (field("waste", "Waste for cutting, percent", "There is no default: habits differ.", percent(inputs.waste_percent)))
                    (field("hits", "Hits in a test square from which a slope is replaced", "Somebody's rule, where one is stated. Left open, none is used.", inputs.replace_from_hits.map_or_else(String::new, |hits| hits.to_string())))
                    (field("steep", "Steep from", "7/12 unless said: common practice, no source.", inputs.steep_from.to_string()))
                    (field("storeys", "High from so many storeys", "2 unless said: common practice, no source.", inputs.high_from_storeys.to_string()))
                    (field("gap", "Widest gap between deck boards that stays", "3/8\" unless said: what officials report as the most.", inputs.widest_gap.to_string()))
                    (field("rule", "Whose rule on gaps", "", inputs.gap_rule.clone()))
                }
                label.choice { input type="checkbox" name="rakes" value="yes" checked[rakes]; "A starter course runs along the rakes too" }
            }
            (slope_rows(at, inputs, typed, wrong_with(wrong, "waste_of")))
            button.main { "Make the scope with this" }
        }
    }
}

fn wrong_with<'a>(wrong: &'a [(&'static str, String)], name: &str) -> Option<&'a str> {
    let found = wrong.iter().find(|(known, _)| *known == name);
    found.map(|(_, words)| words.as_str())
}

fn slope_rows(
    at: &AtJob,
    inputs: &ScopeInputs,
    typed: Option<&Fields>,
    wrong: Option<&str>,
) -> Markup {
    let rows = slopes(&at.job)
        .into_iter()
        .enumerate()
        .map(|(row, (id, name))| {
            let again = |field: &str| {
                typed.map(|typed| typed.all(field).nth(row).unwrap_or_default().to_owned())
            };
            let now = inputs
                .waste_percent_of
                .get(&id)
                .map_or_else(String::new, |p| p.to_string());
            let waste = again("waste_of").unwrap_or(now);
            let roof = again("roof").unwrap_or_else(|| letter(inputs, &id).to_owned());
            (id, name, waste, roof)
        });
    let rows: Vec<_> = rows.collect();
    html! {
        @if !rows.is_empty() {
            div.card {
                h3 { "Slope by slope" }
                p.hint { "Slopes with the same letter are roofed as one: where the record has one of \
                          them replaced, the others go with it." }
                @if let Some(words) = wrong { p.wrong { (words) } }
                table.stack {
                    thead { tr { th scope="col" { "Slope" } th scope="col" { "Waste, percent" } th scope="col" { "Roofed as one" } } }
                    tbody { @for (id, name, waste, roof) in &rows { tr {
                        th scope="row" { (name) input type="hidden" name="slope" value=(id); }
                        td data-label="Waste, percent" {
                            input type="text" name="waste_of" inputmode="decimal" value=(waste)
                                aria-label={ "Waste of the " (name) ", percent" };
                        }
                        td data-label="Roofed as one" {
                            select name="roof" aria-label={ "Roofed as one: " (name) } {
                                option value="" selected[roof.is_empty()] { "by itself" }
                                @for letter in LETTERS {
                                    option value=(letter) selected[roof == letter] { "roof " (letter) }
                                }
                            }
                        }
                    } } }
                }
            }
        }
    }
}
