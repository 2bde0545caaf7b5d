//! From counts to a pattern.

use super::likelihood::Counts;
use super::profile::Profile;
use super::{Fit, Judged, Pattern, PatternError, Question, Surface, speed, too_little};
use super::{warnings, words};
use crate::limits;
use crate::trade::stats::{StatsError, chi_square_p, garwood};
use crate::trade::wind;

/// The wind that fits the counts best, with intervals, what is expected of each surface, a
/// sentence and warnings. Too little data is an answer, not an error; at most
/// [`limits::PATTERN_SURFACES`] surfaces.
pub fn pattern(surfaces: &[Surface], question: &Question) -> Result<Pattern, PatternError> {
    if surfaces.len() > limits::PATTERN_SURFACES {
        return Err(StatsError::TooManyCounts.into());
    }
    let surfaces = checked(surfaces)?;
    let mut judged = surfaces
        .iter()
        .map(|surface| judge(surface, question.level))
        .collect::<Result<Vec<Judged>, PatternError>>()?;
    // The level is checked even where there is nothing to judge.
    garwood(0, question.level)?;
    let too_little = too_little(&surfaces);
    let fit = too_little.is_none().then(|| {
        let counts = Counts::new(&surfaces);
        let fit = best(&counts, &surfaces, question);
        let expected = counts.expected(fit.from, fit.ratio);
        let against = counts.against_level(fit.from, fit.ratio);
        for ((row, expected), against) in judged.iter_mut().zip(expected).zip(against) {
            row.expected = Some(expected);
            row.against_level = Some(against);
        }
        fit
    });
    let warnings = warnings::warnings(&judged, fit.as_ref(), question);
    Ok(Pattern {
        sentence: words::sentence(fit.as_ref(), too_little.as_deref(), question),
        surfaces: judged,
        fit,
        too_little,
        warnings,
    })
}

fn checked(surfaces: &[Surface]) -> Result<Vec<Surface>, PatternError> {
    let one = |surface: &Surface| {
        let error = || PatternError::Facing(surface.name.chars().take(60).collect());
        let mut surface = surface.clone();
        surface.facing.bearing = wind::bearing(surface.facing.bearing).ok_or_else(error)?;
        if !(0.0..=90.0).contains(&surface.facing.tilt) {
            return Err(error());
        }
        if !(1e-9..=1e12).contains(&surface.exposure) {
            return Err(StatsError::Exposure.into());
        }
        Ok(surface)
    };
    surfaces.iter().map(one).collect()
}

fn judge(surface: &Surface, level: f64) -> Result<Judged, PatternError> {
    let interval = garwood(surface.hits, level)?;
    Ok(Judged {
        rate: surface.hits as f64 / surface.exposure,
        rate_low: interval.low / surface.exposure,
        rate_high: interval.high.unwrap_or(f64::MAX) / surface.exposure,
        expected: None,
        against_level: None,
        surface: surface.clone(),
    })
}

fn best(counts: &Counts, surfaces: &[Surface], question: &Question) -> Fit {
    let profile = Profile::new(counts);
    let drop = half_chi_square(question.level);
    let (ratio_low, ratio_high) = profile.ratios(drop);
    let gain = (profile.best - counts.log_likelihood(0.0, 0.0)).max(0.0);
    let deviance = deviance(surfaces, &counts.expected(profile.from, profile.ratio));
    // Each covering has a rate of its own, and the wind has two numbers.
    let degrees = counts.surfaces_hit.saturating_sub(counts.coverings_hit + 2);
    Fit {
        from: profile.from,
        directions: profile.directions(drop),
        ratio: profile.ratio,
        ratio_low,
        ratio_high,
        level: question.level,
        speeds: speed::speeds(
            question.stone.as_ref(),
            profile.ratio,
            ratio_low,
            ratio_high,
        ),
        gain,
        p_no_wind: chi_square_p(2.0 * gain, 2),
        deviance,
        degrees,
        p_fit: (degrees > 0).then(|| chi_square_p(deviance, degrees)),
        log_likelihood: profile.best,
    }
}

fn deviance(surfaces: &[Surface], expected: &[f64]) -> f64 {
    let of = |(surface, expected): (&Surface, &f64)| {
        let hits = surface.hits as f64;
        if hits > 0.0 && *expected > 0.0 {
            2.0 * (hits * (hits / expected).ln() - (hits - expected))
        } else {
            2.0 * expected
        }
    };
    surfaces.iter().zip(expected).map(of).sum::<f64>().max(0.0)
}

/// Half the quantile of chi-square with one degree of freedom: by how much the log-likelihood may
/// drop inside an interval of this level.
fn half_chi_square(level: f64) -> f64 {
    let (mut low, mut high) = (0.0, 50.0);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if chi_square_p(middle, 1) > 1.0 - level {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * low
}
