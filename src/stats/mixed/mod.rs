//! The main model: counts by cell, with the tray, the place and the unit that each cell belongs to.
//!
//! `k ~ Binomial(n, p)` with `logit p = tray + sum of slopes * covariates + u`, `u ~ Normal(0, sigma^2)` once a
//! unit; a cell of a check lot has a fixed effect of its lot in place of `u`. Maximum likelihood. Optionally the
//! cells of one unit disagree more than chance lets them: then they are beta-binomial with one common
//! correlation.
//!
//! [`fit`] takes every [`Design`] and never fails: it answers with a [`Model`], in which terms may be left out
//! or held by a weak prior and are then named, or with the [`Reason`] why nothing can be fitted.

mod climb;
mod likelihood;
mod posterior;
mod quadrature;
pub(in crate::stats) mod skyline;

use std::collections::{BTreeMap, BTreeSet};

use statrs::distribution::{ChiSquared, ContinuousCDF};
use statrs::function::gamma::ln_gamma;

use climb::{Peak, climb};
use likelihood::{Case, CellRow, MOST_SIGMA, Point, Problem};
use posterior::{logistic, logit};
use skyline::Factor;

pub use likelihood::WEAK_SPREAD;
pub(in crate::stats) use posterior::predictive;
pub use posterior::{Beside, UnitPosterior};

use super::beta_binomial::FEWEST_UNITS;
use super::{Counts, Cutoff};

/// The least standard deviation of a posterior on the logit scale: no rate is known better.
const LEAST_SCALE: f64 = 1e-9;

/// What a cell was sown with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Source {
    /// One of the units whose rates are draws from one distribution, by its index.
    Unit(usize),
    /// One of the check lots, by its index.
    Lot(usize),
}

/// The counts of one cell and where it lay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cell {
    /// Successes and trials; a cell without trials says nothing and is passed over.
    pub counts: Counts,
    /// What was sown in it.
    pub source: Source,
    /// Index of its tray.
    pub tray: usize,
}

/// One number for each cell: a place in the tray, or anything known of what was sown.
#[derive(Debug, Clone, PartialEq)]
pub struct Covariate {
    /// The value of each cell, `None` where it is missing.
    pub values: Vec<Option<f64>>,
    /// The value at the reference position.
    pub reference: f64,
}

/// Everything that [`fit`] needs to know; each part is checked where it is added.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Design {
    cells: Vec<Cell>,
    units: usize,
    trays: usize,
    lots: usize,
    covariates: Vec<Covariate>,
    groups: Vec<usize>,
}

/// What [`Design`] refuses.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum DesignFault {
    /// An index that is not below the stated number of units, trays or lots.
    #[error(
        "cell {cell} names a unit, tray or lot that does not exist. Correct the cell or the number of them."
    )]
    OutOfRange {
        /// Index of the cell.
        cell: usize,
    },
    /// Not one value for each cell, or not one group for each unit.
    #[error("{given} values were given where {needed} are needed. Give one for each.")]
    Length {
        /// Values given.
        given: usize,
        /// Values needed.
        needed: usize,
    },
    /// A value that is not a finite number.
    #[error("the value of cell {cell} is not a number. Correct it, or leave it out as missing.")]
    NotFinite {
        /// Index of the cell.
        cell: usize,
    },
    /// A reference that is not a finite number.
    #[error("the value at the reference position is not a number. Correct it.")]
    Reference,
}

impl Design {
    /// Takes the cells and how many units, trays and check lots there are, those without cells included.
    ///
    /// # Errors
    /// [`DesignFault::OutOfRange`].
    pub fn new(cells: Vec<Cell>, units: usize, trays: usize, lots: usize) -> Result<Self, DesignFault> {
        let is_outside = |cell: &Cell| {
            cell.tray >= trays
                || match cell.source {
                    Source::Unit(unit) => unit >= units,
                    Source::Lot(lot) => lot >= lots,
                }
        };
        if let Some(cell) = cells.iter().position(is_outside) {
            return Err(DesignFault::OutOfRange { cell });
        }
        Ok(Self {
            cells,
            units,
            trays,
            lots,
            ..Self::default()
        })
    }

