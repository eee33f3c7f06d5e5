//! Final counts as the main model takes them, and the model fitted to them.

use crate::model::{
    Cell, CellContent, CellId, Count, CountId, EarId, Germinated, Pass, Project, SeasonId, TestId, TrayId,
};
use crate::stats::Counts;
use crate::stats::mixed::{self, Covariate, Design, Model, Options, Outcome, RatioTest, Reason, Source};
use std::collections::{BTreeMap, HashMap, HashSet};

/// The replicate cells of ears are let disagree more than chance makes them where the data ask for it at this
/// probability. Common practice, no source.
const CELL_SPREAD_AT: f64 = 0.05;

/// What was sown in a counted cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sown {
    /// An ear.
    Ear(EarId),
    /// The check lot of a test.
    Check(TestId),
}

/// The final count in force of one cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Counted {
    pub(super) cell: CellId,
    pub(super) sown: Sown,
    pub(super) tray: TrayId,
    pub(super) row: u16,
    pub(super) column: u16,
    /// Germinated kernels by the project's rule, of all but the missing.
    pub(super) counts: Counts,
    pub(super) vigor: Option<u8>,
}

impl Counted {
    /// A count beyond all reason, which [`Counts`] refuses, is not believed.
    fn new(cell: &Cell, sown: Sown, count: &Count, rule: Germinated) -> Option<Self> {
        Some(Self {
            cell: cell.id,
            sown,
            tray: cell.tray,
            row: cell.row,
            column: cell.column,
            counts: Counts::new(count.tally.germinated(rule), count.tally.counted()).ok()?,
            vigor: count.vigor,
        })
    }

    pub(super) fn ear(&self) -> Option<EarId> {
        match self.sown {
            Sown::Ear(ear) => Some(ear),
            Sown::Check(_) => None,
        }
    }
}

/// Gives the final counts in force of a season's ears and of the check cells of its tests, in the order in which
/// they were made.
pub(super) fn of_season(project: &Project, season: SeasonId) -> Vec<Counted> {
    of_seasons(project, |one| one == season)
        .remove(&season)
        .unwrap_or_default()
}

/// Gives the final counts in force of the ears of the wanted seasons and of the check cells of their tests, those of each
/// season in the order in which they were made.
///
/// This is [`Project::count_in_force`] of all cells in one pass over the counts, which is several times faster.
pub(super) fn of_seasons(
    project: &Project,
    is_wanted: impl Fn(SeasonId) -> bool,
) -> BTreeMap<SeasonId, Vec<Counted>> {
    let corrected: HashSet<CountId> = project.counts.iter().filter_map(|count| count.corrects).collect();
    let mut taken: HashSet<CellId> = HashSet::new();
    let mut found: BTreeMap<SeasonId, Vec<Counted>> = BTreeMap::new();
    for count in project.counts.iter() {
        if count.pass != Pass::Final || count.second || count.void || corrected.contains(&count.id) {
            continue;
        }
        let Some(cell) = project.cells.get(count.cell) else {
            continue;
        };
        let sown = match cell.content {
            CellContent::Ear(ear) => {
                let ear = project.ears.get(ear);
                ear.map(|ear| (ear.season, Sown::Ear(ear.id)))
            }
            CellContent::Check(_) => project
                .trays
                .get(cell.tray)
                .and_then(|tray| project.tests.get(tray.test))
                .map(|test| (test.season, Sown::Check(test.id))),
            CellContent::Landmark | CellContent::Spare => None,
        };
        if let Some((season, sown)) = sown
            && is_wanted(season)
            && taken.insert(cell.id)
        {
            let counted = Counted::new(cell, sown, count, project.about.germinated);
            found.entry(season).or_default().extend(counted);
        }
    }
    found
}

/// Gives the final counts in force of one tray in reading order.
pub(super) fn of_tray(project: &Project, test: TestId, tray: TrayId) -> Vec<Counted> {
    let cells = project.cells_of(tray);
    cells
        .filter_map(|cell| {
            let sown = match cell.content {
                CellContent::Ear(ear) => Sown::Ear(ear),
                CellContent::Check(_) => Sown::Check(test),
                CellContent::Landmark | CellContent::Spare => return None,
            };
            let count = project.count_in_force(cell.id, Pass::Final)?;
            Counted::new(cell, sown, count, project.about.germinated)
        })
        .collect()
}

