//! Random jobs against random scopes: nothing panics, the same input gives the same bytes, and
//! every line and row stands in one entry.

use std::collections::BTreeSet;

use proptest::prelude::*;

use super::*;
use crate::review::random_jobs::random_job;
use crate::review::scope::{ScopeInputs, scope};
use crate::review::{Reader, house};

const WORDS: &[&str] = &[
    "Gutter",
    "gutters, 5\"",
    "Shingles",
    "Drip edge",
    "R&R window screen",
    "Misc",
    "Gutter / downspout",
    "Pipe jack",
    "2nd layer",
    "Paint trim",
    "",
    "Front door",
    "Valley metal",
    "<b>",
    "=1+1",
    "Total",
];
const PLACES: &[&str] = &[
    "Front",
    "R",
    "Roof",
    "",
    "N side",
    "Left slope",
    "front",
    "a",
    "Kitchen",
    "Whole house",
];
const ACTIONS: &[&str] = &[
    "R&R",
    "remove",
    "install",
    "",
    "paint",
    "D&R",
    "clean and paint",
];
const NUMBERS: &[&str] = &[
    "1", "24.50", "1,234.5", "", "(3)", "abc", "9999999", "0", "3 SQ", "1e9",
];
const UNITS: &[&str] = &["LF", "SF", "SQ", "EA", "", "HR"];

fn pick<'a>(words: &[&'a str], seed: u32) -> &'a str {
    words[seed as usize % words.len()]
}

fn their_file(seeds: &[(u32, u32, u32)]) -> String {
    let mut text = HEAD.to_owned();
    for (one, two, three) in seeds {
        let quoted = |cell: &str| format!("\"{}\"", cell.replace('"', "\"\""));
        let cells = [
            pick(WORDS, *one),
            pick(PLACES, one / 31),
            pick(ACTIONS, *two),
            pick(NUMBERS, two / 31),
            pick(UNITS, *three),
            pick(NUMBERS, three / 31),
            pick(NUMBERS, three / 997),
        ];
        text += &cells.map(quoted).join(",");
        text.push('\n');
    }
    text
}

fn our_lines(seeds: &[u32]) -> Vec<ScopeLine> {
    let places = [
        None,
        front(),
        left(),
        slope("main-front"),
        slope("main-left"),
        slope("a"),
        Some(house::at(Kind::Structure, "shed")),
    ];
    let mut seen = BTreeSet::new();
    let mut lines = Vec::new();
    for seed in seeds {
        let seed = *seed as usize;
        let mut one = line(
            places[seed % places.len()].clone(),
            Item::ALL[seed / 7 % 24].clone(),
            WorkAction::ALL[seed / 200 % WorkAction::ALL.len()],
            (seed / 13 % 5000) as f64 / 100.0,
        );
        if seed.is_multiple_of(11) {
            one.quantity = None;
        }
        if seed.is_multiple_of(5) {
            one.findings = vec![at(Kind::Finding, "a"), at(Kind::Note, "b")];
            one.photos = vec![id("a"), id("real")];
        }
        if seen.insert(one.key.clone()) {
            lines.push(one);
        }
    }
    lines
}

/// Every line and row is in one entry, once.
fn check(job: &Job, scope: &Scope, their: &TheirScope) -> Result<(), TestCaseError> {
    let other = at(Kind::OtherScope, "a");
    for reader in [Reader::Office, Reader::Anyone] {
        let options = Options {
            reader,
            ..Options::default()
        };
        let result = compare(job, scope, their, Some(&other), &options);
        let mut ours: Vec<&LineKey> = result
            .entries
            .iter()
            .flat_map(|entry| &entry.ours)
            .map(|line| &line.key)
            .collect();
        let mut expected: Vec<&LineKey> = scope
            .lines
            .iter()
            .filter(|line| reader == Reader::Office || line.audience == Audience::Shared)
            .map(|line| &line.key)
            .collect();
        ours.sort();
        expected.sort();
        prop_assert_eq!(ours, expected);
        let mut rows: Vec<u32> = result
            .entries
            .iter()
            .flat_map(|entry| &entry.theirs)
            .map(|row| row.row)
            .collect();
        rows.sort_unstable();
        prop_assert_eq!(
            rows,
            their.rows.iter().map(|row| row.row).collect::<Vec<_>>()
        );
        for entry in &result.entries {
            prop_assert!(!entry.sentence.is_empty());
            let matched = !entry.ours.is_empty()
                && !entry.theirs.is_empty()
                && entry.outcome != Outcome::NotMatched;
            prop_assert_eq!(entry.certainty.is_some(), matched, "{:?}", entry);
            prop_assert!(!matched || !entry.reasons.is_empty());
        }
        let list = disputes(&result);
        let same = result.counts[&Outcome::Same] as usize;
        prop_assert_eq!(list.disputes.len() + same, result.entries.len());
        let first = (serde_json::to_vec(&result).unwrap(), disputes_csv(&list));
        let again = compare(job, scope, their, Some(&other), &options);
        prop_assert_eq!(
            first,
            (
                serde_json::to_vec(&again).unwrap(),
                disputes_csv(&disputes(&again))
            )
        );
    }
    Ok(())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(120))]

    #[test]
    fn random_scopes_are_compared(
        ours in proptest::collection::vec(any::<u32>(), 0..60),
        rows in proptest::collection::vec(any::<(u32, u32, u32)>(), 0..60),
        words in proptest::collection::vec((0u32..70, any::<u32>()), 0..8),
    ) {
        let table = read_table(their_file(&rows).as_bytes(), None).unwrap();
        let their = read_rows(&table, &Columns::guess(&table)).unwrap();
        prop_assert_eq!(their.rows.len() + their.broken.len() + their.skipped.len(), table.rows.len());
        let lines = our_lines(&ours);
        let mut job = super::house().job;
        for (number, (row, seed)) in words.iter().enumerate() {
            let key = if lines.is_empty() || seed.is_multiple_of(4) { String::new() } else { lines[*seed as usize % lines.len()].key.as_str().to_owned() };
            job.records.scope_matches.insert(id(&format!("m{number}")), record(ScopeMatch {
                other: Some(at(Kind::OtherScope, "a")),
                row: Some(*row),
                line: Some(key),
                reason: None,
            }));
        }
        check(&job, &scope_of(lines), &their)?;
    }

    #[test]
    fn random_jobs_are_compared(
        seed in proptest::collection::vec(any::<u32>(), 1..300),
        ours in proptest::collection::vec(any::<u32>(), 0..30),
        rows in proptest::collection::vec(any::<(u32, u32, u32)>(), 0..30),
    ) {
        let job = random_job(&seed);
        let table = read_table(their_file(&rows).as_bytes(), None).unwrap();
        let their = read_rows(&table, &Columns::guess(&table)).unwrap();
        check(&job, &scope_of(our_lines(&ours)), &their)?;
        check(&job, &scope(&job, &ScopeInputs::default()), &their)?;
    }
}
