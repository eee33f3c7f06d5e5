//! The look ahead: what a plan of testing and choosing ears does to a population over seasons, by simulation.
//!
//! One replicate is one way in which it may go. A plant has a breeding value on the logit scale; a kernel has half of its
//! mother's, half of its father's and a draw of its own, whose variance falls with the inbreeding of the parents (the
//! infinitesimal model; Bulmer 1980, The Mathematical Theory of Quantitative Genetics, from memory). An ear is one plant's
//! kernels of many fathers. It germinates by their mean and by a deviation of its own that is not inherited: how dry and
//! healthy it was, and what only mothers pass on. What is seen of it is a binomial draw of its kernels, ears are chosen by
//! what that tells, and the kernels of the chosen are the plants of the season after. Who is related to whom is
//! reckoned along, by the tabular rule of [`super::pedigree`].
//!
//! Replicates do not depend on one another, so a caller can spread ranges of them over threads and stop between any two.

mod kin;
mod outlook;
mod replicate;
mod told;

pub use outlook::{Band, Outlook, SeasonAhead, outlook};
pub use replicate::Round;

use super::response::Span;
use crate::stats::Cutoff;
use replicate::Field;
use std::ops::Range;

/// The most seasons that are looked ahead.
pub const MOST_SEASONS: u32 = 20;
/// The most ears tested, and plants in the field: far above any real plan, so that one replicate stays quick.
pub const MOST_EARS: u32 = 20_000;
/// The most plants in the field of one season.
pub const MOST_PLANTS: u32 = 200_000;
/// The most kernels of one ear in a test.
pub const MOST_KERNELS: u32 = 1_000;
/// The most ears that can be kept: the kinship of all of them is reckoned.
pub const MOST_KEPT: u32 = 1_000;
/// The least evenness of shared-out kernels.
pub const LEAST_EVENNESS: f64 = 0.3;
/// So many ears are planted even where fewer reach the cutoff, so that the population goes on.
pub const FEWEST_KEPT: usize = 2;

/// The population as it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Population {
    /// The logit of the germination of an ear without any deviation.
    pub mean_logit: f64,
    /// The standard deviation of the ears on the logit scale.
    pub deviation_logits: f64,
    /// The part of the variance of the ears that is inherited, a quarter of the additive variance of plants, 0 to 1: each
    /// replicate draws its own from this range, all equally likely.
    pub inherited: Span,
    /// Mother rows, with the plants of each in any unit. The mothers of two rows are unrelated.
    pub rows: Vec<f64>,
}

/// Who sheds the pollen of a season.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Pollen {
    /// All plants of all rows, each plant on itself as much as on any other.
    AllRows,
    /// Pollen rows of a bulk of the kept ears; the rows that bear ears are detasselled.
    BulkOfKept,
    /// Pollen rows of a bulk of all tested ears, chosen or not; the rows that bear ears are detasselled.
    BulkOfAll,
}

/// A cutoff, and how sure it must be that an ear reaches it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sure {
    /// The least germination.
    pub cutoff: Cutoff,
    /// The least probability that an ear germinates as well, above 0 and below 1.
    pub sureness: f64,
}

/// What the grower does every season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// Ears tested.
    pub ears: u32,
    /// Kernels of each ear in the test, replicates together.
    pub kernels: u32,
    /// Ears kept, at most: those that germinated best.
    pub kept: u32,
    /// What a kept ear must reach; none to keep the best whatever they are.
    pub cutoff: Option<Sure>,
    /// Ears kept of one mother row, at most.
    pub cap: Option<u32>,
    /// The part of the ears that pass all other limits, such as that on maturity, however they germinate: above 0, at
    /// most 1.
    pub passing: f64,
    /// Plants grown of each kept ear, on the mean.
    pub plants_each: u32,
    /// The effective number of kept ears as a part of their number: 1 for equal kernels of each; below it, the better an
    /// ear is likely to be, the more kernels are planted of it.
    pub evenness: f64,
    /// Who sheds the pollen.
    pub pollen: Pollen,
    /// The part of the pollen that comes from unrelated plants like those at the start, 0 to 1.
    pub foreign: f64,
    /// Seasons, 1 to [`MOST_SEASONS`].
    pub seasons: u32,
}

