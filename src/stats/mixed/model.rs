//! What a fitted model tells.

use statrs::distribution::{ChiSquared, ContinuousCDF};

use super::attempt::Column;
use super::likelihood::{Case, CellRow, FARTHEST_LOGIT, MOST_SIGMA, Point, Problem};
use super::posterior::{UnitPosterior, logistic};
use super::skyline::Factor;
use super::{Held, LeftOut};
use crate::stats::{Counts, Cutoff};

/// The least standard deviation of a posterior on the logit scale: no rate is known better.
const LEAST_SCALE: f64 = 1e-9;

/// An estimate and its standard error from the observed information.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Maximum likelihood estimate.
    pub value: f64,
    /// Standard error.
    pub error: f64,
}

impl Estimate {
    /// The probability of an estimate at least as far from zero on either side if the truth were zero, by the
    /// normal approximation (Wald 1943, Trans. Am. Math. Soc. 54:426); 1 where the error is not known.
    pub fn p_value(&self) -> f64 {
        let square = (self.value / self.error).powi(2);
        match ChiSquared::new(1.0) {
            Ok(chi) if square.is_finite() => chi.sf(square),
            _ => 1.0,
        }
    }
}

/// Where a rate is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reference {
    /// At the mean of all tray effects on the logit scale, and at the reference value of every covariate.
    AverageTray,
    /// In one tray, by its index, at the reference value of every covariate. A tray that has no effect of its
    /// own stands at the average.
    Tray(usize),
}

/// The result of a likelihood-ratio test, or of the score test that stands beside it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioTest {
    /// Twice the difference of the log-likelihoods, or what the slopes say it will be.
    pub statistic: f64,
    /// Degrees of freedom.
    pub degrees: usize,
    /// The probability of a larger statistic if the term were not there.
    pub p_value: f64,
}

impl RatioTest {
    /// `None` for a statistic that is not a number, or without degrees of freedom.
    pub(super) fn of(statistic: f64, degrees: usize) -> Option<Self> {
        if statistic.is_nan() {
            return None;
        }
        Some(Self {
            statistic,
            degrees,
            p_value: ChiSquared::new(degrees as f64).ok()?.sf(statistic),
        })
    }
}

/// A fitted model.
#[derive(Debug, Clone)]
pub struct Model {
    pub(super) problem: Problem,
    pub(super) point: Point,
    pub(super) factor: Factor,
    pub(super) modes: Vec<f64>,
    /// Case of each unit, `None` without trials.
    pub(super) case_of_unit: Vec<Option<usize>>,
    /// Row in the problem of each cell of the design.
    pub(super) row_of_cell: Vec<Option<usize>>,
    pub(super) counts: Vec<Counts>,
    pub(super) level_of_tray: Vec<Option<usize>>,
    pub(super) columns: Vec<Option<Column>>,
    pub(super) lots: Vec<Option<usize>>,
    pub(super) log_likelihood: f64,
    pub(super) log_likelihood_without_spread: f64,
    pub(super) gradient_norm: f64,
    pub(super) steps: usize,
    pub(super) depth: f64,
    pub(super) left_out: Vec<LeftOut>,
    pub(super) held: Vec<Held>,
}

impl Model {
    /// Standard deviation of the random effect on the logit scale; `None` where none was found or none asked
    /// for: then the counts differ no more than chance lets equal rates differ.
    pub fn spread(&self) -> Option<Estimate> {
        let (index, value) = self.point.sigma_index().zip(self.point.sigma)?;
        let error = value * self.factor.variance(&[(index, 1.0)]).sqrt();
        Some(Estimate { value, error })
    }

    /// Correlation of the kernels of one cell beyond what their unit shares, `theta / (1 + theta)`; `None`
    /// where the cells are binomial.
    pub fn cell_correlation(&self) -> Option<Estimate> {
        let (index, theta) = self.point.theta_index().zip(self.point.theta)?;
        let error = theta * self.factor.variance(&[(index, 1.0)]).sqrt() / (1.0 + theta).powi(2);
        let value = theta / (1.0 + theta);
        Some(Estimate { value, error })
    }

