//! Rules for numerical integration, made when they are needed.

use std::f64::consts::PI;

/// Nodes in rising order and the weight of each.
#[derive(Debug, Clone)]
pub(super) struct Rule {
    pub(super) nodes: Vec<f64>,
    pub(super) weights: Vec<f64>,
}

/// The Gauss-Hermite rule with each weight multiplied by `exp(node^2)`, so that the plain integral of `f` over
/// the whole line is the sum of `weight * f(node)`.
///
/// The roots are those of the orthonormal Hermite function; the weight is one by the sum of the squares of the
/// lower functions at the root (Christoffel's formula), which neither overflows nor cancels.
pub(super) fn hermite(count: usize) -> Rule {
    let count = count.max(1);
    let scan = 0.2 * PI / (2.0 * count as f64 + 1.0).sqrt();
    let outermost = (2.0 * count as f64 + 1.0).sqrt();
    let mut upper_half = Vec::with_capacity(count / 2);
    let mut low = 0.5 * scan;
    while low < outermost {
        let high = low + scan;
        if hermite_function(count, low).is_sign_negative() != hermite_function(count, high).is_sign_negative()
        {
            upper_half.push(bisect(low, high, |x| hermite_function(count, x)));
        }
        low = high;
    }
    let mut nodes: Vec<f64> = upper_half.iter().rev().map(|x| -x).collect();
    if count % 2 == 1 {
        nodes.push(0.0);
    }
    nodes.extend(upper_half);
    debug_assert_eq!(nodes.len(), count);
    let weights = nodes.iter().map(|&x| 1.0 / hermite_squares(count, x)).collect();
    Rule { nodes, weights }
}

/// The orthonormal Hermite function of the given order.
fn hermite_function(order: usize, x: f64) -> f64 {
    walk_hermite(order, x).0
}

/// The sum of the squares of the orthonormal Hermite functions below the order.
fn hermite_squares(order: usize, x: f64) -> f64 {
    walk_hermite(order, x).1
}

fn walk_hermite(order: usize, x: f64) -> (f64, f64) {
    let mut before = 0.0;
    let mut here = PI.powf(-0.25) * (-0.5 * x * x).exp();
    let mut squares = 0.0;
    for k in 0..order {
        squares += here * here;
        let next = (k + 1) as f64;
        let value = x * (2.0 / next).sqrt() * here - (k as f64 / next).sqrt() * before;
        before = here;
        here = value;
    }
    (here, squares)
}

fn bisect(mut low: f64, mut high: f64, value: impl Fn(f64) -> f64) -> f64 {
    let is_low_negative = value(low).is_sign_negative();
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if value(middle).is_sign_negative() == is_low_negative {
            low = middle;
        } else {
            high = middle;
        }
    }
    0.5 * (low + high)
}

/// The Gauss-Legendre rule on -1 to 1.
pub(super) fn legendre(count: usize) -> Rule {
    let n = count as f64;
    let mut rule = Rule {
        nodes: vec![0.0; count],
        weights: vec![0.0; count],
    };
    for i in 0..count {
        let mut x = -(PI * (i as f64 + 0.75) / (n + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..20 {
            let (value, below) = legendre_polynomial(count, x);
            slope = n * (x * value - below) / (x * x - 1.0);
            let step = value / slope;
            x -= step;
            if step.abs() < 1e-15 {
                break;
            }
        }
        rule.nodes[i] = x;
        rule.weights[i] = 2.0 / ((1.0 - x * x) * slope * slope);
    }
    rule
}

/// The Legendre polynomial of the given order and of the order below.
fn legendre_polynomial(order: usize, x: f64) -> (f64, f64) {
    let (mut below, mut here) = (0.0, 1.0);
    for k in 0..order {
        let k = k as f64;
        let next = ((2.0 * k + 1.0) * x * here - k * below) / (k + 1.0);
        below = here;
        here = next;
    }
    (here, below)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::beta::assert_close;

    #[test]
    fn hermite_integrates_powers_times_the_bell_exactly() {
        for count in [1, 2, 7, 15, 25, 41, 61] {
            let rule = hermite(count);
            let moment = |power: i32| -> f64 {
                let terms = rule.nodes.iter().zip(&rule.weights);
                terms.map(|(x, w)| w * x.powi(power) * (-x * x).exp()).sum()
            };
            // The moments of exp(-x^2): sqrt(pi) (1, 1/2, 3/4, 15/8).
            assert_close(moment(0), PI.sqrt(), 1e-13);
            if count >= 7 {
                assert_close(moment(2), PI.sqrt() / 2.0, 1e-13);
                assert_close(moment(6), PI.sqrt() * 15.0 / 8.0, 1e-12);
            }
            assert!(moment(3).abs() < 1e-13);
        }
        // Abramowitz and Stegun 1964, table 25.10, n = 2: node 0.7071067811865475 (from memory).
        assert_close(hermite(2).nodes[1], 0.5_f64.sqrt(), 1e-14);
    }

    #[test]
    fn legendre_integrates_powers_exactly() {
        let rule = legendre(8);
        for power in 0..16 {
            let terms = rule.nodes.iter().zip(&rule.weights);
            let integral: f64 = terms.map(|(x, w)| w * x.powi(power)).sum();
            let expected = if power % 2 == 0 {
                2.0 / f64::from(power + 1)
            } else {
                0.0
            };
            assert!((integral - expected).abs() < 1e-14, "{power}: {integral}");
        }
    }
}
