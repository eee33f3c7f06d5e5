//! What each ear of a season is likely to be.

use super::design::{self, Arranged, Counted, Fitted};
use super::soundness::{Slope, slope, slope_sentences, title};
use super::words::{lower_first, percent, plural, some_of, whole};
use crate::model::{CellId, EarId, Germinated, Project, SeasonId, TestId, TrayId};
use crate::stats::beta_binomial::{FEWEST_UNITS, WEAK_STRENGTH};
use crate::stats::choosing;
use crate::stats::consistency::false_discovery;
use crate::stats::mixed::{self, Held, LeftOut, Model, Reference, UnitPosterior};
use crate::stats::{
    Confidence, Counts, Cutoff, Fit, Interval, Posterior, Prior, WeakReason, fit, reaches, wilson,
};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;

/// A tray's effect is called clear below this share of false alarms: one in ten, for a bad tray that is passed over
/// costs more than a good one that is looked at. The figures of ears allow for the trays either way, so a false alarm
/// costs one look. Simulated in `tests/stats_tray_alarms.rs`: where no tray differs, one test of nine trays in eight
/// names one or two, which is 2 trays of 100; one that is 15 points off is found 4 times in 5. Common practice, no source.
const CLEAR_AT: f64 = 0.10;
/// And from so many percent points on. Common practice, no source.
const CLEAR_POINTS: f64 = 5.0;
/// From so many percent points on it is said of an ear what its place did: less would be rounded to none.
const TOLD_POINTS: f64 = 0.5;
/// How many trays a sentence tells one by one.
const MOST_TRAYS: usize = 3;
/// Beyond so many kernels an ear is told so well that the figures of every possible count are of no use.
const MOST_USUAL: u32 = 400;
/// The 0.975 quantile of the normal distribution.
pub(super) const Z_95: f64 = 1.959_963_984_540_054;

/// A range of percents, each from 0 to 100.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PercentRange {
    /// Lower bound, in percent.
    pub low: f64,
    /// Upper bound, in percent.
    pub high: f64,
}

impl From<Interval> for PercentRange {
    fn from(interval: Interval) -> Self {
        Self {
            low: 100.0 * interval.low,
            high: 100.0 * interval.high,
        }
    }
}

/// What the final counts of one ear say, pooled over all its cells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Germinated kernels of all counted ones: sown without the missing.
    pub counts: Counts,
    /// Germinated kernels in percent of the counted ones.
    pub observed_percent: f64,
    /// The Wilson 95 % interval of the observed percent.
    pub observed_95: PercentRange,
    /// What the ear's cold germination is likely to be, in percent: the posterior mean.
    pub likely_percent: f64,
    /// The range that holds it with a probability of 90 %.
    pub likely_90: PercentRange,
    /// Mean vigor grade, 0 to 9, over the cells that have one.
    pub vigor: Option<f64>,
    /// What an average ear shows in its places, above what it shows in the middle of the trays, in percent points: the
    /// likely percent allows for that. `None` where places are not allowed for.
    pub place_points: Option<f64>,
    /// Which of [`Estimates::posteriors`] is the ear's.
    pub(super) posterior: usize,
}

impl Estimate {
    /// Says whether the count itself reaches a cutoff, compared in whole numbers.
    pub fn reaches(&self, cutoff: Cutoff) -> bool {
        reaches(self.counts, cutoff)
    }

    /// Says the figures in one sentence, such as '8 of 10 germinated: 80 %, true value between 49 and 94 % with
    /// 95 % confidence; likely 76 %', and what its place did where that is allowed for.
    pub fn sentence(&self) -> String {
        let place = match self.place_points {
            Some(points) if points.abs() >= TOLD_POINTS => format!(
                ", which allows for a place where an average ear shows about {:.0} points {}",
                points.abs(),
                if points < 0.0 { "less" } else { "more" }
            ),
            _ => String::new(),
        };
        format!(
            "{} of {} germinated: {}, true value between {:.0} and {} with 95 % confidence; likely {}{place}",
            self.counts.k(),
            self.counts.n(),
            percent(self.observed_percent),
            self.observed_95.low,
            whole(self.observed_95.high),
            whole(self.likely_percent),
        )
    }
}

/// What is believed of one ear's rate.
#[derive(Debug, Clone)]
pub enum Belief {
    /// From the main model, at the average tray.
    Main(Box<UnitPosterior>),
    /// From pooled counts and a beta distribution.
    Beta(Posterior),
}

impl Belief {
    /// The likely rate: the mean, 0 to 1.
    pub fn mean(&self) -> f64 {
        match self {
            Self::Main(posterior) => posterior.mean(),
            Self::Beta(posterior) => posterior.mean(),
        }
    }

