//! Trays of several sizes in the form, and changes of a layout by hand, driven by label and key, and looked at.

mod common;
mod tray_sample;

use common::{fill, press, says};
use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::civil::date;
use tray_sample::{LOOKS, harvest, stamp, window};
use wintercrib::insight::Insight;
use wintercrib::model::{
    CellContent, CellId, Command, Document, EarDraft, EarId, Existing, Moved, Pass, Project, Recipe, Repair,
    RepairKind, SeasonId, Seen, Spread, Tally, TestDesign, TestId, TrayId, TrayPlan,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

const TEST: TestId = TestId(1);

fn run(document: &mut Document, command: &Command) {
    document.run(command, &stamp()).expect("the sample is sound");
}

fn design(document: &mut Document, plan: TrayPlan) {
    let design = TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Cold".to_owned(),
        plan,
        recipe: Recipe::default(),
        check_lot: String::new(),
        seed: 5,
        ears: None,
    };
    run(document, &Command::DesignTest(design));
}

/// So many ears in a test that is designed, and some more that came later.
fn with_late(ears: u32, late: u32) -> Document {
    let mut document = harvest(ears);
    design(&mut document, TrayPlan::default());
    let draft = EarDraft {
        kernels: Some(60),
        ..EarDraft::default()
    };
    let drafts = vec![draft; late as usize];
    let (season, existing) = (SeasonId(1), Existing::Refuse);
    if late > 0 {
        run(
            &mut document,
            &Command::AddEars {
                season,
                drafts,
                existing,
            },
        );
    }
    document
}

fn lay(document: &mut Document) {
    let (trays, on) = (Vec::new(), date(2026, 11, 28));
    run(
        document,
        &Command::LayTest {
            test: TEST,
            trays,
            on,
        },
    );
}

fn open(document: Document) -> Harness<'static, App> {
    window(document, Pane::Trays, Theme::Light, [1280.0, 800.0], 1.0)
}

fn project<'a>(harness: &'a Harness<'_, App>) -> &'a Project {
    harness.state().document().project()
}

/// Focuses the trays and presses keys there, one a frame.
fn keys(harness: &mut Harness<'_, App>, keys: &[Key]) {
    harness.get_by_role_and_label(Role::Grid, "Trays").focus();
    harness.run();
    for key in keys {
        harness.key_press(*key);
        harness.run();
    }
}

fn layout(project: &Project) -> Vec<(CellId, CellContent)> {
    let cells = project.cells_of_test(TEST);
    cells.map(|cell| (cell.id, cell.content)).collect()
}

fn ear_at(project: &Project, tray: u32, row: u16, column: u16) -> Option<u32> {
    match project.cell_at(TrayId(tray), row, column)?.content {
        CellContent::Ear(ear) => project.ears.get(ear).map(|ear| ear.number),
        _ => None,
    }
}

// ---- by hand -----------------------------------------------------------------------------------------------

#[test]
fn two_cells_change_places_by_the_keyboard_alone_and_undo_takes_it_back() {
    let mut harness = open(with_late(50, 0));
    let before = layout(project(&harness));
    let (one, other) = (
        ear_at(project(&harness), 1, 1, 2).unwrap(),
        ear_at(project(&harness), 2, 3, 4).unwrap(),
    );
    keys(&mut harness, &[Key::ArrowRight, Key::S]);
    assert!(says(
        &harness,
        "Tray 1 A2 is picked: choose the cell to swap it with."
    ));
    let (down, right) = (Key::ArrowDown, Key::ArrowRight);
    keys(&mut harness, &[Key::PageDown, down, down, right, right]);
    // What would move is said before it is done, and nothing has moved yet.
    let said = format!("Ear {other} goes to tray 1 A2; ear {one} goes to tray 2 C4.");
    assert!(says(&harness, &said), "{said}");
    assert_eq!(layout(project(&harness)), before);
    common::shot(&mut harness, "by-hand-picked");
    keys(&mut harness, &[Key::S]);
    harness.run();
    assert_eq!(ear_at(project(&harness), 1, 1, 2), Some(other));
    assert_eq!(ear_at(project(&harness), 2, 3, 4), Some(one));
    assert!(says(&harness, "Undo takes it back"));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(layout(project(&harness)), before);
    // Escape leaves it, and so does picking the same cell again.
    for key in [Key::Escape, Key::S] {
        keys(&mut harness, &[Key::S]);
        assert!(says(&harness, "is picked"));
        keys(&mut harness, &[key]);
        assert!(!says(&harness, "is picked"), "{key:?}");
    }
    assert_eq!(layout(project(&harness)), before);
}

