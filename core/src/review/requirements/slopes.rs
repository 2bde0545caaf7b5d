//! The slopes as the record has them: pitch, area, layers, deck, eave.

use super::Gathered;
use crate::job::*;
use crate::review::view::{View, standing};
use crate::sorted::Sorted;
use crate::trade::code::{About, Input, SlopeInputs};

/// Where a pitch comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum PitchFrom {
    /// Gauge, phone or another measure on the roof.
    Measured,
    /// The measurement report.
    Report,
    /// An estimate.
    Estimated,
}

/// One slope with what is known of it and from which records.
pub(crate) struct RoofSlope<'a> {
    pub(crate) at: RecordRef,
    pub(crate) name: String,
    pub(crate) record: &'a Record<Slope>,
    pub(crate) pitch: Option<(Pitch, PitchFrom, RecordRef)>,
    pub(crate) layers: Option<(u32, Vec<RecordRef>)>,
    pub(crate) eaves: Vec<(RecordRef, &'a Record<EaveOpening>)>,
}

/// Every standing slope, by id.
pub(crate) fn roof_slopes<'a>(view: &View<'a>) -> Vec<RoofSlope<'a>> {
    let slopes: Vec<_> = view.slopes().collect();
    slopes
        .into_iter()
        .map(|(at, record)| {
            let eaves = eaves_of(view, &at, record);
            RoofSlope {
                name: view.job.place_name(&at),
                pitch: pitch_of(view, &at, record),
                layers: layers_of(&at, record, &eaves),
                eaves,
                record,
                at,
            }
        })
        .collect()
}

/// The eave openings of a slope: those that name it, and those that name only its side.
fn eaves_of<'a>(
    view: &View<'a>,
    at: &RecordRef,
    slope: &Slope,
) -> Vec<(RecordRef, &'a Record<EaveOpening>)> {
    let records = standing(Kind::EaveOpening, &view.job.records.eave_openings);
    records
        .filter(|(_, eave)| match &eave.slope {
            Some(named) => named == at,
            None => eave.side.is_some() && eave.side == slope.side,
        })
        .collect()
}

/// The measured pitch, the gauge before other ways and the latest of several; else the report's;
/// else an estimate.
fn pitch_of(
    view: &View<'_>,
    at: &RecordRef,
    slope: &Slope,
) -> Option<(Pitch, PitchFrom, RecordRef)> {
    let mut measures: Vec<_> = view
        .measures(MeasuredThing::Pitch)
        .filter(|(_, measure)| measure.place.as_ref() == Some(at))
        .filter_map(|(from, measure)| {
            let rank = match measure.method {
                Some(MeasureMethod::Gauge) => 0,
                Some(MeasureMethod::Phone) => 1,
                Some(MeasureMethod::Tape | MeasureMethod::Counted) | None => 2,
                Some(MeasureMethod::Report) => 3,
                Some(MeasureMethod::Estimated) => 4,
            };
            let later = std::cmp::Reverse(measure.made.at);
            Some((rank, later, from, measure.pitch?))
        })
        .collect();
    measures.order();
    let best = measures.into_iter().next();
    let (rank, measured) = match best {
        Some((rank, _, from, pitch)) => (rank, Some((pitch, from))),
        None => (5, None),
    };
    let report = slope.report_pitch.map(|pitch| (pitch, at.clone()));
    let (chosen, from) = match rank {
        0..=2 => (measured, PitchFrom::Measured),
        3 => (measured, PitchFrom::Report),
        _ if report.is_some() => (report, PitchFrom::Report),
        _ => (measured, PitchFrom::Estimated),
    };
    chosen.map(|(pitch, record)| (pitch, from, record))
}

/// The most layers that anybody counted on the slope.
fn layers_of(
    at: &RecordRef,
    slope: &Slope,
    eaves: &[(RecordRef, &Record<EaveOpening>)],
) -> Option<(u32, Vec<RecordRef>)> {
    let own = slope.layers.map(|layers| (layers, at.clone()));
    let seen = eaves
        .iter()
        .filter_map(|(from, eave)| Some((eave.roofing_layers?, from.clone())));
    let counts: Vec<(u32, RecordRef)> = own.into_iter().chain(seen).collect();
    let most = counts.iter().map(|(layers, _)| *layers).max()?;
    Some((most, counts.into_iter().map(|(_, from)| from).collect()))
}