    /// The standard deviation of the rate.
    pub fn standard_deviation(&self) -> f64 {
        match self {
            Self::Main(posterior) => posterior.standard_deviation(),
            Self::Beta(posterior) => posterior.standard_deviation(),
        }
    }

    /// The interval that leaves out the same probability on each side.
    pub fn interval(&self, confidence: Confidence) -> Interval {
        match self {
            Self::Main(posterior) => posterior.interval(confidence),
            Self::Beta(posterior) => posterior.interval(confidence),
        }
    }

    /// The probability that the rate is at or above the cutoff.
    pub fn probability_at_least(&self, cutoff: Cutoff) -> f64 {
        match self {
            Self::Main(posterior) => posterior.probability_at_least(cutoff),
            Self::Beta(posterior) => posterior.probability_at_least(cutoff),
        }
    }

    /// What so many more kernels are expected to change.
    pub fn retest(&self, kernels: u32, cutoff: Cutoff) -> choosing::Retest {
        match self {
            Self::Main(posterior) => choosing::retest(posterior, kernels, cutoff),
            Self::Beta(posterior) => choosing::retest_beta(posterior, kernels, cutoff),
        }
    }
}

/// What the likely figures come from.
#[derive(Debug, Clone)]
pub enum Basis {
    /// The main model: each ear's rate a draw from one distribution, each tray and check lot with its own effect.
    Main(Box<Model>),
    /// The main model cannot be fitted. The pooled counts of the ears are fitted without trays, or a weak prior
    /// stands in.
    StandIn {
        /// What was found out about the pooled counts.
        fit: Fit,
        /// Why the main model cannot be fitted.
        reason: mixed::Reason,
    },
}

/// How the rates of the ears are distributed, in an average tray where trays have effects.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Population {
    /// Mean rate, 0 to 1.
    pub mean: f64,
    /// Standard deviation of the rates, 0 to 0.5.
    pub deviation: f64,
}

impl Population {
    fn of(prior: Prior) -> Self {
        let mean = prior.mean();
        Self {
            mean,
            deviation: (mean * (1.0 - mean) / (prior.strength() + 1.0)).sqrt(),
        }
    }

    /// The beta distribution with the same mean and standard deviation; `None` where there is none.
    pub fn prior(&self) -> Option<Prior> {
        let kernels = self.kernels();
        Prior::new(self.mean * kernels, (1.0 - self.mean) * kernels).ok()
    }

    /// How many kernels the distribution is worth: `alpha + beta` of the beta distribution with the same mean and
    /// standard deviation, which is `mean (1 - mean) / deviation^2 - 1`.
    pub fn kernels(&self) -> f64 {
        let variance = (self.deviation * self.deviation).max(f64::MIN_POSITIVE);
        (self.mean * (1.0 - self.mean) / variance - 1.0).max(0.0)
    }
}

/// What one tray did to the cells in it.
#[derive(Debug, Clone, PartialEq)]
pub struct TrayEffect {
    /// The tray.
    pub tray: TrayId,
    /// Its test.
    pub test: TestId,
    /// Its name at the beginning of a sentence: `Tray 4`, or with its test's name where the season has several.
    pub title: String,
    /// The effect on the logit scale, the mean of all trays being zero.
    pub logits: mixed::Estimate,
    /// What an average ear shows in this tray, in percent: the mean rate of all ears.
    pub percent: f64,
    /// What it shows in the other trays.
    pub others_percent: f64,
    /// The former above the latter, in percent points.
    pub points: f64,
    /// The 95 % interval of these points.
    pub points_95: PercentRange,
    /// The probability of an effect at least as large if the tray were like the average.
    pub p_value: f64,
    /// The share of false alarms among the trays at which this one would still be called different.
    pub false_alarms: f64,
}

impl TrayEffect {
    /// Whether the tray differs from the average by more than chance and by an amount that matters.
    pub fn is_clear(&self) -> bool {
        self.false_alarms < CLEAR_AT && self.points.abs() >= CLEAR_POINTS
    }

    /// Says the effect in a sentence.
    pub fn sentence(&self) -> String {
        format!(
            "{} was {} by about {:.0} points: an average ear shows {} there and {} in the other trays.",
            self.title,
            if self.points < 0.0 { "lower" } else { "higher" },
            self.points.abs(),
            whole(self.percent),
            whole(self.others_percent),
        )
    }
}

