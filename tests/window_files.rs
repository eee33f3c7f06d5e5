//! Projects on disk as the window handles them: new, open, save, save as, close, second window, bad files.

#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod common;

use egui::accesskit::Role;
use egui::{Key, Modifiers, Theme, ViewportEvent, ViewportId};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::date;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};
use wintercrib::model::{About, Document, Project};
use wintercrib::store::project_file;
use wintercrib::ui::app::App;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

fn window(answers: Vec<PathAnswer>) -> Harness<'static, App> {
    let mut window = common::harness([1280.0, 800.0], Theme::Light).build_eframe(move |_creation| {
        let empty = Document::new(Project::new(About::new("DEMO empty", "none")));
        App::in_memory(empty, || date(2026, 11, 25).at(19, 0, 0, 0))
            .with_prompt(ScriptedPathPrompt::new(answers))
            .with_person("Grower A")
    });
    window.run();
    window
}

/// Begins a project through the dialog; the scripted prompt says where it goes.
fn begin(window: &mut Harness<'static, App>, name: &str) {
    window.key_press_modifiers(Modifiers::COMMAND, Key::N);
    window.run();
    window.get_by_label("Name of the population").type_text(name);
    window.run();
    window.get_by_label("Choose where it goes…").click();
    window.run();
    settle(window);
}

/// Runs frames until background work has been shown, however slow the machine is.
fn settle(window: &mut Harness<'static, App>) {
    let start = Instant::now();
    loop {
        std::thread::sleep(Duration::from_millis(10));
        window.step();
        let is_quiet = start.elapsed() > Duration::from_millis(400) && !window.state().is_busy();
        if is_quiet || start.elapsed() > Duration::from_mins(1) {
            break;
        }
    }
    window.step();
}

fn ask_to_close(window: &mut Harness<'static, App>) {
    window
        .input_mut()
        .viewports
        .entry(ViewportId::ROOT)
        .or_default()
        .events
        .push(ViewportEvent::Close);
    window.step();
}

fn read(path: &Path) -> Document {
    project_file::open(path, "test").unwrap().document
}

fn chosen(folder: &tempfile::TempDir, name: &str) -> (PathBuf, PathAnswer) {
    let path = folder.path().join(name);
    (path.clone(), PathAnswer::Chosen(path))
}

#[test]
fn a_new_project_is_on_disk_from_its_first_change() {
    let folder = tempfile::tempdir().unwrap();
    let (path, answer) = chosen(&folder, "tarn.ron");
    let mut window = window(vec![answer]);
    begin(&mut window, "DEMO Tarn");
    assert!(
        window
            .query_by_label_contains("All changes are on disk")
            .is_some()
    );
    assert_eq!(window.state().document().project().about.prefix.to_string(), "DT");
    drop(window);
    let document = read(&path);
    assert_eq!(document.project().about.name, "DEMO Tarn");
    assert!(
        document.project().season_of_year(2026).is_some(),
        "the season came back from the journal"
    );
    assert_eq!(document.undo_label(), Some("Begin season 2026"));
}

#[test]
fn saving_and_saving_as_keep_everything() {
    let folder = tempfile::tempdir().unwrap();
    let (first, answer) = chosen(&folder, "tarn.ron");
    let (second, other) = chosen(&folder, "copy.ron");
    let mut window = window(vec![answer, other]);
    begin(&mut window, "DEMO Tarn");
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    settle(&mut window);
    assert!(window.query_by_label_contains("Saved.").is_some());
    assert_eq!(window.state().document().unsaved_events(), 0);
    window.key_press_modifiers(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::S);
    settle(&mut window);
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut window);
    assert!(window.state().document().project().seasons.is_empty());
    drop(window);
    assert!(
        read(&second).project().seasons.is_empty(),
        "the work went on in the copy"
    );
    assert!(
        read(&first).project().season_of_year(2026).is_some(),
        "the first file stayed as it was saved"
    );
}

#[test]
fn closing_the_window_saves_first() {
    let folder = tempfile::tempdir().unwrap();
    let (path, answer) = chosen(&folder, "tarn.ron");
    let mut window = window(vec![answer]);
    begin(&mut window, "DEMO Tarn");
    assert!(window.state().document().unsaved_events() > 0);
    ask_to_close(&mut window);
    settle(&mut window);
    assert_eq!(window.state().document().unsaved_events(), 0);
    drop(window);
    assert!(std::fs::read_to_string(path).unwrap().contains("2026"));
}

#[test]
fn closing_a_project_without_a_file_asks() {
    let mut window = window(Vec::new());
    window.key_press_modifiers(Modifiers::COMMAND, Key::Num6);
    window.run();
    window
        .get_by_role_and_label(Role::TextInput, "Year of the harvest")
        .focus();
    window.run();
    window
        .get_by_role_and_label(Role::TextInput, "Year of the harvest")
        .type_text("2026");
    window.run();
    window.get_by_label("Begin the season").click();
    window.run();
    ask_to_close(&mut window);
    window.run();
    assert!(
        window
            .query_by_label_contains("is lost when the window closes")
            .is_some()
    );
    window.key_press(Key::Escape);
    window.run();
    assert!(
        window
            .query_by_label_contains("is lost when the window closes")
            .is_none(),
        "Escape stays"
    );
}

