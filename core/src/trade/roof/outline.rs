//! A plan made ready: checked, counter-clockwise, without repeated corners and corners in line,
//! and moved out by its overhangs.

use super::geometry::{Flat, along, area, cross, crossing, distance, dot, left, length, sub};
use super::{PlanError, PlanSide, RoofPlan, SideForm};
use crate::limits::{
    ROOF_EXTENT_FT, ROOF_OVERHANG_FT, ROOF_POINTS, ROOF_RISE_LEAST, ROOF_RISE_MOST,
};
use crate::sorted::Sorted;

/// Corners nearer than this, and corners this near to a straight line, are taken out, feet: well
/// under what a tape is read to.
const MERGED_FT: f64 = 1e-4;

/// The outline with its overhang, and a line for each of its sides.
pub(super) struct Outline {
    /// Added to a place to have the plan's own coordinates again.
    pub(super) origin: Flat,
    /// Corners with the overhang, counter-clockwise; line `i` runs from corner `i`.
    pub(super) corners: Vec<Flat>,
    /// Corners of the walls.
    pub(super) walls: Vec<Flat>,
    /// What rises from each side.
    pub(super) lines: Vec<Line>,
    /// The larger side of the box round the corners, feet.
    pub(super) extent: f64,
    /// Bearing of +y, degrees, 0 up to 360.
    pub(super) north: f64,
}

/// A side that moves inward as the roof rises: at height `z` it lies where
/// `inward . place = offset + run * z`.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// Its direction; the house is on its left.
    pub(super) along: Flat,
    /// Square to it, into the house.
    pub(super) inward: Flat,
    /// Where it lies at the eaves.
    pub(super) offset: f64,
    /// Feet of run for a foot of rise; 0 for a gable.
    pub(super) run: f64,
    /// Inches of rise in 12; 0 for a gable.
    pub(super) rise: f64,
    /// The sides of the plan it stands for, from 0.
    pub(super) sides: Vec<usize>,
}

impl Line {
    pub(super) fn is_gable(&self) -> bool {
        self.run == 0.0
    }

    /// The side a person is told of, counted from 1.
    pub(super) fn told(&self) -> usize {
        self.sides.first().map_or(0, |side| side + 1)
    }
}

/// A side as it was given, with the plan's own values filled in.
#[derive(Clone, Debug)]
struct Given {
    from: Flat,
    form: SideForm,
    rise: f64,
    overhang: f64,
    sides: Vec<usize>,
}

impl Given {
    fn alike(&self, other: &Self) -> bool {
        self.form == other.form && self.rise == other.rise && self.overhang == other.overhang
    }
}

impl Outline {
    pub(super) fn new(plan: &RoofPlan) -> Result<Self, PlanError> {
        let (mut given, origin) = given(plan)?;
        take_out(&mut given)?;
        let mut walls: Vec<Flat> = given.iter().map(|side| side.from).collect();
        let told = |side: usize| given[side].sides.first().map_or(0, |side| side + 1);
        if let Some((a, b)) = crossing(&walls, MERGED_FT / 2.0) {
            return Err(PlanError::Crossing(told(a), told(b)));
        }
        if area(&walls) < 0.0 {
            walls.reverse();
            given.reverse();
            given.rotate_left(1);
        }
        let lines = lines(&walls, &given);
        if lines.iter().all(Line::is_gable) {
            return Err(PlanError::OnlyGables);
        }
        let corners = overhung(&walls, &lines)?;
        Ok(Self {
            origin,
            extent: across(&corners)?,
            walls: walls.iter().map(|w| along(*w, origin, 1.0)).collect(),
            corners,
            lines,
            north: plan.north.rem_euclid(360.0),
        })
    }
}

/// The sides with the plan's values filled in, moved so that the least coordinates are zero.
fn given(plan: &RoofPlan) -> Result<(Vec<Given>, Flat), PlanError> {
    if !plan.holes.is_empty() {
        return Err(PlanError::Holes(plan.holes.len()));
    }
    let mut points = plan.points.as_slice();
    if points.len() > ROOF_POINTS + 1 {
        return Err(PlanError::TooMany(points.len()));
    }
    if let Some(wrong) = points.iter().position(|p| !is_place(*p)) {
        return Err(PlanError::Corner(wrong + 1));
    }
    let count = points.len();
    if let [first, .., last] = points
        && distance(*first, *last) < MERGED_FT
    {
        points = &points[..count - 1];
    }
    if points.len() < 3 {
        return Err(PlanError::TooFew(points.len()));
    }
    if points.len() > ROOF_POINTS {
        return Err(PlanError::TooMany(points.len()));
    }
    let sides = plan.sides.len();
    if sides != 0 && sides != count && sides != points.len() {
        let corners = points.len();
        return Err(PlanError::Sides { corners, sides });
    }
    if !(-360.0..=360.0).contains(&plan.north) {
        return Err(PlanError::North(plan.north));
    }
    across(points)?;
    let origin = points.iter().fold([f64::MAX; 2], |least, point| {
        [least[0].min(point[0]), least[1].min(point[1])]
    });
    let given = points.iter().enumerate().map(|(at, point)| {
        let side = plan.sides.get(at).copied().unwrap_or_default();
        filled(plan, at, side, sub(*point, origin))
    });
    Ok((given.collect::<Result<_, _>>()?, origin))
}

