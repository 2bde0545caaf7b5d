//! The whole check: slope by slope, edge by edge, and the totals.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::ReportRow;
use super::columns::words_of;
use super::compare::{EdgeCheck, SlopeCheck, Verdict};
use crate::job::*;
use crate::review::Facts;
use crate::review::requirements::{PitchFrom, RoofSlope, roof_slopes};
use crate::review::view::{View, standing};

/// A roof as a plan solver works it out, in plain figures.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SolvedRoof {
    /// Its planes.
    pub slopes: Vec<SolvedSlope>,
    /// Total length of each kind of edge, feet along the edge.
    pub edges_ft: BTreeMap<EdgeKind, f64>,
}

/// One plane of a solved roof.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
pub struct SolvedSlope {
    /// The name of the recorded slope it is.
    pub name: String,
    /// Area along the slope, square feet.
    pub area_sq_ft: f64,
}

/// Totals of all slopes, square feet. A total is there only where every slope of the report has
/// the figure.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Totals {
    /// The report's areas.
    pub report_sq_ft: Option<f64>,
    /// The same laid at the measured pitches.
    pub at_measured_pitch_sq_ft: Option<f64>,
    /// The difference in squares; positive where more is needed.
    pub difference_squares: Option<f64>,
    /// The solved plan's areas.
    pub solved_sq_ft: Option<f64>,
}

/// The check of a report.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MeasurementCheck {
    /// Slopes of the record in walk order of their ids, then what the report has besides.
    pub slopes: Vec<SlopeCheck>,
    /// Kinds of edge, in the order of the vocabulary.
    pub edges: Vec<EdgeCheck>,
    /// Totals of the slopes.
    pub totals: Totals,
    /// The totals in words.
    pub sentence: String,
}

/// Checks a report against the job and, where there is one, a solved plan. `names` says which slope
/// a name of the report stands for where the names differ. A slope without a row in the file is
/// checked by the figures typed into its record.
pub fn measurement_check(
    job: &Job,
    rows: &[ReportRow],
    names: &BTreeMap<String, Place>,
    solved: Option<&SolvedRoof>,
) -> MeasurementCheck {
    let facts = Facts::default();
    let view = View::new(job, &facts);
    let slopes = slope_checks(&view, rows, names, solved);
    let edges = edge_checks(&view, rows, solved);
    let totals = totals(&slopes, solved);
    MeasurementCheck {
        sentence: sentence(&totals),
        slopes,
        edges,
        totals,
    }
}

/// A slope of the report's file.
#[derive(Clone, Copy)]
struct Row<'a> {
    line: u32,
    name: &'a str,
    area: Option<Area>,
    pitch: Option<Pitch>,
}

fn slope_checks(
    view: &View<'_>,
    rows: &[ReportRow],
    names: &BTreeMap<String, Place>,
    solved: Option<&SolvedRoof>,
) -> Vec<SlopeCheck> {
    let mut left: Vec<Row<'_>> = rows.iter().filter_map(slope_row).collect();
    let mut checks = Vec::new();
    for slope in roof_slopes(view) {
        let at = left.iter().position(|row| match names.get(row.name) {
            Some(place) => *place == slope.at,
            None => same_name(row.name, &slope.name),
        });
        let row = at.map(|at| left.remove(at));
        checks.push(recorded(&slope, row, solved).judged());
    }
    for row in left {
        checks.push(blank(None, row.name.to_owned(), Some(row), solved).judged());
    }
    checks
}

fn slope_row(row: &ReportRow) -> Option<Row<'_>> {
    match row {
        ReportRow::Slope {
            line,
            name,
            area,
            pitch,
        } => Some(Row {
            line: *line,
            name,
            area: *area,
            pitch: *pitch,
        }),
        ReportRow::Edge { .. } => None,
    }
}

fn recorded(
    slope: &RoofSlope<'_>,
    row: Option<Row<'_>>,
    solved: Option<&SolvedRoof>,
) -> SlopeCheck {
    let mut check = blank(Some(slope.at.clone()), slope.name.clone(), row, solved);
    check.from.push(slope.at.clone());
    if row.is_none() {
        check.report_pitch = slope.record.report_pitch;
        check.report_area = slope.record.report_area;
    }
    check.measured_area = slope.record.measured_area;
    if let Some((pitch, PitchFrom::Measured, from)) = &slope.pitch {
        check.measured_pitch = Some(*pitch);
        check.from.push(from.clone());
    }
    check
}

