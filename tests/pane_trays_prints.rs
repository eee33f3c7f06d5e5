//! The print menu of the trays pane, by label and key.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod common;
mod tray_sample;

use common::press;
use std::path::Path;

use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use tray_sample::{LOOKS, harvest, now, stamp};
use wintercrib::model::{Command, Document, SeasonId, TestDesign, TrayPlan};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

/// A season of 40 ears in two trays.
fn two_trays() -> Document {
    let mut document = harvest(40);
    let design = TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Cold test".to_owned(),
        plan: TrayPlan::default(),
        recipe: wintercrib::model::Recipe::default(),
        check_lot: String::new(),
        seed: 3,
        ears: None,
    };
    document.run(&Command::DesignTest(design), &stamp()).unwrap();
    document
}

/// A window at the trays; whoever asks for a file gets this one.
fn window(document: Document, file: &Path, theme: Theme) -> Harness<'static, App> {
    let answer = PathAnswer::Chosen(file.to_path_buf());
    let mut harness = common::harness([1280.0, 800.0], theme).build_eframe(move |_creation| {
        let mut app = App::in_memory(document, now).with_prompt(ScriptedPathPrompt::new(vec![answer]));
        app.show(Pane::Trays);
        app
    });
    harness.run();
    harness
}

/// Waits until a file is written.
fn written(harness: &mut Harness<'_, App>, file: &Path) -> Vec<u8> {
    for _ in 0..500 {
        harness.step();
        if let Ok(bytes) = std::fs::read(file) {
            return bytes;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
    }
    panic!("nothing was written to {}", file.display());
}

#[test]
fn every_item_of_the_menu_writes_a_print() {
    let folder = tempfile::tempdir().unwrap();
    for (number, item) in [
        "Cloth map…",
        "Cloth map with ear numbers…",
        "Tray map…",
        "Laying list…",
        "Score sheet…",
        "Score sheet, blind…",
        "Retest list…",
    ]
    .into_iter()
    .enumerate()
    {
        let file = folder.path().join(format!("{number}.pdf"));
        let mut harness = window(two_trays(), &file, Theme::Light);
        press(&mut harness, "Print");
        press(&mut harness, item);
        let bytes = written(&mut harness, &file);
        assert!(bytes.starts_with(b"%PDF-"), "{item}");
        assert!(
            harness.query_by_role_and_label(Role::Button, item).is_none(),
            "the menu is closed"
        );
    }
}

#[test]
fn paper_and_tray_are_chosen_in_the_menu() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("map.pdf");
    let mut harness = window(two_trays(), &file, Theme::Dark);
    press(&mut harness, "Print");
    common::shot(&mut harness, "trays_print_menu_dark");
    harness.get_by_role_and_label(Role::RadioButton, "A4").click();
    harness.run();
    harness.get_by_role_and_label(Role::RadioButton, "Tray 1").click();
    harness.run();
    press(&mut harness, "Tray map…");
    let bytes = written(&mut harness, &file);
    let text = String::from_utf8_lossy(&bytes);
    // 210 mm by definition of ISO 216, in points.
    assert!(text.contains("595.2"), "the sheet is not A4");
    assert!(text.contains("/Count 1"), "not one page");
}

#[test]
fn the_menu_is_reached_and_used_by_the_keyboard() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("map.pdf");
    let mut harness = window(two_trays(), &file, Theme::Light);
    for button in ["Print", "Laying list…"] {
        let mut is_there = false;
        for _ in 0..120 {
            harness.key_press(Key::Tab);
            harness.run();
            if harness
                .get_by_role_and_label(Role::Button, button)
                .accesskit_node()
                .is_focused()
            {
                is_there = true;
                break;
            }
        }
        assert!(is_there, "'{button}' takes no keyboard");
        harness.key_press(Key::Enter);
        harness.run();
    }
    assert!(written(&mut harness, &file).starts_with(b"%PDF-"));
}

#[test]
fn the_menu_is_looked_at() {
    for (name, size, scale) in LOOKS {
        let mut harness = tray_sample::window(two_trays(), Pane::Trays, Theme::Light, size, scale);
        press(&mut harness, "Print");
        common::shot(&mut harness, &format!("trays_print_menu_{name}"));
        let screen = harness.ctx.content_rect();
        for item in ["Cloth map…", "Retest list…"] {
            let bounds = harness.get_by_role_and_label(Role::Button, item).rect();
            assert!(screen.contains_rect(bounds), "{name}: '{item}' at {bounds}");
        }
    }
}

#[test]
fn nothing_is_printed_of_a_test_that_is_not_recorded() {
    let harness = tray_sample::window(harvest(24), Pane::Trays, Theme::Light, [1280.0, 800.0], 1.0);
    let button = harness.get_by_role_and_label(Role::Button, "Print");
    assert!(button.accesskit_node().is_disabled());
}