/// Gives the mean rate of all ears in an average tray, in percent, where their logits are higher by so much.
pub(super) fn mean_rate_at(model: &Model) -> impl Fn(f64) -> f64 {
    let rates: Vec<(f64, f64)> = model.population(Reference::AverageTray).weights().collect();
    move |shift: f64| {
        let odds = shift.exp();
        let shifted = |rate: f64| rate * odds / (1.0 - rate + rate * odds);
        100.0
            * rates
                .iter()
                .map(|(rate, weight)| weight * shifted(*rate))
                .sum::<f64>()
    }
}

/// Gives the effects of the trays of a model; empty where trays have none.
pub(super) fn tray_effects(
    project: &Project,
    trays: &[TrayId],
    model: &Model,
    is_named: bool,
) -> Vec<TrayEffect> {
    if !model.has_tray_effects() {
        return Vec::new();
    }
    let mean_at = mean_rate_at(model);
    let effects = model.tray_effects();
    let known: Vec<(TrayId, mixed::Estimate)> = trays
        .iter()
        .zip(effects)
        .filter_map(|(tray, effect)| Some((*tray, effect?)))
        .collect();
    let p_values: Vec<f64> = known.iter().map(|(_, effect)| effect.p_value()).collect();
    // All effects add up to zero, so the others have the opposite one between them.
    let others = |effect: f64| -effect / (p_values.len() as f64 - 1.0).max(1.0);
    let points = |effect: f64| mean_at(effect) - mean_at(others(effect));
    known
        .into_iter()
        .zip(false_discovery(&p_values))
        .zip(&p_values)
        .filter_map(|(((tray, logits), false_alarms), p_value)| {
            let record = project.trays.get(tray)?;
            Some(TrayEffect {
                tray,
                test: record.test,
                title: title(project, record.test, record.number, is_named),
                logits,
                percent: mean_at(logits.value),
                others_percent: mean_at(others(logits.value)),
                points: points(logits.value),
                points_95: PercentRange {
                    low: points(logits.value - Z_95 * logits.error),
                    high: points(logits.value + Z_95 * logits.error),
                },
                p_value: *p_value,
                false_alarms,
            })
        })
        .collect()
}

/// The slopes across the trays of one test that the likely figures allow for.
#[derive(Debug, Clone, PartialEq)]
pub struct AllowedSlopes {
    /// The test.
    pub test: TestId,
    /// Its name at the beginning of a sentence, `Test Early: `, where the season has several; else empty.
    pub title: String,
    /// The slope from the first row to the last; `None` where it cannot be told.
    pub by_row: Option<Slope>,
    /// The slope from the first column to the last; `None` where it cannot be told.
    pub by_column: Option<Slope>,
    /// Row and column of an average cell.
    middle: [f64; 2],
}

impl AllowedSlopes {
    /// By how many logits the place of a cell of the test is better than an average one.
    fn logits(&self, cell: &Counted) -> f64 {
        let part = |slope: &Option<Slope>, at: u16, middle: f64| {
            slope.map_or(0.0, |slope| slope.logits.value * (f64::from(at) - middle))
        };
        part(&self.by_row, cell.row, self.middle[0]) + part(&self.by_column, cell.column, self.middle[1])
    }

    fn sentences(&self) -> impl Iterator<Item = String> {
        let told = slope_sentences(self.by_row.as_ref(), self.by_column.as_ref());
        told.into_iter().map(|sentence| {
            if self.title.is_empty() {
                sentence
            } else {
                format!("{}{}", self.title, lower_first(&sentence))
            }
        })
    }
}

/// The estimates of all ears of a season.
#[derive(Debug, Clone)]
pub struct Estimates {
    /// What the likely figures come from.
    pub basis: Basis,
    /// What is believed of an ear before its own kernels are counted.
    pub population: Population,
    /// Which seedlings count as germinated.
    pub germinated: Germinated,
    /// The basis in a few sentences for the screen. They name the weak prior where one stands in, what the trays
    /// did, and what was left out.
    pub outcome: String,
    /// What each tray did, by test and number; empty where trays have no effect of their own.
    pub trays: Vec<TrayEffect>,
    /// The slopes across the trays that are allowed for, by test; empty where none are clear.
    pub slopes: Vec<AllowedSlopes>,
    /// What could not be allowed for, and why, a sentence each.
    pub left_out: Vec<String>,
    ears: BTreeMap<EarId, Estimate>,
    /// One for each different set of cells.
    pub(super) posteriors: Vec<Belief>,
    usual: Vec<Belief>,
}

impl Estimates {
    /// Gives the estimate of an ear; `None` when it was not scored, or when all its kernels were missing.
    pub fn of(&self, ear: EarId) -> Option<&Estimate> {
        self.ears.get(&ear)
    }

