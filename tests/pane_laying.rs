//! Laying kernels cell by cell on the screen of the cold room, by keys alone.

mod common;
mod tray_sample;

use common::{press, says};
use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use tray_sample::{harvest, stamp, window};
use wintercrib::insight::{Insight, Laying, ReadBack};
use wintercrib::model::{
    CellContent, Command, Document, EarId, LedgerReason, Project, Recipe, SeasonId, TestDesign, TestId,
    TrayPlan,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

fn designed(ears: u32) -> Document {
    let mut document = harvest(ears);
    let design = TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Cold test".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: "Check lot 1".to_owned(),
        seed: 3,
        ears: None,
    };
    let run = document.run(&Command::DesignTest(design), &stamp());
    assert!(run.is_ok(), "{run:?}");
    document
}

fn open(document: Document) -> Harness<'static, App> {
    let mut harness = window(document, Pane::Trays, Theme::Light, [1280.0, 800.0], 1.0);
    press(&mut harness, "Lay cell by cell");
    harness
}

fn project<'a>(harness: &'a Harness<'_, App>) -> &'a Project {
    harness.state().document().project()
}

fn laying(harness: &Harness<'_, App>) -> Laying {
    Laying::clone(&Insight::default().laying(harness.state().document(), TestId(1)))
}

fn key(harness: &mut Harness<'_, App>, key: Key) {
    harness.key_press(key);
    harness.run();
    harness.run();
}

/// Types as a keyboard or a scanner does, without a text field that has focus.
fn type_text(harness: &mut Harness<'_, App>, text: &str) {
    for letter in text.chars() {
        harness.event(egui::Event::Text(letter.to_string()));
    }
    harness.run();
}

/// Lays cells until the screen asks to read a row back; gives the ear number that it should be told.
fn lay_a_row(harness: &mut Harness<'_, App>) -> u32 {
    for _ in 0..20 {
        key(harness, Key::Space);
        if says(harness, "Read back") {
            let laying = laying(harness);
            let place = laying.steps.iter().rposition(|step| step.is_laid).unwrap_or(0);
            let last = laying.row_of(place).filter_map(|step| step.number).last();
            return last.unwrap_or(0);
        }
    }
    panic!("the end of the row never came")
}

#[test]
fn the_space_bar_lays_and_the_packets_are_debited_cell_by_cell() {
    let mut harness = open(designed(24));
    let first = laying(&harness).steps[0].clone();
    assert!(says(&harness, &format!("{} of tray 1", first.name)));
    assert!(says(&harness, &first.code));
    key(&mut harness, Key::Space);
    let cell = project(&harness).cells.get(first.cell).cloned();
    assert_eq!(
        cell.and_then(|cell| cell.laid_on).map(|day| day.to_string()),
        Some(tray_sample::now().date().to_string())
    );
    if let Some(ear) = first.ear {
        assert_eq!(project(&harness).kernels_of(ear), Some(50), "60 less 10");
    }
    assert!(says(&harness, "1 of 26 cells laid"));

    // The wrong cell is taken up again by one key, and its kernels are back in the packet.
    key(&mut harness, Key::Backspace);
    assert_eq!(laying(&harness).laid, 0);
    if let Some(ear) = first.ear {
        assert_eq!(project(&harness).kernels_of(ear), Some(60));
        let ledger = project(&harness)
            .packets_of(ear)
            .flat_map(|packet| packet.ledger.clone());
        assert!(
            ledger
                .into_iter()
                .all(|line| line.reason != LedgerReason::Test(TestId(1)))
        );
    }
}

#[test]
fn every_key_that_a_foot_switch_sends_goes_on_and_its_opposite_goes_back() {
    let mut harness = open(designed(24));
    for (laid, on) in (1..).zip([Key::Space, Key::Enter, Key::PageDown, Key::ArrowRight]) {
        key(&mut harness, on);
        assert_eq!(laying(&harness).laid, laid, "{on:?}");
        assert!(says(&harness, &format!("{laid} of 26 cells laid")));
    }
    for (laid, back) in [(3, Key::Backspace), (2, Key::PageUp), (1, Key::ArrowLeft)] {
        key(&mut harness, back);
        assert_eq!(laying(&harness).laid, laid, "{back:?}");
    }
    // At the end of a row a foot switch alone does not get past the read-back.
    let right = lay_a_row(&mut harness);
    let laid = laying(&harness).laid;
    for on in [Key::Space, Key::Enter, Key::PageDown, Key::ArrowRight] {
        key(&mut harness, on);
        assert!(says(&harness, "Read back"), "{on:?}");
    }
    assert_eq!(laying(&harness).laid, laid);
    type_text(&mut harness, &right.to_string());
    key(&mut harness, Key::PageDown);
    assert!(!says(&harness, "Read back"));
}