/// Cells arranged for the main model.
#[derive(Debug)]
pub(super) struct Arranged {
    pub(super) design: Design,
    /// The trays by test and number; a tray's index in the model is its place here.
    pub(super) trays: Vec<TrayId>,
    /// The index of each ear in the model.
    pub(super) units: HashMap<EarId, usize>,
    /// The names of the check lots.
    pub(super) lots: Vec<String>,
}

/// Arranges cells: ears are units grouped by mother row, and cells of a check lot of one name are one lot.
pub(super) fn arrange(project: &Project, cells: &[Counted]) -> Arranged {
    let number = |tray: TrayId| {
        let tray = project.trays.get(tray);
        tray.map_or((TestId(0), 0), |tray| (tray.test, tray.number))
    };
    let mut trays: Vec<TrayId> = cells.iter().map(|cell| cell.tray).collect();
    trays.sort_unstable();
    trays.dedup();
    trays.sort_by_cached_key(|tray| number(*tray));
    let places: HashMap<TrayId, usize> = trays.iter().enumerate().map(|(at, tray)| (*tray, at)).collect();
    let mut units: HashMap<EarId, usize> = HashMap::new();
    let mut groups = Vec::new();
    let mut rows = HashMap::new();
    let mut lots: Vec<String> = Vec::new();
    let mut lot_of_test: BTreeMap<TestId, usize> = BTreeMap::new();
    let mut group_count = 0;
    let mut new_group = || {
        group_count += 1;
        group_count - 1
    };
    let mut lot = |test: TestId| {
        *lot_of_test.entry(test).or_insert_with(|| {
            let known = project.tests.get(test);
            let name = known.map_or("", |test| test.check_lot.trim());
            if let Some(at) = lots.iter().position(|lot| lot == name && !name.is_empty()) {
                return at;
            }
            lots.push(name.to_owned());
            lots.len() - 1
        })
    };
    let arranged: Vec<mixed::Cell> = cells
        .iter()
        .map(|cell| mixed::Cell {
            counts: cell.counts,
            source: match cell.sown {
                Sown::Ear(ear) => Source::Unit(*units.entry(ear).or_insert_with(|| {
                    // Ears of unknown mother row are not known to be sisters.
                    let row = project.ears.get(ear).and_then(|ear| ear.row);
                    groups.push(match row {
                        Some(row) => *rows.entry(row).or_insert_with(&mut new_group),
                        None => new_group(),
                    });
                    groups.len() - 1
                })),
                Sown::Check(test) => Source::Lot(lot(test)),
            },
            tray: places[&cell.tray],
        })
        .collect();
    let design = Design::new(arranged, units.len(), trays.len(), lots.len())
        .and_then(|design| design.with_groups(groups))
        .expect("every index was handed out here");
    Arranged {
        design,
        trays,
        units,
        lots,
    }
}

/// Fits the main model with tray effects. Cells of one ear may disagree more than chance makes them where they
/// clearly do.
pub(super) fn fit(design: &Design) -> Result<Box<Model>, Reason> {
    let plain = fitted(design, &Options::default())?;
    let mut seen = HashSet::new();
    let has_replicates = design
        .cells()
        .iter()
        .filter(|cell| cell.counts.n() > 0 && matches!(cell.source, Source::Unit(_)))
        .any(|cell| !seen.insert(cell.source));
    if !has_replicates {
        return Ok(plain);
    }
    let wider = Options {
        with_cell_spread: true,
        ..Options::default()
    };
    let Ok(wider) = fitted(design, &wider) else {
        return Ok(plain);
    };
    // Without a correlation both are the same fit, and the wider one says why there is none. A correlation cannot be
    // below zero, so half of the probability lies at zero: Self and Liang 1987, J. Am. Stat. Assoc. 82:605.
    let asked = wider
        .against(&plain)
        .is_some_and(|test| 0.5 * test.p_value < CELL_SPREAD_AT);
    Ok(if asked || wider.cell_correlation().is_none() {
        wider
    } else {
        plain
    })
}

/// Fits with these options.
pub(super) fn fitted(design: &Design, options: &Options) -> Result<Box<Model>, Reason> {
    match mixed::fit(design, options) {
        Outcome::Fitted(model) => Ok(model),
        Outcome::NotFitted(reason) => Err(reason),
    }
}