    /// Gives all scored ears in the order of their ids.
    pub fn iter(&self) -> impl ExactSizeIterator<Item = (EarId, &Estimate)> {
        self.ears.iter().map(|(ear, estimate)| (*ear, estimate))
    }

    /// Gives the number of scored ears.
    pub fn scored(&self) -> usize {
        self.ears.len()
    }

    /// Whether the ears were found to differ by more than chance makes them.
    pub fn has_spread(&self) -> bool {
        match &self.basis {
            Basis::Main(model) => model.spread().is_some(),
            Basis::StandIn { fit, .. } => matches!(fit, Fit::Fitted(_)),
        }
    }

    /// Gives the probability that an ear's true cold germination is at or above a cutoff; `None` when the ear was
    /// not scored.
    pub fn probability_at_least(&self, ear: EarId, cutoff: Cutoff) -> Option<f64> {
        let estimate = self.of(ear)?;
        Some(self.posteriors[estimate.posterior].probability_at_least(cutoff))
    }

    /// Gives what would be believed of an ear with each possible count, from none germinated to all, in an average
    /// tray, for the number of kernels that most ears have. Empty when no ear is scored, or when ears have more
    /// kernels than there is any doubt about.
    pub fn usual(&self) -> &[Belief] {
        &self.usual
    }
}

#[derive(Default)]
struct Pooled {
    germinated: u32,
    counted: u32,
    grades: u32,
    graded: u32,
    /// Places of its cells among all.
    cells: Vec<usize>,
}

impl Pooled {
    /// A total beyond all reason, which [`Counts`] refuses, is not believed: the ear counts as not scored.
    fn counts(&self) -> Option<Counts> {
        let counts = Counts::new(self.germinated, self.counted).ok();
        counts.filter(|counts| counts.n() > 0)
    }

    fn vigor(&self) -> Option<f64> {
        (self.graded > 0).then(|| f64::from(self.grades) / f64::from(self.graded))
    }
}

/// Pools the counts of each ear over its cells. Kernels that were missing do not count.
fn pool(cells: &[Counted]) -> BTreeMap<EarId, Pooled> {
    let mut found: BTreeMap<EarId, Pooled> = BTreeMap::new();
    for (place, cell) in cells.iter().enumerate() {
        let Some(ear) = cell.ear() else { continue };
        let pooled = found.entry(ear).or_default();
        pooled.germinated = pooled.germinated.saturating_add(cell.counts.k());
        pooled.counted = pooled.counted.saturating_add(cell.counts.n());
        pooled.cells.push(place);
        if let Some(vigor) = cell.vigor {
            pooled.grades += u32::from(vigor);
            pooled.graded += 1;
        }
    }
    found
}

/// Names the trays with too few counted ears to tell what the tray did: they are taken for average ones, lest a
/// tray that was just begun moves the figures of all ears. None, where most ears lie in such trays.
fn scanty(cells: &[Counted]) -> Vec<TrayId> {
    let mut ears: BTreeMap<TrayId, usize> = BTreeMap::new();
    for cell in cells.iter().filter(|cell| cell.counts.n() > 0) {
        *ears.entry(cell.tray).or_default() += usize::from(cell.ear().is_some());
    }
    let all: usize = ears.values().sum();
    ears.retain(|_, ears| *ears < FEWEST_UNITS);
    if 2 * ears.values().sum::<usize>() > all {
        return Vec::new();
    }
    ears.into_keys().collect()
}

/// What the ears are believed to be, before it is put into words.
struct Believed {
    posteriors: Vec<Belief>,
    /// Of each scored ear.
    of_ear: Vec<usize>,
    usual: Vec<Belief>,
    population: Population,
}

/// Fits the model to the cells that do not lie in some trays, with slopes across the trays of some tests.
fn fit_all_but(
    project: &Project,
    cells: &[Counted],
    trays: &[TrayId],
    sloping: &[TestId],
) -> (Arranged, Result<Box<Model>, mixed::Reason>) {
    let rest: Vec<Counted> = cells
        .iter()
        .filter(|cell| !trays.contains(&cell.tray))
        .copied()
        .collect();
    let mut arranged = design::arrange(project, &rest);
    let places = sloping
        .iter()
        .map(|test| design::places(&rest, |cell| test_of(project, cell) == Some(*test)));
    arranged.design = design::with_places(&arranged.design, places);
    let found = design::fit(&arranged.design);
    (arranged, found)
}

fn test_of(project: &Project, cell: &Counted) -> Option<TestId> {
    project.trays.get(cell.tray).map(|tray| tray.test)
}

