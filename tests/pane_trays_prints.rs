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
    tested(40)
}

/// A season of so many ears, designed and not laid.
fn tested(ears: u32) -> Document {
    let mut document = harvest(ears);
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

/// A window that makes files beside itself, as the program does, at a test large enough to be seen at work.
fn window_with_worker(answers: Vec<PathAnswer>) -> Harness<'static, App> {
    let document = tested(3_000);
    let mut harness = common::harness([1280.0, 800.0], Theme::Light).build_eframe(move |creation| {
        let mut app = App::in_memory(document, now)
            .with_prompt(ScriptedPathPrompt::new(answers))
            .with_worker(&creation.egui_ctx);
        app.show(Pane::Trays);
        app
    });
    harness.run();
    harness
}

/// Has prints made without a look at them first.
fn at_once(harness: &mut Harness<'_, App>) {
    let look = harness.get_by_role_and_label(Role::CheckBox, "Look at it first");
    if look.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True) {
        look.click();
        harness.run_steps(2);
    }
}

/// Asks for a print, and gives the window as it is while the print is being made.
fn begin(harness: &mut Harness<'_, App>, item: &str) {
    harness.get_by_role_and_label(Role::Button, "Print").click();
    harness.run_steps(2);
    at_once(harness);
    harness.get_by_role_and_label(Role::Button, item).click();
    harness.run_steps(3);
}

/// Steps until the window says a part of a sentence.
fn wait_for(harness: &mut Harness<'_, App>, part: &str) {
    for _ in 0..3_000 {
        if common::says(harness, part) {
            return;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
        harness.step();
    }
    panic!("the window never says '{part}'");
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
        at_once(&mut harness);
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
fn the_window_goes_on_while_a_print_is_made() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("list.pdf");
    let mut harness = window_with_worker(vec![PathAnswer::Chosen(file.clone())]);
    begin(&mut harness, "Laying list…");
    wait_for(&mut harness, "Making list.pdf:");
    assert!(!file.exists(), "nothing is there before it is whole");
    common::shot(&mut harness, "trays_print_being_made");
    // Another pane is shown and used meanwhile.
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Num1);
    harness.run_steps(2);
    assert!(
        common::says(&harness, "Making list.pdf:"),
        "it was made before the other pane was drawn"
    );
    wait_for(&mut harness, "Written:");
    let bytes = std::fs::read(&file).unwrap();
    assert!(bytes.starts_with(b"%PDF-") && bytes.trim_ascii_end().ends_with(b"%%EOF"));
    assert!(!common::says(&harness, "Making"));
}

#[test]
fn a_print_is_stopped_and_leaves_nothing_behind() {
    let folder = tempfile::tempdir().unwrap();
    let [file, other] = ["list.pdf", "other.pdf"].map(|name| folder.path().join(name));
    let answers = [&file, &other].map(|file| PathAnswer::Chosen(file.clone()));
    let mut harness = window_with_worker(answers.to_vec());
    begin(&mut harness, "Laying list…");
    wait_for(&mut harness, "Making list.pdf:");
    harness.get_by_role_and_label(Role::Button, "Stop").click();
    harness.run_steps(2);
    wait_for(&mut harness, "list.pdf was stopped; nothing was written.");
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 0);
    // The next one is made.
    begin(&mut harness, "Cloth map…");
    wait_for(&mut harness, "Written:");
    assert!(other.exists());
}

#[test]
fn a_print_that_cannot_be_written_is_named_and_the_next_one_is_made() {
    let folder = tempfile::tempdir().unwrap();
    let nowhere = folder.path().join("no such folder").join("map.pdf");
    let file = folder.path().join("map.pdf");
    let answers = [&nowhere, &file].map(|file| PathAnswer::Chosen(file.clone()));
    let mut harness = window_with_worker(answers.to_vec());
    begin(&mut harness, "Cloth map…");
    wait_for(&mut harness, "Check that the folder is still there");
    assert!(!common::says(&harness, "Written:"));
    begin(&mut harness, "Cloth map…");
    wait_for(&mut harness, "Written:");
    assert!(file.exists());
}

#[test]
fn the_window_closes_when_a_print_is_whole() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("list.pdf");
    let project = folder.path().join("tarn.ron");
    let answers = [project, file.clone()].map(PathAnswer::Chosen);
    let mut harness = window_with_worker(answers.to_vec());
    harness.key_press_modifiers(egui::Modifiers::COMMAND.plus(egui::Modifiers::SHIFT), Key::S);
    harness.run_steps(2);
    wait_for(&mut harness, "Saved as");
    begin(&mut harness, "Laying list…");
    wait_for(&mut harness, "Making list.pdf:");
    let root = egui::ViewportId::ROOT;
    let viewports = &mut harness.input_mut().viewports;
    viewports
        .entry(root)
        .or_default()
        .events
        .push(egui::ViewportEvent::Close);
    harness.step();
    let commands = |harness: &Harness<'_, App>| {
        let output = harness.output().viewport_output.get(&root);
        output.map_or_else(Vec::new, |output| output.commands.clone())
    };
    assert!(commands(&harness).contains(&egui::ViewportCommand::CancelClose));
    assert!(!file.exists());
    let closes = (0..3_000).any(|_| {
        std::thread::sleep(std::time::Duration::from_millis(10));
        harness.step();
        commands(&harness).contains(&egui::ViewportCommand::Close)
    });
    assert!(closes && file.exists(), "it closes, and the file is whole");
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
    at_once(&mut harness);
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
    for button in ["Print", "Laying list…", "Print to a PDF file…"] {
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
