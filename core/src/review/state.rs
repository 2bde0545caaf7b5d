//! What a finding amounts to: damage, a prior condition, unsure, cleared.

use serde::Serialize;

use crate::job::{Cause, Condition, Finding};

/// What a finding amounts to, from its condition and cause together.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    /// Damaged or missing, from a cause that is not older than the storm as far as the crew says.
    Damaged,
    /// It was there before: prior, worn, aged.
    Prior,
    /// Condition or cause is unsure.
    Unsure,
    /// Looked at and in order.
    Cleared,
    /// The house has none.
    NotPresent,
    /// Nobody has said yet.
    Open,
}

impl State {
    /// What a finding amounts to.
    pub fn of(finding: &Finding) -> Self {
        let older = matches!(finding.cause, Some(Cause::Prior | Cause::WearOrAge));
        let unsure_cause = finding.cause == Some(Cause::Unsure);
        match finding.condition {
            Some(Condition::Cleared) => State::Cleared,
            Some(Condition::NotPresent) => State::NotPresent,
            Some(Condition::Worn) if finding.cause.is_none_or(|cause| !is_storm(cause)) => {
                State::Prior
            }
            Some(_) if older => State::Prior,
            Some(Condition::Unsure) => State::Unsure,
            Some(_) if unsure_cause => State::Unsure,
            Some(_) => State::Damaged,
            None if older => State::Prior,
            None => State::Open,
        }
    }

    /// The words that people read.
    pub const fn label(self) -> &'static str {
        match self {
            State::Damaged => "damaged",
            State::Prior => "prior",
            State::Unsure => "unsure",
            State::Cleared => "cleared",
            State::NotPresent => "not present",
            State::Open => "not stated",
        }
    }
}

/// True for the causes that come with a storm.
pub(crate) fn is_storm(cause: Cause) -> bool {
    matches!(cause, Cause::Hail | Cause::Wind | Cause::OtherStorm)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn condition_and_cause_are_read_together() {
        let of = |condition, cause| {
            State::of(&Finding {
                condition,
                cause,
                ..Finding::default()
            })
        };
        assert_eq!(
            of(Some(Condition::Damaged), Some(Cause::Hail)),
            State::Damaged
        );
        assert_eq!(
            of(Some(Condition::Damaged), Some(Cause::Prior)),
            State::Prior
        );
        assert_eq!(of(Some(Condition::Worn), None), State::Prior);
        assert_eq!(of(Some(Condition::Worn), Some(Cause::Wind)), State::Damaged);
        assert_eq!(
            of(Some(Condition::Missing), Some(Cause::Unsure)),
            State::Unsure
        );
        assert_eq!(
            of(Some(Condition::Cleared), Some(Cause::Prior)),
            State::Cleared
        );
        assert_eq!(of(None, Some(Cause::Hail)), State::Open);
    }
}
