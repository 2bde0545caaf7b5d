//! One slope or one kind of edge: the report beside what was measured.

use serde::Serialize;

use crate::job::{Area, EdgeKind, Pitch, Place, RecordRef};
use crate::limits;

/// How two figures stand to one another.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// They differ by more than measuring does.
    Differs,
    /// They agree within what measuring does.
    Agrees,
    /// One of the two is missing.
    NotCompared,
}

/// One slope.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SlopeCheck {
    /// The slope of the record; `None` where the report's name fits none.
    pub place: Option<Place>,
    /// Its name, from the record where there is one.
    pub name: String,
    /// Its line in the report's file; `None` where the figures were typed into the slope's record.
    pub report_line: Option<u32>,
    /// The report's pitch.
    pub report_pitch: Option<Pitch>,
    /// The report's area.
    pub report_area: Option<Area>,
    /// The pitch measured on the roof.
    pub measured_pitch: Option<Pitch>,
    /// The area from the crew's own measures.
    pub measured_area: Option<Area>,
    /// Area of the solved plan, square feet.
    pub solved_sq_ft: Option<f64>,
    /// The report's area taken back to the flat and laid at the measured pitch, square feet.
    pub at_measured_pitch_sq_ft: Option<f64>,
    /// What the pitch alone does to the report's area, square feet; positive where more is needed.
    pub difference_sq_ft: Option<f64>,
    /// The pitches.
    pub pitch: Verdict,
    /// The report's area against the crew's own and the solved plan.
    pub area: Verdict,
    /// All of it in words.
    pub sentence: String,
    /// The records it rests on.
    pub from: Vec<RecordRef>,
}

/// All edges of one kind.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EdgeCheck {
    /// What kind of edge.
    pub kind: EdgeKind,
    /// The report's total, feet; `None` where it has none of the kind.
    pub report_ft: Option<f64>,
    /// Its lines in the report's file.
    pub report_lines: Vec<u32>,
    /// Total of the recorded edges with a length, feet.
    pub recorded_ft: Option<f64>,
    /// Recorded edges without a length.
    pub unmeasured: u32,
    /// The solved plan's total, feet.
    pub solved_ft: Option<f64>,
    /// Report against the recorded edges; not compared where some have no length.
    pub against_record: Verdict,
    /// Report against the solved plan.
    pub against_plan: Verdict,
    /// All of it in words.
    pub sentence: String,
    /// The recorded edges.
    pub from: Vec<RecordRef>,
}

/// Slope factor of a pitch: sqrt(1 + (rise/12)^2), plane geometry.
pub(super) fn factor(pitch: Pitch) -> f64 {
    (1.0 + (pitch.rise() / 12.0).powi(2)).sqrt()
}

/// Pitches agree within half an inch in twelve: a gauge is read to that.
pub(super) fn pitches(report: Option<Pitch>, measured: Option<Pitch>) -> Verdict {
    match (report, measured) {
        (Some(a), Some(b)) if (a.rise() - b.rise()).abs() >= limits::PITCH_AT_ODDS => {
            Verdict::Differs
        }
        (Some(_), Some(_)) => Verdict::Agrees,
        _ => Verdict::NotCompared,
    }
}

/// Two lengths or areas agree within a share, or within a small amount for small ones.
pub(super) fn amounts(report: Option<f64>, other: Option<f64>, least: f64) -> Verdict {
    let (Some(report), Some(other)) = (report, other) else {
        return Verdict::NotCompared;
    };
    let slack = (other.abs() * limits::MEASURE_AT_ODDS).max(least);
    if (report - other).abs() > slack {
        Verdict::Differs
    } else {
        Verdict::Agrees
    }
}

/// The worse of two: a difference counts, an agreement counts only where nothing differs.
pub(super) fn both(a: Verdict, b: Verdict) -> Verdict {
    a.min(b)
}

impl SlopeCheck {
    /// Fills in what follows from the figures, and the words.
    pub(super) fn judged(mut self) -> Self {
        self.pitch = pitches(self.report_pitch, self.measured_pitch);
        let area = self.report_area.map(Area::to_square_feet);
        if let (Some(area), Some(report), Some(measured)) =
            (area, self.report_pitch, self.measured_pitch)
        {
            let laid = area / factor(report) * factor(measured);
            self.at_measured_pitch_sq_ft = Some(laid);
            self.difference_sq_ft = Some(laid - area);
        }
        let own = self.measured_area.map(Area::to_square_feet);
        self.area = both(
            amounts(area, own, AREA_LEAST),
            amounts(area, self.solved_sq_ft, AREA_LEAST),
        );
        self.sentence = self.words();
        self
    }

