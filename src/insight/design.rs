//! Final counts as the main model takes them, and the model fitted to them.

use crate::model::{
    Cell, CellContent, CellId, Count, CountId, EarId, Germinated, Pass, Project, SeasonId, TestId, TrayId,
};
use crate::stats::Counts;
use crate::stats::mixed::{self, Covariate, Design, Model, Options, Outcome, Reason, Source};
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
#[derive(Debug, Clone, Copy, PartialEq)]
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
///
/// This is [`Project::count_in_force`] of all cells in one pass over the counts, which is several times faster.
pub(super) fn of_season(project: &Project, season: SeasonId) -> Vec<Counted> {
    let corrected: HashSet<CountId> = project.counts.iter().filter_map(|count| count.corrects).collect();
    let mut taken: HashSet<CellId> = HashSet::new();
    let mut found = Vec::new();
    for count in project.counts.iter() {
        if count.pass != Pass::Final || count.second || count.void || corrected.contains(&count.id) {
            continue;
        }
        let Some(cell) = project.cells.get(count.cell) else {
            continue;
        };
        let sown = match cell.content {
            CellContent::Ear(ear) => project
                .ears
                .get(ear)
                .filter(|ear| ear.season == season)
                .map(|ear| Sown::Ear(ear.id)),
            CellContent::Check(_) => project
                .trays
                .get(cell.tray)
                .and_then(|tray| project.tests.get(tray.test))
                .filter(|test| test.season == season)
                .map(|test| Sown::Check(test.id)),
            CellContent::Landmark | CellContent::Spare => None,
        };
        if let Some(sown) = sown
            && taken.insert(cell.id)
        {
            found.extend(Counted::new(cell, sown, count, project.about.germinated));
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

/// A covariate of the cells of a design, measured from its middle.
pub(super) fn place(cells: &[Counted], of: impl Fn(&Counted) -> f64) -> Covariate {
    Covariate {
        values: cells.iter().map(|cell| Some(of(cell))).collect(),
        reference: 0.0,
    }
}
