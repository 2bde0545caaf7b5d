//! The words of the trade, each set in one table: adding a word is one line here.
//!
//! Each word has a code that is stored and a label that people read. Codes never change.

use serde::{Deserialize, Serialize};

use super::{FieldValue, Scalar, ScalarRef};

macro_rules! vocabulary {
    ($(#[$meta:meta])* $name:ident { $( $(#[$word_meta:meta])* $variant:ident = $code:literal, $label:literal; )* }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        pub enum $name {
            $( $(#[$word_meta])* #[doc = $label] #[serde(rename = $code)] $variant, )*
        }

        impl $name {
            /// Every word, in the order people read them.
            pub const ALL: &'static [$name] = &[$( $name::$variant ),*];

            /// The code that is stored.
            pub const fn code(self) -> &'static str {
                match self { $( $name::$variant => $code ),* }
            }

            /// The words that people read.
            pub const fn label(self) -> &'static str {
                match self { $( $name::$variant => $label ),* }
            }

            /// The word with this code.
            pub fn from_code(code: &str) -> Option<Self> {
                match code { $( $code => Some($name::$variant), )* _ => None }
            }
        }

        impl std::fmt::Display for $name {
            fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
                f.write_str(self.label())
            }
        }

        impl FieldValue for $name {
            fn to_scalar(&self) -> Scalar {
                Scalar::Str(self.code().to_owned())
            }
            fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
                if let ScalarRef::Str(code) = scalar { Self::from_code(code) } else { None }
            }
            fn in_words(&self) -> String {
                self.label().to_owned()
            }
        }

        impl VocabularyWord for $name {
            fn code(self) -> &'static str { $name::code(self) }
            fn label(self) -> &'static str { $name::label(self) }
            fn from_code(code: &str) -> Option<Self> { $name::from_code(code) }
        }
    };
}

/// What every vocabulary word can do, for code that serves them all.
pub trait VocabularyWord: Copy {
    /// The code that is stored.
    fn code(self) -> &'static str;
    /// The words that people read.
    fn label(self) -> &'static str;
    /// The word with this code.
    fn from_code(code: &str) -> Option<Self>;
}

vocabulary! {
    /// A side of the house, as seen from the street facing the front. The crew walks them
    /// counter-clockwise seen from above: front, right, rear, left.
    Side {
        Front = "front", "front";
        Right = "right", "right";
        Rear = "rear", "rear";
        Left = "left", "left";
    }
}

vocabulary! {
    /// What a part is. [`ComponentFacts`] tells how each is counted and where it lives.
    Component {
        Gutter = "gutter", "gutter";
        Downspout = "downspout", "downspout";
        GutterGuard = "gutter_guard", "gutter guard";
        Fascia = "fascia", "fascia";
        Soffit = "soffit", "soffit";
        Siding = "siding", "siding";
        Trim = "trim", "trim";
        Window = "window", "window";
        WindowWrap = "window_wrap", "window wrap";
        WindowBead = "window_bead", "window beading";
        Screen = "screen", "window screen";
        Shutter = "shutter", "shutter";
        EntryDoor = "entry_door", "entry door";
        GarageDoor = "garage_door", "garage door";
        LightFixture = "light_fixture", "light fixture";
        Meter = "meter", "meter";
        Condenser = "condenser", "condenser";
        Shingles = "shingles", "shingles";
        RidgeCap = "ridge_cap", "ridge cap";
        Starter = "starter", "starter";
        DripEdge = "drip_edge", "drip edge";
        GutterApron = "gutter_apron", "gutter apron";
        Valley = "valley", "valley";
        StepFlashing = "step_flashing", "step flashing";
        CounterFlashing = "counter_flashing", "counter flashing";
        ChimneyFlashing = "chimney_flashing", "chimney flashing";
        Chimney = "chimney", "chimney";
        ChimneyCap = "chimney_cap", "chimney cap";
        PipeBoot = "pipe_boot", "pipe boot";
        BoxVent = "box_vent", "box vent";
        RidgeVent = "ridge_vent", "ridge vent";
        TurbineVent = "turbine_vent", "turbine vent";
        PowerVent = "power_vent", "power vent";
        ExhaustCap = "exhaust_cap", "exhaust cap";
        Skylight = "skylight", "skylight";
        SatelliteDish = "satellite_dish", "satellite dish";
        SolarPanel = "solar_panel", "solar panel";
        Mast = "mast", "mast or antenna";
        TarPatch = "tar_patch", "tar or caulk patch";
        Ceiling = "ceiling", "ceiling";
        Wall = "wall", "interior wall";
        Floor = "floor", "floor";
        FencePanel = "fence_panel", "fence panel";
        FenceBoard = "fence_board", "fence board";
        Gate = "gate", "gate";
        PatioCover = "patio_cover", "patio cover";
        Mailbox = "mailbox", "mailbox";
        ShedRoof = "shed_roof", "shed roof";
        ShedWall = "shed_wall", "shed wall";
        Deck = "deck", "wooden deck";
    }
}

