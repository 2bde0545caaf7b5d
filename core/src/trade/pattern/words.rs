//! The outcome in plain words.

use super::{Directions, Fit, Question, WindSpeed};
use crate::trade::wind::compass_word;

pub(super) fn sentence(fit: Option<&Fit>, too_little: Option<&str>, question: &Question) -> String {
    let Some(fit) = fit else {
        let why = too_little.unwrap_or("nothing was counted");
        return format!("Too little data for a wind: {why}.");
    };
    let level = percent(fit.level);
    if fit.directions == Directions::Any {
        return format!(
            "The counts do not tell where the hail came from: every direction fits at {level}."
        );
    }
    let poor = fit.p_fit.is_some_and(|p| p < super::warnings::POOR);
    let fits = if poor {
        "The counts fit no steady wind well; the nearest is"
    } else {
        "The counts fit"
    };
    let mut words = format!(
        "{fits} hail driven from the {} ({}; at {level} {}), with a wind of {:.2} times \
         its fall speed ({}).",
        compass_word(fit.from),
        degrees(fit.from),
        directions(&fit.directions),
        fit.ratio,
        range(fit.ratio_low, fit.ratio_high, 2)
    );
    if let Some(stone) = &question.stone
        && !fit.speeds.is_empty()
    {
        let speeds: Vec<String> = fit.speeds.iter().map(speed).collect();
        words.push_str(&format!(
            " For stones of {:.2} in ({}) that is {}.",
            stone.inches,
            stone.source,
            speeds.join(", or ")
        ));
    }
    words
}

fn speed(speed: &WindSpeed) -> String {
    format!(
        "{:.0} mph ({}) by the model \"{}\"",
        speed.mph,
        range(speed.low, speed.high, 0),
        speed.model.label()
    )
}

fn range(low: f64, high: Option<f64>, digits: usize) -> String {
    match high {
        Some(high) => format!("{low:.digits$} to {high:.digits$}"),
        None => format!("{low:.digits$} or more, with no upper bound"),
    }
}

/// "between 205° and 246°", with "or" where the interval falls into parts.
pub(super) fn directions(directions: &Directions) -> String {
    match directions {
        Directions::Any => "any direction".to_owned(),
        Directions::Arcs(arcs) => {
            let parts: Vec<String> = arcs
                .iter()
                .map(|arc| format!("between {} and {}", degrees(arc.from), degrees(arc.to)))
                .collect();
            parts.join(" or ")
        }
    }
}

/// A bearing in whole degrees, 0° up to 359°.
pub fn degrees(bearing: f64) -> String {
    let whole = bearing.rem_euclid(360.0).round();
    format!("{:.0}°", if whole >= 360.0 { 0.0 } else { whole })
}

fn percent(level: f64) -> String {
    let text = format!("{:.2}", level * 100.0);
    let text = text.trim_end_matches('0').trim_end_matches('.');
    format!("{text} %")
}
