//! Optimum contributions: which share each ear gets, for the highest mean at a ceiling on coancestry.
//!
//! The gain `g'c` is made as high as it can be over shares with `1'c = 1`, `0 <= c <= most` and `c'Tc <= ceiling`,
//! where `T` holds the coancestries. Source: Meuwissen 1997, J. Anim. Sci. 75:934 (from memory). His rule, to drop
//! whoever comes out negative, can end in the wrong place; here pairs of shares are moved against each other until
//! none would rise by it, which always ends at the one optimum, and the last digits come from his closed form on the ears
//! that are in. What is handed back has passed its optimality conditions.

use super::inbreeding::mean_coancestry;
use crate::stats::mixed::skyline::Skyline;

/// Largest violation of an optimality condition, relative to the range of the gains or to the coancestry.
const PROVED: f64 = 1e-9;
/// Pairs are moved until no two gradients differ by more than this part of the range of the gains.
const MOVED: f64 = 1e-7;
/// Moves of pairs for each ear at one price of coancestry, at most.
const MOVES: usize = 2000;
/// A part of the coancestry that is no saving but rounding of numbers.
const LEAST_SAVED: f64 = 1e-12;
/// A share that is as good as none.
const DUST: f64 = 1e-11;
/// Prices of coancestry that are tried for one ceiling, at most.
const PRICES: usize = 120;

/// What the shares are asked for.
#[derive(Debug, Clone, Copy)]
pub struct Candidates<'a> {
    /// What an ear brings, in any unit, one number for each ear.
    pub gains: &'a [f64],
    /// The coancestry of kernels of two ears, row by row: a symmetric matrix, as many rows and columns as ears,
    /// positive semidefinite.
    pub coancestry: &'a [f64],
    /// The largest share that an ear can have, 0 to 1: its packet may hold too little for more.
    pub most: &'a [f64],
}

/// Shares that nothing can better.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    /// The share of each ear; together 1.
    pub shares: Vec<f64>,
    /// Mean of the gains by these shares.
    pub gain: f64,
    /// Mean coancestry by these shares, a kernel with itself left out.
    pub coancestry: f64,
    /// What one unit of coancestry more would bring, in units of the gains: zero where the gain cannot rise. `None` at
    /// the least coancestry that there is, where it has no bound.
    pub gain_per_coancestry: Option<f64>,
}

/// Why there are no shares.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoShares {
    /// Lists of unequal length, no ear, numbers that are not finite, a share outside 0 to 1, a matrix that is not
    /// symmetric.
    #[error("the ears, their kinship and their largest shares do not fit together")]
    Unfit,
    /// All largest shares together are less than the whole.
    #[error("the packets hold only {reach:.3} of what is to be planted")]
    TooLittle {
        /// Sum of the largest shares.
        reach: f64,
    },
    /// No shares have so little coancestry.
    #[error("a coancestry of {ceiling} cannot be reached: the least is {least}")]
    Ceiling {
        /// What was asked for.
        ceiling: f64,
        /// The least coancestry of any shares.
        least: f64,
    },
    /// The conditions of an optimum were not met closely enough to call it one.
    #[error("no shares could be proved to be the best: off by {by:e}")]
    NotProved {
        /// The largest violation, relative.
        by: f64,
    },
}

/// The shares of the highest gain whose coancestry is not above `ceiling`.
///
/// # Errors
/// See [`NoShares`].
pub fn optimum_shares(candidates: Candidates<'_>, ceiling: f64) -> Result<Shares, NoShares> {
    let mut search = Search::new(candidates)?;
    if !ceiling.is_finite() {
        return Err(NoShares::Unfit);
    }
    let highest = search.highest();
    let least = search.least()?;
    search.shares_at(ceiling, &least, &highest)
}

/// The shares with the least coancestry that there is.
///
/// # Errors
/// See [`NoShares`].
pub fn least_coancestry(candidates: Candidates<'_>) -> Result<Shares, NoShares> {
    Search::new(candidates)?.least()
}

/// So many optima from the least coancestry to that of the highest gain, at equal steps of the effective size, which goes
/// with one over the coancestry; the two ends belong to them. Where both ends are one, a single one.
///
/// # Errors
/// See [`NoShares`].
pub fn frontier(candidates: Candidates<'_>, points: usize) -> Result<Vec<Shares>, NoShares> {
    let mut search = Search::new(candidates)?;
    let highest = search.highest();
    let least = search.least()?;
    let (from, to) = (least.coancestry, highest.coancestry);
    if points < 2 || to - from <= PROVED * to || from <= 0.0 {
        return Ok(vec![highest]);
    }
    let steps = points - 1;
    let mut found = vec![least.clone()];
    for step in 1..steps {
        let part = step as f64 / steps as f64;
        let ceiling = 1.0 / ((1.0 - part) / from + part / to);
        found.push(search.shares_at(ceiling, &least, &highest)?);
    }
    found.push(highest);
    Ok(found)
}

