//! What is believed of one unit's rate, as a density that every figure comes from.

use std::sync::LazyLock;

use statrs::function::gamma::ln_gamma;

use super::likelihood::FARTHEST_LOGIT;
use super::quadrature::{Rule, legendre};
use crate::stats::{Confidence, Cutoff, Interval};

/// Panels that the density is cut into.
const PANELS: usize = 16;
/// Nodes in a panel.
const POINTS: usize = 8;
/// How far below its top the log density may lie where it is cut off: less than 1e-16 of the whole is lost.
const DEEPEST: f64 = 38.0;

static PANEL: LazyLock<Rule> = LazyLock::new(|| legendre(POINTS));
/// Turns values at the nodes of a panel into the coefficients of the polynomial through them.
static TO_POWERS: LazyLock<[[f64; POINTS]; POINTS]> = LazyLock::new(to_powers);

/// The posterior of one unit's rate at the reference position.
///
/// On the logit scale the density is cut into panels, each a polynomial in the log density through its
/// Gauss-Legendre nodes; so the probability above any cutoff costs one partial panel, and no refit. The figures
/// are given the fitted coefficients and spread: they leave out that these are estimates themselves.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitPosterior {
    /// The logit of the rate is `centre + scale * z`.
    centre: f64,
    scale: f64,
    /// The lowest z and the width of one panel.
    low: f64,
    width: f64,
    /// Coefficients of the log density by z in each panel, on -1 to 1.
    powers: Box<[[f64; POINTS]; PANELS]>,
    /// Probability above the lower edge of each panel, and below it.
    above: [f64; PANELS + 1],
    below: [f64; PANELS + 1],
    mean: f64,
    deviation: f64,
    theta: f64,
}

/// Weights on both sides of a cutoff, each a rate and the probability that it stands for.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// At or above the cutoff.
    pub above: Vec<(f64, f64)>,
    /// Below the cutoff.
    pub below: Vec<(f64, f64)>,
}

impl UnitPosterior {
    /// Takes the log density of z up to a constant, given z and `exp(scale * z)`, its mode and the curvature
    /// there. The density must fall at least as fast as that of a standard normal.
    pub(super) fn new(
        (centre, scale): (f64, f64),
        theta: f64,
        (mode, curvature): (f64, f64),
        ln_density: impl Fn(f64, f64) -> f64,
    ) -> Self {
        let centre = centre.clamp(-FARTHEST_LOGIT, FARTHEST_LOGIT);
        let at = |z: f64| ln_density(z, (scale * z).exp());
        let top = at(mode);
        let reach = |side: f64| reach(side, mode, curvature, |z| top - at(z));
        let low = mode - reach(-1.0);
        let width = (mode + reach(1.0) - low) / PANELS as f64;
        let mut found = Self {
            centre,
            scale,
            low,
            width,
            powers: Box::new([[0.0; POINTS]; PANELS]),
            above: [0.0; PANELS + 1],
            below: [0.0; PANELS + 1],
            mean: 0.0,
            deviation: 0.0,
            theta,
        };
        let mut masses = [0.0; PANELS];
        let (mut first, mut second) = (0.0, 0.0);
        // The odds of a node are those of the first node in its place times one factor for each panel.
        let common = centre.exp();
        let in_first: Vec<f64> = PANEL
            .nodes
            .iter()
            .map(|node| (scale * found.z(0, *node)).exp())
            .collect();
        for (panel, mass) in masses.iter_mut().enumerate() {
            let growth = (scale * width * panel as f64).exp();
            let mut values = [0.0; POINTS];
            let nodes = PANEL.nodes.iter().zip(&PANEL.weights).zip(&in_first);
            for (value, ((node, weight), in_first)) in values.iter_mut().zip(nodes) {
                let factor = in_first * growth;
                *value = ln_density(found.z(panel, *node), factor) - top;
                let odds = common * factor;
                let rate = odds / (1.0 + odds);
                let weight = value.exp() * weight * 0.5 * width;
                *mass += weight;
                first += weight * rate;
                second += weight * rate * rate;
            }
            found.powers[panel] = powers_through(&values);
        }
        let total: f64 = masses.iter().sum();
        for panel in found.powers.iter_mut() {
            panel[0] -= total.ln();
        }
        for (panel, mass) in masses.iter().enumerate() {
            found.below[panel + 1] = found.below[panel] + mass / total;
        }
        for (panel, mass) in masses.iter().enumerate().rev() {
            found.above[panel] = found.above[panel + 1] + mass / total;
        }
        found.mean = (first / total).clamp(0.0, 1.0);
        found.deviation = (second / total - found.mean * found.mean).max(0.0).sqrt();
        found
    }