    fn words(&self) -> String {
        let mut words = match (self.report_pitch, self.measured_pitch) {
            (Some(report), Some(measured)) if self.pitch == Verdict::Differs => {
                format!("The report says {report}, measured {measured}")
            }
            (Some(report), Some(measured)) if report == measured => {
                format!("Report and measure both say {report}")
            }
            (Some(report), Some(measured)) => {
                format!("The report says {report}, measured {measured}: as close as a gauge reads")
            }
            (Some(report), None) => {
                format!("The report says {report}; the pitch was not measured")
            }
            (None, Some(measured)) => {
                format!("Measured {measured}; the report gives no pitch")
            }
            (None, None) => "No pitch in the report and none measured".to_owned(),
        };
        if let (Some(area), Some(laid), Some(more)) = (
            self.report_area,
            self.at_measured_pitch_sq_ft,
            self.difference_sq_ft
                .filter(|_| self.pitch == Verdict::Differs),
        ) {
            words = format!(
                "{words}: {area:.1} in the report become {laid:.1} sq ft, {:.1} sq ft or {:.2} SQ {}",
                more.abs(),
                more.abs() / 100.0,
                if more < 0.0 { "less" } else { "more" }
            );
        } else if let Some(area) = self.report_area {
            words = format!("{words}; {area:.1} in the report");
        }
        if let Some(own) = self.measured_area {
            words = format!("{words}; the crew measured {own:.1}");
        }
        if let Some(solved) = self.solved_sq_ft {
            words = format!("{words}; the plan gives {solved:.1} sq ft");
        }
        if self.place.is_none() {
            words = format!("{words}; no recorded slope has this name: say which one it is");
        }
        format!("{words}.")
    }
}

/// Square feet within which two areas agree however small they are.
const AREA_LEAST: f64 = 2.0;
/// Feet within which two totals agree however small they are.
const LENGTH_LEAST: f64 = 1.0;

impl EdgeCheck {
    /// Fills in what follows from the figures, and the words.
    pub(super) fn judged(mut self) -> Self {
        let recorded = self.recorded_ft.filter(|_| self.unmeasured == 0);
        self.against_record = amounts(self.report_ft, recorded, LENGTH_LEAST);
        self.against_plan = amounts(self.report_ft, self.solved_ft, LENGTH_LEAST);
        let mut words = match self.report_ft {
            Some(report) => format!("{}: {report:.1} ft in the report", self.kind),
            None => format!("{}: none in the report", self.kind),
        };
        let mut other = |name: &str, feet: Option<f64>, report: Option<f64>| {
            let Some(feet) = feet else { return };
            words = format!("{words}; {name} {feet:.1} ft");
            if let Some(report) = report {
                let more = report - feet;
                words = format!("{words} ({more:+.1} ft)");
            }
        };
        other(
            "recorded",
            self.recorded_ft,
            self.report_ft.filter(|_| self.unmeasured == 0),
        );
        other("the plan gives", self.solved_ft, self.report_ft);
        if self.unmeasured > 0 {
            words = format!("{words}; {} recorded without a length", self.unmeasured);
        }
        self.sentence = format!("{words}.");
        self
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_past_the_slack_differs() {
        let share = 1.0 + limits::MEASURE_AT_ODDS;
        let of = |report, other| amounts(Some(report), Some(other), LENGTH_LEAST);
        assert_eq!(of(1000.0 * share - 0.01, 1000.0), Verdict::Agrees);
        assert_eq!(of(1000.0 * share + 0.01, 1000.0), Verdict::Differs);
        assert_eq!(of(3.9, 3.0), Verdict::Agrees);
        assert_eq!(of(4.1, 3.0), Verdict::Differs);
        assert_eq!(amounts(None, Some(1.0), 1.0), Verdict::NotCompared);
        let odds = limits::PITCH_AT_ODDS;
        let pitch = |rise| Pitch::from_rise(rise);
        assert_eq!(pitches(pitch(6.0), pitch(6.0 + odds)), Verdict::Differs);
        assert_eq!(pitches(pitch(6.0), pitch(5.99 + odds)), Verdict::Agrees);
        // A difference outweighs an agreement, and both outweigh nothing.
        assert_eq!(both(Verdict::Agrees, Verdict::Differs), Verdict::Differs);
        assert_eq!(both(Verdict::NotCompared, Verdict::Agrees), Verdict::Agrees);
    }
}
