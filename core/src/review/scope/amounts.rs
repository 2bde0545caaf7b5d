//! How much of an item a finding speaks of, and how that was worked out.

use super::Item;
use crate::job::*;
use crate::review::view::View;

/// An amount in the item's unit; without one, the reason.
pub(super) struct Amount {
    pub(super) value: Result<f64, String>,
    pub(super) how: String,
    /// Further records it was taken from.
    pub(super) from: Vec<RecordRef>,
}

impl Amount {
    fn known(value: f64, how: impl Into<String>) -> Self {
        Self {
            value: Ok(value),
            how: how.into(),
            from: Vec::new(),
        }
    }

    fn unknown(reason: impl Into<String>) -> Self {
        Self {
            value: Err(reason.into()),
            how: String::new(),
            from: Vec::new(),
        }
    }

    fn from(mut self, record: RecordRef) -> Self {
        self.from.push(record);
        self
    }
}

/// Parts that are one thing however many of its faces or sides were hit.
const ONE_THING: &[Component] = &[
    Component::Condenser,
    Component::Chimney,
    Component::ChimneyFlashing,
    Component::ChimneyCap,
];

/// How much a finding speaks of.
pub(super) fn of_finding(view: &View<'_>, finding: &Finding, part: Component) -> Amount {
    match part.facts().unit {
        Unit::Each => each(finding, part),
        Unit::LinearFoot => length(view, finding, part),
        Unit::SquareFoot => area(view, finding, part),
        Unit::Square => match (finding.extent_area, structure(view, finding)) {
            (Some(area), _) => Amount::known(
                area.to_squares(),
                format!("{area:.1} as recorded, 100 sq ft a square"),
            ),
            _ => Amount::unknown(format!("the area of the {} was not measured", part.label())),
        },
    }
}

fn each(finding: &Finding, part: Component) -> Amount {
    if ONE_THING.contains(&part) {
        let how = match (finding.units, finding.units_total) {
            (Some(units), Some(total)) => format!("one; {units} of its {total} faces were hit"),
            _ => "one".to_owned(),
        };
        return Amount::known(1.0, how);
    }
    match (finding.units, finding.units_total) {
        (Some(0), _) => Amount::unknown("the finding counts none as hit".to_owned()),
        (Some(units), Some(total)) => {
            Amount::known(f64::from(units), format!("{units} of {total} counted"))
        }
        (Some(units), None) => Amount::known(f64::from(units), format!("{units} counted")),
        (None, _) if part.facts().of_total => Amount::unknown(format!(
            "how many of the {}s were hit was not counted",
            part.label()
        )),
        (None, _) => Amount::known(1.0, "one, as the finding names no number"),
    }
}

fn length(view: &View<'_>, finding: &Finding, part: Component) -> Amount {
    if let Some(length) = finding.extent_length {
        return Amount::known(length.to_feet(), format!("{length} as recorded"));
    }
    let counted = view
        .parts(part)
        .find(|(_, count)| count.place == finding.place && count.length.is_some());
    match counted.and_then(|(at, count)| Some((at, count.length?))) {
        Some((at, length)) => Amount::known(
            length.to_feet(),
            format!("{length}, the whole run, as the finding states no length"),
        )
        .from(at),
        None => Amount::unknown(format!(
            "the length of the {} was not measured",
            part.label()
        )),
    }
}

fn area(view: &View<'_>, finding: &Finding, part: Component) -> Amount {
    if let Some(area) = finding.extent_area {
        return Amount::known(area.to_square_feet(), format!("{area:.1} as recorded"));
    }
    if let Some(amount) = room_area(view, finding.place.as_ref(), part) {
        return amount;
    }
    if let (Some(length), Some((at, structure))) = (finding.extent_length, structure(view, finding))
        && let Some(height) = structure.height
    {
        return Amount::known(
            length.to_feet() * height.to_feet(),
            format!("{length} by {height}, the height of the whole"),
        )
        .from(at);
    }
    Amount::unknown(format!("the area of the {} was not measured", part.label()))
}

/// The area of a ceiling, floor or the walls from the sizes of the room.
pub(super) fn room_area(view: &View<'_>, place: Option<&Place>, part: Component) -> Option<Amount> {
    let place = place.filter(|place| place.kind == Kind::Room)?;
    let room = view
        .job
        .records
        .rooms
        .get(&place.id)
        .filter(|room| room.stands())?;
    let (length, width) = (room.length?, room.width?);
    let (value, how) = match part {
        Component::Ceiling | Component::Floor => (
            length.to_feet() * width.to_feet(),
            format!("{length} by {width}, the room's size"),
        ),
        Component::Wall => {
            let height = room.height?;
            (
                2.0 * (length.to_feet() + width.to_feet()) * height.to_feet(),
                format!("twice {length} and {width}, {height} high, openings not taken off"),
            )
        }
        _ => return None,
    };
    Some(Amount::known(value, how).from(place.clone()))
}

/// The structure a finding was made at.
fn structure<'a>(view: &View<'a>, finding: &Finding) -> Option<(RecordRef, &'a Record<Structure>)> {
    let place = finding
        .place
        .as_ref()
        .filter(|at| at.kind == Kind::Structure)?;
    let found = view.job.records.structures.get(&place.id)?;
    found.stands().then(|| (place.clone(), found))
}

/// One face of a fence or the floor of a deck that is stained: length by height.
pub(super) fn stained(view: &View<'_>, finding: &Finding) -> Amount {
    let Some((at, structure)) = structure(view, finding) else {
        return Amount::unknown("the area to stain was not measured");
    };
    match (structure.length, structure.height) {
        (Some(length), Some(height)) => Amount::known(
            length.to_feet() * height.to_feet(),
            format!("{length} by {height}, one face"),
        )
        .from(at),
        _ => Amount::unknown("the length or height to stain was not measured").from(at),
    }
}

/// The words of an item with its size and material.
pub(super) fn item_words(item: &Item, size: Option<Length>, material: Option<Material>) -> String {
    if *item == Item::Shingles
        && let Some(material) = material
    {
        return roofing_words(material);
    }
    let mut words = item.label().to_owned();
    if let Some(size) = size {
        words = format!("{words}, {} in", size.to_inches());
    }
    if let Some(material) = material {
        words = format!("{words}, {}", material.label());
    }
    words
}

fn roofing_words(material: Material) -> String {
    match material {
        Material::Slate | Material::RollRoofing => material.label().to_owned(),
        other => format!("{}s", other.label()),
    }
}
