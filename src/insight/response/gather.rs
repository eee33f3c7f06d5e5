//! What a project knows of its seasons, in the form in which they are compared.

use super::super::design::{Counted, Sown, of_seasons};
use super::super::weather::heat_units_c;
use super::super::words::plural;
use super::{
    BesideLot, Course, Differential, FROM_THE_LIST, Followed, LotCourse, LotMean, SPEAKS_FOR, SeasonMean,
};
use crate::genetics::{Chance, Link, Reading, Unit, above_check, chains, mean_of_families};
use crate::model::{
    Ear, EarId, FieldContent, FieldRow, IndexTrait, LengthUnit, PlantingList, Project, RowSource, SeasonId,
    Test, TestId,
};
use jiff::civil::Date;
use std::collections::{BTreeMap, HashMap, HashSet};

/// Seasons with their counts.
pub(super) struct Gathered<'a> {
    project: &'a Project,
    /// The seasons that have ears, by year.
    pub(super) seasons: Vec<(SeasonId, i16)>,
    counts: Vec<Counts<'a>>,
    /// The names of the check lots.
    lots: Vec<String>,
}

/// What was counted in a season.
struct Counts<'a> {
    cells: Vec<Counted>,
    /// The tests of the season with the lots of their check cells, the one that was laid first first.
    tests: Vec<(&'a Test, Option<usize>)>,
}

/// To what an ear belongs.
enum Belongs<'a> {
    /// The population, with its family: its mother row, unless that was sown from many ears.
    Population(Option<usize>),
    /// The check lot of its row.
    Check(&'a str),
}

/// The units of a season, and the readings of each check lot beside them.
type UnitsAndChecks = (Vec<Unit>, BTreeMap<usize, Vec<Reading>>);

/// What of a cell is compared.
type OfCell = fn(&Counted) -> Option<(f64, f64)>;

/// The percent of a cell, and its kernels.
fn percent(cell: &Counted) -> Option<(f64, f64)> {
    Some((100.0 * cell.counts.rate()?, f64::from(cell.counts.n())))
}

fn vigor(cell: &Counted) -> Option<(f64, f64)> {
    Some((f64::from(cell.vigor?), 1.0))
}

/// The variance of a percent by chance, as of kernels that germinate or not; half a kernel is added to each side, so that a
/// lot of which all germinated is not taken for one that cannot fail.
fn chance_of_percent(percent: f64, kernels: f64) -> f64 {
    let rate = (percent / 100.0 * kernels + 0.5) / (kernels + 1.0);
    10_000.0 * rate * (1.0 - rate) / kernels
}

impl<'a> Gathered<'a> {
    pub(super) fn of(project: &'a Project) -> Self {
        let mut seasons: Vec<(SeasonId, i16)> = project
            .seasons
            .iter()
            .filter(|season| project.ears_of(season.id).next().is_some())
            .map(|season| (season.id, season.year))
            .collect();
        seasons.sort_by_key(|(_, year)| *year);
        let mut counted = of_seasons(project, |_| true);
        let mut lots: Vec<String> = Vec::new();
        let counts = seasons
            .iter()
            .map(|(season, _)| {
                let cells = counted.remove(season).unwrap_or_default();
                let checked: HashSet<TestId> = cells
                    .iter()
                    .filter_map(|cell| match cell.sown {
                        Sown::Check(test) => Some(test),
                        Sown::Ear(_) => None,
                    })
                    .collect();
                let mut tests: Vec<(&Test, Option<usize>)> = project
                    .tests_of(*season)
                    .map(|test| {
                        let name = test.check_lot.trim();
                        let is_there = checked.contains(&test.id) && !name.is_empty();
                        (test, is_there.then(|| place_of(&mut lots, name)))
                    })
                    .collect();
                tests.sort_by_key(|(test, _)| (test.laid.unwrap_or(Date::MAX), test.id));
                Counts { cells, tests }
            })
            .collect();
        let mut gathered = Self {
            project,
            seasons,
            counts,
            lots,
        };
        // Check rows of the field have names too.
        for row in project.rows.iter() {
            if let RowSource::CheckLot(name) = &row.source
                && !name.trim().is_empty()
            {
                place_of(&mut gathered.lots, name.trim());
            }
        }
        gathered
    }

