//! What lies under the first course and in a valley.

use chalkwalk_core::job::{
    DeckKind, EdgeMetal, IceBarrier, StarterKind, Underlayment, ValleyLining,
};

/// What starts the first course.
#[uniffi::remote(Enum)]
pub enum StarterKind {
    /// Proper strip.
    ProperStrip,
    /// Reversed shingle.
    ReversedShingle,
}

/// What lies between deck and roofing.
#[uniffi::remote(Enum)]
pub enum Underlayment {
    /// 15 lb felt.
    Felt15,
    /// 30 lb felt.
    Felt30,
    /// Synthetic.
    Synthetic,
}

/// A self-adhered membrane at the eave.
#[uniffi::remote(Enum)]
pub enum IceBarrier {
    /// Standard.
    Standard,
    /// High temperature.
    HighTemperature,
}

/// What the roofing is nailed to.
#[uniffi::remote(Enum)]
pub enum DeckKind {
    /// Plywood.
    Plywood,
    /// Oriented strand board.
    OrientedStrandBoard,
    /// Spaced boards.
    SpacedBoards,
    /// Planks.
    Planks,
}

/// An edge metal: there is only one word, because only its presence matters.
#[uniffi::remote(Enum)]
pub enum EdgeMetal {
    /// Metal.
    Metal,
}

/// How a valley is lined.
#[uniffi::remote(Enum)]
pub enum ValleyLining {
    /// Open metal.
    OpenMetal,
    /// Closed-cut.
    ClosedCut,
    /// Woven.
    Woven,
    /// Roll roofing.
    RollRoofing,
    /// Membrane under.
    MembraneUnder,
}
