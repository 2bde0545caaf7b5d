//! The form of a record, new or changed, with what was typed and what another wrote meanwhile.

use std::collections::BTreeMap;

use chalkwalk_core::job::{AnyFields, RecordRef, Stamp};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::deeds::who;
use super::super::form::{Field, Tone, notice};
use super::super::words::record_name;
use super::fields::{choices, in_words, text_of};
use super::plan::{HITS, Typed};
use super::spec::{Input, Sheet, Spec};
use super::{back, own_path, records};

/// What the form shows beside the record.
#[derive(Default)]
pub(super) struct Shown<'a> {
    /// The record as it stands; `None` for a new one.
    pub(super) record: Option<AnyFields>,
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

/// The page with the form. The id in `of` is a fresh one for a new record.
pub(super) fn body(at: &AtJob, of: &RecordRef, sheet: &Sheet, shown: &Shown<'_>) -> Markup {
    let list = records(at, of.kind);
    let (title, action, home) = match shown.record {
        Some(_) => {
            let title = format!("Edit: {}", record_name(&at.job, of));
            (title, format!("{list}/{}", of.id), own_path(at, of))
        }
        None => {
            let place = shown.typed.get("place").or(shown.typed.get("slope"));
            (
                format!("Add {}", of.kind.one()),
                list,
                back(at, of, place).0,
            )
        }
    };
    html! {
        p.up { a href=(home) { (icon("arrow-left")) "Back without a change" } }
        h2 { (title) }
        (heads_up(shown))
        form.narrow.edit[shown.record.is_some()] method="post" action=(action) novalidate {
            @if shown.record.is_none() { input type="hidden" name="id" value=(of.id); }
            @for (heading, specs) in sheet.groups {
                fieldset {
                    legend { (heading) }
                    div.fields { @for spec in specs.iter().filter(|spec| !long(spec)) { (field(at, shown, spec)) } }
                    @for spec in specs.iter().filter(|spec| long(spec)) { (field(at, shown, spec)) }
                }
            }
            @if shown.record.is_none() { (counted(sheet, shown)) }
            div.row {
                button.main { (icon("check")) "Record" }
                a.button href=(home) { "Cancel" }
            }
        }
    }
}

fn long(spec: &Spec) -> bool {
    matches!(spec.input, Input::Lines)
}

/// Hits of a new record: those that this person counted.
fn counted(sheet: &Sheet, shown: &Shown<'_>) -> Markup {
    html! {
        @if sheet.counts_new() {
            fieldset {
                legend { "Hits" }
                (Field {
                    name: HITS,
                    label: "Hits that you counted",
                    value: shown.typed.get(HITS).unwrap_or_default(),
                    hint: "0 where you looked and found none; left open where nobody counted.",
                    wrong: shown.wrong.get(HITS).map(String::as_str),
                    ..Field::default()
                }.line("text"))
            }
        } @else if sheet.counts {
            p.soft.small { "Hits are counted at the house: they come from the phones." }
        }
    }
}

fn heads_up(shown: &Shown<'_>) -> Markup {
    html! {
        @if !shown.clash.is_empty() {
            (notice(Tone::Bad, &html! {
                p { b { "Nothing was written yet." } " Somebody changed the same while you were \
                    writing. What you typed is kept below; choose at each marked field which of \
                    the two holds, then record again." }
            }))
        }
        @if !shown.wrong.is_empty() {
            (notice(Tone::Bad, &html! {
                p { b { "Nothing was written yet." } " Some of it cannot be read; it is marked below." }
            }))
        }
        @if let Some(trouble) = &shown.trouble {
            (notice(Tone::Bad, &html! { p { b { "Nothing was written. " } (trouble) } }))
        }
    }
}

fn field(at: &AtJob, shown: &Shown<'_>, spec: &Spec) -> Markup {
    if shown.disputed.contains(&spec.key) {
        return html! {
            div.field {
                p.label { (spec.label) }
                p.hint { "Two people stated this differently. "
                    a href={ (at.path()) "/open#settle" } { "Settle it first" } "." }
            }
        };
    }
    let now = shown.record.as_ref().map(|record| text_of(record, spec));
    let now = now.unwrap_or_default();
    let was = format!("was-{}", spec.key);
    let value = shown.typed.get(spec.key).unwrap_or(&now);
    let before = shown.typed.get(&was).unwrap_or(&now);
    let asked = Field {
        name: spec.key,
        label: spec.label,
        value,
        hint: spec.hint,
        wrong: shown.wrong.get(spec.key).map(String::as_str),
        required: spec.needed && shown.record.is_none(),
        ..Field::default()
    };
    html! {
        div {
            (input(at, spec, asked, &now))
            @if shown.record.is_some() { input type="hidden" name=(was) value=(before); }
            @if let Some(by) = shown.clash.get(spec.key) { (choose(at, spec, value, &now, *by)) }
        }
    }
}

fn input(at: &AtJob, spec: &Spec, asked: Field<'_>, now: &str) -> Markup {
    match spec.input {
        Input::Place | Input::Slope | Input::Word(_) | Input::Tick => {
            asked.choice(&choices(&at.job, &at.places(), spec, now))
        }
        Input::Day => asked.line("date"),
        Input::Lines => asked.area(),
        // Numbers are typed as text: what is wrong is said by the page, and nothing typed is lost.
        _ => asked.line("text"),
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
                b { (in_words(&at.job, &at.places(), spec, theirs)) }
                span.soft {
                    " as it stands now"
                    @if let Some(by) = by { ", by " (who(at, by)) ", " (at.when(by.at)) }
                }
            }
            label.choice {
                input type="radio" name={ "take-" (key) } value="mine" required;
                b { (in_words(&at.job, &at.places(), spec, mine)) } span.soft { " as you typed it above" }
            }
            input type="hidden" name={ "seen-" (key) } value=(theirs);
        }
    }
}
