//! What a column can mean, and the words by which heads call it: one line each.

use serde::{Deserialize, Serialize};

/// What a column means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Meaning {
    /// The item in words.
    Item,
    /// How much.
    Quantity,
    /// In which unit.
    Unit,
    /// Where.
    Place,
    /// The work.
    Action,
    /// Money for one unit.
    UnitPrice,
    /// Money for the row.
    Total,
    /// Anything else in words.
    Remarks,
}

/// A meaning, its code, its name for people and the words of heads (common practice, no source).
pub(super) struct MeaningWords {
    pub(super) meaning: Meaning,
    pub(super) code: &'static str,
    pub(super) label: &'static str,
    pub(super) heads: &'static [&'static str],
}

/// Every meaning, in the order in which columns are given out.
pub(super) const MEANINGS: &[MeaningWords] = &[
    MeaningWords {
        meaning: Meaning::Item,
        code: "item",
        label: "the item",
        heads: &[
            "item",
            "description",
            "item description",
            "line item",
            "work item",
            "scope item",
            "scope of work",
            "description of work",
            "work",
            "material",
            "part",
            "what",
        ],
    },
    MeaningWords {
        meaning: Meaning::Quantity,
        code: "quantity",
        label: "the quantity",
        heads: &["quantity", "qnty", "how much", "measure", "count"],
    },
    MeaningWords {
        meaning: Meaning::Unit,
        code: "unit",
        label: "the unit",
        heads: &[
            "unit",
            "uom",
            "unit of measure",
            "um",
            "u/m",
            "measured in",
            "unit type",
        ],
    },
    MeaningWords {
        meaning: Meaning::Place,
        code: "place",
        label: "the place",
        heads: &[
            "place",
            "location",
            "area",
            "room",
            "room or area",
            "room/area",
            "where",
            "section",
            "elevation",
            "slope",
            "side",
            "part of house",
            "position on house",
        ],
    },
    MeaningWords {
        meaning: Meaning::Action,
        code: "action",
        label: "the work",
        heads: &[
            "action",
            "operation",
            "activity",
            "task",
            "work type",
            "type of work",
            "what is done",
            "treatment",
        ],
    },
    MeaningWords {
        meaning: Meaning::UnitPrice,
        code: "unit_price",
        label: "the price of one unit",
        heads: &[
            "unit price",
            "unit cost",
            "price",
            "rate",
            "unit rate",
            "price per unit",
            "cost per unit",
            "price each",
            "cost each",
        ],
    },
    MeaningWords {
        meaning: Meaning::Total,
        code: "total",
        label: "the money of the row",
        heads: &[
            "total",
            "amount",
            "line total",
            "total price",
            "total cost",
            "extended",
            "extended price",
            "extension",
            "replacement cost",
            "sum",
            "cost",
            "line amount",
            "value",
        ],
    },
    MeaningWords {
        meaning: Meaning::Remarks,
        code: "remarks",
        label: "remarks",
        heads: &["remark", "note", "comment", "memo", "explanation"],
    },
];

impl Meaning {
    /// Every meaning.
    pub const ALL: &'static [Meaning] = &[
        Meaning::Item,
        Meaning::Quantity,
        Meaning::Unit,
        Meaning::Place,
        Meaning::Action,
        Meaning::UnitPrice,
        Meaning::Total,
        Meaning::Remarks,
    ];

    fn words(self) -> Option<&'static MeaningWords> {
        MEANINGS.iter().find(|words| words.meaning == self)
    }

    /// The code that is stored.
    pub fn code(self) -> &'static str {
        self.words().map_or("", |words| words.code)
    }

    /// The name that people read.
    pub fn label(self) -> &'static str {
        self.words().map_or("", |words| words.label)
    }

    /// The meaning with this code.
    pub fn from_code(code: &str) -> Option<Self> {
        let found = MEANINGS.iter().find(|words| words.code == code);
        found.map(|words| words.meaning)
    }
}
