//! `essel-thaw`: 240 ears of sweet corn in the middle of scoring, with faults to be found.
//!
//! Planted faults, and where they are:
//! - Tray 4 stood on the floor: all its cells, the check cells too, germinate 15 points worse, and the logger in it
//!   had about 10.8 °C while that on the shelf had 13.
//! - The logger on the shelf was silent for five hours on the day of the early count, when it was read out.
//! - Tray 5: in row C each final count stands one cell too far, so that in two cells fewer kernels have germinated
//!   in the end than had emerged early.
//! - Tray 1: the final counts of two cells were typed for each other.
//! - Tray 2: one cell was laid with 11 kernels.
//! - Four cells of the trays that are done are mouldy and germinate worse.
//! - Two ears have no packet.
//! - A second scorer counted twelve cells; in three of them the two disagree.
//! - Six ears were picked late, after frost: they matured last and germinate badly. Nobody noted it; the weather and the
//!   days of picking tell it.
//!
//! The packet of ear 147 was read as 174 once; the check character showed it, so all that is left is a note.
//! The trays were laid on three evenings, three on each, and are counted in the same stagger.

use super::dice::Dice;
use super::growth::{Grown, Truth};
use super::loggers::{self, Logger};
use super::weather::Weather;
use super::work::{GROWER, Work, a_trait, rounded, seen};
use crate::model::{
    About, Better, CellId, Command, Cutoffs, EarDraft, EarId, EventId, EventKind, Existing, Germinated,
    LogId, LogSpan, Pass, Problem, Project, Recipe, SeasonId, Seen, SeenWhileMoving, Tally, TemperatureLog,
    TemperatureUnit, TestDesign, TestId, Trait, TraitId, TrayEvent, TrayId, TrayPlan, Units, Word, WordKind,
};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use std::collections::{BTreeMap, BTreeSet};

const SEED: u64 = 240;
const EARS: usize = 240;
const ROWS: usize = 22;
const SEASON: SeasonId = SeasonId(1);
const TEST: TestId = TestId(1);
const PLANTED: Date = date(2025, 5, 10);
/// All ears but the late ones were picked before it.
const FIRST_FROST: Date = date(2025, 9, 24);
/// The evening on which the first three trays were laid; the others followed on the two evenings after it.
const LAID: Date = date(2026, 2, 3);
const TRAYS_AN_EVENING: u16 = 3;
/// The tray in which the final counts of two cells were typed for each other.
const SWAPPED_TRAY: u16 = 1;
const HELPER: &str = "Helper B";
/// Percent points by which the check lot and all ears germinate worse in the tray on the floor.
const FLOOR_TRAY: (u16, f64) = (4, -15.0);
const SHIFTED: (u16, u16) = (5, 3);
/// The tray of which half is scored; those before it are done, those behind it have early counts only.
const HALF_DONE_TRAY: u16 = 6;

/// An ear as it is going to be entered.
struct Plant {
    row: usize,
    truth: Truth,
    maturity_days: i32,
    coldest_c: f64,
}

pub(super) fn make() -> Result<Project, Problem> {
    let mut dice = Dice::new(SEED);
    let mut work = Work::begin(about(), date(2025, 5, 11));
    work.run(&Command::AddSeason {
        year: 2025,
        planted: Some(PLANTED),
    })?;
    for known in traits() {
        work.run(&Command::AddTrait(known))?;
    }
    let mut plants = plants(&mut dice);
    work.go_on(date(2025, 10, 12));
    shell(&mut work, &plants, &mut dice)?;
    work.go_on(date(2026, 2, 1));
    work.run(&Command::DesignTest(TestDesign {
        season: SEASON,
        replaces: None,
        name: "Cold test".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe {
            medium: "wet cloth on sand".to_owned(),
            ..Recipe::default()
        },
        check_lot: "Essel Thaw, bulk of season 6".to_owned(),
        seed: SEED,
        ears: None,
    }))?;
    freeze_late_ears(work.project(), &mut plants, &mut dice);
    measure(&mut work, &plants, &mut dice)?;
    lay_and_score(&mut work, &plants, &mut dice)?;
    select(&mut work, &plants)?;
    Ok(work.finish())
}

