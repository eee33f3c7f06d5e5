//! Labels and prints for the field through the window: set up, looked at before they are printed, written.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod common;
mod tray_sample;

use common::press;
use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::path::Path;
use tray_sample::{LOOKS, freeze, harvest, now};
use wintercrib::demo;
use wintercrib::model::Document;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

/// A window at a pane; whoever asks for a file gets this one.
fn window(
    document: Document,
    pane: Pane,
    file: &Path,
    theme: Theme,
    size: [f32; 2],
) -> Harness<'static, App> {
    let answers = vec![PathAnswer::Chosen(file.to_path_buf()); 2];
    let mut harness = common::harness(size, theme).build_eframe(move |_creation| {
        let mut app = App::in_memory(document, now).with_prompt(ScriptedPathPrompt::new(answers));
        app.show(pane);
        app
    });
    harness.run();
    harness
}

/// The demo with a frozen list of every eighth ear.
fn listed() -> Document {
    let mut document = Document::new(demo::make("essel-thaw").unwrap());
    freeze(&mut document, 8);
    document
}

/// Presses something in the dialog, which lies in a part that scrolls: the button goes down in one frame and up in
/// another.
fn click(harness: &mut Harness<'_, App>, role: Role, label: &str) {
    let found = harness.query_all_by_role_and_label(role, label).last();
    found.unwrap().scroll_to_me();
    harness.run();
    let found = harness.query_all_by_role_and_label(role, label).last();
    let pos = found.unwrap().rect().center();
    for pressed in [true, false] {
        harness.hover_at(pos);
        harness.step();
        harness.event(egui::Event::PointerButton {
            pos,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        });
        harness.step();
    }
    harness.run();
}

fn radio(harness: &mut Harness<'_, App>, label: &str) {
    click(harness, Role::RadioButton, label);
}

fn pages(file: &Path) -> usize {
    let bytes = std::fs::read(file).unwrap();
    assert!(bytes.starts_with(b"%PDF-"));
    let text = String::from_utf8_lossy(&bytes);
    let at = text.find("/Count ").unwrap() + 7;
    text[at..]
        .split(|letter: char| !letter.is_ascii_digit())
        .next()
        .unwrap()
        .parse()
        .unwrap()
}

#[test]
fn labels_are_looked_at_and_then_written() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("labels.pdf");
    let document = harvest(40);
    let mut harness = window(document, Pane::Harvest, &file, Theme::Light, [1280.0, 800.0]);
    press(&mut harness, "Labels…");
    assert!(common::says(&harness, "Page 1 of 2, 40 labels in all"));
    click(&mut harness, Role::Button, "Next page");
    assert!(common::says(&harness, "Page 2 of 2"));
    radio(&mut harness, "Both");
    assert!(common::says(&harness, "Page 2 of 3, 80 labels in all"));
    radio(&mut harness, "A4");
    radio(&mut harness, "2 × 7, 99.1 × 38.1 mm on A4");
    assert!(common::says(&harness, "Page 2 of 6, 80 labels in all"));
    click(&mut harness, Role::Button, "Print to a PDF file…");
    assert_eq!(pages(&file), 6);
    assert!(!common::says(&harness, "Begin at label"), "the dialog has closed");
}

#[test]
fn a_single_label_is_printed_again_on_what_is_left_of_a_sheet() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("labels.pdf");
    let mut harness = window(harvest(40), Pane::Harvest, &file, Theme::Light, [1280.0, 800.0]);
    press(&mut harness, "Labels…");
    radio(&mut harness, "By number");
    assert!(common::says(&harness, "Type the numbers of the ears"));
    let print = harness.get_by_role_and_label(Role::Button, "Print to a PDF file…");
    assert!(print.accesskit_node().is_disabled());
    common::fill(&mut harness, "Numbers of the ears, such as 1-40, 77", "41");
    assert!(common::says(&harness, "This season has no ear 41"));
    common::fill(&mut harness, "Numbers of the ears, such as 1-40, 77", "17");
    common::fill(&mut harness, "Begin at label", "30");
    harness.key_press(Key::Tab);
    harness.run();
    assert!(common::says(&harness, "Page 1 of 1, 1 label in all"));
    click(&mut harness, Role::Button, "Print to a PDF file…");
    assert_eq!(pages(&file), 1);
}

