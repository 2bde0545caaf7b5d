//! The safety cautions that are shown wherever a climb is recorded.

use crate::trade::Source;
use crate::trade::safety::Caution;

const fn osha(section: &'static str) -> Source {
    Source::Standard {
        name: "29 CFR",
        edition: "US construction rules as codified",
        section,
    }
}

/// The cautions, in the order of a climb.
pub const CAUTIONS: &[Caution] = &[
    Caution {
        text: "Ladder: one foot out for every four feet up to where it rests.",
        source: osha("1926.1053(b)(5)(i)"),
    },
    Caution {
        text: "Ladder: side rails at least 3 ft above the landing, tied off at the top; where \
               they cannot reach that far, the top secured and a grab device.",
        source: osha("1926.1053(b)(1)"),
    },
    Caution {
        text: "Ladder: firm, level ground; never carry what could make you lose your hold.",
        // Sections from memory, not looked up: 1926.1053(b)(6), (12), (22), 1926.1408,
        // 1926.501(b)(4) and (11).
        source: osha("1926.1053(b)(6) and (22)"),
    },
    Caution {
        text: "Power lines: at least 10 ft from lines up to 50 kV, more above; no metal ladder \
               near them.",
        source: osha("1926.1053(b)(12) and 1926.1408"),
    },
    Caution {
        text: "Fall protection from 6 ft. The exception for looking at a roof before work starts \
               ends where work starts, and opening an eave may count as work.",
        source: osha("1926.501(b)(13) and 1926.500(a)(1)"),
    },
    Caution {
        text: "Steep roofs (over 4 in 12) ask for more than sure feet: guardrails, nets or a \
               harness.",
        source: osha("1926.500(b) and 1926.501(b)(11)"),
    },
    Caution {
        text: "Skylights and soft decks are holes: keep off them, and cover or guard them.",
        source: osha("1926.501(b)(4)"),
    },
    Caution {
        text: "No climbing on wet, icy or mossy roofs, in high wind, or within 30 minutes of \
               thunder. The company sets its wind limit.",
        source: Source::Practice,
    },
    Caution {
        text: "Heat: water, shade and rest; watch each other, roofs are hotter than the forecast.",
        source: Source::Practice,
    },
];

#[cfg(test)]
mod tests {
    use super::*;
    use crate::trade::safety::DEFERENCE;

    // Section numbers: title 29 of the US Code of Federal Regulations, part 1926, subparts M, X, CC.
    #[test]
    fn the_cautions_name_ladder_falls_and_lines_and_defer() {
        let sources: Vec<String> = CAUTIONS.iter().map(|c| c.source.to_string()).collect();
        for section in ["1926.1053(b)(5)", "1926.1053(b)(1)", "1926.501(b)(13)"] {
            assert!(sources.iter().any(|s| s.contains(section)), "{section}");
        }
        assert!(DEFERENCE.contains("training, local rules and the manufacturer come first"));
    }
}