#[test]
fn the_buttons_do_the_same_and_a_counted_test_has_none() {
    let mut document = with_late(50, 0);
    lay(&mut document);
    let kernels = |project: &Project| -> Vec<Option<i64>> {
        project
            .ears
            .iter()
            .map(|ear| project.kernels_of(ear.id))
            .collect()
    };
    let before = kernels(document.project());
    let mut harness = open(document);
    let one = ear_at(project(&harness), 1, 1, 2).unwrap();
    keys(&mut harness, &[Key::ArrowRight]);
    press(&mut harness, "Swap tray 1 A2 with …");
    keys(&mut harness, &[Key::ArrowDown]);
    press(&mut harness, "Swap tray 1 A2 and tray 1 B2");
    harness.run();
    assert_eq!(ear_at(project(&harness), 1, 2, 2), Some(one));
    assert_eq!(kernels(project(&harness)), before, "no kernel is taken twice");
    keys(&mut harness, &[]);
    press(&mut harness, "Swap tray 1 B2 with …");
    press(&mut harness, "Leave it");
    assert!(!says(&harness, "is picked"));

    let mut document = with_late(50, 0);
    lay(&mut document);
    let cell = document
        .project()
        .cells_of_test(TEST)
        .find(|cell| cell.content.is_counted());
    let tally = Tally {
        strong: 10,
        ..Tally::default()
    };
    let counts = vec![Seen::new(cell.unwrap().id, Pass::Early, tally)];
    let (on, by) = (None, String::new());
    run(&mut document, &Command::RecordCounts { counts, on, by });
    let mut harness = open(document);
    keys(&mut harness, &[Key::ArrowRight, Key::S]);
    assert!(!says(&harness, "Swap tray") && !says(&harness, "is picked"));
}

