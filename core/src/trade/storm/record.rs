//! A report as a record of the job.

use super::{Measured, Report, ReportKind};
use crate::job::{Length, StormKind, StormReport};

impl Report {
    /// The fields of a record of the job. `file` names the file it was read from. A tornado is
    /// recorded as wind, and its scale among the remarks.
    pub fn record(&self, file: &str) -> StormReport {
        let filled = |text: &str| (!text.is_empty()).then(|| text.to_owned());
        let mut remarks = Vec::new();
        if self.kind == ReportKind::Tornado {
            remarks.push(format!("Tornado, {}.", self.strength()));
        }
        if let Some(wind) = &self.wind {
            let (speed, unit) = (wind.speed, wind.unit.label());
            let assumed = if wind.unit_assumed {
                " (unit assumed)"
            } else {
                ""
            };
            let how = match wind.measured {
                Measured::Measured => ", measured",
                Measured::Estimated => ", estimated",
                Measured::NotStated => "",
            };
            remarks.push(format!("Reported as {speed} {unit}{assumed}{how}."));
        }
        remarks.extend(filled(&self.remarks));
        StormReport {
            kind: Some(match self.kind {
                ReportKind::Hail => StormKind::Hail,
                ReportKind::Wind | ReportKind::Tornado => StormKind::Wind,
            }),
            at: Some(self.at),
            latitude: Some(self.position.latitude()),
            longitude: Some(self.position.longitude()),
            size: self.hail_in.map(Length::from_inches_f64),
            gust_mph: self.wind.map(|wind| wind.mph()),
            gust_measured: self.wind.and_then(|wind| match wind.measured {
                Measured::Measured => Some(true),
                Measured::Estimated => Some(false),
                Measured::NotStated => None,
            }),
            where_said: filled(&self.place),
            source: Some(format!("{file}, line {}", self.line)),
            remarks: filled(&remarks.join(" ")),
            ..StormReport::default()
        }
    }
}
