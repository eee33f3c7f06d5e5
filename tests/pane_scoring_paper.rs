//! The paper way: a printed score sheet typed in its own order, with the totals of its rows checked.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod poppler;
mod scoring_keys;
mod tray_sample;

use common::{fill, press, says};
use egui::{Event, Key, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use scoring_keys::{answer, cells, keys, laid, project, score, tally};
use tray_sample::{stamp, window};
use wintercrib::exchange::print::{Paper, unwatched};
use wintercrib::exchange::tray_prints::{TrayPrint, TrayPrintOrder, tray_print};
use wintercrib::model::{
    Cell, Command, Count, Document, Pass, Recipe, SeasonId, TestDesign, TestId, TrayPlan,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

/// Begins to type the sheet of the tray that is shown.
fn begin(harness: &mut Harness<'_, App>, day: &str, scorer: &str) {
    press(harness, "Options");
    press(harness, "Type a score sheet…");
    harness.run_steps(4);
    fill(harness, "Day", day);
    fill(harness, "Scorer", scorer);
    harness.key_press(Key::Enter);
    harness.run_steps(6);
}

fn open(document: Document) -> Harness<'static, App> {
    window(document, Pane::Scoring, Theme::Light, [1280.0, 800.0], 1.0)
}

fn text(harness: &mut Harness<'_, App>, text: &str) {
    harness.event(Event::Text(text.to_owned()));
    harness.run();
}

fn counts(harness: &Harness<'_, App>) -> usize {
    project(harness).counts.len()
}

fn count_of(harness: &Harness<'_, App>, cell: &Cell) -> Option<Count> {
    project(harness).count_in_force(cell.id, Pass::Final).cloned()
}

/// The cells of a row that are counted.
fn row(harness: &Harness<'_, App>, row: u16) -> Vec<Cell> {
    let tray = project(harness).trays_of(TestId(1)).next().unwrap().id;
    let all = cells(project(harness)).into_iter();
    all.filter(|cell| (cell.tray, cell.row) == (tray, row)).collect()
}

/// What is typed for a row of `cells` cells with 8 strong and 2 dead each, without the total.
fn type_cells(harness: &mut Harness<'_, App>, cells: usize) {
    for _ in 0..cells {
        keys(harness, "8*7");
    }
}

#[test]
fn a_row_is_stored_once_its_total_agrees_with_the_day_and_scorer_of_the_sheet() {
    let mut harness = open(laid(24));
    begin(&mut harness, "2026-11-30", "I.T.");
    assert!(says(&harness, "Score sheet of tray 1, 2026-11-30 by I.T."));
    let first = row(&harness, 1);
    type_cells(&mut harness, first.len());
    assert_eq!(counts(&harness), 0, "nothing is stored before the total agrees");
    assert!(says(
        &harness,
        "Type the total of row A as it stands on the sheet;"
    ));
    let strong = 8 * first.len();
    keys(&mut harness, &format!("{strong}+0+0+{}E", 2 * first.len()));
    assert!(says(&harness, "Row A is stored."));
    assert_eq!(counts(&harness), first.len());
    for cell in &first {
        let count = count_of(&harness, cell).unwrap();
        assert_eq!((count.tally, count.vigor), (tally(8, 0, 0, 2), Some(7)));
        assert_eq!((count.by.as_str(), count.overruled.as_str()), ("I.T.", ""));
        assert_eq!(count.on.unwrap().to_string(), "2026-11-30");
    }
    // A row is one step.
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(counts(&harness), 0);
}

#[test]
fn a_total_that_does_not_agree_is_said_at_once_and_a_slip_in_a_cell_is_mended() {
    let mut harness = open(laid(24));
    begin(&mut harness, "2026-11-30", "I.T.");
    let first = row(&harness, 1);
    let cells = first.len();
    type_cells(&mut harness, cells);
    // On paper the second cell had 7 strong and 3 dead.
    let (strong, dead) = (8 * cells - 1, 2 * cells + 1);
    keys(&mut harness, &format!("{strong}+++{dead}E"));
    let wanted = format!(
        "Row A does not agree: strong {}, total {strong}; dead {}, total {dead}.",
        8 * cells,
        2 * cells
    );
    assert!(says(&harness, &wanted));
    assert_eq!(counts(&harness), 0);
    common::shot(&mut harness, "scoring-paper-apart");
    // The cells of the row stand beside the tray.
    for cell in &first {
        assert!(
            harness.query_all_by_label_contains(&cell.name()).count() > 0,
            "{}",
            cell.name()
        );
    }
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{}E", first[1].name()));
    keys(&mut harness, "<<<7*7");
    // All are typed again, and the total is still there.
    assert!(says(&harness, "Type the total of row A"));
    keys(&mut harness, "E");
    assert!(says(&harness, "Row A is stored."));
    assert_eq!(count_of(&harness, &first[1]).unwrap().tally, tally(7, 0, 0, 3));
    assert_eq!(count_of(&harness, &first[0]).unwrap().overruled, "");
}

#[test]
fn a_total_is_overruled_with_a_reason_that_stays_with_the_counts() {
    let mut harness = open(laid(24));
    begin(&mut harness, "2026-11-30", "");
    let first = row(&harness, 1);
    let cells = first.len();
    type_cells(&mut harness, cells);
    let wrong = 8 * cells + 1;
    keys(&mut harness, &format!("{wrong}+++{}E", 2 * cells));
    assert!(says(&harness, "Row A does not agree: strong"));
    // Digits are no reason, and neither is nothing.
    keys(&mut harness, "E");
    keys(&mut harness, "12E");
    assert_eq!(counts(&harness), 0);
    text(&mut harness, " added up wrongly");
    keys(&mut harness, "E");
    assert_eq!(counts(&harness), cells);
    let count = count_of(&harness, &first[0]).unwrap();
    assert_eq!(
        count.overruled,
        format!(
            "Row A does not agree: strong {}, total {wrong}: 12 added up wrongly",
            8 * cells
        )
    );
    // A row without a total, by the reason that is offered; the key that said so is taken back first.
    let second = row(&harness, 2);
    type_cells(&mut harness, second.len());
    keys(&mut harness, "/");
    assert!(says(&harness, "Row B has no total on the sheet."));
    keys(&mut harness, "-");
    assert!(says(&harness, "Type the total of row B"));
    keys(&mut harness, "/");
    press(&mut harness, "The sheet has no total here");
    assert_eq!(counts(&harness), cells + second.len());
    assert_eq!(
        count_of(&harness, &second[0]).unwrap().overruled,
        "Row B has no total on the sheet: the sheet has no total here"
    );
    // The keys go on in the next row.
    keys(&mut harness, "9*8");
    assert!(says(&harness, &format!("Typed {}", row(&harness, 3)[0].name())));
}

#[test]
fn keys_are_taken_back_over_cells_and_totals_and_a_cell_can_be_blank_on_the_sheet() {
    let mut harness = open(laid(24));
    begin(&mut harness, "2026-11-30", "I.T.");
    let first = row(&harness, 1);
    keys(&mut harness, "8*7");
    // The key that completed a cell is taken back like any other.
    keys(&mut harness, "-6");
    keys(&mut harness, "n");
    assert!(says(
        &harness,
        &format!("{} is left without a count.", first[1].name())
    ));
    type_cells(&mut harness, first.len() - 2);
    assert!(says(&harness, "Type the total of row A"));
    keys(&mut harness, "5--");
    keys(&mut harness, "9");
    assert!(
        says(&harness, "Type the total of row A"),
        "the last cell was open and is complete again"
    );
    let (strong, dead) = (8 * (first.len() - 1), 2 * (first.len() - 1));
    // Enter compares what is typed so far; what is missing then is typed on.
    keys(&mut harness, &format!("{strong}E"));
    assert!(says(&harness, "Row A does not agree: dead"));
    keys(&mut harness, "-");
    keys(&mut harness, &format!("{}+++{dead}E", strong % 10));
    assert!(says(&harness, "Row A is stored."));
    let vigor =
        |harness: &Harness<'_, App>, at: usize| count_of(harness, &first[at]).and_then(|count| count.vigor);
    assert_eq!(vigor(&harness, 0), Some(6));
    assert!(count_of(&harness, &first[1]).is_none());
    assert_eq!(vigor(&harness, first.len() - 1), Some(9));
    // The other rows; then what the sheet lacks is said.
    for number in 2..=4 {
        let cells = row(&harness, number).len();
        type_cells(&mut harness, cells);
        keys(&mut harness, &format!("{}+++{}E", 8 * cells, 2 * cells));
    }
    let all = cells(project(&harness)).len() - 1;
    assert_eq!(counts(&harness), all);
    let sums = format!(
        "Tray 1 is typed: {} strong, 0 weak, 0 abnormal, {} dead",
        8 * all,
        2 * all
    );
    assert!(says(&harness, &sums));
    assert!(says(
        &harness,
        &format!("Without a count: {}. There is no other sheet", first[1].name())
    ));
    common::shot(&mut harness, "scoring-paper-done");
    // Later the blank cell is typed after all: its row has no new total but the sum of all its cells.
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{}E8*5", first[1].name()));
    keys(&mut harness, &format!("{}+++{}E", strong + 8, dead + 2));
    assert_eq!(counts(&harness), all + 1);
}

#[test]
fn what_is_typed_when_the_sheet_is_left_stays_in_the_boxes() {
    let mut harness = open(laid(24));
    begin(&mut harness, "2026-11-30", "I.T.");
    keys(&mut harness, "8*7");
    keys(&mut harness, "81*");
    press(&mut harness, "Stop typing the sheet");
    assert!(says(&harness, "1 cell typed and not stored"));
    let first = row(&harness, 1);
    keys(&mut harness, "E");
    let count = count_of(&harness, &first[0]).unwrap();
    assert_eq!((count.tally, count.vigor), (tally(8, 0, 0, 2), Some(7)));
    assert_eq!(count.on.unwrap().to_string(), "2026-12-01");
    keys(&mut harness, "6");
    assert_eq!(count_of(&harness, &first[1]).unwrap().tally, tally(8, 1, 0, 1));
}

#[test]
fn the_head_of_a_sheet_is_checked_and_each_tray_has_its_own() {
    let mut harness = open(laid(60));
    press(&mut harness, "Options");
    press(&mut harness, "Type a score sheet…");
    harness.run_steps(4);
    let can = |harness: &Harness<'_, App>| {
        let button = harness.get_by_role_and_label(egui::Role::Button, "Type this sheet");
        !button.accesskit_node().is_disabled()
    };
    assert!(!can(&harness));
    assert!(says(&harness, "Type the day that stands on the sheet, such as"));
    for (day, said) in [
        ("yesterday", "yesterday"),
        ("2026-12-02", "2026-12-02 is still to come"),
        (
            "2026-11-01",
            "the tray was not laid yet; it was laid on 2026-11-19",
        ),
        ("2026-11-26", "That is day 7, outside of days 11 to 13"),
    ] {
        fill(&mut harness, "Day", day);
        assert!(says(&harness, said), "{day}");
    }
    assert!(can(&harness));
    common::shot(&mut harness, "scoring-paper-head");
    fill(&mut harness, "Scorer", "I.T.");
    harness.key_press(Key::Enter);
    harness.run_steps(6);
    assert!(says(
        &harness,
        "The day of the sheet is day 7, outside of days 11 to 13"
    ));
    for number in 1..=4 {
        let cells = row(&harness, number).len();
        type_cells(&mut harness, cells);
        keys(&mut harness, &format!("{}+++{}E", 8 * cells, 2 * cells));
    }
    harness.run_steps(6);
    // The next sheet begins with the head of the last one.
    assert!(says(&harness, "Type the score sheet of tray 2"));
    fill(&mut harness, "Scorer", "K.");
    harness.key_press(Key::Enter);
    harness.run_steps(6);
    assert!(says(&harness, "Score sheet of tray 2, 2026-11-26 by K."));
    keys(&mut harness, "8*7");
    // Leaving the tray by mistake leads back to what is typed.
    keys(&mut harness, "_");
    harness.run_steps(4);
    assert!(says(&harness, "Type the score sheet of tray 3"));
    harness.key_press(Key::Escape);
    harness.run_steps(6);
    assert!(says(&harness, "Score sheet of tray 2"));
    assert!(says(&harness, "Tray 2 of 3"));
}

