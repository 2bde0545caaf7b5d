//! Gutters: width against a tape, guards and how they are held.

use super::super::view::View;
use super::Raise;
use crate::job::*;

pub(super) fn width(view: &View<'_>, raise: &mut Raise<'_>) {
    let gutters = view.present(Component::Gutter);
    if gutters.is_empty() {
        return;
    }
    let taped: Vec<RecordRef> = view
        .measures(MeasuredThing::GutterWidth)
        .filter(|(_, m)| m.method == Some(MeasureMethod::Tape) && m.length.is_some())
        .map(|(at, _)| at)
        .collect();
    let shown = taped.iter().any(|at| view.showing(at).next().is_some());
    if taped.is_empty() {
        raise.point("The gutter width was not measured with a tape.", gutters);
    } else if !shown {
        raise.point("The gutter width has no photo with the tape in it.", taped);
    }
}

pub(super) fn guards_held(view: &View<'_>, raise: &mut Raise<'_>) {
    let guards = view.present(Component::GutterGuard);
    let in_words = |text: &Option<String>| text.as_ref().is_some_and(|t| !t.trim().is_empty());
    let told = view
        .parts(Component::GutterGuard)
        .any(|(_, part)| in_words(&part.details))
        || view
            .measures(MeasuredThing::GutterWidth)
            .any(|(_, measure)| in_words(&measure.remarks));
    if !guards.is_empty() && !told {
        raise.point(
            "There are gutter guards, but not how they are held.",
            guards,
        );
    }
}

pub(super) fn guards_asked(view: &View<'_>, raise: &mut Raise<'_>) {
    let gutters = view.present(Component::Gutter);
    if !gutters.is_empty() && !view.accounted(Component::GutterGuard, |_| true) {
        raise.point("Nobody said whether the gutters have guards.", gutters);
    }
}