fn blank(
    place: Option<Place>,
    name: String,
    row: Option<Row<'_>>,
    solved: Option<&SolvedRoof>,
) -> SlopeCheck {
    let plane = solved.and_then(|roof| roof.slopes.iter().find(|s| same_name(&s.name, &name)));
    SlopeCheck {
        place,
        report_line: row.map(|row| row.line),
        report_pitch: row.and_then(|row| row.pitch),
        report_area: row.and_then(|row| row.area),
        measured_pitch: None,
        measured_area: None,
        solved_sq_ft: plane
            .map(|plane| plane.area_sq_ft)
            .filter(|area| area.is_finite()),
        at_measured_pitch_sq_ft: None,
        difference_sq_ft: None,
        pitch: Verdict::NotCompared,
        area: Verdict::NotCompared,
        sentence: String::new(),
        from: Vec::new(),
        name,
    }
}

/// "main, front slope" and "Main front" are one name; "1" and "10" are two.
pub(crate) fn same_name(a: &str, b: &str) -> bool {
    let words = |name: &str| -> Vec<String> {
        words_of(name)
            .filter(|word| !matches!(word.as_str(), "slope" | "roof" | "the"))
            .collect()
    };
    let (a, b) = (words(a), words(b));
    !a.is_empty() && a == b
}

fn edge_checks(view: &View<'_>, rows: &[ReportRow], solved: Option<&SolvedRoof>) -> Vec<EdgeCheck> {
    let checks = EdgeKind::ALL.iter().map(|kind| {
        let mut check = EdgeCheck {
            kind: *kind,
            report_ft: None,
            report_lines: Vec::new(),
            recorded_ft: None,
            unmeasured: 0,
            solved_ft: solved
                .and_then(|roof| roof.edges_ft.get(kind).copied())
                .filter(|feet| feet.is_finite()),
            against_record: Verdict::NotCompared,
            against_plan: Verdict::NotCompared,
            sentence: String::new(),
            from: Vec::new(),
        };
        for row in rows {
            if let ReportRow::Edge {
                line,
                kind: of,
                length,
                ..
            } = row
                && of == kind
            {
                check.report_ft = Some(check.report_ft.unwrap_or(0.0) + length.to_feet());
                check.report_lines.push(*line);
            }
        }
        for (at, edge) in standing(Kind::Edge, &view.job.records.edges) {
            if edge.kind != Some(*kind) {
                continue;
            }
            check.from.push(at);
            match edge.length {
                Some(length) => {
                    let before = check.recorded_ft.unwrap_or(0.0);
                    check.recorded_ft = Some(before + length.to_feet());
                }
                None => check.unmeasured = check.unmeasured.saturating_add(1),
            }
        }
        check
    });
    checks
        .filter(|c| c.report_ft.is_some() || c.solved_ft.is_some() || !c.from.is_empty())
        .map(EdgeCheck::judged)
        .collect()
}

fn totals(slopes: &[SlopeCheck], solved: Option<&SolvedRoof>) -> Totals {
    let in_report: Vec<&SlopeCheck> = slopes
        .iter()
        .filter(|s| s.report_area.is_some() || s.report_pitch.is_some())
        .collect();
    let sum = |of: fn(&SlopeCheck) -> Option<f64>| -> Option<f64> {
        if in_report.is_empty() {
            return None;
        }
        in_report.iter().map(|slope| of(slope)).sum()
    };
    let report_sq_ft = sum(|slope| slope.report_area.map(Area::to_square_feet));
    let at_measured_pitch_sq_ft = sum(|slope| slope.at_measured_pitch_sq_ft);
    let difference = report_sq_ft
        .zip(at_measured_pitch_sq_ft)
        .map(|(report, laid)| (laid - report) / 100.0);
    let planes = solved.filter(|roof| !roof.slopes.is_empty());
    let solved_sq_ft = planes.map(|roof| roof.slopes.iter().map(|s| s.area_sq_ft).sum());
    Totals {
        report_sq_ft,
        at_measured_pitch_sq_ft,
        difference_squares: difference,
        solved_sq_ft: solved_sq_ft.filter(|area: &f64| area.is_finite()),
    }
}

fn sentence(totals: &Totals) -> String {
    let mut words = match (totals.report_sq_ft, totals.at_measured_pitch_sq_ft) {
        (Some(report), Some(laid)) => format!(
            "The report's {:.2} SQ become {:.2} SQ at the measured pitches ({:+.2} SQ)",
            report / 100.0,
            laid / 100.0,
            (laid - report) / 100.0
        ),
        (Some(report), None) => format!(
            "The report has {:.2} SQ; not every pitch was measured, so the total at the measured \
             pitches is not known",
            report / 100.0
        ),
        _ => "The report does not give every slope's area, so its total is not known".to_owned(),
    };
    if let Some(solved) = totals.solved_sq_ft {
        words = format!("{words}; the plan gives {:.2} SQ", solved / 100.0);
    }
    format!("{words}.")
}
