//! Any sequence of commands keeps a project sound, is undone without a trace and can be replayed.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::{Date, date};
use proptest::prelude::*;
use proptest::test_runner::TestRunner;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::sync::OnceLock;
use wintercrib::exchange::data_package;
use wintercrib::model::*;
use wintercrib::store::format;

/// One random thing to do: what, and four numbers that choose the details.
type Op = (u8, [u16; 4]);

const KINDS: u8 = 43;
const REDO: u8 = KINDS + 1;
const CLOSE: u8 = KINDS + 2;
const SAVE: u8 = KINDS + 3;

fn stamp(step: usize) -> Stamp {
    Stamp {
        at: date(2026, 1, 15).at(8, (step / 60 % 60) as i8, (step % 60) as i8, 0),
        by: "Grower A".to_owned(),
    }
}

/// The revision of each tray, and everything that lies and was counted in it.
fn trays(document: &Document) -> BTreeMap<TrayId, (u64, String)> {
    let project = document.project();
    let content = |tray: &Tray| {
        let cells = project.cells_of(tray.id);
        let cells: Vec<_> = cells
            .map(|cell| (cell, project.counts_of(cell.id).collect::<Vec<_>>()))
            .collect();
        format!("{tray:?} {cells:?}")
    };
    let trays = project.trays.iter();
    trays
        .map(|tray| (tray.id, (document.tray_revision(tray.id), content(tray))))
        .collect()
}

fn text(project: &Project) -> String {
    format::write(project).unwrap()
}

fn pick<T: Copy>(all: &[T], number: u16) -> Option<T> {
    (!all.is_empty()).then(|| all[usize::from(number) % all.len()])
}

/// Picks one that exists, or now and then one that does not.
fn pick_id<T: Copy + From<u32>>(all: &[T], number: u16) -> T {
    let missing = number % 23 == 22;
    pick(all, number).filter(|_| !missing).unwrap_or(T::from(99_999))
}

struct Ids {
    seasons: Vec<SeasonId>,
    rows: Vec<RowId>,
    traits: Vec<TraitId>,
    ears: Vec<EarId>,
    tests: Vec<TestId>,
    trays: Vec<TrayId>,
    cells: Vec<CellId>,
}

impl Ids {
    fn of(project: &Project) -> Self {
        Self {
            seasons: project.seasons.iter().map(|one| one.id).collect(),
            rows: project.rows.iter().map(|one| one.id).collect(),
            traits: project.traits.iter().map(|one| one.id).collect(),
            ears: project.ears.iter().map(|one| one.id).collect(),
            tests: project.tests.iter().map(|one| one.id).collect(),
            trays: project.trays.iter().map(|one| one.id).collect(),
            cells: project.cells.iter().map(|one| one.id).collect(),
        }
    }
}

fn day(number: u16) -> Date {
    date(2026, 5, 1).saturating_add(jiff::Span::new().days(i64::from(number % 160)))
}

fn a_trait(number: u16, shape: u16) -> Trait {
    let range = [(None, None), (Some(0.0), Some(40.0)), (Some(-5.0), None)][usize::from(shape % 3)];
    Trait {
        id: TraitId(0),
        name: format!("Trait {}", number % 4),
        unit: ["", "in", "°C"][usize::from(number % 3)].to_owned(),
        least: range.0,
        most: range.1,
        better: [Better::Higher, Better::Lower, Better::Neither][usize::from(shape % 3)],
        decimals: (shape % 8) as u8,
        anchors: BTreeMap::from([(1, "first".to_owned())]),
    }
}

fn an_edit(ids: &Ids, [a, b, c, d]: [u16; 4]) -> EarEdit {
    let field = match b % 14 {
        13 => EarField::Store,
        12 => EarField::Trait(pick_id(&ids.traits, c)),
        fixed => EarField::FIXED[usize::from(fixed)],
    };
    let value = match (d % 10, field) {
        (0, _) => EarValue::Empty,
        (1, _) => EarValue::Whole(u32::from(d) * 65_537),
        (2, _) => EarValue::Text("two\nlines".to_owned()),
        (_, EarField::Number) => EarValue::Whole(u32::from(c % 25)),
        (_, EarField::Planted | EarField::Matured | EarField::Picked) => EarValue::Date(day(c)),
        (_, EarField::MaturityDays) => EarValue::Whole(u32::from(c % 130)),
        (_, EarField::Kernels) => EarValue::Whole(u32::from(c % 300)),
        (_, EarField::HeatUnits) => EarValue::Number(f64::from(c % 800) * 10.0),
        (_, EarField::Frosted) => EarValue::Flag(c % 2 == 0),
        (_, EarField::Row) => EarValue::Text(format!(" {}", c % 7)),
        (_, EarField::Store) => EarValue::Text(["cellar", "Freezer"][usize::from(c % 2)].to_owned()),
        (_, EarField::Location | EarField::Batch | EarField::Note) => EarValue::Text(format!("place {c}")),
        (_, EarField::Trait(_)) => EarValue::Number(f64::from(c % 500) / 8.0 - 10.0),
    };
    EarEdit {
        ear: pick_id(&ids.ears, a),
        field,
        value,
    }
}

