//! Which column of a table means what.

use crate::sorted::Sorted;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::MeasurementError;

macro_rules! columns {
    ($( $variant:ident, $label:literal, [$($word:literal),*]; )*) => {
        /// What a column can mean.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Column {
            $( #[doc = $label] $variant, )*
        }

        impl Column {
            /// Every meaning, in the order in which columns are taken.
            pub const ALL: &'static [Column] = &[$( Column::$variant ),*];

            /// The words that people read.
            pub const fn label(self) -> &'static str {
                match self { $( Column::$variant => $label ),* }
            }

            /// Words in a head that point to it, the surest first.
            const fn words(self) -> &'static [&'static str] {
                match self { $( Column::$variant => &[$($word),*] ),* }
            }
        }
    };
}

columns! {
    Pitch, "pitch", ["pitch", "rise", "incline", "angle"];
    Area, "area", ["area", "sqft", "sq", "squares", "sf", "surface"];
    Length, "length", ["length", "len", "lf", "linear", "lineal", "run", "ft", "feet"];
    What, "kind of slope or edge", ["type", "kind", "feature", "element", "category", "edge", "line"];
    Name, "name of the slope or edge",
        ["name", "slope", "facet", "plane", "face", "section", "label", "number", "no", "id"];
}

/// Columns that a person names, by what they mean. What is not named is guessed.
pub type Columns = BTreeMap<Column, String>;

/// Which column was taken for what.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct ColumnUse {
    /// What it means.
    pub column: Column,
    /// Its head in the file.
    pub head: String,
    /// True where it was guessed, false where a person named it.
    pub guessed: bool,
}

/// The columns by number.
#[derive(Debug, Default)]
pub(super) struct Mapping {
    pub(super) uses: Vec<ColumnUse>,
    at: BTreeMap<Column, usize>,
}

impl Mapping {
    pub(super) fn of(heads: &[String], named: &Columns) -> Result<Self, MeasurementError> {
        let mut mapping = Self::default();
        for (column, asked) in named {
            let same = |head: &String| head.trim().eq_ignore_ascii_case(asked.trim());
            let Some(at) = heads.iter().position(same) else {
                return Err(MeasurementError::UnknownColumn {
                    asked: asked.clone(),
                    columns: listed(heads),
                });
            };
            mapping.take(*column, at, heads, false);
        }
        for column in Column::ALL {
            if !mapping.at.contains_key(column)
                && let Some(at) = mapping.guess(*column, heads)
            {
                mapping.take(*column, at, heads, true);
            }
        }
        mapping.slope_may_be_the_pitch(heads);
        mapping.uses.order_by_key(|used| used.column);
        let useful = [Column::Area, Column::Pitch, Column::Length];
        if useful.iter().any(|column| mapping.at.contains_key(column)) {
            return Ok(mapping);
        }
        Err(MeasurementError::NoColumn {
            columns: listed(heads),
        })
    }

    pub(super) fn at(&self, column: Column) -> Option<usize> {
        self.at.get(&column).copied()
    }

    /// The first free column with the surest word.
    fn guess(&self, column: Column, heads: &[String]) -> Option<usize> {
        column.words().iter().find_map(|word| {
            heads.iter().enumerate().find_map(|(at, head)| {
                let free = !self.at.values().any(|taken| *taken == at);
                (free && words_of(head).any(|w| w == *word || w.strip_suffix('s') == Some(*word)))
                    .then_some(at)
            })
        })
    }

    /// "Slope" names a plane where another column is the pitch, and is the pitch where none is
    /// and another column has the name.
    fn slope_may_be_the_pitch(&mut self, heads: &[String]) {
        if self.at.contains_key(&Column::Pitch) {
            return;
        }
        let free = |at: &usize| !self.at.values().any(|taken| taken == at);
        let slope = (0..heads.len()).filter(free).find(|at| {
            heads
                .get(*at)
                .is_some_and(|h| words_of(h).any(|w| w == "slope"))
        });
        if let Some(at) = slope {
            self.take(Column::Pitch, at, heads, true);
        }
    }

    fn take(&mut self, column: Column, at: usize, heads: &[String], guessed: bool) {
        self.at.insert(column, at);
        self.uses.push(ColumnUse {
            column,
            head: heads.get(at).cloned().unwrap_or_default(),
            guessed,
        });
    }
}

/// The words of a head: "Area (sq ft)" is area, sq, ft; "pitchRise" stays one word.
pub(super) fn words_of(head: &str) -> impl Iterator<Item = String> {
    let lower = head.to_lowercase();
    let words: Vec<String> = lower
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty())
        .map(str::to_owned)
        .collect();
    words.into_iter()
}

fn listed(heads: &[String]) -> String {
    let shown: Vec<String> = heads.iter().take(20).map(|h| format!("\"{h}\"")).collect();
    shown.join(", ")
}
