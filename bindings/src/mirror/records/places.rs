//! Where things are: sides, slopes, edges, rooms, other structures.

use chalkwalk_core::job::*;

use crate::mirror::layers::*;

/// One side of the house.
#[uniffi::remote(Record)]
pub struct Elevation {
    /// One of the four sides; empty for a further wall such as a court.
    #[uniffi(default = None)]
    pub side: Option<Side>,
    /// A name for a further wall.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// True bearing it faces, degrees clockwise from north.
    #[uniffi(default = None)]
    pub bearing: Option<f64>,
    /// Storeys on this side.
    #[uniffi(default = None)]
    pub storeys: Option<u32>,
    /// Grade to eave.
    #[uniffi(default = None)]
    pub eave_height: Option<Length>,
    /// Length of the wall.
    #[uniffi(default = None)]
    pub wall_length: Option<Length>,
    /// What the wall is covered with.
    #[uniffi(default = None)]
    pub cladding: Option<Material>,
    /// The crew worked this side from left to right.
    #[uniffi(default = None)]
    pub walked: Option<bool>,
    /// What keeps the side from being seen whole.
    #[uniffi(default = None)]
    pub blocked_by: Option<String>,
}

/// One plane of the roof.
#[uniffi::remote(Record)]
pub struct Slope {
    /// A name such as "main, front".
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// The side of the house below it.
    #[uniffi(default = None)]
    pub side: Option<Side>,
    /// True bearing it faces, degrees clockwise from north.
    #[uniffi(default = None)]
    pub bearing: Option<f64>,
    /// What it is covered with.
    #[uniffi(default = None)]
    pub roofing: Option<Material>,
    /// Layers of roofing counted.
    #[uniffi(default = None)]
    pub layers: Option<u32>,
    /// Pitch in the measurement report.
    #[uniffi(default = None)]
    pub report_pitch: Option<Pitch>,
    /// Area in the measurement report.
    #[uniffi(default = None)]
    pub report_area: Option<Area>,
    /// Area from the crew's own measures.
    #[uniffi(default = None)]
    pub measured_area: Option<Area>,
    /// Years since it was laid, as far as known.
    #[uniffi(default = None)]
    pub age_years: Option<u32>,
    /// The crew walked it or saw all of it.
    #[uniffi(default = None)]
    pub walked: Option<bool>,
}

/// A line where slopes end or meet.
#[uniffi::remote(Record)]
pub struct Edge {
    /// What kind of line.
    #[uniffi(default = None)]
    pub kind: Option<EdgeKind>,
    /// A slope it belongs to.
    #[uniffi(default = None)]
    pub slope: Option<RecordRef>,
    /// The other slope, for ridge, hip and valley.
    #[uniffi(default = None)]
    pub other_slope: Option<RecordRef>,
    /// Its length.
    #[uniffi(default = None)]
    pub length: Option<Length>,
    /// For a valley, how it is lined.
    #[uniffi(default = None)]
    pub lining: Option<ValleyLayerSeen>,
}

/// A room.
#[uniffi::remote(Record)]
pub struct Room {
    /// Its name.
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// Storey, 1 at grade.
    #[uniffi(default = None)]
    pub storey: Option<u32>,
    /// Longer side.
    #[uniffi(default = None)]
    pub length: Option<Length>,
    /// Shorter side.
    #[uniffi(default = None)]
    pub width: Option<Length>,
    /// Floor to ceiling.
    #[uniffi(default = None)]
    pub height: Option<Length>,
}

/// A structure on the lot apart from the house.
#[uniffi::remote(Record)]
// JNA has a `Structure` of its own.
#[uniffi(name = "OtherStructure")]
pub struct Structure {
    /// What it is.
    #[uniffi(default = None)]
    pub kind: Option<StructureKind>,
    /// A name such as "rear fence".
    #[uniffi(default = None)]
    pub name: Option<String>,
    /// What it is made of.
    #[uniffi(default = None)]
    pub material: Option<Material>,
    /// Length along the ground.
    #[uniffi(default = None)]
    pub length: Option<Length>,
    /// Height.
    #[uniffi(default = None)]
    pub height: Option<Length>,
    /// The crew looked at it.
    #[uniffi(default = None)]
    pub walked: Option<bool>,
}