fn a_draft(ids: &Ids, index: u16, [_, b, c, d]: [u16; 4]) -> EarDraft {
    let number = (c % 3 > 0).then(|| u32::from(c % 20 + index));
    let mut draft = EarDraft {
        number,
        row: (b % 2 == 0).then(|| format!("{} ", (b + index) % 6)),
        planted: (d % 5 == 0).then(|| day(d)),
        matured: (d % 7 == 0).then(|| day(d + 70)),
        picked: (d % 9 == 0).then(|| day(d + 90)),
        maturity_days: (d % 4 == 0).then_some(70 + d % 40),
        heat_units_c: (d % 4 == 0).then(|| f64::from(c % 900) * 9.0),
        frosted: (d % 3 == 0).then_some(b % 2 == 0),
        kernels: (c % 5 > 0).then(|| u32::from(c % 200)),
        location: (d % 6 == 0).then(|| "box 1".to_owned()),
        store: (d % 12 == 0).then(|| "Cellar".to_owned()),
        note: (d % 11 == 0).then(|| "a note".to_owned()),
        values: BTreeMap::new(),
        batch: None,
    };
    if let Some(known) = pick(&ids.traits, c)
        && b % 3 == 0
    {
        draft.values.insert(known, f64::from(d % 45));
    }
    draft
}

fn a_design(ids: &Ids, project: &Project, [a, b, c, d]: [u16; 4]) -> TestDesign {
    let season = pick_id(&ids.seasons, a);
    TestDesign {
        season,
        replaces: (b % 4 == 0).then(|| pick_id(&ids.tests, c)),
        name: format!("Test {}", b % 3),
        plan: TrayPlan {
            width_mm: 200.0,
            height_mm: 160.0,
            cell_width_mm: 50.0,
            cell_height_mm: 50.0,
            kernels: c % 12,
            replicates: 1 + c % 3,
            checks: d % 3,
            landmarks: d / 3 % 3,
            margin_mm: f64::from(d % 2) * 4.0,
            spread: [Spread::Blocks, Spread::Anywhere][usize::from(c / 3 % 2)],
            aisle_mm: f64::from(d / 2 % 2) * 3.0,
            others: vec![
                OtherContainer {
                    name: String::new(),
                    width_mm: 160.0,
                    height_mm: 110.0,
                    margin_mm: 2.0,
                    trays: 1 + a % 2,
                };
                usize::from(b / 4 % 3)
            ],
        },
        recipe: Recipe {
            early_day: (d % 2 == 0).then_some(6),
            ..Recipe::default()
        },
        check_lot: "Check lot 1".to_owned(),
        seed: u64::from(d),
        ears: (d % 3 == 0).then(|| project.ears_of(season).step_by(2).map(|ear| ear.id).collect()),
    }
}

fn a_count(ids: &Ids, project: &Project, index: u16, [a, b, c, d]: [u16; 4]) -> Seen {
    let counted: Vec<CellId> = ids
        .cells
        .iter()
        .copied()
        .filter(|id| d % 9 == 0 || project.cells.get(*id).unwrap().content.is_counted())
        .collect();
    let cell = pick_id(&counted, a % 12 + index);
    let sown = project.cells.get(cell).map_or(10, |cell| project.sown(cell));
    let strong = b % (sown + 1);
    let weak = c % (sown - strong + 1);
    Seen {
        second: d % 5 == 0,
        mould: c % 6 == 0,
        vigor: (c % 2 == 0).then_some((b % 11) as u8),
        ..Seen::new(
            cell,
            [Pass::Early, Pass::Final, Pass::Final, Pass::Between(9)][usize::from(d % 4)],
            Tally {
                strong,
                weak,
                dead: sown - strong - weak + u16::from(c % 8 == 7),
                ..Tally::default()
            },
        )
    }
}

fn a_list(ids: &Ids, project: &Project, [a, b, c, d]: [u16; 4]) -> ListDraft {
    let season = pick_id(&ids.seasons, a);
    let entries = project
        .ears_of(season)
        .filter(|ear| !(ear.number + u32::from(b)).is_multiple_of(3))
        .map(|ear| ListEntry {
            ear: ear.id,
            code: ear.code,
            number: ear.number,
            mother: project.mother_label(ear).to_owned(),
            germinated: project
                .final_tally(ear.id)
                .map(|tally| (tally.germinated(Germinated::StrongAndWeak), tally.counted())),
            likely_percent: (c % 2 == 0).then_some(f64::from(c % 1000) / 11.0),
            maturity_days: project.maturity_days(ear).map(f64::from),
            plant: u32::from(d % 9),
            keep: u32::from(c % 5),
            why: "cutoffs".to_owned(),
            sowing: None,
        })
        .collect();
    ListDraft {
        season,
        by: if d % 10 == 9 { " " } else { "Grower A" }.to_owned(),
        reason: if c % 3 == 0 {
            ""
        } else {
            "two ears were lost to mice"
        }
        .to_owned(),
        cutoffs: Cutoffs::default(),
        entries,
        reserves: Vec::new(),
    }
}