    fn belongs(&self, ear: &Ear) -> Belongs<'a> {
        let row = ear.row.and_then(|row| self.project.rows.get(row));
        match row.map(|row| &row.source) {
            Some(RowSource::CheckLot(name)) => Belongs::Check(name),
            Some(RowSource::Bulk(_)) | None => Belongs::Population(None),
            Some(RowSource::Ear(_) | RowSource::Unknown) => {
                Belongs::Population(ear.row.map(|row| row.0 as usize))
            }
        }
    }

    /// The ear of a cell with its family; `None` for one that is no part of the population.
    fn ear_of(&self, cell: &Counted) -> Option<(EarId, Option<usize>)> {
        let ear = self.project.ears.get(cell.ear()?)?;
        match self.belongs(ear) {
            Belongs::Population(family) => Some((ear.id, family)),
            Belongs::Check(_) => None,
        }
    }

    fn test_of(&self, cell: &Counted) -> Option<TestId> {
        self.project.trays.get(cell.tray).map(|tray| tray.test)
    }

    /// The ears of a season with the readings of each from the first of these tests in which it was counted: a later test
    /// is of ears that were chosen for it.
    fn units(&self, season: usize, is_of: impl Fn(TestId) -> bool, of: OfCell) -> BTreeMap<EarId, Unit> {
        let counts = &self.counts[season];
        let order: HashMap<TestId, usize> = counts
            .tests
            .iter()
            .enumerate()
            .map(|(at, (test, _))| (test.id, at))
            .collect();
        let mut found: BTreeMap<EarId, (usize, Unit)> = BTreeMap::new();
        for cell in &counts.cells {
            let Some((ear, family)) = self.ear_of(cell) else {
                continue;
            };
            let test = self.test_of(cell).filter(|test| is_of(*test));
            // An ear may lie in a test of another season.
            let Some(at) = test.map(|test| order.get(&test).copied().unwrap_or(usize::MAX)) else {
                continue;
            };
            let Some((value, weight)) = of(cell).filter(|(_, weight)| *weight > 0.0) else {
                continue;
            };
            let reading = Reading {
                block: cell.tray.0 as usize,
                value,
                weight,
            };
            let (first, unit) = found.entry(ear).or_insert_with(|| {
                let readings = Vec::new();
                (at, Unit { family, readings })
            });
            if at < *first {
                *first = at;
                unit.readings.clear();
            }
            if at == *first {
                unit.readings.push(reading);
            }
        }
        found.into_iter().map(|(ear, (_, unit))| (ear, unit)).collect()
    }

    /// The readings of a lot in the trays of a season.
    fn checks(&self, season: usize, tests: &HashSet<TestId>, of: OfCell) -> Vec<Reading> {
        let cells = self.counts[season].cells.iter();
        cells
            .filter_map(|cell| {
                let Sown::Check(test) = cell.sown else { return None };
                let (value, weight) = of(cell).filter(|_| tests.contains(&test))?;
                Some(Reading {
                    block: cell.tray.0 as usize,
                    value,
                    weight,
                })
            })
            .collect()
    }

    /// The lots that were counted in the trays of a season, each with its tests.
    fn lots_of(&self, season: usize) -> BTreeMap<usize, HashSet<TestId>> {
        let mut lots: BTreeMap<usize, HashSet<TestId>> = BTreeMap::new();
        for (test, lot) in &self.counts[season].tests {
            if let Some(lot) = lot {
                lots.entry(*lot).or_default().insert(test.id);
            }
        }
        lots
    }

    /// Something that is read of cells, over the seasons.
    fn of_cells(&self, named: Named, of: OfCell, chance: Option<Chance>) -> Course {
        let (mut means, mut beside) = (Vec::new(), Vec::new());
        for season in 0..self.seasons.len() {
            let all: Vec<Unit> = self.units(season, |_| true, of).into_values().collect();
            means.push(season_mean(&all));
            for (lot, tests) in self.lots_of(season) {
                let units: Vec<Unit> = self
                    .units(season, |test| tests.contains(&test), of)
                    .into_values()
                    .collect();
                let checks = self.checks(season, &tests, of);
                let found = above_check(&units, &checks, chance);
                let found = found.filter(|one| one.units as f64 >= SPEAKS_FOR * all.len() as f64);
                beside.extend(found.map(|beside| BesideLot { season, lot, beside }));
            }
        }
        self.course(named, means, beside)
    }

    fn course(&self, named: Named, means: Vec<Option<SeasonMean>>, beside: Vec<BesideLot>) -> Course {
        let links: Vec<Link> = beside
            .iter()
            .map(|one| Link {
                season: one.season,
                check: one.lot,
                above: one.beside.above,
            })
            .collect();
        Course {
            what: named.what,
            name: named.name,
            unit: named.unit,
            decimals: named.decimals,
            means,
            chains: chains(&links),
            beside,
            asked: (0..self.seasons.len())
                .map(|season| self.is_asked(season, named.what))
                .collect(),
        }
    }

    pub(super) fn germination(&self) -> Course {
        let named = Named::new(Followed::Germination, "Cold germination", "%", 1);
        self.of_cells(named, percent, Some(chance_of_percent))
    }

    /// Everything but germination that is known of two seasons or more.
    pub(super) fn traits(&self) -> Vec<Course> {
        let heat = self.project.about.units.temperature;
        let mut found = vec![
            self.of_ears(Named::new(Followed::Maturity, "Maturity", "days", 1), |ear| {
                self.project.maturity_days(ear).map(f64::from)
            }),
            self.of_ears(
                Named::new(
                    Followed::HeatUnits,
                    "Heat units",
                    &format!("{} days", heat.sign()),
                    0,
                ),
                |ear| heat_units_c(self.project, ear).map(|units| heat.difference_of_celsius(units)),
            ),
            self.of_cells(Named::new(Followed::Vigor, "Vigor", "", 1), vigor, None),
        ];
        for one in self.project.traits.iter() {
            // A mean has a digit more than the values.
            let decimals = usize::from(one.decimals) + 1;
            let named = Named::new(Followed::Trait(one.id), &one.name, &one.unit, decimals);
            found.push(self.of_ears(named, |ear| ear.values.get(&one.id).copied()));
        }
        found.extend(self.of_rows());
        found.retain(|course| course.ends().is_some());
        found
    }

    /// Something that is known of ears, over the seasons; beside it that of the ears of check rows.
    fn of_ears(&self, named: Named, value: impl Fn(&Ear) -> Option<f64>) -> Course {
        let seasons = self.seasons.iter().map(|(season, _)| {
            let (mut units, mut checks) = (Vec::new(), BTreeMap::new());
            for ear in self.project.ears_of(*season) {
                let Some(value) = value(ear) else { continue };
                match self.belongs(ear) {
                    Belongs::Population(family) => units.push(unit(family, value)),
                    Belongs::Check(name) => put_check(&self.lots, name, value, &mut checks),
                }
            }
            (units, checks)
        });
        self.beside_rows(named, seasons.collect())
    }

    /// What was noted of the rows of fields, over the seasons that grew in them.
    fn of_rows(&self) -> Vec<Course> {
        let length = self.project.about.units.length;
        let unit_of_height = match length {
            LengthUnit::Inches => "in",
            LengthUnit::Centimetres => "cm",
        };
        let height = |mm: Option<f64>| Some(mm? / length.millimetres());
        let share = |plants: Option<u32>, row: &FieldRow| {
            let of = row.seen.thinned_to.or(row.seen.stand).filter(|of| *of > 0)?;
            Some(100.0 * f64::from(plants?) / f64::from(of))
        };
        let fields: Vec<Option<(&PlantingList, Date, Vec<&FieldRow>)>> = (0..self.seasons.len())
            .map(|season| self.field_of(season))
            .collect();
        let course = |named: Named, value: &dyn Fn(&FieldRow, Date) -> Option<f64>| {
            let seasons = fields.iter().map(|field| {
                let (mut units, mut checks) = (Vec::new(), BTreeMap::new());
                let Some((list, planted, rows)) = field else {
                    return (units, checks);
                };
                for row in rows {
                    let Some(value) = value(row, *planted) else {
                        continue;
                    };
                    match row.content {
                        FieldContent::Ear(ear) => units.push(unit(Some(ear.0 as usize), value)),
                        FieldContent::Check => {
                            let tests = self.project.tests_of(list.season);
                            let lot = tests
                                .map(|test| test.check_lot.as_str())
                                .rfind(|lot| !lot.is_empty());
                            put_check(&self.lots, lot.unwrap_or_default(), value, &mut checks);
                        }
                        FieldContent::Bulk => {}
                    }
                }
                (units, checks)
            });
            self.beside_rows(named, seasons.collect())
        };
        vec![
            course(
                Named::new(Followed::Silk, "Half silk, rows of the field", "days", 1),
                &|row, planted| {
                    let days = (row.seen.silk_on? - planted).get_days();
                    Some(f64::from(days))
                },
            ),
            course(
                Named::new(
                    Followed::PlantHeight,
                    "Plant height, rows of the field",
                    unit_of_height,
                    1,
                ),
                &|row, _| height(row.seen.plant_height_mm),
            ),
            course(
                Named::new(
                    Followed::EarHeight,
                    "Ear height, rows of the field",
                    unit_of_height,
                    1,
                ),
                &|row, _| height(row.seen.ear_height_mm),
            ),
            course(
                Named::new(Followed::StalkLodged, "Stalk lodged, rows of the field", "%", 1),
                &|row, _| share(row.seen.stalk_lodged, row),
            ),
            course(
                Named::new(Followed::RootLodged, "Root lodged, rows of the field", "%", 1),
                &|row, _| share(row.seen.root_lodged, row),
            ),
        ]
    }

    /// The field in which a season grew: its list, the day of planting and its rows.
    fn field_of(&self, season: usize) -> Option<(&'a PlantingList, Date, Vec<&'a FieldRow>)> {
        let (id, year) = self.seasons[season];
        let project = self.project;
        let mothers = project.rows_of(id).find_map(|row| match row.source {
            RowSource::Ear(ear) => project.ears.get(ear).map(|ear| ear.season),
            _ => None,
        });
        // Its rows may come from ears of several seasons; the field is that of the latest list that names one of them.
        let mut lists: Vec<&PlantingList> = project
            .seasons
            .iter()
            .filter(|one| one.year < year)
            .filter_map(|one| project.list_in_force(one.id))
            .filter(|list| mothers.is_some() && project.plan_of(list.id).is_some())
            .filter(|list| {
                project
                    .rows_of(id)
                    .any(|row| matches!(row.source, RowSource::Ear(ear) if list.names(ear)))
            })
            .collect();
        lists.sort_by_key(|list| list.year);
        let list = *lists.last()?;
        let plan = project.plan_of(list.id)?;
        let planted = project.seasons.get(id).and_then(|season| season.planted);
        let planted = planted.or_else(|| project.first_planted_from(list))?;
        Some((list, planted, project.field_rows_of(plan.id).collect()))
    }

    fn beside_rows(&self, named: Named, seasons: Vec<UnitsAndChecks>) -> Course {
        let (mut means, mut beside) = (Vec::new(), Vec::new());
        for (season, (units, checks)) in seasons.into_iter().enumerate() {
            means.push(season_mean(&units));
            for (lot, readings) in checks {
                let found = above_check(&units, &readings, None);
                beside.extend(found.map(|beside| BesideLot { season, lot, beside }));
            }
        }
        self.course(named, means, beside)
    }

    /// Whether the choice of a season asked for something: by its list as it was frozen, or by its cutoffs; or by an index.
    fn is_asked(&self, season: usize, what: Followed) -> bool {
        let id = self.seasons[season].0;
        let selection = self.project.selection_of(id);
        let weighs = |of: IndexTrait| {
            let index = selection.and_then(|one| one.index.as_ref());
            index.is_some_and(|index| index.weight_of(of).is_some())
        };
        let frozen = self.project.list_in_force(id).map(|list| &list.cutoffs);
        let Some(cutoffs) = frozen.or(selection.map(|one| &one.cutoffs)) else {
            return false;
        };
        match what {
            Followed::Germination => true,
            Followed::Maturity => cutoffs.maturity_days.is_some() || weighs(IndexTrait::Maturity),
            Followed::Vigor => cutoffs.vigor.is_some() || weighs(IndexTrait::Vigor),
            Followed::Trait(id) => {
                let limits = cutoffs.traits.get(&id);
                limits.is_some_and(|limits| limits.least.or(limits.most).is_some())
                    || weighs(IndexTrait::Trait(id))
            }
            Followed::HeatUnits
            | Followed::Silk
            | Followed::PlantHeight
            | Followed::EarHeight
            | Followed::StalkLodged
            | Followed::RootLodged => false,
        }
    }

    pub(super) fn lots(&self, germination: &Course) -> Vec<LotCourse> {
        let lots = self.lots.iter().enumerate().map(|(lot, name)| {
            let mut seasons = vec![None; self.seasons.len()];
            let mut first = None;
            for one in germination.beside.iter().filter(|one| one.lot == lot) {
                let year = self.seasons[one.season].1;
                seasons[one.season] = Some(LotMean {
                    percent: one.beside.check,
                    cells: one.beside.readings,
                    years: year - *first.get_or_insert(year),
                });
            }
            LotCourse {
                name: name.clone(),
                seasons,
            }
        });
        lots.filter(|lot| lot.seasons.iter().any(Option::is_some))
            .collect()
    }

    /// How hard the list of a season selected, from which the next one grew.
    pub(super) fn differential(&self, from: usize, to: usize) -> Result<Differential, String> {
        let ((id, year), (next, next_year)) = (self.seasons[from], self.seasons[to]);
        let Some(list) = self.project.list_in_force(id) else {
            return Err(format!(
                "No list of {year} was frozen, so nobody knows how hard was selected."
            ));
        };
        let scored = self.units(to, |_| true, percent);
        let mut of_list = 0;
        for ear in self
            .project
            .ears_of(next)
            .filter(|ear| scored.contains_key(&ear.id))
        {
            let row = ear.row.and_then(|row| self.project.rows.get(row));
            of_list += usize::from(
                row.is_some_and(|row| matches!(row.source, RowSource::Ear(mother) if list.names(mother))),
            );
        }
        if (of_list as f64) < FROM_THE_LIST * scored.len() as f64 || of_list == 0 {
            return Err(format!(
                "Of the scored ears of {next_year} only {of_list} of {} are known to come from the list of {year}, too few to be a response to it.",
                scored.len()
            ));
        }
        let counts: HashMap<EarId, (f64, f64)> = self.pooled(from);
        let all: Vec<f64> = counts.values().map(|(k, n)| 100.0 * k / n).collect();
        let planted = list.entries.iter().filter_map(|entry| {
            let (k, n) = entry.germinated.filter(|(_, n)| *n > 0)?;
            let share = f64::from(entry.plant);
            (share > 0.0).then(|| (share, 100.0 * f64::from(k) / f64::from(n)))
        });
        let (mut ears, mut kernels, mut sum) = (0, 0.0, 0.0);
        for (share, percent) in planted {
            ears += 1;
            kernels += share;
            sum += share * percent;
        }
        if ears == 0 || all.is_empty() {
            return Err(format!(
                "No scored ear of {year} was on its list with kernels to plant, so nobody knows how hard was selected."
            ));
        }
        let all_percent = all.iter().sum::<f64>() / all.len() as f64;
        let planted_percent = sum / kernels;
        Ok(Differential {
            version: list.version,
            points: planted_percent - all_percent,
            ears,
            planted_percent,
            all_percent,
        })
    }

    /// Germinated and counted kernels of each ear of a season over all of its tests, as a list freezes them.
    fn pooled(&self, season: usize) -> HashMap<EarId, (f64, f64)> {
        let mut counts: HashMap<EarId, (f64, f64)> = HashMap::new();
        for cell in &self.counts[season].cells {
            if let Some((ear, _)) = self.ear_of(cell)
                && cell.counts.n() > 0
            {
                let sums = counts.entry(ear).or_default();
                sums.0 += f64::from(cell.counts.k());
                sums.1 += f64::from(cell.counts.n());
            }
        }
        counts
    }

    /// What stands between the seasons besides the check, a sentence each.
    pub(super) fn cautions(&self, germination: &Course) -> Vec<String> {
        let mut said = Vec::new();
        let recipes: Vec<(i16, String)> = (0..self.seasons.len())
            .filter_map(|season| {
                let (test, _) = self.counts[season].tests.first()?;
                let recipe = &test.recipe;
                let text = format!("{} °C, {} days", recipe.cold_c, recipe.final_day);
                germination.means[season].map(|_| (self.seasons[season].1, text))
            })
            .collect();
        if recipes.windows(2).any(|pair| pair[0].1 != pair[1].1) {
            let texts: Vec<String> = recipes
                .iter()
                .map(|(year, text)| format!("{year}: {text}"))
                .collect();
            said.push(format!(
                "The recipe of the test changed ({}). The check allows for that only as far as it does the same to both.",
                texts.join("; ")
            ));
        }
        for season in 0..self.seasons.len() {
            let scored = self.units(season, |_| true, percent).len();
            for (lot, tests) in self.lots_of(season) {
                let known = germination
                    .beside
                    .iter()
                    .find(|one| (one.season, one.lot) == (season, lot));
                let (year, name) = (self.seasons[season].1, &self.lots[lot]);
                match known {
                    None => {
                        let beside = self.units(season, |test| tests.contains(&test), percent).len();
                        said.push(format!(
                            "{year}: {name} lay in trays with {beside} of {}, so it does not speak for the season.",
                            plural(scored, "scored ear")
                        ));
                    }
                    Some(one) if one.beside.units < scored => said.push(format!(
                        "{year}: {} lay in trays without {name} and {} not compared with it.",
                        plural(scored - one.beside.units, "ear"),
                        if scored - one.beside.units == 1 {
                            "is"
                        } else {
                            "are"
                        }
                    )),
                    Some(_) => {}
                }
            }
        }
        said.extend(self.others_mixed_in());
        said
    }

    /// Ears of a season that do not come from the list before it.
    fn others_mixed_in(&self) -> Vec<String> {
        let mut said = Vec::new();
        for to in 1..self.seasons.len() {
            let ((before, year), (season, next_year)) = (self.seasons[to - 1], self.seasons[to]);
            let Some(list) = self.project.list_in_force(before) else {
                continue;
            };
            let (mut others, mut rows, mut all) = (0, HashSet::new(), 0);
            for ear in self.project.ears_of(season) {
                let row = ear.row.and_then(|row| self.project.rows.get(row));
                match row.map(|row| &row.source) {
                    Some(RowSource::CheckLot(_)) => {}
                    Some(RowSource::Ear(mother)) if list.names(*mother) => all += 1,
                    _ => {
                        all += 1;
                        others += 1;
                        rows.insert(ear.row);
                    }
                }
            }
            if others > 0 && others < all {
                said.push(format!(
                    "{next_year}: {others} of {}, of {}, did not grow from the list of {year}; they are in the mean of the season.",
                    plural(all, "ear"),
                    plural(rows.len(), "row")
                ));
            }
        }
        said
    }
}

