//! Why nothing of what a person asked for was recorded, and what the page says then.

use axum::http::StatusCode;
use chalkwalk_core::document::Refusal;
use maud::{Markup, html};

use super::super::form::{Tone, notice};
use crate::hub::PenError;

/// Why a change was not made. What was typed is kept in the form.
#[derive(Debug)]
pub(in crate::serve) enum NotDone {
    /// The record does not take it, or storage failed.
    Pen(PenError),
    /// A field is wrong: its name, and what to do.
    Wrong(&'static str, String),
    /// The record is no longer as it was shown: what differs, a sentence each.
    Clash(Vec<String>),
}

impl From<PenError> for NotDone {
    fn from(error: PenError) -> Self {
        NotDone::Pen(error)
    }
}

impl NotDone {
    /// The status that goes with it.
    pub(in crate::serve) fn status(&self) -> StatusCode {
        match self {
            NotDone::Pen(PenError::Refused(Refusal::Storage(_))) => StatusCode::SERVICE_UNAVAILABLE,
            NotDone::Clash(_) => StatusCode::CONFLICT,
            NotDone::Pen(_) | NotDone::Wrong(..) => StatusCode::UNPROCESSABLE_ENTITY,
        }
    }

    /// What is wrong with a field.
    pub(in crate::serve) fn with_field(&self, name: &str) -> Option<&str> {
        match self {
            NotDone::Wrong(field, words) if *field == name => Some(words),
            _ => None,
        }
    }

    /// It in words, for a page without the form.
    pub(in crate::serve) fn words(&self) -> String {
        match self {
            NotDone::Wrong(_, words) => words.clone(),
            NotDone::Clash(differs) => format!(
                "Somebody else changed this meanwhile: {}. Nothing was overwritten.",
                differs.join("; ")
            ),
            NotDone::Pen(error) => format!("The record does not take it: {error}."),
        }
    }

    /// The message above the form.
    pub(in crate::serve) fn shown(&self) -> Markup {
        match self {
            NotDone::Wrong(_, words) => notice(
                Tone::Bad,
                &html! { p { strong { "Nothing was recorded. " } (words) } },
            ),
            NotDone::Clash(differs) => notice(
                Tone::Warn,
                &html! {
                    p { strong { "Somebody else changed this meanwhile, so nothing was overwritten." } }
                    ul { @for words in differs { li { (words) } } }
                    p { "What you typed stands in the form. Send it again if it still holds." }
                },
            ),
            NotDone::Pen(error) => {
                tracing::warn!(%error, "a change at the pages was not taken");
                let words = match error {
                    PenError::Refused(Refusal::Storage(_)) => {
                        "The office's storage does not answer now. Try again in a moment."
                            .to_owned()
                    }
                    other => format!("The record does not take it: {other}."),
                };
                notice(
                    Tone::Bad,
                    &html! { p { strong { "Nothing was recorded. " } (words) } },
                )
            }
        }
    }
}
