//! The scope of the demo visit, line by line.

use super::*;
use crate::review::demo_job::demo_job;

/// The scope in a form that a person can read line by line.
fn in_words(scope: &Scope) -> String {
    let mut out = String::new();
    let mut line_of = |line: &ScopeLine| {
        let quantity = match line.quantity {
            Some(quantity) => quantity.to_string(),
            None => "quantity not known".to_owned(),
        };
        out += &format!(
            "{} | {} | {} | {quantity}\n    how: {}\n    rests on: {}\n",
            line.place_words,
            line.item_words,
            line.action,
            line.how,
            line.findings
                .iter()
                .chain(&line.records)
                .map(ToString::to_string)
                .chain([format!("{} photos", line.photos.len())])
                .collect::<Vec<_>>()
                .join(", "),
        );
        if let Basis::Requirement {
            section,
            edition,
            words,
        } = &line.basis
        {
            out += &format!("    asked by {edition}, {section}: {words}\n");
        }
        for doubt in &line.unsure {
            out += &format!("    unsure: {doubt}\n");
        }
    };
    scope.lines.iter().for_each(&mut line_of);
    out += "\nno line:\n";
    for held in &scope.withheld {
        out += &format!("    {} [{}] {}\n", held.finding, held.audience, held.words);
    }
    out += "\ntotals:\n";
    for total in &scope.totals {
        out += &format!(
            "    {} | {} | {} in {} lines, {} without quantity\n",
            total.item, total.action, total.quantity, total.lines, total.without_quantity
        );
    }
    out
}

#[test]
fn the_demo_house_has_the_scope_that_an_estimator_reads() {
    let scope = scope(&demo_job(), &ScopeInputs::default());
    insta::assert_snapshot!("demo_scope", in_words(&scope));
}
