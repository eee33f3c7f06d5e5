//! The beta-binomial model: every unit has its own rate, and the rates are draws from one beta distribution.
//!
//! `mu = alpha / (alpha + beta)` is the mean rate, `theta = 1 / (alpha + beta)` the spread, and `rho = theta
//! / (1 + theta)` the correlation within a unit. The likelihood is used in its sum form, which is exact at
//! `theta = 0` and free of the cancellation of gamma functions (Griffiths 1973, Biometrics 29:637; Smith
//! 1983, AS 189).

use statrs::function::gamma::ln_gamma;

use super::{Counts, Prior};

/// Fewer units than this are not fitted: the spread of so few says next to nothing. Common practice, no
/// source.
pub const FEWEST_UNITS: usize = 8;

/// The weight of the weak prior in trials: `alpha + beta = 2`.
pub const WEAK_STRENGTH: f64 = 2.0;

/// The largest `alpha + beta` of any prior, however small the fitted spread.
pub const MOST_STRENGTH: f64 = 10_000.0;

/// What [`fit`] found out about the units as a whole.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fit {
    /// The rates differ: maximum likelihood inside the boundary.
    Fitted(Fitted),
    /// The counts differ no more than chance lets equal rates differ (`theta = 0`, or too small to matter).
    NoSpread {
        /// The common rate: all successes by all trials.
        mu: f64,
        /// All trials.
        trials: u64,
    },
    /// The spread cannot be known from these counts; the weak prior stands in for it and is to be named
    /// beside every figure.
    WeakPrior {
        /// Why nothing was fitted.
        reason: WeakReason,
        /// The centre of the weak prior, `(successes + 1) / (trials + 2)`: never 0 or 1, and 0.5 without any
        /// count.
        mu: f64,
        /// The spread of the weak prior: `1 / WEAK_STRENGTH`.
        theta: f64,
    },
}

/// Maximum likelihood estimates of the beta-binomial model and their accuracy.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fitted {
    /// Mean rate, strictly between 0 and 1.
    pub mu: f64,
    /// Spread `1 / (alpha + beta)`, above 0.
    pub theta: f64,
    /// Standard error of `mu`, from the observed information.
    pub mu_error: f64,
    /// Standard error of `rho = theta / (1 + theta)`, from the observed information.
    pub rho_error: f64,
    /// Log-likelihood with its binomial coefficients.
    pub log_likelihood: f64,
    /// Log-likelihood of one common rate, with its binomial coefficients.
    pub log_likelihood_binomial: f64,
    /// Length of the gradient in (logit `mu`, ln `theta`) at the estimate.
    pub gradient_norm: f64,
    /// All trials.
    pub trials: u64,
}

impl Fitted {
    /// The correlation within a unit, `theta / (1 + theta)`.
    pub fn rho(&self) -> f64 {
        self.theta / (1.0 + self.theta)
    }
}

/// Why a weak prior stands in for a fitted one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WeakReason {
    /// No unit has any trial.
    NothingObserved,
    /// Fewer units with trials than are needed.
    TooFewUnits {
        /// Units with trials.
        units: usize,
        /// Units needed.
        needed: usize,
    },
    /// No success anywhere.
    AllZero,
    /// No failure anywhere.
    AllFull,
    /// Every unit has one trial only.
    SingleKernels,
    /// Every unit is all success or all failure, so that the spread has no upper bound.
    OnlyExtremes,
    /// The search for the maximum did not settle.
    NotSettled,
}

impl Fit {
    /// The mean rate from 0 to 1.
    pub fn mu(&self) -> f64 {
        match *self {
            Self::Fitted(Fitted { mu, .. }) | Self::NoSpread { mu, .. } | Self::WeakPrior { mu, .. } => mu,
        }
    }

    /// The spread `1 / (alpha + beta)`; 0 when none was found.
    pub fn theta(&self) -> f64 {
        match *self {
            Self::Fitted(Fitted { theta, .. }) | Self::WeakPrior { theta, .. } => theta,
            Self::NoSpread { .. } => 0.0,
        }
    }

    /// The prior of one unit's rate that follows from the fit.
    ///
    /// `alpha + beta = 1 / theta`, but never more than all trials together and never more than
    /// [`MOST_STRENGTH`]. Without that limit a spread of zero would give every unit exactly `mu` with no
    /// doubt at all, though `mu` itself is known only as well as all trials together tell it. So where no
    /// spread is found, a unit's interval is about as wide as that of the common rate.
    pub fn prior(&self) -> Prior {
        let strength = match *self {
            Self::Fitted(Fitted { theta, trials, .. }) => (1.0 / theta).min(trials as f64),
            Self::NoSpread { trials, .. } => trials as f64,
            Self::WeakPrior { .. } => WEAK_STRENGTH,
        };
        Prior::around(self.mu(), strength.min(MOST_STRENGTH))
    }
}

