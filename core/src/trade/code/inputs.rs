//! What the rules are asked about. Everything may be unknown.

use serde::Serialize;

use crate::job::{Area, DeckKind, Length, Material, Pitch, ValleyLining};

/// A house with its roof.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CodeInputs {
    /// The code and edition in force, as a person wrote it.
    pub code_edition: Option<String>,
    /// The local authority designates the area for an ice barrier.
    pub ice_barrier_designated: Option<bool>,
    /// False for a detached accessory building without a conditioned floor.
    pub conditioned: Option<bool>,
    /// The area is one of moderate or severe hail exposure on the code's map.
    pub hail_exposure: Option<bool>,
    /// The roofing is soaked, or too far gone to nail over.
    pub roofing_soaked: Option<bool>,
    /// Area of the space that is vented, measured on the flat.
    pub vented_space: Option<Area>,
    /// Share of the vent area that lies high, 0 to 1.
    pub high_vent_share: Option<f64>,
    /// A Class I or II vapour retarder lies on the warm side of the ceiling.
    pub vapour_retarder: Option<bool>,
    /// Climate zone of the energy code, 1 to 8.
    pub climate_zone: Option<u8>,
    /// The slopes; empty where none is recorded.
    pub slopes: Vec<SlopeInputs>,
    /// The valleys; `None` where nobody said whether there are any.
    pub valleys: Option<Vec<ValleyInputs>>,
    /// Places where a slope runs along a wall; `None` where nobody said.
    pub sidewalls: Option<Vec<SidewallInputs>>,
    /// Chimneys, skylights and other wide openings; `None` where nobody said.
    pub openings: Option<Vec<OpeningInputs>>,
}

/// One slope.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SlopeInputs {
    /// Its name.
    pub name: String,
    /// Its pitch.
    pub pitch: Option<Pitch>,
    /// What it is covered with.
    pub roofing: Option<Material>,
    /// Layers of roofing.
    pub layers: Option<u32>,
    /// The slope has an eave; a slope that only drains onto another needs no ice barrier of its own.
    pub has_eave: Option<bool>,
    /// From the wall's outer face to the roof's lowest edge, measured on the flat.
    pub overhang: Option<Length>,
    /// Thickness of the outside wall.
    pub wall_thickness: Option<Length>,
    /// What the roofing is nailed to.
    pub deck: Option<DeckKind>,
    /// Widest gap between boards of the deck.
    pub widest_gap: Option<Length>,
    /// A drip edge is there.
    pub drip_edge: Option<bool>,
}

/// One valley.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ValleyInputs {
    /// Its name.
    pub name: String,
    /// How it is lined.
    pub lining: Option<ValleyLining>,
    /// Width of the lining.
    pub width: Option<Length>,
}

/// One line where a slope runs along a wall.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct SidewallInputs {
    /// Its name.
    pub name: String,
    /// Its length along the slope.
    pub length: Option<Length>,
}

/// A chimney, a skylight or another opening in a slope.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct OpeningInputs {
    /// Its name.
    pub name: String,
    /// Width across the slope.
    pub width: Option<Length>,
    /// It is a skylight, which the manufacturer's flashing may serve instead of a cricket.
    pub skylight: bool,
}

macro_rules! inputs {
    ($( $variant:ident, $label:literal; )*) => {
        /// What a rule depends on.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
        #[serde(rename_all = "snake_case")]
        pub enum Input {
            $( #[doc = $label] $variant, )*
        }

        impl Input {
            /// Every input.
            pub const ALL: &'static [Input] = &[$( Input::$variant ),*];

            /// The words that people read.
            pub const fn label(self) -> &'static str {
                match self { $( Input::$variant => $label ),* }
            }
        }
    };
}

inputs! {
    Slopes, "the slopes of the roof";
    Pitch, "pitch";
    Roofing, "what the slope is covered with";
    Layers, "layers of roofing";
    HasEave, "whether the slope has an eave";
    Overhang, "overhang at the eave";
    WallThickness, "thickness of the outside wall";
    IceBarrierDesignated, "whether the local authority designates the area for an ice barrier";
    Conditioned, "whether the building has a conditioned floor";
    Deck, "what the roofing is nailed to";
    WidestGap, "widest gap between the boards of the deck";
    DripEdge, "whether there is a drip edge";
    Valleys, "whether there are valleys";
    ValleyLining, "how the valley is lined";
    ValleyWidth, "width of the valley's lining";
    Sidewalls, "whether a slope runs along a wall";
    SidewallLength, "length along the wall";
    Openings, "whether there is a chimney or a wide skylight";
    OpeningWidth, "width of the opening across the slope";
    RoofingSoaked, "whether the roofing is soaked or too far gone to nail over";
    HailExposure, "hail exposure of the area on the code's map";
    VentedSpace, "area of the vented space";
    HighVentShare, "share of the vent area that lies high";
    VapourRetarder, "vapour retarder on the warm side of the ceiling";
    ClimateZone, "climate zone";
}