/// The model of a test that has all counts of the season, if there is one: then it need not be fitted again.
fn of_all<'a>(tests: &'a [(TestId, Arc<Fitted>)], cells: &[Counted]) -> Option<&'a Fitted> {
    let mut found = tests.iter().map(|(_, fitted)| &**fitted);
    let found = found.find(|fitted| fitted.cells.len() == cells.len())?;
    let known: HashSet<CellId> = found.cells.iter().map(|cell| cell.cell).collect();
    cells
        .iter()
        .all(|cell| known.contains(&cell.cell))
        .then_some(found)
}

/// Reads the slopes that a model allows for; those of one test after the other, by row and by column, are its covariates.
fn allowed(project: &Project, model: &Model, cells: &[Counted], sloping: &[TestId]) -> Vec<AllowedSlopes> {
    let slopes = sloping.iter().enumerate().map(|(at, test)| {
        let own: Vec<Counted> = cells
            .iter()
            .filter(|cell| test_of(project, cell) == Some(*test))
            .copied()
            .collect();
        let record = project.tests.get(*test);
        let is_named = record.is_some_and(|test| project.tests_of(test.season).count() > 1);
        AllowedSlopes {
            test: *test,
            title: record
                .filter(|_| is_named)
                .map_or_else(String::new, |test| format!("Test {}: ", test.name)),
            by_row: slope(model, 2 * at, &own, |cell| cell.row),
            by_column: slope(model, 2 * at + 1, &own, |cell| cell.column),
            middle: design::places(&own, |_| true).middle,
        }
    });
    slopes
        .filter(|slopes| slopes.by_row.is_some() || slopes.by_column.is_some())
        .collect()
}

/// Estimates all ears of a season. `tests` are the models of the finished trays of its tests, which tell where slopes
/// across the trays are clear enough to be allowed for.
pub(super) fn compute(project: &Project, season: SeasonId, tests: &[(TestId, Arc<Fitted>)]) -> Estimates {
    let mut cells = design::of_season(project, season);
    let sloping: Vec<TestId> = tests
        .iter()
        .filter(|(_, fitted)| fitted.slopes.is_some())
        .map(|(test, _)| *test)
        .collect();
    let mut scanty = scanty(&cells);
    let fitted = of_all(tests, &cells).filter(|_| scanty.is_empty());
    let fresh;
    let (arranged, found) = if let Some(fitted) = fitted {
        cells.clone_from(&fitted.cells);
        let slopes = fitted.slopes.as_ref().map(|(model, _)| Ok(model.clone()));
        (&fitted.arranged, slopes.unwrap_or_else(|| fitted.model.clone()))
    } else {
        let mut again = fit_all_but(project, &cells, &scanty, &sloping);
        if again.1.is_err() && !scanty.is_empty() {
            scanty.clear();
            again = fit_all_but(project, &cells, &scanty, &sloping);
        }
        fresh = again.0;
        (&fresh, again.1)
    };
    let scored: Vec<(EarId, Counts, Pooled)> = pool(&cells)
        .into_iter()
        .filter_map(|(ear, pooled)| Some((ear, pooled.counts()?, pooled)))
        .collect();
    let counts: Vec<Counts> = scored.iter().map(|(_, counts, _)| *counts).collect();
    let basis = match found {
        Ok(model) => Basis::Main(model),
        Err(reason) => Basis::StandIn {
            fit: fit(&counts),
            reason,
        },
    };
    let slopes = match &basis {
        Basis::Main(model) => {
            let rest: Vec<Counted> = cells
                .iter()
                .filter(|cell| !scanty.contains(&cell.tray))
                .copied()
                .collect();
            allowed(project, model, &rest, &sloping)
        }
        Basis::StandIn { .. } => Vec::new(),
    };
    let place = |cell: &Counted| {
        let test = test_of(project, cell);
        let own = slopes.iter().find(|slopes| Some(slopes.test) == test);
        own.map_or(0.0, |slopes| slopes.logits(cell))
    };
    let believed = match &basis {
        Basis::Main(model) => by_model(model, arranged, &cells, &scanty, &scored, &place),
        Basis::StandIn { fit, .. } => by_counts(fit.prior(), &counts),
    };
    let is_named = project.tests_of(season).count() > 1;
    let (trays, left_out) = match &basis {
        Basis::Main(model) => (
            tray_effects(project, &arranged.trays, model, is_named),
            left_out(project, model, arranged, &scanty),
        ),
        Basis::StandIn { .. } => (Vec::new(), Vec::new()),
    };
    let figures: Vec<(f64, PercentRange)> = believed
        .posteriors
        .iter()
        .map(|one| (100.0 * one.mean(), one.interval(Confidence::P90).into()))
        .collect();
    let place_points = place_points(&basis, &slopes, &cells, &scored, &place);
    let mut wilsons: HashMap<Counts, PercentRange> = HashMap::new();
    let ears = scored
        .iter()
        .zip(&believed.of_ear)
        .zip(place_points)
        .map(|(((ear, counts, pooled), &posterior), place_points)| {
            let (likely_percent, likely_90) = figures[posterior];
            let everything = Interval { low: 0.0, high: 1.0 };
            let estimate = Estimate {
                counts: *counts,
                observed_percent: 100.0 * counts.rate().unwrap_or(0.0),
                observed_95: *wilsons
                    .entry(*counts)
                    .or_insert_with(|| wilson(*counts, Confidence::P95).unwrap_or(everything).into()),
                likely_percent,
                likely_90,
                vigor: pooled.vigor(),
                place_points,
                posterior,
            };
            (*ear, estimate)
        })
        .collect();
    Estimates {
        outcome: match &basis {
            Basis::Main(model) => main_outcome(
                model,
                counts.len(),
                &believed.population,
                &trays,
                &slopes,
                &left_out,
            ),
            Basis::StandIn { fit, reason } => stand_in_outcome(fit, *reason, counts.len()),
        },
        basis,
        population: believed.population,
        germinated: project.about.germinated,
        trays,
        slopes,
        left_out,
        ears,
        posteriors: believed.posteriors,
        usual: believed.usual,
    }
}

