//! What nobody could see without breaking something: to be confirmed at tear-off.

use serde::Serialize;

use crate::job::{EaveOpening, Fields, Job, Kind, Layer, RecordRef, VocabularyWord};

/// One thing to confirm at tear-off.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TearOffLine {
    /// The record it comes from.
    pub from: RecordRef,
    /// Where.
    pub place: String,
    /// What, in trade words.
    pub what: &'static str,
    /// What is known so far, in words.
    pub known: String,
    /// Why it could not be seen, or from what it was inferred.
    pub reason: Option<String>,
}

/// The things to confirm at tear-off, eave by eave, then valley by valley.
pub fn tear_off(job: &Job) -> Vec<TearOffLine> {
    let mut lines = Vec::new();
    for (id, eave) in &job.records.eave_openings {
        if !eave.stands() {
            continue;
        }
        let from = RecordRef::new(Kind::EaveOpening, id.clone());
        for layer in layers(eave) {
            if layer.to_confirm {
                lines.push(TearOffLine {
                    place: job.place_name(&from),
                    from: from.clone(),
                    what: layer.name,
                    known: layer.words.unwrap_or_default(),
                    reason: eave.reason.clone(),
                });
            }
        }
    }
    for (id, edge) in &job.records.edges {
        let Some(lining) = edge
            .lining
            .filter(|lining| lining.to_confirm() && edge.stands())
        else {
            continue;
        };
        lines.push(TearOffLine {
            from: RecordRef::new(Kind::Edge, id.clone()),
            place: edge.slope.as_ref().map_or_else(
                || "a valley".to_owned(),
                |slope| format!("valley, {}", job.place_name(slope)),
            ),
            what: "valley lining",
            known: crate::job::FieldValue::in_words(&lining),
            reason: None,
        });
    }
    lines
}

/// One layer of an eave opening as it was recorded.
pub(crate) struct LayerState {
    pub(crate) name: &'static str,
    pub(crate) words: Option<String>,
    pub(crate) to_confirm: bool,
}

/// The layers of an eave opening from the outside in, recorded or not. The valley's lining
/// counts only beside a valley.
pub(crate) fn layers(eave: &EaveOpening) -> Vec<LayerState> {
    let mut layers = vec![
        state(eave, "starter", "starter", &eave.starter),
        state(eave, "drip edge", "drip_edge", &eave.drip_edge),
        state(eave, "gutter apron", "gutter_apron", &eave.gutter_apron),
        state(eave, "underlayment", "underlayment", &eave.underlayment),
        state(eave, "ice barrier", "ice_barrier", &eave.ice_barrier),
        state(eave, "deck", "deck", &eave.deck),
    ];
    if eave.beside_valley == Some(true) || eave.valley_lining.is_some() {
        layers.push(state(
            eave,
            "valley lining",
            "valley_lining",
            &eave.valley_lining,
        ));
    }
    layers
}

fn state<T: VocabularyWord>(
    eave: &EaveOpening,
    name: &'static str,
    key: &str,
    layer: &Option<Layer<T>>,
) -> LayerState {
    LayerState {
        name,
        words: eave.words(key),
        to_confirm: layer.as_ref().is_some_and(Layer::to_confirm),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::{DeckKind, DeviceId, Record, RecordId, Records, Stamp, Underlayment};

    #[test]
    fn only_what_was_not_seen_goes_to_tear_off() {
        let mut eave: Record<EaveOpening> = Record::new(Stamp {
            device: DeviceId::from_bytes([1; 16]),
            at: 0,
        });
        eave.fields.drip_edge = Some(Layer::SeenAbsent);
        eave.fields.underlayment = Some(Layer::Inferred(Underlayment::Felt15));
        eave.fields.ice_barrier = Some(Layer::CouldNotSee);
        eave.fields.deck = Some(Layer::Seen(DeckKind::Planks));
        let mut records = Records::default();
        records.eave_openings.insert(RecordId::fixed("e"), eave);
        let job = Job {
            id: None,
            schema: 1,
            crew: Default::default(),
            records,
        };
        let what: Vec<_> = tear_off(&job).into_iter().map(|line| line.what).collect();
        assert_eq!(what, ["underlayment", "ice barrier"]);
    }
}