vocabulary! {
    /// How quantities of an item are stated.
    Unit {
        Each = "EA", "EA";
        LinearFoot = "LF", "LF";
        SquareFoot = "SF", "SF";
        Square = "SQ", "SQ";
    }
}

/// What the trade knows of a component, whatever house it is on (common practice, no source).
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ComponentFacts {
    /// How its quantity is stated.
    pub unit: Unit,
    /// Thin metal or mesh that is marked by small hail, so that it tells which sides were hit.
    pub soft_metal: bool,
    /// Damage is stated as so many of so many.
    pub of_total: bool,
    /// It stands in the way of tear-off and is looked at for that too.
    pub obstacle: bool,
}

impl Component {
    /// The facts of this component.
    pub const fn facts(self) -> ComponentFacts {
        use Component as C;
        let unit = match self {
            C::Gutter | C::GutterGuard | C::Fascia | C::Trim | C::RidgeCap | C::Starter => {
                Unit::LinearFoot
            }
            C::DripEdge | C::GutterApron | C::Valley | C::StepFlashing | C::CounterFlashing => {
                Unit::LinearFoot
            }
            C::Downspout | C::RidgeVent => Unit::LinearFoot,
            C::Soffit | C::Siding | C::Ceiling | C::Wall | C::Floor | C::Deck => Unit::SquareFoot,
            C::PatioCover | C::ShedWall => Unit::SquareFoot,
            C::Shingles | C::ShedRoof => Unit::Square,
            _ => Unit::Each,
        };
        let soft_metal = matches!(
            self,
            C::Gutter
                | C::Downspout
                | C::GutterGuard
                | C::GutterApron
                | C::DripEdge
                | C::WindowWrap
                | C::Screen
                | C::Condenser
                | C::StepFlashing
                | C::CounterFlashing
                | C::ChimneyFlashing
                | C::ChimneyCap
                | C::BoxVent
                | C::TurbineVent
                | C::PowerVent
                | C::ExhaustCap
                | C::Fascia
                | C::Mailbox
        );
        let of_total = matches!(
            self,
            C::Screen
                | C::Shutter
                | C::Window
                | C::WindowWrap
                | C::WindowBead
                | C::GarageDoor
                | C::FencePanel
                | C::FenceBoard
                | C::BoxVent
                | C::PipeBoot
                | C::Downspout
        );
        let obstacle = matches!(
            self,
            C::SatelliteDish | C::SolarPanel | C::Mast | C::TarPatch | C::Skylight | C::GutterGuard
        );
        ComponentFacts {
            unit,
            soft_metal,
            of_total,
            obstacle,
        }
    }
}

vocabulary! {
    /// What state a part was found in.
    Condition {
        Cleared = "cleared", "cleared";
        Damaged = "damaged", "damaged";
        Worn = "worn", "worn";
        Missing = "missing", "missing";
        Unsure = "unsure", "unsure";
        NotPresent = "not_present", "not present at this house";
    }
}

vocabulary! {
    /// What made the damage, as far as the crew can tell.
    Cause {
        Hail = "hail", "hail";
        Wind = "wind", "wind";
        OtherStorm = "other_storm", "other storm";
        Mechanical = "mechanical", "mechanical";
        WearOrAge = "wear_or_age", "wear or age";
        InstallationFault = "installation_fault", "installation fault";
        Prior = "prior", "prior condition";
        Unsure = "unsure", "unsure";
    }
}

vocabulary! {
    /// Whether the part still does its work.
    Severity {
        Cosmetic = "cosmetic", "cosmetic";
        Functional = "functional", "functional";
    }
}

vocabulary! {
    /// Who may read an entry.
    Audience {
        Shared = "shared", "shared";
        OfficeOnly = "office_only", "office only";
    }
}

vocabulary! {
    /// How a surface got its colour.
    Finish {
        Factory = "factory", "factory colour";
        FieldPainted = "field_painted", "field-painted";
        Bare = "bare", "bare";
        Stained = "stained", "stained";
    }
}

