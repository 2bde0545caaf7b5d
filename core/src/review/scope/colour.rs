//! Paint and stain to match what is replaced.

use super::Item;
use super::amounts;
use super::findings::DOUBTS;
use super::sheet::{Part, Sheet};
use crate::job::*;

/// How the part got its colour, by the finding or by the count at its place.
pub(super) fn finish(sheet: &Sheet<'_>, finding: &Finding, component: Component) -> Option<Finish> {
    finding.finish.or_else(|| {
        let mut counts = sheet.view.parts(component);
        counts.find_map(|(_, count)| count.finish.filter(|_| count.place == finding.place))
    })
}

/// Paint or stain to match, where the colour was put on at the house.
pub(super) fn write(
    sheet: &mut Sheet<'_>,
    at: RecordRef,
    finding: &Record<Finding>,
    component: Component,
    work: &Part,
) {
    match finish(sheet, finding, component) {
        Some(Finish::FieldPainted) => {
            let mut part = work.clone();
            part.action = WorkAction::Paint;
            part.how = format!("the same as is replaced, to match: {}", work.how);
            part.unsure
                .retain(|doubt| !DOUBTS.iter().any(|(_, of)| of == doubt));
            if component == Component::Siding {
                part = part.doubt(
                    "paint to match is usually carried to a corner or a break: set the area",
                );
            }
            sheet.put(part);
        }
        Some(Finish::Stained) => stain(sheet, at, finding, component, work),
        _ => {}
    }
}

fn stain(
    sheet: &mut Sheet<'_>,
    at: RecordRef,
    finding: &Record<Finding>,
    component: Component,
    work: &Part,
) {
    let fence = matches!(
        component,
        Component::FencePanel | Component::FenceBoard | Component::Gate
    );
    if !fence {
        let mut part = work.clone();
        part.action = WorkAction::Stain;
        sheet.put(part);
        return;
    }
    let amount = amounts::stained(sheet.view, finding);
    let mut part = Part::new(finding.place.clone(), Item::FenceStain, WorkAction::Stain)
        .on([at])
        .on(amount.from)
        .doubt("whether one face or both are stained was not recorded");
    part.how = amount.how;
    match amount.value {
        Ok(value) => part.amount = Some(value),
        Err(reason) => part.unsure.push(reason),
    }
    sheet.put(part);
}
