//! The main model: counts by cell, with the tray, the place and the unit that each cell belongs to.
//!
//! `k ~ Binomial(n, p)` with `logit p = tray + sum of slopes * covariates + u`, `u ~ Normal(0, sigma^2)` once a
//! unit; a cell of a check lot has a fixed effect of its lot in place of `u`. Maximum likelihood. Optionally the
//! cells of one unit disagree more than chance lets them: then they are beta-binomial with one common
//! correlation.
//!
//! [`fit`] takes every [`Design`] and never fails: it answers with a [`Model`], in which terms may be left out
//! or held by a weak prior and are then named, or with the [`Reason`] why nothing can be fitted.

mod attempt;
mod climb;
mod design;
mod likelihood;
mod model;
mod posterior;
mod quadrature;
pub(crate) mod skyline;

pub use design::{Cell, Covariate, Design, DesignFault, Source};
pub use likelihood::WEAK_SPREAD;
pub use model::{Estimate, Model, RatioTest, Reference, UnitPosteriors};
pub(in crate::stats) use posterior::predictive;
pub use posterior::{Beside, UnitPosterior};

use attempt::Attempt;

use super::beta_binomial::FEWEST_UNITS;

/// What is fitted, and how finely.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// Digits of each unit's likelihood, from 4 to 14.
    pub digits: u32,
    /// Whether each tray has an effect of its own.
    pub with_trays: bool,
    /// Whether units have a random effect.
    pub with_spread: bool,
    /// Whether the cells of one unit may disagree more than chance lets them.
    pub with_cell_spread: bool,
    /// Fewer units with trials than this are not fitted.
    pub fewest_units: usize,
}

impl Default for Options {
    /// Binomial cells with tray effects and random units, 11 digits, at least [`FEWEST_UNITS`].
    fn default() -> Self {
        Self {
            digits: 11,
            with_trays: true,
            with_spread: true,
            with_cell_spread: false,
            fewest_units: FEWEST_UNITS,
        }
    }
}

/// What [`fit`] found.
#[derive(Debug, Clone)]
pub enum Outcome {
    /// A maximum, with its terms.
    Fitted(Box<Model>),
    /// Nothing can be fitted.
    NotFitted(Reason),
}

impl Outcome {
    /// The model, if there is one.
    pub fn model(&self) -> Option<&Model> {
        match self {
            Self::Fitted(model) => Some(model),
            Self::NotFitted(_) => None,
        }
    }
}

/// Why nothing can be fitted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Reason {
    /// No unit has any trial.
    NothingObserved,
    /// Fewer units with trials than are needed.
    TooFewUnits {
        /// Units with trials.
        units: usize,
        /// Units needed.
        needed: usize,
    },
    /// No success in any unit.
    AllZero,
    /// No failure in any unit.
    AllFull,
    /// Every unit has one trial only.
    SingleKernels,
    /// Every unit is all success or all failure, so that the spread has no upper bound.
    OnlyExtremes,
    /// Nearly every unit is all success or all failure: the larger the spread, the likelier the counts.
    NoUpperBound,
    /// The search for the maximum did not settle.
    NotSettled,
}

/// A term that was asked for and is not in the model, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LeftOut {
    /// Each of these trays holds one group only, which is in no other tray: what the tray did cannot be told
    /// from what the group is. No tray has an effect.
    TraysAreGroups {
        /// Indices of the trays.
        trays: Vec<usize>,
    },
    /// So few cells for so many trays that their effects would swallow the units. No tray has an effect.
    TooManyTrays {
        /// Trays with trials.
        trays: usize,
        /// Cells of units with trials.
        cells: usize,
    },
    /// The covariate has one value only.
    Constant {
        /// Index of the covariate.
        covariate: usize,
    },
    /// The covariate is missing in cells that have trials.
    Missing {
        /// Index of the covariate.
        covariate: usize,
        /// Cells with trials that lack it.
        cells: usize,
    },
    /// The covariate follows from the trays and the covariates before it.
    Redundant {
        /// Index of the covariate.
        covariate: usize,
    },
    /// The check lot cannot be told from the trays or lots that it lies with.
    Lot {
        /// Index of the lot.
        lot: usize,
    },
    /// No unit has two cells, so that cells that disagree cannot be told from units that differ. Cells are
    /// binomial.
    CellSpreadWithoutReplicates,
    /// So many kernels that cells that disagree would take too long to fit. Cells are binomial.
    CellSpreadTooManyKernels,
    /// The search for a spread between the cells of one unit did not settle. Cells are binomial.
    CellSpreadNotSettled,
}

