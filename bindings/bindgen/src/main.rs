//! Writes the Kotlin, Swift and Python of the built library. It must be run before the library is
//! stripped: what it reads stands in the symbols.
//!
//! What uniffi writes around each call costs more than many calls do. Those parts are put into a
//! quicker form that does the same (`python.rs`, `kotlin.rs`).

#![cfg_attr(test, allow(clippy::unwrap_used))]

mod edit;
mod kotlin;
mod python;

use std::path::{Path, PathBuf};

fn main() {
    // Ends the process where it fails.
    uniffi::uniffi_bindgen_main();
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(out) = value_of(&arguments, "--out-dir", "-o").map(PathBuf::from) else {
        return;
    };
    let all = value_of(&arguments, "--language", "-l").is_none();
    let wants = |language: &str| {
        all || arguments.iter().any(|argument| {
            argument == language || argument.strip_prefix("--language=") == Some(language)
        })
    };
    let mut tuned = Ok(());
    if wants("python") {
        tuned = tuned.and_then(|()| tune(&out.join("chalkwalk.py"), python::tuned));
    }
    if wants("kotlin") {
        tuned = tuned.and_then(|()| tune(&out.join("chalkwalk/chalkwalk.kt"), kotlin::tuned));
    }
    if let Err(error) = tuned {
        eprintln!("{error}");
        std::process::exit(1);
    }
}

fn tune(file: &Path, tuned: fn(&str) -> Result<String, String>) -> Result<(), String> {
    let named = |error: String| format!("{}: {error}", file.display());
    let text = std::fs::read_to_string(file).map_err(|error| named(error.to_string()))?;
    let text = tuned(&text).map_err(named)?;
    std::fs::write(file, text).map_err(|error| named(error.to_string()))
}

/// What is given for an option, as `--name VALUE`, `--name=VALUE` or `-n VALUE`.
fn value_of<'a>(arguments: &'a [String], long: &str, short: &str) -> Option<&'a str> {
    let mut arguments = arguments.iter();
    while let Some(argument) = arguments.next() {
        if argument == long || argument == short {
            return arguments.next().map(String::as_str);
        }
        let value = argument.strip_prefix(long);
        if let Some(value) = value.and_then(|rest| rest.strip_prefix('=')) {
            return Some(value);
        }
    }
    None
}