/// Why nothing can be simulated.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum NoLook {
    /// A number outside its range.
    #[error("{what} cannot be {value}{unit}: give {low} to {high}{unit}")]
    Outside {
        /// What it is.
        what: &'static str,
        /// What was given.
        value: f64,
        /// The least that can be.
        low: f64,
        /// The most that can be.
        high: f64,
        /// What stands behind these numbers: nothing, or the sign of percent.
        unit: &'static str,
    },
    /// More ears are to be kept than tested.
    #[error("{kept} of {ears} ears cannot be kept: test more ears or keep fewer")]
    MoreKept {
        /// Ears to keep.
        kept: u32,
        /// Ears tested.
        ears: u32,
    },
    /// The field bears fewer ears than are to be tested.
    #[error(
        "{plants} plants do not bear {ears} ears to test: grow more plants of each kept ear, or test fewer ears"
    )]
    TooFewPlants {
        /// Plants in the field.
        plants: u32,
        /// Ears to test.
        ears: u32,
    },
    /// The field is too large.
    #[error(
        "{plants} plants are more than {MOST_PLANTS} and are surely a slip: keep fewer ears or grow fewer of each"
    )]
    TooManyPlants {
        /// Plants in the field.
        plants: u64,
    },
    /// The population has no rows, or a number of it is not possible.
    #[error("the population as it stands cannot be simulated: its figures are not possible")]
    Population,
}

fn within(what: &'static str, value: f64, [low, high]: [f64; 2], unit: &'static str) -> Result<(), NoLook> {
    if (low..=high).contains(&value) {
        return Ok(());
    }
    Err(NoLook::Outside {
        what,
        value,
        low,
        high,
        unit,
    })
}

/// Shares are told in percent, as they are typed.
fn share_within(what: &'static str, share: f64, [low, high]: [f64; 2]) -> Result<(), NoLook> {
    if (low..=high).contains(&share) {
        return Ok(());
    }
    within(what, 100.0 * share, [100.0 * low, 100.0 * high], " %")
}

impl Plan {
    /// Refuses a plan that cannot be carried out.
    ///
    /// # Errors
    /// See [`NoLook`].
    pub fn check(&self) -> Result<(), NoLook> {
        let whole = |what, value: u32, low: u32, high: u32| {
            within(what, f64::from(value), [f64::from(low), f64::from(high)], "")
        };
        whole("the number of seasons", self.seasons, 1, MOST_SEASONS)?;
        whole("the number of ears tested", self.ears, 2, MOST_EARS)?;
        whole("the kernels of an ear", self.kernels, 1, MOST_KERNELS)?;
        whole("the number of ears kept", self.kept, 2, MOST_KEPT)?;
        whole("the plants of an ear", self.plants_each, 1, MOST_PLANTS)?;
        if let Some(cap) = self.cap {
            whole("the cap of a mother row", cap, 1, MOST_EARS)?;
        }
        share_within("the share of foreign pollen", self.foreign, [0.0, 1.0])?;
        share_within(
            "the part of ears that pass other limits",
            self.passing,
            [0.01, 1.0],
        )?;
        share_within("the evenness", self.evenness, [LEAST_EVENNESS, 1.0])?;
        if let Some(sure) = self.cutoff {
            within("the sureness", sure.sureness, [0.5, 0.99], "")?;
        }
        if self.kept > self.ears {
            return Err(NoLook::MoreKept {
                kept: self.kept,
                ears: self.ears,
            });
        }
        let plants = u64::from(self.kept) * u64::from(self.plants_each);
        if plants > u64::from(MOST_PLANTS) {
            return Err(NoLook::TooManyPlants { plants });
        }
        if plants < u64::from(self.ears) {
            return Err(NoLook::TooFewPlants {
                plants: plants as u32,
                ears: self.ears,
            });
        }
        Ok(())
    }
}

impl Population {
    fn check(&self) -> Result<(), NoLook> {
        let Span { low, high } = self.inherited;
        let possible = self.mean_logit.is_finite()
            && self.deviation_logits.is_finite()
            && self.deviation_logits >= 0.0
            && (0.0..=high).contains(&low)
            && high <= 1.0
            && (1..=MOST_KEPT as usize).contains(&self.rows.len())
            && self.rows.iter().all(|plants| plants.is_finite() && *plants > 0.0);
        possible.then_some(()).ok_or(NoLook::Population)
    }
}

/// Simulates these replicates, each as the population at the start and after every season: `plan.seasons + 1` rounds.
///
/// The same seed and number of a replicate give the same answer, in whichever range it stands.
///
/// # Errors
/// See [`NoLook`].
pub fn replicates(
    population: &Population,
    plan: &Plan,
    seed: u64,
    numbers: Range<u32>,
) -> Result<Vec<Vec<Round>>, NoLook> {
    plan.check()?;
    population.check()?;
    let mut field = Field::default();
    Ok(numbers
        .map(|number| field.replicate(population, plan, seed, number))
        .collect())
}

/// Replicates that are simulated at a time: between two batches a caller can stop.
const BATCH: u32 = 10;

/// How many batches so many replicates are.
pub fn batches(replicates: u32) -> usize {
    replicates.div_ceil(BATCH) as usize
}

/// The numbers of the replicates of a batch.
pub fn batch(replicates: u32, number: usize) -> Range<u32> {
    let first = (number as u32).saturating_mul(BATCH).min(replicates);
    first..first.saturating_add(BATCH).min(replicates)
}
