//! What speaks against trusting a pattern.

use serde::Serialize;

use super::words::{degrees, directions};
use super::{Fit, Judged, Question};
use crate::job::Placement;
use crate::trade::stats::{Count, compare_two, p_words};
use crate::trade::wind;

/// What somebody else says of the wind at the time of the hail.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stated {
    /// True bearing it came from, degrees clockwise from north.
    pub from: Option<f64>,
    /// The strongest gust, mph.
    pub gust_mph: Option<f64>,
    /// Who says so, in words that follow "but": "the report of 6 June says".
    pub source: String,
}

/// The kinds of warning.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum WarningKind {
    /// The sides contradict one another.
    PoorFit,
    /// A side in the lee has more hits than one that faces the wind.
    LeeOverWindward,
    /// The fit contradicts a direction that somebody stated.
    AgainstStatedWind,
    /// The fit needs more wind than somebody reported.
    AgainstReportedGust,
    /// Some spots were chosen because they were the worst.
    WorstSpots,
    /// So few hits are expected somewhere that the figure for the fit is rough.
    FewExpected,
    /// No surface is left over to judge the fit by.
    NothingLeftToJudge,
}

/// One warning.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Warning {
    /// Its kind.
    pub kind: WarningKind,
    /// What is wrong and what it means.
    pub sentence: String,
}

/// A fit worse than this in a hundred is called poor.
pub(super) const POOR: f64 = 0.01;
/// Two rates that differ with a p value below this are called different.
const DIFFERENT: f64 = 0.05;
/// One side is more windward than another where it is expected to have so many times the hits per
/// area.
const MORE_WINDWARD: f64 = 1.05;
/// Below so many expected hits the chi-square figure is rough (W. Cochran, Biometrics 10, 1954).
const ROUGH: f64 = 5.0;

pub(super) fn warnings(judged: &[Judged], fit: Option<&Fit>, question: &Question) -> Vec<Warning> {
    let mut warnings = Vec::new();
    if let Some(fit) = fit {
        warnings.extend(poor_fit(fit));
        warnings.extend(lee_over_windward(judged, fit));
        for stated in &question.stated {
            warnings.extend(against_direction(fit, stated));
            warnings.extend(against_gust(fit, stated));
        }
    }
    warnings.extend(worst_spots(judged));
    if let Some(fit) = fit {
        warnings.extend(how_sure(judged, fit));
    }
    warnings
}

fn warning(kind: WarningKind, sentence: String) -> Warning {
    Warning { kind, sentence }
}

fn poor_fit(fit: &Fit) -> Option<Warning> {
    let p = fit.p_fit.filter(|p| *p < POOR)?;
    let sentence = format!(
        "The sides contradict one another: chance alone seldom gives counts that fit a steady wind \
         so badly ({}). Look again at the sides that stand out, at shelter, and at other causes.",
        p_words(p)
    );
    Some(warning(WarningKind::PoorFit, sentence))
}

/// The pair of one covering that contradicts the fit the most.
fn lee_over_windward(judged: &[Judged], fit: &Fit) -> Option<Warning> {
    let mut worst: Option<(f64, &Judged, &Judged)> = None;
    for windward in judged {
        for lee in judged {
            let (Some(more), Some(less)) = (windward.against_level, lee.against_level) else {
                continue;
            };
            let alike = windward.surface.covering == lee.surface.covering;
            if !alike || more < MORE_WINDWARD * less || lee.rate <= windward.rate {
                continue;
            }
            let p = compare_two(count(lee), count(windward), fit.level).map_or(1.0, |c| c.p);
            if p < DIFFERENT && worst.is_none_or(|(least, _, _)| p < least) {
                worst = Some((p, windward, lee));
            }
        }
    }
    let (p, windward, lee) = worst?;
    let sentence = format!(
        "{} has more hits for what was looked at ({}) than {} ({}), although it lies in the lee of \
         the wind that fits best ({}).",
        lee.surface.name,
        counted(lee),
        windward.surface.name,
        counted(windward),
        p_words(p)
    );
    Some(warning(WarningKind::LeeOverWindward, sentence))
}

fn count(judged: &Judged) -> Count {
    Count {
        hits: judged.surface.hits,
        exposure: judged.surface.exposure,
    }
}

fn counted(judged: &Judged) -> String {
    let surface = &judged.surface;
    format!(
        "{} on {:.0} {}",
        surface.hits, surface.exposure, surface.unit
    )
}

fn against_direction(fit: &Fit, stated: &Stated) -> Option<Warning> {
    let from = stated.from.and_then(wind::bearing)?;
    if fit.directions.hold(from) {
        return None;
    }
    let sentence = format!(
        "The counts fit hail from {}, but {} wind from the {} ({}).",
        directions(&fit.directions),
        stated.source,
        wind::compass_word(from),
        degrees(from)
    );
    Some(warning(WarningKind::AgainstStatedWind, sentence))
}

/// Judged by the slower of the fall-speed models, and so by the least wind that will do.
fn against_gust(fit: &Fit, stated: &Stated) -> Option<Warning> {
    let gust = stated
        .gust_mph
        .filter(|gust| *gust > 0.0 && gust.is_finite())?;
    let least = fit.speeds.iter().min_by(|a, b| a.low.total_cmp(&b.low))?;
    if least.low <= gust {
        return None;
    }
    let sentence = format!(
        "The counts need a wind of at least {:.0} mph even by the slower fall speed ({}), but {} \
         gusts of {gust:.0} mph.",
        least.low,
        least.model.label(),
        stated.source
    );
    Some(warning(WarningKind::AgainstReportedGust, sentence))
}

fn worst_spots(judged: &[Judged]) -> Option<Warning> {
    let worst = |row: &&Judged| row.surface.placement == Some(Placement::Worst);
    let count = judged.iter().filter(worst).count();
    if count == 0 {
        return None;
    }
    let mixed = if count < judged.len() {
        ", and those sides look more exposed than the others for that reason alone"
    } else {
        ""
    };
    let sentence = format!(
        "{count} of {} surfaces were counted at the worst spot: such counts lie above those of the \
         whole surface{mixed}.",
        judged.len()
    );
    Some(warning(WarningKind::WorstSpots, sentence))
}

fn how_sure(judged: &[Judged], fit: &Fit) -> Option<Warning> {
    if fit.degrees == 0 {
        let sentence = "There are too few surfaces to judge how well the counts fit: any three \
                        fit some wind."
            .to_owned();
        return Some(warning(WarningKind::NothingLeftToJudge, sentence));
    }
    let few = judged
        .iter()
        .filter(|row| row.expected.is_some_and(|expected| expected < ROUGH))
        .count();
    (few > 0).then(|| {
        let sentence = format!(
            "On {few} of {} surfaces fewer than five hits are expected, so the figure for the fit \
             is rough.",
            judged.len()
        );
        warning(WarningKind::FewExpected, sentence)
    })
}