    /// Adds a covariate; its index is the number of those before it.
    ///
    /// # Errors
    /// [`DesignFault::Length`], [`DesignFault::NotFinite`] and [`DesignFault::Reference`].
    pub fn with_covariate(mut self, covariate: Covariate) -> Result<Self, DesignFault> {
        let (given, needed) = (covariate.values.len(), self.cells.len());
        if given != needed {
            return Err(DesignFault::Length { given, needed });
        }
        let is_bad = |value: &Option<f64>| value.is_some_and(|value| !value.is_finite());
        if let Some(cell) = covariate.values.iter().position(is_bad) {
            return Err(DesignFault::NotFinite { cell });
        }
        if !covariate.reference.is_finite() {
            return Err(DesignFault::Reference);
        }
        self.covariates.push(covariate);
        Ok(self)
    }

    /// Names the group, such as the family, of each unit, so that trays that each hold one whole group are
    /// recognised.
    ///
    /// # Errors
    /// [`DesignFault::Length`].
    pub fn with_groups(mut self, groups: Vec<usize>) -> Result<Self, DesignFault> {
        let (given, needed) = (groups.len(), self.units);
        if given != needed {
            return Err(DesignFault::Length { given, needed });
        }
        self.groups = groups;
        Ok(self)
    }

    /// The cells, in the order given.
    pub fn cells(&self) -> &[Cell] {
        &self.cells
    }

    fn observed(&self) -> impl Iterator<Item = (usize, &Cell)> {
        self.cells
            .iter()
            .enumerate()
            .filter(|(_, cell)| cell.counts.n() > 0)
    }

    /// Trays that hold one group only, which is in no other tray.
    fn confounded_trays(&self) -> Vec<usize> {
        if self.groups.is_empty() {
            return Vec::new();
        }
        let mut groups_of_tray = vec![BTreeSet::new(); self.trays];
        let mut trays_of_group: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for (_, cell) in self.observed() {
            if let Source::Unit(unit) = cell.source {
                let group = self.groups[unit];
                groups_of_tray[cell.tray].insert(group);
                trays_of_group.entry(group).or_default().insert(cell.tray);
            }
        }
        let is_confounded = |&tray: &usize| match groups_of_tray[tray].first() {
            Some(group) if groups_of_tray[tray].len() == 1 => trays_of_group[group].len() == 1,
            _ => false,
        };
        (0..self.trays).filter(is_confounded).collect()
    }
}

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

/// An estimate and its standard error from the observed information.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Estimate {
    /// Maximum likelihood estimate.
    pub value: f64,
    /// Standard error.
    pub error: f64,
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

/// The result of a likelihood-ratio test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RatioTest {
    /// Twice the difference of the log-likelihoods.
    pub statistic: f64,
    /// Degrees of freedom.
    pub degrees: usize,
    /// The probability of a larger statistic if the term were not there.
    pub p_value: f64,
}

/// A fitted model.
#[derive(Debug, Clone)]
pub struct Model {
    problem: Problem,
    point: Point,
    factor: Factor,
    modes: Vec<f64>,
    /// Case of each unit, `None` without trials.
    case_of_unit: Vec<Option<usize>>,
    /// Row in the problem of each cell of the design.
    row_of_cell: Vec<Option<usize>>,
    counts: Vec<Counts>,
    level_of_tray: Vec<Option<usize>>,
    columns: Vec<Option<Column>>,
    lots: Vec<Option<usize>>,
    log_likelihood: f64,
    log_likelihood_without_spread: f64,
    gradient_norm: f64,
    steps: usize,
    depth: f64,
    left_out: Vec<LeftOut>,
    held: Vec<Held>,
}

