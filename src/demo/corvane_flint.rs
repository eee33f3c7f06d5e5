//! `corvane-flint`: three seasons of flint corn, from the first ears to the third list, with the same check lot in all trays.
//!
//! What is in it to be seen, all of it invented so that it hangs together:
//! - 180, 160 and 150 ears, lists of 48, 40 and 45. The seasons were counted with about 66, 74 and 80 %; each winter's test
//!   stood milder than the last, by 5 and 9 points, so that beside the check the population moved from 66 to 69 to 71.
//! - An ear's true germination is 66 %, plus what it inherits (a standard deviation of 7.5 points), plus what its own season
//!   did to it (13 points), of which a part is that early ears had longer to dry. A kernel inherits half of its mother's
//!   value and half of the mean of all planted kernels, and something of its own.
//! - Selecting by germination alone took early ears along: silk after 68.0, 67.1 and 66.4 days, maturity with less heat, ears at 74, 72 and 70 cm, 6, 8
//!   and 10 % of stalks broken.
//! - The list of the second season planted unequal packets, so that its 40 ears count like about 31 equal ones.
//! - Row 7 of the first season had twelve ears and good ones: its line is over-represented to the end.
//! - The best ear of the first season was planted again in the third, from its remnant.
//! - The stand in the field goes with the trays by 0.35 in the first field and by 0.10 in the second, after a mild spring.
//!
//! Counts, stands and the rows' measures are drawn again until their means or correlations come as close to these figures as
//! the constants below say.

use super::dice::Dice;
use super::growth::{Grown, Truth};
use super::weather::Weather;
use super::work::{GROWER, Work, a_trait, rounded, seen};
use crate::model::{
    About, Better, CellContent, CellId, Command, Cutoffs, Ear, EarDraft, EarId, FieldContent, FieldNote,
    FieldRow, FieldShape, Germinated, LengthUnit, ListDraft, ListEntry, ListId, Pass, PlanId, Problem,
    Project, Recipe, Row, RowField, RowSource, SeasonId, SeenWhileMoving, TemperatureUnit, TestDesign,
    TestId, Trait, TraitId, TrayPlan, Units, WeatherDay, Word, WordKind,
};
use jiff::ToSpan;
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

const SEED: u64 = 207;
const LAYOUT_SEED: u64 = 48;
const FIRST_YEAR: i16 = 2023;
const CHECK_LOT: &str = "Corvane Flint, bulk of 2023";
/// True germination of the population and of the check lot, in percent.
const MEAN: f64 = 66.0;
/// What a kernel inherits, and what its own season does, as standard deviations in percent points.
const INHERITED: f64 = 7.5;
const OWN: f64 = 13.0;
/// Heat from planting until an average ear of the first season is mature, and what one day of it is at that time, in degrees
/// Celsius times days.
const ENOUGH_C: f64 = 1_180.0;
const HEAT_A_DAY: f64 = 9.0;
/// Percent points by which an ear germinates better for each day that it silked before the mean.
const A_DAY: f64 = 1.2;
/// How close means of counts come to the figures that are told, in percent points.
const CLOSE: f64 = 0.5;
/// How often something is drawn again at most.
const TRIES: usize = 2_000;
/// The row of the first season that is over-represented, with its ears; all others have three.
const LARGE_ROW: (usize, usize) = (7, 12);
const FOUNDER_ROWS: usize = 57;

/// A season as it is told.
struct Told {
    ears: usize,
    listed: usize,
    /// From which its weather is drawn: seeds of summers that are about as warm as each other.
    weather_seed: u64,
    /// Percent points by which everything germinates better in its test.
    warmth: f64,
    /// The mean that is counted, of the ears and of the check lot, in percent.
    counted: [f64; 2],
    silk_days: f64,
    ear_height_cm: f64,
    broken_percent: f64,
    /// How the stand of its list in the field goes with the trays.
    field: Option<f64>,
}

