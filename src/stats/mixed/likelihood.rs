//! The log-likelihood of the main model with its exact gradient and Hessian.
//!
//! The random effect of a unit is integrated by the trapezoid rule, centred at its mode, from end to end of all
//! that matters. For an analytic integrand that dies out on both sides the rule converges geometrically
//! (Trefethen and Weideman 2014, SIAM Rev. 56:385, from memory), and its step follows from the digits wanted.
//! Adaptive Gauss-Hermite quadrature, the usual choice, needs as many nodes for units in the middle, and with 31
//! of them still misses the fifth digit where units are all full and sigma is 3. Gradient and Hessian are those
//! of the integral: with `s` the slopes and `M` the second derivatives of the
//! log-likelihood given the effect, `E[s]` and `E[M] + Var[s]` under its posterior (Louis 1982, J. R. Stat.
//! Soc. B 44:226, from memory).

use std::collections::BTreeMap;
use std::f64::consts::PI;

use super::skyline::Skyline;

/// The standard deviation, on the logit scale, of the weak prior that holds a level whose counts are all zero
/// or all full.
pub const WEAK_SPREAD: f64 = 2.0;

/// Beyond this distance from even odds a rate is 0 or 1 to all digits.
pub(super) const FARTHEST_LOGIT: f64 = 300.0;

/// The largest standard deviation on the logit scale: with a larger one every rate is 0 or 1.
pub(super) const MOST_SIGMA: f64 = 20.0;

/// The search for a mode ends with a step below this: the centre of the rule need not be exact.
const CLOSE_TO_MODE: f64 = 1e-2;

/// Rates are kept this far from 0 and 1 where they are divided by twice.
const LEAST_RATE: f64 = 1e-150;

/// One cell as the likelihood needs it.
#[derive(Debug, Clone, Copy)]
pub(super) struct CellRow {
    pub(super) level: usize,
    pub(super) lot: Option<usize>,
    pub(super) k: f64,
    pub(super) n: f64,
}

/// The cells of one unit, or of `weight` units with equal cells; or one cell of a check lot.
#[derive(Debug, Clone, Copy)]
pub(super) struct Case {
    pub(super) start: usize,
    pub(super) end: usize,
    pub(super) weight: f64,
    /// Index of its trials among the sizes.
    pub(super) size: usize,
    /// Whether the cells share a random effect.
    pub(super) is_random: bool,
}

/// Everything the likelihood is made of. Parameters in order: one intercept a tray, the columns, the lots, ln
/// sigma, ln theta; the last two only where the point has them.
#[derive(Debug, Clone, Default)]
pub(super) struct Problem {
    pub(super) levels: usize,
    pub(super) columns: usize,
    pub(super) lots: usize,
    pub(super) cases: Vec<Case>,
    pub(super) cells: Vec<CellRow>,
    /// The different trials of the cases.
    pub(super) sizes: Vec<f64>,
    /// `columns` values a cell.
    pub(super) values: Vec<f64>,
    /// Parameters held by a weak normal prior, and its centre.
    pub(super) held: Vec<(usize, f64)>,
}

/// Values of all parameters.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Point {
    pub(super) fixed: Vec<f64>,
    /// Standard deviation of the random effect, above 0.
    pub(super) sigma: Option<f64>,
    /// Spread of the rates of the cells of one unit, `rho / (1 - rho)`.
    pub(super) theta: Option<f64>,
}

impl Point {
    pub(super) fn sigma_index(&self) -> Option<usize> {
        self.sigma.map(|_| self.fixed.len())
    }

    pub(super) fn theta_index(&self) -> Option<usize> {
        self.theta
            .map(|_| self.fixed.len() + usize::from(self.sigma.is_some()))
    }

    pub(super) fn size(&self) -> usize {
        self.fixed.len() + usize::from(self.sigma.is_some()) + usize::from(self.theta.is_some())
    }

    /// The point one step away; sigma and theta move on the log scale.
    pub(super) fn moved(&self, step: &[f64]) -> Self {
        let mut next = self.clone();
        for (value, change) in next.fixed.iter_mut().zip(step) {
            *value += change;
        }
        if let (Some(index), Some(sigma)) = (self.sigma_index(), self.sigma) {
            next.sigma = Some(sigma * step[index].exp());
        }
        if let (Some(index), Some(theta)) = (self.theta_index(), self.theta) {
            next.theta = Some(theta * step[index].exp());
        }
        next
    }
}

