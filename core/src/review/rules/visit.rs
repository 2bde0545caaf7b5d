//! The visit as a whole: interview, cautions, recap, signature, open questions, conflicts.

use super::super::view::{View, standing};
use super::Raise;
use crate::job::*;

pub(super) fn interview(view: &View<'_>, raise: &mut Raise<'_>) {
    let held = view
        .job
        .interview()
        .is_some_and(|record| record.stands() && record.fields != Interview::default());
    if !held {
        raise.point("The owner was not interviewed.", vec![]);
    }
}

pub(super) fn leave_to_climb(view: &View<'_>, raise: &mut Raise<'_>) {
    let leave = view.job.interview().and_then(|record| record.may_climb);
    let climbs = climb_records(view);
    if !climbs.is_empty() && leave != Some(Known::Yes) {
        raise.point(
            "A climb is recorded, but not the owner's leave to climb.",
            climbs,
        );
    }
}

pub(super) fn cautions(view: &View<'_>, raise: &mut Raise<'_>) {
    let visits: Vec<_> = standing(Kind::Visit, &view.job.records.visits).collect();
    let read = visits.iter().any(|(_, v)| v.cautions_read == Some(true));
    let climbs = climb_records(view);
    if !climbs.is_empty() && !read {
        raise.point(
            "A climb is recorded, but the cautions for ladder and roof were not shown before it.",
            climbs,
        );
    }
}

/// Records that only a climb gives: eave openings, test squares, gauge readings, walked slopes.
fn climb_records(view: &View<'_>) -> Vec<RecordRef> {
    let eaves = view.eaves().map(|(at, _)| at);
    let squares = standing(Kind::TestSquare, &view.job.records.test_squares).map(|(at, _)| at);
    let gauges = view
        .measures(MeasuredThing::Pitch)
        .filter(|(_, measure)| measure.method == Some(MeasureMethod::Gauge))
        .map(|(at, _)| at);
    let slopes = view
        .slopes()
        .filter(|(_, slope)| slope.walked == Some(true))
        .map(|(at, _)| at);
    eaves.chain(squares).chain(gauges).chain(slopes).collect()
}

pub(super) fn date_of_loss(view: &View<'_>, raise: &mut Raise<'_>) {
    if view.job.property().and_then(|p| p.date_of_loss).is_none() {
        raise.point("The day of the storm is not recorded.", vec![]);
    }
}

pub(super) fn ice_barrier_area(view: &View<'_>, raise: &mut Raise<'_>) {
    let said = view
        .job
        .property()
        .and_then(|property| property.ice_barrier_designated);
    if !matches!(said, Some(Known::Yes | Known::No)) {
        raise.point(
            "It is not recorded whether the local authority designates the area for an ice barrier.",
            vec![],
        );
    }
}

pub(super) fn recap(view: &View<'_>, raise: &mut Raise<'_>) {
    let held = view
        .job
        .recap()
        .is_some_and(|recap| recap.stands() && (recap.held_at.is_some() || recap.found.is_some()));
    if !held {
        raise.point("The recap with the owner was not held.", vec![]);
    }
}

pub(super) fn signature(view: &View<'_>, raise: &mut Raise<'_>) {
    let signed = standing(Kind::Signature, &view.job.records.signatures)
        .any(|(_, signature)| signature.strokes.as_ref().is_some_and(|s| !s.is_empty()));
    if !signed {
        raise.point("Nobody signed that the visit took place.", vec![]);
    }
}

pub(super) fn conflicts(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, conflict) in view.job.conflicts() {
        let struck = view
            .job
            .records
            .header(&at)
            .is_some_and(|h| h.struck.is_some());
        if struck {
            continue;
        }
        let said: Vec<String> = conflict
            .statements
            .iter()
            .map(|statement| {
                let value = match &statement.value {
                    None => "nothing any more".to_owned(),
                    Some(value) => at
                        .kind
                        .value_in_words(&conflict.field, value.as_ref())
                        .unwrap_or_else(|| "something this version cannot read".to_owned()),
                };
                format!("{} said {value}", view.job.who(statement.by.device))
            })
            .collect();
        raise.point(
            format!(
                "Two statements stand for {} of one {}: {}.",
                conflict.field.replace('_', " "),
                at.kind.label(),
                said.join(", ")
            ),
            vec![at],
        );
    }
}

pub(super) fn questions(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, question) in standing(Kind::Question, &view.job.records.questions) {
        let answered = standing(Kind::Answer, &view.job.records.answers)
            .any(|(_, answer)| answer.question.as_ref() == Some(&at));
        if !answered {
            let text = question.text.as_deref().unwrap_or("");
            raise.point(format!("A question is not answered: {text}"), vec![at]);
        }
    }
}

pub(super) fn unread(view: &View<'_>, raise: &mut Raise<'_>) {
    let unread: Vec<_> = view
        .job
        .records
        .headers()
        .filter(|(_, header)| header.struck.is_none() && !header.unread.is_empty())
        .map(|(at, _)| at)
        .collect();
    if !unread.is_empty() {
        raise.point(
            format!(
                "{} entries hold something that this version cannot read; this check may miss it.",
                unread.len()
            ),
            unread,
        );
    }
}

pub(super) fn structures(view: &View<'_>, raise: &mut Raise<'_>) {
    const PARTS: &[Component] = &[
        Component::FencePanel,
        Component::FenceBoard,
        Component::Gate,
        Component::ShedRoof,
        Component::ShedWall,
        Component::PatioCover,
        Component::Mailbox,
        Component::Deck,
        Component::Condenser,
    ];
    let any = standing(Kind::Structure, &view.job.records.structures)
        .next()
        .is_some();
    let said = PARTS.iter().any(|part| view.accounted(*part, |_| true));
    if !any && !said {
        raise.point(
            "No fence, shed or other structure is recorded, and none as not present.",
            vec![],
        );
    }
}

pub(super) fn structure_walked(view: &View<'_>, raise: &mut Raise<'_>) {
    for (at, structure) in standing(Kind::Structure, &view.job.records.structures) {
        if structure.walked != Some(true) {
            let name = view.job.place_name(&at);
            raise.point(
                format!("Nobody looked at this structure: {name}."),
                vec![at],
            );
        }
    }
}