/// What an average ear shows in the places of each scored ear, above the middle of the trays, in percent points.
fn place_points(
    basis: &Basis,
    slopes: &[AllowedSlopes],
    cells: &[Counted],
    scored: &[(EarId, Counts, Pooled)],
    place: &impl Fn(&Counted) -> f64,
) -> Vec<Option<f64>> {
    let Basis::Main(model) = basis else {
        return vec![None; scored.len()];
    };
    if slopes.is_empty() {
        return vec![None; scored.len()];
    }
    let mean_at = mean_rate_at(model);
    let middle = mean_at(0.0);
    let mut known: HashMap<u64, f64> = HashMap::new();
    let points = scored.iter().map(|(_, counts, pooled)| {
        let kernels = f64::from(counts.n());
        let own = pooled.cells.iter().map(|at| &cells[*at]);
        let logits: f64 = own
            .map(|cell| place(cell) * f64::from(cell.counts.n()) / kernels)
            .sum();
        let points = known
            .entry(logits.to_bits())
            .or_insert_with(|| mean_at(logits) - middle);
        Some(*points)
    });
    points.collect()
}

/// The number of kernels that most ears have, if there is any and they are few enough.
fn usual_kernels(counts: impl Iterator<Item = Counts>) -> Option<u32> {
    let mut frequency: BTreeMap<u32, usize> = BTreeMap::new();
    for counts in counts {
        *frequency.entry(counts.n()).or_default() += 1;
    }
    let (kernels, _) = frequency.into_iter().max_by_key(|(_, ears)| *ears)?;
    (kernels <= MOST_USUAL).then_some(kernels)
}

fn every_count(kernels: Option<u32>, believe: impl Fn(Counts) -> Belief) -> Vec<Belief> {
    let Some(kernels) = kernels else {
        return Vec::new();
    };
    let counts = (0..=kernels).filter_map(|k| Counts::new(k, kernels).ok());
    counts.map(believe).collect()
}

fn by_counts(prior: Prior, counts: &[Counts]) -> Believed {
    let mut posteriors = Vec::new();
    let mut known: HashMap<Counts, usize> = HashMap::new();
    let believe = |counts| Belief::Beta(Posterior::new(prior, counts));
    let of_ear = counts
        .iter()
        .map(|counts| {
            *known.entry(*counts).or_insert_with(|| {
                posteriors.push(believe(*counts));
                posteriors.len() - 1
            })
        })
        .collect();
    Believed {
        posteriors,
        of_ear,
        usual: every_count(usual_kernels(counts.iter().copied()), believe),
        population: Population::of(prior),
    }
}

/// The fitted cells of an ear, and those added to them with the bits of their places.
type EarCells = (Option<usize>, Vec<(Counts, u64)>);

