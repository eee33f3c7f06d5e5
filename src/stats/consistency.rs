//! Whether counts that should agree do: replicates, pairs, neighbours in a tray, two scorers.

use std::collections::{BTreeMap, BTreeSet};

use rand_pcg::Pcg64;
use statrs::distribution::{ChiSquared, ContinuousCDF};
use statrs::function::gamma::ln_gamma;

use super::Counts;
use super::draw::below;

/// The chi-square test that cells have one rate.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heterogeneity {
    /// Pearson's statistic.
    pub statistic: f64,
    /// Degrees of freedom: cells less one.
    pub degrees: u32,
    /// The probability of a larger statistic if the rate were one.
    pub p_value: f64,
}

impl Heterogeneity {
    /// How much more the cells vary than chance lets them, the statistic by its degrees of freedom: 1 for
    /// chance alone.
    pub fn dispersion(&self) -> f64 {
        self.statistic / f64::from(self.degrees)
    }

    fn new(statistic: f64, degrees: u32) -> Self {
        let p_value = ChiSquared::new(f64::from(degrees)).map_or(1.0, |chi| chi.sf(statistic));
        Self {
            statistic,
            degrees,
            p_value,
        }
    }
}

/// Tests that the cells have one rate, by chi-square; `None` with fewer than two cells with trials.
///
/// The statistic is zero where all cells are zero or all full. With cells of 10 to 15 the chi-square is rough:
/// [`replicate_test`] is exact.
pub fn heterogeneity(cells: &[Counts]) -> Option<Heterogeneity> {
    let cells: Vec<Counts> = cells.iter().copied().filter(|cell| cell.n() > 0).collect();
    let degrees = u32::try_from(cells.len())
        .ok()?
        .checked_sub(1)
        .filter(|degrees| *degrees > 0)?;
    let total = total(&cells);
    let rate = total.0 as f64 / total.1 as f64;
    if total.0 == 0 || total.0 == total.1 {
        return Some(Heterogeneity {
            statistic: 0.0,
            degrees,
            p_value: 1.0,
        });
    }
    let statistic = cells
        .iter()
        .map(|cell| {
            let n = f64::from(cell.n());
            (f64::from(cell.k()) - n * rate).powi(2) / (n * rate * (1.0 - rate))
        })
        .sum();
    Some(Heterogeneity::new(statistic, degrees))
}

/// Adds up the tests of many units, each with its replicate cells; `None` where no unit says anything.
///
/// Units with one cell, all zero or all full carry no information and drop out with their degrees of freedom.
pub fn pooled_heterogeneity(units: &[Vec<Counts>]) -> Option<Heterogeneity> {
    let (mut statistic, mut degrees) = (0.0, 0);
    for unit in units {
        let (k, n) = total(unit);
        if k == 0 || k == n {
            continue;
        }
        if let Some(found) = heterogeneity(unit) {
            statistic += found.statistic;
            degrees += found.degrees;
        }
    }
    (degrees > 0).then(|| Heterogeneity::new(statistic, degrees))
}

/// How many independent kernels `kernels` are worth where cells vary more than chance lets them.
///
/// `n / max(1, dispersion)`.
pub fn effective_kernels(kernels: f64, dispersion: f64) -> f64 {
    kernels / dispersion.max(1.0)
}

fn total(cells: &[Counts]) -> (u64, u64) {
    cells.iter().fold((0, 0), |(k, n), cell| {
        (k + u64::from(cell.k()), n + u64::from(cell.n()))
    })
}

/// The result of [`replicate_test`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ReplicateTest {
    /// The exact probability, given the total, that replicates disagree at least as much.
    Exact(f64),
    /// The chi-square probability: the exact one would take too long.
    ByChiSquare(f64),
}

impl ReplicateTest {
    /// The probability, however it was found.
    pub const fn p_value(self) -> f64 {
        match self {
            Self::Exact(p_value) | Self::ByChiSquare(p_value) => p_value,
        }
    }
}