    fn z(&self, panel: usize, x: f64) -> f64 {
        self.low + self.width * (panel as f64 + 0.5 * (1.0 + x))
    }

    /// The likely rate: the mean, from 0 to 1.
    pub const fn mean(&self) -> f64 {
        self.mean
    }

    /// The standard deviation of the rate.
    pub const fn standard_deviation(&self) -> f64 {
        self.deviation
    }

    /// The interval that leaves out the same probability on each side.
    pub fn interval(&self, confidence: Confidence) -> Interval {
        let tail = confidence.tail();
        let low = self.quantile(tail, false);
        Interval {
            low,
            high: self.quantile(tail, true).max(low),
        }
    }

    /// The probability that the rate is at or above the cutoff.
    pub fn probability_at_least(&self, cutoff: Cutoff) -> f64 {
        let rate = cutoff.rate();
        if rate <= 0.0 {
            return 1.0;
        }
        if rate >= 1.0 {
            return 0.0;
        }
        self.above_z((logit(rate) - self.centre) / self.scale).min(1.0)
    }

    fn above_z(&self, z: f64) -> f64 {
        let Some((panel, x)) = self.place(z) else {
            return if z < self.low { 1.0 } else { 0.0 };
        };
        self.above[panel + 1] + self.partial(panel, x, 1.0)
    }

    fn below_z(&self, z: f64) -> f64 {
        let Some((panel, x)) = self.place(z) else {
            return if z < self.low { 0.0 } else { 1.0 };
        };
        self.below[panel] + self.partial(panel, -1.0, x)
    }

    /// The panel that holds z and the place in it from -1 to 1; `None` outside of all.
    fn place(&self, z: f64) -> Option<(usize, f64)> {
        let at = (z - self.low) / self.width;
        if !(0.0..PANELS as f64).contains(&at) {
            return None;
        }
        let panel = at as usize;
        Some((panel, 2.0 * (at - panel as f64) - 1.0))
    }

    /// The probability between two places of one panel.
    fn partial(&self, panel: usize, from: f64, to: f64) -> f64 {
        self.partial_nodes(panel, from, to)
            .map(|(_, weight)| weight)
            .sum()
    }

    /// Nodes between two places of one panel, each with z and its probability.
    fn partial_nodes(&self, panel: usize, from: f64, to: f64) -> impl Iterator<Item = (f64, f64)> {
        let half = 0.5 * (to - from);
        let middle = 0.5 * (to + from);
        PANEL.nodes.iter().zip(&PANEL.weights).map(move |(node, weight)| {
            let x = middle + half * node;
            let density = horner(&self.powers[panel], x).exp();
            (self.z(panel, x), weight * half * 0.5 * self.width * density)
        })
    }

    /// The rate with the given probability outside of it, on the upper side or the lower.
    fn quantile(&self, tail: f64, is_upper: bool) -> f64 {
        let (mut low, mut high) = (self.low, self.low + self.width * PANELS as f64);
        for edge in 0..=PANELS {
            let z = self.z(edge, -1.0);
            let beyond = if is_upper {
                self.above[edge]
            } else {
                self.below[edge]
            };
            if (beyond > tail) == is_upper {
                low = low.max(z);
            } else {
                high = high.min(z);
            }
        }
        // The bracket is one panel, and the tail is known at both ends: begin where a straight line between them has it.
        let panel = ((low - self.low) / self.width).round().max(0.0) as usize;
        let tails = if is_upper { &self.above } else { &self.below };
        let (at_low, at_high) = (tails[panel.min(PANELS)], tails[(panel + 1).min(PANELS)]);
        let share = ((tail - at_low) / (at_high - at_low)).clamp(0.01, 0.99);
        let mut z = low + if share.is_nan() { 0.5 } else { share } * (high - low);
        for _ in 0..60 {
            let beyond = if is_upper {
                self.above_z(z)
            } else {
                self.below_z(z)
            };
            if (beyond > tail) == is_upper {
                low = z;
            } else {
                high = z;
            }
            let density = self
                .place(z)
                .map_or(0.0, |(panel, x)| horner(&self.powers[panel], x).exp());
            let miss = if is_upper { beyond - tail } else { tail - beyond };
            let newton = z + miss / density;
            let next = if newton > low && newton < high {
                newton
            } else {
                0.5 * (low + high)
            };
            let moved = (next - z).abs();
            z = next;
            if moved < 1e-9 * self.width {
                break;
            }
        }
        logistic(self.centre + self.scale * z)
    }

    /// The posterior as rates in rising order and the probability that each stands for; they add up to one.
    pub fn weights(&self) -> impl Iterator<Item = (f64, f64)> {
        (0..PANELS).flat_map(|panel| self.rates(panel, -1.0, 1.0))
    }