const SEASONS: [Told; 3] = [
    Told {
        ears: 180,
        listed: 48,
        weather_seed: 11,
        warmth: 0.0,
        counted: [66.0, 66.0],
        silk_days: 68.0,
        ear_height_cm: 74.0,
        broken_percent: 6.0,
        field: Some(0.35),
    },
    Told {
        ears: 160,
        listed: 40,
        weather_seed: 24,
        warmth: 5.0,
        counted: [74.0, 71.0],
        silk_days: 67.1,
        ear_height_cm: 72.0,
        broken_percent: 8.0,
        field: Some(0.10),
    },
    Told {
        ears: 150,
        listed: 45,
        weather_seed: 73,
        warmth: 9.0,
        counted: [80.0, 75.0],
        silk_days: 66.4,
        ear_height_cm: 70.0,
        broken_percent: 10.0,
        field: None,
    },
];

const SILK: TraitId = TraitId(1);
const EAR_HEIGHT: TraitId = TraitId(2);
const BROKEN: TraitId = TraitId(3);
const WEIGHT: TraitId = TraitId(4);

/// A row of a season, as it is.
struct Family {
    label: String,
    ears: usize,
    /// The mean that its kernels inherit, in percent points above [`MEAN`].
    inherited: f64,
    /// How far its silk, ear height and broken stalks lie above those of the season, in days, cm and percent.
    above: [f64; 3],
}

/// An ear, as it is.
struct Plant {
    inherited: f64,
    truth: Truth,
}

pub(super) fn make() -> Result<Project, Problem> {
    let mut dice = Dice::new(SEED);
    let mut work = Work::begin(about(), date(FIRST_YEAR, 5, 12));
    for known in traits() {
        work.run(&Command::AddTrait(known))?;
    }
    work.run(&Command::AddSeason {
        year: FIRST_YEAR,
        planted: Some(planted(0)),
    })?;
    let check = Truth::with_germination(MEAN / 100.0, &mut dice);
    let mut families = founders(&mut dice);
    // What each ear of the project inherits, by its id.
    let mut inherited: Vec<f64> = Vec::new();
    for (number, told) in SEASONS.iter().enumerate() {
        let plants = harvest(&mut work, number, &families, &mut dice)?;
        inherited.extend(plants.iter().map(|plant| plant.inherited));
        test(&mut work, number, &plants, check, &mut dice)?;
        let list = freeze(&mut work, number, &mut dice)?;
        if let Some(correlation) = told.field {
            families = grow(&mut work, number, list, &inherited, correlation, &mut dice)?;
        }
    }
    Ok(work.finish())
}

fn about() -> About {
    About {
        name: "DEMO Corvane Flint".to_owned(),
        population: "Corvane Flint, open-pollinated flint corn: emergence from cold soil".to_owned(),
        grower: format!("{GROWER}, Corvane Ridge, Marram (all invented)"),
        units: Units {
            temperature: TemperatureUnit::Celsius,
            length: LengthUnit::Centimetres,
        },
        // The ear codes begin with the letters of the name without DEMO.
        ..About::new("Corvane Flint", "demo-corvane-flint")
    }
}

fn traits() -> [Trait; 4] {
    [
        a_trait("Silk after planting", "days", (40.0, 120.0), Better::Neither, 0),
        a_trait("Ear height", "cm", (10.0, 250.0), Better::Neither, 0),
        a_trait("Broken stalks in its row", "%", (0.0, 100.0), Better::Lower, 0),
        a_trait("100-kernel weight", "g", (5.0, 60.0), Better::Higher, 1),
    ]
}

fn year(number: usize) -> i16 {
    FIRST_YEAR + number as i16
}

fn season(number: usize) -> SeasonId {
    SeasonId(number as u32 + 1)
}

fn planted(number: usize) -> Date {
    date(year(number), 5, 12)
}