#[test]
fn what_speaks_against_a_change_is_said() {
    // Two replicates of 50 ears, each of two trays.
    let mut document = harvest(50);
    design(
        &mut document,
        TrayPlan {
            replicates: 2,
            ..TrayPlan::default()
        },
    );
    let project = document.project();
    let blocks: Vec<u16> = project.trays.iter().map(|tray| tray.replicate).collect();
    assert_eq!(blocks, [1, 1, 2, 2]);
    let cell_in = |tray: u32, wanted: &dyn Fn(u32) -> bool| -> Option<(u32, CellId)> {
        project
            .cells_of(TrayId(tray))
            .find_map(|cell| match cell.content {
                CellContent::Ear(ear) => {
                    let number = project.ears.get(ear)?.number;
                    wanted(number).then_some((number, cell.id))
                }
                _ => None,
            })
    };
    let swap = |a, b| {
        Command::Repair(Repair {
            moved: Moved::Laid,
            kind: RepairKind::SwapCells(a, b),
        })
    };
    let insight = Insight::default();
    let change = |command: &Command| insight.by_hand(&document, TEST, command);
    let lies_in = |tray: u32, number: u32| cell_in(tray, &|other| other == number).is_some();
    let (one, of_one) = cell_in(1, &|_| true).unwrap();
    let (_, beside) = cell_in(1, &|other| other != one).unwrap();
    assert_eq!(change(&swap(of_one, beside)).cautions, [""; 0]);
    // In one tray no ear may lie twice.
    let home = if lies_in(3, one) { 3 } else { 4 };
    let (_, of_home) = cell_in(home, &|other| other != one && !lies_in(1, other)).unwrap();
    let refused = change(&swap(of_one, of_home)).refused.clone().unwrap();
    assert_eq!(
        refused,
        format!("Ear {one} lies in two cells of one tray; move one of them.")
    );
    // In one block of trays it may, but it should not.
    let (other, of_other) = cell_in(7 - home, &|other| !lies_in(1, other)).unwrap();
    let doubled = change(&swap(of_one, of_other)).cautions.clone();
    for (ear, block) in [(one, 2), (other, 1)] {
        let said = format!("Ear {ear} would lie more than once in replicate {block}.");
        assert!(doubled.contains(&said), "{said} is not in {doubled:?}");
    }
    // A mother row comes to a tray more often than the layout has it in any; the sample's rows have four ears each.
    let row = |number: u32| (number - 1) / 4 + 1;
    let most = |tray: u32, wanted: u32| {
        let cells = project.cells_of(TrayId(tray));
        let ears = cells.filter_map(|cell| match cell.content {
            CellContent::Ear(ear) => project.ears.get(ear),
            _ => None,
        });
        ears.filter(|ear| row(ear.number) == wanted).count()
    };
    let full = (1..=12)
        .find(|wanted| (1..=4).all(|tray| most(tray, *wanted) == 2))
        .unwrap();
    let (_, to_come) = cell_in(2, &|number| row(number) == full).unwrap();
    let (_, to_go) = cell_in(1, &|number| row(number) != full).unwrap();
    let crowded = change(&swap(to_come, to_go)).cautions.clone();
    let said =
        format!("Tray 1 would hold 3 ears of mother row {full}; the layout had at most 2 of it in a tray.");
    assert!(crowded.contains(&said), "{said} is not in {crowded:?}");
    let first = |wanted: CellContent| {
        let mut cells = project.cells_of(TrayId(1));
        cells.find(|cell| cell.content == wanted).unwrap().id
    };
    let moved = change(&swap(first(CellContent::Landmark), of_one));
    assert!(moved.cautions[0].contains("is a landmark"), "{moved:?}");
    let moved = change(&swap(of_one, first(CellContent::Spare)));
    assert!(moved.sentence().contains("becomes spare"), "{moved:?}");
    let same = change(&swap(of_one, of_one));
    assert!(
        same.refused.as_ref().unwrap().contains("wo different cells"),
        "{same:?}"
    );
}

#[test]
fn late_ears_take_spare_cells_that_are_named_first_and_nothing_else_moves() {
    let mut harness = open(with_late(24, 2));
    let before = layout(project(&harness));
    assert!(says(&harness, "2 ears are in no test yet."));
    press(&mut harness, "Add late ears");
    let ears = harness.get_by_role_and_label(Role::TextInput, "Ears");
    assert_eq!(ears.value().unwrap(), "25-26");
    assert!(says(&harness, "2 spare cells are taken:"));
    assert!(
        harness.query_by_label("Day of laying").is_none(),
        "nothing is laid yet"
    );
    common::shot(&mut harness, "by-hand-late");
    fill(&mut harness, "Ears", "25, 77");
    assert!(says(&harness, "This season has no ear 77"));
    fill(&mut harness, "Ears", "3");
    assert!(
        says(&harness, "ear 3 is in this test already") || says(&harness, "Ear 3 is in this test already")
    );
    fill(&mut harness, "Ears", "26 25");
    press(&mut harness, "Add them");
    harness.run();
    let after = layout(project(&harness));
    let changed: Vec<_> = before
        .iter()
        .zip(&after)
        .filter(|(before, after)| before != after)
        .collect();
    assert_eq!(changed.len(), 2);
    for (before, after) in changed {
        assert_eq!(before.1, CellContent::Spare);
        assert!(matches!(after.1, CellContent::Ear(EarId(25 | 26))), "{after:?}");
    }
    assert!(!says(&harness, "in no test yet"));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(layout(project(&harness)), before);
}

