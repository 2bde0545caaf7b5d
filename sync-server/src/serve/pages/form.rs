//! Fields of forms: each with its label, a hint, what was typed, and what is wrong with it.

use maud::{Markup, html};

use super::super::icons::icon;

/// One field of a form.
#[derive(Clone, Copy, Debug, Default)]
pub(in crate::serve) struct Field<'a> {
    /// Its name in the form; also its id.
    pub(in crate::serve) name: &'a str,
    /// What it asks for.
    pub(in crate::serve) label: &'a str,
    /// What was typed, or stands there now.
    pub(in crate::serve) value: &'a str,
    /// How to fill it.
    pub(in crate::serve) hint: &'a str,
    /// What is wrong with what was typed.
    pub(in crate::serve) wrong: Option<&'a str>,
    /// Must be filled.
    pub(in crate::serve) required: bool,
    /// As browsers know it: `name`, `email`, `off`.
    pub(in crate::serve) autocomplete: Option<&'a str>,
    /// Most characters.
    pub(in crate::serve) most: Option<usize>,
}

impl Field<'_> {
    fn described(&self) -> Option<String> {
        let hint = (!self.hint.is_empty()).then(|| format!("{}-hint", self.name));
        let wrong = self.wrong.map(|_| format!("{}-wrong", self.name));
        let parts: Vec<String> = hint.into_iter().chain(wrong).collect();
        (!parts.is_empty()).then(|| parts.join(" "))
    }

    fn around(&self, inner: &Markup) -> Markup {
        html! {
            div.field {
                label for=(self.name) { (self.label) @if !self.required { span.soft.small { " (optional)" } } }
                @if !self.hint.is_empty() { p.hint id={ (self.name) "-hint" } { (self.hint) } }
                (inner)
                @if let Some(wrong) = self.wrong { p.wrong id={ (self.name) "-wrong" } { (wrong) } }
            }
        }
    }

    /// A line of text; `kind` as in HTML: `text`, `email`, `date`, `number`.
    pub(in crate::serve) fn line(&self, kind: &str) -> Markup {
        self.line_from(kind, None)
    }

    /// A line of text with proposals: the id of a `datalist`.
    pub(in crate::serve) fn line_from(&self, kind: &str, list: Option<&str>) -> Markup {
        self.around(&html! {
            input id=(self.name) name=(self.name) type=(kind) value=(self.value) list=[list]
                required[self.required] autocomplete=[self.autocomplete] maxlength=[self.most]
                step=[(kind == "number").then_some("any")]
                aria-describedby=[self.described()]
                aria-invalid=[self.wrong.map(|_| "true")];
        })
    }

    /// Several lines of text.
    pub(in crate::serve) fn area(&self) -> Markup {
        self.around(&html! {
            textarea id=(self.name) name=(self.name) required[self.required] maxlength=[self.most]
                aria-describedby=[self.described()]
                aria-invalid=[self.wrong.map(|_| "true")] { (self.value) }
        })
    }

    /// A choice of (value, words). An optional one can be left open.
    pub(in crate::serve) fn choice(&self, options: &[(String, String)]) -> Markup {
        self.around(&html! {
            select id=(self.name) name=(self.name) required[self.required]
                aria-describedby=[self.described()]
                aria-invalid=[self.wrong.map(|_| "true")] {
                @if !self.required || self.value.is_empty() {
                    option value="" selected[self.value.is_empty()] { "not stated" }
                }
                @for (value, words) in options {
                    option value=(value) selected[value == self.value] { (words) }
                }
            }
        })
    }
}

/// How a message is meant.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::serve) enum Tone {
    /// Something was done.
    Good,
    /// Something is to be known.
    Plain,
    /// Something is to be looked at.
    Warn,
    /// Something was not done.
    Bad,
}

/// A message above what it is about. One that says something was not done is read out at once.
pub(in crate::serve) fn notice(tone: Tone, words: &Markup) -> Markup {
    let (class, name) = match tone {
        Tone::Good => ("note good", "circle-check"),
        Tone::Plain => ("note", "info"),
        Tone::Warn => ("note warn", "triangle-alert"),
        Tone::Bad => ("note bad", "triangle-alert"),
    };
    let role = match tone {
        Tone::Bad => Some("alert"),
        Tone::Good => Some("status"),
        Tone::Plain | Tone::Warn => None,
    };
    html! { div class=(class) role=[role] { (icon(name)) div { (words) } } }
}
