//! A roof that has been worked out.

use serde::Serialize;

/// A place on the roof: feet in the plan's own axes, and feet above the eaves.
pub type Spot = [f64; 3];

/// The planes and edges of a roof over a plan.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Roof {
    /// The outline with its overhang, counter-clockwise, feet.
    pub outline: Vec<[f64; 2]>,
    /// The outline of the walls as given, counter-clockwise, feet.
    pub walls: Vec<[f64; 2]>,
    /// Bearing of the plan's +y axis, degrees clockwise from north, 0 up to 360.
    pub north: f64,
    /// Planes by the first side they rise from.
    pub planes: Vec<RoofPlane>,
    /// Edges by kind, and then by plane.
    pub edges: Vec<RoofEdge>,
    /// Count and length by kind, every kind in order.
    pub totals: Vec<EdgeTotal>,
    /// Area seen from above, square feet, overhang included.
    pub plan_area: f64,
    /// Area on the slopes, square feet.
    pub area: f64,
    /// Height of the highest point above the eaves, feet.
    pub height: f64,
}

/// One flat piece of roof.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoofPlane {
    /// The sides of the plan it rises from, counted from 0; more than one where a wing stands
    /// before a slope and parts its eave.
    pub sides: Vec<usize>,
    /// Corners, counter-clockwise seen from above.
    pub corners: Vec<Spot>,
    /// Inches of rise in 12.
    pub pitch: f64,
    /// Bearing it falls toward, degrees clockwise from north, 0 up to 360.
    pub facing: f64,
    /// Area seen from above, square feet.
    pub plan_area: f64,
    /// Area on the slope, square feet.
    pub area: f64,
}

/// A line where planes meet or end.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RoofEdge {
    /// What it is.
    pub kind: EdgeKind,
    /// The lower end, or the first of a level one.
    pub from: Spot,
    /// The higher end.
    pub to: Spot,
    /// Length seen from above, feet.
    pub plan_length: f64,
    /// True length, feet.
    pub length: f64,
    /// The planes beside it, as places in [`Roof::planes`]: two for ridge, hip and valley, one
    /// for the others.
    pub planes: Vec<usize>,
}

/// What an edge of a roof is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum EdgeKind {
    /// Where slopes that face away from each other meet at the top. Level where their eaves are
    /// parallel.
    Ridge,
    /// A sloped outside corner between two slopes.
    Hip,
    /// An inside corner between two slopes.
    Valley,
    /// The low level edge of a slope.
    Eave,
    /// The sloped edge of a slope at a gable or over an upright step.
    Rake,
    /// Where a slope runs up beside a wall that rises over it: the gable of a higher part, or an
    /// upright step.
    Wall,
    /// The high level edge of a slope with nothing on the other side, as of a shed.
    Top,
}

impl EdgeKind {
    /// Every kind, in order.
    pub const ALL: [Self; 7] = [
        Self::Ridge,
        Self::Hip,
        Self::Valley,
        Self::Eave,
        Self::Rake,
        Self::Wall,
        Self::Top,
    ];

    /// The word of the trade.
    pub fn label(self) -> &'static str {
        match self {
            Self::Ridge => "ridge",
            Self::Hip => "hip",
            Self::Valley => "valley",
            Self::Eave => "eave",
            Self::Rake => "rake",
            Self::Wall => "wall",
            Self::Top => "top edge",
        }
    }
}

/// The edges of one kind together.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct EdgeTotal {
    /// The kind.
    pub kind: EdgeKind,
    /// How many.
    pub count: usize,
    /// Length seen from above, feet.
    pub plan_length: f64,
    /// True length, feet.
    pub length: f64,
}

impl Roof {
    /// True length of all edges of a kind, feet.
    pub fn length(&self, kind: EdgeKind) -> f64 {
        let of_kind = self.totals.iter().filter(|total| total.kind == kind);
        of_kind.map(|total| total.length).sum()
    }

    /// The name a plane goes by in drawings and lists: A to Z, then A2 and so on.
    pub fn plane_name(&self, plane: usize) -> String {
        let letter = char::from(b'A' + (plane % 26) as u8);
        match plane / 26 {
            0 => letter.to_string(),
            round => format!("{letter}{}", round + 1),
        }
    }
}