/// Fits the main model, or says why it cannot be fitted.
///
/// Units with equal cells are computed once. The cost grows with the distinct cells; the normal
/// equations are sparse where each unit lies in one tray or in trays near each other in index.
pub fn fit(design: &Design, options: &Options) -> Outcome {
    match reason_not_to_fit(design, options) {
        Some(reason) => Outcome::NotFitted(reason),
        None => match Attempt::new(design, options).finish(design, options) {
            Ok(model) => Outcome::Fitted(Box::new(model)),
            Err(reason) => Outcome::NotFitted(reason),
        },
    }
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

/// A covariate in the model, measured from its mean in units of its standard deviation.
#[derive(Debug, Clone, Copy)]
struct Column {
    index: usize,
    mean: f64,
    deviation: f64,
    /// Its value at the reference position, so measured.
    reference: f64,
}

/// A model on its way: which terms are in it, and the problem that follows.
struct Attempt {
    level_of_tray: Vec<Option<usize>>,
    columns: Vec<Option<Column>>,
    lots: Vec<Option<usize>>,
    left_out: Vec<LeftOut>,
    problem: Problem,
    case_of_unit: Vec<Option<usize>>,
    row_of_cell: Vec<Option<usize>>,
    common_logit: f64,
    trials: f64,
}

impl Attempt {
    fn new(design: &Design, options: &Options) -> Self {
        let (successes, trials) = design.observed().fold((0.0, 0.0), |(k, n), (_, cell)| {
            (k + f64::from(cell.counts.k()), n + f64::from(cell.counts.n()))
        });
        let mut attempt = Self {
            level_of_tray: Vec::new(),
            columns: Vec::new(),
            lots: vec![None; design.lots],
            left_out: Vec::new(),
            problem: Problem {
                levels: 0,
                columns: 0,
                lots: 0,
                cases: Vec::new(),
                cells: Vec::new(),
                sizes: Vec::new(),
                values: Vec::new(),
                held: Vec::new(),
            },
            case_of_unit: Vec::new(),
            row_of_cell: Vec::new(),
            common_logit: logit((successes + 0.5) / (trials + 1.0)),
            trials,
        };
        attempt.choose_levels(design, options);
        attempt.choose_columns(design);
        attempt.choose_lots(design);
        attempt.build(design);
        attempt.drop_redundant(design);
        attempt
    }

    fn choose_levels(&mut self, design: &Design, options: &Options) {
        let mut is_observed = vec![false; design.trays];
        for (_, cell) in design.observed() {
            is_observed[cell.tray] = true;
        }
        let trays = is_observed.iter().filter(|is| **is).count();
        let is_of_unit = |(_, cell): &(usize, &Cell)| matches!(cell.source, Source::Unit(_));
        let cells = design.observed().filter(is_of_unit).count();
        let mut is_apart = options.with_trays && trays > 1;
        if is_apart {
            let confounded = design.confounded_trays();
            if !confounded.is_empty() {
                self.left_out.push(LeftOut::TraysAreGroups { trays: confounded });
                is_apart = false;
            } else if options.with_spread && cells < trays + FEWEST_UNITS {
                self.left_out.push(LeftOut::TooManyTrays { trays, cells });
                is_apart = false;
            }
        }
        let mut levels = 0;
        self.level_of_tray = is_observed
            .iter()
            .map(|&is_observed| {
                is_observed.then(|| {
                    let level = if is_apart { levels } else { 0 };
                    levels += 1;
                    level
                })
            })
            .collect();
        self.problem.levels = if is_apart { levels } else { 1 };
    }

    fn choose_columns(&mut self, design: &Design) {
        let mut columns = 0;
        for (covariate, given) in design.covariates.iter().enumerate() {
            let values: Vec<Option<f64>> = design.observed().map(|(cell, _)| given.values[cell]).collect();
            let known: Vec<f64> = values.iter().copied().flatten().collect();
            let cells = values.len() - known.len();
            let mean = known.iter().sum::<f64>() / known.len().max(1) as f64;
            let square = known.iter().map(|x| (x - mean).powi(2)).sum::<f64>() / known.len().max(1) as f64;
            let deviation = square.sqrt();
            let is_constant = deviation <= 1e-10 * known.iter().fold(0.0_f64, |most, x| most.max(x.abs()));
            if cells > 0 {
                self.left_out.push(LeftOut::Missing { covariate, cells });
                self.columns.push(None);
            } else if is_constant || !deviation.is_finite() {
                self.left_out.push(LeftOut::Constant { covariate });
                self.columns.push(None);
            } else {
                self.columns.push(Some(Column {
                    index: columns,
                    mean,
                    deviation,
                    reference: (given.reference - mean) / deviation,
                }));
                columns += 1;
            }
        }
        self.problem.columns = columns;
    }

    fn choose_lots(&mut self, design: &Design) {
        for (_, cell) in design.observed() {
            if let Source::Lot(lot) = cell.source
                && self.lots[lot].is_none()
            {
                self.lots[lot] = Some(self.problem.lots);
                self.problem.lots += 1;
            }
        }
    }

    fn values_of(&self, design: &Design, cell: usize) -> Vec<f64> {
        let mut values = vec![0.0; self.problem.columns];
        for (given, column) in design.covariates.iter().zip(&self.columns) {
            if let (Some(column), Some(value)) = (column, given.values[cell]) {
                values[column.index] = (value - column.mean) / column.deviation;
            }
        }
        values
    }

    /// Lays the cells out by unit, units with equal cells as one case.
    fn build(&mut self, design: &Design) {
        let mut cells_of_unit: Vec<Vec<usize>> = vec![Vec::new(); design.units];
        let mut lot_cells = Vec::new();
        for (index, cell) in design.observed() {
            match cell.source {
                Source::Unit(unit) => cells_of_unit[unit].push(index),
                Source::Lot(_) => lot_cells.push(index),
            }
        }
        let values: Vec<Vec<f64>> = (0..design.cells.len())
            .map(|cell| self.values_of(design, cell))
            .collect();
        let compare_cells = |a: usize, b: usize| {
            let key = |cell: &Cell| (self.level_of_tray[cell.tray], cell.counts.n(), cell.counts.k());
            let (left, right) = (&design.cells[a], &design.cells[b]);
            key(left).cmp(&key(right)).then_with(|| {
                let pairs = values[a].iter().zip(&values[b]);
                pairs
                    .map(|(x, y)| x.total_cmp(y))
                    .find(|order| order.is_ne())
                    .unwrap_or(std::cmp::Ordering::Equal)
            })
        };
        for cells in &mut cells_of_unit {
            cells.sort_by(|&a, &b| compare_cells(a, b));
        }
        let compare_units = |&a: &usize, &b: &usize| {
            let (left, right) = (&cells_of_unit[a], &cells_of_unit[b]);
            left.len().cmp(&right.len()).then_with(|| {
                let pairs = left.iter().zip(right);
                pairs
                    .map(|(&x, &y)| compare_cells(x, y))
                    .find(|order| order.is_ne())
                    .unwrap_or(std::cmp::Ordering::Equal)
            })
        };
        let mut order: Vec<usize> = (0..design.units)
            .filter(|&unit| !cells_of_unit[unit].is_empty())
            .collect();
        order.sort_by(|a, b| compare_units(a, b));
        let mut problem = Problem {
            cases: Vec::new(),
            cells: Vec::new(),
            sizes: Vec::new(),
            values: Vec::new(),
            ..self.problem.clone()
        };
        let mut row_of_cell = vec![None; design.cells.len()];
        let mut case_of_unit = vec![None; design.units];
        let mut add = |problem: &mut Problem, index: usize| {
            let cell = &design.cells[index];
            row_of_cell[index] = Some(problem.cells.len());
            problem.cells.push(CellRow {
                level: self.level_of_tray[cell.tray].unwrap_or(0),
                lot: match cell.source {
                    Source::Unit(_) => None,
                    Source::Lot(lot) => self.lots[lot],
                },
                k: f64::from(cell.counts.k()),
                n: f64::from(cell.counts.n()),
            });
            problem.values.extend_from_slice(&values[index]);
        };
        let mut last: Option<usize> = None;
        for unit in order {
            if let Some(before) = last
                && compare_units(&before, &unit).is_eq()
            {
                let case = problem.cases.len() - 1;
                problem.cases[case].weight += 1.0;
                case_of_unit[unit] = Some(case);
                continue;
            }
            let start = problem.cells.len();
            for &index in &cells_of_unit[unit] {
                add(&mut problem, index);
            }
            case_of_unit[unit] = Some(problem.cases.len());
            problem.cases.push(Case {
                start,
                end: problem.cells.len(),
                weight: 1.0,
                size: 0,
                is_random: true,
            });
            last = Some(unit);
        }
        for index in lot_cells {
            let start = problem.cells.len();
            add(&mut problem, index);
            problem.cases.push(Case {
                start,
                end: start + 1,
                weight: 1.0,
                size: 0,
                is_random: false,
            });
        }
        // A cell of a unit that shares the case of another takes that unit's rows.
        for (unit, cells) in cells_of_unit.iter().enumerate() {
            if let Some(case) = case_of_unit[unit] {
                let start: usize = problem.cases[case].start;
                for (offset, &index) in cells.iter().enumerate() {
                    row_of_cell[index] = Some(start + offset);
                }
            }
        }
        problem.measure();
        self.problem = problem;
        self.row_of_cell = row_of_cell;
        self.case_of_unit = case_of_unit;
    }

    fn start(&self) -> Point {
        let mut fixed = vec![0.0; self.problem.fixed()];
        fixed[..self.problem.levels].fill(self.common_logit);
        Point {
            fixed,
            sigma: None,
            theta: None,
        }
    }

    /// Leaves out columns and lots that follow from the terms before them.
    fn drop_redundant(&mut self, design: &Design) {
        const LEAST_PIVOT: f64 = 1e-9;
        loop {
            let mut modes = vec![0.0; self.problem.cases.len()];
            let surface = self.problem.surface(&self.start(), 1.0, &mut modes);
            let Err(row) = surface.information.factor(0.0, LEAST_PIVOT) else {
                return;
            };
            let levels = self.problem.levels;
            if row < levels {
                // A tray alone always has a pivot: only rates without any doubt could bring this about.
                return;
            }
            if row < levels + self.problem.columns {
                let index = row - levels;
                for (covariate, place) in self.columns.iter_mut().enumerate() {
                    match place {
                        Some(column) if column.index == index => {
                            *place = None;
                            self.left_out.push(LeftOut::Redundant { covariate });
                        }
                        Some(column) if column.index > index => column.index -= 1,
                        _ => {}
                    }
                }
                self.problem.columns -= 1;
            } else {
                let index = row - levels - self.problem.columns;
                for (lot, place) in self.lots.iter_mut().enumerate() {
                    match place {
                        Some(here) if *here == index => {
                            *place = None;
                            self.left_out.push(LeftOut::Lot { lot });
                        }
                        Some(here) if *here > index => *here -= 1,
                        _ => {}
                    }
                }
                self.problem.lots -= 1;
            }
            self.build(design);
        }
    }

    /// Fits without any spread. Terms that have no finite maximum, or none that the counts can bound, are held
    /// by a weak prior.
    fn fit_plain(&mut self, depth: f64) -> Option<Peak> {
        /// Larger than any standard error, on the logit scale, that counts can leave.
        const LARGEST_ERROR: f64 = 15.0;
        /// Information below this calls for a look at the errors.
        const SMALL_PIVOT: f64 = 0.1;
        loop {
            let found = climb(&self.problem, self.start(), depth, self.trials).ok();
            let factor = found
                .as_ref()
                .and_then(|peak| peak.surface.information.factor(0.0, 0.0).ok());
            let is_loose = |index: usize| match &factor {
                None => true,
                Some(factor) => factor.variance(&[(index, 1.0)]).sqrt() > LARGEST_ERROR,
            };
            // A large error leaves a small pivot; without one the errors need not be worked out.
            let is_any_loose = factor
                .as_ref()
                .is_none_or(|factor| factor.least_pivot() < SMALL_PIVOT);
            let held = &self.problem.held;
            let loose: Vec<usize> = (0..self.problem.fixed())
                .filter(|index| {
                    is_any_loose && held.iter().all(|(held, _)| held != index) && is_loose(*index)
                })
                .collect();
            if loose.is_empty() {
                return found;
            }
            for index in loose {
                let centre = if index < self.problem.levels {
                    self.common_logit
                } else {
                    0.0
                };
                self.problem.held.push((index, centre));
            }
        }
    }

    /// The names of the parameters that are held.
    fn held(&self) -> Vec<Held> {
        let Problem { levels, columns, .. } = self.problem;
        let is_held = |index: usize| self.problem.held.iter().any(|(held, _)| *held == index);
        let trays = self.level_of_tray.iter().enumerate();
        let trays = trays
            .filter(|(_, level)| level.is_some_and(is_held))
            .map(|(tray, _)| Held::Tray(tray));
        let covariates = self.columns.iter().enumerate();
        let covariates = covariates
            .filter(|(_, column)| column.is_some_and(|column| is_held(levels + column.index)))
            .map(|(covariate, _)| Held::Covariate(covariate));
        let lots = self.lots.iter().enumerate();
        let lots = lots
            .filter(|(_, lot)| lot.is_some_and(|lot| is_held(levels + columns + lot)))
            .map(|(lot, _)| Held::Lot(lot));
        trays.chain(covariates).chain(lots).collect()
    }

    fn finish(mut self, design: &Design, options: &Options) -> Result<Model, Reason> {
        /// A climb that stops beyond this standard deviation was on its way to infinity.
        const WIDE_SIGMA: f64 = 5.0;
        let depth = f64::from(options.digits.clamp(4, 14)) * std::f64::consts::LN_10;
        let plain = self.fit_plain(depth).ok_or(Reason::NotSettled)?;
        let problem = &self.problem;
        let without_spread = plain.surface.value;
        let mut best = plain;
        let mut steps = best.steps;
        if options.with_spread && best.surface.variance_slope > 0.0 {
            let start = Point {
                sigma: Some(self.start_sigma(&best.point)),
                ..best.point.clone()
            };
            let spread = climb(problem, start, depth, self.trials).map_err(|stopped| {
                if stopped.sigma.is_some_and(|sigma| sigma > WIDE_SIGMA) {
                    Reason::NoUpperBound
                } else {
                    Reason::NotSettled
                }
            })?;
            steps += spread.steps;
            if spread.surface.value > best.surface.value {
                best = spread;
            }
        }
        let has_replicates = problem
            .cases
            .iter()
            .any(|case| case.is_random && case.end > case.start + 1);
        if options.with_cell_spread && best.point.sigma.is_some() && !has_replicates {
            self.left_out.push(LeftOut::CellSpreadWithoutReplicates);
        } else if options.with_cell_spread {
            match self.with_cell_spread(&best, depth) {
                CellSpread::None => {}
                CellSpread::Found(wider) => {
                    steps += wider.steps;
                    best = *wider;
                }
                CellSpread::NotSettled => self.left_out.push(LeftOut::CellSpreadNotSettled),
            }
        }
        let Ok(factor) = best.surface.information.factor(0.0, 0.0) else {
            return Err(Reason::NotSettled);
        };
        let constant: f64 = design.observed().map(|(_, cell)| ln_choose(cell.counts)).sum();
        Ok(Model {
            log_likelihood: best.surface.value + constant,
            log_likelihood_without_spread: without_spread + constant,
            gradient_norm: best.surface.gradient_norm(),
            steps,
            depth,
            factor,
            modes: best.modes,
            point: best.point,
            counts: design.cells.iter().map(|cell| cell.counts).collect(),
            held: self.held(),
            problem: self.problem,
            case_of_unit: self.case_of_unit,
            row_of_cell: self.row_of_cell,
            level_of_tray: self.level_of_tray,
            columns: self.columns,
            lots: self.lots,
            left_out: self.left_out,
        })
    }

    /// Climbs on with beta-binomial cells where the likelihood rises that way.
    fn with_cell_spread(&self, narrow: &Peak, depth: f64) -> CellSpread {
        const START: f64 = 0.02;
        let with = |theta: f64| Point {
            theta: Some(theta),
            ..narrow.point.clone()
        };
        let mut modes = narrow.modes.clone();
        if self.problem.surface(&with(0.0), depth, &mut modes).theta_slope <= 0.0 {
            return CellSpread::None;
        }
        match climb(&self.problem, with(START), depth, self.trials) {
            Err(_) => CellSpread::NotSettled,
            Ok(wide) if wide.surface.value > narrow.surface.value => CellSpread::Found(Box::new(wide)),
            Ok(_) => CellSpread::None,
        }
    }

    /// A moment estimate of sigma from how far each unit's count lies from the fit without a spread.
    fn start_sigma(&self, point: &Point) -> f64 {
        let (mut excess, mut scale) = (0.0, 0.0);
        for case in self.problem.cases.iter().filter(|case| case.is_random) {
            let (mut residual, mut variance) = (0.0, 0.0);
            for cell in case.start..case.end {
                let row = &self.problem.cells[cell];
                let rate = logistic(self.problem.linear(cell, &point.fixed));
                residual += row.k - row.n * rate;
                variance += row.n * rate * (1.0 - rate);
            }
            excess += case.weight * (residual * residual - variance);
            scale += case.weight * variance * variance;
        }
        (excess / scale.max(f64::MIN_POSITIVE)).clamp(0.01, 4.0).sqrt()
    }
}

/// What the search for a spread between cells of one unit came to.
enum CellSpread {
    None,
    Found(Box<Peak>),
    NotSettled,
}

/// ln of the binomial coefficient.
fn ln_choose(counts: Counts) -> f64 {
    let ln_factorial = |n: u32| ln_gamma(f64::from(n) + 1.0);
    ln_factorial(counts.n()) - ln_factorial(counts.k()) - ln_factorial(counts.n() - counts.k())
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
    /// parameters, or where a weak prior takes part.
    pub fn against(&self, simpler: &Model) -> Option<RatioTest> {
        let degrees = self
            .parameters()
            .checked_sub(simpler.parameters())
            .filter(|degrees| *degrees > 0)?;
        if !self.held.is_empty() || !simpler.held.is_empty() {
            return None;
        }
        let statistic = (2.0 * (self.log_likelihood - simpler.log_likelihood)).max(0.0);
        let p_value = ChiSquared::new(degrees as f64).ok()?.sf(statistic);
        Some(RatioTest {
            statistic,
            degrees,
            p_value,
        })
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

    /// The fitted rate of each cell in its own place, the random effect at its mean; `None` without trials.
    pub fn cell_rates(&self) -> Vec<Option<f64>> {
        let mut rates = vec![0.0; self.problem.cells.len()];
        for (case, &mode) in self.problem.cases.iter().zip(&self.modes) {
            let effect = match self.point.sigma.filter(|_| case.is_random) {
                Some(sigma) => sigma * self.problem.mean_effect(case, &self.point, self.depth, mode),
                None => 0.0,
            };
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