fn a_repair(ids: &Ids, [a, b, c, d]: [u16; 4]) -> Repair {
    let cell = pick_id(&ids.cells, a % 24);
    let tray = pick_id(&ids.trays, b);
    Repair {
        moved: [
            Moved::Laid,
            Moved::Counts(Pass::Final),
            Moved::Counts(Pass::Early),
        ][usize::from(c % 3)],
        kind: match d % 6 {
            0 | 1 => RepairKind::Shift {
                from: cell,
                to_next: b % 2 == 0,
                end: [ShiftEnd::Row, ShiftEnd::Tray][usize::from(a % 2)],
                round: c / 3 % 2 == 0,
            },
            2 => RepairKind::SwapCells(cell, pick_id(&ids.cells, c % 24)),
            3 => RepairKind::SwapTrays(tray, pick_id(&ids.trays, c)),
            4 => RepairKind::Turn(tray),
            _ if b % 2 == 0 => RepairKind::MirrorRows(tray),
            _ => RepairKind::MirrorColumns(tray),
        },
    }
}

fn a_command(project: &Project, kind: u8, numbers: [u16; 4]) -> Command {
    let ids = Ids::of(project);
    let [a, b, c, d] = numbers;
    match kind {
        0 => Command::AddSeason {
            year: 2024 + (a % 4) as i16,
            planted: (b % 2 == 0).then(|| day(b % 20)),
        },
        1 => Command::AddRow {
            season: pick_id(&ids.seasons, a),
            label: format!(" {} ", ["", "1", "2", "3", "4", "5", "6"][usize::from(b % 7)]),
            source: match c % 5 {
                0 | 1 => RowSource::Ear(pick_id(&ids.ears, d)),
                2 => RowSource::Bulk("bulk of all".to_owned()),
                3 => RowSource::CheckLot("Check lot 1".to_owned()),
                _ => RowSource::Unknown,
            },
        },
        2..=4 => Command::AddEars {
            season: pick_id(&ids.seasons, a),
            drafts: (0..=b % 6).map(|index| a_draft(&ids, index, numbers)).collect(),
            existing: [Existing::Refuse, Existing::Skip, Existing::Update][usize::from(d % 3)],
        },
        5..=8 => Command::EditEars(
            (0..=u16::from(a % 4 == 0))
                .map(|index| an_edit(&ids, [a + index, b, c + index, d]))
                .collect(),
        ),
        // Of the last ears, which least hangs on, more often than of all.
        9 => {
            let last = ids
                .ears
                .len()
                .saturating_sub(if b % 3 > 0 { 2 } else { ids.ears.len() });
            Command::RemoveEars(vec![pick_id(&ids.ears[last..], a)])
        }
        10 => Command::AddTrait(a_trait(a, b)),
        11 => match pick_id(&ids.traits, a) {
            id if c % 2 == 0 => Command::EditTrait(Trait { id, ..a_trait(b, d) }),
            id => Command::RemoveTrait(id),
        },
        12 | 13 => Command::DesignTest(a_design(&ids, project, numbers)),
        14 if b % 2 == 0 => Command::RemoveTest(pick_id(&ids.tests, a)),
        14 => Command::EditTest {
            test: pick_id(&ids.tests, a),
            name: format!("Test {} ", c % 3),
            recipe: Recipe {
                final_day: d % 15,
                ..Recipe::default()
            },
            check_lot: String::new(),
        },
        15 => Command::LayTest {
            trays: (d % 3 == 0).then(|| pick_id(&ids.trays, c)).into_iter().collect(),
            test: pick_id(&ids.tests, a),
            on: day(b),
        },
        16 => Command::SetLaid {
            cell: pick_id(&ids.cells, a % 12),
            kernels: (b % 3 > 0).then_some(c % 14),
        },
        19 => Command::TakeCounts {
            counts: (0..=b % 3)
                .map(|index| Taken {
                    on: (d % 2 == 0).then(|| day(c)),
                    by: "Helper B".to_owned(),
                    is_void: (a + index) % 4 == 0,
                    scheme: (c % 3 == 0).then_some(c % 2),
                    ..Taken::new(a_count(&ids, project, index, [a, b, c + index, d]))
                })
                .collect(),
            label: "Take counts".to_owned(),
        },
        17 | 18 => Command::RecordCounts {
            counts: (0..=b % 3)
                .map(|index| a_count(&ids, project, index, [a, b, c + index, d]))
                .collect(),
            on: (d % 2 == 0).then(|| day(c)),
            by: "Grower A".to_owned(),
        },
        20 => Command::SetCutoffs {
            season: pick_id(&ids.seasons, a % 2),
            cutoffs: Cutoffs {
                germination_percent: (b % 3 > 0).then_some(f64::from(b % 120)),
                traits: pick(&ids.traits, c)
                    .filter(|_| d % 4 == 0)
                    .map(|id| (id, Limits::default()))
                    .into_iter()
                    .collect(),
                cap_per_mother: (d % 3 == 0).then_some(d % 9),
                ..Cutoffs::default()
            },
            seen: SeenWhileMoving::default(),
        },
        21 if d % 5 == 1 => Command::SetLeastMothers {
            season: pick_id(&ids.seasons, a),
            least: (b % 3 > 0).then_some(c),
        },
        21 if d % 5 == 0 => Command::SetKernels {
            season: pick_id(&ids.seasons, a),
            way: match b % 3 {
                0 => KernelWay::Equal,
                1 => KernelWay::ForAStand,
                _ => KernelWay::SharedOut(f64::from(c % 140) / 120.0),
            },
        },
        21 => Command::SetWord {
            season: pick_id(&ids.seasons, a),
            ears: vec![pick_id(&ids.ears, b)],
            word: (c % 3 > 0).then(|| Word {
                kind: [WordKind::Always, WordKind::Never][usize::from(c % 2)],
                reason: if d % 4 == 0 { " " } else { "the only red ear" }.to_owned(),
            }),
        },
        22 => Command::Freeze(a_list(&ids, project, numbers)),
        40 => a_storing(project, numbers),
        41 => a_line(numbers),
        42 => a_version(project, numbers),
        38 => a_closing(&ids, project, numbers),
        39 => some_weather(numbers),
        36 => a_plan(&ids, project, numbers),
        37 => a_change_of_the_field(&ids, project, numbers),
        33 => {
            let list = project.lists.iter().next_back();
            let listed = list.map_or_else(Vec::new, |list| {
                list.entries.iter().map(|entry| entry.ear).collect()
            });
            Command::Plant {
                list: list.map_or(ListId(99_999), |list| list.id),
                ears: pick(&listed, a).filter(|_| b % 3 > 0).into_iter().collect(),
                on: day(c),
            }
        }
        34 => {
            let season = pick_id(&ids.seasons, a % 2);
            let name = ["strict", "mild ", "Strict", " "][usize::from(b % 4)].to_owned();
            match c % 4 {
                0 => Command::DropCutoffs { season, name },
                1 => Command::RenameCutoffs {
                    season,
                    from: name,
                    to: "mild".to_owned(),
                },
                _ => Command::KeepCutoffs {
                    season,
                    name,
                    cutoffs: Cutoffs {
                        germination_percent: Some(f64::from(d % 110)),
                        ..Cutoffs::default()
                    },
                    note: String::new(),
                },
            }
        }
        35 => {
            let mut index = Index {
                missing_as_mean: d % 2 == 0,
                ..Index::default()
            };
            let of = match b % 4 {
                0 => IndexTrait::Maturity,
                1 => IndexTrait::GerminationForItsMaturity,
                _ => IndexTrait::Trait(pick_id(&ids.traits, b)),
            };
            index.weigh(of, (c % 4 > 0).then(|| f64::from(c % 1100) - 20.0));
            index.weigh(IndexTrait::Germination, (d % 3 > 0).then_some(0.5));
            Command::SetIndex {
                season: pick_id(&ids.seasons, a % 2),
                index,
            }
        }
        23 => Command::Describe(About {
            grower: format!("Grower {}", a % 3),
            germinated: [Germinated::StrongAndWeak, Germinated::StrongOnly][usize::from(b % 2)],
            ..project.about.clone()
        }),
        26 => Command::LayCells {
            cells: (0..=u16::from(c % 4 == 0))
                .map(|index| (pick_id(&ids.cells, a % 24 + index), 9 + d % 3))
                .collect(),
            on: day(b),
        },
        27 if b % 2 == 0 => {
            let is_laid = |id: &CellId| project.laid_on(project.cells.get(*id).unwrap()).is_some();
            let laid: Vec<CellId> = ids.cells.iter().copied().filter(is_laid).collect();
            Command::TakeUpCells(vec![pick_id(&laid, a)])
        }
        27 => Command::AddToTest {
            test: pick_id(&ids.tests, a),
            ears: ids
                .ears
                .last()
                .copied()
                .filter(|_| c % 5 > 0)
                .into_iter()
                .collect(),
            laid_on: (d % 2 == 0).then(|| day(d)),
        },
        28 | 29 => Command::Repair(a_repair(&ids, numbers)),
        30 => match project.logs.iter().next() {
            Some(log) if a % 4 == 0 => Command::RemoveLog(log.id),
            Some(log) if a % 4 == 1 => Command::EditLog(TemperatureLog {
                name: format!("shelf {}", b % 3),
                ..log.clone()
            }),
            _ => Command::AddLog(TemperatureLog {
                id: LogId(0),
                test: pick_id(&ids.tests, b),
                name: "shelf 1".to_owned(),
                start: day(c).at(8, 0, 0, 0),
                readings: (0..u32::from(d % 5))
                    .map(|hour| (60 * hour, f64::from(c % 300) / 10.0))
                    .collect(),
                spans: vec![LogSpan {
                    trays: pick(&ids.trays, a).into_iter().collect(),
                    ..LogSpan::default()
                }],
            }),
        },
        31 => match project.events.iter().next() {
            Some(event) if a % 4 == 0 => Command::RemoveEvent(event.id),
            Some(event) if a % 4 == 1 => Command::EditEvent(TrayEvent {
                note: "a note".to_owned(),
                ..event.clone()
            }),
            _ => Command::AddEvent(TrayEvent {
                id: EventId(0),
                test: pick_id(&ids.tests, b),
                trays: pick(&ids.trays, a).into_iter().collect(),
                at: day(c).at(9, 30, 0, 0),
                kind: match d % 4 {
                    0 => EventKind::Watered {
                        ml: Some(f64::from(c)),
                    },
                    1 => EventKind::Moved {
                        to: "shelf 2".to_owned(),
                    },
                    2 => EventKind::Turned,
                    _ => EventKind::Note,
                },
                note: if c % 2 == 0 { "" } else { "condensation" }.to_owned(),
            }),
        },
        32 => match project.photos.iter().next() {
            Some(photo) if a % 4 == 0 => Command::RemovePhoto(photo.id),
            Some(photo) if a % 4 == 1 => Command::EditPhoto(Photo {
                corners: Some([[1.0, 2.0], [900.0, 3.0], [905.0, 600.0], [f64::from(b), 610.0]]),
                ..photo.clone()
            }),
            _ => Command::AddPhoto(Photo {
                id: PhotoId(0),
                tray: pick_id(&ids.trays, a),
                pass: (b % 2 == 0).then_some(Pass::Final),
                file: format!("{}tray-{}.jpg", if d % 7 == 0 { "../" } else { "" }, c % 6),
                digest: "0123456789abcdef".repeat(4),
                width: 1000,
                height: u32::from(d % 9),
                taken: None,
                corners: None,
            }),
        },
        24 => match project.seasons.get(pick_id(&ids.seasons, a)) {
            Some(season) if d % 4 == 1 => Command::StatePollen {
                season: season.id,
                pollen: (b % 4 > 0).then(|| PollenSource {
                    own: f64::from(c % 12) / 10.0,
                    rows: pick(&ids.rows, b).into_iter().collect(),
                }),
            },
            Some(season) => Command::EditSeason(Season {
                year: if b % 3 == 0 {
                    2024 + (b % 5) as i16
                } else {
                    season.year
                },
                planted: (c % 3 > 0).then(|| day(c)),
                remnant: u32::from(d % 50),
                retired_serials: [7].into(),
                sowing: (d % 3 == 0).then(|| Sowing {
                    plants: u32::from(c % 40),
                    ..Sowing::COMMON
                }),
                ..season.clone()
            }),
            None => Command::AddSeason {
                year: 0,
                planted: None,
            },
        },
        _ => match project.rows.get(pick_id(&ids.rows, a)) {
            Some(row) if b % 2 == 0 => Command::EditRow(Row {
                label: format!("{} ", c % 7),
                season: pick_id(&ids.seasons, d),
                planted: (d % 2 == 0).then(|| day(d)),
                ..row.clone()
            }),
            _ => Command::RemoveRow(pick_id(&ids.rows, a)),
        },
    }
}

