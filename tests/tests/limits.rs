//! Every limit is named by a test: one that nobody goes past is one that nobody knows to hold.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic)]

use std::path::{Path, PathBuf};

/// Limits that no test names, each with the reason.
const WITHOUT: &[(&str, &str)] = &[
    (
        "BATCH_TARGET_BYTES",
        "how much goes at a time: nothing is refused past it",
    ),
    (
        "BATCH_WINDOW",
        "how much is sent ahead: nothing is refused past it",
    ),
    (
        "BATCH_WINDOW_BYTES",
        "how much is sent ahead: nothing is refused past it",
    ),
    (
        "MULTINOMIAL_OUTCOMES",
        "which of two tests answers; both are held against scipy",
    ),
    (
        "PATTERN_RATIO",
        "where a fit ends; fits are held against scipy",
    ),
    (
        "PATTERN_FACING_APART",
        "how facings are counted; fits are held against scipy",
    ),
    ("SLOPES_IN_PAIRS", "which of two comparisons is shown"),
    ("LOW_HIT_INCHES", "what is pointed out, not what is taken"),
    (
        "PATTERN_FACINGS",
        "what is said to be too little; the words are tested",
    ),
    (
        "ROLL_FILES",
        "a hundred thousand files; the count is tested with fewer",
    ),
    ("SIGN_INS", "the conformance suite counts with fewer"),
    (
        "CHALLENGE_MS",
        "the clock of a running server stands apart; that an end counts is tested",
    ),
    (
        "TOKEN_MS",
        "the clock of a running server stands apart; that an end counts is tested",
    ),
    ("SIGN_IN_TOUCH_MS", "how often something is written down"),
    ("PASSWORD_WAIT_MS", "the tests of a full line shorten it"),
    ("WATCH_MS", "a pause between two looks"),
    ("SWEEP_MS", "a pause between two looks"),
    (
        "WORKER_START_MS",
        "a program that never answers would hold up every run for ten seconds",
    ),
    ("TABLE_WAIT_MS", "how long a turn is waited for"),
    (
        "TABLES_AT_ONCE",
        "turns that are waited for: nothing is refused at once",
    ),
    (
        "PACKETS_AT_ONCE",
        "turns that are waited for: nothing is refused at once",
    ),
    (
        "FILES_READ",
        "turns that are waited for: nothing is refused at once",
    ),
    ("PACKET_PIECE", "how much is read at a time"),
    (
        "PACKET_PDF_BYTES",
        "a file of ours that large is not made in a test",
    ),
    ("CUSTODY_PAGE", "how much is shown at a time"),
    ("PREVIEW_ROWS", "how much is shown at a time"),
    ("JOBS_PAGE", "how much is shown at a time"),
    ("FINDINGS_PAGE", "how much is shown at a time"),
    ("PICTURES_PAGE", "how much is shown at a time"),
    ("AHEAD_PAUSE_MS", "a pause between two looks"),
    ("AUDIT_JOBS", "how much is shown at a time"),
    ("DOCUMENT_IDLE_MS", "a pause between two looks"),
    ("FOLLOW_PAUSE_MS", "a pause before a piece of work"),
    ("ASIDE_MS", "the clock of a running server stands apart"),
    ("COMPANIES_MS", "a pause between two looks"),
    (
        "LIVE_PAGES",
        "past it a page is told to be read again by hand, as one without scripts is",
    ),
    ("LIVE_MS", "how long a page listens before it asks again"),
    ("LIVE_BEAT_MS", "a pause between two words"),
    (
        "FORM_FIELDS",
        "fields past it are passed over: none of ours has so many",
    ),
    (
        "STORM_KEPT",
        "a file of real reports past it takes a minute to read in a debug build",
    ),
];

fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            // Benches measure: nothing is refused in them.
            let passed_over = ["target", "fuzz", "benches"].map(std::ffi::OsStr::new);
            if path
                .file_name()
                .is_some_and(|name| !passed_over.contains(&name))
            {
                sources(&path, found);
            }
        } else if path
            .extension()
            .is_some_and(|end| end == "rs" || end == "py")
        {
            found.push(path);
        }
    }
}

/// The part of a file that is tests: all of it where it holds tests and no code beside them.
fn tests_of(root: &Path, path: &Path) -> String {
    let text = std::fs::read_to_string(path).unwrap();
    let below = path.strip_prefix(root).unwrap();
    let in_tests = below.iter().any(|part| part == "tests");
    let holds_tests = ["#[test]", "#[tokio::test]", "proptest! {", "def test_"]
        .iter()
        .any(|mark| text.contains(mark));
    match text.find("#[cfg(test)]") {
        Some(at) if !in_tests => text[at..].to_owned(),
        _ if in_tests || holds_tests => text,
        _ => String::new(),
    }
}

fn names(word: &str, text: &str) -> bool {
    let part = |c: Option<char>| c.is_some_and(|c| c.is_ascii_alphanumeric() || c == '_');
    text.match_indices(word).any(|(at, _)| {
        !part(text[..at].chars().next_back()) && !part(text[at + word.len()..].chars().next())
    })
}

#[test]
fn every_limit_is_named_by_a_test() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).parent().unwrap();
    let mut files = Vec::new();
    for folder in ["core/src", "sync-server", "tests"] {
        sources(&root.join(folder), &mut files);
    }
    let itself = Path::new("tests/tests/limits.rs");
    let tests: String = files
        .iter()
        .filter(|path| !path.ends_with(itself))
        .map(|path| tests_of(root, path))
        .collect();
    let mut limits = Vec::new();
    for file in ["core/src/limits.rs", "sync-server/src/limits.rs"] {
        let text = std::fs::read_to_string(root.join(file)).unwrap();
        for line in text.lines() {
            if let Some(rest) = line.strip_prefix("pub const ") {
                limits.push(rest.split(':').next().unwrap().to_owned());
            }
        }
    }
    assert!(limits.len() > 100, "the limits are not found");
    let without = |limit: &String| WITHOUT.iter().any(|(name, _)| name == limit);
    let untested: Vec<&String> = limits
        .iter()
        .filter(|limit| !without(limit) && !names(limit, &tests))
        .collect();
    assert!(untested.is_empty(), "no test names {untested:?}");
    for (name, _) in WITHOUT {
        assert!(
            limits.iter().any(|limit| limit == name),
            "{name} is no limit"
        );
        assert!(
            !names(name, &tests),
            "{name} has a test: take it off the list"
        );
    }
}
