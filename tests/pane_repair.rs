//! The planted shift of the demo is mended in the window in one step, after a look at what becomes of it.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;

use common::{fill, press, says};
use egui::{Key, Modifiers, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::{DateTime, date};
use wintercrib::demo;
use wintercrib::insight::Insight;
use wintercrib::model::{Document, Moved, Pass, Project, Repair, RepairKind, ShiftEnd, TestId};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

fn now() -> DateTime {
    date(2026, 2, 15).at(20, 0, 0, 0)
}

fn open(theme: Theme, size: [f32; 2]) -> Harness<'static, App> {
    let project = demo::make("essel-thaw").unwrap();
    let mut harness = common::harness(size, theme).build_eframe(move |_| {
        let mut app = App::in_memory(Document::new(project), now);
        app.show(Pane::Scoring);
        app
    });
    harness.run();
    harness
}

fn choose(harness: &mut Harness<'_, App>, option: &str) {
    harness.get_by_role_and_label(Role::RadioButton, option).click();
    harness.run();
}

/// Cells of tray 5, row C, in which more had emerged early than are seedlings in the end.
fn impossible(project: &Project) -> usize {
    let tray = project.trays_of(TestId(1)).find(|tray| tray.number == 5).unwrap();
    let emerged = |cell, pass| {
        project
            .count_in_force(cell, pass)
            .map(|count| count.tally.emerged())
    };
    project
        .cells_of(tray.id)
        .filter(|cell| cell.row == 3)
        .filter(|cell| emerged(cell.id, Pass::Early) > emerged(cell.id, Pass::Final))
        .filter(|cell| emerged(cell.id, Pass::Final).is_some())
        .count()
}

fn open_at_the_shift(harness: &mut Harness<'_, App>) {
    press(harness, "Repair…");
    choose(harness, "Final counts");
    fill(harness, "From cell", "5 C1");
    choose(harness, "one cell back");
}

#[test]
fn the_shifted_row_of_the_demo_is_mended_in_one_step() {
    let mut harness = open(Theme::Light, [1280.0, 800.0]);
    let project = |harness: &Harness<'_, App>| harness.state().document().project().clone();
    let before = project(&harness);
    assert_eq!(impossible(&before), 2, "as planted");
    open_at_the_shift(&mut harness);
    harness
        .get_by_role_and_label(
            Role::CheckBox,
            "What falls off at one end belongs to the other end",
        )
        .click();
    harness.run();
    let cells = |harness: &Harness<'_, App>| says(harness, "Then: In none of 29 cells");
    assert!(says(&harness, "Now: In 2 of 29 cells"));
    assert!(cells(&harness), "the first count has come to the last cell");
    assert!(says(&harness, "Then: In none of"));
    assert!(says(&harness, "The counts agree better after this repair."));
    press(&mut harness, "Repair");
    let after = project(&harness);
    assert_eq!(impossible(&after), 0);
    assert_eq!(after.validate(), []);
    assert!(!says(&harness, "How it is mended"), "the dialog is closed");

    // One step takes it all back.
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(project(&harness), before);
}

#[test]
fn what_the_program_found_itself_is_mended_from_the_list_of_things_to_do() {
    let mut harness = open(Theme::Light, [1280.0, 800.0]);
    let start = harness.state().document().project().clone();
    harness.key_press(Key::F9);
    harness.run();
    let mut repairs = 0;
    loop {
        let found = harness
            .query_all_by_role_and_label(Role::Button, "Look and repair…")
            .next();
        let Some(found) = found else { break };
        found.click();
        harness.run();
        harness.run();
        assert!(says(&harness, "The counts agree better after this repair."));
        press(&mut harness, "Repair");
        repairs += 1;
        assert!(repairs < 5, "what was mended is not found again");
    }
    assert_eq!(repairs, 2, "the shifted row and the two swapped cells are found");
    let mended = harness.state().document().project().clone();
    assert_eq!(impossible(&mended), 0);
    assert_eq!(mended.validate(), []);
    for _ in 0..repairs {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        harness.run();
    }
    assert_eq!(harness.state().document().project(), &start);
}

#[test]
fn a_repair_in_the_wrong_direction_says_that_the_counts_agree_worse() {
    let mut harness = open(Theme::Light, [1280.0, 800.0]);
    open_at_the_shift(&mut harness);
    choose(&mut harness, "one cell on");
    assert!(says(&harness, "agree worse") || says(&harness, "do not tell"));
    fill(&mut harness, "From cell", "5 Z9");
    assert!(says(&harness, "Tray 5 has no cell Z9"));
    fill(&mut harness, "From cell", "77 A1");
    assert!(says(&harness, "This test has no tray 77"));
    fill(&mut harness, "From cell", "5");
    assert!(says(&harness, "Type a tray and a cell"));
    choose(&mut harness, "Swap trays");
    fill(&mut harness, "Tray", "5");
    fill(&mut harness, "And tray", "5");
    assert!(says(&harness, "choose another tray"));
    press(&mut harness, "Cancel");
    assert!(!says(&harness, "How it is mended"));
}

#[test]
fn the_preview_names_every_cell_and_changes_nothing() {
    let document = Document::new(demo::make("essel-thaw").unwrap());
    let insight = Insight::default();
    let tray = document
        .project()
        .trays_of(TestId(1))
        .find(|tray| tray.number == 5)
        .unwrap();
    let from = document
        .project()
        .cells_of(tray.id)
        .find(|cell| cell.row == 3)
        .unwrap()
        .id;
    let shift = |to_next, round| Repair {
        moved: Moved::Counts(Pass::Final),
        kind: RepairKind::Shift {
            from,
            to_next,
            end: ShiftEnd::Row,
            round,
        },
    };
    let right = insight.repair(&document, shift(false, true));
    let row = document
        .project()
        .cells_of(tray.id)
        .filter(|cell| cell.row == 3 && cell.content.is_counted())
        .count();
    assert!(
        right.cells.len() <= row && right.cells.len() > row / 2,
        "cells that are alike do not change"
    );
    assert!(
        right
            .cells
            .iter()
            .all(|cell| cell.name.starts_with("tray 5 C") && cell.now != cell.then)
    );
    assert_eq!(right.then.is_better_than(&right.now), Some(true));
    assert!(right.then.correlation > right.now.correlation);
    let wrong = insight.repair(&document, shift(true, true));
    assert_ne!(wrong.then.is_better_than(&wrong.now), Some(true));
    let open = insight.repair(&document, shift(false, false));
    assert!(open.cells.iter().any(|cell| cell.then == "no count"));
    let nothing = Repair {
        moved: Moved::Counts(Pass::Between(3)),
        ..shift(false, true)
    };
    let refused = insight.repair(&document, nothing);
    assert!(
        refused
            .refused
            .as_ref()
            .is_some_and(|text| text.contains("day 3"))
    );
    assert_eq!(refused.cells, []);
}

#[test]
fn pictures() {
    for (theme, name) in [(Theme::Light, "repair-light"), (Theme::Dark, "repair-dark")] {
        let mut harness = open(theme, [1280.0, 800.0]);
        open_at_the_shift(&mut harness);
        common::shot(&mut harness, name);
    }
}
