//! From a design to a model: which terms can be told, and the climb to the maximum.

use statrs::function::gamma::ln_gamma;

use super::climb::{Peak, climb};
use super::likelihood::{Case, CellRow, Point, Problem};
use super::posterior::{logistic, logit};
use super::{Cell, Design, Held, LeftOut, Model, Options, RatioTest, Reason, Source};
use crate::stats::Counts;
use crate::stats::beta_binomial::FEWEST_UNITS;

/// A covariate in the model, measured from its mean in units of its standard deviation.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    pub(super) index: usize,
    pub(super) mean: f64,
    pub(super) deviation: f64,
    /// Its value at the reference position, so measured.
    pub(super) reference: f64,
}

/// A model on its way: which terms are in it, and the problem that follows.
pub(super) struct Attempt {
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
    pub(super) fn new(design: &Design, options: &Options) -> Self {
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

    /// Equal for cells that the likelihood cannot tell apart.
    fn key(&self, design: &Design, index: usize) -> Vec<u64> {
        let cell = &design.cells[index];
        let level = self.level_of_tray[cell.tray].unwrap_or(0) as u64;
        let mut key = vec![level, u64::from(cell.counts.n()), u64::from(cell.counts.k())];
        key.extend(self.values_of(design, index).iter().map(|value| value.to_bits()));
        key
    }

    /// Lays the cells out by unit, units with equal cells as one case, then those of the check lots.
    fn build(&mut self, design: &Design) {
        let mut cells_of_unit: Vec<Vec<(Vec<u64>, usize)>> = vec![Vec::new(); design.units];
        let mut lot_cells = Vec::new();
        for (index, cell) in design.observed() {
            match cell.source {
                Source::Unit(unit) => cells_of_unit[unit].push((self.key(design, index), index)),
                Source::Lot(_) => lot_cells.push(index),
            }
        }
        for cells in &mut cells_of_unit {
            cells.sort();
        }
        let keys = |unit: usize| cells_of_unit[unit].iter().map(|(key, _)| key);
        let mut units: Vec<usize> = (0..design.units)
            .filter(|&unit| !cells_of_unit[unit].is_empty())
            .collect();
        units.sort_by(|&a, &b| keys(a).cmp(keys(b)));

        self.problem.cases.clear();
        self.problem.cells.clear();
        self.problem.values.clear();
        self.row_of_cell = vec![None; design.cells.len()];
        self.case_of_unit = vec![None; design.units];
        let mut before: Option<usize> = None;
        for unit in units {
            let cells = cells_of_unit[unit].iter().map(|(_, index)| *index);
            if before.is_some_and(|before| keys(before).eq(keys(unit))) {
                self.repeat_case(cells);
            } else {
                self.add_case(design, cells, true);
            }
            self.case_of_unit[unit] = Some(self.problem.cases.len() - 1);
            before = Some(unit);
        }
        for index in lot_cells {
            self.add_case(design, std::iter::once(index), false);
        }
        self.problem.measure();
    }

    fn add_case(&mut self, design: &Design, cells: impl Iterator<Item = usize>, is_random: bool) {
        let start = self.problem.cells.len();
        for index in cells {
            let cell = &design.cells[index];
            self.row_of_cell[index] = Some(self.problem.cells.len());
            self.problem.cells.push(CellRow {
                level: self.level_of_tray[cell.tray].unwrap_or(0),
                lot: match cell.source {
                    Source::Unit(_) => None,
                    Source::Lot(lot) => self.lots[lot],
                },
                k: f64::from(cell.counts.k()),
                n: f64::from(cell.counts.n()),
            });
            let values = self.values_of(design, index);
            self.problem.values.extend(values);
        }
        self.problem.cases.push(Case {
            start,
            end: self.problem.cells.len(),
            weight: 1.0,
            size: 0,
            is_random,
        });
    }

    /// Counts the last case once more, for a unit with equal cells.
    fn repeat_case(&mut self, cells: impl Iterator<Item = usize>) {
        if let Some(case) = self.problem.cases.last_mut() {
            case.weight += 1.0;
            for (row, index) in (case.start..case.end).zip(cells) {
                self.row_of_cell[index] = Some(row);
            }
        }
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

    /// Climbs to the maximum.
    ///
    /// # Errors
    /// Why there is none.
    pub(super) fn finish(
        mut self,
        design: &Design,
        options: &Options,
        near: Option<&Model>,
    ) -> Result<Model, Reason> {
        /// A climb that stops beyond this standard deviation was on its way to infinity.
        const WIDE_SIGMA: f64 = 5.0;
        /// A beta-binomial cell costs time for each kernel: more than this take minutes.
        const MOST_KERNELS: f64 = 2e6;
        let depth = f64::from(options.digits.clamp(4, 14)) * std::f64::consts::LN_10;
        let plain = self.fit_plain(depth).ok_or(Reason::NotSettled)?;
        let problem = &self.problem;
        let without_spread = plain.surface.value;
        let mut best = plain;
        let mut steps = best.steps;
        if options.with_spread && best.surface.variance_slope > 0.0 {
            let near = near.and_then(|near| near.point.sigma);
            let start = widened(&best.point, near.unwrap_or_else(|| self.start_sigma(&best.point)));
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
        } else if options.with_cell_spread
            && problem.cells.iter().map(|cell| cell.n).sum::<f64>() > MOST_KERNELS
        {
            self.left_out.push(LeftOut::CellSpreadTooManyKernels);
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

    /// Where a model of the same levels and lots without covariates stands, the coefficients being zero; `None` for
    /// another model.
    fn beside(&self, without: &Model) -> Option<Point> {
        let Problem {
            levels,
            columns,
            lots,
            ..
        } = self.problem;
        if (
            without.problem.levels,
            without.problem.columns,
            without.problem.lots,
        ) != (levels, 0, lots)
        {
            return None;
        }
        let (of_levels, of_lots) = without.point.fixed.split_at(levels);
        Some(Point {
            fixed: [of_levels, &vec![0.0; columns], of_lots].concat(),
            ..without.point.clone()
        })
    }

    /// Rao's score test of the columns.
    pub(super) fn score_test(mut self, without: &Model) -> Option<RatioTest> {
        /// Digits of the integrals; a probability needs few.
        const DIGITS: f64 = 7.0;
        let point = self.beside(without)?;
        let Problem { levels, columns, .. } = self.problem;
        if columns == 0 {
            return None;
        }
        let shifted = |index: usize| if index < levels { index } else { index + columns };
        let held = without.problem.held.iter();
        self.problem.held = held.map(|(index, centre)| (shifted(*index), *centre)).collect();
        let mut modes = vec![0.0; self.problem.cases.len()];
        let depth = DIGITS * std::f64::consts::LN_10;
        let surface = self.problem.surface(&point, depth, &mut modes);
        let factor = surface.information.factor(0.0, 0.0).ok()?;
        let mut slopes = vec![0.0; point.size()];
        slopes[levels..levels + columns].copy_from_slice(&surface.gradient[levels..levels + columns]);
        factor.half_solve(&mut slopes);
        RatioTest::of(slopes.iter().map(|part| part * part).sum(), columns)
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

/// A point without a spread moved to where it lies with this one: averaged over a spread, rates change less with the terms
/// than they do for each unit. By the normal approximation of the logistic function with `c = 16 sqrt(3) / (15 pi)` all
/// terms grow by `sqrt(1 + c^2 sigma^2)` (Zeger, Liang and Albert 1988, Biometrics 44:1049, from memory).
fn widened(plain: &Point, sigma: f64) -> Point {
    let c = 16.0 * 3.0_f64.sqrt() / (15.0 * std::f64::consts::PI);
    let growth = (c * sigma).hypot(1.0);
    Point {
        fixed: plain.fixed.iter().map(|term| growth * term).collect(),
        sigma: Some(sigma),
        theta: None,
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
