//! One material line, and how it is put together from what is known.

use serde::Serialize;

use super::{CoverageKey, MaterialInputs};
use crate::job::EdgeKind;

macro_rules! words {
    ($(#[$meta:meta])* $name:ident { $( $variant:ident = $code:literal, $label:literal; )* }) => {
        $(#[$meta])*
        #[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
        pub enum $name {
            $( #[doc = $label] #[serde(rename = $code)] $variant, )*
        }

        impl $name {
            /// The words that people read.
            pub const fn label(self) -> &'static str {
                match self { $( $name::$variant => $label ),* }
            }
        }
    };
}

words! {
    /// A material.
    MaterialItem {
        DripEdge = "drip_edge", "drip edge";
        GutterApron = "gutter_apron", "gutter apron";
        IceBarrier = "ice_barrier", "ice barrier";
        UnderlaymentSingle = "underlayment_single", "underlayment, one layer";
        UnderlaymentDouble = "underlayment_double", "underlayment, two layers";
        ValleyLining = "valley_lining", "valley lining";
        Starter = "starter", "starter";
        ShingleSquares = "shingle_squares", "shingles with waste";
        ShingleBundles = "shingle_bundles", "shingles";
        StepFlashing = "step_flashing", "step flashing";
        HeadwallFlashing = "headwall_flashing", "headwall flashing";
        RidgeAndHipCap = "ridge_and_hip_cap", "ridge and hip cap";
        PipeBoots = "pipe_boots", "pipe boots";
        BoxVents = "box_vents", "box vents, as counted";
        TurbineVents = "turbine_vents", "turbine vents, as counted";
        PowerVents = "power_vents", "power vents, as counted";
        RidgeVent = "ridge_vent", "ridge vent, as measured";
        VentAreaHigh = "vent_area_high", "net free vent area that should lie high";
        VentAreaThere = "vent_area_there", "net free area of the box and ridge vents there";
        Fasteners = "fasteners", "fasteners for shingles";
        FastenerBoxes = "fastener_boxes", "fasteners for shingles, boxes";
    }
}

words! {
    /// The unit of a line.
    MaterialUnit {
        Square = "SQ", "SQ";
        Bundle = "bundle", "bundles";
        Roll = "roll", "rolls";
        Piece = "piece", "pieces";
        Each = "EA", "EA";
        Foot = "LF", "LF";
        Box = "box", "boxes";
        SquareInch = "sq in", "sq in";
    }
}

/// One input that a line used.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Used {
    /// What it is.
    pub name: String,
    /// How much.
    pub value: f64,
    /// In which unit.
    pub unit: String,
    /// Where it comes from: "as given", or the source of a coverage.
    pub source: String,
}

/// One material line.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MaterialLine {
    /// What.
    pub item: MaterialItem,
    /// Which slope or edge, where a line is about one.
    pub place: Option<String>,
    /// How much; `None` where something it depends on is not known.
    pub quantity: Option<f64>,
    /// What is known so far, where the quantity is not known.
    pub at_least: Option<f64>,
    /// In which unit.
    pub unit: MaterialUnit,
    /// The arithmetic in words.
    pub arithmetic: String,
    /// What it used.
    pub used: Vec<Used>,
    /// What is not known.
    pub not_known: Vec<String>,
    /// The section of the code it rests on.
    pub rule: Option<String>,
}

/// A sum of which parts may be missing.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Sum {
    pub(super) so_far: f64,
    pub(super) missing: Vec<String>,
}

/// A line that is being worked out.
pub(super) struct Reckoning<'a> {
    inputs: &'a MaterialInputs,
    used: Vec<Used>,
    not_known: Vec<String>,
    rule: Option<String>,
    place: Option<String>,
}

impl<'a> Reckoning<'a> {
    pub(super) fn new(inputs: &'a MaterialInputs) -> Self {
        Self {
            inputs,
            used: Vec::new(),
            not_known: Vec::new(),
            rule: None,
            place: None,
        }
    }

    pub(super) fn at(mut self, place: &str) -> Self {
        self.place = Some(place.to_owned());
        self
    }

