//! What a rule of the code says about one thing of a roof.

use serde::Serialize;

use super::{CodeRule, Edition, EditionRead, Figure, FigureUnit, Input, Provision, Status};

/// Stands below every answer.
pub const CONFIRM: &str = "Confirm with the local authority: it adopts and amends the code, and \
the manufacturer's instructions apply as well.";

/// What the rule says.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Standing {
    /// It asks for something.
    Asks,
    /// It applies to the house but asks for nothing here.
    NotAsked,
    /// Something it depends on is not known.
    NotKnown,
}

/// Which thing of the inputs an answer is about; numbers count from 0 in the lists of the inputs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum About {
    /// The house as a whole.
    House,
    /// A slope.
    Slope(usize),
    /// A valley.
    Valley(usize),
    /// A sidewall.
    Sidewall(usize),
    /// A chimney or other opening.
    Opening(usize),
}

/// One input that led to an answer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Trigger {
    /// Which.
    pub input: Input,
    /// Its value in words.
    pub value: String,
}

/// What one rule says about one thing.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Answer {
    /// The rule.
    pub rule: CodeRule,
    /// The thing.
    pub about: About,
    /// Its name.
    pub place: String,
    /// What the rule says.
    pub standing: Standing,
    /// The section in this edition; where the edition has none, the section of a later one.
    pub section: &'static str,
    /// The edition.
    pub edition: Edition,
    /// The edition was assumed because nobody named it.
    pub edition_assumed: bool,
    /// What it asks, in plain words.
    pub sentence: String,
    /// The numbers it asks for and those worked out for this roof.
    pub figures: Vec<Figure>,
    /// The inputs that led to it.
    pub triggered_by: Vec<Trigger>,
    /// What it would need and nobody recorded.
    pub not_known: Vec<Input>,
    /// Whether the section was read.
    pub status: Status,
    /// [`CONFIRM`].
    pub confirm: &'static str,
}

impl Answer {
    /// "IRC 2018, R905.1.2", with a word where the edition is assumed.
    pub fn citation(&self) -> String {
        let assumed = if self.edition_assumed {
            " (assumed)"
        } else {
            ""
        };
        format!("{}{assumed}, {}", self.edition, self.section)
    }

    /// A figure by its name.
    pub fn figure(&self, name: &str) -> Option<f64> {
        let figure = self.figures.iter().find(|figure| figure.name == name);
        figure.map(|figure| figure.value)
    }
}

/// Gathers the answers of one rule.
pub(super) struct Raise<'a> {
    pub(super) read: &'a EditionRead,
    pub(super) provision: &'static Provision,
    pub(super) answers: &'a mut Vec<Answer>,
}

/// An answer that is being put together.
pub(super) struct Draft {
    about: About,
    place: String,
    triggered_by: Vec<Trigger>,
    not_known: Vec<Input>,
    figures: Vec<Figure>,
}

impl Draft {
    pub(super) fn of(about: About, place: &str) -> Self {
        Self {
            about,
            place: place.to_owned(),
            triggered_by: Vec::new(),
            not_known: Vec::new(),
            figures: Vec::new(),
        }
    }

    /// Uses an input: a known one is a trigger, an unknown one is listed as not known.
    pub(super) fn uses<T: Copy>(
        &mut self,
        input: Input,
        value: Option<T>,
        words: impl FnOnce(T) -> String,
    ) -> Option<T> {
        match value {
            Some(known) => self.triggered_by.push(Trigger {
                input,
                value: words(known),
            }),
            None => self.not_known.push(input),
        }
        value
    }

    /// True where an input that was asked for is not known.
    pub(super) fn lacks_something(&self) -> bool {
        !self.not_known.is_empty()
    }

    pub(super) fn figure(&mut self, name: &'static str, value: f64, unit: FigureUnit) {
        self.figures.push(Figure { name, value, unit });
    }
}

impl Raise<'_> {
    pub(super) fn asks(&mut self, draft: Draft, sentence: String) {
        self.push(draft, Standing::Asks, sentence);
    }

    pub(super) fn not_asked(&mut self, draft: Draft, sentence: String) {
        self.push(draft, Standing::NotAsked, sentence);
    }

    /// Says what is not known and what the rule would ask.
    pub(super) fn not_known(&mut self, draft: Draft) {
        self.unsettled(draft, self.provision.asks.to_owned());
    }

    /// Not known either, but what it would ask could be worked out.
    pub(super) fn unsettled(&mut self, draft: Draft, would_ask: String) {
        let missing: Vec<&str> = draft.not_known.iter().map(|i| i.label()).collect();
        let sentence = format!("Not known: {}. {would_ask}", missing.join("; "));
        self.push(draft, Standing::NotKnown, sentence);
    }

    fn push(&mut self, draft: Draft, standing: Standing, sentence: String) {
        let mut figures = self.provision.figures.to_vec();
        figures.extend(draft.figures);
        self.answers.push(Answer {
            rule: self.provision.rule,
            about: draft.about,
            place: draft.place,
            standing,
            section: self.provision.section,
            edition: self.read.edition,
            edition_assumed: self.read.assumed,
            sentence,
            figures,
            triggered_by: draft.triggered_by,
            not_known: draft.not_known,
            status: self.provision.status,
            confirm: CONFIRM,
        });
    }
}