/// Whole kernels by these shares: `kernels` in all, never more than `most` of an ear, and a mean coancestry not above
/// `ceiling`. `None` where nothing was found that keeps all three. Where the coancestry of two ears depends on the
/// smallest group alone that both are in, and groups lie within groups, there is nothing then: moving single kernels leads
/// to the least coancestry of whole kernels (an M-convex function; Murota 2003, Discrete Convex Analysis, from memory).
///
/// Rounded by largest remainders; then kernels move from ear to ear, where a move costs the least gain for the
/// coancestry that it saves, until the ceiling is kept.
pub fn whole_kernels(
    candidates: Candidates<'_>,
    shares: &[f64],
    kernels: u32,
    most: &[u32],
    ceiling: f64,
) -> Option<Vec<u32>> {
    let n = shares.len();
    let fits = candidates.gains.len() == n && candidates.coancestry.len() == n * n && most.len() == n;
    let room: u64 = most.iter().map(|most| u64::from(*most)).sum();
    if !fits || kernels == 0 || room < u64::from(kernels) {
        return None;
    }
    let total = f64::from(kernels);
    let wanted = |ear: usize| shares[ear] * total;
    let mut whole: Vec<u32> = (0..n)
        .map(|ear| (wanted(ear).max(0.0).floor() as u32).min(most[ear]))
        .collect();
    // The largest remainder first; the ear noted first of equal ones.
    loop {
        let planted: u64 = whole.iter().map(|kernels| u64::from(*kernels)).sum();
        let missing = u64::from(kernels).checked_sub(planted)?;
        if missing == 0 {
            break;
        }
        let mut next: Vec<usize> = (0..n).filter(|ear| whole[*ear] < most[*ear]).collect();
        let left = |ear: usize| wanted(ear) - f64::from(whole[ear]);
        next.sort_by(|a, b| left(*b).total_cmp(&left(*a)));
        for ear in next.into_iter().take(missing as usize) {
            whole[ear] += 1;
        }
    }
    let matrix = Matrix {
        n,
        entries: candidates.coancestry,
    };
    let step = 1.0 / total;
    let mut product = matrix.times(
        &whole
            .iter()
            .map(|kernels| f64::from(*kernels) * step)
            .collect::<Vec<_>>(),
    );
    let mean = |whole: &[u32], product: &[f64]| -> f64 {
        let pairs = whole.iter().zip(product);
        pairs
            .map(|(kernels, product)| f64::from(*kernels) * step * product)
            .sum()
    };
    for _ in 0..=n + kernels as usize {
        let over = mean(&whole, &product) - ceiling;
        if over <= 0.0 {
            return Some(whole);
        }
        let mut best: Option<(f64, usize, usize)> = None;
        for from in (0..n).filter(|ear| whole[*ear] > 0) {
            for to in (0..n).filter(|ear| *ear != from && whole[*ear] < most[*ear]) {
                let bend = matrix.at(from, from) + matrix.at(to, to) - 2.0 * matrix.at(from, to);
                let saved = 2.0 * step * (product[from] - product[to]) - step * step * bend;
                // What only rounding saves would move there and back for ever.
                if saved <= LEAST_SAVED * ceiling {
                    continue;
                }
                let lost = step * (candidates.gains[from] - candidates.gains[to]);
                // What is saved beyond the need is worth nothing.
                let price = lost / saved.min(over);
                if best.is_none_or(|(least, ..)| price < least) {
                    best = Some((price, from, to));
                }
            }
        }
        let (_, from, to) = best?;
        whole[from] -= 1;
        whole[to] += 1;
        for (ear, product) in product.iter_mut().enumerate() {
            *product += step * (matrix.at(ear, to) - matrix.at(ear, from));
        }
    }
    None
}

/// A square matrix, row by row.
#[derive(Debug, Clone, Copy)]
struct Matrix<'a> {
    n: usize,
    entries: &'a [f64],
}