fn about() -> About {
    About {
        name: "DEMO Essel Thaw".to_owned(),
        population:
            "Essel Thaw, open-pollinated sweet corn (su), season 7: emergence from cool soil, good eating"
                .to_owned(),
        grower: format!("{GROWER}, Lower Sallowfen, Marram (all invented)"),
        units: Units {
            temperature: TemperatureUnit::Celsius,
            ..Units::default()
        },
        // The ear codes begin with the letters of the name without DEMO.
        ..About::new("Essel Thaw", "demo-essel-thaw")
    }
}

const LENGTH: TraitId = TraitId(1);
const KERNEL_ROWS: TraitId = TraitId(2);
const TIP_FILL: TraitId = TraitId(3);
const WEIGHT: TraitId = TraitId(4);
const COLDEST: TraitId = TraitId(5);

fn traits() -> [Trait; 5] {
    let fill = [
        (1, "bare tip"),
        (5, "two thirds filled"),
        (9, "filled to the end"),
    ];
    [
        a_trait("Ear length", "in", (1.0, 16.0), Better::Higher, 1),
        a_trait("Kernel rows", "", (4.0, 40.0), Better::Neither, 0),
        Trait {
            anchors: fill.map(|(grade, text)| (grade, text.to_owned())).into(),
            ..a_trait("Tip fill", "", (1.0, 9.0), Better::Higher, 0)
        },
        a_trait("100-kernel weight", "g", (5.0, 60.0), Better::Higher, 1),
        a_trait(
            "Lowest temperature before picking",
            "°C",
            (-20.0, 40.0),
            Better::Higher,
            1,
        ),
    ]
}

/// Ears of 22 mother rows: 4 to 18 of each, and 18 of row 9.
fn plants(dice: &mut Dice) -> Vec<Plant> {
    const MOST_OF_ONE_ROW: usize = 18;
    let weights: Vec<f64> = (0..ROWS).map(|_| 0.1 + dice.uniform()).collect();
    let mut sizes = [4; ROWS];
    sizes[8] = MOST_OF_ONE_ROW;
    while sizes.iter().sum::<usize>() < EARS {
        let row = dice.below(ROWS);
        if sizes[row] < MOST_OF_ONE_ROW - 1 && dice.happens(weights[row]) {
            sizes[row] += 1;
        }
    }
    let mut plants = Vec::with_capacity(EARS);
    for (row, size) in (1..).zip(sizes) {
        let row_days = 103.0 + 2.5 * dice.normal();
        for _ in 0..size {
            let truth = Truth::draw(dice);
            let days = row_days - 2.0 * truth.above_mean + 3.0 * dice.normal();
            let maturity_days = days.round() as i32;
            let coldest_c = 6.0 - 0.15 * (days - 103.0) + dice.normal();
            plants.push(Plant {
                row,
                truth,
                maturity_days,
                coldest_c,
            });
        }
    }
    plants
}

/// Enters the ears with their packets; two ears have none.
fn shell(work: &mut Work, plants: &[Plant], dice: &mut Dice) -> Result<(), Problem> {
    let without = dice.take(&mut (0..EARS).collect(), 2);
    let drafts = plants.iter().enumerate().map(|(ear, plant)| {
        let has_packet = !without.contains(&ear);
        let kernels = 70 + dice.below(200) as u32;
        EarDraft {
            row: Some(plant.row.to_string()),
            kernels: has_packet.then_some(kernels),
            location: has_packet.then(|| format!("box {}, slot {}", ear / 60 + 1, ear % 60 + 1)),
            ..EarDraft::default()
        }
    });
    work.add_ears(SEASON, drafts.collect())
}

