//! Hits by side and slope against one another.

use super::super::Reader;
use super::super::hits::{HitsInput, hits};
use super::super::view::{View, standing};
use super::Raise;
use crate::job::{Kind, RecordRef};
use crate::trade::pattern::WarningKind;

/// Sides that contradict one another, the storm reports, or what hail driven by one wind does.
pub(super) fn contradiction(view: &View<'_>, raise: &mut Raise<'_>) {
    let input = HitsInput {
        reader: Reader::Office,
        ..HitsInput::default()
    };
    let Some(pattern) = hits(view.job, &input).pattern else {
        return;
    };
    let telling = |kind: WarningKind| {
        matches!(
            kind,
            WarningKind::PoorFit
                | WarningKind::LeeOverWindward
                | WarningKind::AgainstStatedWind
                | WarningKind::AgainstReportedGust
        )
    };
    let counted: Vec<RecordRef> = standing(Kind::TestSquare, &view.job.records.test_squares)
        .map(|(at, _)| at)
        .collect();
    for warning in pattern.warnings.iter().filter(|w| telling(w.kind)) {
        raise.point(warning.sentence.clone(), counted.clone());
    }
}
