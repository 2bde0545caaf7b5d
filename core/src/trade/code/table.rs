//! The sections, edition by edition, with the numbers they ask for. Adding an edition or a section
//! is a row here.

use serde::Serialize;

use super::Edition;
use Edition::*;
use FigureUnit::*;
use Status::*;

/// The rules this table knows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum CodeRule {
    /// Least slope of asphalt shingles.
    LeastSlope,
    /// Layers of underlayment.
    Underlayment,
    /// Ice barrier at the eave.
    IceBarrier,
    /// Fasteners of shingles.
    Fasteners,
    /// The deck.
    Deck,
    /// Lining of valleys.
    Valley,
    /// Flashing along a wall.
    Sidewall,
    /// Drip edge.
    DripEdge,
    /// Cricket above a wide opening.
    Cricket,
    /// New roofing over old.
    Recover,
    /// Vent area of the attic.
    Ventilation,
}

/// Whether a section was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Status {
    /// Its words were read for this or a neighbouring edition.
    Read,
    /// From memory: look it up before it is relied on.
    Memory,
}

impl Status {
    /// The words that people read.
    pub const fn label(self) -> &'static str {
        match self {
            Status::Read => "read",
            Status::Memory => "from memory",
        }
    }
}

/// The unit of a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub enum FigureUnit {
    /// Inches.
    #[serde(rename = "in")]
    Inches,
    /// Square inches.
    #[serde(rename = "sq in")]
    SquareInches,
    /// Inches of rise in twelve of run.
    #[serde(rename = "in 12")]
    RiseInTwelve,
    /// How many.
    #[serde(rename = "count")]
    Count,
    /// A share of one.
    #[serde(rename = "share")]
    Share,
}

/// A number that a section asks for.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Figure {
    /// What it is.
    pub name: &'static str,
    /// How much.
    pub value: f64,
    /// In which unit.
    pub unit: FigureUnit,
}

/// One rule from one edition on, until the next row of the same rule.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Provision {
    /// The rule.
    pub rule: CodeRule,
    /// The first edition of this row.
    pub since: Edition,
    /// The section.
    pub section: &'static str,
    /// False for a row that says that the edition has no such rule.
    pub in_force: bool,
    /// What it asks, in general.
    pub asks: &'static str,
    /// Its numbers.
    pub figures: &'static [Figure],
    /// Whether it was read.
    pub status: Status,
}

impl Provision {
    /// A number of the section; `None` where this edition has none of that name.
    pub fn figure(&self, name: &str) -> Option<f64> {
        let figure = self.figures.iter().find(|figure| figure.name == name);
        figure.map(|figure| figure.value)
    }
}

/// The row of a rule in an edition.
pub fn provision(rule: CodeRule, edition: Edition) -> Option<&'static Provision> {
    PROVISIONS
        .iter()
        .rfind(|row| row.rule == rule && row.since <= edition)
}

const fn fig(name: &'static str, value: f64, unit: FigureUnit) -> Figure {
    Figure { name, value, unit }
}

const fn row(
    rule: CodeRule,
    since: Edition,
    section: &'static str,
    status: Status,
    asks: &'static str,
    figures: &'static [Figure],
) -> Provision {
    Provision {
        rule,
        since,
        section,
        in_force: true,
        asks,
        figures,
        status,
    }
}

// Read: the section's words in the 2018 edition, or the edition named in the comment of the row.
// The rest is from memory, and the edition in which a number changed is from memory unless the
// comment says otherwise.

