//! Projects of any size, for measuring and for trying out.

use super::dice::{Dice, GERMINATION};
use super::growth::Truth;
use super::work::{GROWER, Work, a_trait, rounded, seen};
use crate::model::{
    About, Better, CellContent, Command, Cutoffs, Ear, EarDraft, EarId, Germinated, ListDraft, ListEntry,
    Pass, Problem, Project, Recipe, RowSource, SeasonId, Seen, SeenWhileMoving, TestDesign, TraitId,
    TrayPlan, plural,
};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

const LAST_YEAR: i16 = 2025;
const EARS_PER_ROW: usize = 10;
const PLANT_EACH: u32 = 30;
const KEEP_EACH: u32 = 20;

/// Makes a project of this many ears in each of this many seasons, the last of which is 2025.
///
/// Each season has its rows, its ears with traits and packets, a test of which every cell has an early and a final
/// count, and a selection. A season that has a next one also has a frozen planting list, and the next one's rows
/// come from the ears on it. The same numbers give the same project.
///
/// Fails with the model's own sentence when there are no ears, too many, or too many seasons.
pub fn sized(ears: u32, seasons: u16, seed: u64) -> Result<Project, Problem> {
    let mut dice = Dice::new(seed);
    let name = format!(
        "DEMO {} in {}",
        plural(ears as usize, "ear"),
        plural(seasons as usize, "season")
    );
    let about = About {
        name: name.clone(),
        ..About::new("Sized", &format!("demo-{ears}-{seasons}-{seed}"))
    };
    // Years before all dates become the year 0, which the model refuses.
    let first = i32::from(LAST_YEAR) + 1 - i32::from(seasons.max(1));
    let first_year = first.max(0) as i16;
    let mut work = Work::begin(about, day(LAST_YEAR, 1, 5));
    work.run(&Command::AddTrait(a_trait(
        "Ear length",
        "in",
        (1.0, 16.0),
        Better::Higher,
        1,
    )))?;
    let mut mothers: Vec<EarId> = Vec::new();
    for (number, year) in (1_u32..).zip(first_year..=LAST_YEAR) {
        let season = SeasonId(number);
        let planted = day(year, 5, 10);
        work.go_on(planted);
        work.run(&Command::AddSeason {
            year,
            planted: Some(planted),
        })?;
        let labels = plant(&mut work, season, &mothers, ears as usize)?;
        work.go_on(day(year, 10, 1));
        work.add_ears(season, harvest(ears, planted, &labels, &mut dice))?;
        test(
            &mut work,
            season,
            day(year.saturating_add(1), 1, 15),
            seed,
            &mut dice,
        )?;
        if year < LAST_YEAR {
            mothers = freeze(&mut work, season)?;
        }
    }
    Ok(work.finish())
}

fn day(year: i16, month: i8, day: i8) -> Date {
    date(year, month, day)
}

/// Adds a row for each mother, and gives the labels of the season's rows. The first season has no mothers: its rows
/// come with its ears.
fn plant(work: &mut Work, season: SeasonId, mothers: &[EarId], ears: usize) -> Result<Vec<String>, Problem> {
    if mothers.is_empty() {
        let rows = ears.div_ceil(EARS_PER_ROW).max(1);
        return Ok((1..=rows).map(|row| row.to_string()).collect());
    }
    let labels: Vec<String> = (1..=mothers.len()).map(|row| row.to_string()).collect();
    for (label, mother) in labels.iter().zip(mothers) {
        work.run(&Command::AddRow {
            season,
            label: label.clone(),
            source: RowSource::Ear(*mother),
        })?;
    }
    Ok(labels)
}

fn harvest(ears: u32, planted: Date, labels: &[String], dice: &mut Dice) -> Vec<EarDraft> {
    (0..ears as usize)
        .map(|ear| EarDraft {
            row: Some(labels[ear * labels.len() / ears as usize].clone()),
            matured: Some(planted + ((96.0 + 5.0 * dice.normal()).round() as i32).days()),
            kernels: Some(120 + dice.below(200) as u32),
            location: Some(format!("box {}, slot {}", ear / 200 + 1, ear % 200 + 1)),
            values: BTreeMap::from([(TraitId(1), rounded(7.0 + dice.normal(), 1))]),
            ..EarDraft::default()
        })
        .collect()
}

