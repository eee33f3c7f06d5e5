//! Tests in trays of several sizes, with aisles, with cells anywhere, and dried in batches.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::{Date, date};
use wintercrib::model::*;

const SEASON: SeasonId = SeasonId(1);
const TEST: TestId = TestId(1);
const DAY: Date = date(2026, 1, 12);

fn stamp() -> Stamp {
    Stamp {
        at: DAY.at(19, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

/// Trays of 4 rows of 5 cells of 5 cm with aisles of 6 mm, and before these two of 3 by 4 and one of 2 by 3.
fn plan() -> TrayPlan {
    let other = |name: &str, columns: f64, rows: f64, trays| OtherContainer {
        name: name.to_owned(),
        width_mm: columns * 50.0 + (columns - 1.0) * 6.0,
        height_mm: rows * 50.0 + (rows - 1.0) * 6.0,
        margin_mm: 0.0,
        trays,
    };
    TrayPlan {
        width_mm: 5.0 * 50.0 + 4.0 * 6.0 + 20.0,
        height_mm: 4.0 * 50.0 + 3.0 * 6.0 + 20.0,
        margin_mm: 10.0,
        cell_width_mm: 50.0,
        cell_height_mm: 50.0,
        aisle_mm: 6.0,
        checks: 1,
        landmarks: 1,
        others: vec![other("Bread pan", 4.0, 3.0, 2), other("", 3.0, 2.0, 1)],
        ..TrayPlan::default()
    }
}

fn design(plan: TrayPlan) -> TestDesign {
    TestDesign {
        season: SEASON,
        replaces: None,
        name: "Cold".to_owned(),
        plan,
        recipe: Recipe::default(),
        check_lot: "Check lot 1".to_owned(),
        seed: 5,
        ears: None,
    }
}

/// So many ears with 60 kernels each, of 4 mother rows, dried in the batch that is said of each.
fn season(ears: u32, batch: impl Fn(u32) -> String) -> Document {
    let mut document = Document::new(Project::new(About::new("Small Patch", "a-project")));
    run(
        &mut document,
        &Command::AddSeason {
            year: 2025,
            planted: None,
        },
    );
    add_ears(&mut document, ears, batch);
    document
}

fn add_ears(document: &mut Document, ears: u32, batch: impl Fn(u32) -> String) {
    let drafts = (0..ears).map(|ear| EarDraft {
        row: Some((ear % 4).to_string()),
        kernels: Some(60),
        batch: Some(batch(ear)),
        ..EarDraft::default()
    });
    let drafts = drafts.collect();
    run(
        document,
        &Command::AddEars {
            season: SEASON,
            drafts,
            existing: Existing::Refuse,
        },
    );
}

fn run(document: &mut Document, command: &Command) {
    document.run(command, &stamp()).unwrap();
    assert_eq!(document.project().validate(), []);
}

fn refusal(document: &mut Document, command: &Command) -> String {
    document.run(command, &stamp()).unwrap_err().to_string()
}

fn ears_in(project: &Project, tray: TrayId) -> Vec<EarId> {
    let ear = |cell: &Cell| match cell.content {
        CellContent::Ear(ear) => Some(ear),
        _ => None,
    };
    project.cells_of(tray).filter_map(ear).collect()
}

/// Of each tray its container, replicate, rows, columns and ears.
fn trays(project: &Project) -> Vec<(u16, u16, (u16, u16), usize)> {
    project
        .trays_of(TEST)
        .map(|tray| {
            let ears = ears_in(project, tray.id).len();
            (tray.container, tray.replicate, (tray.rows, tray.columns), ears)
        })
        .collect()
}

#[test]
fn an_aisle_takes_cells() {
    let grid = |aisle_mm| {
        let grid = grid_of(&TrayPlan { aisle_mm, ..plan() }).unwrap();
        (grid.rows(), grid.columns())
    };
    assert_eq!(grid(6.0), (4, 5));
    assert_eq!(grid(6.5), (3, 4));
    assert_eq!(grid(0.0), (4, 5));
}

#[test]
fn trays_of_other_sizes_come_first_and_are_recorded_with_their_own_grid() {
    let mut document = season(40, |_| String::new());
    run(
        &mut document,
        &Command::DesignTest(design(TrayPlan {
            replicates: 2,
            ..plan()
        })),
    );
    // Room for 10, 10, 4 and 18: the first replicate takes all of the others, the second only the plan's own. 40 ears in
    // room for 42 are 9 or 10, 3 or 4, and 17 or 18.
    let found = trays(document.project());
    let kinds: Vec<_> = found.iter().map(|tray| (tray.0, tray.1, tray.2)).collect();
    let own = (4, 5);
    let [first, second] = [(3, 4), (2, 3)];
    assert_eq!(
        kinds,
        [
            (1, 1, first),
            (1, 1, first),
            (2, 1, second),
            (0, 1, own),
            (0, 2, own),
            (0, 2, own),
            (0, 2, own)
        ]
    );
    for (tray, least) in found.iter().zip([9, 9, 3, 17, 13, 13, 13]) {
        assert!([least, least + 1].contains(&tray.3), "{found:?}");
    }
    for ear in document.project().ears.iter() {
        let cells: Vec<&Cell> = document.project().cells_of_ear(ear.id).collect();
        let replicate = |cell: &&Cell| document.project().trays.get(cell.tray).unwrap().replicate;
        assert_eq!(cells.iter().map(replicate).collect::<BTreeSet<_>>().len(), 2);
    }
    assert_eq!(trays_needed(&plan(), 40), Ok(4));
}

#[test]
fn a_container_that_holds_no_cell_is_named() {
    let mut document = season(40, |_| String::new());
    let mut small = plan();
    small.others[1].width_mm = 30.0;
    let said = refusal(&mut document, &Command::DesignTest(design(small)));
    assert!(said.contains("Other size 2: no whole cell of 50 mm"), "{said}");
    let mut full = plan();
    full.landmarks = 5;
    let said = refusal(&mut document, &Command::DesignTest(design(full)));
    assert!(
        said.contains("a tray of 6 cells has no room for one ear"),
        "{said}"
    );
}

#[test]
fn cells_anywhere_share_trays_and_late_ears_do_so_too() {
    let anywhere = TrayPlan {
        spread: Spread::Anywhere,
        replicates: 2,
        ..plan()
    };
    let mut document = season(29, |_| String::new());
    run(&mut document, &Command::DesignTest(design(anywhere.clone())));
    // 58 cells in room for 10, 10, 4, 18 and 18.
    let found = trays(document.project());
    assert_eq!(
        found.iter().map(|tray| tray.0).collect::<Vec<_>>(),
        [1, 1, 2, 0, 0]
    );
    assert!(found.iter().all(|tray| tray.1 == 1));
    assert_eq!(found.iter().map(|tray| tray.3).sum::<usize>(), 58);

    add_ears(&mut document, 1, |_| String::new());
    let late = document.project().ears.iter().last().unwrap().id;
    let before: BTreeMap<CellId, CellContent> = document
        .project()
        .cells_of_test(TEST)
        .map(|cell| (cell.id, cell.content))
        .collect();
    run(
        &mut document,
        &Command::AddToTest {
            test: TEST,
            ears: vec![late],
            laid_on: None,
        },
    );
    for ear in document.project().ears.iter() {
        let cells = document.project().cells_of_ear(ear.id);
        let in_trays: BTreeSet<TrayId> = cells.map(|cell| cell.tray).collect();
        assert_eq!(in_trays.len(), 2, "ear {}", ear.number);
    }
    let moved = document
        .project()
        .cells_of_test(TEST)
        .filter(|cell| before[&cell.id] != cell.content);
    assert_eq!(moved.count(), 2, "nothing but two spare cells has changed");

    let few = TrayPlan {
        others: Vec::new(),
        replicates: 4,
        ..anywhere
    };
    let mut document = season(8, |_| String::new());
    let said = refusal(&mut document, &Command::DesignTest(design(few)));
    assert!(
        said.contains(
            "all cells fit into 2 trays, but the 4 cells of an ear must lie in as many different trays"
        ),
        "{said}"
    );
}

#[test]
fn drying_batches_are_spread_over_the_trays() {
    let one_size = TrayPlan {
        others: Vec::new(),
        ..plan()
    };
    let layout = |batch: &dyn Fn(u32) -> String| {
        let mut document = season(72, batch);
        run(&mut document, &Command::DesignTest(design(one_size.clone())));
        document
    };
    let contents = |document: &Document| -> Vec<CellContent> {
        document
            .project()
            .cells_of_test(TEST)
            .map(|cell| cell.content)
            .collect()
    };
    let none = layout(&|_| String::new());
    assert_eq!(
        contents(&layout(&|_| "kiln".to_owned())),
        contents(&none),
        "one batch is like none"
    );
    let document = layout(&|ear| format!("batch {}", ear * 7 % 72 / 18));
    assert_ne!(contents(&document), contents(&none));
    for tray in document.project().trays_of(TEST) {
        let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
        for ear in ears_in(document.project(), tray.id) {
            let ear = document.project().ears.get(ear).unwrap();
            *counts.entry(ear.batch.as_str()).or_default() += 1;
        }
        // 18 of each of four batches in four trays.
        assert_eq!(counts.len(), 4);
        assert!(counts.values().all(|count| [4, 5].contains(count)), "{counts:?}");
    }
}

#[test]
fn a_late_ear_goes_where_its_batch_is_rarest_among_trays_with_as_few_of_its_row() {
    // 32 ears of 4 rows in two trays of 18: 4 of each row in each, and two spare cells in each.
    let one_size = TrayPlan {
        others: Vec::new(),
        ..plan()
    };
    let mut document = season(32, |ear| {
        if ear < 9 {
            "first".to_owned()
        } else {
            "second".to_owned()
        }
    });
    run(&mut document, &Command::DesignTest(design(one_size)));
    let in_tray = |document: &Document, number: usize| -> usize {
        let tray = document.project().trays_of(TEST).nth(number).unwrap().id;
        let ears = ears_in(document.project(), tray);
        let is_first = |ear: &&EarId| document.project().ears.get(**ear).unwrap().batch == "first";
        ears.iter().filter(is_first).count()
    };
    // 9 of the first batch are 4 and 5.
    let rare = usize::from(in_tray(&document, 0) > in_tray(&document, 1));
    assert_eq!(in_tray(&document, rare), 4);
    add_ears(&mut document, 1, |_| "first".to_owned());
    let late = document.project().ears.iter().last().unwrap().id;
    run(
        &mut document,
        &Command::AddToTest {
            test: TEST,
            ears: vec![late],
            laid_on: None,
        },
    );
    assert_eq!(in_tray(&document, rare), 5);
}