#[test]
fn the_sheet_is_typed_in_the_order_in_which_it_is_printed() {
    let document = laid(24);
    let order = TrayPrintOrder {
        test: TestId(1),
        tray: None,
        paper: Paper::A4,
        with_ears: false,
    };
    let print = tray_print(document.project(), TrayPrint::ScoreSheet, order, &[], &unwatched).unwrap();
    let Some(pages) = poppler::text_of(&print.pdf) else {
        return;
    };
    let lines = pages.iter().flat_map(|page| page.lines());
    let first: Vec<&str> = lines.filter_map(|line| line.split_whitespace().next()).collect();
    let all = cells(document.project());
    let printed: Vec<&str> = first
        .into_iter()
        .filter(|word| all.iter().any(|cell| cell.name() == *word))
        .collect();
    let mut harness = open(document);
    begin(&mut harness, "2026-11-30", "I.T.");
    let mut typed = Vec::new();
    for number in 1..=4 {
        let cells = row(&harness, number).len();
        for _ in 0..cells {
            let is_current = |cell: &&Cell| harness.query_by_label(&format!("▶ {}", cell.name())).is_some();
            typed.push(all.iter().find(is_current).unwrap().name());
            keys(&mut harness, "8*7");
        }
        keys(&mut harness, &format!("{}+++{}E", 8 * cells, 2 * cells));
    }
    assert_eq!(typed, printed);
}

