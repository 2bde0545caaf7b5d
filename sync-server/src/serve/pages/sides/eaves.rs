//! What lies under the first course: seen, seen absent, inferred, or not to be seen.

use chalkwalk_core::job::{EaveOpening, Fields, Kind, Layer, Record, RecordId, RecordRef};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::layout::sheet;
use super::super::words::{capital, said};
use super::{add, linked};

/// The layers from the roofing down, by field.
const LAYERS: &[(&str, &str)] = &[
    ("starter", "Starter"),
    ("drip_edge", "Drip edge"),
    ("gutter_apron", "Gutter apron"),
    ("underlayment", "Underlayment"),
    ("ice_barrier", "Ice barrier"),
    ("deck", "Deck"),
    ("valley_lining", "Valley lining"),
];

/// How well a layer is known.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Known {
    Seen,
    Absent,
    Inferred,
    Hidden,
    Open,
}

pub(super) fn section(at: &AtJob) -> Markup {
    let eaves: Vec<_> = standing(at).collect();
    html! {
        section #layers aria-labelledby="layers-head" {
            h2 #layers-head { "Layers at the eaves" }
            @if eaves.is_empty() {
                p.soft { "No eave was opened. What lies under the first course is found out at tear-off." }
            } @else {
                (table(at, &eaves))
                p.soft.small { "Looked at without breaking anything. What was inferred or could not be \
                    seen is confirmed at tear-off." }
            }
        }
    }
}

fn standing(at: &AtJob) -> impl Iterator<Item = (&RecordId, &Record<EaveOpening>)> {
    at.job
        .records
        .eave_openings
        .iter()
        .filter(|(_, eave)| eave.stands())
}

/// The eave openings of one slope, or one opening by itself.
pub(super) fn of_place(at: &AtJob, place: &RecordRef) -> Markup {
    let own = |(id, eave): &(&RecordId, &Record<EaveOpening>)| {
        eave.slope.as_ref() == Some(place) || (place.kind == Kind::EaveOpening && place.id == **id)
    };
    let eaves: Vec<_> = standing(at).filter(own).collect();
    let slope = place.kind == Kind::Slope;
    html! {
        @if slope || !eaves.is_empty() {
            section aria-labelledby="layers-head" {
                header.head {
                    h3 #layers-head { "Layers at the eave" }
                    @if slope { (add(at, "eave_opening", &format!("slope={place}"), "Add an eave opening")) }
                }
                @if eaves.is_empty() { p.soft { "No eave of it was opened." } }
                @else { (table(at, &eaves)) }
            }
        }
    }
}

fn table(at: &AtJob, eaves: &[(&RecordId, &Record<EaveOpening>)]) -> Markup {
    let table = html! {
        table.layers {
            thead { tr {
                th scope="col" { "Layer" }
                @for (id, eave) in eaves { th scope="col" { (name(at, id, eave)) } }
            } }
            tbody {
                @for (key, label) in LAYERS {
                    tr {
                        th scope="row" { (label) }
                        @for (_, eave) in eaves { td { (mark(eave, key)) } }
                    }
                }
                tr {
                    th scope="row" { "Roofing layers" }
                    @for (_, eave) in eaves { td { (said(eave.roofing_layers)) } }
                }
                tr {
                    th scope="row" { "Widest gap between boards" }
                    @for (_, eave) in eaves { td { (said(eave.widest_gap)) } }
                }
                tr {
                    th scope="row" { "Why" }
                    @for (_, eave) in eaves { td.soft { (said(eave.reason.as_deref())) } }
                }
            }
        }
    };
    sheet("Table of layers", &table)
}

fn name(at: &AtJob, id: &RecordId, eave: &EaveOpening) -> Markup {
    let place = RecordRef::new(Kind::EaveOpening, id.clone());
    html! {
        (linked(at, &place))
        @if let Some(slope) = &eave.slope { div.soft { (capital(&at.job.place_name(slope))) } }
        @if eave.beside_valley == Some(true) { div.soft { "beside a valley" } }
    }
}

/// A layer as a shape, a word and what it is.
fn mark(eave: &EaveOpening, key: &str) -> Markup {
    let (class, shape, word) = match known(eave, key) {
        Known::Seen => ("state cleared", "circle-check", "seen"),
        Known::Absent => ("state damaged", "circle-slash", "seen absent"),
        Known::Inferred => ("state unsure", "circle-dot", "inferred"),
        Known::Hidden => ("state unsure", "eye-off", "could not see"),
        Known::Open => ("state soft", "circle-dashed", "not recorded"),
    };
    let what = eave.words(key).unwrap_or_default();
    let what = what
        .split(", ")
        .next()
        .filter(|_| what.contains(", ") && word != "seen absent");
    html! {
        @if let Some(what) = what { (capital(what)) " " }
        span class=(class) { (icon(shape)) (word) }
    }
}

fn known(eave: &EaveOpening, key: &str) -> Known {
    match key {
        "starter" => of(eave.starter),
        "drip_edge" => of(eave.drip_edge),
        "gutter_apron" => of(eave.gutter_apron),
        "underlayment" => of(eave.underlayment),
        "ice_barrier" => of(eave.ice_barrier),
        "deck" => of(eave.deck),
        "valley_lining" => of(eave.valley_lining),
        _ => Known::Open,
    }
}

fn of<T>(layer: Option<Layer<T>>) -> Known {
    match layer {
        Some(Layer::Seen(_)) => Known::Seen,
        Some(Layer::SeenAbsent) => Known::Absent,
        Some(Layer::Inferred(_)) => Known::Inferred,
        Some(Layer::CouldNotSee) => Known::Hidden,
        None => Known::Open,
    }
}

#[cfg(test)]
mod tests {
    use chalkwalk_core::job::{DeckKind, Underlayment};

    use super::*;

    #[test]
    fn every_layer_says_how_well_it_is_known() {
        let eave = EaveOpening {
            deck: Some(Layer::Seen(DeckKind::Plywood)),
            underlayment: Some(Layer::Inferred(Underlayment::Felt15)),
            ice_barrier: Some(Layer::SeenAbsent),
            gutter_apron: Some(Layer::CouldNotSee),
            ..EaveOpening::default()
        };
        let words = |key: &str| {
            let text = mark(&eave, key).into_string();
            let shown: Vec<&str> = text
                .split('<')
                .filter_map(|part| part.split('>').nth(1))
                .collect();
            format!(
                "{}{}",
                text.split('<').next().unwrap_or_default(),
                shown.concat()
            )
        };
        assert_eq!(words("deck").trim(), "Plywood seen");
        assert_eq!(words("underlayment").trim(), "15 lb felt inferred");
        assert_eq!(words("ice_barrier").trim(), "seen absent");
        assert_eq!(words("gutter_apron").trim(), "could not see");
        assert_eq!(words("starter").trim(), "not recorded");
        for (key, _) in LAYERS {
            assert!(EaveOpening::KEYS.contains(key), "{key}");
        }
    }
}