    fn reference_terms(&self, reference: Reference) -> Vec<(usize, f64)> {
        if let Reference::Tray(tray) = reference
            && let Some(level) = self.level_of_tray.get(tray).copied().flatten()
        {
            return self.at_reference(vec![(level, 1.0)]);
        }
        let levels = self.problem.levels;
        self.at_reference((0..levels).map(|level| (level, 1.0 / levels as f64)).collect())
    }

    fn at_reference(&self, mut terms: Vec<(usize, f64)>) -> Vec<(usize, f64)> {
        let columns = self.columns.iter().flatten();
        terms.extend(columns.map(|column| (self.problem.levels + column.index, column.reference)));
        terms
    }

    fn estimate(&self, terms: &[(usize, f64)]) -> Estimate {
        Estimate {
            value: terms
                .iter()
                .map(|&(index, factor)| factor * self.point.fixed[index])
                .sum(),
            error: self.factor.variance(terms).sqrt(),
        }
    }

    /// The logit of a unit with a random effect of zero.
    pub fn logit_at(&self, reference: Reference) -> Estimate {
        self.estimate(&self.reference_terms(reference))
    }

    /// Whether each tray has an effect of its own.
    pub fn has_tray_effects(&self) -> bool {
        self.problem.levels > 1
    }

    /// The effect of each tray on the logit scale, the mean of all being zero; `None` for a tray without
    /// trials or where trays have no effect.
    pub fn tray_effects(&self) -> Vec<Option<Estimate>> {
        let levels = self.problem.levels;
        if levels == 1 {
            return vec![None; self.level_of_tray.len()];
        }
        // With V the covariance: V_tt - 2 (V 1)_t / T + 1' V 1 / T^2.
        let share = 1.0 / levels as f64;
        let mut with_all = vec![0.0; self.point.size()];
        with_all[..levels].fill(share);
        self.factor.solve(&mut with_all);
        let of_mean: f64 = with_all[..levels].iter().sum::<f64>() * share;
        let mean: f64 = self.point.fixed[..levels].iter().sum::<f64>() * share;
        let effect = |level: usize| {
            let own = self.factor.variance(&[(level, 1.0)]);
            Estimate {
                value: self.point.fixed[level] - mean,
                error: (own - 2.0 * with_all[level] + of_mean).max(0.0).sqrt(),
            }
        };
        self.level_of_tray.iter().map(|level| level.map(effect)).collect()
    }

    /// How far the first tray lies above the second on the logit scale; `None` unless both have an effect.
    pub fn tray_difference(&self, tray: usize, other: usize) -> Option<Estimate> {
        let level = |tray: usize| self.level_of_tray.get(tray).copied().flatten();
        let (first, second) = (level(tray)?, level(other)?);
        self.has_tray_effects()
            .then(|| self.estimate(&[(first, 1.0), (second, -1.0)]))
    }

    /// The slope of a covariate: logits for one more of it. `None` where it is not in the model.
    pub fn slope(&self, covariate: usize) -> Option<Estimate> {
        let column = self.columns.get(covariate).copied().flatten()?;
        Some(self.estimate(&[(self.problem.levels + column.index, 1.0 / column.deviation)]))
    }

    /// How far a check lot lies above a unit with a random effect of zero, on the logit scale; `None` where it
    /// is not in the model.
    pub fn lot_effect(&self, lot: usize) -> Option<Estimate> {
        let index = self.lots.get(lot).copied().flatten()?;
        Some(self.estimate(&[(self.problem.levels + self.problem.columns + index, 1.0)]))
    }

    /// Log-likelihood with its binomial coefficients; with the weak priors where some term is held.
    pub const fn log_likelihood(&self) -> f64 {
        self.log_likelihood
    }

    /// Log-likelihood of the same fixed terms with binomial cells and no random effect.
    pub const fn log_likelihood_without_spread(&self) -> f64 {
        self.log_likelihood_without_spread
    }

    /// The largest slope of the log-likelihood at the estimate, by any parameter: the proof that it is a
    /// maximum.
    pub const fn gradient_norm(&self) -> f64 {
        self.gradient_norm
    }

    /// Newton's steps taken.
    pub const fn steps(&self) -> usize {
        self.steps
    }

    /// Parameters estimated.
    pub fn parameters(&self) -> usize {
        self.point.size()
    }

    /// Terms that were asked for and are not in the model.
    pub fn left_out(&self) -> &[LeftOut] {
        &self.left_out
    }

    /// Levels held by a weak prior.
    pub fn held(&self) -> &[Held] {
        &self.held
    }

