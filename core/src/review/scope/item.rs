//! The items of a scope in trade words, in one table: adding an item is one line here.
//!
//! The words are those people in the trade use; no price list's codes or wording. Synonyms serve
//! to find an item in what somebody else wrote.

use std::fmt;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::job::{Component, Unit, ValleyLining};

/// What stands before the words of an item that is not in the table, where it is stored.
const OTHER: &str = "other:";

macro_rules! items {
    ($( $variant:ident = $code:literal, $label:literal, $unit:ident, [$($component:ident)?], [$($synonym:literal),* $(,)?]; )*) => {
        /// An item that a line of a scope asks work for.
        #[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Item {
            $( #[doc = $label] $variant, )*
            /// An item that is not in the table, in the words of the person who added it.
            Other(String),
        }

        impl Item {
            /// Every item of the table, in its order.
            pub const ALL: &'static [Item] = &[$( Item::$variant ),*];

            /// The code that is stored; `None` for an item that is not in the table.
            pub const fn code(&self) -> Option<&'static str> {
                match self { $( Item::$variant => Some($code), )* Item::Other(_) => None }
            }

            /// The words that people read.
            pub fn label(&self) -> &str {
                match self { $( Item::$variant => $label, )* Item::Other(words) => words }
            }

            /// How its quantity is usually stated; `None` for an item that is not in the table.
            pub const fn unit(&self) -> Option<Unit> {
                match self { $( Item::$variant => Some(Unit::$unit), )* Item::Other(_) => None }
            }

            /// The part of the house it stands for, where there is one.
            pub const fn component(&self) -> Option<Component> {
                match self { $( Item::$variant => items!(@component $($component)?), )* Item::Other(_) => None }
            }

            /// Other words for it in the trade, lower case, apart from its label.
            pub const fn synonyms(&self) -> &'static [&'static str] {
                match self { $( Item::$variant => &[$($synonym),*], )* Item::Other(_) => &[] }
            }

            /// The item with this code.
            pub fn from_code(code: &str) -> Option<Self> {
                match code { $( $code => Some(Item::$variant), )* _ => None }
            }
        }
    };
    (@component $component:ident) => { Some(Component::$component) };
    (@component) => { None };
}

