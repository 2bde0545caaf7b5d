//! How a kind of record is asked for at a page: its fields, and what may be done with it.

use chalkwalk_core::job::{AnyFields, Job, Kind, RecordRef, Side};

/// How a field is filled.
#[derive(Clone, Copy)]
pub(in crate::serve) enum Input {
    /// One of the job's places.
    Place,
    /// One of its slopes.
    Slope,
    /// One of a list of words.
    Word(fn() -> Vec<(String, String)>),
    /// Yes or no.
    Tick,
    /// A whole number from 0.
    Count,
    /// A number within bounds.
    Number(f64, f64),
    /// A length as the trade writes it.
    Length,
    /// An area.
    Area,
    /// A pitch.
    Pitch,
    /// A day.
    Day,
    /// A line of text.
    Line,
    /// Several lines.
    Lines,
}

/// One field.
pub(in crate::serve) struct Spec {
    pub(in crate::serve) key: &'static str,
    pub(in crate::serve) label: &'static str,
    pub(in crate::serve) hint: &'static str,
    pub(in crate::serve) input: Input,
    /// A record that is added at the page must state it.
    pub(in crate::serve) needed: bool,
}

/// What is wrong with a record as a whole: the field to say it beside, and the words.
pub(super) type Wrong = (&'static str, &'static str);

/// A kind of record at the pages.
pub(in crate::serve) struct Sheet {
    pub(in crate::serve) kind: Kind,
    /// Its fields, in groups with a heading.
    pub(super) groups: &'static [(&'static str, &'static [Spec])],
    /// Its fields may be changed.
    pub(in crate::serve) edits: bool,
    /// Another may be added.
    pub(in crate::serve) adds: bool,
    /// Hits are counted for it.
    pub(super) counts: bool,
    /// What holds of the record as a whole.
    pub(super) whole: fn(&AnyFields) -> Option<Wrong>,
}

impl Sheet {
    /// Every field.
    pub(in crate::serve) fn specs(&self) -> impl Iterator<Item = &'static Spec> {
        self.groups.iter().flat_map(|(_, specs)| specs.iter())
    }

    pub(in crate::serve) fn spec(&self, key: &str) -> Option<&'static Spec> {
        self.specs().find(|spec| spec.key == key)
    }

    /// Whether hits are stated with a new one.
    pub(super) fn counts_new(&self) -> bool {
        self.counts && self.kind != Kind::Finding
    }
}

/// The house and its four sides are there for good; everything else may be struck.
pub(in crate::serve) fn may_strike(of: &RecordRef) -> bool {
    of.id != Job::only() && Side::from_code(of.id.as_str()).is_none()
}

/// A kind whose fields may be changed and of which another may be added.
pub(super) const fn sheet(kind: Kind, groups: &'static [(&'static str, &'static [Spec])]) -> Sheet {
    Sheet {
        kind,
        groups,
        edits: true,
        adds: true,
        counts: false,
        whole: |_| None,
    }
}

pub(super) const fn spec(
    key: &'static str,
    label: &'static str,
    input: Input,
    hint: &'static str,
) -> Spec {
    Spec {
        key,
        label,
        hint,
        input,
        needed: false,
    }
}

pub(super) const fn needed(key: &'static str, label: &'static str, input: Input) -> Spec {
    Spec {
        needed: true,
        ..spec(key, label, input, "")
    }
}

/// The words of a vocabulary to choose from.
macro_rules! words {
    ($type:ident) => {
        Input::Word(|| {
            let word = |word: &$type| (word.code().to_owned(), word.label().to_owned());
            $type::ALL.iter().map(word).collect()
        })
    };
}

/// A layer: how well it is known, and what it is.
macro_rules! layer {
    ($type:ident) => {
        Input::Word(|| {
            let known = $type::ALL
                .iter()
                .flat_map(|what| [Layer::Seen(*what), Layer::Inferred(*what)]);
            known
                .chain([Layer::SeenAbsent, Layer::CouldNotSee])
                .map(|layer: Layer<$type>| {
                    let code = match layer.to_scalar() {
                        Scalar::Str(code) => code,
                        _ => String::new(),
                    };
                    (code, layer.in_words())
                })
                .collect()
        })
    };
}
pub(super) use {layer, words};