/// Days of weather, or their removal.
fn some_weather([a, b, c, d]: [u16; 4]) -> Command {
    if a % 3 == 0 {
        return Command::RemoveWeather {
            from: day(b),
            to: day(b + c % 40),
        };
    }
    let days = (0..b % 40).map(|index| WeatherDay {
        on: day(c + index * u16::from(a % 7 > 0)),
        high_c: f64::from(d % 300) / 9.0 - 5.0,
        low_c: f64::from(index) - f64::from(d % 13),
    });
    Command::TakeWeather(days.collect())
}

/// Beginning the season after a list, closing one, opening one again. A closed one is opened as soon as can be, so that
/// the rest goes on.
fn a_closing(ids: &Ids, project: &Project, [a, b, c, d]: [u16; 4]) -> Command {
    if let Some(closed) = project.seasons.iter().find(|season| season.closed.is_some()) {
        return Command::OpenSeason {
            season: closed.id,
            reason: ["a slip", " "][usize::from(a % 5 == 0)].to_owned(),
        };
    }
    match project.lists.iter().next_back() {
        Some(list) if b % 3 > 0 => Command::BeginFromList {
            list: list.id,
            year: 2024 + (c % 5) as i16,
            planted: (d % 2 == 0).then(|| day(d)),
        },
        _ => Command::CloseSeason(pick_id(&ids.seasons, a)),
    }
}