#[test]
fn other_kernels_than_planned_are_typed() {
    let mut harness = open(designed(24));
    let first = laying(&harness)
        .steps
        .iter()
        .position(|step| step.ear.is_some())
        .unwrap_or(0);
    for _ in 0..first {
        key(&mut harness, Key::Space);
    }
    let step = laying(&harness).steps[first].clone();
    type_text(&mut harness, "8");
    assert!(says(&harness, "8 kernels, 52 then left in the packet"));
    key(&mut harness, Key::Space);
    let cell = project(&harness).cells.get(step.cell).cloned();
    assert_eq!(cell.and_then(|cell| cell.laid), Some(8));
    assert_eq!(
        step.ear.and_then(|ear| project(&harness).kernels_of(ear)),
        Some(52)
    );

    type_text(&mut harness, "0");
    key(&mut harness, Key::Space);
    assert!(says(&harness, "at least 1"), "no kernels are refused");
    type_text(&mut harness, "-");
    assert!(says(&harness, "9 kernels"));
    type_text(&mut harness, "++");
    assert!(says(&harness, "11 kernels"));
    key(&mut harness, Key::Backspace);
    assert!(
        says(&harness, "1 kernel"),
        "backspace corrects what was typed before it goes back"
    );
}

#[test]
fn the_read_back_at_the_end_of_a_row_catches_a_shift_at_once() {
    let mut harness = open(designed(24));
    let right = lay_a_row(&mut harness);
    let laying_now = laying(&harness);
    let row: Vec<u32> = laying_now.row_of(0).filter_map(|step| step.number).collect();
    let before = row[row.len() - 2];
    type_text(&mut harness, &before.to_string());
    key(&mut harness, Key::Enter);
    assert!(says(&harness, &format!("Ear {before} belongs 1 cell before it")));
    type_text(&mut harness, "999");
    key(&mut harness, Key::Enter);
    assert!(says(&harness, "Ear 999 is not in this tray"));
    type_text(&mut harness, "hello");
    key(&mut harness, Key::Enter);
    assert!(says(&harness, "HELLO is neither an ear number nor an ear code"));

    // The whole row is taken up by one key and laid again.
    let laid = laying(&harness).laid;
    type_text(&mut harness, "t");
    harness.run();
    assert_eq!(laying(&harness).laid, 0, "of {laid}");
    assert_eq!(lay_a_row(&mut harness), right);

    // A code with its check character is as good as the number, which is what a scanner types.
    let code = project(&harness)
        .ear_numbered(SeasonId(1), right)
        .map(|ear| ear.code.to_string())
        .unwrap_or_default();
    type_text(&mut harness, &code);
    key(&mut harness, Key::Enter);
    assert!(!says(&harness, "Read back"));
    assert!(says(&harness, "of tray 1"));
}

#[test]
fn laying_can_stop_and_resume_and_ends_with_the_test_laid() {
    let mut harness = open(designed(24));
    let told = lay_a_row(&mut harness);
    key(&mut harness, Key::Escape);
    assert!(says(&harness, "Cold test: partly laid."));
    let laid = laying(&harness).laid;
    press(&mut harness, "Lay cell by cell");
    assert!(says(&harness, &format!("{laid} of 26 cells laid")), "told {told}");
    // A cell whose packet is not at hand is passed over and comes again at the end.
    let passed = laying(&harness).steps[laid].name.clone();
    type_text(&mut harness, "s");
    for _ in 0..60 {
        if says(&harness, "All is laid") {
            break;
        }
        if says(&harness, "Read back") {
            let now = laying(&harness);
            let place = now.steps.iter().rposition(|step| step.is_laid).unwrap_or(0);
            let number = now
                .row_of(place)
                .filter(|step| step.is_laid)
                .filter_map(|step| step.number)
                .last();
            type_text(&mut harness, &number.unwrap_or(0).to_string());
            key(&mut harness, Key::Enter);
            if says(&harness, "Read back") {
                type_text(&mut harness, "g");
                harness.run();
            }
            continue;
        }
        key(&mut harness, Key::Space);
    }
    assert!(
        says(&harness, "All is laid"),
        "{passed} was passed over and is laid at last"
    );
    let test = project(&harness).tests.get(TestId(1)).cloned();
    assert!(test.is_some_and(|test| test.laid.is_some()));
    let left: Vec<Option<i64>> = project(&harness)
        .ears
        .iter()
        .map(|ear| project(&harness).kernels_of(ear.id))
        .collect();
    assert!(left.iter().all(|kernels| *kernels == Some(50)), "{left:?}");
    assert_eq!(project(&harness).validate(), []);
}

