//! Hits by the way each surface faces, with the wind that fits them and what could not be used.

use chalkwalk_core::drawing::hits_plot;
use chalkwalk_core::review::Hits;
use maud::{Markup, PreEscaped, html};

use super::super::form::{Tone, notice};

pub(super) fn section(hits: &Hits) -> Markup {
    html! {
        section #hits aria-labelledby="hits-head" {
            h2 #hits-head { "Hits by facing" }
            @match &hits.pattern {
                None => p.soft { "No pattern can be told yet: hits are needed on surfaces whose facing is recorded." },
                Some(pattern) => {
                    div.split {
                        // The drawing is the core's own; every text in it is escaped there.
                        div.drawing { (PreEscaped(hits_plot(pattern, "hits"))) }
                        div {
                            p { (pattern.sentence) }
                            @for warning in &pattern.warnings {
                                (notice(Tone::Warn, &html! { p { (warning.sentence) } }))
                            }
                            p.soft.small { "A pattern is a sign among others: eaves, trees and neighbours \
                                shelter surfaces, and gusts turn." }
                        }
                    }
                },
            }
            @if !hits.left_out.is_empty() {
                details {
                    summary { "What was not used, and why (" (hits.left_out.len()) ")" }
                    ul { @for left_out in &hits.left_out { li { b { (left_out.what) } ": " (left_out.why) } } }
                }
            }
        }
    }
}
