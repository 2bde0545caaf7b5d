//! The form of a finding, new or changed, with what was typed and what another wrote meanwhile.

use std::collections::BTreeMap;

use chalkwalk_core::job::{Finding, RecordId, Stamp};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::deeds::who;
use super::super::form::{Field, Tone, notice};
use super::super::words::finding_name;
use super::fields::{GROUPS, Input, Spec, choices, in_words, text_of};
use super::plan::Typed;

/// What the form shows beside the record.
#[derive(Default)]
pub(super) struct Sheet<'a> {
    /// The finding as it stands; `None` for a new one.
    pub(super) finding: Option<&'a Finding>,
    /// Fields with two statements: they are settled elsewhere.
    pub(super) disputed: Vec<&'a str>,
    /// What was typed; nothing where the form is opened.
    pub(super) typed: Typed,
    /// What is wrong, by field.
    pub(super) wrong: BTreeMap<&'static str, String>,
    /// Fields that another wrote meanwhile, with who and when.
    pub(super) clash: BTreeMap<&'static str, Option<Stamp>>,
    /// What is wrong with the form as a whole.
    pub(super) trouble: Option<String>,
}

/// The page with the form. `id` is the finding's, a fresh one for a new finding.
pub(super) fn body(at: &AtJob, id: &RecordId, sheet: &Sheet<'_>) -> Markup {
    let list = format!("{}/findings", at.path());
    let (title, action, back) = match sheet.finding {
        Some(finding) => {
            let one = format!("{list}/{id}");
            (format!("Edit: {}", finding_name(finding)), one.clone(), one)
        }
        None => ("Add a finding".to_owned(), list.clone(), list),
    };
    html! {
        p.up { a href=(back) { (icon("arrow-left")) "Back without a change" } }
        h2 { (title) }
        (heads_up(sheet))
        form.narrow.edit[sheet.finding.is_some()] method="post" action=(action) novalidate {
            @if sheet.finding.is_none() { input type="hidden" name="id" value=(id); }
            @for (heading, specs) in GROUPS {
                fieldset {
                    legend { (heading) }
                    div.fields { @for spec in specs.iter().filter(|spec| !long(spec)) { (field(at, sheet, spec)) } }
                    @for spec in specs.iter().filter(|spec| long(spec)) { (field(at, sheet, spec)) }
                }
            }
            @if sheet.finding.is_none() {
                p.soft.small { "Hits are counted at the house: they come from the phones." }
            }
            div.row {
                button.main { (icon("check")) "Record" }
                a.button href=(back) { "Cancel" }
            }
        }
    }
}

fn long(spec: &Spec) -> bool {
    matches!(spec.input, Input::Lines)
}

fn heads_up(sheet: &Sheet<'_>) -> Markup {
    html! {
        @if !sheet.clash.is_empty() {
            (notice(Tone::Bad, &html! {
                p { b { "Nothing was written yet." } " Somebody changed the same while you were \
                    writing. What you typed is kept below; choose at each marked field which of \
                    the two holds, then record again." }
            }))
        }
        @if !sheet.wrong.is_empty() {
            (notice(Tone::Bad, &html! {
                p { b { "Nothing was written yet." } " Some of it cannot be read; it is marked below." }
            }))
        }
        @if let Some(trouble) = &sheet.trouble {
            (notice(Tone::Bad, &html! { p { b { "Nothing was written. " } (trouble) } }))
        }
    }
}

fn field(at: &AtJob, sheet: &Sheet<'_>, spec: &Spec) -> Markup {
    if sheet.disputed.contains(&spec.key) {
        return html! {
            div.field {
                p.label { (spec.label) }
                p.hint { "Two people stated this differently. "
                    a href={ (at.path()) "/open#settle" } { "Settle it first" } "." }
            }
        };
    }
    let now = sheet
        .finding
        .map(|finding| text_of(finding, spec))
        .unwrap_or_default();
    let was = format!("was-{}", spec.key);
    let value = sheet.typed.get(spec.key).unwrap_or(&now);
    let shown = sheet.typed.get(&was).unwrap_or(&now);
    let asked = Field {
        name: spec.key,
        label: spec.label,
        value,
        hint: spec.hint,
        wrong: sheet.wrong.get(spec.key).map(String::as_str),
        required: spec.needed && sheet.finding.is_none(),
        ..Field::default()
    };
    html! {
        div {
            (input(at, spec, asked))
            @if sheet.finding.is_some() { input type="hidden" name=(was) value=(shown); }
            @if let Some(by) = sheet.clash.get(spec.key) { (choose(at, spec, value, &now, *by)) }
        }
    }
}

fn input(at: &AtJob, spec: &Spec, asked: Field<'_>) -> Markup {
    match spec.input {
        Input::Place | Input::Word(_) => asked.choice(&choices(&at.job, spec)),
        // Numbers are typed as text: what is wrong is said by the page, and nothing typed is lost.
        Input::Count | Input::Length | Input::Area | Input::Line => asked.line("text"),
        Input::Lines => asked.area(),
    }
}

/// Both values, who wrote the other and when, and the choice between them.
fn choose(at: &AtJob, spec: &Spec, mine: &str, theirs: &str, by: Option<Stamp>) -> Markup {
    let key = spec.key;
    html! {
        fieldset.clash {
            legend { (spec.label) ": which holds?" }
            label.choice {
                input type="radio" name={ "take-" (key) } value="theirs" required;
                b { (in_words(&at.job, spec, theirs)) }
                span.soft {
                    " as it stands now"
                    @if let Some(by) = by { ", by " (who(at, by)) ", " (at.when(by.at)) }
                }
            }
            label.choice {
                input type="radio" name={ "take-" (key) } value="mine" required;
                b { (in_words(&at.job, spec, mine)) } span.soft { " as you typed it above" }
            }
            input type="hidden" name={ "seen-" (key) } value=(theirs);
        }
    }
}