/// Something done to a storage place, or to the packets in it.
fn a_storing(project: &Project, [a, b, c, d]: [u16; 4]) -> Command {
    let stores: Vec<StoreId> = project.stores.iter().map(|one| one.id).collect();
    let packets: Vec<PacketId> = project.packets.iter().map(|one| one.id).collect();
    let some = || (0..=b % 3).map(|index| pick_id(&packets, c + index)).collect();
    let store = StorePlace {
        id: pick_id(&stores, b),
        name: ["Cellar", "freezer ", " "][usize::from(c % 3)].to_owned(),
        temperature_c: (d % 3 > 0).then(|| f64::from(d % 90) - 20.0),
        humidity_percent: (d % 2 == 0).then(|| f64::from(d % 110)),
        note: String::new(),
    };
    match a % 6 {
        0 => Command::RemoveStore(store.id),
        1 => Command::EditStore(store),
        2 => Command::NoteMoisture {
            packets: some(),
            percent: (d % 4 > 0).then(|| f64::from(d % 600) / 8.0),
            on: (d % 3 == 0).then(|| day(d)),
        },
        3 if !stores.is_empty() => Command::StorePackets {
            packets: some(),
            store: (d % 5 > 0).then_some(store.id),
        },
        _ => Command::AddStore(store),
    }
}

