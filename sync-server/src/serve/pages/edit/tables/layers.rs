//! What lies under the roofing, and the lines where slopes end or meet.

use chalkwalk_core::job::{
    DeckKind, EdgeKind, EdgeMetal, FieldValue, IceBarrier, Kind, Layer, Scalar, Side, StarterKind,
    Underlayment, ValleyLining,
};

use super::super::spec::{Input, Sheet, layer, needed, sheet, spec, words};

pub(super) const EAVE_OPENING: Sheet = sheet(
    Kind::EaveOpening,
    &[
        (
            "Where",
            &[
                needed("slope", "Slope above", Input::Slope),
                spec("side", "Side of the house", words!(Side), ""),
                spec("beside_valley", "Beside a valley", Input::Tick, ""),
            ],
        ),
        (
            "Layers, from the roofing down",
            &[
                spec("roofing_layers", "Layers of roofing", Input::Count, ""),
                spec("starter", "Starter", layer!(StarterKind), ""),
                spec("drip_edge", "Drip edge", layer!(EdgeMetal), ""),
                spec("gutter_apron", "Gutter apron", layer!(EdgeMetal), ""),
                spec("underlayment", "Underlayment", layer!(Underlayment), ""),
                spec("ice_barrier", "Ice barrier", layer!(IceBarrier), ""),
                spec("deck", "Deck", layer!(DeckKind), ""),
                spec(
                    "widest_gap",
                    "Widest gap between boards",
                    Input::Length,
                    "Such as 1/4\".",
                ),
                spec("valley_lining", "Valley lining", layer!(ValleyLining), ""),
                spec(
                    "reason",
                    "Why something could not be seen, or from what it was inferred",
                    Input::Lines,
                    "",
                ),
            ],
        ),
    ],
);

pub(super) const EDGE: Sheet = sheet(
    Kind::Edge,
    &[(
        "The edge",
        &[
            needed("kind", "What kind of edge", words!(EdgeKind)),
            needed("slope", "Slope", Input::Slope),
            spec(
                "other_slope",
                "Other slope",
                Input::Slope,
                "For a ridge, hip or valley.",
            ),
            spec("length", "Length", Input::Length, "Such as 42' 6\"."),
            spec("lining", "How a valley is lined", layer!(ValleyLining), ""),
        ],
    )],
);