impl Matrix<'_> {
    fn at(&self, row: usize, column: usize) -> f64 {
        self.entries[row * self.n + column]
    }

    fn row(&self, row: usize) -> &[f64] {
        &self.entries[row * self.n..(row + 1) * self.n]
    }

    fn times(&self, x: &[f64]) -> Vec<f64> {
        (0..self.n).map(|row| dot(self.row(row), x)).collect()
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The search for the best shares at one price of coancestry after another.
struct Search<'a> {
    gains: &'a [f64],
    matrix: Matrix<'a>,
    most: &'a [f64],
    /// Range of the gains, by which the conditions are measured; 1 where all are equal.
    scale: f64,
    shares: Vec<f64>,
    /// The price of coancestry of the last shares that were found.
    price: Option<f64>,
}

impl<'a> Search<'a> {
    fn new(candidates: Candidates<'a>) -> Result<Self, NoShares> {
        let Candidates {
            gains,
            coancestry,
            most,
        } = candidates;
        let n = gains.len();
        let finite = |numbers: &[f64]| numbers.iter().all(|number| number.is_finite());
        let fits = n > 0 && most.len() == n && coancestry.len() == n * n;
        let fits =
            fits && finite(gains) && finite(coancestry) && most.iter().all(|most| (0.0..=1.0).contains(most));
        if !fits {
            return Err(NoShares::Unfit);
        }
        let matrix = Matrix {
            n,
            entries: coancestry,
        };
        let is_symmetric = (0..n).all(|i| {
            matrix.at(i, i) >= 0.0 && (0..i).all(|j| (matrix.at(i, j) - matrix.at(j, i)).abs() <= 1e-12)
        });
        if !is_symmetric {
            return Err(NoShares::Unfit);
        }
        let reach: f64 = most.iter().sum();
        if reach < 1.0 - 1e-12 {
            return Err(NoShares::TooLittle { reach });
        }
        let highest = gains.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let lowest = gains.iter().copied().fold(f64::INFINITY, f64::min);
        let range = highest - lowest;
        let mut left = 1.0;
        let shares = most
            .iter()
            .map(|most| {
                let share = (most / reach).min(*most).min(left);
                left -= share;
                share
            })
            .collect();
        Ok(Self {
            gains,
            matrix,
            most,
            scale: if range > 0.0 { range } else { 1.0 },
            shares,
            price: None,
        })
    }
}