items! {
    Shingles = "shingles", "shingles", Square, [Shingles],
        ["shingle", "shingle roofing", "roof covering", "roofing", "composition shingles",
         "asphalt shingles", "laminated shingles", "architectural shingles", "dimensional shingles",
         "three-tab shingles", "3-tab shingles", "comp shingles"];
    ShingleWaste = "shingle_waste", "shingles for waste", Square, [],
        ["waste", "shingle waste", "cutting waste"];
    SecondLayer = "second_layer", "further layer of roofing", Square, [],
        ["second layer", "additional layer", "extra layer", "layer of shingles",
         "second layer of shingles", "additional layer of shingles"];
    Starter = "starter", "starter course", LinearFoot, [Starter],
        ["starter", "starter strip", "starter shingles", "eave starter"];
    RidgeCap = "ridge_cap", "ridge and hip cap", LinearFoot, [RidgeCap],
        ["ridge cap", "hip cap", "hip and ridge cap", "hip/ridge cap", "ridge shingles",
         "hip and ridge shingles", "cap shingles", "ridge caps"];
    Underlayment = "underlayment", "underlayment", Square, [],
        ["felt", "roofing felt", "15 lb felt", "30 lb felt", "synthetic underlayment",
         "felt paper", "underlay"];
    IceBarrier = "ice_barrier", "ice barrier", SquareFoot, [],
        ["ice and water barrier", "ice and water shield", "ice & water shield",
         "ice & water barrier", "self-adhered membrane", "eave membrane", "ice dam membrane"];
    DripEdge = "drip_edge", "drip edge", LinearFoot, [DripEdge],
        ["eave metal", "rake metal", "edge metal", "roof edge metal", "drip edge metal"];
    GutterApron = "gutter_apron", "gutter apron", LinearFoot, [GutterApron],
        ["gutter flashing", "eave apron"];
    Valley = "valley", "valley lining", LinearFoot, [Valley],
        ["valley", "valley flashing"];
    ValleyOpenMetal = "valley_open_metal", "open metal valley", LinearFoot, [],
        ["valley metal", "metal valley", "open valley", "w-valley metal"];
    ValleyClosedCut = "valley_closed_cut", "closed-cut valley", LinearFoot, [],
        ["closed cut valley", "closed valley"];
    ValleyWoven = "valley_woven", "woven valley", LinearFoot, [], ["weaved valley"];
    ValleyRollRoofing = "valley_roll_roofing", "valley lined with roll roofing", LinearFoot, [],
        ["roll roofing valley", "rolled roofing valley"];
    ValleyMembrane = "valley_membrane", "membrane under a valley", LinearFoot, [],
        ["valley membrane", "valley underlayment", "ice barrier in valley"];
    StepFlashing = "step_flashing", "step flashing", LinearFoot, [StepFlashing],
        ["step flashings", "sidewall flashing", "wall flashing"];
    HeadwallFlashing = "headwall_flashing", "headwall flashing", LinearFoot, [],
        ["apron flashing", "roof to wall flashing"];
    CounterFlashing = "counter_flashing", "counter flashing", LinearFoot, [CounterFlashing],
        ["counterflashing", "counter-flashing"];
    ChimneyFlashing = "chimney_flashing", "chimney flashing", Each, [ChimneyFlashing],
        ["flash chimney", "chimney flashing kit"];
    Chimney = "chimney", "chimney", Each, [Chimney], ["chimney stack"];
    ChimneyCap = "chimney_cap", "chimney cap", Each, [ChimneyCap],
        ["chimney chase cover", "chase cover", "chimney top"];
    Cricket = "cricket", "chimney cricket", Each, [], ["cricket", "saddle", "chimney saddle"];
    PipeBoot = "pipe_boot", "pipe boot", Each, [PipeBoot],
        ["pipe jack", "pipe flashing", "pipe jack flashing", "vent boot", "plumbing boot",
         "vent pipe flashing", "pipe collar"];
    BoxVent = "box_vent", "box vent", Each, [BoxVent],
        ["roof vent", "turtle vent", "static vent", "slant back vent", "attic vent"];
    RidgeVent = "ridge_vent", "ridge vent", LinearFoot, [RidgeVent],
        ["continuous ridge vent", "shingle-over ridge vent"];
    TurbineVent = "turbine_vent", "turbine vent", Each, [TurbineVent],
        ["turbine", "whirlybird", "roof turbine"];
    PowerVent = "power_vent", "power vent", Each, [PowerVent],
        ["power attic vent", "powered attic fan", "attic fan"];
    ExhaustCap = "exhaust_cap", "exhaust cap", Each, [ExhaustCap],
        ["flue cap", "rain cap", "exhaust vent", "vent cap", "furnace vent cap"];
    Skylight = "skylight", "skylight", Each, [Skylight], ["roof window", "skylight flashing kit"];
    SatelliteDish = "satellite_dish", "satellite dish", Each, [SatelliteDish],
        ["dish", "digital satellite system", "dish antenna"];
    SolarPanel = "solar_panel", "solar panel", Each, [SolarPanel],
        ["solar panels", "photovoltaic panel", "pv panel"];
    Mast = "mast", "mast or antenna", Each, [Mast], ["antenna", "mast", "aerial"];
    TarPatch = "tar_patch", "tar or caulk patch", Each, [TarPatch], ["roof patch", "roof cement patch"];
    RoofDeck = "roof_deck", "roof deck boards or sheets", SquareFoot, [],
        ["sheathing", "roof sheathing", "decking", "roof decking", "deck boards", "plank decking",
         "deck sheathing", "re-deck", "osb sheathing", "plywood sheathing"];
    SteepCharge = "steep_charge", "steep roof", Square, [],
        ["steep charge", "steep roof charge", "additional charge for steep roof", "steep slope"];
    HighCharge = "high_charge", "high roof", Square, [],
        ["high charge", "high roof charge", "additional charge for high roof", "two storey charge",
         "two story charge", "2 story charge"];
    Gutter = "gutter", "gutter", LinearFoot, [Gutter],
        ["gutters", "eavestrough", "k-style gutter", "seamless gutter", "gutter run"];
    Downspout = "downspout", "downspout", LinearFoot, [Downspout],
        ["downspouts", "leader", "rain leader", "down spout"];
    GutterGuard = "gutter_guard", "gutter guard", LinearFoot, [GutterGuard],
        ["gutter guards", "leaf guard", "gutter screen", "gutter helmet", "gutter cover"];
    Fascia = "fascia", "fascia", LinearFoot, [Fascia],
        ["fascia board", "fascia wrap", "fascia metal", "wrap fascia"];
    Soffit = "soffit", "soffit", SquareFoot, [Soffit], ["soffits", "eave soffit"];
    Siding = "siding", "siding", SquareFoot, [Siding],
        ["vinyl siding", "lap siding", "wall cladding", "cladding", "aluminium siding",
         "aluminum siding"];
    Trim = "trim", "trim", LinearFoot, [Trim], ["trim board", "exterior trim", "corner trim"];
    Window = "window", "window", Each, [Window], ["windows", "window unit", "glazing", "window pane"];
    WindowWrap = "window_wrap", "window wrap", Each, [WindowWrap],
        ["wrap window", "window trim wrap", "window cladding", "capping", "window capping"];
    WindowBead = "window_bead", "window beading", Each, [WindowBead],
        ["window bead", "glazing bead", "beading"];
    Screen = "screen", "window screen", Each, [Screen],
        ["window screens", "screen", "screens", "insect screen", "fly screen"];
    ScreenBead = "screen_bead", "screen beading", Each, [],
        ["screen bead", "spline", "screen spline", "re-screen", "rescreen"];
    Shutter = "shutter", "shutter", Each, [Shutter],
        ["shutters", "window shutter", "shutters - simulated wood"];
    EntryDoor = "entry_door", "entry door", Each, [EntryDoor],
        ["door", "exterior door", "front door", "storm door"];
    GarageDoor = "garage_door", "garage door panel", Each, [GarageDoor],
        ["garage door", "overhead door", "overhead door panel", "garage door section",
         "overhead door section"];
    LightFixture = "light_fixture", "light fixture", Each, [LightFixture],
        ["exterior light", "outdoor light", "coach light", "light"];
    Meter = "meter", "meter", Each, [Meter], ["electric meter", "gas meter", "meter mast"];
    Condenser = "condenser", "condenser", Each, [Condenser],
        ["condenser fins", "air conditioner", "ac unit", "a/c unit", "air conditioning unit",
         "comb fins", "comb and straighten fins", "heat pump"];
    Ceiling = "ceiling", "ceiling", SquareFoot, [Ceiling],
        ["ceiling drywall", "drywall ceiling", "ceiling paint", "paint ceiling"];
    Wall = "wall", "interior wall", SquareFoot, [Wall], ["wall drywall", "drywall wall", "walls"];
    Floor = "floor", "floor", SquareFoot, [Floor], ["flooring", "floor covering", "carpet"];
    Insulation = "insulation", "attic insulation", SquareFoot, [], ["insulation", "blown insulation"];
    Contents = "contents", "contents moved and covered", Each, [],
        ["contents", "content manipulation", "move contents"];
    FencePanel = "fence_panel", "fence panel", Each, [FencePanel],
        ["fence", "fence section", "fence panels", "fencing"];
    FenceBoard = "fence_board", "fence board", Each, [FenceBoard],
        ["fence boards", "fence picket", "fence pickets", "fence plank"];
    FenceStain = "fence_stain", "fence stain", SquareFoot, [],
        ["stain fence", "fence staining", "stain/finish fence", "seal fence"];
    Gate = "gate", "gate", Each, [Gate], ["fence gate", "walk gate"];
    PatioCover = "patio_cover", "patio cover", SquareFoot, [PatioCover],
        ["patio roof", "awning", "pergola cover"];
    Mailbox = "mailbox", "mailbox", Each, [Mailbox], ["mail box"];
    ShedRoof = "shed_roof", "shed roof", Square, [ShedRoof], ["shed shingles", "shed roofing"];
    ShedWall = "shed_wall", "shed wall", SquareFoot, [ShedWall], ["shed siding"];
    Deck = "deck", "wooden deck", SquareFoot, [Deck],
        ["deck stain", "stain deck", "deck planking", "wood deck"];
    Debris = "debris", "debris removal", Each, [],
        ["haul debris", "dumpster", "dumpster load", "debris haul off", "dump fee"];
    Permit = "permit", "permit", Each, [], ["building permit", "roofing permit", "permit fee"];
    TemporaryCover = "temporary_cover", "temporary cover", SquareFoot, [],
        ["tarp", "temporary repair", "emergency tarp", "board up"];
}

