//! How ears are, and how their kernels grow.

use super::dice::{Dice, GERMINATION};
use crate::model::Tally;

/// What is true of an ear, which no test ever shows exactly.
#[derive(Debug, Clone, Copy)]
pub(super) struct Truth {
    /// Cold germination, as a share.
    pub(super) germination: f64,
    /// Vigor grade, with digits after the point.
    pub(super) vigor: f64,
    /// How far the germination is above the mean, in standard deviations.
    pub(super) above_mean: f64,
}

impl Truth {
    /// Draws an ear: vigor correlates with germination by 0.5.
    pub(super) fn draw(dice: &mut Dice) -> Self {
        let germination = dice.germination();
        Self::with_germination(germination, dice)
    }

    /// Draws the vigor of an ear of known germination.
    pub(super) fn with_germination(germination: f64, dice: &mut Dice) -> Self {
        let (a, b) = GERMINATION;
        let mean = a / (a + b);
        let deviation = (a * b / ((a + b) * (a + b) * (a + b + 1.0))).sqrt();
        let above_mean = (germination - mean) / deviation;
        // 0.5 squared and 0.75 add up to 1, so the grades keep a standard deviation of 1.6.
        let vigor = 5.5 + 1.6 * (0.5 * above_mean + 0.75_f64.sqrt() * dice.normal());
        Self {
            germination,
            vigor,
            above_mean,
        }
    }

    /// Lets the kernels of one cell grow. `points` are percent points by which the tray germinates better.
    pub(super) fn grow(&self, kernels: u16, points: f64, dice: &mut Dice) -> Grown {
        let germination = (self.germination + points / 100.0).clamp(0.0, 1.0);
        let strong_share = (0.45 + 0.07 * self.vigor).clamp(0.3, 0.97);
        let (mut early, mut last) = (Tally::default(), Tally::default());
        for _ in 0..kernels {
            let has_emerged = if dice.happens(germination) {
                let is_strong = dice.happens(strong_share);
                *(if is_strong {
                    &mut last.strong
                } else {
                    &mut last.weak
                }) += 1;
                dice.happens(if is_strong { 0.72 } else { 0.3 })
            } else {
                let kind = dice.uniform();
                *(if kind < 0.2 {
                    &mut last.abnormal
                } else if kind < 0.3 {
                    &mut last.fresh
                } else {
                    &mut last.dead
                }) += 1;
                false
            };
            *(if has_emerged {
                &mut early.strong
            } else {
                &mut early.fresh
            }) += 1;
        }
        let grade = (self.vigor + 0.7 * dice.normal()).round().clamp(1.0, 9.0) as u8;
        let vigor = if last.strong + last.weak == 0 { 0 } else { grade };
        Grown { early, last, vigor }
    }
}

/// What the counts of one cell show.
#[derive(Debug, Clone, Copy)]
pub(super) struct Grown {
    /// The early count: kernels that have emerged are strong, the others fresh.
    pub(super) early: Tally,
    /// The final count.
    pub(super) last: Tally,
    /// The grade of growth at the final count.
    pub(super) vigor: u8,
}