/// Believes the model of the cells it was fitted to; cells in scanty trays are added as from an average tray, in their
/// places.
fn by_model(
    model: &Model,
    arranged: &Arranged,
    cells: &[Counted],
    scanty: &[TrayId],
    scored: &[(EarId, Counts, Pooled)],
    place: &impl Fn(&Counted) -> f64,
) -> Believed {
    const AT: Reference = Reference::AverageTray;
    let main = |posterior| Belief::Main(Box::new(posterior));
    let fitted = model.posteriors(AT);
    let (distinct, of_unit) = fitted.distinct();
    let mut posteriors: Vec<Belief> = distinct.iter().cloned().map(main).collect();
    let mut known: HashMap<EarCells, usize> = HashMap::new();
    let of_ear = scored
        .iter()
        .map(|(ear, _, pooled)| {
            let unit = arranged.units.get(ear).copied();
            let own = pooled.cells.iter().map(|place| &cells[*place]);
            let in_scanty = own.filter(|cell| scanty.contains(&cell.tray));
            let mut added: Vec<(Counts, u64)> = in_scanty
                .map(|cell| (cell.counts, place(cell).to_bits()))
                .collect();
            let of_unit = unit.map(|unit| of_unit[unit]);
            match of_unit {
                Some(own) if added.is_empty() => own,
                _ => {
                    added.sort_unstable_by_key(|(counts, place)| (counts.n(), counts.k(), *place));
                    *known.entry((of_unit, added)).or_insert_with_key(|(_, added)| {
                        let added: Vec<(Counts, f64)> = added
                            .iter()
                            .map(|(counts, place)| (*counts, f64::from_bits(*place)))
                            .collect();
                        posteriors.push(main(model.posterior_with(AT, unit, &added)));
                        posteriors.len() - 1
                    })
                }
            }
        })
        .collect();
    let population = model.population(AT);
    Believed {
        posteriors,
        of_ear,
        usual: every_count(
            usual_kernels(scored.iter().map(|(_, counts, _)| *counts)),
            |counts| main(model.posterior_with(AT, None, &[(counts, 0.0)])),
        ),
        population: Population {
            mean: population.mean(),
            deviation: population.standard_deviation(),
        },
    }
}

/// Names trays by their numbers: `Tray 3`, `Trays 3, 7 and 9`.
pub(super) fn trays_by_number(project: &Project, trays: impl Iterator<Item = TrayId>) -> String {
    let records = trays.filter_map(|tray| project.trays.get(tray));
    let mut numbers: Vec<u16> = records.map(|tray| tray.number).collect();
    numbers.sort_unstable();
    let kind = if numbers.len() == 1 { "Tray" } else { "Trays" };
    format!("{kind} {}", some_of(&numbers))
}

/// Says what is not in the model and why, a sentence each.
pub(super) fn left_out(
    project: &Project,
    model: &Model,
    arranged: &Arranged,
    scanty: &[TrayId],
) -> Vec<String> {
    let mut found = Vec::new();
    let lot = |lot: &usize| match arranged.lots.get(*lot).map_or("", String::as_str) {
        "" => "The check lot".to_owned(),
        name => format!("The check lot '{name}'"),
    };
    for term in model.left_out() {
        match term {
            LeftOut::TraysAreGroups { trays } => {
                let names = trays.iter().filter_map(|tray| arranged.trays.get(*tray)).copied();
                let what = if trays.len() == 1 { "holds" } else { "hold each" };
                found.push(format!(
                    "{} {what} one mother row that is in no other tray, so what the tray did cannot be told from what the row is, and no tray is allowed for. Next time spread each row over all trays.",
                    trays_by_number(project, names)
                ));
            }
            LeftOut::TooManyTrays { trays, cells } => found.push(format!(
                "{} in {} are too few to tell what each tray did, so no tray is allowed for.",
                plural(*cells, "counted cell"),
                plural(*trays, "tray")
            )),
            LeftOut::Lot { lot: index } => found.push(format!(
                "{} lies with nothing that it could be compared with, so it says nothing about the trays.",
                lot(index)
            )),
            LeftOut::CellSpreadTooManyKernels | LeftOut::CellSpreadNotSettled => found.push(
                "Whether cells of one ear differ more than chance makes them differ could not be told, so it is not allowed for."
                    .to_owned(),
            ),
            // The covariates are rows and columns, which every cell has; trays of one row have no slope by row.
            LeftOut::Constant { .. }
            | LeftOut::Missing { .. }
            | LeftOut::Redundant { .. }
            | LeftOut::CellSpreadWithoutReplicates => {}
        }
    }
    for held in model.held() {
        match held {
            Held::Tray(tray) => {
                let names = arranged.trays.get(*tray).copied();
                found.push(format!(
                    "{} germinated fully or not at all, so how far it differs has no limit; it is held back by a weak prior.",
                    trays_by_number(project, names.into_iter())
                ));
            }
            Held::Lot(index) => found.push(format!(
                "{} germinated fully or not at all, so it is held back by a weak prior.",
                lot(index)
            )),
            Held::Covariate(_) => found.push(
                "Germination changes so steeply across the trays that the slope has no limit; it is held back by a weak prior."
                    .to_owned(),
            ),
        }
    }
    if !scanty.is_empty() && model.has_tray_effects() {
        let (have, are) = if scanty.len() == 1 {
            ("has", "is taken for an average tray")
        } else {
            ("have", "are taken for average trays")
        };
        found.push(format!(
            "{} {have} fewer than {FEWEST_UNITS} counted ears and {are}.",
            trays_by_number(project, scanty.iter().copied())
        ));
    }
    found
}