/// Fits the beta-binomial model to the units, or says why it cannot be fitted.
///
/// Units without trials are passed over. The cost is that of the largest `n`, not of the number of units.
/// Newton's method with damping on (logit `mu`, ln `theta`), exact gradient and Hessian, from the moment
/// start of Kleinman 1973 (JASA 68:46). `theta = 0` is the maximum where the slope there is not positive
/// (Tarone 1979, Biometrika 66:585).
pub fn fit(units: &[Counts]) -> Fit {
    fit_at_least(units, FEWEST_UNITS)
}

/// [`fit`] with another least number of units.
pub fn fit_at_least(units: &[Counts], fewest_units: usize) -> Fit {
    let observed: Vec<Counts> = units.iter().copied().filter(|unit| unit.n() > 0).collect();
    let successes: u64 = observed.iter().map(|unit| u64::from(unit.k())).sum();
    let trials: u64 = observed.iter().map(|unit| u64::from(unit.n())).sum();
    let weak = |reason| Fit::WeakPrior {
        reason,
        mu: (successes as f64 + 1.0) / (trials as f64 + 2.0),
        theta: 1.0 / WEAK_STRENGTH,
    };
    if let Some(reason) = reason_not_to_fit(&observed, successes, trials, fewest_units) {
        return weak(reason);
    }
    let mu = successes as f64 / trials as f64;
    let tally = Tally::new(&observed);
    let binomial = tally.at(mu, 1.0 - mu, 0.0).value;
    let starts = [moment_theta(&observed, mu), 0.3];
    let settled: Vec<Maximum> = starts
        .iter()
        .filter_map(|&theta| climb(&tally, mu, theta, trials))
        .collect();
    let Some(best) = settled.iter().copied().max_by(|a, b| a.value.total_cmp(&b.value)) else {
        return weak(WeakReason::NotSettled);
    };
    let is_flat = best.theta * MOST_STRENGTH < 1.0;
    if is_flat || best.value <= binomial {
        return Fit::NoSpread { mu, trials };
    }
    let constant = ln_coefficients(&observed);
    Fit::Fitted(Fitted {
        mu: best.mu,
        theta: best.theta,
        mu_error: best.mu_error,
        rho_error: best.rho_error,
        log_likelihood: best.value + constant,
        log_likelihood_binomial: binomial + constant,
        gradient_norm: best.gradient_norm,
        trials,
    })
}

fn reason_not_to_fit(
    observed: &[Counts],
    successes: u64,
    trials: u64,
    fewest_units: usize,
) -> Option<WeakReason> {
    if observed.is_empty() {
        return Some(WeakReason::NothingObserved);
    }
    if observed.len() < fewest_units {
        return Some(WeakReason::TooFewUnits {
            units: observed.len(),
            needed: fewest_units,
        });
    }
    if successes == 0 {
        return Some(WeakReason::AllZero);
    }
    if successes == trials {
        return Some(WeakReason::AllFull);
    }
    if observed.iter().all(|unit| unit.n() == 1) {
        return Some(WeakReason::SingleKernels);
    }
    let only_extremes = observed.iter().all(|unit| unit.k() == 0 || unit.k() == unit.n());
    only_extremes.then_some(WeakReason::OnlyExtremes)
}

/// The log-likelihood of the beta-binomial model with its binomial coefficients, for `mu` strictly between 0
/// and 1 and `theta >= 0`.
///
/// `None` when a parameter is outside its range.
pub fn log_likelihood(units: &[Counts], mu: f64, theta: f64) -> Option<f64> {
    let is_in_range = mu > 0.0 && mu < 1.0 && theta >= 0.0 && theta.is_finite();
    is_in_range.then(|| Tally::new(units).at(mu, 1.0 - mu, theta).value + ln_coefficients(units))
}

fn ln_coefficients(units: &[Counts]) -> f64 {
    let ln_factorial = |n: u32| ln_gamma(f64::from(n) + 1.0);
    units
        .iter()
        .map(|unit| ln_factorial(unit.n()) - ln_factorial(unit.k()) - ln_factorial(unit.n() - unit.k()))
        .sum()
}