/// The log-likelihood without its binomial coefficients and with the weak priors, its gradient, and minus its
/// Hessian.
pub(super) struct Surface {
    pub(super) value: f64,
    pub(super) gradient: Vec<f64>,
    pub(super) information: Skyline,
    /// Without a random effect: the slope by the variance of one, at zero.
    pub(super) variance_slope: f64,
    /// The slope by theta.
    pub(super) theta_slope: f64,
}

impl Surface {
    pub(super) fn gradient_norm(&self) -> f64 {
        self.gradient.iter().map(|slope| slope.abs()).fold(0.0, f64::max)
    }
}

/// The log-likelihood of one cell and its derivatives by the logit and by theta.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Slopes {
    pub(super) value: f64,
    pub(super) by_eta: f64,
    pub(super) by_eta_eta: f64,
    pub(super) by_theta: f64,
    pub(super) by_eta_theta: f64,
    pub(super) by_theta_theta: f64,
}

/// Binomial for no theta, else beta-binomial in its sum form, which is exact at theta 0 (Griffiths 1973,
/// Biometrics 29:637).
#[inline]
pub(super) fn slopes(cell: &CellRow, eta: f64, odds: f64, theta: Option<f64>) -> Slopes {
    if let Some(theta) = theta {
        return beta_binomial_slopes(cell, odds, theta);
    }
    let total = 1.0 + odds;
    let failure = 1.0 / total;
    let expected = cell.n * odds * failure;
    Slopes {
        value: cell.k * eta - cell.n * total.ln(),
        by_eta: cell.k - expected,
        by_eta_eta: -expected * failure,
        ..Slopes::default()
    }
}

#[inline(never)]
fn beta_binomial_slopes(cell: &CellRow, odds: f64, theta: f64) -> Slopes {
    let (k, n) = (cell.k, cell.n);
    let p = (odds / (1.0 + odds)).max(LEAST_RATE);
    let q = (1.0 / (1.0 + odds)).max(LEAST_RATE);
    let success = rising_sum(k as u32, p, theta);
    let failure = rising_sum((n - k) as u32, q, theta);
    let trial = rising_sum(n as u32, 1.0, theta);
    let variance = p * q;
    let by_p = success.first - failure.first;
    let by_p_p = -success.second - failure.second;
    Slopes {
        value: success.ln + failure.ln - trial.ln,
        by_eta: by_p * variance,
        by_eta_eta: by_p_p * variance * variance + by_p * variance * (q - p),
        by_theta: success.r_first + failure.r_first - trial.r_first,
        by_eta_theta: (failure.r_second - success.r_second) * variance,
        by_theta_theta: trial.rr_second - success.rr_second - failure.rr_second,
    }
}

/// Sums over `r` below a count of `ln(base + r theta)`, of its inverse and of the square of the inverse, plain
/// and times `r`.
#[derive(Default)]
struct RisingSum {
    ln: f64,
    first: f64,
    second: f64,
    r_first: f64,
    r_second: f64,
    rr_second: f64,
}

fn rising_sum(count: u32, base: f64, theta: f64) -> RisingSum {
    let mut sum = RisingSum::default();
    for r in 0..count {
        let r = f64::from(r);
        let argument = base + r * theta;
        let inverse = 1.0 / argument;
        let square = inverse * inverse;
        sum.ln += argument.ln();
        sum.first += inverse;
        sum.second += square;
        sum.r_first += r * inverse;
        sum.r_second += r * square;
        sum.rr_second += r * r * square;
    }
    sum
}

/// Sums over the nodes of one case. The local parameters are the logit of each cell, sigma, theta.
#[derive(Default)]
struct Local {
    /// Logit and odds of each cell.
    places: Vec<(f64, f64)>,
    /// Slopes at one node.
    slope: Vec<f64>,
    total: f64,
    mean: Vec<f64>,
    /// Lower half, row by row: mean of second derivative plus product of slopes.
    product: Vec<f64>,
    /// Second derivatives of the cells at one node: by the logit twice, by the logit and theta.
    waiting: Vec<(f64, f64)>,
    /// The parameters that a cell depends on with their factors, one cell after the other.
    entries: Vec<(usize, f64)>,
    ends: Vec<usize>,
}