    fn rates(&self, panel: usize, from: f64, to: f64) -> impl Iterator<Item = (f64, f64)> {
        self.partial_nodes(panel, from, to)
            .map(|(z, weight)| (logistic(self.centre + self.scale * z), weight))
    }

    /// [`UnitPosterior::weights`] at or above the cutoff and below it, the panel that holds it divided exactly.
    pub fn weights_beside(&self, cutoff: Cutoff) -> Beside {
        let rate = cutoff.rate();
        let z = if rate <= 0.0 {
            f64::NEG_INFINITY
        } else {
            (logit(rate) - self.centre) / self.scale
        };
        let (mut above, mut below) = (Vec::new(), Vec::new());
        let place = self.place(z);
        for panel in 0..PANELS {
            match place {
                Some((held, x)) if held == panel => {
                    below.extend(self.rates(panel, -1.0, x));
                    above.extend(self.rates(panel, x, 1.0));
                }
                _ if self.z(panel, 0.0) > z => above.extend(self.rates(panel, -1.0, 1.0)),
                _ => below.extend(self.rates(panel, -1.0, 1.0)),
            }
        }
        Beside { above, below }
    }

    /// The probability of each count from 0 to `kernels` in one new cell of that many kernels.
    pub fn predictive(&self, kernels: u32) -> Vec<f64> {
        predictive(self.weights(), kernels, self.theta)
    }

    /// The spread of the rates of single cells of this unit, `rho / (1 - rho)`; 0 for binomial cells.
    pub const fn cell_spread(&self) -> f64 {
        self.theta
    }
}

/// The probability of each count under a mixture of rates: binomial, or beta-binomial where theta is above 0.
pub(in crate::stats) fn predictive(
    weights: impl Iterator<Item = (f64, f64)>,
    kernels: u32,
    theta: f64,
) -> Vec<f64> {
    let m = kernels as usize;
    let ln_choose: Vec<f64> = (0..=kernels)
        .map(|y| {
            ln_gamma(f64::from(kernels) + 1.0)
                - ln_gamma(f64::from(y) + 1.0)
                - ln_gamma(f64::from(kernels - y) + 1.0)
        })
        .collect();
    let trials = ln_rising(1.0, theta, m)[m];
    let mut probabilities = vec![0.0; m + 1];
    for (rate, weight) in weights {
        let success = ln_rising(rate, theta, m);
        let failure = ln_rising(1.0 - rate, theta, m);
        for (y, probability) in probabilities.iter_mut().enumerate() {
            *probability += weight * (ln_choose[y] + success[y] + failure[m - y] - trials).exp();
        }
    }
    probabilities
}

/// Entry `y` is the log of the product over `r < y` of `base + r theta`.
fn ln_rising(base: f64, theta: f64, most: usize) -> Vec<f64> {
    let mut sums = Vec::with_capacity(most + 1);
    let mut sum = 0.0;
    sums.push(sum);
    for r in 0..most {
        sum += (base + r as f64 * theta).max(f64::MIN_POSITIVE).ln();
        sums.push(sum);
    }
    sums
}

/// How far on one side of the mode the log density has fallen to the depth that is cut off.
fn reach(side: f64, mode: f64, curvature: f64, drop: impl Fn(f64) -> f64) -> f64 {
    let farthest = (2.0 * DEEPEST).sqrt();
    let mut distance = farthest / curvature.sqrt().max(1.0);
    for _ in 0..4 {
        let fallen = drop(mode + side * distance);
        if fallen.is_nan() || fallen <= 0.0 {
            return farthest;
        }
        distance = (distance * (DEEPEST / fallen).sqrt()).min(farthest);
    }
    distance
}

pub(super) fn logistic(logit: f64) -> f64 {
    if logit >= 0.0 {
        1.0 / (1.0 + (-logit).exp())
    } else {
        let odds = logit.exp();
        odds / (1.0 + odds)
    }
}

pub(super) fn logit(rate: f64) -> f64 {
    rate.ln() - (-rate).ln_1p()
}

fn horner(powers: &[f64; POINTS], x: f64) -> f64 {
    powers.iter().rev().fold(0.0, |sum, power| sum * x + power)
}

fn powers_through(values: &[f64; POINTS]) -> [f64; POINTS] {
    let mut powers = [0.0; POINTS];
    for (power, row) in powers.iter_mut().zip(TO_POWERS.iter()) {
        *power = row.iter().zip(values).map(|(a, b)| a * b).sum();
    }
    powers
}