    pub(super) fn resting_on(mut self, rule: String) -> Self {
        self.rule = Some(rule);
        self
    }

    /// What one unit covers: entered, else the default.
    pub(super) fn coverage(&mut self, key: CoverageKey) -> f64 {
        let (value, source) = match self.inputs.coverages.get(&key) {
            Some(entered) => (entered.value, entered.source.clone()),
            None => (key.default_value(), key.source().to_owned()),
        };
        self.used.push(Used {
            name: key.label().to_owned(),
            value,
            unit: key.unit().to_owned(),
            source,
        });
        value
    }

    /// A number as given; where it is not known, the line says so.
    pub(super) fn given(&mut self, name: &str, value: Option<f64>, unit: &str) -> Option<f64> {
        match value {
            Some(value) => self.used.push(Used {
                name: name.to_owned(),
                value,
                unit: unit.to_owned(),
                source: "as given".to_owned(),
            }),
            None => self.not_known.push(name.to_owned()),
        }
        value
    }

    /// A choice; where nobody made it, the line says so.
    pub(super) fn chosen<T: Copy>(&mut self, name: &str, choice: Option<T>) -> Option<T> {
        if choice.is_none() {
            self.not_known.push(name.to_owned());
        }
        choice
    }

    /// The factor of the stated waste, such as 1.1; the waste is named in the line.
    pub(super) fn waste(&mut self) -> Option<f64> {
        let Some(waste) = &self.inputs.waste else {
            self.not_known.push("the waste to add".to_owned());
            return None;
        };
        self.used.push(Used {
            name: format!("waste: {}", waste.name),
            value: waste.percent,
            unit: "%".to_owned(),
            source: "as given".to_owned(),
        });
        Some(1.0 + waste.percent / 100.0)
    }

    /// Area of the slopes that a test picks, square feet.
    pub(super) fn area(&mut self, sum: &Sum) -> f64 {
        self.sum("measured area", sum, "sq ft")
    }

    /// Length of the edges of some kinds, feet.
    pub(super) fn edges(&mut self, kinds: &[EdgeKind]) -> f64 {
        let mut total = 0.0;
        for kind in kinds {
            let sum = edge_sum(self.inputs, *kind);
            total += self.sum(&format!("length of {kind}s"), &sum, "ft");
        }
        total
    }

    fn sum(&mut self, name: &str, sum: &Sum, unit: &str) -> f64 {
        self.not_known.extend(sum.missing.iter().cloned());
        if sum.so_far > 0.0 || sum.missing.is_empty() {
            self.given(name, Some(sum.so_far), unit);
        }
        sum.so_far
    }

    /// A line of so much; unknown where anything it uses is not known.
    pub(super) fn line(
        self,
        item: MaterialItem,
        unit: MaterialUnit,
        quantity: Option<f64>,
        arithmetic: String,
    ) -> MaterialLine {
        let complete = self.not_known.is_empty();
        MaterialLine {
            item,
            place: self.place,
            quantity: quantity.filter(|_| complete),
            at_least: quantity.filter(|quantity| !complete && *quantity > 0.0),
            unit,
            arithmetic,
            used: self.used,
            not_known: self.not_known,
            rule: self.rule,
        }
    }
}

/// The edges of a kind: none where the roof has none, missing where nobody said.
pub(super) fn edge_sum(inputs: &MaterialInputs, kind: EdgeKind) -> Sum {
    let mut sum = Sum::default();
    let mut any = false;
    for edge in inputs.edges.iter().filter(|edge| edge.kind == kind) {
        any = true;
        match edge.length_ft {
            Some(length) => sum.so_far += length,
            None => sum.missing.push(format!("length of {}", edge.name)),
        }
    }
    if !any && !inputs.none_of.contains(&kind) {
        sum.missing.push(format!("length of {kind}s"));
    }
    sum
}

/// The next whole number up; a hair above one, from rounding, is that number.
pub(super) fn up(value: f64) -> f64 {
    (value - 1e-9).ceil().max(0.0)
}

/// A number as people write it: at most three decimals, none that say nothing.
pub(super) fn number(value: f64) -> String {
    let text = format!("{value:.3}");
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text.is_empty() || text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}
