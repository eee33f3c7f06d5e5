//! `pocket-starter`: 24 ears of flour corn and one tray, all but five cells scored.

use super::dice::Dice;
use super::growth::Truth;
use super::work::{GROWER, Work, a_trait, rounded, seen};
use crate::model::{
    About, Better, CellContent, Command, Cutoffs, EarDraft, EarId, MM_PER_INCH, Pass, Problem, Project,
    Recipe, SeasonId, Seen, SeenWhileMoving, TemperatureUnit, TestDesign, TestId, TraitId, TrayPlan, Units,
};
use jiff::ToSpan;
use jiff::civil::date;
use std::collections::BTreeMap;

const SEED: u64 = 24;
const KERNELS: u16 = 10;
/// The cells that are left to be scored, at the tray's end.
const UNSCORED: usize = 5;

pub(super) fn make() -> Result<Project, Problem> {
    let mut dice = Dice::new(SEED);
    let about = About {
        population: "Little Tarn, open-pollinated flour corn".to_owned(),
        grower: format!("{GROWER}, a back garden in Sallowfen (all invented)"),
        units: Units {
            temperature: TemperatureUnit::Celsius,
            ..Units::default()
        },
        ..About::new("Pocket Starter", "demo-pocket-starter")
    };
    // The ear codes begin with the letters of the name without DEMO.
    let name = "DEMO Pocket Starter".to_owned();
    let mut work = Work::begin(About { name, ..about }, date(2025, 10, 4));
    let season = SeasonId(1);
    let planted = Some(date(2025, 5, 17));
    work.run(&Command::AddSeason { year: 2025, planted })?;
    work.run(&Command::AddTrait(a_trait(
        "Ear length",
        "in",
        (1.0, 16.0),
        Better::Higher,
        1,
    )))?;
    let drafts = (0_u32..24)
        .map(|ear| EarDraft {
            row: Some((ear / 4 + 1).to_string()),
            maturity_days: Some((98.0 + 4.0 * dice.normal()).round() as u16),
            kernels: Some(90 + dice.below(120) as u32),
            location: Some(format!("shoe box, slot {}", ear + 1)),
            values: BTreeMap::from([(TraitId(1), rounded(6.5 + 0.9 * dice.normal(), 1))]),
            ..EarDraft::default()
        })
        .collect();
    work.add_ears(season, drafts)?;
    work.go_on(date(2026, 1, 10));
    work.run(&Command::DesignTest(TestDesign {
        season,
        replaces: None,
        name: "Cold test".to_owned(),
        plan: TrayPlan {
            width_mm: 10.0 * MM_PER_INCH,
            height_mm: 10.0 * MM_PER_INCH,
            cell_width_mm: 2.0 * MM_PER_INCH,
            cell_height_mm: 2.0 * MM_PER_INCH,
            kernels: KERNELS,
            checks: 1,
            landmarks: 0,
            ..TrayPlan::default()
        },
        recipe: Recipe {
            early_day: None,
            medium: "wet cloth".to_owned(),
            ..Recipe::default()
        },
        check_lot: "Little Tarn, bulk of 2024".to_owned(),
        seed: SEED,
        ears: None,
    }))?;
    let laid = date(2026, 1, 11);
    work.go_on(laid);
    work.run(&Command::LayTest {
        trays: Vec::new(),
        test: TestId(1),
        on: laid,
    })?;
    work.go_on(laid + 12.days());
    let counts = score(work.project(), &mut dice);
    work.record(counts, GROWER)?;
    // So few ears that nearly all are kept: only clear failures go.
    work.run(&Command::SetCutoffs {
        season,
        cutoffs: Cutoffs {
            germination_percent: Some(50.0),
            ..Cutoffs::default()
        },
        seen: SeenWhileMoving::default(),
    })?;
    Ok(work.finish())
}

/// Scores the check cell and all ears but the last five: two of them are clear failures.
fn score(project: &Project, dice: &mut Dice) -> Vec<Seen> {
    let cells: Vec<_> = project
        .trays
        .iter()
        .flat_map(|tray| project.cells_of(tray.id))
        .collect();
    let mut scored: Vec<EarId> = cells.iter().filter_map(|cell| cell.content.ear()).collect();
    scored.truncate(scored.len() - UNSCORED);
    let failures = dice.take(&mut scored.clone(), 2);
    cells
        .into_iter()
        .filter_map(|cell| {
            let (germination, germinated) = match cell.content {
                CellContent::Ear(ear) if failures.contains(&ear) => (0.15, 0..=3),
                CellContent::Ear(ear) if scored.contains(&ear) => (dice.germination(), 5..=10),
                CellContent::Check(_) => (0.85, 0..=10),
                CellContent::Ear(_) | CellContent::Landmark | CellContent::Spare => return None,
            };
            // Kernels grow again until the ear is as clear a case as a first project should have.
            let grown = loop {
                let grown = Truth::with_germination(germination, dice).grow(KERNELS, 0.0, dice);
                if germinated.contains(&(grown.last.strong + grown.last.weak)) {
                    break grown;
                }
            };
            Some(seen(cell.id, Pass::Final, grown.last, Some(grown.vigor)))
        })
        .collect()
}