/// Tests that replicate cells have one rate once what is known of their places is allowed for, exactly where that is
/// feasible; `None` with fewer than two cells with trials.
///
/// Each cell comes with the logits by which its place, such as its tray, is better than others; all 0 for places that are
/// alike. They are taken as known. Given the total, counts then have the multivariate noncentral hypergeometric
/// distribution with the weights `exp(place * k)` (Fisher 1935, J. R. Stat. Soc. 98:39, from memory, for two cells). The
/// statistic is Pearson's about the rates that have this total. For places that are alike it orders tables as
/// `sum k^2 / n` does, which is compared in whole numbers, so that ties are ties; else values within about 1e-8 are ties.
pub fn replicate_test(cells: &[(Counts, f64)]) -> Option<ReplicateTest> {
    let cells: Vec<(Counts, f64)> = cells
        .iter()
        .copied()
        .filter(|(cell, place)| cell.n() > 0 && place.is_finite())
        .collect();
    let degrees = u32::try_from(cells.len())
        .ok()?
        .checked_sub(1)
        .filter(|degrees| *degrees > 0)?;
    let (counts, places): (Vec<Counts>, Vec<f64>) = cells.into_iter().unzip();
    let (successes, trials) = total(&counts);
    if successes == 0 || successes == trials {
        return Some(ReplicateTest::Exact(1.0));
    }
    let rates = rates_with_total(&counts, &places, successes as f64);
    let is_alike = places.iter().all(|place| place.total_cmp(&places[0]).is_eq());
    let exact = if is_alike {
        whole_terms(&counts).and_then(|terms| exact_heterogeneity(&counts, &rates, &terms, 0))
    } else {
        let terms = near_terms(&counts, &rates);
        exact_heterogeneity(&counts, &rates, &terms, counts.len() as u128)
    };
    Some(exact.map_or_else(
        || {
            let pairs = counts.iter().zip(&rates);
            let statistic = pairs.map(|(cell, rate)| pearson(*cell, *rate, cell.k())).sum();
            ReplicateTest::ByChiSquare(Heterogeneity::new(statistic, degrees).p_value)
        },
        ReplicateTest::Exact,
    ))
}

/// The rates whose logits differ as the places do and that expect so many successes, more than none and fewer than all.
fn rates_with_total(cells: &[Counts], places: &[f64], successes: f64) -> Vec<f64> {
    let trials: f64 = cells.iter().map(|cell| f64::from(cell.n())).sum();
    let common = (successes / (trials - successes)).ln();
    let at = |logit: f64| {
        places
            .iter()
            .map(move |place| 1.0 / (1.0 + (-logit - place).exp()))
    };
    let expected = |logit: f64| -> f64 {
        let pairs = cells.iter().zip(at(logit));
        pairs.map(|(cell, rate)| f64::from(cell.n()) * rate).sum()
    };
    // With the best place at the common rate all expect too few, with the worst there all expect too many.
    let most = places
        .iter()
        .fold(f64::NEG_INFINITY, |most, place| most.max(*place));
    let least = places
        .iter()
        .fold(f64::INFINITY, |least, place| least.min(*place));
    let (mut low, mut high) = (common - most, common - least);
    for _ in 0..80 {
        let middle = 0.5 * (low + high);
        if expected(middle) < successes {
            low = middle;
        } else {
            high = middle;
        }
    }
    at(0.5 * (low + high))
        .map(|rate| rate.clamp(f64::MIN_POSITIVE, 1.0 - f64::EPSILON))
        .collect()
}

fn pearson(cell: Counts, rate: f64, k: u32) -> f64 {
    let n = f64::from(cell.n());
    (f64::from(k) - n * rate).powi(2) / (n * rate * (1.0 - rate))
}

/// For each cell and count a whole number whose sum orders tables of one total as Pearson's statistic about one rate
/// does; `None` where it would grow too large.
fn whole_terms(cells: &[Counts]) -> Option<Vec<Vec<u128>>> {
    const MOST_MULTIPLE: u64 = 1 << 24;
    let multiple = cells.iter().try_fold(1_u64, |multiple, cell| {
        let next = least_common_multiple(multiple, u64::from(cell.n()));
        (next <= MOST_MULTIPLE).then_some(next)
    })?;
    let of = |cell: &Counts| {
        let share = u128::from(multiple / u64::from(cell.n()));
        (0..=u128::from(cell.n())).map(|k| k * k * share).collect()
    };
    Some(cells.iter().map(of).collect())
}

/// Pearson's statistic of each cell and count in steps of about 1e-9.
fn near_terms(cells: &[Counts], rates: &[f64]) -> Vec<Vec<u128>> {
    const STEPS: f64 = (1_u64 << 30) as f64;
    let pairs = cells.iter().zip(rates);
    pairs
        .map(|(cell, rate)| {
            (0..=cell.n())
                .map(|k| (STEPS * pearson(*cell, *rate, k)).round() as u128)
                .collect()
        })
        .collect()
}