impl Local {
    fn clear(&mut self, has_theta: bool) {
        let size = self.places.len() + 1 + usize::from(has_theta);
        self.total = 0.0;
        self.slope.clear();
        self.slope.resize(size, 0.0);
        self.mean.clear();
        self.mean.resize(size, 0.0);
        self.product.clear();
        self.product.resize(size * (size + 1) / 2, 0.0);
    }

    /// Turns the sums into the mean slopes and the Hessian.
    fn finish(&mut self) {
        for value in &mut self.mean {
            *value /= self.total;
        }
        let mut at = 0;
        for (i, a) in self.mean.iter().enumerate() {
            for b in &self.mean[..=i] {
                self.product[at] = self.product[at] / self.total - a * b;
                at += 1;
            }
        }
    }

    fn hessian(&self, i: usize, j: usize) -> f64 {
        let (row, column) = (i.max(j), i.min(j));
        self.product[row * (row + 1) / 2 + column]
    }
}

impl Problem {
    pub(super) fn fixed(&self) -> usize {
        self.levels + self.columns + self.lots
    }

    /// Notes the different trials of the cases.
    pub(super) fn measure(&mut self) {
        let mut index = BTreeMap::new();
        self.sizes.clear();
        for case in &mut self.cases {
            let trials: f64 = self.cells[case.start..case.end].iter().map(|cell| cell.n).sum();
            case.size = *index.entry(trials as u64).or_insert_with(|| {
                self.sizes.push(trials);
                self.sizes.len() - 1
            });
        }
    }

    /// Where each row of the information may begin.
    fn first_entries(&self, size: usize) -> Vec<usize> {
        let mut first: Vec<usize> = (0..size).collect();
        for case in &self.cases {
            let levels = self.cells[case.start..case.end].iter().map(|cell| cell.level);
            let Some(least) = levels.clone().min() else {
                continue;
            };
            for level in levels {
                first[level] = first[level].min(least);
            }
        }
        first[self.levels..].fill(0);
        first
    }

    /// The logit of a cell without its random effect.
    pub(super) fn linear(&self, cell: usize, fixed: &[f64]) -> f64 {
        let row = &self.cells[cell];
        let values = &self.values[cell * self.columns..(cell + 1) * self.columns];
        let slopes = &fixed[self.levels..self.levels + self.columns];
        let sum: f64 = values.iter().zip(slopes).map(|(x, b)| x * b).sum();
        let lot = row.lot.map_or(0.0, |lot| fixed[self.levels + self.columns + lot]);
        (fixed[row.level] + sum + lot).clamp(-FARTHEST_LOGIT, FARTHEST_LOGIT)
    }

    /// The logits of the cells of one case without the random effect, and their odds.
    pub(super) fn places(&self, case: &Case, point: &Point) -> Vec<(f64, f64)> {
        let logits = (case.start..case.end).map(|cell| self.linear(cell, &point.fixed));
        logits.map(|logit| (logit, logit.exp())).collect()
    }

    /// The log-likelihood of the cells of one case given the random effect, less half its square; `factor` is
    /// what the effect multiplies the odds by.
    pub(super) fn given_effect(
        &self,
        case: &Case,
        point: &Point,
        places: &[(f64, f64)],
        (z, factor): (f64, f64),
    ) -> f64 {
        let shift = point.sigma.unwrap_or(0.0) * z;
        let cells = self.cells[case.start..case.end].iter().zip(places);
        let sum: f64 = cells
            .map(|(cell, (logit, odds))| slopes(cell, logit + shift, odds * factor, point.theta).value)
            .sum();
        sum - 0.5 * z * z
    }