impl Item {
    /// The item that stands for a part of the house.
    pub fn of(component: Component) -> Self {
        Self::ALL
            .iter()
            .find(|item| item.component() == Some(component))
            .cloned()
            .unwrap_or_else(|| Item::Other(component.label().to_owned()))
    }

    /// The item for a valley lined in one way.
    pub const fn of_valley(lining: ValleyLining) -> Self {
        match lining {
            ValleyLining::OpenMetal => Item::ValleyOpenMetal,
            ValleyLining::ClosedCut => Item::ValleyClosedCut,
            ValleyLining::Woven => Item::ValleyWoven,
            ValleyLining::RollRoofing => Item::ValleyRollRoofing,
            ValleyLining::MembraneUnder => Item::ValleyMembrane,
        }
    }

    /// The item a person means: its code, its label or a synonym, however capitals and spaces
    /// stand; any other words are an item of their own.
    pub fn from_words(words: &str) -> Self {
        let plain = plain(words);
        Self::ALL
            .iter()
            .find(|item| {
                item.code() == Some(words.trim())
                    || item.label() == plain
                    || item.synonyms().contains(&plain.as_str())
            })
            .cloned()
            .unwrap_or_else(|| Item::Other(words.trim().to_owned()))
    }

    /// The code, or the words where there is none; two items never share it.
    pub fn key(&self) -> String {
        match (self.code(), self) {
            (Some(code), _) => code.to_owned(),
            (None, item) => format!("{OTHER}{}", item.label()),
        }
    }
}

