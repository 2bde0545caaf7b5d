//! Thin metal and mesh on the walls as surfaces of the pattern.

use super::super::office_only_finding;
use super::super::view::{View, standing};
use super::{LeftOut, gathered};
use crate::job::*;
use crate::limits;
use crate::review::Reader;
use crate::trade::pattern::Surface;
use crate::trade::wind::{self, Facing};

/// How much of a part was looked at, in a measure that all sides share.
#[derive(Clone, Copy)]
enum Measure {
    /// Feet along the wall.
    Feet,
    /// Units there are.
    Units,
}

/// The soft parts that face the way their wall does, and what they are measured in. Parts that
/// look upwards or all round (guards, condensers, vents) tell nothing of a side.
const UPRIGHT: &[(Component, Measure)] = &[
    (Component::Gutter, Measure::Feet),
    (Component::Fascia, Measure::Feet),
    (Component::Downspout, Measure::Units),
    (Component::Screen, Measure::Units),
    (Component::WindowWrap, Measure::Units),
];

pub(super) fn surfaces(
    view: &View<'_>,
    reader: Reader,
    left_out: &mut Vec<LeftOut>,
) -> Vec<Surface> {
    let mut surfaces = Vec::new();
    for (component, measure) in UPRIGHT {
        for (at, wall) in standing(Kind::Elevation, &view.job.records.elevations) {
            let looked = Looked::at(view, reader, &at, *component);
            let what = format!("{component}, {}", view.job.place_name(&at));
            match surface(view, &at, wall, &looked, (*component, *measure)) {
                Some(Ok(surface)) => surfaces.push(surface),
                Some(Err(why)) => left_out.push(LeftOut {
                    what: what.clone(),
                    why: why.to_owned(),
                }),
                None => {}
            }
            if looked.low > 0 {
                left_out.push(LeftOut {
                    what,
                    why: format!(
                        "{} hits less than {:.0} in above grade: garden equipment is likelier \
                         than hail (common practice, no source)",
                        looked.low,
                        limits::LOW_HIT_INCHES
                    ),
                });
            }
        }
    }
    surfaces
}

/// What was seen of one part on one wall.
#[derive(Default)]
struct Looked {
    /// Hits of hail; `None` where nobody looked or counted.
    hits: Option<u64>,
    /// Damage by hail whose hits nobody counted.
    uncounted: bool,
    /// Hits near the ground.
    low: u64,
    /// Units there are.
    units: u32,
    /// Feet there are.
    feet: f64,
}

impl Looked {
    fn at(view: &View<'_>, reader: Reader, place: &Place, component: Component) -> Self {
        let mut looked = Looked::default();
        for (_, part) in view.parts(component) {
            if part.place.as_ref() != Some(place) {
                continue;
            }
            looked.units = looked.units.saturating_add(part.count.unwrap_or(0));
            looked.feet += part.length.map_or(0.0, Length::to_feet).max(0.0);
            if part.condition == Some(Condition::Cleared) {
                looked.count(0);
            }
        }
        let mut of_total = 0;
        for (_, finding) in view.findings() {
            let here = finding.place.as_ref() == Some(place);
            let hidden = reader == Reader::Anyone && office_only_finding(finding);
            if !here || finding.component != Some(component) || hidden {
                continue;
            }
            of_total = of_total.max(finding.units_total.unwrap_or(0));
            match (finding.condition, finding.cause) {
                (Some(Condition::Cleared), _) => looked.count(0),
                (Some(Condition::Damaged), Some(Cause::Hail)) => looked.damage(finding),
                _ => {}
            }
        }
        looked.units = looked.units.max(of_total);
        looked
    }

    fn count(&mut self, hits: u64) {
        self.hits = Some(self.hits.unwrap_or(0).saturating_add(hits));
    }

    fn damage(&mut self, finding: &Record<Finding>) {
        let low = finding
            .height
            .is_some_and(|height| height.to_inches() < limits::LOW_HIT_INCHES);
        match finding.hits() {
            Some(hits) if low => self.low = self.low.saturating_add(u64::from(hits)),
            Some(hits) => self.count(u64::from(hits)),
            None => self.uncounted = true,
        }
    }
}

/// The surface, or why there is none; nothing where nobody looked.
fn surface(
    view: &View<'_>,
    at: &Place,
    wall: &Elevation,
    looked: &Looked,
    (component, measure): (Component, Measure),
) -> Option<Result<Surface, &'static str>> {
    if looked.uncounted {
        return Some(Err("hail damage whose hits were not counted"));
    }
    let hits = looked.hits?;
    if hits > limits::HITS_COUNTED {
        return Some(Err("the count is too large to be true: check it"));
    }
    let own = wall.bearing.and_then(wind::bearing);
    let by_side = || gathered::side_bearing(view.job, view.side(Some(at))?);
    let Some(bearing) = own.or_else(by_side) else {
        return Some(Err(
            "it is not known which way the wall faces: record its bearing or that of the front",
        ));
    };
    let (exposure, unit) = match measure {
        Measure::Units => (f64::from(looked.units), format!("{component}s")),
        Measure::Feet => (feet(looked, wall), "ft".to_owned()),
    };
    if exposure <= 0.0 {
        return Some(Err(match measure {
            Measure::Units => "nobody said how many there are on this side",
            Measure::Feet => "neither its length nor that of the wall is recorded",
        }));
    }
    Some(Ok(Surface {
        name: format!("{component}, {}", view.job.place_name(at)),
        facing: Facing::wall(bearing),
        exposure,
        unit,
        covering: component.label().to_owned(),
        hits,
        placement: None,
    }))
}

/// Feet of a part along a wall: its own length, or that of the wall. Less than two feet is the
/// part's width, not its length.
fn feet(looked: &Looked, wall: &Elevation) -> f64 {
    if looked.feet >= 2.0 {
        looked.feet
    } else {
        wall.wall_length.map_or(0.0, Length::to_feet).max(0.0)
    }
}
