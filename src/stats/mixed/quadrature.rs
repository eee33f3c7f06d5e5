//! The Gauss-Legendre rule.

use std::f64::consts::PI;

/// Nodes in rising order and the weight of each.
#[derive(Debug, Clone)]
pub(super) struct Rule {
    pub(super) nodes: Vec<f64>,
    pub(super) weights: Vec<f64>,
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