/// The neighbours' projects: one with letters of its own, one with ours, and a copy of ours.
fn neighbours() -> &'static [Project; 3] {
    static NEIGHBOURS: OnceLock<[Project; 3]> = OnceLock::new();
    NEIGHBOURS.get_or_init(|| {
        let all = [
            ("North Barn", "north"),
            ("Small Patch", "south"),
            ("Small Patch", "a-project"),
        ];
        all.map(|(name, id)| {
            let mut document = Document::new(Project::new(About::new(name, id)));
            let drafts = |row: &str| {
                let draft = EarDraft {
                    row: Some(row.to_owned()),
                    kernels: Some(80),
                    ..EarDraft::default()
                };
                vec![draft; 3]
            };
            let mut run = |command: Command| document.run(&command, &stamp(0)).map(drop).unwrap();
            for (season, year) in [(1, 2024), (2, 2025), (3, 2027)] {
                let season = SeasonId(season);
                run(Command::AddSeason { year, planted: None });
                if season.0 > 1 {
                    run(Command::AddRow {
                        season,
                        label: "7".to_owned(),
                        source: RowSource::Ear(EarId(3 * season.0 - 4)),
                    });
                }
                run(Command::AddEars {
                    season,
                    drafts: drafts("7"),
                    existing: Existing::Refuse,
                });
            }
            document.project().clone()
        })
    })
}

/// Bringing the line of an ear of a neighbour.
fn a_line([a, b, c, _]: [u16; 4]) -> Command {
    let there = &neighbours()[usize::from(a % 8 / 6 + a % 8 / 7)];
    let codes: Vec<EarCode> = there.ears.iter().map(|ear| ear.code).collect();
    Command::BringLine {
        line: Box::new(line_of(there, pick(&codes, b).unwrap()).unwrap()),
        kernels: (c % 3 > 0).then(|| u32::from(c % 200)),
    }
}

/// Taking over what a version has that began from this one; sometimes from one that is older than was thought.
fn a_version(project: &Project, [a, b, c, d]: [u16; 4]) -> Command {
    let here = Document::new(project.clone());
    let mut there = here.clone();
    for turn in 0..3 {
        // Seasons, rows, ears and their fields, traits, counts.
        let kind = [0, 2, 2, 5, 6, 10, 19][usize::from((a + turn) % 7)];
        let command = a_command(project, kind, [b + turn, c, d + turn, a]);
        // What is refused there is not in it.
        if there.run(&command, &stamp(3)).is_err() {
            there.close_step();
        }
    }
    let found = compare_versions(&here, there.project()).unwrap();
    let mut changes = found.changes(&vec![Side::Theirs; found.differences.len()]);
    if d % 4 == 0 {
        changes = changes.iter().map(Change::inverse).collect();
    }
    Command::TakeVersion {
        changes,
        label: format!("Take over: {}", found.summary()),
    }
}