fn main_outcome(
    model: &Model,
    scored: usize,
    population: &Population,
    trays: &[TrayEffect],
    slopes: &[AllowedSlopes],
    left_out: &[String],
) -> String {
    let ears = plural(scored, "scored ear");
    let mean = whole(100.0 * population.mean);
    let mut sentences = vec![if model.spread().is_some() {
        format!(
            "{ears}: {mean} germinate on average, and ears differ from each other by about {:.0} percent points (standard deviation).",
            100.0 * population.deviation
        )
    } else {
        format!(
            "{ears}: {mean} germinate on average, and the counts differ no more than chance makes them differ. So nearly the same is likely for every ear."
        )
    }];
    if model.cell_correlation().is_some() {
        sentences.push(
            "Cells of one ear differ more than chance makes them differ, so each says less than its kernels would."
                .to_owned(),
        );
    }
    let mut clear: Vec<&TrayEffect> = trays.iter().filter(|tray| tray.is_clear()).collect();
    clear.sort_by(|a, b| b.points.abs().total_cmp(&a.points.abs()));
    sentences.extend(clear.iter().take(MOST_TRAYS).map(|tray| tray.sentence()));
    if clear.len() > MOST_TRAYS {
        sentences.push(format!(
            "{} more differ.",
            plural(clear.len() - MOST_TRAYS, "tray")
        ));
    }
    sentences.extend(slopes.iter().flat_map(AllowedSlopes::sentences));
    let judged = match (trays.is_empty(), slopes.is_empty()) {
        (true, true) => None,
        (false, true) => Some("in an average tray"),
        (true, false) => Some("in the middle of its tray"),
        (false, false) => Some("in the middle of an average tray"),
    };
    sentences.extend(judged.map(|place| format!("Each ear is judged as if it had lain {place}.")));
    sentences.extend(left_out.iter().cloned());
    sentences.join(" ")
}

fn stand_in_outcome(fit: &Fit, reason: mixed::Reason, scored: usize) -> String {
    let not_main = match reason {
        mixed::Reason::NoUpperBound => "nearly every ear germinated fully or not at all",
        _ => "with them the calculation did not settle",
    };
    let ears = plural(scored, "scored ear");
    match fit {
        Fit::Fitted(fitted) => {
            // The standard deviation of a beta distribution: sqrt(mu (1 - mu) rho).
            let spread = 100.0 * (fitted.mu * (1.0 - fitted.mu) * fitted.rho()).sqrt();
            format!(
                "{ears}: {} germinate on average, and ears differ from each other by about {spread:.0} percent points (standard deviation). Trays are not allowed for, because {not_main}.",
                whole(100.0 * fitted.mu)
            )
        }
        Fit::NoSpread { mu, .. } => format!(
            "{ears}: {} germinate on average, and the counts differ no more than chance makes them differ. So nearly the same is likely for every ear. Trays are not allowed for, because {not_main}.",
            whole(100.0 * mu)
        ),
        Fit::WeakPrior { reason, mu, .. } => {
            let why = match reason {
                WeakReason::NothingObserved => return "No ear has a final count yet.".to_owned(),
                WeakReason::TooFewUnits { units, needed } => {
                    format!(
                        "{} scored, and {needed} are needed",
                        if *units == 1 {
                            "1 ear is".to_owned()
                        } else {
                            format!("{units} ears are")
                        }
                    )
                }
                WeakReason::AllZero => "not one kernel germinated".to_owned(),
                WeakReason::AllFull => "every kernel germinated".to_owned(),
                WeakReason::SingleKernels => "only one kernel of each ear was counted".to_owned(),
                WeakReason::OnlyExtremes => "every ear germinated fully or not at all".to_owned(),
                WeakReason::NotSettled => "the calculation did not settle".to_owned(),
            };
            format!(
                "How much ears differ cannot be told because {why}. A weak prior stands in: every ear is judged as if {WEAK_STRENGTH} more kernels with {} germination had been counted.",
                whole(100.0 * mu)
            )
        }
    }
}