vocabulary! {
    /// What a part is made of.
    Material {
        Aluminium = "aluminium", "aluminium";
        Steel = "steel", "steel";
        GalvanisedSteel = "galvanised_steel", "galvanised steel";
        Copper = "copper", "copper";
        Lead = "lead", "lead";
        Vinyl = "vinyl", "vinyl";
        Rubber = "rubber", "rubber";
        Wood = "wood", "wood";
        FibreCement = "fibre_cement", "fibre cement";
        Brick = "brick", "brick";
        Stone = "stone", "stone";
        Stucco = "stucco", "stucco";
        Glass = "glass", "glass";
        FibreglassMesh = "fibreglass_mesh", "fibreglass mesh";
        AluminiumMesh = "aluminium_mesh", "aluminium mesh";
        ThreeTabShingle = "three_tab_shingle", "three-tab shingle";
        LaminatedShingle = "laminated_shingle", "laminated shingle";
        WoodShingle = "wood_shingle", "wood shingle";
        WoodShake = "wood_shake", "wood shake";
        Slate = "slate", "slate";
        ClayTile = "clay_tile", "clay tile";
        ConcreteTile = "concrete_tile", "concrete tile";
        MetalPanel = "metal_panel", "metal panel";
        RollRoofing = "roll_roofing", "roll roofing";
        Drywall = "drywall", "drywall";
        Plaster = "plaster", "plaster";
        Concrete = "concrete", "concrete";
        Plastic = "plastic", "plastic";
    }
}

vocabulary! {
    /// What a photo is for.
    PhotoRole {
        Overview = "overview", "overview";
        Standoff = "standoff", "standoff";
        CloseUp = "close_up", "close-up";
        Measurement = "measurement", "measurement";
        Layer = "layer", "layer";
        Panorama = "panorama", "panorama";
        Document = "document", "document";
    }
}

vocabulary! {
    /// A line where roof planes end or meet.
    EdgeKind {
        Eave = "eave", "eave";
        Rake = "rake", "rake";
        Ridge = "ridge", "ridge";
        Hip = "hip", "hip";
        Valley = "valley", "valley";
        Sidewall = "sidewall", "sidewall";
        Headwall = "headwall", "headwall";
    }
}

vocabulary! {
    /// A structure on the lot apart from the house.
    StructureKind {
        Fence = "fence", "fence";
        Gate = "gate", "gate";
        Shed = "shed", "shed";
        DetachedGarage = "detached_garage", "detached garage";
        PatioCover = "patio_cover", "patio cover";
        Mailbox = "mailbox", "mailbox";
        Equipment = "equipment", "equipment";
        Other = "other", "other structure";
    }
}

vocabulary! {
    /// What is measured.
    MeasuredThing {
        Pitch = "pitch", "pitch";
        GutterWidth = "gutter_width", "gutter width";
        ShingleExposure = "shingle_exposure", "shingle exposure";
        Overhang = "overhang", "overhang";
        WallThickness = "wall_thickness", "wall thickness";
        Length = "length", "length";
        Height = "height", "height";
    }
}

vocabulary! {
    /// How a measure was taken.
    MeasureMethod {
        Gauge = "gauge", "pitch gauge";
        Tape = "tape", "tape";
        Phone = "phone", "phone inclinometer";
        Counted = "counted", "counted courses";
        Estimated = "estimated", "estimated";
        Report = "report", "measurement report";
    }
}

vocabulary! {
    /// What starts the first course.
    StarterKind {
        ProperStrip = "proper_strip", "proper strip";
        ReversedShingle = "reversed_shingle", "reversed shingle";
    }
}

vocabulary! {
    /// What lies between deck and roofing.
    Underlayment {
        Felt15 = "felt_15", "15 lb felt";
        Felt30 = "felt_30", "30 lb felt";
        Synthetic = "synthetic", "synthetic";
    }
}

vocabulary! {
    /// A self-adhered membrane at the eave.
    IceBarrier {
        Standard = "standard", "standard";
        HighTemperature = "high_temperature", "high temperature";
    }
}

vocabulary! {
    /// What the roofing is nailed to.
    DeckKind {
        Plywood = "plywood", "plywood";
        OrientedStrandBoard = "osb", "oriented strand board";
        SpacedBoards = "spaced_boards", "spaced boards";
        Planks = "planks", "planks";
    }
}

vocabulary! {
    /// An edge metal: there is only one word, because only its presence matters.
    EdgeMetal {
        Metal = "metal", "metal";
    }
}

