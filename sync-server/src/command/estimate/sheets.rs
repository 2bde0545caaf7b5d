//! The code's answers, the production sheet, the owner's account.

use std::fmt::Write;
use std::path::Path;

use chalkwalk_core::job::JobId;
use chalkwalk_core::review::production::{
    ProductionSheet, SheetLine, SheetOptions, production_sheet,
};
use chalkwalk_core::review::requirements::{Stated, requirements};
use chalkwalk_core::review::{Reader, account};
use chalkwalk_core::trade::materials::Waste;
use clap::Args;

use super::super::args::JobArg;
use super::super::output::{Failure, Output};

use super::*;

pub(in crate::command) fn code(dir: &Path, args: &JobArg, out: Output) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let answers = requirements(&job, &Stated::default());
    out.give(&answers, || {
        let mut words = String::new();
        for requirement in &answers {
            let answer = &requirement.answer;
            let _ = writeln!(
                words,
                "{}, {}: {}",
                answer.citation(),
                answer.place,
                answer.sentence
            );
        }
        words + chalkwalk_core::trade::code::CONFIRM
    })
}

#[derive(Debug, Args)]
pub(in crate::command) struct ProductionArgs {
    /// The job.
    job: JobId,
    /// Waste for cutting, percent; there is no default.
    #[arg(long)]
    waste: Option<f64>,
}

pub(in crate::command) fn production(
    dir: &Path,
    args: &ProductionArgs,
    out: Output,
) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let mut options = SheetOptions::default();
    options.choices.waste = args.waste.map(|percent| Waste {
        name: "as given".to_owned(),
        percent,
    });
    let sheet = production_sheet(&job, Reader::Office, &options);
    out.give(&sheet, || sheet_words(&sheet))
}

pub(in crate::command) fn sheet_words(sheet: &ProductionSheet) -> String {
    let mut words = format!("{}\nMaterials\n", sheet.address);
    for line in &sheet.materials {
        let quantity = match (line.quantity, line.at_least) {
            (Some(quantity), _) => amount(quantity),
            (None, Some(least)) => format!("at least {}", amount(least)),
            (None, None) => "?".to_owned(),
        };
        let place = line
            .place
            .as_ref()
            .map_or_else(String::new, |place| format!(", {place}"));
        let _ = writeln!(
            words,
            "  {quantity} {} {}{place}: {}",
            line.unit.label(),
            line.item.label(),
            line.arithmetic
        );
        for unknown in &line.not_known {
            let _ = writeln!(words, "      not known: {unknown}");
        }
    }
    let parts: [(&str, &[SheetLine]); 8] = [
        ("Deck", &sheet.deck),
        ("Layers", &sheet.layers),
        ("In the way of tear-off", &sheet.obstacles),
        ("Confirm at tear-off", &sheet.confirm_at_tear_off),
        ("Access", &sheet.access),
        ("There before", &sheet.prior_conditions),
        ("Paint to match", &sheet.paint_to_match),
        ("Comes off and goes back", &sheet.detach_and_reset),
    ];
    for (title, lines) in parts {
        if !lines.is_empty() {
            let _ = writeln!(words, "{title}");
        }
        for line in lines {
            let _ = writeln!(words, "  {}", line.text);
        }
    }
    let _ = writeln!(words, "{}", sheet.deference);
    for caution in sheet.cautions {
        let _ = writeln!(words, "  {} ({})", caution.text, caution.source);
    }
    words
}

/// A quantity with two decimals at most.
fn amount(quantity: f64) -> String {
    let words = format!("{quantity:.2}");
    words.trim_end_matches('0').trim_end_matches('.').to_owned()
}

pub(in crate::command) fn give_account(
    dir: &Path,
    args: &JobArg,
    out: Output,
) -> Result<(), Failure> {
    let job = job_of(dir, args.job)?;
    let account = account::owners_account(&job);
    out.give(&account, || {
        let mut words = format!("{}\n", account.address);
        let mut part = |title: &str, lines: Vec<&str>| {
            if !lines.is_empty() {
                let _ = writeln!(words, "\n{title}");
            }
            for line in lines {
                let _ = writeln!(words, "  {line}");
            }
        };
        let texts = |lines: &'_ [account::AccountLine]| -> Vec<String> {
            lines.iter().map(|line| line.text.clone()).collect()
        };
        part(
            "What was looked at",
            texts(&account.looked_at)
                .iter()
                .map(String::as_str)
                .collect(),
        );
        for place in &account.observed {
            part(
                &place.name,
                place.lines.iter().map(|line| line.text.as_str()).collect(),
            );
        }
        part(
            "What was there before",
            texts(&account.before).iter().map(String::as_str).collect(),
        );
        part(
            "What is unsure",
            texts(&account.unsure).iter().map(String::as_str).collect(),
        );
        part(
            "What happens next",
            account.next.iter().map(String::as_str).collect(),
        );
        part("Take care", account.cautions.to_vec());
        part("The signature", vec![account.signature.means]);
        words + account.no_promise
    })
}