    /// The mode of the random effect of one case in units of its standard deviation, and the curvature there.
    pub(super) fn mode(&self, case: &Case, point: &Point, places: &[(f64, f64)], start: f64) -> (f64, f64) {
        let sigma = point.sigma.unwrap_or(0.0);
        let (mut low, mut high) = (f64::NEG_INFINITY, f64::INFINITY);
        let mut z = start;
        let mut curvature = 1.0;
        for _ in 0..60 {
            let (mut slope, mut second) = (-z, 1.0);
            let shift = (sigma * z).clamp(-FARTHEST_LOGIT, FARTHEST_LOGIT);
            let factor = shift.exp();
            for (cell, (logit, odds)) in self.cells[case.start..case.end].iter().zip(places) {
                let found = slopes(cell, logit + shift, odds * factor, point.theta);
                slope += sigma * found.by_eta;
                second -= sigma * sigma * found.by_eta_eta;
            }
            curvature = second.max(0.25);
            if slope > 0.0 {
                low = z;
            } else {
                high = z;
            }
            let mut next = z + slope / curvature;
            if next <= low || next >= high {
                next = if low.is_finite() && high.is_finite() {
                    0.5 * (low + high)
                } else {
                    z + slope.signum()
                };
            }
            let moved = (next - z).abs();
            z = next;
            if moved < CLOSE_TO_MODE {
                break;
            }
        }
        (z, curvature)
    }

    /// The surface at a point, integrals to about `exp(-depth)`. `modes` keeps each case's mode as the start of the next search.
    pub(super) fn surface(&self, point: &Point, depth: f64, modes: &mut [f64]) -> Surface {
        let size = point.size();
        let mut surface = Surface {
            value: 0.0,
            gradient: vec![0.0; size],
            information: Skyline::new(self.first_entries(size)),
            variance_slope: 0.0,
            theta_slope: 0.0,
        };
        let sigma = point.sigma.unwrap_or(0.0);
        if sigma > MOST_SIGMA {
            surface.value = f64::NEG_INFINITY;
            return surface;
        }
        let steps: Vec<f64> = if sigma > 0.0 {
            self.sizes
                .iter()
                .map(|&trials| step_length(sigma, trials, depth))
                .collect()
        } else {
            Vec::new()
        };
        let mut local = Local::default();
        for (case, mode) in self.cases.iter().zip(modes) {
            self.add_case(case, point, (depth, &steps), mode, &mut local, &mut surface);
        }
        for &(index, centre) in &self.held {
            let away = point.fixed[index] - centre;
            let precision = WEAK_SPREAD.powi(-2);
            surface.value -= 0.5 * precision * away * away;
            surface.gradient[index] -= precision * away;
            surface.information.add(index, index, precision);
        }
        surface
    }

    fn add_case(
        &self,
        case: &Case,
        point: &Point,
        (depth, steps): (f64, &[f64]),
        mode: &mut f64,
        local: &mut Local,
        surface: &mut Surface,
    ) {
        local.places.clear();
        for cell in case.start..case.end {
            let logit = self.linear(cell, &point.fixed);
            local.places.push((logit, logit.exp()));
        }
        local.clear(point.theta.is_some());
        let is_integrated = case.is_random && point.sigma.is_some();
        let value = if is_integrated {
            self.integrate(case, point, (depth, steps[case.size]), mode, local)
        } else {
            let value = self.add_node(case, point, Node::PLAIN, local);
            if case.is_random {
                // Half of the squared slope plus the second derivative, both by a shift of all cells.
                let cells = local.places.len();
                let both: f64 = (0..cells)
                    .flat_map(|i| (0..cells).map(move |j| (i, j)))
                    .map(|(i, j)| local.hessian(i, j))
                    .sum();
                surface.variance_slope += case.weight * 0.5 * both;
            }
            value
        };
        local.finish();
        surface.value += case.weight * value;
        self.scatter(case, point, local, surface);
    }

    /// Integrates one case over its random effect and returns its log-likelihood.
    fn integrate(
        &self,
        case: &Case,
        point: &Point,
        (depth, step): (f64, f64),
        mode: &mut f64,
        local: &mut Local,
    ) -> f64 {
        let sigma = point.sigma.unwrap_or(0.0);
        let (centre, _) = self.mode(case, point, &local.places, *mode);
        *mode = centre;
        if let ([place], None) = (&local.places[..], point.theta)
            && let Some(single) = Single::at(&self.cells[case.start], *place, sigma, centre)
        {
            return single.integrate((depth, step), local);
        }
        let mut node = Node {
            z: centre,
            shift: sigma * centre,
            factor: (sigma * centre).exp(),
            highest: None,
        };
        let middle = node;
        let highest = self.add_node(case, point, node, local);
        for side in [step, -step] {
            // The nodes are evenly spaced, so the odds grow by one factor from each to the next.
            let growth = (sigma * side).exp();
            node = Node {
                highest: Some(highest),
                ..middle
            };
            loop {
                node.z += side;
                node.shift += sigma * side;
                node.factor *= growth;
                if self.add_node(case, point, node, local) < highest - depth {
                    break;
                }
            }
        }
        highest + (local.total * step).ln() - 0.5 * (2.0 * PI).ln()
    }