#[test]
fn another_test_ends_the_sheet_and_a_blind_typist_sees_no_stored_figure() {
    let mut document = laid(24);
    let design = Command::DesignTest(TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Test 2".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: String::new(),
        seed: 8,
        ears: None,
    });
    document.run(&design, &stamp()).unwrap();
    let mut harness = open(document);
    let choose = |harness: &mut Harness<'_, App>, test: &str| {
        harness
            .get_by_role_and_label(egui::Role::RadioButton, test)
            .click();
        harness.run_steps(6);
    };
    choose(&mut harness, "Test 1");
    begin(&mut harness, "2026-11-30", "I.T.");
    keys(&mut harness, "8*7");
    choose(&mut harness, "Test 2");
    assert!(says(&harness, "1 cell typed and not stored"));
    assert!(!says(&harness, "Score sheet of tray 1"));
    choose(&mut harness, "Test 1");
    harness.get_by_label("10 of 10 kernels, ✓ complete");
    keys(&mut harness, "E");
    let first = row(&harness, 1);
    assert_eq!(count_of(&harness, &first[0]).unwrap().tally, tally(8, 0, 0, 2));
    press(&mut harness, "Options");
    harness
        .get_by_role_and_label(egui::Role::CheckBox, "Blind")
        .click();
    harness.run();
    harness.key_press(Key::Escape);
    harness.run();
    begin(&mut harness, "2026-11-30", "I.T.");
    assert!(
        harness.query_by_label("done").is_some(),
        "the stored cell is told to be done"
    );
    keys(&mut harness, "9*6");
    assert!(harness.query_all_by_label("9").next().is_some());
    common::shot(&mut harness, "scoring-paper-blind");
}