#[test]
fn a_second_window_reads_and_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (path, answer) = chosen(&folder, "tarn.ron");
    let mut first = window(vec![answer.clone()]);
    begin(&mut first, "DEMO Tarn");
    let mut second = window(vec![answer]);
    second.key_press_modifiers(Modifiers::COMMAND, Key::O);
    settle(&mut second);
    assert!(second.query_by_label_contains("Open for reading only").is_some());
    assert!(second.state().document().project().season_of_year(2026).is_some());
    second.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut second);
    assert!(second.state().document().project().season_of_year(2026).is_some());
    assert!(
        second
            .query_by_label_contains("Nothing can be changed here")
            .is_some()
    );
    common::shot(&mut second, "shell_read_only");
    drop(second);
    drop(first);
    assert!(read(&path).project().season_of_year(2026).is_some());
}

#[test]
fn a_file_that_is_no_project_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let (path, answer) = chosen(&folder, "tarn.ron");
    let (bad, bad_answer) = chosen(&folder, "bad.ron");
    let text = b"(format: 1, app: \"0.1.0\", project: (ears: 5))";
    std::fs::File::create(&bad).unwrap().write_all(text).unwrap();
    let mut window = window(vec![answer, bad_answer]);
    begin(&mut window, "DEMO Tarn");
    window.key_press_modifiers(Modifiers::COMMAND, Key::O);
    settle(&mut window);
    assert_eq!(window.state().document().project().about.name, "DEMO Tarn");
    assert!(!window.state().notices().shown().is_empty());
    common::shot(&mut window, "shell_bad_file");
    drop(window);
    assert_eq!(read(&path).project().about.name, "DEMO Tarn");
}

/// Opens a menu and presses an item of it.
fn choose(window: &mut Harness<'static, App>, menu: &str, item: &str) {
    common::press(window, menu);
    common::press(window, item);
    settle(window);
}

#[test]
fn an_earlier_save_is_restored_as_a_copy_beside_the_project() {
    let folder = tempfile::tempdir().unwrap();
    let (path, answer) = chosen(&folder, "tarn.ron");
    let (copy, copy_answer) = chosen(&folder, "earlier.ron");
    let mut window = window(vec![answer, copy_answer]);
    begin(&mut window, "DEMO Tarn");
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    settle(&mut window);
    let kept = wintercrib::store::backups::list(&path).unwrap();
    let old = kept[0].path.with_file_name("2026-02-03T20-15-00.ron");
    std::fs::rename(&kept[0].path, old).unwrap();
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run();
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    settle(&mut window);
    assert!(
        read(&path.with_file_name("tarn.ron"))
            .project()
            .seasons
            .is_empty()
    );
    choose(&mut window, "Project", "Earlier saves…");
    assert!(common::says(&window, "of each quarter of a year for ever"));
    common::shot(&mut window, "earlier_saves");
    common::press(&mut window, "Restore a copy of 2026-02-03 20:15…");
    settle(&mut window);
    assert!(common::says(&window, "An earlier save is open as a copy"));
    assert!(window.state().document().project().season_of_year(2026).is_some());
    drop(window);
    assert!(read(&copy).project().season_of_year(2026).is_some());
    assert!(
        read(&path).project().seasons.is_empty(),
        "the project stays as it was"
    );
}

#[test]
fn a_spoilt_project_offers_its_earlier_saves() {
    let folder = tempfile::tempdir().unwrap();
    let (path, answer) = chosen(&folder, "tarn.ron");
    let mut first = window(vec![answer.clone()]);
    begin(&mut first, "DEMO Tarn");
    first.key_press_modifiers(Modifiers::COMMAND, Key::S);
    settle(&mut first);
    drop(first);
    let whole = std::fs::read(&path).unwrap();
    std::fs::File::create(&path)
        .unwrap()
        .write_all(&whole[..whole.len() / 2])
        .unwrap();
    let mut window = window(vec![answer]);
    window.key_press_modifiers(Modifiers::COMMAND, Key::O);
    settle(&mut window);
    assert!(common::says(&window, "These earlier saves of it are kept."));
    common::shot(&mut window, "earlier_saves_of_a_spoilt_file");
}

#[test]
fn a_file_that_another_computer_changed_is_kept_beside_ours_and_compared() {
    let folder = tempfile::tempdir().unwrap();
    let (path, answer) = chosen(&folder, "tarn.ron");
    let mut window = window(vec![answer]);
    begin(&mut window, "DEMO Tarn");
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    settle(&mut window);
    // The folder is shared: another computer's file takes its place.
    let text = std::fs::read_to_string(&path).unwrap();
    let theirs = text.replace("year: 2026", "year: 2025");
    assert_ne!(theirs, text);
    std::fs::File::create(&path)
        .unwrap()
        .write_all(theirs.as_bytes())
        .unwrap();
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run();
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    settle(&mut window);
    assert!(common::says(&window, "There are two versions"));
    common::shot(&mut window, "two_versions");
    common::press(&mut window, "Keep both and compare");
    settle(&mut window);
    let ours = path.with_file_name("tarn-ours-2026-11-25T19-00.ron");
    assert!(common::says(&window, "Saved as"));
    assert!(common::says(
        &window,
        "What tarn.ron has and this project lacks: 1 season added."
    ));
    common::shot(&mut window, "two_versions_compared");
    common::press(&mut window, "Take over");
    assert!(common::says(
        &window,
        "Done: Take over from tarn.ron: 1 season added."
    ));
    assert!(common::says(&window, "The other copy says nothing new."));
    common::press(&mut window, "Close");
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    settle(&mut window);
    drop(window);
    assert_eq!(
        std::fs::read_to_string(&path).unwrap(),
        theirs,
        "theirs is untouched"
    );
    let ours = read(&ours);
    let years: Vec<i16> = ours.project().seasons.iter().map(|season| season.year).collect();
    assert_eq!(years, [2025], "and ours has what it lacked");
}