    /// The mean random effect of one case, in units of its standard deviation.
    pub(super) fn mean_effect(&self, case: &Case, point: &Point, depth: f64, mode: f64) -> f64 {
        let places = self.places(case, point);
        let sigma = point.sigma.unwrap_or(0.0);
        let (centre, _) = self.mode(case, point, &places, mode);
        let step = step_length(sigma, self.sizes[case.size], depth);
        let value = |z: f64| self.given_effect(case, point, &places, (z, (sigma * z).exp()));
        let highest = value(centre);
        let (mut sum, mut total) = (centre, 1.0);
        for side in [step, -step] {
            let mut z = centre;
            loop {
                z += side;
                let fallen = value(z) - highest;
                sum += fallen.exp() * z;
                total += fallen.exp();
                if fallen < -depth {
                    break;
                }
            }
        }
        sum / total
    }

    /// Adds one node to the sums and returns the log-likelihood there.
    fn add_node(&self, case: &Case, point: &Point, node: Node, local: &mut Local) -> f64 {
        let cells = local.places.len();
        let (sigma_at, theta_at) = (cells, cells + 1);
        let mut value = -0.5 * node.z * node.z;
        local.slope[sigma_at] = 0.0;
        // The second derivatives need the weight, and the weight the value of all cells: they wait here.
        let (mut by_theta, mut eta_eta, mut eta_theta, mut theta_theta) = (0.0, 0.0, 0.0, 0.0);
        local.waiting.clear();
        for (i, cell) in self.cells[case.start..case.end].iter().enumerate() {
            let (logit, odds) = local.places[i];
            let found = slopes(cell, logit + node.shift, odds * node.factor, point.theta);
            value += found.value;
            local.slope[i] = found.by_eta;
            local.slope[sigma_at] += found.by_eta * node.z;
            by_theta += found.by_theta;
            eta_eta += found.by_eta_eta;
            eta_theta += found.by_eta_theta;
            theta_theta += found.by_theta_theta;
            local.waiting.push((found.by_eta_eta, found.by_eta_theta));
        }
        if let Some(slope) = local.slope.get_mut(theta_at) {
            *slope = by_theta;
        }
        let weight = node.highest.map_or(1.0, |highest| (value - highest).exp());
        local.total += weight;
        let mut at = 0;
        for (i, (slope, mean)) in local.slope.iter().zip(&mut local.mean).enumerate() {
            let weighted = weight * slope;
            *mean += weighted;
            for (product, other) in local.product[at..=at + i].iter_mut().zip(&local.slope) {
                *product += weighted * other;
            }
            at += i + 1;
        }
        let row = |i: usize| i * (i + 1) / 2;
        for (i, &(eta_eta, eta_theta)) in local.waiting.iter().enumerate() {
            local.product[row(i) + i] += weight * eta_eta;
            local.product[row(sigma_at) + i] += weight * eta_eta * node.z;
            if point.theta.is_some() {
                local.product[row(theta_at) + i] += weight * eta_theta;
            }
        }
        local.product[row(sigma_at) + sigma_at] += weight * eta_eta * node.z * node.z;
        if point.theta.is_some() {
            local.product[row(theta_at) + sigma_at] += weight * eta_theta * node.z;
            local.product[row(theta_at) + theta_at] += weight * theta_theta;
        }
        value
    }