/// Kleinman's moment estimate of theta with weights `n`, held inside a range that is a fair start.
fn moment_theta(units: &[Counts], mu: f64) -> f64 {
    let total: f64 = units.iter().map(|unit| f64::from(unit.n())).sum();
    let (mut between, mut within, mut weight) = (0.0, 0.0, 0.0);
    for unit in units {
        let n = f64::from(unit.n());
        between += n * (f64::from(unit.k()) / n - mu).powi(2);
        within += 1.0 - n / total;
        weight += n * (1.0 - n / total);
    }
    let variance = mu * (1.0 - mu);
    let rho = ((between - variance * within) / (variance * (weight - within))).clamp(0.001, 0.9);
    let rho = if rho.is_nan() { 0.1 } else { rho };
    rho / (1.0 - rho)
}

/// For each `r`, how many units have more than `r` successes, failures and trials: all that the likelihood
/// needs to know.
struct Tally {
    successes: Vec<f64>,
    failures: Vec<f64>,
    trials: Vec<f64>,
}

/// The log-likelihood without its coefficients, and its derivatives by `mu` and `theta`.
#[derive(Debug, Clone, Copy, Default)]
struct Surface {
    value: f64,
    by_mu: f64,
    by_theta: f64,
    by_mu_mu: f64,
    by_mu_theta: f64,
    by_theta_theta: f64,
}

impl Tally {
    fn new(units: &[Counts]) -> Self {
        Self {
            successes: more_than(units.iter().map(|unit| unit.k())),
            failures: more_than(units.iter().map(|unit| unit.n() - unit.k())),
            trials: more_than(units.iter().map(|unit| unit.n())),
        }
    }

    /// The surface at `mu`, with `nu = 1 - mu` given apart so that it keeps its digits near one.
    fn at(&self, mu: f64, nu: f64, theta: f64) -> Surface {
        let mut surface = Surface::default();
        for (r, &units) in self.successes.iter().enumerate() {
            surface.add(units, 1.0, r as f64, mu, theta);
        }
        for (r, &units) in self.failures.iter().enumerate() {
            surface.add(units, -1.0, r as f64, nu, theta);
        }
        for (r, &units) in self.trials.iter().enumerate() {
            surface.add(-units, 0.0, r as f64, 1.0, theta);
        }
        surface
    }
}

impl Surface {
    /// Adds `weight * ln(base + r theta)`, where `slope` is the derivative of the base by `mu`.
    fn add(&mut self, weight: f64, slope: f64, r: f64, base: f64, theta: f64) {
        let argument = base + r * theta;
        let first = weight / argument;
        let second = first / argument;
        self.value += weight * argument.ln();
        self.by_mu += first * slope;
        self.by_theta += first * r;
        self.by_mu_mu -= second * slope * slope;
        self.by_mu_theta -= second * slope * r;
        self.by_theta_theta -= second * r * r;
    }
}

/// Entry `r` is the number of values above `r`.
fn more_than(values: impl Iterator<Item = u32> + Clone) -> Vec<f64> {
    let largest = values.clone().max().unwrap_or(0) as usize;
    let mut counts = vec![0.0; largest + 1];
    for value in values {
        counts[value as usize] += 1.0;
    }
    for r in (0..largest).rev() {
        counts[r] += counts[r + 1];
    }
    counts.remove(0);
    counts
}

/// A point of the search in (logit mu, ln theta): value, gradient and Hessian there.
#[derive(Clone, Copy)]
struct Point {
    logit: f64,
    ln_theta: f64,
    value: f64,
    gradient: [f64; 2],
    /// Second derivatives: by logit twice, by both, by ln theta twice.
    hessian: [f64; 3],
}

#[derive(Clone, Copy)]
struct Maximum {
    mu: f64,
    theta: f64,
    value: f64,
    gradient_norm: f64,
    mu_error: f64,
    rho_error: f64,
}

impl Point {
    fn new(tally: &Tally, logit: f64, ln_theta: f64) -> Self {
        let mu = logistic(logit);
        let nu = logistic(-logit);
        let theta = ln_theta.exp();
        let surface = tally.at(mu, nu, theta);
        let variance = mu * nu;
        Self {
            logit,
            ln_theta,
            value: surface.value,
            gradient: [surface.by_mu * variance, surface.by_theta * theta],
            hessian: [
                surface.by_mu_mu * variance * variance + surface.by_mu * variance * (nu - mu),
                surface.by_mu_theta * variance * theta,
                surface.by_theta_theta * theta * theta + surface.by_theta * theta,
            ],
        }
    }