/// The probability, given the total, of tables whose terms add up to no less than those of this one, less the `slack`;
/// `None` where too many different tables would have to be kept.
fn exact_heterogeneity(cells: &[Counts], rates: &[f64], terms: &[Vec<u128>], slack: u128) -> Option<f64> {
    const MOST_STATES: usize = 100_000;
    let (successes, trials) = total(cells);
    let observed: u128 = cells
        .iter()
        .zip(terms)
        .map(|(cell, terms)| terms[cell.k() as usize])
        .sum();
    // Totals and terms of the tables so far, each with its probability at these rates.
    let mut states = BTreeMap::from([((0_u64, 0_u128), 1.0)]);
    let mut left = trials;
    for ((cell, rate), terms) in cells.iter().zip(rates).zip(terms) {
        left -= u64::from(cell.n());
        let mass = binomial_mass(cell.n(), *rate);
        let mut next = BTreeMap::new();
        for (&(sum, so_far), &probability) in &states {
            let least = successes.saturating_sub(sum + left);
            let most = u64::from(cell.n()).min(successes - sum);
            for k in least..=most {
                let key = (sum + k, so_far + terms[k as usize]);
                *next.entry(key).or_insert(0.0) += probability * mass[k as usize];
            }
            if next.len() > MOST_STATES {
                return None;
            }
        }
        states = next;
    }
    let all: f64 = states.values().sum();
    let beyond: f64 = states
        .iter()
        .filter(|((_, found), _)| *found + slack >= observed)
        .map(|(_, mass)| mass)
        .sum();
    Some((beyond / all).min(1.0))
}

fn least_common_multiple(a: u64, b: u64) -> u64 {
    let (mut x, mut y) = (a, b);
    while y > 0 {
        (x, y) = (y, x % y);
    }
    a / x * b
}

fn ln_choose(n: u64, k: u64) -> f64 {
    let ln_factorial = |n: u64| ln_gamma(n as f64 + 1.0);
    ln_factorial(n) - ln_factorial(k) - ln_factorial(n - k)
}

/// The probability of each count of `n` at a rate strictly between 0 and 1.
fn binomial_mass(n: u32, rate: f64) -> Vec<f64> {
    let (success, failure) = (rate.ln(), (-rate).ln_1p());
    (0..=n)
        .map(|k| {
            let ln_mass = ln_choose(u64::from(n), u64::from(k));
            (ln_mass + f64::from(k) * success + f64::from(n - k) * failure).exp()
        })
        .collect()
}

/// For `cells` cells of `kernels` each with `total` successes together: entry `r` is the probability that the
/// largest and the smallest count differ by more than `r`, if the rate is one.
///
/// Exact, given the total. `None` for fewer than two cells, no kernels, more than 200 kernels in a cell or 20
/// cells, or a total above all kernels.
pub fn range_tail(cells: u32, kernels: u32, total: u32) -> Option<Vec<f64>> {
    if !(2..=20).contains(&cells) || !(1..=200).contains(&kernels) || total > cells * kernels {
        return None;
    }
    if total == 0 || total == cells * kernels {
        return Some(vec![0.0; kernels as usize + 1]);
    }
    let mass = binomial_mass(kernels, f64::from(total) / f64::from(cells * kernels));
    // The probability that all counts lie from `low` to `high` and add up to the total.
    let within = |low: u32, high: u32| -> f64 {
        let mut sums = vec![0.0; total as usize + 1];
        sums[0] = 1.0;
        for _ in 0..cells {
            let mut next = vec![0.0; total as usize + 1];
            for (sum, weight) in sums.iter().enumerate().filter(|(_, weight)| **weight > 0.0) {
                for k in low..=high.min(total - sum as u32) {
                    next[sum + k as usize] += weight * mass[k as usize];
                }
            }
            sums = next;
        }
        sums[total as usize]
    };
    let all = within(0, kernels);
    let tail = (0..=kernels).map(|range| {
        let inside: f64 = (0..=kernels)
            .map(|low| {
                let high = (low + range).min(kernels);
                let without_low = if low < high { within(low + 1, high) } else { 0.0 };
                within(low, high) - without_low
            })
            .sum();
        (1.0 - inside / all).clamp(0.0, 1.0)
    });
    Some(tail.map(|p| if p < 1e-13 { 0.0 } else { p }).collect())
}