/// Slopes across the trays of a test are allowed for below this probability of as much without any, by the
/// likelihood-ratio test of both together. Common practice, no source. How often that happens without slopes is simulated
/// in `tests/stats_slopes.rs`.
pub(super) const SLOPE_AT: f64 = 0.01;
/// Where the score test gives more than this, the likelihood-ratio test, which needs a fit, is not made: it would not
/// come below [`SLOPE_AT`]. Where it gives nothing, the slopes may be too steep for it.
const WORTH_A_FIT: f64 = 0.05;

/// The model of the finished trays of a test.
#[derive(Debug)]
pub(super) struct Fitted {
    /// The final counts, tray by tray.
    pub(super) cells: Vec<Counted>,
    pub(super) arranged: Arranged,
    /// Without slopes.
    pub(super) model: Result<Box<Model>, Reason>,
    /// With the slopes, where these are clear.
    pub(super) slopes: Option<(Box<Model>, RatioTest)>,
}

impl Fitted {
    pub(super) fn of(project: &Project, cells: Vec<Counted>) -> Self {
        let arranged = arrange(project, &cells);
        let model = fit(&arranged.design);
        let slopes = model
            .as_ref()
            .ok()
            .filter(|model| {
                let places = with_places(&arranged.design, [places(&cells, |_| true)]);
                let score = mixed::score_test(&places, &options_of(model), model);
                score.is_none_or(|score| score.p_value < WORTH_A_FIT)
            })
            .and_then(|model| with_slopes(&arranged, &cells, model))
            .filter(|(_, test)| test.p_value < SLOPE_AT);
        Self {
            cells,
            arranged,
            model,
            slopes,
        }
    }

    /// What explains the counts best: with the slopes where these are clear.
    pub(super) fn best(&self) -> Option<&Model> {
        let slopes = self.slopes.as_ref().map(|(model, _)| model);
        slopes.or(self.model.as_ref().ok()).map(|model| &**model)
    }
}

/// The options with which the same model is fitted with other terms.
pub(super) fn options_of(model: &Model) -> Options {
    Options {
        with_cell_spread: model.cell_correlation().is_some(),
        ..Options::default()
    }
}

/// Fits the model with a slope by row and one by column beside the one without, and tests both together; `None` where
/// neither can be told.
pub(super) fn with_slopes(
    arranged: &Arranged,
    cells: &[Counted],
    model: &Model,
) -> Option<(Box<Model>, RatioTest)> {
    let design = with_places(&arranged.design, [places(cells, |_| true)]);
    match mixed::fit_beside(&design, &options_of(model), model) {
        Outcome::Fitted(with) => {
            let test = with.against(model)?;
            Some((with, test))
        }
        Outcome::NotFitted(_) => None,
    }
}

/// The row and the column of the cells of a test, as covariates.
#[derive(Debug, Clone)]
pub(super) struct Places {
    /// The row and the column of an average cell.
    pub(super) middle: [f64; 2],
    covariates: [Covariate; 2],
}

/// Measures the places of some of the cells, such as those of one test, from their average one. All others count as lying
/// there.
pub(super) fn places(cells: &[Counted], is_of: impl Fn(&Counted) -> bool) -> Places {
    let own: Vec<&Counted> = cells.iter().filter(|cell| is_of(cell)).collect();
    let measure = |of: fn(&Counted) -> f64| {
        let middle = own.iter().map(|cell| of(cell)).sum::<f64>() / own.len().max(1) as f64;
        let value = |cell| if is_of(cell) { of(cell) } else { middle };
        let covariate = Covariate {
            values: cells.iter().map(|cell| Some(value(cell))).collect(),
            reference: middle,
        };
        (middle, covariate)
    };
    let (row, by_row) = measure(|cell| f64::from(cell.row));
    let (column, by_column) = measure(|cell| f64::from(cell.column));
    Places {
        middle: [row, column],
        covariates: [by_row, by_column],
    }
}

/// Adds the places of the cells to a design: by row and by column for each of them, in order.
pub(super) fn with_places(design: &Design, places: impl IntoIterator<Item = Places>) -> Design {
    let covariates = places.into_iter().flat_map(|places| places.covariates);
    covariates.fold(design.clone(), |design, covariate| {
        design
            .with_covariate(covariate)
            .expect("a row or column is known of every cell")
    })
}