/// Row `p`, column `i`: the coefficient of `x^p` in the polynomial that is 1 at node `i` and 0 at the others.
fn to_powers() -> [[f64; POINTS]; POINTS] {
    let mut matrix = [[0.0; POINTS]; POINTS];
    for i in 0..POINTS {
        let mut powers = [0.0; POINTS];
        powers[0] = 1.0;
        for (j, &other) in PANEL.nodes.iter().enumerate() {
            if j == i {
                continue;
            }
            let gap = PANEL.nodes[i] - other;
            for p in (0..POINTS).rev() {
                let below = if p > 0 { powers[p - 1] } else { 0.0 };
                powers[p] = (below - other * powers[p]) / gap;
            }
        }
        for (row, power) in matrix.iter_mut().zip(powers) {
            row[i] = power;
        }
    }
    matrix
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// The posterior of `k` of `n` under a normal distribution of logits.
    fn posterior(centre: f64, scale: f64, k: u32, n: u32) -> UnitPosterior {
        let (k, n) = (f64::from(k), f64::from(n));
        let value = |z: f64, factor: f64| {
            let logit = centre + scale * z;
            k * logit - n * (1.0 + centre.exp() * factor).ln() - 0.5 * z * z
        };
        let (mut low, mut high) = (-12.0, 12.0);
        for _ in 0..80 {
            let z = 0.5 * (low + high);
            if scale * (k - n * logistic(centre + scale * z)) > z {
                low = z;
            } else {
                high = z;
            }
        }
        let mode = 0.5 * (low + high);
        let rate = logistic(centre + scale * mode);
        let curvature = 1.0 + n * scale * scale * rate * (1.0 - rate);
        UnitPosterior::new((centre, scale), 0.0, (mode, curvature), value)
    }

    proptest! {
        #[test]
        fn one_more_success_never_lowers_the_estimate(
            centre in -3.0..3.0_f64, scale in 0.05..4.0_f64, (a, b) in (0..=40_u32, 0..=40_u32),
            percent in 1.0..99.0_f64,
        ) {
            prop_assume!(a != b);
            let (k, n) = (a.min(b), a.max(b));
            let [before, after] = [k, k + 1].map(|k| posterior(centre, scale, k, n));
            prop_assert!(after.mean() > before.mean());
            let cutoff = Cutoff::from_percent(percent).unwrap();
            let [p, q] = [&before, &after].map(|posterior| posterior.probability_at_least(cutoff));
            prop_assert!(q >= p - 1e-9 && (0.0..=1.0).contains(&p));
            let [i, j] = [&before, &after].map(|posterior| posterior.interval(Confidence::P90));
            prop_assert!(j.low >= i.low - 1e-9 && j.high >= i.high - 1e-9);
            prop_assert!(i.low < before.mean() && before.mean() < i.high);
            // What is outside of the interval is a twentieth on each side.
            let low = Cutoff::from_percent(100.0 * i.low).unwrap();
            prop_assert!((before.probability_at_least(low) - 0.95).abs() < 1e-4);
            // Weights, and their mean, agree with the figures.
            let total: f64 = before.weights().map(|(_, weight)| weight).sum();
            let mean: f64 = before.weights().map(|(rate, weight)| rate * weight).sum();
            prop_assert!((total - 1.0).abs() < 1e-9 && (mean - before.mean()).abs() < 1e-9);
            let counts = before.predictive(7);
            let expected: f64 = counts.iter().enumerate().map(|(y, p)| y as f64 * p).sum();
            prop_assert!((expected - 7.0 * before.mean()).abs() < 1e-8);
        }

        #[test]
        fn success_and_failure_mirror(scale in 0.05..4.0_f64, centre in -3.0..3.0_f64, k in 0..=12_u32) {
            let here = posterior(centre, scale, k, 12);
            let there = posterior(-centre, scale, 12 - k, 12);
            prop_assert!((here.mean() + there.mean() - 1.0).abs() < 1e-9);
            let [i, j] = [&here, &there].map(|posterior| posterior.interval(Confidence::P80));
            prop_assert!((i.low + j.high - 1.0).abs() < 1e-6, "{i:?} {j:?}");
        }
    }

    #[test]
    fn cutoffs_at_the_ends() {
        let here = posterior(1.0, 1.0, 7, 12);
        let percent = |percent: f64| Cutoff::from_percent(percent).unwrap();
        assert!((here.probability_at_least(percent(0.0)) - 1.0).abs() < 1e-15);
        assert!(here.probability_at_least(percent(100.0)).abs() < 1e-15);
        assert!(here.probability_at_least(percent(1e-6)) > 0.999_999);
        for (cutoff, above) in [(0.0, true), (100.0, false)] {
            let beside = here.weights_beside(percent(cutoff));
            assert_eq!(beside.below.is_empty(), above);
            assert_eq!(beside.above.is_empty(), !above);
        }
    }
}