/// The largest range of the counts of equal cells that chance exceeds with at most the given probability, from
/// [`range_tail`].
pub fn largest_range(cells: u32, kernels: u32, total: u32, probability: f64) -> Option<u32> {
    let tail = range_tail(cells, kernels, total)?;
    tail.iter()
        .position(|beyond| *beyond <= probability + 1e-12)
        .map(|range| range as u32)
}

/// The largest range allowed between four or two replicates of 100 by their mean in whole percent, from 51 up;
/// 0 where the rule has no row. Source: 7 CFR 201.55(a), 25 FR 8771 (1960) as amended 65 FR 1707 (2000).
#[rustfmt::skip]
const REPLICATE_RANGES: [(u8, u8, u8); 49] = [
    (99, 5, 0), (98, 6, 0), (97, 7, 6), (96, 8, 6), (95, 9, 7), (94, 10, 8), (93, 10, 8), (92, 11, 9),
    (91, 11, 9), (90, 12, 9), (89, 12, 10), (88, 13, 10), (87, 13, 11), (86, 14, 11), (85, 14, 11),
    (84, 14, 11), (83, 15, 12), (82, 15, 12), (81, 15, 12), (80, 16, 13), (79, 16, 13), (78, 16, 13),
    (77, 17, 13), (76, 17, 13), (75, 17, 14), (74, 17, 14), (73, 17, 14), (72, 18, 14), (71, 18, 14),
    (70, 18, 14), (69, 18, 14), (68, 18, 15), (67, 18, 15), (66, 19, 15), (65, 19, 15), (64, 19, 15),
    (63, 19, 15), (62, 19, 15), (61, 19, 15), (60, 19, 15), (59, 19, 15), (58, 19, 15), (57, 19, 15),
    (56, 19, 15), (55, 20, 15), (54, 20, 16), (53, 20, 16), (52, 20, 16), (51, 20, 16),
];

/// How many replicates of 100 kernels a standard test has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Replicates {
    /// Two replicates of 100.
    Two,
    /// Four replicates of 100.
    Four,
}

/// The largest range allowed between replicates of 100 kernels, in percentage points; `None` where the rule has
/// no row.
///
/// `mean_percent` is the mean of the replicates rounded to a whole percent; the low partner of a mean `g` is
/// `101 - g`. A larger range calls for a retest. Source: 7 CFR 201.55(a); its printed rows 62/38 and 52/48 are
/// taken as 62/39 and 52/49, as the pattern of all others has it.
pub fn replicate_range(replicates: Replicates, mean_percent: u32) -> Option<u32> {
    let high = if mean_percent > 50 {
        mean_percent
    } else {
        101_u32.checked_sub(mean_percent)?
    };
    let (_, four, two) = REPLICATE_RANGES
        .iter()
        .find(|(mean, _, _)| u32::from(*mean) == high)?;
    let range = match replicates {
        Replicates::Two => *two,
        Replicates::Four => *four,
    };
    (range > 0).then_some(u32::from(range))
}

/// Columns of the small-count table: kernels or seedlings counted.
pub const SMALL_COUNTS: [u32; 11] = [10, 20, 30, 50, 75, 100, 150, 200, 400, 800, 1000];