    /// Spreads the slopes and the Hessian of one case over the parameters.
    fn scatter(&self, case: &Case, point: &Point, local: &mut Local, surface: &mut Surface) {
        let cells = local.places.len();
        let (sigma_at, theta_at) = (cells, cells + 1);
        local.entries.clear();
        local.ends.clear();
        for cell in case.start..case.end {
            let row = &self.cells[cell];
            local.entries.push((row.level, 1.0));
            for column in 0..self.columns {
                let value = self.values[cell * self.columns + column];
                if value != 0.0 {
                    local.entries.push((self.levels + column, value));
                }
            }
            if let Some(lot) = row.lot {
                local.entries.push((self.levels + self.columns + lot, 1.0));
            }
            local.ends.push(local.entries.len());
        }
        let of = |i: usize| {
            let from = if i == 0 { 0 } else { local.ends[i - 1] };
            &local.entries[from..local.ends[i]]
        };
        let weight = case.weight;
        let sigma = point.sigma_index().zip(point.sigma);
        let theta = point.theta_index().zip(point.theta);
        for i in 0..cells {
            for &(a, va) in of(i) {
                surface.gradient[a] += weight * va * local.mean[i];
                for j in 0..cells {
                    let second = weight * va * local.hessian(i, j);
                    for &(b, vb) in of(j) {
                        if b <= a {
                            surface.information.add(a, b, -second * vb);
                        }
                    }
                }
                if let Some((index, sigma)) = sigma {
                    let second = weight * sigma * local.hessian(sigma_at, i);
                    surface.information.add(index, a, -second * va);
                }
                if let Some((index, theta)) = theta {
                    let second = weight * theta * local.hessian(theta_at, i);
                    surface.information.add(index, a, -second * va);
                }
            }
        }
        if let Some((index, sigma)) = sigma {
            let slope = weight * sigma * local.mean[sigma_at];
            let second = weight * sigma * sigma * local.hessian(sigma_at, sigma_at);
            surface.gradient[index] += slope;
            surface.information.add(index, index, -second - slope);
        }
        let theta_slope = weight * local.mean.get(theta_at).copied().unwrap_or(0.0);
        surface.theta_slope += theta_slope;
        if let Some((index, theta)) = theta {
            let second = weight * theta * theta * local.hessian(theta_at, theta_at);
            surface.gradient[index] += theta * theta_slope;
            surface
                .information
                .add(index, index, -second - theta * theta_slope);
            if let Some((sigma_index, sigma)) = sigma {
                let second = weight * sigma * theta * local.hessian(theta_at, sigma_at);
                surface.information.add(index, sigma_index, -second);
            }
        }
    }
}

/// A unit with one binomial cell of few trials, as most are, at the mode of its effect. Relative to the mode the likelihood
/// is a product of powers, and the normal density at even steps a product of factors, so that no node needs a logarithm
/// or an exponential.
struct Single {
    k: i32,
    n: i32,
    sigma: f64,
    centre: f64,
    odds: f64,
    highest: f64,
}

impl Single {
    /// `None` where the powers could leave what floating point holds.
    fn at(cell: &CellRow, (logit, odds): (f64, f64), sigma: f64, centre: f64) -> Option<Self> {
        const MOST_TRIALS: f64 = 64.0;
        const LEAST_SHARE: f64 = 1e-4;
        let odds = odds * (sigma * centre).exp();
        let failure = 1.0 / (1.0 + odds);
        let is_held = cell.n <= MOST_TRIALS && failure.min(odds * failure) >= LEAST_SHARE;
        is_held.then(|| Self {
            k: cell.k as i32,
            n: cell.n as i32,
            sigma,
            centre,
            odds,
            highest: cell.k * (logit + sigma * centre) + cell.n * failure.ln() - 0.5 * centre * centre,
        })
    }

    /// As [`Problem::integrate`].
    fn integrate(&self, (depth, step): (f64, f64), local: &mut Local) -> f64 {
        let least = (-depth).exp();
        let (k, n) = (f64::from(self.k), f64::from(self.n));
        let mid_total = 1.0 + self.odds;
        let mut sums = [0.0; 6];
        let mut add = |z: f64, relative: f64, density: f64| {
            // The shares of success and failure by those at the mode.
            let failure = mid_total / (1.0 + self.odds * relative);
            let success = relative * failure;
            let weight = density * success.powi(self.k) * failure.powi(self.n - self.k);
            let share = failure / mid_total;
            let expected = n * (1.0 - share);
            let slope = k - expected;
            let second = weight * (slope * slope - expected * share);
            let terms = [
                weight,
                weight * slope,
                weight * slope * z,
                second,
                second * z,
                second * z * z,
            ];
            for (sum, term) in sums.iter_mut().zip(terms) {
                *sum += term;
            }
            weight
        };
        add(self.centre, 1.0, 1.0);
        let narrowing = (-step * step).exp();
        for side in [step, -step] {
            let growth = (self.sigma * side).exp();
            let (mut z, mut relative, mut density) = (self.centre, 1.0, 1.0);
            let mut fall = (-side * self.centre - 0.5 * step * step).exp();
            loop {
                z += side;
                relative *= growth;
                density *= fall;
                fall *= narrowing;
                if add(z, relative, density) < least {
                    break;
                }
            }
        }
        let [total, mean, mean_z, second, second_z, second_zz] = sums;
        local.total = total;
        local.mean.copy_from_slice(&[mean, mean_z]);
        local.product.copy_from_slice(&[second, second_z, second_zz]);
        self.highest + (total * step).ln() - 0.5 * (2.0 * PI).ln()
    }
}

