//! The roof worked out from its plan, and what the counted hits say of the storm.

use chalkwalk_core::drawing::{hits_plot, planned_roof};
use chalkwalk_core::job::{JobId, Place, Side};
use chalkwalk_core::review::{HitsInput, hits};
use chalkwalk_core::trade::roof::{self, RoofPlan, squares};

use crate::inner::guarded;
use crate::review::reader;
use crate::views::count;
use crate::{Answer, ChalkwalkError, Notebook};

/// One flat piece of a roof.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct RoofPlane {
    /// The letter it goes by in the drawing.
    pub letter: String,
    /// The name of the recorded slope that it is; empty where none or several could be meant.
    pub slope: Option<String>,
    /// Inches of rise in 12.
    pub pitch: f64,
    /// Bearing it falls toward, degrees clockwise from true north.
    pub facing: f64,
    /// Area on the slope, square feet.
    pub area: f64,
}

/// All edges of one kind together.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct RoofEdges {
    /// What kind, in words.
    pub kind: String,
    /// How many.
    pub count: u32,
    /// True length, feet.
    pub length: f64,
}

/// A roof worked out from a plan.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct RoofView {
    /// Its planes.
    pub planes: Vec<RoofPlane>,
    /// Its edges by kind; kinds it has none of are left out.
    pub edges: Vec<RoofEdges>,
    /// Area on the slopes, square feet, overhang included.
    pub area: f64,
    /// The same in squares of 100 square feet.
    pub squares: f64,
    /// Area seen from above, square feet.
    pub plan_area: f64,
    /// A drawing (SVG).
    pub drawing: String,
}

/// Hits counted at one place.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct PlaceHits {
    /// The place.
    pub place: Place,
    /// Its name.
    pub name: String,
    /// The side it lies on.
    pub side: Option<Side>,
    /// Hits counted as hail, test squares included.
    pub hail: u64,
    /// Of these, those in test squares.
    pub in_squares: u64,
}

/// What the counted hits say of the storm.
#[derive(Clone, Debug, PartialEq, uniffi::Record)]
pub struct HitPattern {
    /// Places where hits were counted, in walk order; the four sides always.
    pub places: Vec<PlaceHits>,
    /// What the counts say of the wind, in words; empty where they cannot be reckoned with.
    pub sentence: Option<String>,
    /// True bearing that the wind came from, degrees clockwise from north; empty where the counts
    /// do not tell.
    pub wind_from: Option<f64>,
    /// What speaks against trusting it, a sentence each.
    pub warnings: Vec<String>,
    /// What could not be used, and why, a sentence each.
    pub left_out: Vec<String>,
    /// A drawing (SVG), where there is a pattern.
    pub drawing: Option<String>,
}

#[uniffi::export]
impl Notebook {
    /// The roof of the job's plan; nothing where no plan with an outline is recorded.
    pub fn roof(&self, job: JobId) -> Answer<Option<RoofView>> {
        self.inner.with(|core| {
            let planned = planned_roof(core.job(job)?).map_err(ChalkwalkError::input)?;
            Ok(planned.map(|planned| view(&planned.roof, &planned.names, planned.svg)))
        })
    }

    /// What the counted hits say of the storm. For anybody else than the office, findings that are
    /// office only are left out.
    pub fn hit_pattern(&self, job: JobId, for_office: bool) -> Answer<HitPattern> {
        self.inner.with(|core| {
            let input = HitsInput {
                reader: reader(for_office),
                ..HitsInput::default()
            };
            Ok(pattern(hits::hits(core.job(job)?, &input)))
        })
    }
}

/// Works a roof out from a plan before it is recorded: the text of `Plan.outline`, JSON with the
/// corners in feet, such as `{"points": [[0,0],[40,0],[40,30],[0,30]], "pitch": 6}`.
#[uniffi::export]
pub fn roof_of_plan(outline: String) -> Answer<RoofView> {
    guarded(|| {
        let plan = RoofPlan::read(&outline).map_err(ChalkwalkError::input)?;
        let roof = roof::solve(&plan).map_err(ChalkwalkError::input)?;
        let drawing = chalkwalk_core::drawing::roof_plan::RoofDrawing {
            title: "Roof plan".to_owned(),
            ..Default::default()
        };
        let svg = chalkwalk_core::drawing::roof_plan::roof_plan(&roof, &drawing);
        Ok(view(&roof, &[], svg))
    })
}

fn view(roof: &roof::Roof, names: &[Option<String>], drawing: String) -> RoofView {
    let planes = roof.planes.iter().enumerate().map(|(at, plane)| RoofPlane {
        letter: roof.plane_name(at),
        slope: names.get(at).cloned().flatten(),
        pitch: plane.pitch,
        facing: plane.facing,
        area: plane.area,
    });
    let edges = roof.totals.iter().filter(|total| total.count > 0);
    RoofView {
        planes: planes.collect(),
        edges: edges
            .map(|total| RoofEdges {
                kind: total.kind.label().to_owned(),
                count: count(total.count),
                length: total.length,
            })
            .collect(),
        area: roof.area,
        squares: squares(roof.area),
        plan_area: roof.plan_area,
        drawing,
    }
}

fn pattern(hits: hits::Hits) -> HitPattern {
    let found = hits.pattern.as_ref();
    let warnings = found.map(|found| found.warnings.iter());
    HitPattern {
        sentence: found.map(|found| found.sentence.clone()),
        wind_from: found.and_then(|found| found.fit.as_ref().map(|fit| fit.from)),
        warnings: warnings
            .into_iter()
            .flatten()
            .map(|warning| warning.sentence.clone())
            .collect(),
        drawing: found.map(|found| hits_plot(found, "hits")),
        left_out: hits
            .left_out
            .iter()
            .map(|left| format!("{}: {}", left.what, left.why))
            .collect(),
        places: hits
            .places
            .into_iter()
            .map(|place| PlaceHits {
                place: place.place,
                name: place.name,
                side: place.side,
                hail: place.hail,
                in_squares: place.in_squares,
            })
            .collect(),
    }
}
