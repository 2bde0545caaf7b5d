//! Sides, edges, structures, and where a test square lies.

use chalkwalk_core::job::{EdgeKind, Placement, Side, StructureKind};

/// A side of the house, as seen from the street facing the front. The crew walks them
/// counter-clockwise seen from above: front, right, rear, left.
#[uniffi::remote(Enum)]
pub enum Side {
    /// Front.
    Front,
    /// Right.
    Right,
    /// Rear.
    Rear,
    /// Left.
    Left,
}

/// A line where roof planes end or meet.
#[uniffi::remote(Enum)]
pub enum EdgeKind {
    /// Eave.
    Eave,
    /// Rake.
    Rake,
    /// Ridge.
    Ridge,
    /// Hip.
    Hip,
    /// Valley.
    Valley,
    /// Sidewall.
    Sidewall,
    /// Headwall.
    Headwall,
}

/// A structure on the lot apart from the house.
#[uniffi::remote(Enum)]
pub enum StructureKind {
    /// Fence.
    Fence,
    /// Gate.
    Gate,
    /// Shed.
    Shed,
    /// Detached garage.
    DetachedGarage,
    /// Patio cover.
    PatioCover,
    /// Mailbox.
    Mailbox,
    /// Equipment.
    Equipment,
    /// Other structure.
    Other,
}

/// How a test square's place on the slope was chosen.
#[uniffi::remote(Enum)]
pub enum Placement {
    /// Typical spot.
    Typical,
    /// Random spot.
    Random,
    /// Worst spot.
    Worst,
}
