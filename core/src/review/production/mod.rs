//! The production sheet: what the crew that lays the new roof must know of this house, each line
//! with its records and photos, and what is unknown said as unknown.

mod roof;
mod site;

#[cfg(test)]
mod tests;

use serde::Serialize;

use super::evidence::photos_of_all;
use super::quantities::{MaterialChoices, job_quantities};
use super::view::View;
use super::{CAUTIONS, Caution, DEFERENCE, Facts, Reader};
use crate::job::{Job, RecordId, RecordRef};
use crate::limits;
use crate::trade::materials::{MaterialLine, materials};

/// What the sheet is made with.
#[derive(Clone, Debug, PartialEq)]
pub struct SheetOptions {
    /// Waste, coverages and choices for the materials.
    pub choices: MaterialChoices,
    /// Rise in twelve over which a slope is called steep.
    pub steep_over_rise: f64,
    /// Storeys from which access is called high.
    pub high_from_storeys: u32,
}

impl Default for SheetOptions {
    fn default() -> Self {
        Self {
            choices: MaterialChoices::default(),
            steep_over_rise: limits::STEEP_OVER_RISE,
            high_from_storeys: limits::HIGH_FROM_STOREYS,
        }
    }
}

/// How sure a line is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Certainty {
    /// Recorded.
    Known,
    /// Seen by nobody or inferred: confirm at tear-off.
    Confirm,
    /// Nobody recorded it.
    Unknown,
}

/// One line of the sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SheetLine {
    /// What the crew reads.
    pub text: String,
    /// How sure it is.
    pub certainty: Certainty,
    /// The records it rests on.
    pub from: Vec<RecordRef>,
    /// Photos of them, by time.
    pub photos: Vec<RecordId>,
}

/// How to reach the owner.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Contact {
    /// The owner's name.
    pub owner: Option<String>,
    /// Telephone.
    pub phone: Option<String>,
    /// Mail.
    pub email: Option<String>,
}

/// The sheet.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ProductionSheet {
    /// Street, town and code; empty where not recorded.
    pub address: String,
    /// For the office only.
    pub contact: Option<Contact>,
    /// Materials, with their arithmetic.
    pub materials: Vec<MaterialLine>,
    /// The records the materials come from.
    pub materials_from: Vec<RecordRef>,
    /// Why no materials could be worked out.
    pub materials_refused: Option<String>,
    /// What the roofing is nailed to, and its gaps.
    pub deck: Vec<SheetLine>,
    /// Layers of roofing, slope by slope.
    pub layers: Vec<SheetLine>,
    /// What stands in the way of tear-off.
    pub obstacles: Vec<SheetLine>,
    /// To confirm at tear-off.
    pub confirm_at_tear_off: Vec<SheetLine>,
    /// Gates, pets, height, steep slopes.
    pub access: Vec<SheetLine>,
    /// What was there before, so that nobody is blamed for it.
    pub prior_conditions: Vec<SheetLine>,
    /// What needs paint or stain to match.
    pub paint_to_match: Vec<SheetLine>,
    /// What comes off and goes back.
    pub detach_and_reset: Vec<SheetLine>,
    /// Safety cautions.
    pub cautions: &'static [Caution],
    /// Stands above the cautions.
    pub deference: &'static str,
}

/// The production sheet of a job. For anyone, nothing that is office-only and no contact is on it.
/// The same job gives the same sheet.
pub fn production_sheet(job: &Job, reader: Reader, options: &SheetOptions) -> ProductionSheet {
    let facts = Facts::default();
    let view = View::new(job, &facts);
    let sheet = Sheet {
        view: &view,
        reader,
        options,
    };
    let quantities = job_quantities(job, &options.choices);
    let (lines, refused) = match materials(&quantities.inputs) {
        Ok(lines) => (lines, None),
        Err(error) => (Vec::new(), Some(error.to_string())),
    };
    ProductionSheet {
        address: address(job),
        contact: (reader == Reader::Office).then(|| contact(job)),
        materials: lines,
        materials_from: quantities.from,
        materials_refused: refused,
        deck: sheet.deck(),
        layers: sheet.layers(),
        obstacles: sheet.obstacles(),
        confirm_at_tear_off: sheet.confirm_at_tear_off(),
        access: sheet.access(),
        prior_conditions: sheet.prior_conditions(),
        paint_to_match: sheet.paint_to_match(),
        detach_and_reset: sheet.detach_and_reset(),
        cautions: CAUTIONS,
        deference: DEFERENCE,
    }
}

/// What the sections are made from.
struct Sheet<'a> {
    view: &'a View<'a>,
    reader: Reader,
    options: &'a SheetOptions,
}

impl Sheet<'_> {
    fn line(&self, certainty: Certainty, text: String, from: Vec<RecordRef>) -> SheetLine {
        SheetLine {
            text,
            certainty,
            photos: photos_of_all(self.view, &from, self.reader),
            from,
        }
    }

    fn known(&self, text: String, from: Vec<RecordRef>) -> SheetLine {
        self.line(Certainty::Known, text, from)
    }

    fn unknown(&self, text: String, from: Vec<RecordRef>) -> SheetLine {
        self.line(Certainty::Unknown, text, from)
    }
}

fn address(job: &Job) -> String {
    let Some(property) = job.property().filter(|property| property.stands()) else {
        return String::new();
    };
    let parts = [
        &property.street,
        &property.town,
        &property.state,
        &property.postal_code,
    ];
    let parts: Vec<&str> = parts.into_iter().filter_map(Option::as_deref).collect();
    parts.join(", ")
}

fn contact(job: &Job) -> Contact {
    let property = job.property().filter(|property| property.stands());
    property.map_or_else(Contact::default, |property| Contact {
        owner: property.owner.clone(),
        phone: property.owner_phone.clone(),
        email: property.owner_email.clone(),
    })
}
