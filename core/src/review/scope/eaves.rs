//! What the eave openings say of a slope: its own, or those of the house where it has none.

use crate::job::*;
use crate::review::view::View;

/// A layer as far as it is known at a slope.
pub(super) struct LayerAt<T> {
    pub(super) layer: Option<Layer<T>>,
    pub(super) from: Vec<RecordRef>,
    pub(super) unsure: Vec<String>,
}

impl<T: Copy> LayerAt<T> {
    /// The kind, where it was seen or inferred.
    pub(super) fn kind(&self) -> Option<T> {
        match self.layer {
            Some(Layer::Seen(kind) | Layer::Inferred(kind)) => Some(kind),
            _ => None,
        }
    }

    /// It was seen that there is none.
    pub(super) fn is_absent(&self) -> bool {
        matches!(self.layer, Some(Layer::SeenAbsent))
    }
}

/// A layer at a slope. Where the slope's own eaves were not opened, the others speak for it if
/// they agree, and the line says so.
pub(super) fn layer_at<T: VocabularyWord + PartialEq>(
    view: &View<'_>,
    slope: &Place,
    what: &str,
    pick: impl Fn(&EaveOpening) -> Option<Layer<T>>,
) -> LayerAt<T> {
    let all: Vec<(RecordRef, Layer<T>, bool)> = view
        .eaves()
        .filter_map(|(at, eave)| Some((at, pick(eave)?, eave.slope.as_ref() == Some(slope))))
        .collect();
    let (own, others): (Vec<_>, Vec<_>) = all.into_iter().partition(|(_, _, own)| *own);
    let from = |eaves: &[(RecordRef, Layer<T>, bool)]| -> Vec<RecordRef> {
        eaves.iter().map(|(at, _, _)| at.clone()).collect()
    };
    let name = view.job.place_name(slope);
    if let Some(layer) = settled(&own) {
        let unsure = if own.iter().any(|(_, other, _)| *other != layer) {
            vec![format!(
                "the eave openings of the {name} differ on the {what}: confirm at tear-off"
            )]
        } else {
            to_confirm(&layer, what)
        };
        return LayerAt {
            layer: Some(layer),
            from: from(&own),
            unsure,
        };
    }
    let same = settled(&others).filter(|first| {
        others
            .iter()
            .all(|(_, other, _)| other == first || matches!(other, Layer::CouldNotSee))
    });
    match same {
        Some(layer) => LayerAt {
            layer: Some(layer),
            from: from(&others),
            unsure: vec![format!(
                "no eave of the {name} was opened: the {what} is taken from the other openings, confirm at tear-off"
            )],
        },
        None => LayerAt {
            layer: None,
            from: Vec::new(),
            unsure: vec![format!(
                "the {what} of the {name} was not seen: confirm at tear-off"
            )],
        },
    }
}

/// What was seen goes before what could not be seen.
fn settled<T: Copy>(eaves: &[(RecordRef, Layer<T>, bool)]) -> Option<Layer<T>> {
    let seen = eaves
        .iter()
        .find(|(_, layer, _)| !matches!(layer, Layer::CouldNotSee));
    seen.or(eaves.first()).map(|(_, layer, _)| *layer)
}

fn to_confirm<T: VocabularyWord>(layer: &Layer<T>, what: &str) -> Vec<String> {
    match layer {
        Layer::CouldNotSee => vec![format!("the {what} could not be seen: confirm at tear-off")],
        Layer::Inferred(_) => vec![format!("the {what} was inferred: confirm at tear-off")],
        _ => Vec::new(),
    }
}
