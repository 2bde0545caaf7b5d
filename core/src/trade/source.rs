//! Where a rule or a figure comes from.

use std::fmt;

use serde::Serialize;

/// Where a rule comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Source {
    /// What good crews do; nobody has written it down with authority.
    Practice,
    /// A published rule. The local code and the edition in force there come first.
    Standard {
        /// Its name.
        name: &'static str,
        /// Which edition was read.
        edition: &'static str,
        /// The section.
        section: &'static str,
    },
}

impl fmt::Display for Source {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Source::Practice => f.write_str("common practice, no source"),
            Source::Standard {
                name,
                edition,
                section,
            } => write!(f, "{name} ({edition}), {section}"),
        }
    }
}
