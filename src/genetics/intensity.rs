//! How hard a choice selects, in standard deviations of what is chosen by.

use statrs::distribution::{Continuous, ContinuousCDF, Normal};

/// Beyond these values a normal density or tail is zero in double precision.
const FARTHEST: f64 = 37.0;
/// How far below its top the log of the weight may lie where the sum ends: less than 1e-17 of the whole is lost.
const DEEPEST: f64 = 42.0;
/// Points of the sum. The weight is smooth and dies out on both sides, so that equal steps converge very fast.
const POINTS: u32 = 160;

/// Truncation of a normal distribution so that a share of it is kept from above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Truncation {
    /// The point of truncation, in standard deviations from the mean.
    pub point: f64,
    /// The standard normal density there.
    pub density: f64,
    /// The mean of the kept part, in standard deviations: the selection intensity in a very large population.
    pub intensity: f64,
    /// The part of the variance that the kept part lacks, `i (i - x)`.
    pub variance_lost: f64,
}

/// Keeps the best share of a very large population, above 0 and at most 1; `None` for any other share.
///
/// `x = Phi^-1(1 - p)`, `z = phi(x)`, `i = z / p`. Sources: Falconer and Mackay 1996, eq. 11.3; Bulmer 1971,
/// Am. Nat. 105:201, for the variance lost (both from memory).
pub fn truncation(share: f64) -> Option<Truncation> {
    if !(share > 0.0 && share <= 1.0) {
        return None;
    }
    if share >= 1.0 {
        return Some(Truncation {
            point: f64::NEG_INFINITY,
            density: 0.0,
            intensity: 0.0,
            variance_lost: 0.0,
        });
    }
    let normal = Normal::standard();
    let point = -normal.inverse_cdf(share);
    let density = normal.pdf(point);
    let intensity = density / share;
    Some(Truncation {
        point,
        density,
        intensity,
        variance_lost: intensity * (intensity - point),
    })
}

/// The expected mean of the best `kept` of `all` independent draws from a standard normal distribution.
///
/// Exact: `(N / s) E[phi(Phi^-1(U))]` with `U` from Beta(`N - s`, `s`), which is the integral
/// `(N / s) Int z phi(z) P(Bin(N - 1, 1 - Phi(z)) <= s - 1) dz` once integrated by parts. It stays below the
/// intensity of a very large population, the more so the fewer there are (Burrows 1972, Biometrics 28:1091, from
/// memory). 0 when all are kept; `None` when none is, or more than there are.
pub fn finite_intensity(kept: usize, all: usize) -> Option<f64> {
    if kept == 0 || kept > all {
        return None;
    }
    if kept == all {
        return Some(0.0);
    }
    let (best, rest) = (kept as f64, (all - kept) as f64);
    let normal = Normal::standard();
    let ln_weight =
        |z: f64| (rest - 1.0) * normal.cdf(z).ln() + (best - 1.0) * normal.sf(z).ln() - 0.5 * z * z;
    let slope = |z: f64| {
        let density = normal.pdf(z);
        (rest - 1.0) * density / normal.cdf(z) - (best - 1.0) * density / normal.sf(z) - z
    };
    // The log of the weight is concave: one top, and it falls on both sides.
    let top = falls_below(0.0, -FARTHEST, FARTHEST, slope);
    let floor = ln_weight(top) - DEEPEST;
    let right = falls_below(floor, top, FARTHEST, ln_weight);
    let left = -falls_below(floor, -top, FARTHEST, |z| ln_weight(-z));
    let step = (right - left) / f64::from(POINTS);
    let (mut sum, mut weights) = (0.0, 0.0);
    for at in 0..=POINTS {
        let z = left + f64::from(at) * step;
        let weight = (ln_weight(z) - floor - DEEPEST).exp();
        weights += weight;
        sum += weight * normal.pdf(z);
    }
    Some((best + rest) / best * sum / weights)
}

/// Where a falling function passes a level, between two bounds.
fn falls_below(level: f64, mut low: f64, mut high: f64, function: impl Fn(f64) -> f64) -> f64 {
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if function(middle) > level {
            low = middle;
        } else {
            high = middle;
        }
        if high - low < 1e-9 {
            break;
        }
    }
    0.5 * (low + high)
}