/// The step of the trapezoid rule at which its error is below `exp(-depth)` for a case of so many trials.
///
/// Moved up by `y` from the real axis the integrand grows by no more than `exp(y^2 / 2) cos(sigma y / 2)^-n`:
/// the first from the normal density, the second from `(1 + exp(eta))^-n`. The error of the rule is that growth
/// times `exp(-2 pi y / step)`; the best height, below the poles at `pi / sigma`, allows the longest step.
fn step_length(sigma: f64, trials: f64, depth: f64) -> f64 {
    let step = |height: f64| {
        let growth = 0.5 * height * height - trials * (0.5 * sigma * height).cos().ln();
        2.0 * PI * height / (depth + growth)
    };
    // One rise and one fall: thirds of the bracket are cut away.
    let (mut low, mut high) = (0.0, (PI / sigma).min(20.0));
    for _ in 0..40 {
        let third = (high - low) / 3.0;
        if step(low + third) < step(high - third) {
            low += third;
        } else {
            high -= third;
        }
    }
    step(0.5 * (low + high))
}

/// One point of the quadrature.
#[derive(Clone, Copy)]
struct Node {
    z: f64,
    shift: f64,
    factor: f64,
    /// The log-likelihood at the centre; `None` at the centre itself.
    highest: Option<f64>,
}

impl Node {
    /// The only node of a case without a random effect.
    const PLAIN: Self = Self {
        z: 0.0,
        shift: 0.0,
        factor: 1.0,
        highest: None,
    };
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three trays, one column, one lot; units with one, two and three cells, one of them twice.
    fn example() -> Problem {
        let row = |level, lot, k, n| CellRow { level, lot, k, n };
        let case = |start, end, weight, is_random| Case {
            start,
            end,
            weight,
            size: 0,
            is_random,
        };
        let mut problem = Problem {
            levels: 3,
            columns: 1,
            lots: 1,
            cases: vec![
                case(0, 1, 2.0, true),
                case(1, 3, 1.0, true),
                case(3, 6, 1.0, true),
                case(6, 7, 1.0, false),
            ],
            cells: vec![
                row(0, None, 12.0, 12.0),
                row(0, None, 3.0, 12.0),
                row(1, None, 7.0, 11.0),
                row(1, None, 0.0, 12.0),
                row(2, None, 5.0, 10.0),
                row(2, None, 4.0, 12.0),
                row(0, Some(0), 18.0, 20.0),
            ],
            sizes: Vec::new(),
            values: vec![0.5, -1.0, 0.3, 1.2, -0.4, 0.0, 0.9],
            held: vec![(2, 0.4)],
        };
        problem.measure();
        problem
    }

    fn at(parameters: &[f64]) -> Point {
        Point {
            fixed: parameters[..5].to_vec(),
            sigma: Some(parameters[5].exp()),
            theta: Some(parameters[6].exp()),
        }
    }

    #[test]
    fn slopes_and_information_agree_with_differences() {
        const STEP: f64 = 1e-4;
        let problem = example();
        let here = [0.4, -0.2, 0.1, 0.3, 1.1, 0.8_f64.ln(), 0.06_f64.ln()];
        let surface = |parameters: &[f64]| problem.surface(&at(parameters), 32.0, &mut [0.0; 4]);
        let found = surface(&here);
        for index in 0..here.len() {
            let beside = |steps: f64| {
                let mut parameters = here;
                parameters[index] += steps * STEP;
                surface(&parameters)
            };
            let [far_left, left, right, far_right] = [-2.0, -1.0, 1.0, 2.0].map(beside);
            let slope = |value: &dyn Fn(&Surface) -> f64| {
                (8.0 * (value(&right) - value(&left)) - value(&far_right) + value(&far_left)) / (12.0 * STEP)
            };
            let by_values = slope(&|surface| surface.value);
            assert!((found.gradient[index] - by_values).abs() < 1e-8, "{index}");
            // Solving with the differences of all slopes along one parameter gives that parameter back.
            let mut column: Vec<f64> = (0..here.len())
                .map(|other| -slope(&|surface| surface.gradient[other]))
                .collect();
            let damped = found.information.factor(1.0, 0.0).unwrap();
            column[index] += 1.0 + found.information.diagonal(index).abs();
            damped.solve(&mut column);
            for (other, value) in column.iter().enumerate() {
                let expected = f64::from(u8::from(other == index));
                assert!((value - expected).abs() < 1e-7, "{index} {other}: {value}");
            }
        }
    }