/// The table, each rule's rows oldest first.
pub const PROVISIONS: &[Provision] = &[
    row(
        CodeRule::LeastSlope,
        Of2006,
        "R905.2.2",
        Read,
        "Asphalt shingles go on slopes of 2 in 12 or more; below 4 in 12 over double underlayment.",
        &[
            fig("least rise", 2.0, RiseInTwelve),
            fig("one layer from rise", 4.0, RiseInTwelve),
        ],
    ),
    row(
        CodeRule::Underlayment,
        Of2006,
        "R905.2.7",
        Read,
        "One layer of underlayment from 4 in 12; two from 2 in 12 up to there.",
        UNDERLAYMENT,
    ),
    // Laps and strips of the double layer: from memory.
    row(
        CodeRule::Underlayment,
        Of2015,
        "R905.1.1",
        Read,
        "One layer of underlayment from 4 in 12; two from 2 in 12 up to there.",
        UNDERLAYMENT,
    ),
    row(
        CodeRule::IceBarrier,
        Of2006,
        "R905.2.7.1",
        Read,
        "Where the local authority designates the area: ice barrier from the roof's lowest edge to \
         at least 24 in inside the exterior wall line.",
        &[fig("inside the wall line", 24.0, Inches)],
    ),
    // That the steep clause came with the 2015 edition and left with the 2024 edition was read in
    // a public note of a code official on the 2024 changes.
    row(
        CodeRule::IceBarrier,
        Of2015,
        "R905.1.2",
        Read,
        "Where the local authority designates the area: ice barrier from the roof's lowest edge to \
         at least 24 in inside the exterior wall line, and from 8 in 12 at least 36 in along the \
         slope.",
        &[
            fig("inside the wall line", 24.0, Inches),
            fig("least length on steep slopes", 36.0, Inches),
            fig("steep from rise", 8.0, RiseInTwelve),
        ],
    ),
    row(
        CodeRule::IceBarrier,
        Of2024,
        "R905.1.2",
        Read,
        "Where the local authority designates the area: ice barrier from the roof's lowest edge to \
         at least 24 in inside the exterior wall line.",
        &[fig("inside the wall line", 24.0, Inches)],
    ),
    // 20 in 12 was read for the edition before 2006.
    row(
        CodeRule::Fasteners,
        Of2006,
        "R905.2.6",
        Memory,
        "At least 4 fasteners in a strip shingle; over 20 in 12 as the manufacturer says.",
        &[
            fig("fasteners in a strip", 4.0, Count),
            fig("as the manufacturer says over rise", 20.0, RiseInTwelve),
        ],
    ),
    row(
        CodeRule::Fasteners,
        Of2009,
        "R905.2.6",
        Read,
        "At least 4 fasteners in a strip shingle; over 21 in 12 as the manufacturer says.",
        &[
            fig("fasteners in a strip", 4.0, Count),
            fig("as the manufacturer says over rise", 21.0, RiseInTwelve),
        ],
    ),
    row(
        CodeRule::Deck,
        Of2006,
        "R905.2.1",
        Read,
        "Asphalt shingles are fastened to a solidly sheathed deck. The code gives no number for \
         gaps between boards.",
        &[],
    ),
    row(
        CodeRule::Valley,
        Of2006,
        "R905.2.8.2",
        Read,
        "Open metal valley lining 24 in wide or more; a closed valley over 36 in of roll roofing, \
         over metal, or over self-adhered membrane.",
        &[
            fig("open metal width", 24.0, Inches),
            fig("closed valley width", 36.0, Inches),
        ],
    ),
    row(
        CodeRule::Sidewall,
        Of2006,
        "R905.2.8.4",
        Memory,
        "Step flashing where a slope runs along a wall.",
        &[],
    ),
    row(
        CodeRule::Sidewall,
        Of2009,
        "R905.2.8.3",
        Read,
        "Step flashing where a slope runs along a wall.",
        &[],
    ),
    row(
        CodeRule::Sidewall,
        Of2012,
        "R905.2.8.3",
        Read,
        "Continuous or step flashing where a slope runs along a wall, 4 in high and 4 in wide or \
         more, that leads water onto the roof or into the gutter.",
        &[
            fig("flashing height", 4.0, Inches),
            fig("flashing width", 4.0, Inches),
        ],
    ),
    Provision {
        rule: CodeRule::DripEdge,
        since: Of2006,
        section: "R905.2.8.5",
        in_force: false,
        asks: "A drip edge stands in the code since the 2012 edition; the manufacturer may ask for \
               one all the same.",
        figures: &[],
        status: Read,
    },
    row(
        CodeRule::DripEdge,
        Of2012,
        "R905.2.8.5",
        Read,
        "Drip edge at eaves and rakes of shingle roofs: laps of 2 in, 1/4 in below the sheathing, \
         2 in up the deck, fastened at 12 in or closer; over the underlayment at rakes, under it \
         at eaves.",
        &[
            fig("lap", 2.0, Inches),
            fig("below the sheathing", 0.25, Inches),
            fig("up the deck", 2.0, Inches),
            fig("fasteners apart at most", 12.0, Inches),
        ],
    ),
    // The edition before 2006 was read with this section and the word chimney.
    row(
        CodeRule::Cricket,
        Of2006,
        "R905.2.8.3",
        Memory,
        "A cricket or saddle on the ridge side of a chimney over 30 in wide.",
        &[fig("cricket over width", 30.0, Inches)],
    ),
    row(
        CodeRule::Cricket,
        Of2009,
        "R903.2.2",
        Memory,
        "A cricket or saddle on the ridge side of a chimney or other penetration over 30 in wide \
         across the slope; a skylight flashed as its manufacturer says needs none.",
        &[fig("cricket over width", 30.0, Inches)],
    ),
    row(
        CodeRule::Recover,
        Of2006,
        "R907.3",
        Read,
        "No new roofing over two or more layers, over soaked or spoiled roofing, over wood shake, \
         slate, clay or cement tile, or with asphalt shingles where the code's map shows moderate \
         or severe hail.",
        &[fig("layers that rule it out", 2.0, Count)],
    ),
    row(
        CodeRule::Recover,
        Of2015,
        "R908.3.1.1",
        Read,
        "No new roofing over two or more layers, over soaked or spoiled roofing, or over slate, \
         clay or cement tile.",
        &[fig("layers that rule it out", 2.0, Count)],
    ),
    row(
        CodeRule::Ventilation,
        Of2006,
        "R806.2",
        Read,
        "Net free vent area of 1/150 of the vented space; 1/300 with 50 to 80 % of it at least 3 \
         ft above the eave vents, or with a vapour retarder.",
        &[
            fig("least high share", 0.5, Share),
            fig("most high share", 0.8, Share),
        ],
    ),
    // That both conditions hold together, and the zones, since 2012: from memory.
    row(
        CodeRule::Ventilation,
        Of2012,
        "R806.2",
        Read,
        "Net free vent area of 1/150 of the vented space; 1/300 only with 40 to 50 % of it within \
         3 ft of the ridge, and in climate zones 6 to 8 a vapour retarder as well.",
        &[
            fig("least high share", 0.4, Share),
            fig("most high share", 0.5, Share),
            fig("vapour retarder from zone", 6.0, Count),
        ],
    ),
];

const UNDERLAYMENT: &[Figure] = &[
    fig("one layer from rise", 4.0, RiseInTwelve),
    fig("two layers from rise", 2.0, RiseInTwelve),
    fig("side lap of one layer", 2.0, Inches),
    fig("end lap", 6.0, Inches),
    fig("starting strip of two layers", 19.0, Inches),
    fig("lap of two layers", 19.0, Inches),
];
