//! What only the archive's page shows: interview, recap, questions, notes about the job.

use maud::{Markup, html};

use super::places::facts_list;
use super::{Page, capital};
use crate::job::*;

impl Page<'_> {
    pub(super) fn office_sections(&self) -> Markup {
        const KINDS: &[Kind] = &[
            Kind::Property,
            Kind::Visit,
            Kind::Interview,
            Kind::Recap,
            Kind::Signature,
            Kind::Departure,
            Kind::Question,
            Kind::Answer,
            Kind::Note,
        ];
        html! {
            section #office {
                h2 { "Office" }
                p.office { "This section is in the archive only." }
                @for (at, header) in self.job.records.headers().filter(|(at, _)| KINDS.contains(&at.kind)) {
                    @let facts: Vec<(String, String)> = at.kind.keys().iter()
                        .filter(|key| **key != "strokes")
                        .filter_map(|key| {
                            let words = self.job.records.words(&at, key)?;
                            Some((key.replace('_', " "), words))
                        })
                        .collect();
                    @if !facts.is_empty() {
                        div.card {
                            h3 { (capital(at.kind.label())) }
                            (facts_list(&facts))
                            p.soft { "Recorded by " (self.job.who(header.made.device)) }
                            @if let Some(struck) = header.struck { p { "Struck: " (struck.reason) } }
                        }
                    }
                }
            }
        }
    }
}
