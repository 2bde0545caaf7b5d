//! What an estimator sets and the record does not say. Every default states where it comes from;
//! none of them decides whether a slope is replaced.

use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::job::{Length, Pitch, RecordId};

/// What an estimator sets.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ScopeInputs {
    /// Hits in a test square from which an insurer's rule has a slope replaced. It differs by
    /// insurer (8 is often quoted), so there is no default. Where it is set, a slope whose square
    /// holds fewer hits gets a line to inspect and none to replace.
    pub replace_from_hits: Option<u32>,
    /// Slopes that are roofed as one: where the record has one of a group replaced, the others go
    /// with it. Empty by default: each slope stands for itself.
    pub one_roof: Vec<BTreeSet<RecordId>>,
    /// Shingles for cutting and waste, percent of the slope's area, for the whole roof. Habits
    /// run from 4 to over 20 and are disputed in the trade, so there is no default.
    pub waste_percent: Option<f64>,
    /// The same for single slopes; it goes before the one for the whole roof.
    pub waste_percent_of: BTreeMap<RecordId, f64>,
    /// Pitch from which roofing is charged as steep. 7 in 12 by default: common practice, no
    /// source.
    pub steep_from: Pitch,
    /// Storeys from which roofing is charged as high. 2 by default: common practice, no source.
    pub high_from_storeys: u32,
    /// Widest gap between deck boards that is left as it is. 3/8 in by default, the most that
    /// officials report; the residential code gives no number, so say whose rule is used.
    pub widest_gap: Length,
    /// Whose rule on gaps is used.
    pub gap_rule: String,
    /// A starter course runs along the rakes too. No by default: common practice differs.
    pub starter_at_rakes: bool,
    /// The code and edition in force, where the estimator knows better than the record.
    pub code_edition: Option<String>,
}

impl Default for ScopeInputs {
    fn default() -> Self {
        Self {
            replace_from_hits: None,
            one_roof: Vec::new(),
            waste_percent: None,
            waste_percent_of: BTreeMap::new(),
            steep_from: Pitch::from_rise(7.0).unwrap_or_default(),
            high_from_storeys: 2,
            widest_gap: Length::from_64ths(24),
            gap_rule: "what building officials report as the most; common practice, no source"
                .to_owned(),
            starter_at_rakes: false,
            code_edition: None,
        }
    }
}

impl ScopeInputs {
    /// Percent of waste for a slope; `None` where none is set or the number makes no sense
    /// (below 0, over 100, not finite).
    pub fn waste_of(&self, slope: &RecordId) -> Option<f64> {
        self.waste_percent_of
            .get(slope)
            .copied()
            .or(self.waste_percent)
            .filter(|percent| (0.0..=100.0).contains(percent))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn defaults_read_as_the_documentation_says() {
        let inputs = ScopeInputs::default();
        assert_eq!(inputs.steep_from.to_string(), "7/12");
        assert_eq!(inputs.widest_gap.to_string(), "3/8\"");
        let json = serde_json::to_string(&inputs).unwrap();
        assert_eq!(serde_json::from_str::<ScopeInputs>(&json).unwrap(), inputs);
        assert_eq!(serde_json::from_str::<ScopeInputs>("{}").unwrap(), inputs);
        assert!(serde_json::from_str::<ScopeInputs>(r#"{"wast": 10}"#).is_err());
    }

    #[test]
    fn waste_that_makes_no_sense_is_no_waste() {
        let slope = RecordId::fixed("a");
        let mut inputs = ScopeInputs::default();
        assert_eq!(inputs.waste_of(&slope), None);
        for (percent, taken) in [
            (10.0, Some(10.0)),
            (-1.0, None),
            (101.0, None),
            (f64::NAN, None),
        ] {
            inputs.waste_percent = Some(percent);
            assert_eq!(inputs.waste_of(&slope), taken);
        }
        inputs.waste_percent_of.insert(slope.clone(), 15.0);
        assert_eq!(inputs.waste_of(&slope), Some(15.0));
    }
}