/// Numbers of mean 0 and standard deviation 1, their mean taken out.
fn centred(count: usize, dice: &mut Dice) -> Vec<f64> {
    let drawn: Vec<f64> = (0..count).map(|_| dice.normal()).collect();
    let mean = drawn.iter().sum::<f64>() / count.max(1) as f64;
    drawn.into_iter().map(|one| one - mean).collect()
}

/// How rows lie above their season in silk, ear height and broken stalks.
fn above(count: usize, dice: &mut Dice) -> Vec<[f64; 3]> {
    let days = centred(count, dice);
    let [heights, broken] = [centred(count, dice), centred(count, dice)];
    let together = days.into_iter().zip(heights.into_iter().zip(broken));
    together
        .map(|(days, (height, broken))| [1.8 * days, 2.0 * days + 4.0 * height, 2.5 * broken])
        .collect()
}

fn founders(dice: &mut Dice) -> Vec<Family> {
    let above = above(FOUNDER_ROWS, dice);
    (1..)
        .zip(above)
        .map(|(row, above)| {
            let is_large = row == LARGE_ROW.0;
            Family {
                label: row.to_string(),
                ears: if is_large { LARGE_ROW.1 } else { 3 },
                inherited: if is_large {
                    6.0
                } else {
                    0.5 * INHERITED * dice.normal()
                },
                above,
            }
        })
        .collect()
}

/// The weather of a season, which had its first frost when all ears were in.
fn weather(number: usize) -> Vec<WeatherDay> {
    Weather {
        year: year(number),
        warmer_c: 0.0,
        first_frost: date(year(number), 10, 12),
        coldest_c: -2.4,
        seed: SEASONS[number].weather_seed,
    }
    .days()
}

/// The day on which an ear has had enough heat since planting, in degrees Celsius times days.
fn matures(weather: &[WeatherDay], planted: Date, enough_c: f64) -> Date {
    let mut heat = 0.0;
    let mut days = weather.iter().filter(|day| day.on > planted);
    let day = days.find(|day| {
        heat += day.heat_c();
        heat >= enough_c
    });
    // The weather goes on long after the last ear.
    day.map_or(planted, |day| day.on)
}

/// Enters the ears of a season with what was measured on them, and its weather.
fn harvest(
    work: &mut Work,
    number: usize,
    families: &[Family],
    dice: &mut Dice,
) -> Result<Vec<Plant>, Problem> {
    let told = &SEASONS[number];
    work.go_on(date(year(number), 10, 8));
    let weather = weather(number);
    let mut plants = Vec::with_capacity(told.ears);
    let mut drafts = Vec::with_capacity(told.ears);
    for family in families {
        for _ in 0..family.ears {
            // Half of what is inherited differs among rows, the rest among the ears of a row.
            let inherited = family.inherited + 0.75_f64.sqrt() * INHERITED * dice.normal();
            let later = family.above[0] + 2.0 * dice.normal();
            let percent = MEAN + inherited - A_DAY * later + OWN * dice.normal();
            let silk_days = told.silk_days + later;
            // Late ears need more heat, and so do ears of a season that silked late.
            let enough_c = ENOUGH_C + HEAT_A_DAY * (silk_days - SEASONS[0].silk_days + 1.5 * dice.normal());
            let height = told.ear_height_cm + family.above[1] + 5.0 * dice.normal();
            drafts.push(EarDraft {
                row: Some(family.label.clone()),
                matured: Some(matures(&weather, planted(number), enough_c)),
                kernels: Some(130 + dice.below(200) as u32),
                location: Some(format!(
                    "box {}, slot {}",
                    plants.len() / 60 + 1,
                    plants.len() % 60 + 1
                )),
                values: BTreeMap::from([
                    (SILK, silk_days.round()),
                    (EAR_HEIGHT, height.round()),
                    (BROKEN, (told.broken_percent + family.above[2]).max(0.0).round()),
                    (WEIGHT, rounded(29.0 + 2.5 * dice.normal(), 1)),
                ]),
                ..EarDraft::default()
            });
            plants.push(Plant {
                inherited,
                truth: Truth::with_germination((percent / 100.0).clamp(0.03, 0.99), dice),
            });
        }
    }
    work.add_ears(season(number), drafts)?;
    work.run(&Command::TakeWeather(weather))?;
    Ok(plants)
}

