//! Words and little marks that several pages share.

use chalkwalk_core::job::{Condition, Finding, Job, Kind, RecordRef};
use chalkwalk_core::review::State;
use maud::{Markup, html};

use super::super::icons::icon;
use super::at_job::AtJob;

/// What a finding amounts to: a shape, a word and a colour.
pub(in crate::serve) fn state(state: State) -> Markup {
    state_as(state, state.label())
}

/// The same for one finding, with its own word where something is missing rather than damaged.
pub(in crate::serve) fn state_of(finding: &Finding) -> Markup {
    let state = State::of(finding);
    match finding.condition {
        Some(Condition::Missing) if state == State::Damaged => state_as(state, "missing"),
        _ => state_as(state, state.label()),
    }
}

fn state_as(state: State, word: &str) -> Markup {
    let (class, shape) = look(state);
    html! { span class={ "state " (class) } { (icon(shape)) (word) } }
}

/// A state's class and the name of its shape.
pub(in crate::serve) const fn look(state: State) -> (&'static str, &'static str) {
    match state {
        State::Damaged => ("damaged", "triangle"),
        State::Prior => ("prior", "diamond"),
        State::Unsure => ("unsure", "circle-question-mark"),
        State::Cleared => ("cleared", "circle-check"),
        State::NotPresent => ("soft", "circle-slash"),
        State::Open => ("soft", "circle-dashed"),
    }
}

/// How much of a thing a finding is about: `1 of 4, 12' 6", 40.0 sq ft`.
pub(in crate::serve) fn extent(finding: &Finding) -> String {
    let units = match (finding.units, finding.units_total) {
        (Some(units), Some(total)) => Some(format!("{units} of {total}")),
        (Some(units), None) => Some(units.to_string()),
        (None, _) => None,
    };
    let length = finding.extent_length.map(|length| length.to_string());
    let area = finding.extent_area.map(|area| format!("{area:.1}"));
    let parts: Vec<String> = [units, length, area].into_iter().flatten().collect();
    parts.join(", ")
}

/// A value, or that nobody recorded it.
pub(in crate::serve) fn said<T: ToString>(value: Option<T>) -> Markup {
    html! {
        @match value {
            Some(value) => (value.to_string()),
            None => span.soft { "not recorded" },
        }
    }
}

/// What a finding is called on its own: `Window screen, screen 2 of 3`.
pub(in crate::serve) fn finding_name(finding: &Finding) -> String {
    let part = finding.component.map_or("something", |part| part.label());
    let unit = finding.unit_name.as_deref().filter(|unit| !unit.is_empty());
    let name = match unit {
        Some(unit) => format!("{part}, {unit}"),
        None => part.to_owned(),
    };
    capital(&name)
}

/// A record as people call it, with its place.
pub(in crate::serve) fn record_name(job: &Job, at: &RecordRef) -> String {
    let placed = |name: String, place: Option<&RecordRef>| match place {
        Some(place) => format!("{name}, {}", job.place_name(place)),
        None => name,
    };
    let records = &job.records;
    let name = match at.kind {
        Kind::Finding => records
            .findings
            .get(&at.id)
            .map(|finding| placed(finding_name(finding), finding.place.as_ref())),
        Kind::Photo => records.photos.get(&at.id).map(|photo| {
            let role = photo.role.map_or("photo", |role| role.label());
            let name = match &photo.caption {
                Some(caption) => format!("{role}: {caption}"),
                None => format!("{role} photo"),
            };
            placed(capital(&name), photo.place.as_ref())
        }),
        Kind::Component => records.components.get(&at.id).map(|part| {
            let name = part.component.map_or("part", |part| part.label());
            placed(capital(name), part.place.as_ref())
        }),
        Kind::Measurement => records.measurements.get(&at.id).map(|measured| {
            let of = measured.of.map_or("measure", |of| of.label());
            placed(capital(of), measured.place.as_ref())
        }),
        Kind::TestSquare => records
            .test_squares
            .get(&at.id)
            .map(|square| placed("Test square".to_owned(), square.slope.as_ref())),
        Kind::Edge => records.edges.get(&at.id).map(|edge| {
            let kind = edge.kind.map_or("edge", |kind| kind.label());
            placed(capital(kind), edge.slope.as_ref())
        }),
        Kind::Property => Some("The house and its owner".to_owned()),
        Kind::Interview => Some("What the owner said".to_owned()),
        _ if at.is_place() => Some(capital(&job.place_name(at))),
        _ => None,
    };
    name.unwrap_or_else(|| capital(at.kind.label()))
}

/// Where a record has a page of its own, below the job's path.
pub(in crate::serve) fn record_path(at: &RecordRef) -> Option<String> {
    match at.kind {
        Kind::Finding => Some(format!("/findings/{}", at.id)),
        _ if at.is_place() => Some(format!("/sides/{}/{}", at.kind.code(), at.id)),
        kind => super::edit::sheet_of(kind).map(|_| format!("/records/{}/{}", kind.code(), at.id)),
    }
}

/// A record by its name, with the way to its page where it has one.
pub(in crate::serve) fn called(at: &AtJob, record: &RecordRef) -> Markup {
    let name = record_name(&at.job, record);
    html! {
        @match record_path(record) {
            Some(path) => a href={ (at.path()) (path) } { (name) },
            None => (name),
        }
    }
}

/// With a capital letter first.
pub(in crate::serve) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    let first = letters.next().map(|first| first.to_uppercase().to_string());
    format!("{}{}", first.unwrap_or_default(), letters.as_str())
}

#[cfg(test)]
mod tests {
    use chalkwalk_core::job::{Cause, Component};

    use super::*;

    #[test]
    fn a_missing_part_is_called_missing_and_an_old_one_prior() {
        let missing = Finding {
            condition: Some(Condition::Missing),
            cause: Some(Cause::Wind),
            ..Finding::default()
        };
        assert!(state_of(&missing).into_string().contains("missing</span>"));
        let old = Finding {
            cause: Some(Cause::Prior),
            ..missing
        };
        assert!(state_of(&old).into_string().contains("prior</span>"));
    }

    #[test]
    fn names_are_of_part_and_unit() {
        let finding = Finding {
            component: Some(Component::Screen),
            unit_name: Some("screen 2 of 3".into()),
            ..Finding::default()
        };
        assert_eq!(finding_name(&finding), "Window screen, screen 2 of 3");
        assert_eq!(finding_name(&Finding::default()), "Something");
    }
}