    /// Tests the terms that this model has and the simpler one has not; `None` where it does not have more
    /// parameters, or where a weak prior holds other terms in one of them. One that holds the same terms in both counts
    /// in both.
    pub fn against(&self, simpler: &Model) -> Option<RatioTest> {
        // A spread that is only in the simpler model is zero in this one, which does not lack it.
        let zero = [
            (self.point.sigma, simpler.point.sigma),
            (self.point.theta, simpler.point.theta),
        ];
        let zero = zero
            .iter()
            .filter(|(own, simpler)| own.is_none() && simpler.is_some());
        let degrees = (self.parameters() + zero.count())
            .checked_sub(simpler.parameters())
            .filter(|degrees| *degrees > 0)?;
        if self.held != simpler.held {
            return None;
        }
        let statistic = (2.0 * (self.log_likelihood - simpler.log_likelihood)).max(0.0);
        RatioTest::of(statistic, degrees)
    }

    /// The distribution of the rates of all units: what is believed of one without trials.
    ///
    /// Where no spread was found it is the common rate, as well as that is known.
    pub fn population(&self, reference: Reference) -> UnitPosterior {
        let at = self.logit_at(reference);
        let scale = self
            .point
            .sigma
            .unwrap_or_else(|| at.error.clamp(LEAST_SCALE, MOST_SIGMA));
        let theta = self.point.theta.unwrap_or(0.0);
        UnitPosterior::new((at.value, scale), theta, (0.0, 1.0), |z, _| -0.5 * z * z)
    }

    /// The posterior of every unit's rate, each distinct one computed once.
    ///
    /// Where no spread was found it is that of the common rate, as well as that is known.
    pub fn posteriors(&self, reference: Reference) -> UnitPosteriors {
        let at = self.logit_at(reference);
        let theta = self.point.theta.unwrap_or(0.0);
        let Some(sigma) = self.point.sigma else {
            let count = self.case_of_unit.len();
            return UnitPosteriors {
                distinct: vec![self.population(reference)],
                of_unit: vec![0; count],
            };
        };
        let mut distinct = Vec::with_capacity(self.problem.cases.len() + 1);
        for (case, &mode) in self
            .problem
            .cases
            .iter()
            .zip(&self.modes)
            .filter(|(case, _)| case.is_random)
        {
            let places = self.problem.places(case, &self.point);
            let found = self.problem.mode(case, &self.point, &places, mode);
            distinct.push(UnitPosterior::new(
                (at.value, sigma),
                theta,
                found,
                |z, factor| self.problem.given_effect(case, &self.point, &places, (z, factor)),
            ));
        }
        let without_trials = distinct.len();
        distinct.push(self.population(reference));
        let of_unit = self
            .case_of_unit
            .iter()
            .map(|case| case.unwrap_or(without_trials))
            .collect();
        UnitPosteriors { distinct, of_unit }
    }

    /// The posterior of a unit's rate when cells that were not fitted are added to its own; of a new unit with these cells
    /// only where there is no such unit. Each comes with the logits by which its place is better than the reference.
    ///
    /// Where no spread was found it is that of the common rate, as in [`Model::posteriors`].
    pub fn posterior_with(
        &self,
        reference: Reference,
        unit: Option<usize>,
        added: &[(Counts, f64)],
    ) -> UnitPosterior {
        let Some(sigma) = self.point.sigma else {
            return self.population(reference);
        };
        let at = self.logit_at(reference).value;
        let own = unit.and_then(|unit| self.case_of_unit.get(unit).copied().flatten());
        let (mut cells, mut places) = (Vec::new(), Vec::new());
        if let Some(case) = own.map(|case| &self.problem.cases[case]) {
            cells.extend_from_slice(&self.problem.cells[case.start..case.end]);
            places.extend(self.problem.places(case, &self.point));
        }
        for (counts, place) in added.iter().filter(|(counts, _)| counts.n() > 0) {
            cells.push(CellRow {
                level: 0,
                lot: None,
                k: f64::from(counts.k()),
                n: f64::from(counts.n()),
            });
            let logit = (at + place).clamp(-FARTHEST_LOGIT, FARTHEST_LOGIT);
            places.push((logit, logit.exp()));
        }
        let case = Case {
            start: 0,
            end: cells.len(),
            weight: 1.0,
            size: 0,
            is_random: true,
        };
        let alone = Problem {
            cases: vec![case],
            cells,
            ..Problem::default()
        };
        let mode = alone.mode(&case, &self.point, &places, 0.0);
        let theta = self.point.theta.unwrap_or(0.0);
        UnitPosterior::new((at, sigma), theta, mode, |z, factor| {
            alone.given_effect(&case, &self.point, &places, (z, factor))
        })
    }