/// Something that is followed, with its name.
struct Named {
    what: Followed,
    name: String,
    unit: String,
    decimals: usize,
}

impl Named {
    fn new(what: Followed, name: &str, unit: &str, decimals: usize) -> Self {
        Self {
            what,
            name: name.to_owned(),
            unit: unit.to_owned(),
            decimals,
        }
    }
}

fn place_of(lots: &mut Vec<String>, name: &str) -> usize {
    lots.iter().position(|lot| lot == name).unwrap_or_else(|| {
        lots.push(name.to_owned());
        lots.len() - 1
    })
}

fn put_check(lots: &[String], name: &str, value: f64, checks: &mut BTreeMap<usize, Vec<Reading>>) {
    if let Some(lot) = lots.iter().position(|lot| lot == name.trim()) {
        checks.entry(lot).or_default().push(reading(value));
    }
}

/// A reading where all stand in one block.
fn reading(value: f64) -> Reading {
    Reading {
        block: 0,
        value,
        weight: 1.0,
    }
}

fn unit(family: Option<usize>, value: f64) -> Unit {
    Unit {
        family,
        readings: vec![reading(value)],
    }
}

fn season_mean(units: &[Unit]) -> Option<SeasonMean> {
    let mean = mean_of_families(units)?;
    let strangers: Vec<Unit> = units
        .iter()
        .map(|unit| Unit {
            family: None,
            readings: unit.readings.clone(),
        })
        .collect();
    let count = units.len();
    let deviation = mean_of_families(&strangers).map_or(0.0, |one| (one.variance * count as f64).sqrt());
    Some(SeasonMean {
        mean,
        count,
        deviation,
    })
}