#[test]
fn late_ears_of_a_laid_test_need_their_day_and_are_taken_from_their_packets() {
    let mut document = with_late(24, 2);
    lay(&mut document);
    let mut harness = open(document);
    press(&mut harness, "Add late ears");
    assert!(says(&harness, "20 kernels are taken out of their packets."));
    fill(&mut harness, "Day of laying", "soon");
    assert!(says(&harness, "'soon' is not a date"));
    fill(&mut harness, "Day of laying", "2026-11-30");
    press(&mut harness, "Add them");
    harness.run();
    let project = project(&harness);
    let ear = project.ear_numbered(SeasonId(1), 25).unwrap().id;
    let cell = project.cells_of_ear(ear).next().unwrap();
    assert_eq!(project.laid_on(cell), Some(date(2026, 11, 30)));
    assert_eq!(project.kernels_of(ear), Some(50));
}

#[test]
fn more_late_ears_than_spare_cells_are_refused_in_the_dialog() {
    let mut harness = open(with_late(24, 9));
    press(&mut harness, "Add late ears");
    assert!(says(&harness, "spare"), "the refusal names the spare cells");
    let add = harness.get_by_role_and_label(Role::Button, "Add them");
    assert!(add.accesskit_node().is_disabled());
}

// ---- the form ----------------------------------------------------------------------------------------------

#[test]
fn trays_of_other_sizes_are_typed_in_either_unit_and_drawn() {
    let mut harness = window(harvest(70), Pane::Trays, Theme::Light, [1280.0, 1100.0], 1.0);
    press(&mut harness, "Add another size of tray");
    fill(&mut harness, "Other size 1: name", "Bread pan");
    fill(&mut harness, "Other size 1: width", "11");
    fill(&mut harness, "Other size 1: depth", "7");
    fill(&mut harness, "Other size 1: trays", "2");
    fill(&mut harness, "Aisle between cells", "1/4");
    fill(&mut harness, "Container width", "18");
    fill(&mut harness, "Container depth", "13");
    assert!(says(&harness, "2 trays have 2 rows of 5 cells"));
    fill(&mut harness, "Other size 1: depth", "2");
    assert!(says(
        &harness,
        "A cell 3 in high does not fit into the 2 in of depth"
    ));
    harness.get_by_role_and_label(Role::RadioButton, "cm").click();
    harness.run();
    fill(&mut harness, "Other size 1: depth", "17.78");
    let width = harness.get_by_role_and_label(Role::TextInput, "Other size 1: width");
    assert_eq!(width.value().unwrap(), "27.94");
    fill(&mut harness, "Replicates", "2");
    harness
        .get_by_role_and_label(Role::RadioButton, "Anywhere")
        .click();
    harness.run();
    press(&mut harness, "Design the test");
    harness.run();
    let plan = project(&harness).tests.get(TEST).unwrap().plan.clone();
    assert_eq!(
        (plan.spread, plan.replicates, plan.others.len()),
        (Spread::Anywhere, 2, 1)
    );
    assert!((plan.aisle_mm - 6.35).abs() < 1e-9);
    let pan = &plan.others[0];
    assert_eq!((pan.name.as_str(), pan.trays), ("Bread pan", 2));
    assert!((pan.width_mm - 279.4).abs() < 1e-9 && (pan.height_mm - 177.8).abs() < 1e-9);
    let small = project(&harness)
        .trays_of(TEST)
        .filter(|tray| tray.container == 1);
    assert_eq!(
        small.map(|tray| (tray.rows, tray.columns)).collect::<Vec<_>>(),
        [(2, 5), (2, 5)]
    );
    press(&mut harness, "Remove other size 1");
    assert!(harness.query_by_label("Other size 1: width").is_none());
    assert!(says(&harness, "Proposal: nothing is recorded"));
}

#[test]
fn pictures() {
    for theme in [Theme::Light, Theme::Dark] {
        for (name, size, scale) in LOOKS.into_iter().chain([("800", [800.0, 560.0], 1.0)]) {
            let mut harness = window(with_late(100, 3), Pane::Trays, theme, size, scale);
            keys(
                &mut harness,
                &[Key::ArrowRight, Key::S, Key::ArrowDown, Key::ArrowDown],
            );
            let theme = format!("{theme:?}").to_lowercase();
            common::shot(&mut harness, &format!("by-hand-{name}-{theme}"));
        }
    }
}