    /// By how many logits the place of each cell, its tray and its covariates, is better than the reference; of a cell of
    /// a check lot with what the lot is better than a unit. `None` without trials.
    pub fn cell_places(&self, reference: Reference) -> Vec<Option<f64>> {
        let at = self.logit_at(reference).value;
        let place = |row: usize| self.problem.linear(row, &self.point.fixed) - at;
        self.row_of_cell.iter().map(|row| row.map(place)).collect()
    }

    /// The mean random effect of each case given its counts, in logits; 0 where there is none.
    fn case_effects(&self) -> Vec<f64> {
        let pairs = self.problem.cases.iter().zip(&self.modes);
        pairs
            .map(|(case, mode)| match self.point.sigma.filter(|_| case.is_random) {
                Some(sigma) => sigma * self.problem.mean_effect(case, &self.point, self.depth, *mode),
                None => 0.0,
            })
            .collect()
    }

    /// The random effect of each unit, in logits above the average unit: its mean given the counts. `None` without trials,
    /// and for all units where no spread was found.
    pub fn unit_effects(&self) -> Vec<Option<f64>> {
        if self.point.sigma.is_none() {
            return vec![None; self.case_of_unit.len()];
        }
        let effects = self.case_effects();
        self.case_of_unit
            .iter()
            .map(|case| case.map(|case| effects[case]))
            .collect()
    }

    /// The fitted rate of each cell in its own place, the random effect at its mean; `None` without trials.
    pub fn cell_rates(&self) -> Vec<Option<f64>> {
        let mut rates = vec![0.0; self.problem.cells.len()];
        for (case, effect) in self.problem.cases.iter().zip(self.case_effects()) {
            for (cell, rate) in (case.start..case.end).zip(&mut rates[case.start..case.end]) {
                *rate = logistic(self.problem.linear(cell, &self.point.fixed) + effect);
            }
        }
        self.row_of_cell
            .iter()
            .map(|row| row.map(|row| rates[row]))
            .collect()
    }

    /// Pearson's residual of each cell about its fitted rate, `(k - n p) / sqrt(n p q)`; `None` without
    /// trials.
    pub fn residuals(&self) -> Vec<Option<f64>> {
        let pairs = self.cell_rates().into_iter().zip(&self.counts);
        pairs
            .map(|(rate, counts)| {
                let rate = rate?;
                let (k, n) = (f64::from(counts.k()), f64::from(counts.n()));
                let deviation = (n * rate * (1.0 - rate)).max(f64::MIN_POSITIVE).sqrt();
                Some((k - n * rate) / deviation)
            })
            .collect()
    }
}

/// The posterior of every unit.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitPosteriors {
    distinct: Vec<UnitPosterior>,
    of_unit: Vec<usize>,
}

impl UnitPosteriors {
    /// The posterior of one unit; `None` for an index that is not of a unit.
    pub fn of(&self, unit: usize) -> Option<&UnitPosterior> {
        self.of_unit.get(unit).map(|&index| &self.distinct[index])
    }

    /// The posteriors of all units in order.
    pub fn iter(&self) -> impl Iterator<Item = &UnitPosterior> {
        self.of_unit.iter().map(|&index| &self.distinct[index])
    }

    /// The probability of every unit in order that its rate is at or above the cutoff, each distinct one computed
    /// once: what moves while a cutoff moves.
    pub fn probabilities_at_least(&self, cutoff: Cutoff) -> Vec<f64> {
        let distinct: Vec<f64> = self
            .distinct
            .iter()
            .map(|posterior| posterior.probability_at_least(cutoff))
            .collect();
        self.of_unit.iter().map(|&index| distinct[index]).collect()
    }

    /// The distinct posteriors, and the index of each unit's own among them.
    pub fn distinct(&self) -> (&[UnitPosterior], &[usize]) {
        (&self.distinct, &self.of_unit)
    }
}