fn is_place(point: Flat) -> bool {
    point.iter().all(|v| v.abs() <= ROOF_EXTENT_FT)
}

fn across(points: &[Flat]) -> Result<f64, PlanError> {
    let spread = |axis: usize| {
        let values = points.iter().map(|p| p[axis]);
        values.clone().fold(f64::MIN, f64::max) - values.fold(f64::MAX, f64::min)
    };
    let extent = spread(0).max(spread(1));
    if extent <= ROOF_EXTENT_FT {
        Ok(extent)
    } else {
        Err(PlanError::Extent(extent))
    }
}

fn filled(plan: &RoofPlan, at: usize, side: PlanSide, from: Flat) -> Result<Given, PlanError> {
    let told = at + 1;
    let overhang = side.overhang.or(plan.overhang).unwrap_or(0.0);
    if !(0.0..=ROOF_OVERHANG_FT).contains(&overhang) {
        return Err(PlanError::Overhang {
            side: told,
            feet: overhang,
        });
    }
    let rise = match side.form {
        SideForm::Gable => 0.0,
        SideForm::Hip => {
            let rise = side.pitch.or(plan.pitch);
            let rise = rise.ok_or(PlanError::NoPitch(told))?;
            if !(ROOF_RISE_LEAST..=ROOF_RISE_MOST).contains(&rise) {
                return Err(PlanError::Pitch { side: told, rise });
            }
            rise
        }
    };
    Ok(Given {
        from,
        form: side.form,
        rise,
        overhang,
        sides: vec![at],
    })
}

/// Takes out repeated corners and corners in line.
fn take_out(given: &mut Vec<Given>) -> Result<(), PlanError> {
    let mut at = 0;
    while at < given.len() && given.len() > 1 {
        let next = (at + 1) % given.len();
        if distance(given[at].from, given[next].from) < MERGED_FT {
            given.remove(at);
        } else {
            at += 1;
        }
    }
    let mut at = 0;
    let mut kept = 0;
    while given.len() >= 3 && kept < given.len() {
        let count = given.len();
        at %= count;
        let before = (at + count - 1) % count;
        let (from, to) = (given[before].from, given[(at + 1) % count].from);
        if in_line(from, given[at].from, to) {
            if !given[before].alike(&given[at]) {
                let told = |side: &Given| side.sides.first().map_or(0, |side| side + 1);
                return Err(PlanError::InLine(told(&given[before]), told(&given[at])));
            }
            let more = given[at].sides.clone();
            given[before].sides.extend(more);
            given.remove(at);
            kept = 0;
        } else {
            at += 1;
            kept += 1;
        }
    }
    if given.len() < 3 {
        return Err(PlanError::TooFew(given.len()));
    }
    for side in given {
        side.sides.order();
    }
    Ok(())
}

fn in_line(from: Flat, middle: Flat, to: Flat) -> bool {
    let (whole, part) = (sub(to, from), sub(middle, from));
    let size = length(whole);
    let onward = dot(part, sub(to, middle)) > 0.0;
    onward && size > 0.0 && cross(whole, part).abs() / size < MERGED_FT
}

fn lines(walls: &[Flat], given: &[Given]) -> Vec<Line> {
    let next = walls.iter().cycle().skip(1);
    let sides = walls.iter().zip(next).zip(given);
    sides
        .map(|((from, to), side)| {
            let run = sub(*to, *from);
            let size = length(run);
            let along = [run[0] / size, run[1] / size];
            let inward = left(along);
            Line {
                along,
                inward,
                offset: dot(inward, *from) - side.overhang,
                run: match side.form {
                    SideForm::Hip => 12.0 / side.rise,
                    SideForm::Gable => 0.0,
                },
                rise: side.rise,
                sides: side.sides.clone(),
            }
        })
        .collect()
}

/// The corners moved out by the overhangs, mitred.
fn overhung(walls: &[Flat], lines: &[Line]) -> Result<Vec<Flat>, PlanError> {
    let count = lines.len();
    let corner = |at: usize| {
        let (a, b) = (&lines[(at + count - 1) % count], &lines[at]);
        let turn = cross(a.along, b.along);
        let moved = [
            (a.offset * b.inward[1] - b.offset * a.inward[1]) / turn,
            (a.inward[0] * b.offset - b.inward[0] * a.offset) / turn,
        ];
        let stays = |line: &Line| line.offset == dot(line.inward, walls[at]);
        if stays(a) && stays(b) {
            walls[at]
        } else {
            moved
        }
    };
    let corners: Vec<Flat> = (0..count).map(corner).collect();
    for (at, line) in lines.iter().enumerate() {
        let run = sub(corners[(at + 1) % count], corners[at]);
        let good = dot(run, line.along) > MERGED_FT;
        if !good {
            return Err(PlanError::OverhangCloses(line.told()));
        }
    }
    match crossing(&corners, MERGED_FT / 2.0) {
        Some((a, _)) => Err(PlanError::OverhangCloses(lines[a].told())),
        None => Ok(corners),
    }
}