    fn gradient_norm(&self) -> f64 {
        self.gradient[0].hypot(self.gradient[1])
    }

    /// The step that solves `(damping - hessian) step = gradient`, or `None` where that is no way up.
    fn step(&self, damping: f64) -> Option<[f64; 2]> {
        const LONGEST: f64 = 2.0;
        let [a, b, c] = [
            damping - self.hessian[0],
            -self.hessian[1],
            damping - self.hessian[2],
        ];
        let determinant = a * c - b * b;
        if !(a > 0.0 && determinant > 0.0) {
            return None;
        }
        let [g, h] = self.gradient;
        let step = [(c * g - b * h) / determinant, (a * h - b * g) / determinant];
        let length = step[0].hypot(step[1]);
        let shrink = if length > LONGEST { LONGEST / length } else { 1.0 };
        length.is_finite().then(|| step.map(|part| part * shrink))
    }

    fn as_maximum(&self) -> Maximum {
        let (mu, theta) = (logistic(self.logit), self.ln_theta.exp());
        let [a, b, c] = self.hessian.map(|second| -second);
        let determinant = a * c - b * b;
        Maximum {
            mu,
            theta,
            value: self.value,
            gradient_norm: self.gradient_norm(),
            mu_error: (c / determinant).sqrt() * mu * logistic(-self.logit),
            rho_error: (a / determinant).sqrt() * theta / (1.0 + theta).powi(2),
        }
    }
}