pub(super) fn gather(view: &View<'_>, gathered: &mut Gathered) {
    for (index, slope) in roof_slopes(view).into_iter().enumerate() {
        let about = About::Slope(index);
        gathered.places.insert(about, slope.at.clone());
        gathered.things.insert(about, slope.at.clone());
        if let Some((_, _, from)) = &slope.pitch {
            gathered.source(about, Input::Pitch, [from.clone()]);
        }
        if let Some((_, from)) = &slope.layers {
            gathered.source(about, Input::Layers, from.iter().cloned());
        }
        let mut length = |of, input| {
            let (length, from) = eave_length(view, &slope, of)?;
            gathered.source(about, input, [from]);
            Some(length)
        };
        let overhang = length(MeasuredThing::Overhang, Input::Overhang);
        let wall_thickness = length(MeasuredThing::WallThickness, Input::WallThickness);
        for input in [Input::Deck, Input::WidestGap, Input::DripEdge] {
            let eaves = slope.eaves.iter().map(|(from, _)| from.clone());
            gathered.source(about, input, eaves);
        }
        let eave_edge = standing(Kind::Edge, &view.job.records.edges).find(|(_, edge)| {
            edge.kind == Some(EdgeKind::Eave) && edge.slope.as_ref() == Some(&slope.at)
        });
        gathered.inputs.slopes.push(SlopeInputs {
            pitch: slope.pitch.as_ref().map(|(pitch, _, _)| *pitch),
            roofing: slope.record.roofing,
            layers: slope.layers.as_ref().map(|(layers, _)| *layers),
            has_eave: (eave_edge.is_some() || !slope.eaves.is_empty()).then_some(true),
            overhang,
            wall_thickness,
            deck: deck_of(&slope),
            widest_gap: slope
                .eaves
                .iter()
                .filter_map(|(_, eave)| eave.widest_gap)
                .max(),
            drip_edge: drip_edge_of(&slope),
            name: slope.name,
        });
    }
}

/// A length measured at the slope, at one of its eave openings, at the wall below it, or for the
/// house as a whole; the longest where there are several.
fn eave_length(
    view: &View<'_>,
    slope: &RoofSlope<'_>,
    of: MeasuredThing,
) -> Option<(Length, RecordRef)> {
    let side = slope.record.side.map(RecordRef::side);
    let mut measures: Vec<_> = view
        .measures(of)
        .filter_map(|(from, measure)| {
            let rank = match &measure.place {
                Some(place) if *place == slope.at => 0,
                Some(place) if slope.eaves.iter().any(|(eave, _)| eave == place) => 0,
                Some(place) if side.as_ref() == Some(place) => 1,
                Some(_) => return None,
                None => 2,
            };
            Some((rank, std::cmp::Reverse(measure.length?), from))
        })
        .collect();
    measures.order();
    let (_, longest, from) = measures.into_iter().next()?;
    Some((longest.0, from))
}

/// Boards before sheets where openings of one slope differ: the harder case.
fn deck_of(slope: &RoofSlope<'_>) -> Option<DeckKind> {
    let decks = slope.eaves.iter().filter_map(|(_, eave)| known(eave.deck));
    decks.max()
}

fn drip_edge_of(slope: &RoofSlope<'_>) -> Option<bool> {
    let seen: Vec<bool> = slope
        .eaves
        .iter()
        .filter_map(|(_, eave)| match eave.drip_edge {
            Some(Layer::Seen(_)) => Some(true),
            Some(Layer::SeenAbsent) => Some(false),
            _ => None,
        })
        .collect();
    if seen.is_empty() {
        None
    } else {
        Some(seen.iter().all(|there| *there))
    }
}

/// What a layer is, seen or inferred.
pub(super) fn known<T>(layer: Option<Layer<T>>) -> Option<T> {
    match layer {
        Some(Layer::Seen(what) | Layer::Inferred(what)) => Some(what),
        _ => None,
    }
}