/// Tolerances in percentage points by percent (from 100 down to 50, in steps of 2) and by [`SMALL_COUNTS`].
/// Source: 7 CFR 201.62, Table 4, 59 FR 64516 (1994).
#[rustfmt::skip]
const SMALL_COUNT_TOLERANCES: [[f64; 11]; 26] = [
    [0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0],
    [10.3, 7.3, 6.0, 4.6, 3.8, 3.3, 2.7, 2.3, 1.6, 1.2, 1.0],
    [14.4, 10.2, 8.3, 6.4, 5.3, 4.6, 3.7, 3.2, 2.3, 1.7, 1.5],
    [17.5, 12.4, 10.1, 7.8, 6.4, 5.5, 4.5, 3.9, 2.9, 2.1, 1.9],
    [20.0, 14.1, 11.5, 8.9, 7.3, 6.3, 5.2, 4.5, 3.4, 2.4, 2.2],
    [22.1, 15.7, 12.8, 9.9, 8.1, 7.0, 5.7, 4.9, 3.8, 2.8, 2.4],
    [24.0, 17.0, 13.8, 10.7, 8.7, 7.6, 6.2, 5.4, 4.1, 3.0, 2.7],
    [25.7, 18.1, 14.7, 11.4, 9.3, 8.1, 6.6, 5.7, 4.5, 3.2, 2.9],
    [26.9, 19.0, 15.5, 12.1, 9.8, 8.5, 7.0, 6.0, 4.8, 3.4, 3.0],
    [28.2, 20.0, 16.4, 12.6, 10.3, 8.9, 7.3, 6.3, 5.0, 3.6, 3.2],
    [29.5, 20.9, 16.9, 13.2, 10.7, 9.3, 7.6, 6.6, 5.3, 3.8, 3.3],
    [30.5, 21.6, 17.6, 13.6, 11.0, 9.6, 7.9, 6.8, 5.5, 3.9, 3.5],
    [31.4, 22.3, 18.2, 14.1, 11.5, 9.9, 8.1, 7.0, 5.7, 4.1, 3.6],
    [32.3, 22.8, 18.6, 14.4, 11.8, 10.2, 8.3, 7.2, 5.8, 4.2, 3.7],
    [33.0, 23.4, 19.0, 14.8, 12.1, 10.5, 8.5, 7.4, 6.0, 4.3, 3.8],
    [33.7, 23.8, 19.5, 15.1, 12.3, 10.7, 8.7, 7.5, 6.2, 4.4, 3.9],
    [34.3, 24.3, 19.9, 15.4, 12.5, 10.8, 8.9, 7.7, 6.3, 4.5, 4.0],
    [35.0, 24.7, 20.2, 15.7, 12.7, 11.0, 9.0, 7.8, 6.4, 4.6, 4.0],
    [35.4, 25.0, 20.5, 15.8, 12.9, 11.2, 9.1, 7.9, 6.5, 4.6, 4.1],
    [35.5, 25.4, 20.6, 15.9, 13.0, 11.3, 9.2, 8.0, 6.6, 4.7, 4.2],
    [36.1, 25.7, 20.9, 16.1, 13.2, 11.4, 9.3, 8.1, 6.7, 4.8, 4.2],
    [36.2, 25.7, 21.0, 16.2, 13.3, 11.5, 9.4, 8.1, 6.8, 4.8, 4.2],
    [36.5, 25.8, 21.0, 16.4, 13.3, 11.5, 9.4, 8.2, 6.8, 4.8, 4.3],
    [36.8, 25.8, 21.2, 16.4, 13.4, 11.6, 9.5, 8.2, 6.9, 4.9, 4.3],
    [36.8, 25.9, 21.2, 16.5, 13.4, 11.6, 9.5, 8.2, 6.9, 4.9, 4.3],
    [36.8, 25.9, 21.3, 16.5, 13.4, 11.6, 9.5, 8.2, 6.9, 4.9, 4.3],
];

/// The federal tolerance for a percentage from a small count, in percentage points; `None` outside of its rows
/// and columns.
///
/// The percent is rounded to the nearest even number. The table is for percentages of kind, variety and type,
/// not of germination: for germination it holds by analogy only, and that is to be said beside it. Source: 7
/// CFR 201.62, Table 4.
pub fn small_count_tolerance(percent: f64, count: u32) -> Option<f64> {
    if !(0.0..=100.0).contains(&percent) {
        return None;
    }
    let column = SMALL_COUNTS.iter().position(|column| *column == count)?;
    let row = (0.5 * (100.0 - percent.max(100.0 - percent))).round() as usize;
    SMALL_COUNT_TOLERANCES.get(row).map(|row| row[column])
}

/// Fisher's exact test of two counts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Fisher {
    /// The probability, given the total, of a table no likelier than this one.
    pub two_sided: f64,
    /// The probability, given the total, of at least as many successes in the first.
    pub first_at_least: f64,
    /// The probability, given the total, of at most as many successes in the first.
    pub first_at_most: f64,
}