/// Lays and counts the test of a season.
fn test(
    work: &mut Work,
    number: usize,
    plants: &[Plant],
    check: Truth,
    dice: &mut Dice,
) -> Result<(), Problem> {
    let laid = date(year(number) + 1, 1, 20);
    work.go_on(laid);
    let recipe = Recipe {
        medium: "wet cloth on sand".to_owned(),
        ..Recipe::default()
    };
    let last = laid + i32::from(recipe.final_day).days();
    work.run(&Command::DesignTest(TestDesign {
        season: season(number),
        replaces: None,
        name: "Cold test".to_owned(),
        plan: TrayPlan::default(),
        recipe,
        check_lot: CHECK_LOT.to_owned(),
        seed: LAYOUT_SEED + number as u64,
        ears: None,
    }))?;
    let test = TestId(number as u32 + 1);
    work.run(&Command::LayTest {
        test,
        trays: Vec::new(),
        on: laid,
    })?;
    let counts = counted(work.project(), test, plants, check, dice);
    work.go_on(last);
    let counts = counts
        .into_iter()
        .map(|(cell, grown)| seen(cell, Pass::Final, grown.last, Some(grown.vigor)));
    work.record(counts.collect(), GROWER)
}

/// Lets the kernels of all cells grow, those of the ears and those of the check lot again until their means are close to
/// those that are told.
fn counted(
    project: &Project,
    test: TestId,
    plants: &[Plant],
    check: Truth,
    dice: &mut Dice,
) -> Vec<(CellId, Grown)> {
    let number = test.0 as usize - 1;
    let told = &SEASONS[number];
    let before: usize = SEASONS[..number].iter().map(|told| told.ears).sum();
    // The trays differ a little, and do the same to all that lies in them.
    let mut cells: [Vec<(CellId, Truth, u16, f64)>; 2] = [Vec::new(), Vec::new()];
    for tray in project.trays_of(test) {
        let points = told.warmth + 1.5 * dice.normal();
        for cell in project.cells_of(tray.id) {
            let kernels = project.sown(cell);
            match cell.content {
                CellContent::Ear(ear) => {
                    let truth = plants[ear.0 as usize - 1 - before].truth;
                    cells[0].push((cell.id, truth, kernels, points));
                }
                CellContent::Check(_) => cells[1].push((cell.id, check, kernels, points)),
                CellContent::Landmark | CellContent::Spare => {}
            }
        }
    }
    let mut counts = Vec::new();
    for (cells, aim) in cells.iter().zip(told.counted) {
        counts.extend(again(dice, |dice| {
            let grown: Vec<(CellId, Grown)> = cells
                .iter()
                .map(|(cell, truth, kernels, points)| (*cell, truth.grow(*kernels, *points, dice)))
                .collect();
            let (mut germinated, mut all) = (0.0, 0.0);
            for (_, grown) in &grown {
                germinated += f64::from(grown.last.germinated(Germinated::StrongAndWeak));
                all += f64::from(grown.last.counted());
            }
            let off = (100.0 * germinated / all - aim).abs();
            (grown, off / CLOSE)
        }));
    }
    counts
}

/// Draws something again until it is close enough: until how far it is off, in parts of what is allowed, is no more than 1.
/// After [`TRIES`] draws it gives the closest one.
fn again<T>(dice: &mut Dice, mut draw: impl FnMut(&mut Dice) -> (T, f64)) -> T {
    let (mut best, mut least) = draw(dice);
    for _ in 1..TRIES {
        if least <= 1.0 {
            break;
        }
        let (drawn, off) = draw(dice);
        if off < least {
            (best, least) = (drawn, off);
        }
    }
    best
}