fn logistic(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

/// Climbs to the nearest maximum; `None` when it does not settle. A spread below the least that matters ends
/// the climb.
fn climb(tally: &Tally, mu: f64, theta: f64, trials: u64) -> Option<Maximum> {
    const MOST_STEPS: usize = 300;
    // Rounding in a sum over all trials leaves about this much in the gradient.
    let settled_norm = 1e-10 * (trials as f64 / 1e5).max(1.0);
    let mut point = Point::new(tally, (mu / (1.0 - mu)).ln(), theta.ln());
    let mut damping = 0.0;
    for _ in 0..MOST_STEPS {
        let norm = point.gradient_norm();
        if norm == 0.0 || point.ln_theta.exp() * MOST_STRENGTH < 0.5 {
            break;
        }
        let next = point
            .step(damping)
            .map(|step| Point::new(tally, point.logit + step[0], point.ln_theta + step[1]));
        // Near the top the value no longer changes in floating point; there the gradient decides.
        let level = 1e-12 * (1.0 + point.value.abs());
        let better = next.filter(|next| {
            next.value > point.value + level
                || (next.value >= point.value - level && next.gradient_norm() < norm)
        });
        if let Some(better) = better {
            point = better;
            damping = if damping < 1e-6 { 0.0 } else { damping * 0.1 };
        } else if norm <= settled_norm || damping > 1e12 {
            break;
        } else {
            damping = if damping == 0.0 { 1e-3 } else { damping * 4.0 };
        }
    }
    let is_flat = point.ln_theta.exp() * MOST_STRENGTH < 1.0;
    (is_flat || point.gradient_norm() <= 10.0 * settled_norm).then(|| point.as_maximum())
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use serde_json::Value;

    use super::*;
    use crate::stats::beta::assert_close;
    use crate::stats::{Confidence, Interval, Posterior};

    fn reference() -> Value {
        serde_json::from_str(include_str!("../../tests/reference/beta_binomial.json")).unwrap()
    }

    fn units(pairs: &[(u32, u32)]) -> Vec<Counts> {
        pairs.iter().map(|&(k, n)| Counts::new(k, n).unwrap()).collect()
    }

    fn units_of(value: &Value) -> Vec<Counts> {
        let number = |value: &Value| value.as_u64().unwrap() as u32;
        value
            .as_array()
            .unwrap()
            .iter()
            .map(|pair| Counts::new(number(&pair[0]), number(&pair[1])).unwrap())
            .collect()
    }

    #[test]
    fn fits_agree_with_the_reference() {
        let reference = reference();
        let cases = reference["fits"].as_object().unwrap();
        assert_eq!(cases.len(), 10);
        for (name, case) in cases {
            let Fit::Fitted(ours) = fit_at_least(&units_of(&case["units_k_n"]), 2) else {
                panic!("{name} was not fitted");
            };
            let expected = |field: &str| case["fit"][field].as_f64().unwrap();
            println!("{name}: gradient {:e}", ours.gradient_norm);
            assert_close(ours.mu, expected("mu"), 1e-8);
            assert_close(ours.theta, expected("theta"), 1e-8);
            assert_close(ours.log_likelihood, expected("log_likelihood"), 1e-10);
            assert_close(
                ours.log_likelihood_binomial,
                expected("log_likelihood_binomial"),
                1e-10,
            );
            assert_close(ours.mu_error, expected("se_mu"), 1e-6);
            assert_close(ours.rho_error, expected("se_rho"), 1e-6);
            assert!(ours.gradient_norm < 1e-9, "{name}: {}", ours.gradient_norm);
        }
    }

    #[test]
    fn log_likelihood_agrees_with_the_reference_and_with_the_binomial_limit() {
        // Computed with scipy 1.17.1.
        let four = units(&[(9, 12), (11, 12), (5, 12), (12, 12)]);
        let check = |units: &[Counts], mu, theta, expected| {
            assert_close(log_likelihood(units, mu, theta).unwrap(), expected, 1e-11);
        };
        check(&units(&[(3, 10)]), 0.4, 0.2, -1.938_941_479_739_219_7);
        check(&units(&[(0, 12), (12, 12)]), 0.75, 0.125, -10.359_700_091_789_893);
        check(&four, 0.75, 0.125, -8.907_391_462_024_817);
        check(&four, 0.75, 0.0, -11.340_379_065_079_905);
        check(&four, 0.75, 1e-12, -11.340_379_065_025_24);
        for (mu, theta) in [
            (0.0, 0.1),
            (1.0, 0.1),
            (f64::NAN, 0.1),
            (0.5, -0.1),
            (0.5, f64::INFINITY),
        ] {
            assert_eq!(log_likelihood(&four, mu, theta), None);
        }
    }

    #[test]
    fn probability_of_each_count_agrees_and_adds_to_one() {
        for (n, expected) in reference()["mass_alpha_6_beta_2"].as_object().unwrap() {
            let n: u32 = n.parse().unwrap();
            let mut sum = 0.0;
            for (k, expected) in expected.as_array().unwrap().iter().enumerate() {
                let ours = log_likelihood(&units(&[(k as u32, n)]), 0.75, 0.125)
                    .unwrap()
                    .exp();
                assert_close(ours, expected.as_f64().unwrap(), 1e-10);
                sum += ours;
            }
            assert_close(sum, 1.0, 1e-12);
        }
    }

    #[test]
    fn counts_that_differ_less_than_chance_have_no_spread() {
        // Underdispersed: S = 12.5 < 60, so theta = 0.
        let even = units(&[(8, 10), (8, 10), (8, 10), (8, 10), (9, 10), (7, 10)]);
        let found = fit_at_least(&even, 2);
        assert_eq!(found, Fit::NoSpread { mu: 0.8, trials: 60 });
        let likelihood = log_likelihood(&even, 0.8, 0.0).unwrap();
        assert_close(likelihood, -7.707_418_617_433_9, 1e-11);
        // The slope at the boundary is (12.5 - 60) / 2.
        let slope = Tally::new(&even).at(0.8, 0.2, 0.0).by_theta;
        assert_close(slope, -23.75, 1e-11);
        // A unit is believed as the common rate is known: alpha + beta is all trials, not infinity.
        assert_close(found.prior().strength(), 60.0, 1e-12);
        let interval = Posterior::new(found.prior(), Counts::new(8, 10).unwrap()).interval(Confidence::P95);
        assert!(interval.low < 0.75 && interval.high > 0.85, "{interval:?}");
    }

    #[test]
    fn derivatives_agree_with_differences() {
        let tally = Tally::new(&units(&[(9, 12), (0, 7), (5, 12), (12, 12), (3, 40)]));
        let at = |mu: f64, theta: f64| tally.at(mu, 1.0 - mu, theta);
        let (mu, theta, h) = (0.6, 0.25, 1e-6);
        let here = at(mu, theta);
        let [left, right] = [at(mu - h, theta), at(mu + h, theta)];
        let [down, up] = [at(mu, theta - h), at(mu, theta + h)];
        let difference = |a: f64, b: f64| (b - a) / (2.0 * h);
        assert_close(here.by_mu, difference(left.value, right.value), 1e-7);
        assert_close(here.by_theta, difference(down.value, up.value), 1e-7);
        assert_close(here.by_mu_mu, difference(left.by_mu, right.by_mu), 1e-7);
        assert_close(here.by_mu_theta, difference(left.by_theta, right.by_theta), 1e-7);
        assert_close(here.by_theta_theta, difference(down.by_theta, up.by_theta), 1e-7);
    }

    #[test]
    fn what_cannot_be_fitted_names_its_reason() {
        let reason = |units: &[Counts]| match fit(units) {
            Fit::WeakPrior { reason, .. } => reason,
            other => panic!("{other:?}"),
        };
        assert_eq!(reason(&[]), WeakReason::NothingObserved);
        assert_eq!(reason(&units(&[(0, 0); 20])), WeakReason::NothingObserved);
        assert_eq!(
            reason(&units(&[(5, 10); 7])),
            WeakReason::TooFewUnits { units: 7, needed: 8 }
        );
        assert_eq!(reason(&units(&[(0, 10); 9])), WeakReason::AllZero);
        assert_eq!(reason(&units(&[(10, 10); 9])), WeakReason::AllFull);
        let single: Vec<_> = (0..20).map(|i| (i % 2, 1)).collect();
        assert_eq!(reason(&units(&single)), WeakReason::SingleKernels);
        let extremes: Vec<_> = (0..20).map(|i| (10 * (i % 2), 10)).collect();
        assert_eq!(reason(&units(&extremes)), WeakReason::OnlyExtremes);
        // The weak prior: two trials' worth, centred at (k + 1) / (n + 2).
        let prior = fit(&units(&[(10, 10); 9])).prior();
        assert_close(prior.alpha() + prior.beta(), 2.0, 1e-12);
        assert_close(prior.mean(), 91.0 / 92.0, 1e-12);
        assert_close(fit(&[]).prior().alpha(), 1.0, 1e-12);
    }

    #[test]
    fn one_unit_inside_among_extremes_still_settles() {
        let mut pairs: Vec<_> = (0..40).map(|i| (10 * (i % 2), 10)).collect();
        pairs.push((3, 10));
        let Fit::Fitted(found) = fit(&units(&pairs)) else {
            panic!("not fitted")
        };
        assert!(found.theta > 5.0 && found.gradient_norm < 1e-9, "{found:?}");
    }

    #[test]
    fn many_units_and_the_largest_totals_settle() {
        let many: Vec<_> = (0..10_000u32).map(|i| ((i * 7919) % 1009 % 13, 12)).collect();
        let Fit::Fitted(found) = fit(&units(&many)) else {
            panic!("not fitted")
        };
        assert!(found.gradient_norm < 1e-9, "{found:?}");
        let large: Vec<_> = (1..=12u32).map(|i| (i * 7_000, 100_000)).collect();
        assert!(
            matches!(fit(&units(&large)), Fit::Fitted(_)),
            "{:?}",
            fit(&units(&large))
        );
    }

    fn any_counts(largest: u32) -> impl Strategy<Value = Counts> {
        (0..=largest, 0..=largest).prop_map(|(a, b)| Counts::new(a.min(b), a.max(b)).unwrap())
    }

    proptest! {
        #[test]
        fn any_units_give_a_usable_prior(units in prop::collection::vec(any_counts(30), 0..40)) {
            let found = fit(&units);
            let unsettled = matches!(found, Fit::WeakPrior { reason: WeakReason::NotSettled, .. });
            prop_assert!(!unsettled, "{found:?}");
            if let Fit::Fitted(fitted) = found {
                prop_assert!(fitted.gradient_norm < 1e-9);
                prop_assert!(fitted.log_likelihood >= fitted.log_likelihood_binomial);
                prop_assert!(fitted.mu_error > 0.0 && fitted.rho_error > 0.0);
            }
            for unit in units {
                let posterior = Posterior::new(found.prior(), unit);
                let Interval { low, high } = posterior.interval(Confidence::P90);
                prop_assert!((0.0..=1.0).contains(&posterior.mean()));
                prop_assert!(0.0 <= low && low <= high && high <= 1.0);
            }
        }

        #[test]
        fn exchanging_success_and_failure_mirrors_the_fit(
            units in prop::collection::vec(any_counts(15), 8..30),
        ) {
            let mirrored: Vec<_> = units.iter().map(|u| Counts::new(u.n() - u.k(), u.n()).unwrap()).collect();
            let (found, mirror) = (fit(&units), fit(&mirrored));
            prop_assert!((found.mu() + mirror.mu() - 1.0).abs() < 1e-7, "{found:?} {mirror:?}");
            prop_assert!((found.theta() - mirror.theta()).abs() < 1e-7 * (1.0 + found.theta()));
        }
    }
}
