//! How one line stands: its quantity, what it rests on, what is unsure, what the office did.

use chalkwalk_core::job::{Audience, ScopeChangeKind, Unit};
use chalkwalk_core::review::scope::{Basis, ScopeLine};
use maud::{Markup, html};

use super::super::at_job::AtJob;
use super::super::words::called;
use crate::serve::icons::icon;

/// The quantity with its unit, or that it is not known.
pub(super) fn quantity(line: &ScopeLine) -> Markup {
    html! {
        @match line.quantity {
            Some(quantity) => strong.nowrap { (quantity) },
            None => span.state.unsure { (icon("circle-question-mark")) "not known" },
        }
    }
}

/// What the line rests on, in a few words.
pub(super) fn rests_on(at: &AtJob, line: &ScopeLine) -> Markup {
    html! {
        @match &line.basis {
            Basis::ExistingCondition => {
                @if line.findings.is_empty() { span { "what was counted and measured" } }
            }
            Basis::Requirement { section, edition, .. } => {
                span.pill { (icon("scroll-text")) (edition) " " (section) }
            }
            Basis::Estimator => span.pill { (icon("pencil")) "added by the office" },
        }
        @if !line.findings.is_empty() {
            ul.quiet { @for finding in &line.findings { li {
                (called(at, finding))
            } } }
        }
        @if line.audience == Audience::OfficeOnly { span.tag { "office only" } }
    }
}

/// What is still unsure.
pub(super) fn unsure(line: &ScopeLine) -> Markup {
    html! {
        @for words in &line.unsure {
            p.unsure-line { span.state.unsure { (icon("circle-question-mark")) "unsure" } ": " (words) }
        }
    }
}

/// What the office did to the line, who and why.
pub(super) fn changed(at: &AtJob, line: &ScopeLine) -> Markup {
    let Some(change) = &line.change else {
        return html! {};
    };
    let name = match change.kind {
        ScopeChangeKind::Added => "plus",
        ScopeChangeKind::LeftOut => "circle-slash",
        ScopeChangeKind::Amended => "pencil",
    };
    html! {
        div.changed.small {
            span.nowrap { (icon(name)) " " (change.kind.label()) } ": " (change.reason)
            div.soft { (at.job.who(change.by.device)) ", " (at.when(change.by.at)) }
        }
    }
}

/// Words for a unit.
pub(super) fn unit_words(unit: Unit) -> &'static str {
    match unit {
        Unit::Each => "EA, each",
        Unit::LinearFoot => "LF, linear feet",
        Unit::SquareFoot => "SF, square feet",
        Unit::Square => "SQ, squares of 100 sq ft",
    }
}