/// What an ear is likely to germinate, in percent, by the beta distribution with the mean that was counted and a standard
/// deviation of 15 points.
fn likely(number: usize, germinated: u32, counted: u32) -> f64 {
    let mean = SEASONS[number].counted[0] / 100.0;
    let kernels = mean * (1.0 - mean) / 0.0225 - 1.0;
    100.0 * (mean * kernels + f64::from(germinated)) / (kernels + f64::from(counted))
}

/// Chooses the ears of which the most kernels germinated, as many as the field has room for, and freezes their list. The
/// cutoff is one of germination alone, which is how early ears come along. In the second season the packets are unequal.
fn freeze(work: &mut Work, number: usize, dice: &mut Dice) -> Result<ListId, Problem> {
    work.go_on(date(year(number) + 1, 2, 15));
    let listed = SEASONS[number].listed;
    let mut ears: Vec<(u32, u32, Ear)> = work
        .project()
        .ears_of(season(number))
        .map(|ear| {
            let tally = work.project().final_tally(ear.id).unwrap_or_default();
            let germinated = tally.germinated(Germinated::StrongAndWeak);
            (germinated, tally.counted(), ear.clone())
        })
        .collect();
    ears.sort_by_key(|(germinated, _, ear)| (std::cmp::Reverse(*germinated), ear.number));
    let rest = ears.split_off(listed);
    let least = ears
        .last()
        .map_or((0, 1), |(germinated, counted, _)| (*germinated, *counted));
    // Half way down to the ears of which one kernel less germinated.
    let between = likely(number, least.0, least.1) + likely(number, least.0.saturating_sub(1), least.1);
    let cutoffs = Cutoffs {
        germination_percent: Some((between / 2.0).round()),
        sureness: 0.5,
        ..Cutoffs::default()
    };
    work.run(&Command::SetCutoffs {
        season: season(number),
        cutoffs: cutoffs.clone(),
        seen: SeenWhileMoving::default(),
    })?;
    let no_room = rest.iter().filter(|(germinated, ..)| *germinated >= least.0);
    let no_room: Vec<EarId> = no_room.map(|(.., ear)| ear.id).collect();
    if !no_room.is_empty() {
        work.run(&Command::SetWord {
            season: season(number),
            ears: no_room,
            word: Some(Word {
                kind: WordKind::Never,
                reason: "no room left in the field".to_owned(),
            }),
        })?;
    }
    ears.sort_by_key(|(.., ear)| ear.number);
    let project = work.project();
    let entries = ears
        .iter()
        .map(|(germinated, counted, ear)| ListEntry {
            ear: ear.id,
            code: ear.code,
            number: ear.number,
            mother: project.mother_label(ear).to_owned(),
            germinated: Some((*germinated, *counted)),
            likely_percent: Some(likely(number, *germinated, *counted)),
            maturity_days: project.maturity_days(ear).map(f64::from),
            plant: if number == 1 {
                6 + (34.0 * dice.uniform().powf(1.5)).round() as u32
            } else {
                30
            },
            keep: 20,
            why: "cutoffs".to_owned(),
            sowing: None,
        })
        .collect();
    work.run(&Command::Freeze(ListDraft {
        season: season(number),
        by: GROWER.to_owned(),
        reason: String::new(),
        cutoffs,
        entries,
        reserves: Vec::new(),
    }))?;
    Ok(ListId(number as u32 + 1))
}

