//! Quantities: the scope, its sums, and how it differs from the insurer's.

use std::collections::BTreeMap;

use rust_decimal::Decimal;
use rust_decimal::prelude::ToPrimitive;

use super::gather::{Gathering, some};
use super::{ComparisonEntry, DisputeEntry, DoubtEntry, ScopeEntry, TotalEntry};
use crate::job::*;
use crate::review::Reader;
use crate::review::account::OwnersAccount;
use crate::review::compare::{self, Comparison, Dispute};
use crate::review::scope::{Basis, Scope, ScopeLine, scope};
use crate::sorted::Keyed;

impl Gathering<'_> {
    pub(super) fn scope_entries(&self) -> (Vec<ScopeEntry>, Vec<TotalEntry>, Vec<DisputeEntry>) {
        let scope = self.scope();
        let numbers = self.finding_numbers();
        let lines = scope.lines.iter().map(|line| (line, false));
        let left_out = scope.left_out.iter().map(|line| (line, true));
        let entries = lines
            .chain(left_out)
            .map(|(line, out)| self.scope_entry(line, out, &numbers));
        let totals = scope.totals.iter().map(|total| TotalEntry {
            item_code: total.item.key(),
            item: total.item.label().to_owned(),
            work: total.action.label().to_owned(),
            quantity: total.quantity.value(),
            unit: total.quantity.unit().label().to_owned(),
            lines: total.lines,
            without_quantity: total.without_quantity,
        });
        let disputes = self.comparison(&scope).map(|comparison| {
            let list = compare::disputes(&comparison);
            list.disputes.iter().map(|one| self.dispute(one)).collect()
        });
        (
            entries.collect(),
            totals.collect(),
            disputes.unwrap_or_default(),
        )
    }

    pub(super) fn comparison_entries(&self) -> Vec<ComparisonEntry> {
        let comparison = self.comparison(&self.scope());
        comparison.map_or_else(Vec::new, |comparison| {
            comparison.entries.iter().map(comparison_entry).collect()
        })
    }

    pub(super) fn doubt_entries(&self, account: &OwnersAccount) -> Vec<DoubtEntry> {
        let scope = self.scope();
        let withheld = scope.withheld.iter().map(|held| DoubtEntry {
            about: held.finding.to_string(),
            kind: "finding without a line".to_owned(),
            words: held.words.clone(),
        });
        let orphaned = scope.orphaned.iter().map(|orphan| DoubtEntry {
            about: orphan.record.to_string(),
            kind: "change without its line".to_owned(),
            words: orphan.words.clone(),
        });
        let held_back = account.held_back.iter().map(|at| DoubtEntry {
            about: at.to_string(),
            kind: "words held back from the owner".to_owned(),
            words: "They speak of cover or payment, which is not the crew's to promise.".to_owned(),
        });
        withheld.chain(orphaned).chain(held_back).collect()
    }

    fn scope(&self) -> Scope {
        scope(self.job, &self.input.choices.scope).for_reader(self.selection.reader())
    }

    /// Our scope beside the last of the others that stand.
    fn comparison(&self, scope: &Scope) -> Option<Comparison> {
        let others = self.job.records.other_scopes.iter();
        let standing = others.filter(|(_, other)| other.stands());
        let (id, other) = standing.max_by_key(|(id, other)| (other.made.at, *id))?;
        let (_, theirs) = compare::kept(other).ok()?;
        let at = RecordRef::new(Kind::OtherScope, id.clone());
        let options = compare::Options {
            reader: self.selection.reader(),
            ..compare::Options::default()
        };
        Some(compare::compare(
            self.job,
            scope,
            &theirs,
            Some(&at),
            &options,
        ))
    }

    fn finding_numbers(&self) -> BTreeMap<&RecordId, u32> {
        let rows = self.list.groups.iter().flat_map(|group| &group.findings);
        rows.map(|row| (&row.id, row.number)).keyed()
    }

    fn scope_entry(
        &self,
        line: &ScopeLine,
        left_out: bool,
        numbers: &BTreeMap<&RecordId, u32>,
    ) -> ScopeEntry {
        let (basis, section, edition, asks) = match &line.basis {
            Basis::ExistingCondition => ("existing condition", None, None, None),
            Basis::Requirement {
                section,
                edition,
                words,
            } => {
                let all = (
                    Some(section.clone()),
                    Some(edition.clone()),
                    Some(words.clone()),
                );
                ("requirement", all.0, all.1, all.2)
            }
            Basis::Estimator => ("added by the estimator", None, None, None),
        };
        let change = line.change.as_ref();
        let findings = line.findings.iter().filter_map(|at| numbers.get(&at.id));
        ScopeEntry {
            line: line.key.to_string(),
            place: line.place_words.clone(),
            item_code: line.item.key(),
            item: line.item_words.clone(),
            work: line.action.label().to_owned(),
            quantity: line.quantity.map(|quantity| quantity.value()),
            unit: line.unit().map(|unit| unit.label().to_owned()),
            how: some(&line.how),
            basis: basis.to_owned(),
            section,
            edition,
            requirement: asks,
            findings: findings.map(u32::to_string).collect(),
            photos: self.photo_names(&line.photos),
            unsure: line.unsure.clone(),
            change: change.map(|change| change.kind.label().to_owned()),
            change_reason: change.map(|change| change.reason.clone()),
            changed_by: change.map(|change| self.job.who(change.by.device)),
            audience: self.for_office(|| line.audience.label().to_owned()),
            left_out: (left_out && self.selection.reader() == Reader::Office)
                .then(|| "left out".to_owned()),
        }
    }

    fn dispute(&self, one: &Dispute) -> DisputeEntry {
        let sections = one.requirements.iter();
        let sections = sections.map(|asked| {
            format!(
                "{}, {}: {} ({})",
                asked.edition, asked.section, asked.words, asked.confirm
            )
        });
        DisputeEntry {
            number: one.number,
            outcome: one.outcome.label().to_owned(),
            place: one.place.clone(),
            item: one.item.clone(),
            ours: one.ours.clone(),
            theirs: one.theirs.clone(),
            difference: one.difference.clone(),
            reason: one.reason.clone(),
            requirements: sections.collect(),
            photos: self.photo_names(&one.photos),
            unsure: one.unsure.clone(),
            rows: one.rows.iter().map(u32::to_string).collect(),
        }
    }
}