#[test]
fn a_sheet_of_your_own_is_measured_and_an_impossible_one_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("test.pdf");
    let mut harness = window(harvest(40), Pane::Harvest, &file, Theme::Dark, [1280.0, 800.0]);
    press(&mut harness, "Labels…");
    radio(&mut harness, "A sheet of your own");
    common::fill(&mut harness, "Labels side by side", "4");
    harness.key_press(Key::Tab);
    harness.run();
    assert!(common::says(&harness, "which is 215.9 mm wide"));
    common::fill(&mut harness, "Width of a label", "45");
    harness.key_press(Key::Tab);
    harness.run();
    assert!(common::says(&harness, "Page 1 of 1, 40 labels in all"));
    common::shot(&mut harness, "labels_own_sheet_dark");
    click(&mut harness, Role::Button, "Print a test page…");
    assert_eq!(pages(&file), 1);
}

#[test]
fn the_dialog_is_looked_at() {
    for (name, size, scale) in LOOKS {
        for theme in [Theme::Light, Theme::Dark] {
            let document = Document::new(demo::make("essel-thaw").unwrap());
            let mut harness = tray_sample::window(document, Pane::Harvest, theme, size, scale);
            press(&mut harness, "Labels…");
            common::shot(&mut harness, &format!("labels_{name}_{theme:?}"));
            let screen = harness.ctx.content_rect();
            for button in ["Print to a PDF file…", "Close"] {
                let bounds = harness.get_by_role_and_label(Role::Button, button).rect();
                assert!(screen.contains_rect(bounds), "{name}: '{button}' at {bounds}");
            }
        }
    }
}

#[test]
fn stakes_and_sheets_are_printed_from_a_frozen_list() {
    let folder = tempfile::tempdir().unwrap();
    for (item, least) in [
        ("Planting sheet…", 1),
        ("Stand sheet…", 1),
        ("Flowering sheet…", 1),
        ("Detassel sheet…", 1),
        ("Cull list…", 2),
    ] {
        let file = folder.path().join("sheet.pdf");
        let mut harness = window(listed(), Pane::Planting, &file, Theme::Light, [1280.0, 800.0]);
        press(&mut harness, "Print for the field");
        if item == "Cull list…" {
            common::shot(&mut harness, "planting_print_menu");
        }
        // The pages are laid out beside the window, which draws itself again until they are there.
        harness.get_by_role_and_label(Role::Button, item).click();
        harness.step();
        for _ in 0..300 {
            if common::says(&harness, "Page 1 of") {
                break;
            }
            std::thread::sleep(std::time::Duration::from_millis(10));
            harness.step();
        }
        assert!(common::says(&harness, "Page 1 of"), "{item}");
        common::shot(
            &mut harness,
            &format!("print_preview_{}", item.trim_end_matches('…')),
        );
        assert!(!file.exists(), "{item} is looked at first");
        click(&mut harness, Role::Button, "Print to a PDF file…");
        assert!(pages(&file) >= least, "{item}");
        std::fs::remove_file(&file).unwrap();
    }
    let file = folder.path().join("stakes.pdf");
    let mut harness = window(listed(), Pane::Planting, &file, Theme::Light, [1600.0, 1000.0]);
    press(&mut harness, "Print for the field");
    press(&mut harness, "Row stakes…");
    assert!(common::says(&harness, "Page 1 of 6, 60 labels in all"));
    common::shot(&mut harness, "stakes_light");
    click(&mut harness, Role::Button, "Print to a PDF file…");
    assert_eq!(pages(&file), 6);
}

#[test]
fn without_ears_there_is_nothing_to_label() {
    let harness = tray_sample::window(harvest(0), Pane::Harvest, Theme::Light, [1280.0, 800.0], 1.0);
    let button = harness.get_by_role_and_label(Role::Button, "Labels…");
    assert!(button.accesskit_node().is_disabled());
}

#[test]
fn a_sheet_that_was_set_up_is_there_again() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("labels.pdf");
    let mut harness = window(harvest(40), Pane::Harvest, &file, Theme::Light, [1280.0, 800.0]);
    press(&mut harness, "Labels…");
    radio(&mut harness, "A sheet of your own");
    common::fill(&mut harness, "Labels below each other", "8");
    common::fill(&mut harness, "Begin at label", "3");
    harness.key_press(Key::Tab);
    harness.run();
    assert!(common::says(&harness, "Page 1 of 2, 40 labels in all"));
    click(&mut harness, Role::Button, "Close");
    press(&mut harness, "Labels…");
    // Three by eight again, from the first label.
    assert!(common::says(&harness, "Page 1 of 2, 40 labels in all"));
    assert!(common::says(&harness, "Labels below each other"));
    radio(&mut harness, "3 × 10, 66.7 × 25.4 mm on Letter");
    click(&mut harness, Role::Button, "Close");
    press(&mut harness, "Labels…");
    assert!(!common::says(&harness, "Labels below each other"));
}