/// Plants a list, notes what is seen in its field, and gives the rows of the next season.
fn grow(
    work: &mut Work,
    number: usize,
    list: ListId,
    inherited: &[f64],
    correlation: f64,
    dice: &mut Dice,
) -> Result<Vec<Family>, Problem> {
    let next = number + 1;
    let day = planted(next);
    work.go_on(day - 20.days());
    work.run(&Command::PlanField {
        list,
        shape: FieldShape {
            check_every: Some(12),
            ..FieldShape::in_metres()
        },
        seed: LAYOUT_SEED + number as u64,
    })?;
    work.go_on(day);
    work.run(&Command::Plant {
        list,
        ears: Vec::new(),
        on: day,
    })?;
    work.run(&Command::BeginFromList {
        list,
        year: year(next),
        planted: Some(day),
    })?;
    if next == 2 {
        replant(work, season(next))?;
    }
    let families = offspring(work.project(), list, season(next), inherited, dice);
    look(
        work,
        next,
        PlanId(number as u32 + 1),
        &families,
        correlation,
        dice,
    )?;
    Ok(families)
}

/// Plants the best ear of the first season again, from its remnant.
fn replant(work: &mut Work, season: SeasonId) -> Result<(), Problem> {
    let project = work.project();
    let listed = project.list(ListId(1)).map(|list| list.entries.as_slice());
    let best = listed.unwrap_or_default().iter().max_by(|one, other| {
        let likely = |entry: &ListEntry| entry.likely_percent.unwrap_or(0.0);
        likely(one)
            .total_cmp(&likely(other))
            .then(other.number.cmp(&one.number))
    });
    let Some(best) = best.map(|entry| entry.ear) else {
        return Ok(());
    };
    work.run(&Command::AddRow {
        season,
        label: "remnant".to_owned(),
        source: RowSource::Ear(best),
    })?;
    let added = work.project().row_labelled(season, "remnant").cloned();
    let Some(row) = added else { return Ok(()) };
    work.run(&Command::EditRow(Row {
        note: format!("from what was kept back of the best ear of {FIRST_YEAR}"),
        ..row
    }))
}

/// The rows of a season with what they inherit of their mothers and of all planted kernels, and how many ears each bears.
fn offspring(
    project: &Project,
    list: ListId,
    season: SeasonId,
    inherited: &[f64],
    dice: &mut Dice,
) -> Vec<Family> {
    let of = |ear: EarId| inherited[ear.0 as usize - 1];
    let (mut kernels, mut sum) = (0.0, 0.0);
    for entry in project.list(list).map_or(&[][..], |list| &list.entries) {
        kernels += f64::from(entry.plant);
        sum += f64::from(entry.plant) * of(entry.ear);
    }
    let pool = sum / kernels;
    let rows: Vec<(String, EarId)> = project
        .rows_of(season)
        .filter_map(|row| match row.source {
            RowSource::Ear(ear) => Some((row.label.clone(), ear)),
            _ => None,
        })
        .collect();
    let above = above(rows.len(), dice);
    let ears = SEASONS[season.0 as usize - 1].ears;
    let count = rows.len();
    rows.into_iter()
        .zip(above)
        .enumerate()
        .map(|(at, ((label, ear), above))| Family {
            label,
            ears: (at + 1) * ears / count - at * ears / count,
            inherited: 0.5 * (of(ear) + pool),
            above,
        })
        .collect()
}