/// Lets frost have hit six ears: four in the trays that are done, two in those that are not.
fn freeze_late_ears(project: &Project, plants: &mut [Plant], dice: &mut Dice) {
    let in_trays = |wanted: &dyn Fn(u16) -> bool| -> Vec<EarId> {
        let trays = project.trays_of(TEST).filter(|tray| wanted(tray.number));
        trays
            .flat_map(|tray| project.cells_of(tray.id))
            .filter_map(|cell| cell.content.ear())
            .collect()
    };
    let is_done = |tray: u16| tray < HALF_DONE_TRAY && tray != FLOOR_TRAY.0 && tray != SHIFTED.0;
    let mut frosted = dice.take(&mut in_trays(&is_done), 4);
    frosted.extend(dice.take(&mut in_trays(&|tray| tray > HALF_DONE_TRAY), 2));
    for ear in frosted {
        let plant = &mut plants[ear.0 as usize - 1];
        plant.truth = Truth::with_germination(0.15 + 0.2 * dice.uniform(), dice);
        plant.maturity_days = 117 + dice.below(6) as i32;
        plant.coldest_c = -2.5 - 1.5 * dice.uniform();
    }
}

fn is_frosted(plant: &Plant) -> bool {
    plant.coldest_c <= -2.5
}

/// When an ear was picked: one to two weeks after it matured, and the late ones after the frost of autumn.
fn picked(number: u32, plant: &Plant) -> Date {
    let later = i32::try_from(number * 5 % 7).unwrap_or(0);
    if is_frosted(plant) {
        FIRST_FROST + (5 + later % 3).days()
    } else {
        PLANTED + (plant.maturity_days + 7 + later).days()
    }
}

fn weather() -> Weather {
    Weather {
        year: 2025,
        warmer_c: 0.5,
        first_frost: FIRST_FROST,
        coldest_c: -3.2,
        seed: SEED + 5,
    }
}

/// Enters what was seen and measured on the ears.
fn measure(work: &mut Work, plants: &[Plant], dice: &mut Dice) -> Result<(), Problem> {
    let notes = BTreeMap::from([(
        147,
        "its packet was once read as 174; the check character of the code showed it",
    )]);
    let drafts: Vec<EarDraft> = (1_u32..)
        .zip(plants)
        .map(|(number, plant)| EarDraft {
            number: Some(number),
            matured: Some(PLANTED + plant.maturity_days.days()),
            note: match notes.get(&number) {
                Some(note) => Some((*note).to_owned()),
                None => is_frosted(plant).then(|| "picked late, after frost".to_owned()),
            },
            values: BTreeMap::from([
                (LENGTH, rounded(7.2 + 0.8 * dice.normal(), 1)),
                (KERNEL_ROWS, 2.0 * (7.0 + dice.normal()).round()),
                (TIP_FILL, (6.5 + 1.5 * dice.normal()).round().clamp(1.0, 9.0)),
                (WEIGHT, rounded(21.0 + 2.2 * dice.normal(), 1)),
                (COLDEST, rounded(plant.coldest_c, 1)),
            ]),
            // Ears went into the drier in four batches as they came in.
            batch: Some(format!(
                "batch {}",
                (plant.maturity_days - 88).clamp(0, 31) / 8 + 1
            )),
            picked: Some(picked(number, plant)),
            ..EarDraft::default()
        })
        .collect();
    work.run(&Command::AddEars {
        season: SEASON,
        drafts,
        existing: Existing::Update,
    })?;
    work.run(&Command::TakeWeather(weather().days()))
}

/// One cell that can be counted, with what grows in it.
struct Counted {
    cell: CellId,
    tray: u16,
    row: u16,
    grown: Grown,
    is_mouldy: bool,
    has_final: bool,
}

