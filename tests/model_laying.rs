//! Laying cell by cell, late ears, and repairs of what lies or was read in the wrong place.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::{Date, date};
use wintercrib::model::*;

const SEASON: SeasonId = SeasonId(1);
const TEST: TestId = TestId(1);
const LAID: Date = date(2026, 1, 12);

fn stamp() -> Stamp {
    Stamp {
        at: LAID.at(19, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

struct Bench(Document);

impl Bench {
    /// So many ears with 60 kernels each, in trays of 3 rows of 4 with one landmark and one check.
    fn new(ears: usize, replicates: u16) -> Self {
        let mut bench = Self(Document::new(Project::new(About::new(
            "Small Patch",
            "a-project",
        ))));
        bench.run(&Command::AddSeason {
            year: 2025,
            planted: None,
        });
        bench.add_ears(ears);
        bench.run(&Command::DesignTest(TestDesign {
            season: SEASON,
            replaces: None,
            name: "Cold".to_owned(),
            plan: TrayPlan {
                width_mm: 200.0,
                height_mm: 150.0,
                cell_width_mm: 50.0,
                cell_height_mm: 50.0,
                replicates,
                checks: 1,
                landmarks: 1,
                ..TrayPlan::default()
            },
            recipe: Recipe::default(),
            check_lot: "Check lot 1".to_owned(),
            seed: 5,
            ears: None,
        }));
        bench
    }

    fn add_ears(&mut self, ears: usize) {
        let drafts = (0..ears)
            .map(|ear| EarDraft {
                row: Some((ear % 3).to_string()),
                kernels: Some(60),
                ..EarDraft::default()
            })
            .collect();
        self.run(&Command::AddEars {
            season: SEASON,
            drafts,
            existing: Existing::Refuse,
        });
    }

    fn run(&mut self, command: &Command) {
        self.0.run(command, &stamp()).unwrap();
    }

    fn refusal(&mut self, command: &Command) -> String {
        self.0.run(command, &stamp()).unwrap_err().to_string()
    }

    fn project(&self) -> &Project {
        self.0.project()
    }

    fn counted(&self) -> Vec<Cell> {
        let cells = self.project().cells_of_test(TEST);
        cells.filter(|cell| cell.content.is_counted()).cloned().collect()
    }

    fn lay(&mut self) {
        self.run(&Command::LayTest {
            test: TEST,
            trays: Vec::new(),
            on: LAID,
        });
    }

    /// Counts every cell: as many strong ones as its place in the order of reading, from 0, over 11.
    fn count(&mut self, pass: Pass) {
        let counts = (0..)
            .zip(self.counted())
            .map(|(place, cell)| {
                let strong = place % 11;
                let dead = self.project().sown(&cell) - strong;
                let tally = Tally {
                    strong,
                    dead,
                    ..Tally::default()
                };
                Seen::new(cell.id, pass, tally)
            })
            .collect();
        self.run(&Command::RecordCounts {
            counts,
            on: None,
            by: String::new(),
        });
    }

    fn strong(&self, pass: Pass) -> Vec<Option<u16>> {
        let strong = |cell: &Cell| Some(self.project().count_in_force(cell.id, pass)?.tally.strong);
        self.counted().iter().map(strong).collect()
    }

    fn kernels(&self) -> Vec<Option<i64>> {
        let ears = self.project().ears.iter();
        ears.map(|ear| self.project().kernels_of(ear.id)).collect()
    }

    fn repair(&mut self, moved: Moved, kind: RepairKind) {
        self.run(&Command::Repair(Repair { moved, kind }));
        assert_eq!(self.project().validate(), []);
    }
}

/// A shift from a cell to the end of its row: whether to the next cell, and whether round.
fn row_shift(from: CellId, [to_next, round]: [bool; 2]) -> RepairKind {
    RepairKind::Shift {
        from,
        to_next,
        end: ShiftEnd::Row,
        round,
    }
}

#[test]
fn cells_are_laid_one_by_one_and_the_last_one_lays_the_test() {
    let mut bench = Bench::new(9, 1);
    let cells = bench.counted();
    let start = bench.project().clone();
    for (place, cell) in cells.iter().enumerate() {
        let on = if place < 5 { LAID } else { date(2026, 1, 13) };
        bench.run(&Command::LayCells {
            cells: vec![(cell.id, 10)],
            on,
        });
        assert_eq!(
            bench.project().tests.get(TEST).unwrap().laid.is_some(),
            place + 1 == cells.len()
        );
        assert!(bench.project().is_begun(TEST));
    }
    assert_eq!(bench.kernels(), vec![Some(50); 9]);
    let tray = bench.project().trays_of(TEST).next().unwrap().id;
    assert_eq!(
        bench.project().tray_laid_on(tray),
        Some(date(2026, 1, 13)),
        "the day of its last cell"
    );
    let twice = Command::LayCells {
        cells: vec![(cells[0].id, 10)],
        on: LAID,
    };
    assert!(bench.refusal(&twice).contains("was laid on 2026-01-12 already"));
    let empty = bench
        .project()
        .cells
        .iter()
        .find(|cell| !cell.content.is_counted())
        .unwrap()
        .id;
    assert!(
        bench
            .refusal(&Command::LayCells {
                cells: vec![(empty, 10)],
                on: LAID
            })
            .contains("nothing to count")
    );

    // What was taken up is back in the packet, and the test is not laid as a whole any more.
    let ear_cell = cells
        .iter()
        .find(|cell| matches!(cell.content, CellContent::Ear(_)))
        .unwrap();
    bench.run(&Command::TakeUpCells(vec![ear_cell.id]));
    assert_eq!(
        bench
            .kernels()
            .iter()
            .filter(|kernels| **kernels == Some(60))
            .count(),
        1
    );
    assert_eq!(bench.project().tests.get(TEST).unwrap().laid, None);
    assert_eq!(bench.project().tray_laid_on(tray), None);
    assert_eq!(
        bench
            .counted()
            .iter()
            .filter(|cell| bench.project().laid_on(cell).is_some())
            .count(),
        9
    );
    while bench
        .0
        .undo(&stamp())
        .unwrap()
        .is_some_and(|done| !done.label.starts_with("Design"))
    {}
    assert_eq!(
        bench.project().cells.len(),
        0,
        "everything back to before the design"
    );
    assert_eq!(start.validate(), []);
}

#[test]
fn a_cell_taken_up_from_a_test_laid_in_one_step_leaves_the_others_laid() {
    let mut bench = Bench::new(9, 1);
    bench.lay();
    let cell = bench.counted()[3].clone();
    bench.run(&Command::TakeUpCells(vec![cell.id]));
    for other in bench.counted() {
        assert_eq!(bench.project().laid_on(&other).is_none(), other.id == cell.id);
    }
    bench.run(&Command::LayTest {
        test: TEST,
        trays: Vec::new(),
        on: date(2026, 1, 14),
    });
    assert_eq!(bench.kernels(), vec![Some(50); 9]);
    bench.count(Pass::Final);
    assert!(
        bench
            .refusal(&Command::TakeUpCells(vec![cell.id]))
            .contains("was counted")
    );
}

#[test]
fn late_ears_take_spare_cells_and_nothing_else_moves() {
    let mut bench = Bench::new(16, 1);
    let before = bench.counted();
    bench.add_ears(3);
    let late: Vec<EarId> = bench.project().ears.iter().skip(16).map(|ear| ear.id).collect();
    bench.run(&Command::AddToTest {
        test: TEST,
        ears: late.clone(),
        laid_on: None,
    });
    let after = bench.counted();
    assert!(
        before.iter().all(|cell| after.contains(cell)),
        "nothing has moved"
    );
    assert_eq!(after.len(), before.len() + 3);
    // The three late ears are of three mother rows and go to the trays that hold the fewest of them.
    for ear in &late {
        assert_eq!(bench.project().cells_of_ear(*ear).count(), 1);
    }
    let again = Command::AddToTest {
        test: TEST,
        ears: late.clone(),
        laid_on: None,
    };
    assert!(bench.refusal(&again).contains("is in this test already"));
    bench.add_ears(2);
    let more: Vec<EarId> = bench.project().ears.iter().skip(19).map(|ear| ear.id).collect();
    let refusal = bench.refusal(&Command::AddToTest {
        test: TEST,
        ears: more.clone(),
        laid_on: None,
    });
    assert!(refusal.contains("2 cells of late ears are needed"), "{refusal}");
    bench.lay();
    let one = Command::AddToTest {
        test: TEST,
        ears: vec![more[0]],
        laid_on: None,
    };
    assert!(bench.refusal(&one).contains("say on which day"));
    let on = Some(date(2026, 1, 13));
    bench.run(&Command::AddToTest {
        test: TEST,
        ears: vec![more[0]],
        laid_on: on,
    });
    assert_eq!(bench.project().kernels_of(more[0]), Some(50));
    let cell = bench.project().cells_of_ear(more[0]).next().unwrap();
    assert_eq!(bench.project().laid_on(cell), on);
}

#[test]
fn late_ears_of_a_test_with_replicates_lie_once_in_each() {
    let mut bench = Bench::new(7, 2);
    bench.add_ears(1);
    let late = bench.project().ears.iter().last().unwrap().id;
    bench.run(&Command::AddToTest {
        test: TEST,
        ears: vec![late],
        laid_on: None,
    });
    let replicates: Vec<u16> = bench
        .project()
        .cells_of_ear(late)
        .map(|cell| bench.project().trays.get(cell.tray).unwrap().replicate)
        .collect();
    assert_eq!(replicates.len(), 2);
    assert_ne!(replicates[0], replicates[1]);
}

#[test]
fn a_shift_of_a_row_goes_over_the_cells_that_hold_something() {
    let mut bench = Bench::new(9, 1);
    bench.lay();
    bench.count(Pass::Early);
    bench.count(Pass::Final);
    let cells = bench.counted();
    let row: Vec<usize> = (0..cells.len()).filter(|at| cells[*at].row == 2).collect();
    let before = bench.strong(Pass::Final);
    let own: Vec<Option<u16>> = row.iter().map(|at| before[*at]).collect();

    bench.repair(
        Moved::Counts(Pass::Final),
        row_shift(cells[row[0]].id, [true, true]),
    );
    let after = bench.strong(Pass::Final);
    let mut round = own.clone();
    round.rotate_right(1);
    assert_eq!(row.iter().map(|at| after[*at]).collect::<Vec<_>>(), round);
    assert_eq!(bench.strong(Pass::Early), before, "the early counts stay");
    let elsewhere = (0..cells.len()).filter(|at| !row.contains(at));
    elsewhere.for_each(|at| assert_eq!(after[at], before[at]));

    // Back again: the counts are what they were, and all that ever stood there can still be read.
    bench.repair(
        Moved::Counts(Pass::Final),
        row_shift(cells[row[0]].id, [false, true]),
    );
    assert_eq!(bench.strong(Pass::Final), before);
    assert_eq!(
        bench
            .project()
            .counts_of(cells[row[0]].id)
            .filter(|count| count.pass == Pass::Final)
            .count(),
        3
    );

    // Without going round, the cell left over has no count, and that of the last one is withdrawn.
    bench.repair(
        Moved::Counts(Pass::Final),
        row_shift(cells[row[1]].id, [true, false]),
    );
    let open = bench.strong(Pass::Final);
    assert_eq!(open[row[0]], own[0]);
    assert_eq!(open[row[1]], None);
    for (at, before) in row[2..].iter().zip(&own[1..]) {
        assert_eq!(open[*at], *before);
    }
    assert!(!bench.project().counts_of(cells[row[1]].id).any(|count| {
        count.pass == Pass::Final && !count.void && !bench.project().is_corrected(count.id)
    }));
    // It can be counted anew.
    let tally = Tally {
        strong: 7,
        dead: 3,
        ..Tally::default()
    };
    let seen = vec![Seen::new(cells[row[1]].id, Pass::Final, tally)];
    bench.run(&Command::RecordCounts {
        counts: seen,
        on: None,
        by: String::new(),
    });
    assert_eq!(bench.strong(Pass::Final)[row[1]], Some(7));
}

#[test]
fn a_repair_is_one_step_that_is_undone_without_a_trace() {
    let mut bench = Bench::new(9, 1);
    bench.lay();
    bench.count(Pass::Final);
    let tray = bench.project().trays_of(TEST).next().unwrap().id;
    let cells = bench.counted();
    for (moved, kind) in [
        (Moved::Counts(Pass::Final), RepairKind::Turn(tray)),
        (Moved::Counts(Pass::Final), RepairKind::MirrorColumns(tray)),
        (Moved::Counts(Pass::Final), RepairKind::MirrorRows(tray)),
        (
            Moved::Counts(Pass::Final),
            RepairKind::SwapCells(cells[0].id, cells[5].id),
        ),
        (Moved::Laid, RepairKind::SwapCells(cells[1].id, cells[5].id)),
        (Moved::Laid, RepairKind::Turn(tray)),
        (Moved::Laid, row_shift(cells[0].id, [true, true])),
    ] {
        let before = bench.project().clone();
        bench.repair(moved, kind);
        assert_ne!(bench.project(), &before, "{kind:?}");
        assert_eq!(bench.kernels(), vec![Some(50); 9], "{kind:?}");
        bench.0.undo(&stamp()).unwrap();
        assert_eq!(bench.project(), &before);
    }
}

#[test]
fn a_turned_tray_gives_each_cell_what_was_read_across_from_it() {
    let mut bench = Bench::new(10, 1);
    bench.lay();
    bench.count(Pass::Final);
    let tray = bench.project().trays_of(TEST).next().unwrap().clone();
    let before = bench.project().clone();
    bench.repair(Moved::Counts(Pass::Final), RepairKind::Turn(tray.id));
    for cell in bench.counted() {
        let across = before
            .cell_at(tray.id, tray.rows + 1 - cell.row, tray.columns + 1 - cell.column)
            .unwrap();
        let read = before
            .count_in_force(across.id, Pass::Final)
            .map(|count| count.tally);
        let now = bench
            .project()
            .count_in_force(cell.id, Pass::Final)
            .map(|count| count.tally);
        assert_eq!(now, read, "{}", cell.name());
    }
    let lost = bench
        .strong(Pass::Final)
        .iter()
        .filter(|count| count.is_none())
        .count();
    assert!(lost > 0, "the cell across from the landmark was never read");
}

#[test]
fn a_tray_that_was_laid_turned_moves_the_ears_and_keeps_the_ledgers_true() {
    let mut bench = Bench::new(9, 1);
    bench.lay();
    bench.count(Pass::Final);
    let cells = bench.counted();
    let eleven = cells
        .iter()
        .find(|cell| matches!(cell.content, CellContent::Ear(_)))
        .unwrap()
        .clone();
    bench.run(&Command::SetLaid {
        cell: eleven.id,
        kernels: Some(11),
    });
    let CellContent::Ear(before) = eleven.content else {
        unreachable!()
    };
    assert_eq!(bench.project().kernels_of(before), Some(49));
    let other = cells
        .iter()
        .rfind(|cell| matches!(cell.content, CellContent::Ear(_)))
        .unwrap()
        .clone();
    let CellContent::Ear(after) = other.content else {
        unreachable!()
    };
    bench.repair(Moved::Laid, RepairKind::SwapCells(eleven.id, other.id));
    // Eleven kernels were counted in that cell, so it is the other ear that gave eleven.
    assert_eq!(bench.project().kernels_of(before), Some(50));
    assert_eq!(bench.project().kernels_of(after), Some(49));
    let tray = bench.project().trays_of(TEST).next().unwrap().id;
    bench.repair(Moved::Laid, RepairKind::Turn(tray));
    let landmarks = |bench: &Bench| {
        let cells = bench.project().cells.iter();
        cells
            .filter(|cell| cell.content == CellContent::Landmark)
            .map(Cell::name)
            .collect::<Vec<_>>()
    };
    assert_eq!(landmarks(&bench).len(), 1);
    for cell in bench
        .project()
        .cells
        .iter()
        .filter(|cell| !cell.content.is_counted())
    {
        assert!(
            !bench.project().is_counted(cell.id),
            "what was read there is withdrawn"
        );
    }
}

#[test]
fn two_trays_change_places_when_they_are_alike() {
    let mut bench = Bench::new(16, 1);
    bench.lay();
    bench.count(Pass::Final);
    let trays: Vec<TrayId> = bench.project().trays_of(TEST).map(|tray| tray.id).collect();
    let content = |bench: &Bench, tray| -> Vec<CellContent> {
        bench.project().cells_of(tray).map(|cell| cell.content).collect()
    };
    let (one, two) = (content(&bench, trays[0]), content(&bench, trays[1]));
    bench.repair(Moved::Laid, RepairKind::SwapTrays(trays[0], trays[1]));
    assert_eq!(content(&bench, trays[0]), two);
    assert_eq!(content(&bench, trays[1]), one);
    let same = Command::Repair(Repair {
        moved: Moved::Laid,
        kind: RepairKind::SwapTrays(trays[0], trays[0]),
    });
    assert!(bench.refusal(&same).contains("choose another tray"));
}

#[test]
fn what_does_not_fit_is_refused_with_a_sentence() {
    let mut bench = Bench::new(9, 1);
    let cells = bench.counted();
    let last = cells.last().unwrap().id;
    let shift = Repair {
        moved: Moved::Counts(Pass::Final),
        kind: row_shift(last, [true, true]),
    };
    assert!(
        bench
            .refusal(&Command::Repair(shift))
            .contains("begin further ahead")
    );
    let nothing = Repair {
        moved: Moved::Counts(Pass::Final),
        kind: row_shift(cells[0].id, [true, true]),
    };
    assert!(
        bench
            .refusal(&Command::Repair(nothing))
            .contains("no final counts that differ")
    );
    bench.run(&Command::SetLaid {
        cell: cells[0].id,
        kernels: Some(11),
    });
    bench.lay();
    bench.count(Pass::Final);
    let over = Repair {
        moved: Moved::Counts(Pass::Final),
        kind: RepairKind::SwapCells(cells[0].id, cells[4].id),
    };
    assert!(
        bench
            .refusal(&Command::Repair(over))
            .contains("11 kernels were counted, but only 10 were laid")
    );
    let gone = Repair {
        moved: Moved::Laid,
        kind: RepairKind::Turn(TrayId(99)),
    };
    assert!(bench.refusal(&Command::Repair(gone)).contains("does not exist"));
}