/// Notes the stand, silk, ear height and broken stalks of all rows of a field.
fn look(
    work: &mut Work,
    next: usize,
    plan: PlanId,
    families: &[Family],
    correlation: f64,
    dice: &mut Dice,
) -> Result<(), Problem> {
    let told = &SEASONS[next];
    let project = work.project();
    let list = project.plans.get(plan).and_then(|plan| project.list(plan.list));
    let likely: BTreeMap<EarId, f64> = list
        .map_or(&[][..], |list| &list.entries)
        .iter()
        .filter_map(|entry| Some((entry.ear, entry.likely_percent?)))
        .collect();
    let rows: Vec<(FieldRow, Option<f64>)> = project
        .field_rows_of(plan)
        .map(|row| {
            (
                row.clone(),
                row.content.ear().and_then(|ear| likely.get(&ear).copied()),
            )
        })
        .collect();
    let stands = stands(&rows, correlation, dice);
    let of_stake: BTreeMap<&str, &Family> = families
        .iter()
        .map(|family| (family.label.as_str(), family))
        .collect();
    let day = planted(next);
    let mut notes: [Vec<FieldNote>; 3] = [Vec::new(), Vec::new(), Vec::new()];
    for ((row, _), stand) in rows.iter().zip(stands) {
        let above = match row.content {
            FieldContent::Ear(_) => of_stake
                .get(row.stake.to_string().as_str())
                .map_or([0.0; 3], |family| family.above),
            FieldContent::Check | FieldContent::Bulk => [0.0; 3],
        };
        // The check rows are still as the first season was.
        let [silk, height, broken] = match row.content {
            FieldContent::Check => [68.0, 74.0, 6.0],
            _ => [told.silk_days, told.ear_height_cm, told.broken_percent],
        };
        let silk = day + ((silk + above[0] + 0.4 * dice.normal()).round() as i32).days();
        let height = (height + above[1] + dice.normal()).round();
        let fallen = (broken + above[2]).max(0.0) / 100.0 * f64::from(stand);
        let mut note = |when: usize, field, text: String| {
            notes[when].push(FieldNote {
                row: row.id,
                field,
                text,
            });
        };
        note(0, RowField::Stand, stand.to_string());
        note(1, RowField::SilkOn, silk.to_string());
        note(2, RowField::EarHeight, height.to_string());
        // Whole plants, rounded by chance so that small shares are not lost.
        let fallen = fallen.floor() + f64::from(u8::from(dice.happens(fallen.fract())));
        note(2, RowField::StalkLodged, fallen.to_string());
    }
    for (notes, on) in
        notes
            .into_iter()
            .zip([day + 25.days(), date(year(next), 7, 30), date(year(next), 9, 10)])
    {
        work.go_on(on);
        work.run(&Command::NoteFieldRows { notes, on })?;
    }
    Ok(())
}

/// Plants that stand in each row, so that families go with what the trays said of them as closely as is told.
fn stands(rows: &[(FieldRow, Option<f64>)], correlation: f64, dice: &mut Dice) -> Vec<u32> {
    let known: Vec<f64> = rows.iter().filter_map(|(_, likely)| *likely).collect();
    let count = known.len() as f64;
    let mean = known.iter().sum::<f64>() / count;
    let deviation = (known.iter().map(|one| (one - mean).powi(2)).sum::<f64>() / count).sqrt();
    again(dice, |dice| {
        let mut pairs = Vec::new();
        let stands: Vec<u32> = rows
            .iter()
            .map(|(row, likely)| {
                let own = dice.normal();
                let above = likely.map_or(own, |likely| {
                    let tray = (likely - mean) / deviation;
                    correlation * tray + (1.0 - correlation * correlation).sqrt() * own
                });
                let share = (0.70 + 0.09 * above).clamp(0.2, 1.0);
                let stand = (share * f64::from(row.kernels)).round();
                if let Some(likely) = likely {
                    pairs.push((*likely, stand / f64::from(row.kernels)));
                }
                stand as u32
            })
            .collect();
        (stands, (pearson(&pairs) - correlation).abs() / 0.03)
    })
}

fn pearson(pairs: &[(f64, f64)]) -> f64 {
    let count = pairs.len() as f64;
    let (x, y) = pairs.iter().fold((0.0, 0.0), |(x, y), pair| {
        (x + pair.0 / count, y + pair.1 / count)
    });
    let sum = |of: &dyn Fn(f64, f64) -> f64| pairs.iter().map(|pair| of(pair.0 - x, pair.1 - y)).sum::<f64>();
    sum(&|x, y| x * y) / (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt()
}
