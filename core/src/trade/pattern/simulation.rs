//! Counts drawn from the model: the wind they were drawn with lies inside the interval about as
//! often as the level says.

use super::tests::house;
use super::*;
use crate::trade::wind::hits_against_level;

/// SplitMix64 (G. Steele, D. Lea and C. Flood, 2014): a fixed seed gives the same counts anywhere.
struct Dice(u64);

impl Dice {
    fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// A Poisson count, by multiplying uniform numbers (D. Knuth).
    fn poisson(&mut self, mean: f64) -> u64 {
        let bound = (-mean).exp();
        let mut product = self.unit();
        let mut count = 0;
        while product > bound {
            product *= self.unit();
            count += 1;
        }
        count
    }
}

/// Counts of one storm on the house, drawn with the rates that the model expects.
fn draw(dice: &mut Dice, from: f64, ratio: f64, on_level: f64, walls: f64) -> Vec<Surface> {
    let mut surfaces = house(from, ratio, 0.0, 0.0);
    for surface in &mut surfaces {
        let rate = if surface.facing.tilt == 90.0 {
            walls
        } else {
            on_level
        };
        let mean = rate * hits_against_level(surface.facing, from, ratio).max(STRAY);
        surface.hits = dice.poisson(mean);
    }
    surfaces
}

#[test]
fn the_interval_holds_the_wind_about_as_often_as_it_says() {
    let mut dice = Dice(20_260_606);
    let (storms, level) = (300, 0.9);
    let (mut direction, mut ratio, mut poor) = (0, 0, 0);
    let question = Question {
        level,
        ..Question::default()
    };
    for storm in 0..storms {
        let from = 360.0 * dice.unit();
        let wind = 0.3 + 0.9 * dice.unit();
        let surfaces = draw(&mut dice, from, wind, 15.0, 20.0);
        let found = pattern(&surfaces, &question).unwrap();
        let fit = found
            .fit
            .unwrap_or_else(|| panic!("storm {storm} has no fit"));
        direction += u32::from(fit.directions.hold(from));
        let high = fit.ratio_high.unwrap_or(f64::INFINITY);
        ratio += u32::from((fit.ratio_low..=high).contains(&wind));
        poor += u32::from(fit.p_fit.is_some_and(|p| p < 0.01));
    }
    // Of 300 at 90 percent, 270 are to be expected; four deviations are 21.
    println!("of {storms}: direction {direction}, ratio {ratio}, poor fit {poor}");
    assert!((249..=291).contains(&direction), "{direction} of {storms}");
    assert!((249..=291).contains(&ratio), "{ratio} of {storms}");
    assert!(poor <= 15, "{poor} of {storms} are called a poor fit");
}