/// Compares two counts exactly; all are 1 where nothing was observed or nothing could differ.
///
/// Source: Fisher 1935, The Design of Experiments. Tables whose probabilities agree to one in ten million count
/// as equally likely.
pub fn fisher(first: Counts, second: Counts) -> Fisher {
    let (n, m) = (u64::from(first.n()), u64::from(second.n()));
    let successes = u64::from(first.k() + second.k());
    let all = ln_choose(n + m, successes);
    let mass = |k: u64| (ln_choose(n, k) + ln_choose(m, successes - k) - all).exp();
    let observed = u64::from(first.k());
    let here = mass(observed);
    let mut found = Fisher {
        two_sided: 0.0,
        first_at_least: 0.0,
        first_at_most: 0.0,
    };
    for k in successes.saturating_sub(m)..=n.min(successes) {
        let probability = mass(k);
        if probability <= here * (1.0 + 1e-7) {
            found.two_sided += probability;
        }
        if k >= observed {
            found.first_at_least += probability;
        }
        if k <= observed {
            found.first_at_most += probability;
        }
    }
    Fisher {
        two_sided: found.two_sided.min(1.0),
        first_at_least: found.first_at_least.min(1.0),
        first_at_most: found.first_at_most.min(1.0),
    }
}

/// For each of many probabilities the smallest share of false alarms at which it would still be called one; an
/// answer is in the place of its question. A value that is not from 0 to 1 counts as 1.
///
/// Source: Benjamini and Hochberg 1995, J. R. Stat. Soc. B 57:289.
pub fn false_discovery(p_values: &[f64]) -> Vec<f64> {
    let count = p_values.len();
    let sound = |p: f64| if (0.0..=1.0).contains(&p) { p } else { 1.0 };
    let mut order: Vec<usize> = (0..count).collect();
    order.sort_by(|&a, &b| sound(p_values[b]).total_cmp(&sound(p_values[a])));
    let mut adjusted = vec![1.0; count];
    let mut least: f64 = 1.0;
    for (from_largest, &index) in order.iter().enumerate() {
        let rank = count - from_largest;
        least = least.min(sound(p_values[index]) * count as f64 / rank as f64);
        adjusted[index] = least;
    }
    adjusted
}

/// A value in a tray, at its row and column.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Placed {
    /// Row in the tray.
    pub row: u32,
    /// Column in the tray.
    pub column: u32,
    /// The value there, such as a residual; one that is not finite is passed over.
    pub value: f64,
}

/// Whether neighbours in one tray are alike.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Neighbours {
    /// Moran's I: above its expectation where neighbours are alike, below it where they differ.
    pub moran: f64,
    /// Its expectation if values lay at random: `-1 / (n - 1)`.
    pub expected: f64,
    /// Its variance if the values lay at random (randomisation formula); `None` for fewer than 4 values.
    pub variance: Option<f64>,
    /// The share of shuffles whose I is at least as large, this arrangement counted as one of them.
    pub p_alike: f64,
    /// Values used.
    pub values: usize,
}

