//! Pitch by gauge beside the bought report's, slope by slope.

use chalkwalk_core::job::{Kind, MeasuredThing, Measurement, Pitch, Record, RecordRef, Slope};
use maud::{Markup, html};

use super::super::super::icons::icon;
use super::super::at_job::AtJob;
use super::super::words::said;
use super::linked;

/// Pitches nearer to each other than this, inches of rise in twelve, are the same reading (common
/// practice, no source: a gauge is read to half an inch).
const SAME: f64 = 0.5;

pub(super) fn section(at: &AtJob) -> Markup {
    let slopes: Vec<_> = at
        .job
        .records
        .slopes
        .iter()
        .filter(|(_, slope)| slope.stands())
        .collect();
    html! {
        section #pitch aria-labelledby="pitch-head" {
            h2 #pitch-head { "Pitch and covering" }
            @if slopes.is_empty() {
                p.soft { "No slope is recorded yet." }
            } @else {
                div.sheet role="region" aria-label="Table of pitches" tabindex="0" { table.stack {
                    thead { tr {
                        th scope="col" { "Slope" }
                        th scope="col" { "Faces" }
                        th scope="col" { "Measured" }
                        th scope="col" { "Report" }
                        th scope="col" { "Beside each other" }
                        th scope="col" { "Covering" }
                        th.count scope="col" { "Layers" }
                        th.count scope="col" { "Report's area" }
                    } }
                    tbody { @for (id, slope) in slopes {
                        (row(at, &RecordRef::new(Kind::Slope, id.clone()), slope))
                    } }
                } }
            }
        }
    }
}

fn row(at: &AtJob, place: &RecordRef, slope: &Record<Slope>) -> Markup {
    let measured = measured(at, place);
    html! {
        tr {
            th scope="row" { (linked(at, place)) }
            td data-label="Faces" { @match slope.bearing {
                Some(bearing) => { (format!("{bearing:.0}°")) }
                None => span.soft { "not recorded" },
            } }
            td data-label="Measured" { (readings(&measured)) }
            td data-label="Report" { (said(slope.report_pitch)) }
            td { (beside(&measured, slope.report_pitch)) }
            td data-label="Covering" { (said(slope.roofing)) }
            td.count data-label="Layers" {
                (said(slope.layers))
                @if slope.conflicts.iter().any(|conflict| conflict.field == "layers") {
                    span.tag { "two statements" }
                }
            }
            td.count data-label="Report's area" { (said(slope.report_area)) }
        }
    }
}

/// The standing measures of a slope's pitch.
pub(super) fn measured<'a>(at: &'a AtJob, place: &RecordRef) -> Vec<&'a Measurement> {
    let measures = at
        .job
        .records
        .measurements
        .values()
        .filter(|measure| measure.stands());
    measures
        .filter(|measure| measure.place.as_ref() == Some(place))
        .filter(|measure| measure.of == Some(MeasuredThing::Pitch) && measure.pitch.is_some())
        .map(|measure| &measure.fields)
        .collect()
}

fn readings(measured: &[&Measurement]) -> Markup {
    html! {
        @if measured.is_empty() { span.soft { "not measured" } }
        @for (n, measure) in measured.iter().enumerate() {
            @if n > 0 { ", " }
            (said(measure.pitch))
            @if let Some(method) = measure.method { span.soft { " by " (method) } }
        }
    }
}

/// What the two say beside each other.
pub(super) fn beside(measured: &[&Measurement], report: Option<Pitch>) -> Markup {
    let (Some(report), false) = (report, measured.is_empty()) else {
        return html! { span.soft { "nothing to compare" } };
    };
    let rises = || {
        measured
            .iter()
            .filter_map(|measure| measure.pitch)
            .map(Pitch::rise)
    };
    let far = rises()
        .map(|rise| (rise - report.rise()).abs())
        .fold(0.0, f64::max);
    if far < SAME {
        html! { span.state.cleared { (icon("circle-check")) "agree" } }
    } else {
        html! { span.state.unsure { (icon("split")) (format!("{far} in 12 apart")) } }
    }
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    #[test]
    fn half_an_inch_apart_is_said() {
        let pitch = |rise: f64| Measurement {
            pitch: Pitch::from_rise(rise),
            ..Measurement::default()
        };
        let (six, near, seven) = (pitch(6.0), pitch(6.25), pitch(7.0));
        let report = Pitch::from_rise(6.0);
        let said = |measured: &[&Measurement]| beside(measured, report).into_string();
        assert!(said(&[&six, &near]).contains("agree"));
        assert!(said(&[&six, &seven]).contains("1 in 12 apart"));
        assert!(said(&[]).contains("nothing to compare"));
        assert!(
            beside(&[&six], None)
                .into_string()
                .contains("nothing to compare")
        );
    }
}