fn test(work: &mut Work, season: SeasonId, laid: Date, seed: u64, dice: &mut Dice) -> Result<(), Problem> {
    let recipe = Recipe::default();
    let plan = TrayPlan::default();
    let (early, last) = (recipe.early_day.unwrap_or(recipe.final_day), recipe.final_day);
    let kernels = plan.kernels;
    work.go_on(laid);
    work.run(&Command::DesignTest(TestDesign {
        season,
        replaces: None,
        name: "Cold test".to_owned(),
        plan,
        recipe,
        check_lot: "DEMO check lot".to_owned(),
        seed,
        ears: None,
    }))?;
    let Some(test) = work.project().tests_of(season).map(|test| test.id).next_back() else {
        return Ok(());
    };
    work.run(&Command::LayTest {
        test,
        trays: Vec::new(),
        on: laid,
    })?;
    let check = Truth::with_germination(0.85, dice);
    let grown: Vec<_> = work
        .project()
        .trays_of(test)
        .flat_map(|tray| work.project().cells_of(tray.id))
        .filter_map(|cell| match cell.content {
            CellContent::Ear(_) => Some((cell.id, Truth::draw(dice).grow(kernels, 0.0, dice))),
            CellContent::Check(_) => Some((cell.id, check.grow(kernels, 0.0, dice))),
            CellContent::Landmark | CellContent::Spare => None,
        })
        .collect();
    let counts = |pass| -> Vec<Seen> {
        grown
            .iter()
            .map(|(cell, grown)| match pass {
                Pass::Final => seen(*cell, pass, grown.last, Some(grown.vigor)),
                Pass::Early | Pass::Between(_) => seen(*cell, pass, grown.early, None),
            })
            .collect()
    };
    work.go_on(laid + i32::from(early).days());
    work.record(counts(Pass::Early), GROWER)?;
    work.go_on(laid + i32::from(last).days());
    work.record(counts(Pass::Final), GROWER)?;
    work.run(&Command::SetCutoffs {
        season,
        cutoffs: cutoffs(),
        seen: SeenWhileMoving::default(),
    })
}

fn cutoffs() -> Cutoffs {
    Cutoffs {
        maturity_days: Some(104.0),
        ..Cutoffs::default()
    }
}

/// Freezes a list of the ears with the most germinated kernels, as many as give the next season's rows.
fn freeze(work: &mut Work, season: SeasonId) -> Result<Vec<EarId>, Problem> {
    let project = work.project();
    let mut ears: Vec<(u32, &Ear)> = project
        .ears_of(season)
        .map(|ear| (germinated(project, ear).0, ear))
        .collect();
    let rows = ears.len().div_ceil(EARS_PER_ROW);
    ears.sort_by_key(|(germinated, ear)| (std::cmp::Reverse(*germinated), ear.number));
    ears.truncate(rows);
    ears.sort_by_key(|(_, ear)| ear.number);
    let entries: Vec<ListEntry> = ears.into_iter().map(|(_, ear)| entry(project, ear)).collect();
    let mothers = entries.iter().map(|entry| entry.ear).collect();
    work.run(&Command::Freeze(ListDraft {
        season,
        by: GROWER.to_owned(),
        reason: String::new(),
        cutoffs: cutoffs(),
        entries,
        reserves: Vec::new(),
    }))?;
    Ok(mothers)
}

/// Germinated and counted kernels.
fn germinated(project: &Project, ear: &Ear) -> (u32, u32) {
    project.final_tally(ear.id).map_or((0, 0), |tally| {
        (tally.germinated(Germinated::StrongAndWeak), tally.counted())
    })
}

fn entry(project: &Project, ear: &Ear) -> ListEntry {
    let (germinated, counted) = germinated(project, ear);
    // The mean of the posterior under the very beta distribution from which the ears were drawn.
    let (a, b) = GERMINATION;
    let likely = (a + f64::from(germinated)) / (a + b + f64::from(counted));
    ListEntry {
        ear: ear.id,
        code: ear.code,
        number: ear.number,
        mother: project.mother_label(ear).to_owned(),
        germinated: Some((germinated, counted)),
        likely_percent: Some(100.0 * likely),
        maturity_days: project.maturity_days(ear).map(f64::from),
        plant: PLANT_EACH,
        keep: KEEP_EACH,
        why: "cutoffs".to_owned(),
        sowing: None,
    }
}
