//! The ice barrier of a slope that is replaced.

use super::along::{along, eaves_of};
use super::eaves::layer_at;
use super::required::Code;
use super::roof::Plane;
use super::sheet::{Part, Sheet};
use super::{Basis, Item};
use crate::job::*;
use crate::trade::code::{CodeRule, IceRule, ice_barrier};

/// What is there is replaced. What is not there is asked for where the local authority designates
/// the area; where nobody knows whether it does, the line says to ask.
pub(super) fn write(sheet: &mut Sheet<'_>, plane: &Plane<'_>, code: &Code) {
    let seen = layer_at(sheet.view, &plane.at, "ice barrier", |eave| {
        eave.ice_barrier
    });
    let property = sheet
        .view
        .job
        .property()
        .filter(|property| property.stands());
    let designated = property.and_then(|property| property.ice_barrier_designated);
    let house = RecordRef::new(Kind::Property, Job::only());
    if let Some(kind) = seen.kind() {
        let part = Part::new(None, Item::IceBarrier, WorkAction::RemoveAndReplace)
            .words(format!("ice barrier, {}", kind.label()))
            .on(seen.from)
            .unsure(seen.unsure);
        let part = reach(sheet, plane, code, part);
        sheet.put(part);
        return;
    }
    let Some(rule) = code.rule(CodeRule::IceBarrier) else {
        return;
    };
    let (action, trigger) = match designated {
        Some(Known::No) => return,
        Some(Known::Yes) => (WorkAction::Install, "The area is recorded as designated."),
        _ => (
            WorkAction::Inspect,
            "Whether the area is designated is not recorded.",
        ),
    };
    let mut part = Part::new(None, Item::IceBarrier, action)
        .on(seen.from)
        .unsure(seen.unsure)
        .unsure(code.doubt())
        .basis(code.basis(rule, trigger));
    if property.is_some() {
        part = part.on([house]);
    }
    if action == WorkAction::Inspect {
        part =
            part.doubt("ask the local authority whether it designates the area for an ice barrier");
    }
    let part = reach(sheet, plane, code, part);
    sheet.put(part);
}

/// The area along the eaves: their length times the reach along the slope.
fn reach(sheet: &Sheet<'_>, plane: &Plane<'_>, code: &Code, part: Part) -> Part {
    let name = sheet.at(&plane.at);
    let required = matches!(part.basis, Basis::Requirement { .. });
    let part = along(part, &eaves_of(sheet, plane), "eave", &name);
    let Some(feet) = part.amount else {
        return part;
    };
    let overhang = measured(sheet, plane, MeasuredThing::Overhang);
    let wall = measured(sheet, plane, MeasuredThing::WallThickness);
    let rule = IceRule::in_edition(code.edition());
    let (Some((over_at, overhang)), Some((wall_at, wall)), Some(pitch), Some(rule)) =
        (overhang, wall, plane.pitch, rule)
    else {
        let mut part = part.doubt("the overhang, the wall's thickness or the pitch was not measured, so how far up the slope it reaches is not known");
        part.amount = None;
        return part;
    };
    let mut part = part.on([over_at, wall_at]);
    let barrier = ice_barrier(rule, overhang.to_inches(), wall.to_inches(), pitch.rise());
    part.amount = barrier.map(|barrier| feet * barrier.along_slope_in / 12.0);
    if let Some(barrier) = barrier {
        part.how = format!(
            "{}; by {:.1} in along the slope: {overhang} overhang, {wall} wall and 24 in inside it at {pitch}",
            part.how, barrier.along_slope_in
        );
        if !required {
            part = part.doubt("how far up the slope the present one reaches was not seen: the code's least reach is taken");
        }
    }
    part
}

/// A measure at the slope or its side, else the only one at the house.
fn measured(
    sheet: &Sheet<'_>,
    plane: &Plane<'_>,
    of: MeasuredThing,
) -> Option<(RecordRef, Length)> {
    let side = plane.slope.side.map(RecordRef::side);
    let all: Vec<(RecordRef, &Record<Measurement>)> = sheet
        .view
        .measures(of)
        .filter(|(_, measure)| measure.length.is_some())
        .collect();
    let here = |place: &Option<Place>| {
        *place == Some(plane.at.clone()) || (side.is_some() && *place == side)
    };
    let (at, measure) = all
        .iter()
        .find(|(_, measure)| here(&measure.place))
        .or(all.first())?;
    Some((at.clone(), measure.length?))
}