fn lay_and_score(work: &mut Work, plants: &[Plant], dice: &mut Dice) -> Result<(), Problem> {
    let in_tray_2: Vec<CellId> = ear_cells(work.project(), |tray| tray == 2);
    let with_eleven = in_tray_2[dice.below(in_tray_2.len())];
    work.run(&Command::SetLaid {
        cell: with_eleven,
        kernels: Some(11),
    })?;
    for evening in 0..3 {
        let on = LAID + evening.days();
        work.go_on(on);
        let trays = work.project().trays_of(TEST);
        let trays = trays.filter(|tray| evening_of(tray.number) == evening);
        let trays = trays.map(|tray| tray.id).collect();
        work.run(&Command::LayTest {
            test: TEST,
            trays,
            on,
        })?;
    }
    let mut cells = grow(work.project(), plants, dice);
    shift(&mut cells);
    let swapped = swap_two(work.project(), &mut cells);
    let recipe = Recipe::default();
    for evening in 0..3 {
        work.go_on(LAID + evening.days() + recipe.early_day.map_or(0, i32::from).days());
        let early = |cell: &Counted| seen(cell.cell, Pass::Early, cell.grown.early, None);
        let of_evening = cells.iter().filter(|cell| evening_of(cell.tray) == evening);
        work.record(of_evening.map(early).collect(), GROWER)?;
    }
    for evening in 0..2 {
        work.go_on(LAID + evening.days() + i32::from(recipe.final_day).days());
        let of_evening = cells.iter().filter(|cell| evening_of(cell.tray) == evening);
        work.record(
            of_evening.filter(|cell| cell.has_final).map(last).collect(),
            GROWER,
        )?;
    }
    let second = second_scorer(&cells, with_eleven, swapped, dice);
    work.record(second, HELPER)?;
    look_after(work)?;
    read_out(work)
}

/// Notes that a tray was put on the floor, and the looks at the water.
fn look_after(work: &mut Work) -> Result<(), Problem> {
    let on_the_floor = floor_tray(work.project());
    let looks = [3, 6, 9].map(|day| {
        let kind = EventKind::Watered { ml: Some(30.0) };
        (day, Vec::new(), kind, "")
    });
    let to = "the floor below the shelf".to_owned();
    let laid = evening_of(FLOOR_TRAY.0);
    let moved = (
        laid,
        on_the_floor,
        EventKind::Moved { to },
        "no room on the shelf",
    );
    for (day, trays, kind, note) in std::iter::once(moved).chain(looks) {
        work.run(&Command::AddEvent(TrayEvent {
            id: EventId(0),
            test: TEST,
            trays,
            at: LAID.at(18, 30, 0, 0) + day.days(),
            kind,
            note: note.to_owned(),
        }))?;
    }
    Ok(())
}

/// Reads the loggers: one for all trays on the shelf, one for the tray on the floor.
fn read_out(work: &mut Work) -> Result<(), Problem> {
    let of_floor = floor_tray(work.project());
    for (logger, trays) in [(loggers::shelf(LAID), Vec::new()), (floor_logger(), of_floor)] {
        work.run(&Command::AddLog(TemperatureLog {
            id: LogId(0),
            test: TEST,
            name: logger.name.to_owned(),
            start: logger.start(),
            readings: logger.minutes_and_celsius(),
            spans: vec![LogSpan {
                trays,
                ..LogSpan::default()
            }],
        }))?;
    }
    Ok(())
}

/// It began in the evening in which its tray was laid.
fn floor_logger() -> Logger {
    loggers::floor(LAID + evening_of(FLOOR_TRAY.0).days())
}

fn floor_tray(project: &Project) -> Vec<TrayId> {
    let trays = project.trays_of(TEST).filter(|tray| tray.number == FLOOR_TRAY.0);
    trays.map(|tray| tray.id).collect()
}

