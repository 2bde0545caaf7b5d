//! What the residential code asks of this house, as far as the record goes, each answer with the
//! records it came from.

mod lists;
mod slopes;

use std::collections::BTreeMap;

use serde::Serialize;

use super::Facts;
use super::view::View;
use crate::job::{Area, Job, Kind, Known, Place, RecordRef};
use crate::trade::code::{About, Answer, CodeInputs, Input, answers};

pub(crate) use slopes::{PitchFrom, RoofSlope, roof_slopes};

/// What the rules depend on and the record has no field for. What is left empty is answered as
/// not known.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Stated {
    /// Area of the vented space, measured on the flat.
    pub vented_space: Option<Area>,
    /// Share of the vent area that lies high, 0 to 1.
    pub high_vent_share: Option<f64>,
    /// A Class I or II vapour retarder lies on the warm side of the ceiling.
    pub vapour_retarder: Option<bool>,
    /// Climate zone of the energy code, 1 to 8.
    pub climate_zone: Option<u8>,
    /// The code's map shows moderate or severe hail.
    pub hail_exposure: Option<bool>,
    /// The roofing is soaked, or too far gone to nail over.
    pub roofing_soaked: Option<bool>,
    /// False for a detached accessory building without a conditioned floor.
    pub conditioned: Option<bool>,
}

/// One answer of the code and what it rests on.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Requirement {
    /// The answer.
    pub answer: Answer,
    /// The slope or other place it is about; `None` for the house.
    pub place: Option<Place>,
    /// The records that its inputs came from, and those that lack an input.
    pub from: Vec<RecordRef>,
    /// Those of them with a field that two people stated differently.
    pub unsettled: Vec<RecordRef>,
}

/// What each rule asks of the house, in the order of the code's table. The same job gives the same
/// answers.
pub fn requirements(job: &Job, stated: &Stated) -> Vec<Requirement> {
    let gathered = gather(job, stated);
    answers(&gathered.inputs)
        .into_iter()
        .map(|answer| {
            let from = gathered.records(&answer);
            let place = gathered.places.get(&answer.about).cloned();
            let unsettled = from
                .iter()
                .filter(|at| {
                    let header = job.records.header(at);
                    header.is_some_and(|header| !header.conflicts.is_empty())
                })
                .cloned()
                .collect();
            Requirement {
                answer,
                place,
                from,
                unsettled,
            }
        })
        .collect()
}

/// The inputs of the code's rules from a job, for callers that add to them.
pub fn code_inputs(job: &Job, stated: &Stated) -> CodeInputs {
    gather(job, stated).inputs
}

/// The inputs and where each came from.
#[derive(Default)]
struct Gathered {
    inputs: CodeInputs,
    sources: BTreeMap<(About, Input), Vec<RecordRef>>,
    places: BTreeMap<About, Place>,
    things: BTreeMap<About, RecordRef>,
}

impl Gathered {
    fn source(&mut self, about: About, input: Input, from: impl IntoIterator<Item = RecordRef>) {
        let records = self.sources.entry((about, input)).or_default();
        records.extend(from);
    }

    /// The records behind an answer: its own inputs, else those of the house; and the thing itself.
    fn records(&self, answer: &Answer) -> Vec<RecordRef> {
        let used = answer.triggered_by.iter().map(|trigger| trigger.input);
        let mut from: Vec<RecordRef> = self
            .things
            .get(&answer.about)
            .cloned()
            .into_iter()
            .collect();
        for input in used.chain(answer.not_known.iter().copied()) {
            let own = self.sources.get(&(answer.about, input));
            let records = own.or_else(|| self.sources.get(&(About::House, input)));
            for record in records.into_iter().flatten() {
                if !from.contains(record) {
                    from.push(record.clone());
                }
            }
        }
        from
    }
}

fn gather(job: &Job, stated: &Stated) -> Gathered {
    let facts = Facts::default();
    let view = View::new(job, &facts);
    let inputs = CodeInputs {
        hail_exposure: stated.hail_exposure,
        roofing_soaked: stated.roofing_soaked,
        vented_space: stated.vented_space,
        high_vent_share: stated.high_vent_share,
        vapour_retarder: stated.vapour_retarder,
        climate_zone: stated.climate_zone,
        conditioned: stated.conditioned,
        ..CodeInputs::default()
    };
    let mut gathered = Gathered {
        inputs,
        ..Gathered::default()
    };
    property(job, &mut gathered);
    slopes::gather(&view, &mut gathered);
    lists::valleys(&view, &mut gathered);
    lists::sidewalls(&view, &mut gathered);
    lists::openings(&view, &mut gathered);
    gathered
}

fn property(job: &Job, gathered: &mut Gathered) {
    let Some(property) = job.property().filter(|property| property.stands()) else {
        return;
    };
    let at = RecordRef::new(Kind::Property, Job::only());
    gathered.inputs.code_edition = property.code_edition.clone();
    gathered.inputs.ice_barrier_designated = match property.ice_barrier_designated {
        Some(Known::Yes) => Some(true),
        Some(Known::No) => Some(false),
        Some(Known::Unknown) | None => None,
    };
    gathered.source(About::House, Input::IceBarrierDesignated, [at]);
}

#[cfg(test)]
mod tests;