fn comparison_entry(entry: &compare::Entry) -> ComparisonEntry {
    let ours = entry
        .ours
        .iter()
        .map(|line| format!("{}, {}", line.item_words, line.action));
    let theirs = entry.theirs.iter();
    let place = entry.ours.first().map(|line| line.place.clone());
    let place = place.or_else(|| entry.theirs.first().map(|row| row.place.clone()));
    let amounts = entry.amounts.as_ref();
    ComparisonEntry {
        outcome: entry.outcome.label().to_owned(),
        place: place.unwrap_or_default(),
        item: ours.collect::<Vec<_>>().join("; "),
        ours: amounts.and_then(|amounts| number(amounts.ours)),
        their_item: theirs
            .map(|row| row.item.clone())
            .collect::<Vec<_>>()
            .join("; "),
        theirs: amounts.and_then(|amounts| number(amounts.theirs)),
        unit: amounts.map(|amounts| amounts.unit.label().to_owned()),
        difference: amounts.and_then(|amounts| number(amounts.difference)),
        certainty: entry.certainty.map(|sure| sure.label().to_owned()),
        by_person: entry.by_person,
        our_money: entry.our_money.and_then(number),
        their_money: entry.their_money.and_then(number),
        sentence: entry.sentence.clone(),
    }
}

fn number(decimal: Decimal) -> Option<f64> {
    decimal.to_f64()
}