/// Planning a field of a list; freezing one first where there is none.
fn a_plan(ids: &Ids, project: &Project, [a, b, c, d]: [u16; 4]) -> Command {
    let Some(list) = project.lists.iter().next_back() else {
        return Command::Freeze(a_list(ids, project, [a, b, c, d]));
    };
    match project.plan_of(list.id) {
        Some(plan) if a % 5 == 0 => Command::RemovePlan(plan.id),
        Some(plan) if a % 5 == 1 => Command::EditPlan(FieldPlan {
            neighbours: vec![Neighbour {
                what: ["popcorn", " "][usize::from(b % 5 == 0)].to_owned(),
                distance_m: Some(f64::from(c)),
                direction: String::new(),
                sheds_from: Some(day(c)),
                sheds_to: Some(day(d)),
                note: String::new(),
            }],
            shape: FieldShape::in_metres(),
            ..plan.clone()
        }),
        _ => Command::PlanField {
            list: if d % 9 == 0 { ListId(99_999) } else { list.id },
            shape: FieldShape {
                way: [FieldWay::Families, FieldWay::Bulk][usize::from(b % 4 == 0)],
                replicates: c % 3,
                rows_per_block: 1 + d % 5,
                bulk_every: (b % 2 == 0).then_some(2),
                detassel: [Detassel::EveryOther, Detassel::AllButBulk][usize::from(c % 2)],
                walk: [Walk::Straight, Walk::Serpentine][usize::from(d % 2)],
                ..FieldShape::in_inches()
            },
            seed: u64::from(d),
        },
    }
}

/// Something done to a row of a field; a plan where there is none.
fn a_change_of_the_field(ids: &Ids, project: &Project, [a, b, c, d]: [u16; 4]) -> Command {
    let rows: Vec<FieldRowId> = project.field_rows.iter().map(|row| row.id).collect();
    if rows.is_empty() {
        return a_plan(ids, project, [2, b, 1, d]);
    }
    match a % 4 {
        0 => Command::SwapFieldRows(pick_id(&rows, b), pick_id(&rows, c)),
        1 => Command::SetFieldRow {
            row: pick_id(&rows, b),
            content: match c % 3 {
                0 => FieldContent::Check,
                1 => FieldContent::Bulk,
                _ => FieldContent::Ear(pick_id(&ids.ears, d)),
            },
            kernels: u32::from(c % 60),
            detasselled: d % 2 == 0,
        },
        _ => {
            let field = RowField::ALL[usize::from(c) % RowField::ALL.len()];
            let text = match d % 5 {
                0 => String::new(),
                1 => day(b).to_string(),
                2 => "U".to_owned(),
                _ => (d % 12).to_string(),
            };
            let row = pick_id(&rows, b);
            Command::NoteFieldRows {
                notes: vec![FieldNote { row, field, text }],
                on: day(d),
            }
        }
    }
}

/// A refusal is a sentence that a grower can read.
fn is_a_sentence(message: &str) -> bool {
    message.split_whitespace().count() >= 5
        && (20..400).contains(&message.len())
        && message.contains([';', ':', ','])
        && !message.contains(['{', '\n', '_'])
        && !message.contains("000000000")
}

struct Session {
    document: Document,
    start: Project,
    events: Vec<Event>,
    /// The project as it was saved last, and the events until then.
    saved: Option<(Project, usize)>,
}

impl Session {
    fn step(&mut self, number: usize, (kind, numbers): Op, seen: &RefCell<BTreeMap<u8, [u32; 2]>>) {
        let stamp = stamp(number);
        let document = &mut self.document;
        let (before, revisions) = (text(document.project()), *document.revisions());
        let trays = trays(document);
        let result = match kind {
            KINDS => document.undo(&stamp).map(|done| done.is_some()),
            REDO => document.redo(&stamp).map(|done| done.is_some()),
            CLOSE => {
                document.close_step();
                return;
            }
            SAVE => {
                let snapshot = document.snapshot();
                document.mark_saved(&snapshot, document.unsaved_events());
                assert_eq!(document.unsaved_events(), 0);
                self.saved = Some((Project::clone(&snapshot), self.events.len()));
                return;
            }
            _ => {
                let command = a_command(document.project(), kind, numbers);
                document.run(&command, &stamp).map(|_| true)
            }
        };
        *seen
            .borrow_mut()
            .entry(kind)
            .or_default()
            .get_mut(usize::from(result.is_err()))
            .unwrap() += 1;
        match result {
            Ok(_) => {}
            Err(problem) => {
                let message = problem.to_string();
                assert!(is_a_sentence(&message), "{message}");
                assert_eq!(text(document.project()), before, "after {message}");
                assert_eq!(*document.revisions(), revisions);
            }
        }
        assert_eq!(document.project().validate(), []);
        let after = text(document.project());
        assert!(after == before || *document.revisions() != revisions);
        // A tray whose revision did not change has the same cells and counts.
        for (tray, (revision, content)) in self::trays(document) {
            let (then, before) = trays.get(&tray).cloned().unwrap_or_default();
            assert!(
                revision >= then && (revision > then || content == before),
                "{tray}"
            );
        }
        assert_eq!(&format::read(after.as_bytes()).unwrap(), document.project());
        self.events.extend(document.take_events());
    }

