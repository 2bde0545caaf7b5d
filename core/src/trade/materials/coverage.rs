//! What one unit of each material covers: defaults in one table, each with its source.

use serde::Serialize;

/// The source of a figure that nobody published with authority.
pub const PRACTICE: &str = "common practice, no source";

/// A coverage that somebody entered in place of the default.
#[derive(Clone, Debug, PartialEq)]
pub struct Entered {
    /// How much one unit covers.
    pub value: f64,
    /// Where it was read, such as "label on the bundle".
    pub source: String,
}

/// A default.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Coverage {
    /// Which.
    pub key: CoverageKey,
    /// How much.
    pub value: f64,
    /// In which unit.
    pub unit: &'static str,
    /// Where it comes from.
    pub source: &'static str,
}

macro_rules! coverages {
    ($( $variant:ident, $label:literal, $value:expr, $unit:literal, $source:expr; )*) => {
        /// What one unit of a material covers.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
        #[serde(rename_all = "snake_case")]
        pub enum CoverageKey {
            $( #[doc = $label] $variant, )*
        }

        /// The defaults.
        pub const COVERAGES: &[Coverage] = &[$( Coverage {
            key: CoverageKey::$variant,
            value: $value,
            unit: $unit,
            source: $source,
        } ),*];

        impl CoverageKey {
            /// Every key.
            pub const ALL: &'static [CoverageKey] = &[$( CoverageKey::$variant ),*];

            /// The words that people read.
            pub const fn label(self) -> &'static str {
                match self { $( CoverageKey::$variant => $label ),* }
            }

            /// The default in its unit.
            pub const fn default_value(self) -> f64 {
                match self { $( CoverageKey::$variant => $value ),* }
            }

            /// The unit.
            pub const fn unit(self) -> &'static str {
                match self { $( CoverageKey::$variant => $unit ),* }
            }

            /// Where the default comes from.
            pub const fn source(self) -> &'static str {
                match self { $( CoverageKey::$variant => $source ),* }
            }
        }
    };
}

coverages! {
    ShingleBundle, "shingles in a bundle", 1.0 / 3.0, "SQ a bundle", PRACTICE;
    ShinglesInSquare, "shingles in a square", 80.0, "a SQ",
        "plane geometry: 14,400 sq in / (36 in x 5 in exposure)";
    FastenersInShingle, "fasteners in a shingle", 4.0, "a shingle",
        "International Residential Code R905.2.6, the least";
    FastenersHighWind, "fasteners in a shingle for high wind", 6.0, "a shingle", PRACTICE;
    FastenerBox, "fasteners in a box", 7200.0, "a box", PRACTICE;
    StarterBundle, "starter in a bundle", 100.0, "ft a bundle", PRACTICE;
    CapBundle, "ridge and hip cap in a bundle", 25.0, "ft a bundle", PRACTICE;
    UnderlaymentRoll, "underlayment in a roll, 36 in wide", 144.0, "ft a roll", PRACTICE;
    IceBarrierWidth, "width of an ice barrier roll", 36.0, "in", PRACTICE;
    IceBarrierLap, "lap between courses of ice barrier", 3.0, "in", PRACTICE;
    IceBarrierRoll, "ice barrier in a roll", 66.67, "ft a roll", PRACTICE;
    EdgeMetalPiece, "length of a piece of edge metal", 10.0, "ft", PRACTICE;
    EdgeMetalLap, "lap of edge metal", 2.0, "in",
        "International Residential Code R905.2.8.5, the least";
    ValleyMetalPiece, "length of a piece of valley metal", 10.0, "ft", PRACTICE;
    ValleyMetalLap, "lap of valley metal", 6.0, "in", PRACTICE;
    ValleyRoll, "valley roll, 36 in wide", 33.0, "ft a roll", PRACTICE;
    HeadwallPiece, "length of a piece of headwall flashing", 10.0, "ft", PRACTICE;
    HeadwallLap, "lap of headwall flashing", 2.0, "in", PRACTICE;
    BoxVentArea, "net free area of a box vent", 50.0, "sq in", PRACTICE;
    RidgeVentArea, "net free area of ridge vent", 18.0, "sq in a ft", PRACTICE;
    HighShare, "share of the vent area that lies high", 0.5, "of the area",
        "International Residential Code R806.2, the most that counts";
}