#[test]
fn an_early_sheet_has_the_emerged_kernels_and_its_total_of_them() {
    let mut harness = open(laid(24));
    harness
        .get_by_role_and_label(egui::Role::RadioButton, "Early, day 6")
        .click();
    harness.run();
    begin(&mut harness, "2026-11-25", "I.T.");
    let first = row(&harness, 1);
    for _ in &first {
        keys(&mut harness, "7E");
    }
    keys(&mut harness, &format!("{}E", 7 * first.len() + 1));
    assert!(says(&harness, "Row A does not agree: emerged"));
    keys(&mut harness, "//");
    assert!(!says(&harness, "does not agree"));
    keys(&mut harness, "-");
    keys(&mut harness, &format!("{}E", 7 * first.len()));
    assert!(says(&harness, "Row A is stored."));
    let count = project(&harness)
        .count_in_force(first[2].id, Pass::Early)
        .unwrap();
    assert_eq!((count.tally.strong, count.tally.fresh), (7, 3));
}

#[test]
fn pictures() {
    for theme in [Theme::Light, Theme::Dark] {
        let theme_name = if theme == Theme::Light { "light" } else { "dark" };
        for (name, size, scale) in [
            ("900x600", [900.0, 600.0], 1.0),
            ("1280", [1280.0, 800.0], 1.0),
            ("1280-large", [1280.0, 800.0], 1.5),
        ] {
            let mut harness = window(laid(240), Pane::Scoring, theme, size, scale);
            begin(&mut harness, "2026-11-30", "I.T.");
            for text in ["8*7", "81*6", "108", "91E"] {
                keys(&mut harness, text);
            }
            keys(&mut harness, "81");
            common::shot(&mut harness, &format!("scoring-paper-{name}-{theme_name}"));
            let rest = row(&harness, 1).len() - 5;
            keys(&mut harness, "*7");
            type_cells(&mut harness, rest);
            keys(&mut harness, "63+4++6E");
            common::shot(&mut harness, &format!("scoring-paper-apart-{name}-{theme_name}"));
        }
    }
}

const _: () = {
    let _: fn(&mut Harness<'_, App>, &str) -> usize = score;
    let _: fn(&mut Harness<'_, App>) -> usize = answer;
};
