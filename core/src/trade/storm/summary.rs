//! What was found, in sentences for the record and the packet.

use super::{NearReport, Nearby, ReportKind};

/// Stands beside every answer.
pub const NO_PROOF: &str = "No report near an address is no proof that no hail fell there: a \
report needs somebody who saw it and wrote in. A report nearby is no proof that it fell there.";
/// Stands beside every answer (NCEI, Storm Data FAQ: the database is updated 90 to 120 days after
/// the end of a month).
pub const NEWEST_MISSING: &str = "The Storm Events Database is published 90 to 120 days after the \
end of a month: its newest months are missing.";
/// Stands beside every answer (Storm Prediction Center, head of the daily reports).
pub const PRELIMINARY: &str = "Daily reports are preliminary and may be changed later.";

impl Nearby {
    /// How many reports of a kind there are.
    pub fn count(&self, kind: ReportKind) -> usize {
        self.reports
            .iter()
            .filter(|near| near.report.kind == kind)
            .count()
    }

    /// The report of the largest stone; where several are as large, the first in order.
    pub fn largest_hail(&self) -> Option<&NearReport> {
        let sized = self
            .reports
            .iter()
            .filter(|near| near.report.hail_in.is_some());
        sized.rev().max_by(|a, b| {
            let size = |near: &NearReport| near.report.hail_in.unwrap_or_default();
            size(a).total_cmp(&size(b))
        })
    }

    /// What was found, with what it does not prove.
    pub fn summary(&self) -> String {
        let search = &self.search;
        let within = format!(
            "within {} miles of the address, from {} day(s) before to {} day(s) after {}",
            search.radius_miles, search.days_before, search.days_after, search.date_of_loss
        );
        let counts: Vec<String> = ReportKind::ALL
            .iter()
            .filter(|kind| self.count(**kind) > 0)
            .map(|kind| format!("{} of {}", self.count(*kind), kind.label()))
            .collect();
        let found = if counts.is_empty() {
            format!("There is no report {within}.")
        } else {
            format!("Reports {within}: {}.", counts.join(", "))
        };
        let largest = self.largest_hail().map_or_else(String::new, |near| {
            format!(" The largest hail: {}.", near.words())
        });
        format!("{found}{largest} {NO_PROOF} {PRELIMINARY} {NEWEST_MISSING}")
    }
}

impl NearReport {
    /// `1.50 in, 2.3 miles south-west, 21 Apr 2026 18:42 local time (4 SW Tessel Ford, ...)`.
    pub fn words(&self) -> String {
        let where_to = match self.bearing {
            Some(_) => format!("{:.1} miles {}", self.miles, self.direction),
            None => self.direction.to_owned(),
        };
        let when = self.local.format("%-d %b %Y %H:%M");
        let strength = self.report.strength();
        format!(
            "{strength}, {where_to}, {when} local time ({})",
            self.report.place
        )
    }
}
