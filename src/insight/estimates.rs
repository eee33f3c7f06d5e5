//! What each ear of a season is likely to be.

use super::words::{percent, plural, whole};
use crate::model::{CellContent, CellId, CountId, EarId, Germinated, Pass, Project, SeasonId};
use crate::stats::beta_binomial::WEAK_STRENGTH;
use crate::stats::{
    Confidence, Counts, Cutoff, Fit, Interval, Posterior, Prior, WeakReason, fit, reaches, wilson,
};
use std::collections::{BTreeMap, HashMap, HashSet};

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
    /// Which of [`Estimates::posteriors`] is the ear's.
    pub(super) posterior: usize,
}

impl Estimate {
    /// Says whether the count itself reaches a cutoff, compared in whole numbers.
    pub fn reaches(&self, cutoff: Cutoff) -> bool {
        reaches(self.counts, cutoff)
    }

    /// Says the figures in one sentence, such as '8 of 10 germinated: 80 %, true value between 49 and 94 % with
    /// 95 % confidence; likely 76 %'.
    pub fn sentence(&self) -> String {
        format!(
            "{} of {} germinated: {}, true value between {:.0} and {} with 95 % confidence; likely {}",
            self.counts.k(),
            self.counts.n(),
            percent(self.observed_percent),
            self.observed_95.low,
            whole(self.observed_95.high),
            whole(self.likely_percent),
        )
    }
}

/// The estimates of all ears of a season.
#[derive(Debug, Clone, PartialEq)]
pub struct Estimates {
    /// What was found out about the ears as a whole.
    pub fit: Fit,
    /// What is believed of an ear before its own kernels are counted; it follows from the fit.
    pub prior: Prior,
    /// Which seedlings count as germinated.
    pub germinated: Germinated,
    /// The fit in a sentence for the screen. It names the weak prior where one stands in.
    pub outcome: String,
    ears: BTreeMap<EarId, Estimate>,
    /// One for each different pair of germinated and counted kernels.
    pub(super) posteriors: Vec<Posterior>,
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

    /// Gives the probability that an ear's true cold germination is at or above a cutoff; `None` when the ear was
    /// not scored.
    pub fn probability_at_least(&self, ear: EarId, cutoff: Cutoff) -> Option<f64> {
        let estimate = self.of(ear)?;
        Some(self.posteriors[estimate.posterior].probability_at_least(cutoff))
    }
}

#[derive(Default)]
struct Pooled {
    germinated: u32,
    counted: u32,
    grades: u32,
    graded: u32,
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

/// Pools the final counts in force of each ear over its cells. Kernels that were missing do not count.
///
/// This is [`Project::final_tally`] of all ears in one pass over the counts, which is several times faster.
fn pool(project: &Project) -> HashMap<EarId, Pooled> {
    let corrected: HashSet<CountId> = project.counts.iter().filter_map(|count| count.corrects).collect();
    let mut taken: HashSet<CellId> = HashSet::new();
    let mut pooled: HashMap<EarId, Pooled> = HashMap::new();
    for count in project.counts.iter() {
        if count.pass != Pass::Final || count.second || corrected.contains(&count.id) {
            continue;
        }
        let Some(CellContent::Ear(ear)) = project.cells.get(count.cell).map(|cell| cell.content) else {
            continue;
        };
        if !taken.insert(count.cell) {
            continue;
        }
        let pooled = pooled.entry(ear).or_default();
        pooled.germinated += count.tally.germinated(project.about.germinated);
        pooled.counted += count.tally.counted();
        if let Some(vigor) = count.vigor {
            pooled.grades += u32::from(vigor);
            pooled.graded += 1;
        }
    }
    pooled
}

pub(super) fn compute(project: &Project, season: SeasonId) -> Estimates {
    let pooled = pool(project);
    let scored: Vec<(EarId, Counts, Option<f64>)> = project
        .ears_of(season)
        .filter_map(|ear| {
            let pooled = pooled.get(&ear.id)?;
            Some((ear.id, pooled.counts()?, pooled.vigor()))
        })
        .collect();
    let counts: Vec<Counts> = scored.iter().map(|(_, counts, _)| *counts).collect();
    let fit = fit(&counts);
    let prior = fit.prior();
    let mut posteriors = Vec::new();
    let mut known: HashMap<Counts, Estimate> = HashMap::new();
    let ears = scored
        .into_iter()
        .map(|(ear, counts, vigor)| {
            let figures = *known.entry(counts).or_insert_with(|| {
                let posterior = Posterior::new(prior, counts);
                posteriors.push(posterior);
                estimate(counts, &posterior, posteriors.len() - 1)
            });
            (ear, Estimate { vigor, ..figures })
        })
        .collect();
    Estimates {
        fit,
        prior,
        germinated: project.about.germinated,
        outcome: outcome(&fit, counts.len()),
        ears,
        posteriors,
    }
}

fn estimate(counts: Counts, posterior: &Posterior, at: usize) -> Estimate {
    let everything = Interval { low: 0.0, high: 1.0 };
    Estimate {
        counts,
        observed_percent: 100.0 * counts.rate().unwrap_or(0.0),
        observed_95: wilson(counts, Confidence::P95).unwrap_or(everything).into(),
        likely_percent: 100.0 * posterior.mean(),
        likely_90: posterior.interval(Confidence::P90).into(),
        vigor: None,
        posterior: at,
    }
}

fn outcome(fit: &Fit, scored: usize) -> String {
    let ears = plural(scored, "scored ear");
    match fit {
        Fit::Fitted(fitted) => {
            // The standard deviation of a beta distribution: sqrt(mu (1 - mu) rho).
            let spread = 100.0 * (fitted.mu * (1.0 - fitted.mu) * fitted.rho()).sqrt();
            format!(
                "{ears}: {} germinate on average, and ears differ from each other by about {spread:.0} percent points (standard deviation).",
                whole(100.0 * fitted.mu)
            )
        }
        Fit::NoSpread { mu, .. } => format!(
            "{ears}: {} germinate on average, and the counts differ no more than chance makes them differ. So nearly the same is likely for every ear.",
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
