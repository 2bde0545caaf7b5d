//! What the command prints: words for people, or one JSON value for a program.

use serde::Serialize;

/// How the command prints.
#[derive(Clone, Copy, Debug)]
pub(super) struct Output {
    pub(super) json: bool,
}

impl Output {
    /// Prints the value as JSON, or the words.
    pub(super) fn give<T: Serialize>(
        self,
        value: &T,
        words: impl FnOnce() -> String,
    ) -> Result<(), Failure> {
        if self.json {
            let text = serde_json::to_string_pretty(value)
                .map_err(|error| Failure::new(format!("the answer cannot be written: {error}")))?;
            print_line(&text);
        } else {
            print_line(words().trim_end());
        }
        Ok(())
    }

    /// A bar for long work; hidden where a program reads, or where there is no terminal.
    pub(super) fn bar(self, total: u64, what: &str) -> indicatif::ProgressBar {
        let bar = if self.json {
            indicatif::ProgressBar::hidden()
        } else {
            indicatif::ProgressBar::new(total)
        };
        let style = indicatif::ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len}")
            .unwrap_or_else(|_| indicatif::ProgressStyle::default_bar());
        bar.set_style(style);
        bar.set_message(what.to_owned());
        bar
    }
}

/// Why the command could not do its work.
#[derive(Debug)]
pub(super) struct Failure {
    pub(super) words: String,
    pub(super) code: u8,
}

impl Failure {
    pub(super) fn new(words: impl Into<String>) -> Self {
        Self {
            words: words.into(),
            code: 1,
        }
    }

    /// Something was checked and is not in order.
    pub(super) fn not_in_order(words: impl Into<String>) -> Self {
        Self {
            words: words.into(),
            code: 2,
        }
    }
}

impl<E: std::error::Error> From<E> for Failure {
    fn from(error: E) -> Self {
        Self::new(error.to_string())
    }
}

pub(super) fn print_failure(failure: &Failure, json: bool) {
    if json {
        print_line(&serde_json::json!({ "error": failure.words }).to_string());
    }
    eprintln!("chalkwalk: {}", failure.words);
}

/// Prints a line; a reader that has gone away is no error.
pub(super) fn print_line(text: &str) {
    use std::io::Write;
    let _ = writeln!(std::io::stdout().lock(), "{text}");
}