/// A term that the counts do not bound, such as a tray where all kernels are dead or a check lot where none
/// is. It is held by a weak normal prior of standard deviation [`WEAK_SPREAD`] on the logit scale: a tray about
/// the common rate, the others about no effect, a covariate in units of its own standard deviation.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Held {
    /// A tray, by its index.
    Tray(usize),
    /// A check lot, by its index.
    Lot(usize),
    /// A covariate, by its index.
    Covariate(usize),
}

/// Fits the main model, or says why it cannot be fitted.
///
/// Units with equal cells are computed once. The cost grows with the distinct cells; the normal
/// equations are sparse where each unit lies in one tray or in trays near each other in index.
pub fn fit(design: &Design, options: &Options) -> Outcome {
    fit_from(design, options, None)
}

/// [`fit`], beginning where the model of the same design without its covariates stands: the answer is the same, the way
/// to it shorter.
pub fn fit_beside(design: &Design, options: &Options, without: &Model) -> Outcome {
    fit_from(design, options, Some(without))
}

fn fit_from(design: &Design, options: &Options, near: Option<&Model>) -> Outcome {
    match reason_not_to_fit(design, options) {
        Some(reason) => Outcome::NotFitted(reason),
        None => match Attempt::new(design, options).finish(design, options, near) {
            Ok(model) => Outcome::Fitted(Box::new(model)),
            Err(reason) => Outcome::NotFitted(reason),
        },
    }
}

/// Tests whether the covariates of a design would tell anything that the model of the same design without them leaves
/// open: Rao's score test, which needs no fit. `None` where no covariate can be told, where the model is not of this
/// design, or where the likelihood is not curved downwards there: then the model may lie far below the top.
///
/// With `g` the slopes of the log-likelihood by the coefficients at zero and `V` their block of the inverse information,
/// the statistic is `g' V g`. Source: Rao 1948, Math. Proc. Camb. Philos. Soc. 44:50, from memory.
pub fn score_test(design: &Design, options: &Options, without: &Model) -> Option<RatioTest> {
    Attempt::new(design, options).score_test(without)
}

fn reason_not_to_fit(design: &Design, options: &Options) -> Option<Reason> {
    let mut totals = vec![(0_u64, 0_u64); design.units];
    for (_, cell) in design.observed() {
        if let Source::Unit(unit) = cell.source {
            totals[unit].0 += u64::from(cell.counts.k());
            totals[unit].1 += u64::from(cell.counts.n());
        }
    }
    totals.retain(|&(_, n)| n > 0);
    let units = totals.len();
    if units == 0 {
        return Some(Reason::NothingObserved);
    }
    let needed = options.fewest_units;
    if units < needed {
        return Some(Reason::TooFewUnits { units, needed });
    }
    if totals.iter().all(|&(k, _)| k == 0) {
        return Some(Reason::AllZero);
    }
    if totals.iter().all(|&(k, n)| k == n) {
        return Some(Reason::AllFull);
    }
    if !options.with_spread {
        return None;
    }
    if totals.iter().all(|&(_, n)| n == 1) {
        return Some(Reason::SingleKernels);
    }
    let only_extremes = totals.iter().all(|&(k, n)| k == 0 || k == n);
    only_extremes.then_some(Reason::OnlyExtremes)
}
