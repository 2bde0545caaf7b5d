//! What the job's storm reports and bearings say.

use crate::job::*;
use crate::trade::pattern::{Stated, Stone};

/// Reports so far from noon of the day of loss are of another storm.
const SAME_STORM_MS: i64 = 36 * 3_600_000;

/// The largest hail of the storm's reports.
pub(super) fn stone(job: &Job) -> Option<Stone> {
    let largest = reports(job, StormKind::Hail)
        .filter_map(|report| Some((report.size.filter(|size| size.to_inches() > 0.0)?, report)))
        .max_by_key(|(size, _)| *size);
    let (size, report) = largest?;
    let source = match &report.size_word {
        Some(word) => format!("largest storm report, \"{word}\""),
        None => "largest storm report".to_owned(),
    };
    Some(Stone {
        inches: size.to_inches(),
        source,
    })
}

/// The strongest gust of the storm's reports.
pub(super) fn gust(job: &Job) -> Option<Stated> {
    let strongest = reports(job, StormKind::Wind)
        .filter_map(|report| report.gust_mph)
        .filter(|gust| *gust > 0.0 && gust.is_finite())
        .max_by(f64::total_cmp)?;
    Some(Stated {
        from: None,
        gust_mph: Some(strongest),
        source: "the strongest storm report tells of".to_owned(),
    })
}

fn reports(job: &Job, kind: StormKind) -> impl Iterator<Item = &StormReport> {
    let day = job.property().and_then(|property| property.date_of_loss);
    let noon = day
        .and_then(|day| day.and_hms_opt(12, 0, 0))
        .map(|noon| noon.and_utc().timestamp_millis());
    job.records
        .storm_reports
        .values()
        .filter(|report| report.stands())
        .map(|report| &report.fields)
        .filter(move |report| report.kind == Some(kind))
        .filter(move |report| match (noon, report.at) {
            (Some(noon), Some(at)) => at.saturating_sub(noon).saturating_abs() <= SAME_STORM_MS,
            _ => true,
        })
}

/// The true bearing that a side of the house faces: as recorded, or from the front's.
pub(super) fn side_bearing(job: &Job, side: Side) -> Option<f64> {
    let own = job
        .elevation(side)
        .filter(|elevation| elevation.stands())
        .and_then(|elevation| elevation.bearing);
    let turned = || {
        let front = job.property().and_then(|property| property.front_bearing);
        let front = front.or_else(|| {
            let elevation = job.elevation(Side::Front).filter(|e| e.stands());
            elevation.and_then(|elevation| elevation.bearing)
        })?;
        // Seen from the street the right side faces a quarter turn counter-clockwise from the
        // front, seen from above.
        let turn = match side {
            Side::Front => 0.0,
            Side::Right => -90.0,
            Side::Rear => 180.0,
            Side::Left => 90.0,
        };
        Some(front + turn)
    };
    own.or_else(turned).and_then(crate::trade::wind::bearing)
}