#[test]
fn trays_of_one_evening_are_noted_together() {
    let mut harness = window(designed(80), Pane::Trays, Theme::Light, [1280.0, 800.0], 1.0);
    press(&mut harness, "Lay the trays");
    let field = |harness: &mut Harness<'_, App>, text: &str| {
        harness.get_by_role_and_label(Role::TextInput, "Trays").focus();
        harness.run();
        harness
            .get_by_role_and_label(Role::TextInput, "Trays")
            .type_text(text);
        harness.run();
    };
    field(&mut harness, "1-2");
    press(&mut harness, "Note as laid");
    let days = |harness: &Harness<'_, App>| -> Vec<bool> {
        let project = project(harness);
        project
            .trays_of(TestId(1))
            .map(|tray| project.tray_laid_on(tray.id).is_some())
            .collect()
    };
    assert_eq!(days(&harness), [true, true, false]);
    press(&mut harness, "Lay the trays");
    field(&mut harness, "9");
    assert!(says(&harness, "This test has no tray 9"));
    press(&mut harness, "Cancel");
    press(&mut harness, "Lay the trays");
    press(&mut harness, "Note as laid");
    assert_eq!(days(&harness), [true, true, true]);
    assert!(
        project(&harness)
            .tests
            .get(TestId(1))
            .is_some_and(|test| test.laid.is_some())
    );
}

#[test]
fn a_dialog_over_the_screen_has_the_keys() {
    let mut harness = open(designed(24));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::F);
    harness.run();
    harness.run();
    type_text(&mut harness, "8");
    key(&mut harness, Key::Space);
    assert_eq!(
        laying(&harness).laid,
        0,
        "what is typed to find an ear lays nothing"
    );
    key(&mut harness, Key::Escape);
    assert!(
        says(&harness, "0 of 26 cells laid"),
        "Escape closes the dialog, not the screen"
    );
    key(&mut harness, Key::Space);
    assert_eq!(laying(&harness).laid, 1);
}

#[test]
fn what_was_read_back_is_judged() {
    let document = designed(24);
    let laying = Insight::default().laying(&document, TestId(1));
    let ears: Vec<usize> = (0..laying.steps.len())
        .filter(|place| laying.steps[*place].number.is_some())
        .collect();
    let (first, second) = (ears[0], ears[1]);
    let number = |place: usize| laying.steps[place].number.unwrap_or(0);
    assert_eq!(laying.read_back(second, number(second)), ReadBack::Fits);
    assert_eq!(
        laying.read_back(second, number(first)),
        ReadBack::Shifted(first as i64 - second as i64)
    );
    assert_eq!(laying.read_back(second, 9_999), ReadBack::Elsewhere);
    assert_eq!(laying.read_back(10_000, 1), ReadBack::Elsewhere);
    let holds = document
        .project()
        .cells
        .iter()
        .filter(|cell| matches!(cell.content, CellContent::Ear(EarId(_)) | CellContent::Check(_)));
    assert_eq!(laying.steps.len(), holds.count());
}

#[test]
fn pictures() {
    for (theme, size, scale, name) in [
        (Theme::Light, [1280.0, 800.0], 1.0, "laying-light"),
        (Theme::Dark, [1280.0, 800.0], 1.0, "laying-dark"),
        (Theme::Dark, [1920.0, 1080.0], 1.0, "laying-1920"),
        (Theme::Dark, [800.0, 560.0], 1.0, "laying-small"),
    ] {
        let mut harness = window(designed(24), Pane::Trays, theme, size, scale);
        press(&mut harness, "Lay cell by cell");
        // Capital letters of the font are 0.71 of its size, and a line is 1.08 of it.
        let step = laying(&harness).steps[0].clone();
        let kind = if step.ear.is_some() { "ear" } else { "check" };
        for text in [
            format!("{} of tray 1", step.name),
            format!("{kind} {}", step.title),
        ] {
            let bounds = harness.get_by_label(&text).rect();
            let capitals = bounds.height() / 1.08 * 0.71;
            let least = size[1] * 120.0 / 1080.0;
            assert!(capitals >= least, "{name}: '{text}' is {capitals} pixels high");
            assert!(
                harness.ctx.content_rect().contains_rect(bounds),
                "{name}: '{text}'"
            );
        }
        for _ in 0..4 {
            key(&mut harness, Key::Space);
        }
        type_text(&mut harness, "8");
        common::shot(&mut harness, name);
        key(&mut harness, Key::Backspace);
        lay_a_row(&mut harness);
        type_text(&mut harness, "999");
        key(&mut harness, Key::Enter);
        common::shot(&mut harness, &format!("{name}-read-back"));
    }
}
