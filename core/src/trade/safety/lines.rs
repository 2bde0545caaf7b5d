//! How far to stay from power lines.

use serde::Serialize;

use super::{Caution, SafetyError, osha};
use crate::job::Length;
use crate::trade::Source;

/// Up to this voltage, kilovolts, [`BASE`] holds.
const BASE_KV: f64 = 50.0;
const BASE: Length = Length::feet_inches(10, 0);
/// For each ten kilovolts above, or part of them.
const MORE: Length = Length::inches(4);
/// Least distance of equipment, such as a lift or a boom, by voltage in kilovolts (1926.1408,
/// table A), feet.
const EQUIPMENT: &[(f64, i64)] = &[
    (50.0, 10),
    (200.0, 15),
    (350.0, 20),
    (500.0, 25),
    (750.0, 35),
    (1000.0, 45),
];

const CAUTIONS: &[Caution] = &[
    Caution {
        text: "Persons and what they hold, ladders among it: 10 ft from lines up to 50 kV, and 4 \
               in more for each 10 kV above.",
        source: Source::Standard {
            name: "29 CFR",
            edition: "US general industry rules as codified; paragraph from memory",
            section: "1910.333(c)(3)(i)",
        },
    },
    Caution {
        text: "Lifts and booms: the distances of table A.",
        source: osha("1926.1408, table A"),
    },
    Caution {
        text: "No metal ladder where it or its user could touch a line: nonconductive rails.",
        source: osha("1926.1053(b)(12)"),
    },
    Caution {
        text: "The utility says what voltage a line has, and can cover it or cut it off. A line \
               counts as live until the utility says that it is not; the service drop to the house \
               too.",
        source: Source::Practice,
    },
];

/// How far to stay from a line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LineClearance {
    /// Persons and what they hold; each 10 kV that is begun counts whole.
    pub persons: Length,
    /// Lifts and booms; `None` above 1000 kV, where the utility or an engineer sets it.
    pub equipment: Option<Length>,
    /// What goes with it.
    pub cautions: &'static [Caution],
}

/// The least distances from a line of a voltage in kilovolts, up to 1500.
pub fn line_clearance(kilovolts: f64) -> Result<LineClearance, SafetyError> {
    if !(kilovolts > 0.0 && kilovolts <= 1500.0) {
        return Err(SafetyError::Voltage);
    }
    // A hair over a whole ten, from reckoning with decimals, is not the next ten.
    let tens = ((kilovolts - BASE_KV) / 10.0 - 1e-9).ceil().max(0.0);
    let persons = Length::from_64ths(BASE.as_64ths() + MORE.as_64ths() * tens as i64);
    let row = EQUIPMENT.iter().find(|(to, _)| kilovolts <= *to);
    Ok(LineClearance {
        persons,
        equipment: row.map(|(_, feet)| Length::feet_inches(*feet, 0)),
        cautions: CAUTIONS,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // 29 CFR 1910.269(x), "line-clearance tree trimming", states the same rule in words: 10 ft up
    // to 50 kV, plus 4 in for every 10 kV over 50 kV. 29 CFR 1926.1408, table A.
    #[test]
    fn ten_feet_to_fifty_kilovolts_and_four_inches_for_each_ten_above() {
        let cases = [
            (0.24, Length::feet_inches(10, 0), Some(10)),
            (50.0, Length::feet_inches(10, 0), Some(10)),
            (60.0, Length::feet_inches(10, 4), Some(15)),
            (69.0, Length::feet_inches(10, 8), Some(15)),
            (138.0, Length::feet_inches(13, 0), Some(15)),
            (345.0, Length::feet_inches(20, 0), Some(20)),
            (1000.0, Length::inches(120 + 380), Some(45)),
            (1200.0, Length::inches(120 + 460), None),
        ];
        for (kv, persons, equipment) in cases {
            let clearance = line_clearance(kv).unwrap();
            assert_eq!(clearance.persons, persons, "{kv}");
            let feet = equipment.map(|feet| Length::feet_inches(feet, 0));
            assert_eq!(clearance.equipment, feet, "{kv}");
        }
        for bad in [0.0, -1.0, 1500.1, f64::NAN] {
            assert_eq!(line_clearance(bad), Err(SafetyError::Voltage));
        }
    }
}