    #[test]
    fn integrals_agree_with_a_fine_sum() {
        let problem = example();
        for sigma in [0.2, 1.0, 4.0, 12.0] {
            let point = Point {
                sigma: Some(sigma),
                ..at(&[0.4, -0.2, 0.1, 0.3, 1.1, 0.0, 0.06_f64.ln()])
            };
            let found = problem.surface(&point, 25.0, &mut [0.0; 4]).value;
            let width = 1e-3;
            let mut expected = -0.5 * ((0.1 - 0.4) / WEAK_SPREAD).powi(2);
            for case in &problem.cases {
                let places = problem.places(case, &point);
                let sum: f64 = (-12_000..=12_000)
                    .map(|step| width * f64::from(step))
                    .map(|z| {
                        problem
                            .given_effect(case, &point, &places, (z, (sigma * z).exp()))
                            .exp()
                    })
                    .sum();
                let integral = (sum * width / (2.0 * PI).sqrt()).ln();
                let alone = problem.given_effect(case, &point, &places, (0.0, 1.0));
                expected += case.weight * if case.is_random { integral } else { alone };
            }
            assert!(
                (found - expected).abs() < 1e-9 * expected.abs(),
                "{sigma}: {found} {expected}"
            );
        }
    }

    #[test]
    fn a_single_cell_is_integrated_as_any_other() {
        // The same cell alone, and as two cells of its successes and its failures, which take the longer way.
        for (k, n) in [(0.0, 10.0), (3.0, 12.0), (12.0, 12.0), (40.0, 64.0), (1.0, 65.0)] {
            for (sigma, level) in [(0.05, 0.3), (1.0, -2.0), (1.3, 1.5), (4.0, 0.2), (12.0, 5.0)] {
                let row = |k, n| CellRow {
                    level: 0,
                    lot: None,
                    k,
                    n,
                };
                let found = [vec![row(k, n)], vec![row(k, k), row(0.0, n - k)]].map(|cells| {
                    let mut problem = Problem {
                        levels: 1,
                        cases: vec![Case {
                            start: 0,
                            end: cells.len(),
                            weight: 1.0,
                            size: 0,
                            is_random: true,
                        }],
                        cells,
                        ..Problem::default()
                    };
                    problem.measure();
                    let point = Point {
                        fixed: vec![level],
                        sigma: Some(sigma),
                        theta: None,
                    };
                    let surface = problem.surface(&point, 28.0, &mut [0.0]);
                    let information = [0, 1].map(|index| surface.information.diagonal(index));
                    [
                        surface.value,
                        surface.gradient[0],
                        surface.gradient[1],
                        information[0],
                        information[1],
                    ]
                });
                for (a, b) in found[0].iter().zip(found[1]) {
                    assert!(
                        (a - b).abs() < 1e-10 * (1.0 + b.abs()),
                        "{k} {n} {sigma}: {found:?}"
                    );
                }
            }
        }
    }

    #[test]
    fn beta_binomial_cells_without_a_spread_are_binomial() {
        let cell = CellRow {
            level: 0,
            lot: None,
            k: 4.0,
            n: 11.0,
        };
        for eta in [-30.0_f64, -2.0, 0.0, 3.0, 30.0] {
            let plain = slopes(&cell, eta, eta.exp(), None);
            let wide = slopes(&cell, eta, eta.exp(), Some(0.0));
            assert!((plain.value - wide.value).abs() < 1e-10 * (1.0 + plain.value.abs()));
            assert!((plain.by_eta - wide.by_eta).abs() < 1e-10);
            assert!((plain.by_eta_eta - wide.by_eta_eta).abs() < 1e-10);
        }
    }
}