impl Search<'_> {
    /// The shares of the least coancestry.
    fn least(&mut self) -> Result<Shares, NoShares> {
        let all = vec![true; self.matrix.n];
        self.move_pairs(
            Weights {
                price: 1.0,
                gain: 0.0,
            },
            &all,
            1e-12,
        );
        if let Some((fixed, along)) = self.on_support(0.0) {
            self.try_shares(
                &fixed,
                &along,
                0.0,
                Weights {
                    price: 1.0,
                    gain: 0.0,
                },
            );
        }
        self.proved(Weights {
            price: 1.0,
            gain: 0.0,
        })?;
        Ok(self.result(None))
    }

    /// The shares of the highest gain; of equal ones those with the least coancestry.
    fn highest(&mut self) -> Shares {
        let mut order: Vec<usize> = (0..self.matrix.n).collect();
        order.sort_by(|a, b| self.gains[*b].total_cmp(&self.gains[*a]));
        let mut left = 1.0_f64;
        let mut last = f64::NEG_INFINITY;
        for ear in order {
            let share = self.most[ear].min(left);
            self.shares[ear] = share;
            left -= share;
            if share > 0.0 {
                last = self.gains[ear];
            }
        }
        let equal: Vec<bool> = self
            .gains
            .iter()
            .map(|gain| gain.total_cmp(&last).is_eq())
            .collect();
        self.move_pairs(
            Weights {
                price: 1.0,
                gain: 0.0,
            },
            &equal,
            1e-12,
        );
        self.result(Some(0.0))
    }

    /// Begins at the shares and the price of coancestry at which the search stands.
    fn shares_at(&mut self, ceiling: f64, least: &Shares, highest: &Shares) -> Result<Shares, NoShares> {
        if highest.coancestry <= ceiling {
            return Ok(highest.clone());
        }
        if least.coancestry > ceiling * (1.0 + PROVED) {
            return Err(NoShares::Ceiling {
                ceiling,
                least: least.coancestry,
            });
        }
        if least.coancestry >= ceiling * (1.0 - PROVED) {
            return Ok(least.clone());
        }
        let all = vec![true; self.matrix.n];
        let (mut low, mut high) = (0.0_f64, f64::INFINITY);
        let mut price = self.price.unwrap_or(self.scale / ceiling);
        for attempt in 0..PRICES {
            // Ears that are copies of each other have no closed form: then the pairs alone must give the digits.
            let tolerance = if attempt < PRICES / 3 { MOVED } else { 1e-13 };
            let weights = Weights { price, gain: 1.0 };
            self.move_pairs(weights, &all, tolerance);
            let moved = self.result(Some(price / 2.0));
            let mut guess = None;
            if let Some((fixed, along)) = self.on_support(1.0)
                && let Some(inverse) = self.inverse_price(&fixed, &along, ceiling)
            {
                let weights = Weights {
                    price: 1.0 / inverse,
                    gain: 1.0,
                };
                if self.try_shares(&fixed, &along, inverse, weights) {
                    self.price = Some(1.0 / inverse);
                    return Ok(self.result(Some(0.5 / inverse)));
                }
                guess = Some(1.0 / inverse);
            }
            let is_at = (moved.coancestry / ceiling - 1.0).abs() <= PROVED;
            if is_at && self.violation(weights) <= PROVED {
                return Ok(moved);
            }
            if moved.coancestry > ceiling {
                low = price;
            } else {
                high = price;
            }
            let middle = match (low > 0.0, high.is_finite()) {
                (true, true) => (low * high).sqrt(),
                (false, _) => high / 16.0,
                (_, false) => low * 16.0,
            };
            price = guess
                .filter(|guess| attempt % 3 < 2 && low < *guess && *guess < high)
                .unwrap_or(middle);
        }
        let by = self.violation(Weights { price, gain: 1.0 });
        Err(NoShares::NotProved { by })
    }

    /// Moves share from one ear to another, where it helps most, until no move helps: `price / 2 c'Tc - gain g'c` is as
    /// small as it can be.
    fn move_pairs(&mut self, weights: Weights, movable: &[bool], tolerance: f64) {
        let n = self.matrix.n;
        let mut slope = self.slope(weights);
        let enough = tolerance * self.measure(weights, &slope);
        for _ in 0..MOVES * n {
            let rising = (0..n).filter(|ear| movable[*ear] && self.shares[*ear] < self.most[*ear]);
            let Some(to) = rising.min_by(|a, b| slope[*a].total_cmp(&slope[*b])) else {
                return;
            };
            let mut best: Option<(f64, usize, f64)> = None;
            for from in (0..n).filter(|ear| movable[*ear] && self.shares[*ear] > 0.0) {
                let differ = slope[from] - slope[to];
                if differ <= enough {
                    continue;
                }
                let bend =
                    self.matrix.at(from, from) + self.matrix.at(to, to) - 2.0 * self.matrix.at(from, to);
                let bend = (weights.price * bend).max(f64::MIN_POSITIVE);
                let better = differ * differ / bend;
                if best.is_none_or(|(most, ..)| better > most) {
                    best = Some((better, from, differ / bend));
                }
            }
            let Some((_, from, step)) = best else {
                return;
            };
            let room = self.most[to] - self.shares[to];
            let step = if step >= self.shares[from] && self.shares[from] <= room {
                // Exactly none is left.
                std::mem::take(&mut self.shares[from])
            } else {
                let step = step.min(room);
                self.shares[from] -= step;
                step
            };
            self.shares[to] = (self.shares[to] + step).min(self.most[to]);
            let rows = self.matrix.row(to).iter().zip(self.matrix.row(from));
            for (slope, (to, from)) in slope.iter_mut().zip(rows) {
                *slope += weights.price * step * (to - from);
            }
        }
    }

    /// How `price / 2 c'Tc - gain g'c` rises with each share.
    fn slope(&self, weights: Weights) -> Vec<f64> {
        let products = self.matrix.times(&self.shares);
        let pairs = products.iter().zip(self.gains);
        pairs
            .map(|(product, gain)| weights.price * product - weights.gain * gain)
            .collect()
    }

    /// What a difference of two slopes is measured by.
    fn measure(&self, weights: Weights, slope: &[f64]) -> f64 {
        let mean: f64 = slope
            .iter()
            .zip(&self.shares)
            .map(|(slope, share)| slope.abs() * share)
            .sum();
        weights.gain * self.scale + if weights.gain == 0.0 { mean } else { 0.0 }
    }

    /// How far the shares are from an optimum: no ear that could have more may rise less steeply than one that could
    /// have less.
    fn violation(&self, weights: Weights) -> f64 {
        let slope = self.slope(weights);
        let of = |ears: &dyn Fn(usize) -> bool, start: f64, pick: fn(f64, f64) -> f64| {
            let ears = (0..self.matrix.n).filter(|ear| ears(*ear));
            ears.map(|ear| slope[ear]).fold(start, pick)
        };
        let steepest = of(&|ear| self.shares[ear] > 0.0, f64::NEG_INFINITY, f64::max);
        let flattest = of(&|ear| self.shares[ear] < self.most[ear], f64::INFINITY, f64::min);
        let whole = (self.shares.iter().sum::<f64>() - 1.0).abs();
        let apart = if flattest.is_finite() {
            steepest - flattest
        } else {
            0.0
        };
        (apart / self.measure(weights, &slope)).max(whole)
    }

    fn proved(&self, weights: Weights) -> Result<(), NoShares> {
        let by = self.violation(weights);
        if by <= PROVED {
            Ok(())
        } else {
            Err(NoShares::NotProved { by })
        }
    }

    /// On the ears that have a share below their largest the optimum is `fixed + along / price`: solved in closed form, with
    /// the gains weighed by `gain`. `None` where ears are copies of each other.
    fn on_support(&self, gain: f64) -> Option<(Vec<f64>, Vec<f64>)> {
        let n = self.matrix.n;
        let is_full = |ear: usize| self.shares[ear] >= self.most[ear] - DUST;
        let free: Vec<usize> = (0..n)
            .filter(|ear| self.shares[*ear] > DUST && !is_full(*ear))
            .collect();
        let full: Vec<usize> = (0..n)
            .filter(|ear| self.shares[*ear] > DUST && is_full(*ear))
            .collect();
        let mut fixed = vec![0.0; n];
        let mut along = vec![0.0; n];
        for ear in &full {
            fixed[*ear] = self.most[*ear];
        }
        if free.is_empty() {
            return Some((fixed, along));
        }
        let mut system = Skyline::new(vec![0; free.len()]);
        for (row, ear) in free.iter().enumerate() {
            for (column, other) in free[..=row].iter().enumerate() {
                system.add(row, column, self.matrix.at(*ear, *other));
            }
        }
        let factor = system.factor(0.0, 1e-12).ok()?;
        let solved = |of: &dyn Fn(usize) -> f64| {
            let mut b: Vec<f64> = free.iter().map(|ear| of(*ear)).collect();
            factor.solve(&mut b);
            b
        };
        let one = solved(&|_| 1.0);
        let gains = solved(&|ear| gain * self.gains[ear]);
        let beside = solved(&|ear| {
            full.iter()
                .map(|other| self.matrix.at(ear, *other) * self.most[*other])
                .sum()
        });
        let sum = |numbers: &[f64]| numbers.iter().sum::<f64>();
        let rest = 1.0 - full.iter().map(|ear| self.most[*ear]).sum::<f64>();
        let (ones, level) = (sum(&one), sum(&gains) / sum(&one));
        for (at, ear) in free.iter().enumerate() {
            fixed[*ear] = one[at] * (rest + sum(&beside)) / ones - beside[at];
            along[*ear] = gains[at] - level * one[at];
        }
        Some((fixed, along))
    }

    /// The inverse price at which `fixed + along / price` has the coancestry `ceiling`.
    fn inverse_price(&self, fixed: &[f64], along: &[f64], ceiling: f64) -> Option<f64> {
        let product = self.matrix.times(along);
        let (square, half) = (dot(&product, along), dot(&product, fixed));
        let rest = dot(&self.matrix.times(fixed), fixed) - ceiling;
        let root = half.mul_add(half, -square * rest);
        if !(square > 0.0 && root >= 0.0) {
            return None;
        }
        // The larger root, without taking nearly equal numbers from each other.
        let inverse = if half > 0.0 {
            -rest / (half + root.sqrt())
        } else {
            (root.sqrt() - half) / square
        };
        (inverse > 0.0 && inverse.is_finite()).then_some(inverse)
    }

    /// Takes `fixed + along * inverse` for the shares if they are possible and nothing betters them.
    fn try_shares(&mut self, fixed: &[f64], along: &[f64], inverse: f64, weights: Weights) -> bool {
        let mut shares = Vec::with_capacity(fixed.len());
        for ((fixed, along), most) in fixed.iter().zip(along).zip(self.most) {
            let share = fixed + along * inverse;
            if !(-DUST..=most + DUST).contains(&share) {
                return false;
            }
            shares.push(share.clamp(0.0, *most));
        }
        let before = std::mem::replace(&mut self.shares, shares);
        let is_best = self.violation(weights) <= PROVED;
        if !is_best {
            self.shares = before;
        }
        is_best
    }

    /// The shares as they stand.
    fn result(&self, gain_per_coancestry: Option<f64>) -> Shares {
        Shares {
            gain: dot(self.gains, &self.shares),
            coancestry: mean_coancestry(&self.shares, self.matrix.entries),
            shares: self.shares.clone(),
            gain_per_coancestry,
        }
    }
}

/// What coancestry costs and what gain is worth.
#[derive(Debug, Clone, Copy)]
struct Weights {
    price: f64,
    gain: f64,
}
