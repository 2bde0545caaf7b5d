//! Sizes of hail at which damage was observed to begin.

use serde::Serialize;

use crate::job::Material;

/// Stands beside the table wherever small hail is in question.
pub const SMALL_HAIL_NOTE: &str = "Many stones under 1 in were found to shorten the later life of \
asphalt shingles (Insurance Institute for Business and Home Safety, 2025): small hail is not \
proof of a sound roof.";

/// One observation: from which sizes damage was seen to begin. A range, never a verdict: age,
/// support, temperature, hardness of the stone and angle all matter.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Onset {
    /// What was struck.
    pub material: &'static str,
    /// The words of the vocabulary that it goes for.
    pub goes_for: &'static [Material],
    /// Smallest size at which damage was observed to begin, inches.
    pub low: f64,
    /// Largest such size, inches.
    pub high: f64,
    /// What was observed.
    pub words: &'static str,
    /// By whom.
    pub source: &'static str,
}

const SHINGLES: &[Material] = &[Material::ThreeTabShingle, Material::LaminatedShingle];
const WEATHER_SERVICE: &str =
    "US National Weather Service, summary of T. Marshall and others, 2002";

const SUMMARIES: &str = "published summaries of hail tests and surveys; the report behind this \
size was not looked up";

/// Sizes at which damage was observed to begin, by material.
pub const DAMAGE_ONSET: &[Onset] = &[
    Onset {
        material: "asphalt shingles",
        goes_for: SHINGLES,
        low: 1.00,
        high: 1.25,
        words: "none damaged at 0.75 in; some eleven-year-old shingles at 1.00 in; several kinds \
                at 1.25 in",
        source: WEATHER_SERVICE,
    },
    Onset {
        material: "asphalt shingles, standard",
        goes_for: SHINGLES,
        low: 1.25,
        high: 1.25,
        words: "moderate to severe damage over 1.25 in; shingles older than ten years weaker",
        source: "Roofing Industry Committee on Weather Issues, hail investigation report, 2011",
    },
    Onset {
        material: "prepared roofing",
        goes_for: &[
            Material::ThreeTabShingle,
            Material::LaminatedShingle,
            Material::RollRoofing,
        ],
        low: 1.50,
        high: 2.00,
        words: "most prepared roofing on a firm deck was damaged from 1.5 to 2 in",
        source: "US National Bureau of Standards, Building Science Series 23, 1969",
    },
    Onset {
        material: "wood shingles",
        goes_for: &[Material::WoodShingle],
        low: 1.25,
        high: 1.25,
        words: "damage began at 1.25 in",
        source: SUMMARIES,
    },
    Onset {
        material: "heavy wood shakes",
        goes_for: &[Material::WoodShake],
        low: 1.75,
        high: 1.75,
        words: "damage began at 1.75 in",
        source: SUMMARIES,
    },
    Onset {
        material: "clay tile and slate",
        goes_for: &[Material::ClayTile, Material::Slate],
        low: 1.50,
        high: 1.50,
        words: "damage began at 1.5 in",
        source: SUMMARIES,
    },
    Onset {
        material: "concrete tile",
        goes_for: &[Material::ConcreteTile],
        low: 2.00,
        high: 2.00,
        words: "most concrete tile was damaged from 2 in",
        source: SUMMARIES,
    },
];

/// The observations that go for a material; empty where no source was found.
pub fn onset_of(material: Material) -> impl Iterator<Item = &'static Onset> {
    DAMAGE_ONSET
        .iter()
        .filter(move |row| row.goes_for.contains(&material))
}

/// Diameter in inches of the stone that left a splash mark so wide, in inches: the stone is about
/// a quarter larger than its mark (field guides on hail; rough). `None` for what is no width. No
/// reliable ratio of a dent to its stone was found, so none is given.
pub fn stone_from_splash(mark_inches: f64) -> Option<f64> {
    (mark_inches > 0.0 && mark_inches <= 7.2).then_some(mark_inches * 1.25)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rows_are_ranges_with_a_source_and_no_verdict() {
        for row in DAMAGE_ONSET {
            assert!(
                0.5 <= row.low && row.low <= row.high && row.high <= 3.0,
                "{row:?}"
            );
            assert!(!row.source.is_empty() && !row.goes_for.is_empty());
            for verdict in ["covered", "owed", "proof", "always", "never"] {
                assert!(!row.words.contains(verdict), "{row:?}");
            }
        }
    }

    /// US National Weather Service summary of Marshall 2002; RICOWI 2011; NBS BSS 23.
    #[test]
    fn asphalt_shingles_have_three_observations() {
        let found: Vec<(f64, f64)> = onset_of(Material::ThreeTabShingle)
            .map(|row| (row.low, row.high))
            .collect();
        assert_eq!(found, [(1.0, 1.25), (1.25, 1.25), (1.5, 2.0)]);
        assert_eq!(onset_of(Material::Brick).count(), 0);
    }

    #[test]
    fn a_stone_is_a_quarter_larger_than_its_mark() {
        assert_eq!(stone_from_splash(1.0), Some(1.25));
        for none in [0.0, -1.0, f64::NAN, f64::INFINITY, 7.3] {
            assert_eq!(stone_from_splash(none), None);
        }
    }
}