/// Lower case, with one space between words.
fn plain(words: &str) -> String {
    let words: Vec<String> = words.split_whitespace().map(str::to_lowercase).collect();
    words.join(" ")
}

impl fmt::Display for Item {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.label())
    }
}

impl Serialize for Item {
    fn serialize<S: Serializer>(&self, s: S) -> Result<S::Ok, S::Error> {
        s.serialize_str(&self.key())
    }
}

impl<'de> Deserialize<'de> for Item {
    fn deserialize<D: Deserializer<'de>>(d: D) -> Result<Self, D::Error> {
        let text = String::deserialize(d)?;
        Ok(match text.strip_prefix(OTHER) {
            Some(words) => Item::Other(words.to_owned()),
            None => Self::from_code(&text).unwrap_or(Item::Other(text)),
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[test]
    fn every_part_of_a_house_has_its_item_in_the_same_unit() {
        for component in Component::ALL {
            let item = Item::of(*component);
            assert_eq!(item.component(), Some(*component), "{component}");
            assert_eq!(item.unit(), Some(component.facts().unit), "{component}");
        }
    }

    #[test]
    fn no_word_stands_for_two_items() {
        let mut seen: BTreeMap<String, &Item> = BTreeMap::new();
        for item in Item::ALL {
            for word in [item.label()].iter().chain(item.synonyms()) {
                assert_eq!(plain(word), *word, "written plainly");
                if let Some(other) = seen.insert((*word).to_owned(), item) {
                    panic!("\"{word}\" stands for {other} and {item}");
                }
                assert_eq!(&Item::from_words(&word.to_uppercase()), item);
            }
            let code = item.code().unwrap();
            assert_eq!(Item::from_code(code).as_ref(), Some(item));
        }
    }

    #[test]
    fn an_item_reads_back_and_strange_words_stay() {
        for item in Item::ALL
            .iter()
            .cloned()
            .chain([Item::Other("crane, half a day".into())])
        {
            let json = serde_json::to_string(&item).unwrap();
            assert_eq!(serde_json::from_str::<Item>(&json).unwrap(), item);
        }
        assert_eq!(Item::from_words(" crane "), Item::Other("crane".into()));
        assert_eq!(Item::from_words("Pipe  Jack"), Item::PipeBoot);
    }
}