/// The files of the two loggers, each with its name: the shelf's and the floor's.
pub(super) fn logger_files() -> [(&'static str, String); 2] {
    [
        ("essel-thaw-shelf.csv", loggers::shelf_file(&loggers::shelf(LAID))),
        ("essel-thaw-floor.csv", loggers::floor_file(&floor_logger())),
    ]
}

/// The evening, from 0, on which a tray was laid.
fn evening_of(tray: u16) -> i32 {
    i32::from((tray - 1) / TRAYS_AN_EVENING)
}

/// Swaps the final counts of two ears' cells of a tray, as when they are typed for each other: of the two where it
/// shows most, more having emerged early in one than are seedlings in the end. Gives their cells.
fn swap_two(project: &Project, cells: &mut [Counted]) -> [CellId; 2] {
    let is_ear = |cell: &Counted| {
        project
            .cells
            .get(cell.cell)
            .and_then(|cell| cell.content.ear())
            .is_some()
    };
    let fits = |cell: &Counted| cell.tray == SWAPPED_TRAY && is_ear(cell) && !cell.is_mouldy;
    let places: Vec<usize> = (0..cells.len()).filter(|place| fits(&cells[*place])).collect();
    let shows = |pair: &(usize, usize)| {
        let (early, last) = (&cells[pair.0].grown.early, &cells[pair.1].grown.last);
        i64::from(early.emerged()) - i64::from(last.emerged())
    };
    let pairs = places
        .iter()
        .flat_map(|one| places.iter().map(|two| (*one, *two)));
    let (one, two) = pairs.max_by_key(shows).unwrap_or((0, 0));
    let (first, second) = (cells[one].grown, cells[two].grown);
    (cells[one].grown.last, cells[one].grown.vigor) = (second.last, second.vigor);
    (cells[two].grown.last, cells[two].grown.vigor) = (first.last, first.vigor);
    [cells[one].cell, cells[two].cell]
}

fn ear_cells(project: &Project, wanted: impl Fn(u16) -> bool) -> Vec<CellId> {
    let trays = project.trays_of(TEST).filter(|tray| wanted(tray.number));
    trays
        .flat_map(|tray| project.cells_of(tray.id))
        .filter(|cell| cell.content.ear().is_some())
        .map(|cell| cell.id)
        .collect()
}

fn last(cell: &Counted) -> Seen {
    Seen {
        mould: cell.is_mouldy,
        ..seen(cell.cell, Pass::Final, cell.grown.last, Some(cell.grown.vigor))
    }
}

/// Lets everything grow. The row that is going to be shifted grows again until the shift shows in two cells.
fn grow(project: &Project, plants: &[Plant], dice: &mut Dice) -> Vec<Counted> {
    let sound = |tray| tray < HALF_DONE_TRAY && tray != FLOOR_TRAY.0 && tray != SHIFTED.0;
    let mouldy: BTreeSet<CellId> = dice.take(&mut ear_cells(project, sound), 4).into_iter().collect();
    let check = Truth::with_germination(0.85, dice);
    let mut cells = Vec::new();
    for tray in project.trays_of(TEST) {
        for cell in project.cells_of(tray.id).filter(|cell| cell.content.is_counted()) {
            let truth = cell
                .content
                .ear()
                .map_or(check, |ear| plants[ear.0 as usize - 1].truth);
            let is_mouldy = mouldy.contains(&cell.id);
            let floor = if tray.number == FLOOR_TRAY.0 {
                FLOOR_TRAY.1
            } else {
                0.0
            };
            let points = floor - if is_mouldy { 25.0 } else { 0.0 };
            cells.push((
                truth,
                project.sown(cell),
                points,
                Counted {
                    cell: cell.id,
                    tray: tray.number,
                    row: cell.row,
                    grown: truth.grow(project.sown(cell), points, dice),
                    is_mouldy,
                    has_final: tray.number < HALF_DONE_TRAY
                        || tray.number == HALF_DONE_TRAY && cell.row <= tray.rows / 2,
                },
            ));
        }
    }
    loop {
        let shifted: Vec<Grown> = cells
            .iter()
            .filter(|(.., cell)| is_shifted(cell))
            .map(|(.., cell)| cell.grown)
            .collect();
        let in_two_cells = |sprouted: fn(&Tally) -> u32| cells_that_lost(&shifted, sprouted) == 2;
        if in_two_cells(Tally::emerged) && in_two_cells(normal) {
            return cells.into_iter().map(|(.., cell)| cell).collect();
        }
        for (truth, kernels, points, cell) in cells.iter_mut().filter(|(.., cell)| is_shifted(cell)) {
            cell.grown = truth.grow(*kernels, *points, dice);
        }
    }
}

fn is_shifted(cell: &Counted) -> bool {
    (cell.tray, cell.row) == SHIFTED
}

/// Counts the cells in which fewer kernels would be sprouted in the end than early, were the final counts shifted.
fn cells_that_lost(row: &[Grown], sprouted: fn(&Tally) -> u32) -> usize {
    let before = row.iter().skip(row.len() - 1).chain(row);
    let pairs = row.iter().zip(before);
    pairs
        .filter(|(cell, before)| u32::from(cell.early.strong) > sprouted(&before.last))
        .count()
}

fn normal(tally: &Tally) -> u32 {
    tally.germinated(Germinated::StrongAndWeak)
}

/// Moves the final counts of the shifted row by one cell; the one that falls off the end comes to its beginning.
fn shift(cells: &mut [Counted]) {
    let row: Vec<usize> = (0..cells.len())
        .filter(|place| is_shifted(&cells[*place]))
        .collect();
    let mut last: Vec<(Tally, u8)> = row
        .iter()
        .map(|place| (cells[*place].grown.last, cells[*place].grown.vigor))
        .collect();
    last.rotate_right(1);
    for (place, (tally, vigor)) in row.into_iter().zip(last) {
        cells[place].grown.last = tally;
        cells[place].grown.vigor = vigor;
    }
}

/// Counts twelve cells again; in three of them one or two kernels are judged otherwise.
fn second_scorer(cells: &[Counted], with_eleven: CellId, swapped: [CellId; 2], dice: &mut Dice) -> Vec<Seen> {
    let is_plain = |cell: &&Counted| {
        cell.tray < FLOOR_TRAY.0
            && cell.cell != with_eleven
            && !swapped.contains(&cell.cell)
            && cell.grown.last.strong > 2
    };
    let mut plain: Vec<&Counted> = cells.iter().filter(is_plain).collect();
    let twice = dice.take(&mut plain, 12);
    (0..)
        .zip(twice)
        .map(|(place, cell)| {
            let mut seen = last(cell);
            seen.second = true;
            if place < 3 {
                let kernels = 1 + dice.below(2) as u16;
                seen.tally.strong -= kernels;
                seen.tally.abnormal += kernels;
            }
            seen
        })
        .collect()
}

/// Sets cutoffs, and gives a word about two ears.
fn select(work: &mut Work, plants: &[Plant]) -> Result<(), Problem> {
    work.run(&Command::SetCutoffs {
        season: SEASON,
        cutoffs: Cutoffs {
            germination_percent: Some(70.0),
            maturity_days: Some(106.0),
            cap_per_mother: Some(6),
            ..Cutoffs::default()
        },
        seen: SeenWhileMoving::default(),
    })?;
    let frosted = plants
        .iter()
        .position(is_frosted)
        .map(|place| EarId(place as u32 + 1));
    let words = [
        (
            Some(longest(work.project())),
            WordKind::Always,
            "the longest ear of all",
        ),
        (frosted, WordKind::Never, "picked after frost"),
    ];
    for (ear, kind, reason) in words {
        work.run(&Command::SetWord {
            season: SEASON,
            ears: ear.into_iter().collect(),
            word: Some(Word {
                kind,
                reason: reason.to_owned(),
            }),
        })?;
    }
    Ok(())
}

fn longest(project: &Project) -> EarId {
    let length = |ear: EarId| {
        project
            .ears
            .get(ear)
            .and_then(|ear| ear.values.get(&LENGTH).copied())
    };
    project
        .ears
        .iter()
        .map(|ear| ear.id)
        .max_by(|a, b| {
            length(*a)
                .partial_cmp(&length(*b))
                .unwrap_or(std::cmp::Ordering::Equal)
        })
        .unwrap_or(EarId(1))
}