vocabulary! {
    /// How a valley is lined.
    ValleyLining {
        OpenMetal = "open_metal", "open metal";
        ClosedCut = "closed_cut", "closed-cut";
        Woven = "woven", "woven";
        RollRoofing = "roll_roofing", "roll roofing";
        MembraneUnder = "membrane_under", "membrane under";
    }
}

vocabulary! {
    /// How a test square's place on the slope was chosen.
    Placement {
        Typical = "typical", "typical spot";
        Random = "random", "random spot";
        Worst = "worst", "worst spot";
    }
}

vocabulary! {
    /// What a storm report tells of.
    StormKind {
        Hail = "hail", "hail";
        Wind = "wind", "wind";
    }
}

vocabulary! {
    /// The work that a line of a scope asks for.
    WorkAction {
        RemoveAndReplace = "remove_and_replace", "remove and replace";
        RemoveOnly = "remove_only", "remove only";
        Install = "install", "install";
        DetachAndReset = "detach_and_reset", "detach and reset";
        Repair = "repair", "repair";
        StraightenFins = "straighten_fins", "straighten fins";
        Clean = "clean", "clean";
        Paint = "paint", "paint";
        Stain = "stain", "stain";
        Inspect = "inspect", "inspect";
        Charge = "charge", "additional charge";
    }
}

vocabulary! {
    /// What an estimator does to a line of the scope.
    ScopeChangeKind {
        Amended = "amended", "amended";
        LeftOut = "left_out", "left out";
        Added = "added", "added";
    }
}

vocabulary! {
    /// Yes, no, or not known.
    Known {
        Yes = "yes", "yes";
        No = "no", "no";
        Unknown = "unknown", "not known";
    }
}

vocabulary! {
    /// What a person does for the job.
    Role {
        Crew = "crew", "crew";
        Estimator = "estimator", "estimator";
        Admin = "admin", "admin";
        Office = "office", "office server";
    }
}

/// One layer at the eave: what the crew can say of it without breaking anything.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Layer<T> {
    /// It was seen.
    Seen(T),
    /// The place was seen and the layer is not there.
    SeenAbsent,
    /// The place could not be seen: confirm at tear-off.
    CouldNotSee,
    /// Not seen, but other signs point to it.
    Inferred(T),
}

impl<T> Layer<T> {
    /// True where tear-off must confirm it.
    pub const fn to_confirm(&self) -> bool {
        matches!(self, Layer::CouldNotSee | Layer::Inferred(_))
    }
}

impl<T: VocabularyWord> FieldValue for Layer<T> {
    fn to_scalar(&self) -> Scalar {
        Scalar::Str(match self {
            Layer::Seen(what) => format!("seen:{}", what.code()),
            Layer::SeenAbsent => "absent".to_owned(),
            Layer::CouldNotSee => "not_seen".to_owned(),
            Layer::Inferred(what) => format!("inferred:{}", what.code()),
        })
    }

    fn from_scalar(scalar: ScalarRef<'_>) -> Option<Self> {
        let ScalarRef::Str(text) = scalar else {
            return None;
        };
        match text.split_once(':') {
            Some(("seen", code)) => T::from_code(code).map(Layer::Seen),
            Some(("inferred", code)) => T::from_code(code).map(Layer::Inferred),
            None if text == "absent" => Some(Layer::SeenAbsent),
            None if text == "not_seen" => Some(Layer::CouldNotSee),
            _ => None,
        }
    }

    fn in_words(&self) -> String {
        match self {
            Layer::Seen(what) => format!("{}, seen", what.label()),
            Layer::SeenAbsent => "none, seen absent".to_owned(),
            Layer::CouldNotSee => "could not see".to_owned(),
            Layer::Inferred(what) => format!("{}, inferred", what.label()),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn every_code_is_unique_and_reads_back() {
        let mut codes = BTreeSet::new();
        for component in Component::ALL {
            assert!(
                codes.insert(component.code()),
                "{} stands twice",
                component.code()
            );
            assert_eq!(Component::from_code(component.code()), Some(*component));
            assert!(!component.label().is_empty());
        }
        assert_eq!(Component::from_code("a word of a newer version"), None);
    }

    #[test]
    fn layers_read_back() {
        for layer in [
            Layer::Seen(Underlayment::Felt30),
            Layer::SeenAbsent,
            Layer::CouldNotSee,
            Layer::Inferred(Underlayment::Synthetic),
        ] {
            let scalar = layer.to_scalar();
            assert_eq!(Layer::from_scalar(scalar.as_ref()), Some(layer));
        }
        assert_eq!(
            Layer::<Underlayment>::from_scalar(ScalarRef::Str("seen:straw")),
            None
        );
    }
}