    fn finish(mut self) {
        let package = data_package::write(self.document.project()).unwrap();
        assert_eq!(&data_package::read(&package).unwrap(), self.document.project());
        let end = text(self.document.project());
        let labels = undo_labels(self.document.clone());
        // Through RON and back, on the project as it was at the start.
        let written: Vec<String> = self
            .events
            .iter()
            .map(|event| ron::to_string(event).unwrap())
            .collect();
        let read: Vec<Event> = written.iter().map(|line| ron::from_str(line).unwrap()).collect();
        assert_eq!(read, self.events);
        if self.saved.is_none() {
            let mut replayed = Document::new(self.start.clone());
            for event in read.clone() {
                replayed.replay(event).unwrap();
            }
            assert_eq!(replayed.project(), self.document.project());
            assert_eq!(replayed.unsaved_events(), self.document.unsaved_events());
            assert_eq!(replayed.take_events(), []);
            assert_eq!(undo_labels(replayed), labels);
        }
        // From the file that was saved last, with its history.
        if let Some((saved, until)) = self.saved.take() {
            let mut reopened = Document::with_history(saved, read[..until].to_vec());
            for event in read[until..].iter().cloned() {
                reopened.replay(event).unwrap();
            }
            assert_eq!(reopened.project(), self.document.project());
            assert_eq!(undo_labels(reopened), labels);
        }
        // Nothing is left of what was done, as far as undo reaches.
        let mut steps = 0;
        let stopped = loop {
            match self.document.undo(&stamp(0)) {
                Ok(Some(_)) => steps += 1,
                Ok(None) => break false,
                Err(problem) => {
                    assert!(matches!(problem.fault, Fault::Frozen(_)), "{problem}");
                    break true;
                }
            }
            assert_eq!(self.document.project().validate(), []);
        };
        if !stopped {
            assert_eq!(text(self.document.project()), text(&self.start));
            assert_eq!(self.document.project(), &self.start);
        }
        for _ in 0..steps {
            assert!(self.document.redo(&stamp(0)).unwrap().is_some());
        }
        assert_eq!(text(self.document.project()), end);
    }
}

/// The names of all steps that undo can take back, and how it ends.
fn undo_labels(mut document: Document) -> Vec<String> {
    let mut labels = Vec::new();
    loop {
        labels.extend(document.undo_label().map(str::to_owned));
        match document.undo(&stamp(0)) {
            Ok(Some(_)) => {}
            Ok(None) => return labels,
            Err(problem) => {
                labels.push(problem.to_string());
                return labels;
            }
        }
    }
}

fn prepared() -> Project {
    let mut document = Document::new(Project::new(About::new("Small Patch", "a-project")));
    let season = SeasonId(1);
    let drafts = (0..8)
        .map(|ear| EarDraft {
            row: Some((ear / 3 + 1).to_string()),
            kernels: Some(120),
            ..EarDraft::default()
        })
        .collect();
    for command in [
        Command::AddSeason {
            year: 2025,
            planted: Some(date(2025, 5, 3)),
        },
        Command::AddTrait(a_trait(0, 0)),
        Command::AddEars {
            season,
            drafts,
            existing: Existing::Refuse,
        },
        Command::DesignTest(TestDesign {
            season,
            replaces: None,
            name: "Cold".to_owned(),
            plan: TrayPlan::default(),
            recipe: Recipe::default(),
            check_lot: String::new(),
            seed: 1,
            ears: None,
        }),
    ] {
        document.run(&command, &stamp(0)).unwrap();
    }
    document.project().clone()
}

#[test]
fn any_sequence_of_commands_is_sound_undone_without_a_trace_and_replayed() {
    let config = ProptestConfig {
        // So many that the rarest kind of command is taken about 75 times, far above what is asked below.
        cases: 768,
        failure_persistence: None,
        ..ProptestConfig::default()
    };
    let ops = prop::collection::vec((0..KINDS + 4, prop::array::uniform4(0..60_000u16)), 1..45);
    let seen = RefCell::new(BTreeMap::new());
    TestRunner::new(config)
        .run(&(any::<bool>(), ops), |(is_empty, ops)| {
            let start = if is_empty {
                Project::new(About::new("Small Patch", "a-project"))
            } else {
                prepared()
            };
            let mut session = Session {
                document: Document::new(start.clone()),
                start,
                events: Vec::new(),
                saved: None,
            };
            for (number, op) in ops.into_iter().enumerate() {
                session.step(number, op, &seen);
            }
            session.finish();
            Ok(())
        })
        .unwrap();
    // The sequences are worth something only when every kind of command was taken, and nearly every refused.
    let seen = seen.into_inner();
    println!("{seen:?}");
    for (kind, [taken, refused]) in &seen {
        assert!(*taken > 20, "kind {kind} was taken {taken} times only");
        assert!(
            *refused > 0 || [23, KINDS, REDO].contains(kind),
            "kind {kind} was never refused"
        );
    }
    assert_eq!(seen.len(), usize::from(KINDS) + 2);
}
