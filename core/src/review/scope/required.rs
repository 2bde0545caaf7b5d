//! What the code asks for, as the basis of a line.

use super::Basis;
use super::sheet::Sheet;
use crate::trade::code::{CONFIRM, CodeRule, Edition, EditionRead, Provision, provision};

/// The code in force at the house, as far as anybody said.
pub(super) struct Code {
    read: EditionRead,
}

impl Code {
    pub(super) fn of(sheet: &Sheet<'_>) -> Self {
        let recorded = sheet
            .view
            .job
            .property()
            .filter(|property| property.stands())
            .and_then(|property| property.code_edition.clone());
        let text = sheet.inputs.code_edition.clone().or(recorded);
        Self {
            read: EditionRead::of(text.as_deref()),
        }
    }

    pub(super) fn edition(&self) -> Edition {
        self.read.edition
    }

    /// The rule, where the edition has it.
    pub(super) fn rule(&self, rule: CodeRule) -> Option<&'static Provision> {
        provision(rule, self.read.edition).filter(|provision| provision.in_force)
    }

    /// The basis of a line that a rule asks for, with what triggered it.
    pub(super) fn basis(&self, provision: &Provision, trigger: &str) -> Basis {
        Basis::Requirement {
            section: provision.section.to_owned(),
            edition: self.read.edition.to_string(),
            words: format!("{} {trigger} {CONFIRM}", provision.asks),
        }
    }

    /// The doubt that stands with such a line where the edition was not recorded clearly.
    pub(super) fn doubt(&self) -> Option<String> {
        self.read.assumed.then(|| self.read.words.clone())
    }
}