/// Moran's I of the values of one tray, cells that share a side being neighbours, with a permutation test;
/// `None` where values are all alike, fewer than 3, or none has a neighbour.
///
/// The same seed gives the same answer. Never pass two trays at once: cells of different trays are not
/// neighbours. Where two values are at one place, the last counts. Source: Moran 1950, Biometrika 37:17; Cliff
/// and Ord 1981, Spatial Processes.
pub fn neighbours(tray: &[Placed], shuffles: u32, seed: u64) -> Option<Neighbours> {
    let by_place: BTreeMap<(u32, u32), f64> = tray
        .iter()
        .filter(|placed| placed.value.is_finite())
        .map(|placed| ((placed.row, placed.column), placed.value))
        .collect();
    let count = by_place.len();
    if count < 3 {
        return None;
    }
    let n = count as f64;
    let mean = by_place.values().sum::<f64>() / n;
    let mut values: Vec<f64> = by_place.values().map(|value| value - mean).collect();
    let squares: f64 = values.iter().map(|z| z * z).sum();
    let fourths: f64 = values.iter().map(|z| z.powi(4)).sum();
    let largest = by_place
        .values()
        .fold(0.0_f64, |most, value| most.max(value.abs()));
    if squares.sqrt() <= 1e-12 * largest.max(f64::MIN_POSITIVE) {
        return None;
    }
    let places: Vec<(u32, u32)> = by_place.keys().copied().collect();
    let find = |place: (u32, u32)| places.binary_search(&place).ok();
    let mut pairs = Vec::new();
    let mut degree = vec![0.0; count];
    for (index, &(row, column)) in places.iter().enumerate() {
        for other in [
            (row.checked_add(1), Some(column)),
            (Some(row), column.checked_add(1)),
        ] {
            if let (Some(row), Some(column)) = other
                && let Some(other) = find((row, column))
            {
                pairs.push((index, other));
                degree[index] += 1.0;
                degree[other] += 1.0;
            }
        }
    }
    if pairs.is_empty() {
        return None;
    }
    let sum = |values: &[f64]| pairs.iter().map(|&(a, b)| values[a] * values[b]).sum::<f64>();
    let observed = sum(&values);
    let mut dice = Pcg64::new(u128::from(seed), 0xa02_bdbf_7bb3_c0a7);
    let mut alike = 1_u32;
    for _ in 0..shuffles {
        for last in (1..count).rev() {
            values.swap(last, below(&mut dice, last + 1));
        }
        alike += u32::from(sum(&values) >= observed - 1e-12 * squares);
    }
    let weight = 2.0 * pairs.len() as f64;
    let expected = -1.0 / (n - 1.0);
    Some(Neighbours {
        moran: n / weight * 2.0 * observed / squares,
        expected,
        variance: (count > 3).then(|| {
            let s1 = 2.0 * weight;
            let s2: f64 = degree.iter().map(|degree| 4.0 * degree * degree).sum();
            let kurtosis = n * fourths / (squares * squares);
            let plain = n * ((n * n - 3.0 * n + 3.0) * s1 - n * s2 + 3.0 * weight * weight);
            let tails = kurtosis * ((n * n - n) * s1 - 2.0 * n * s2 + 6.0 * weight * weight);
            (plain - tails) / ((n - 1.0) * (n - 2.0) * (n - 3.0) * weight * weight) - expected * expected
        }),
        p_alike: f64::from(alike) / (f64::from(shuffles) + 1.0),
        values: count,
    })
}

/// How two categories that are not the same count against agreement.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Disagreement {
    /// All the same: for categories without order.
    Equal,
    /// By their distance.
    Distance,
    /// By the square of their distance.
    Square,
}

/// How well two scorers agree.
#[derive(Debug, Clone, PartialEq)]
pub struct Agreement {
    /// Items scored by both.
    pub items: u64,
    /// The share on which they agree exactly.
    pub share: f64,
    /// Kappa: 1 for full agreement, 0 for that of chance; `None` where chance alone would agree in full.
    pub kappa: Option<f64>,
    /// For each category the share of agreement among items that either put there, twice the common ones by
    /// the sum of both; `None` where neither put any.
    pub by_category: Vec<Option<f64>>,
}

/// Compares two scorers from pairs of categories, each from 0 to below `categories`; `None` without pairs, or
/// with a category out of range.
///
/// Source: Cohen 1960, Educ. Psychol. Meas. 20:37; weighted Cohen 1968, Psychol. Bull. 70:213.
pub fn agreement(pairs: &[(usize, usize)], categories: usize, by: Disagreement) -> Option<Agreement> {
    if pairs.is_empty() || pairs.iter().any(|&(a, b)| a.max(b) >= categories) {
        return None;
    }
    let mut first = vec![0.0; categories];
    let mut second = vec![0.0; categories];
    let mut both = vec![0.0; categories];
    let cost = |a: usize, b: usize| match by {
        Disagreement::Equal => f64::from(u8::from(a != b)),
        Disagreement::Distance => a.abs_diff(b) as f64,
        Disagreement::Square => (a.abs_diff(b) as f64).powi(2),
    };
    let mut observed = 0.0;
    for &(a, b) in pairs {
        first[a] += 1.0;
        second[b] += 1.0;
        both[a] += f64::from(u8::from(a == b));
        observed += cost(a, b);
    }
    let n = pairs.len() as f64;
    let used: BTreeSet<usize> = pairs.iter().flat_map(|&(a, b)| [a, b]).collect();
    let by_chance: f64 = used
        .iter()
        .flat_map(|&a| used.iter().map(move |&b| (a, b)))
        .map(|(a, b)| first[a] * second[b] * cost(a, b) / n)
        .sum();
    Some(Agreement {
        items: pairs.len() as u64,
        share: both.iter().sum::<f64>() / n,
        kappa: (by_chance > 0.0).then(|| 1.0 - observed / by_chance),
        by_category: (0..categories)
            .map(|category| {
                let either = first[category] + second[category];
                (either > 0.0).then(|| 2.0 * both[category] / either)
            })
            .collect(),
    })
}
