//! The log, the data package, the packed copy and the passport table through the window.

#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod common;

use common::{fill, says};
use egui::{Key, Modifiers, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::date;
use std::path::Path;
use std::time::{Duration, Instant};
use wintercrib::demo;
use wintercrib::model::{Command, Document, EarEdit, EarField, EarValue, Stamp};
use wintercrib::store::{format, project_file};
use wintercrib::ui::app::App;
use wintercrib::ui::user_actions::UserAction;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

fn window(path: &Path, theme: Theme, answers: Vec<PathAnswer>) -> Harness<'static, App> {
    let path = path.to_path_buf();
    let mut window = common::harness([1280.0, 800.0], theme).build_eframe(move |_creation| {
        let mut app = App::in_memory(Document::new(demo::make("pocket-starter").unwrap()), || {
            date(2026, 3, 1).at(19, 0, 0, 0)
        })
        .with_prompt(ScriptedPathPrompt::new(answers))
        .with_person("Grower A");
        assert!(app.open_path(&path));
        app
    });
    window.run();
    window
}

/// A project file with two changes in its journal.
fn worked_on(path: &Path) {
    let mut opened = project_file::create(path, demo::make("pocket-starter").unwrap(), "test").unwrap();
    let ears: Vec<_> = opened.document.project().ears.iter().map(|ear| ear.id).collect();
    for (at, note) in [(0, "mice were here"), (4, "husk tight")] {
        let edit = EarEdit {
            ear: ears[at],
            field: EarField::Note,
            value: EarValue::Text(note.to_owned()),
        };
        let stamp = Stamp {
            at: date(2026, 2, 20).at(18, at as i8, 0, 0),
            by: "Helper B".to_owned(),
        };
        opened
            .document
            .run(&Command::EditEars(vec![edit]), &stamp)
            .unwrap();
    }
    opened.file.flush(&mut opened.document).unwrap();
}

fn perform(window: &mut Harness<'static, App>, action: UserAction) {
    let ctx = window.ctx.clone();
    window.state_mut().perform(&ctx, action);
    window.run();
}

fn settle(window: &mut Harness<'static, App>) {
    let start = Instant::now();
    while window.state().is_busy() && start.elapsed() < Duration::from_mins(1) {
        std::thread::sleep(Duration::from_millis(10));
        window.step();
    }
    window.run();
}

#[test]
fn the_log_is_searched_by_words_and_by_ear() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pocket.ron");
    worked_on(&path);
    for (theme, name) in [(Theme::Light, "log-light"), (Theme::Dark, "log-dark")] {
        let mut window = window(&path, theme, Vec::new());
        perform(&mut window, UserAction::Log);
        assert!(
            says(&window, "note: nothing → mice were here") && says(&window, "note: nothing → husk tight")
        );
        assert!(says(&window, "2026-02-20 18:04   Helper B"));
        common::shot(&mut window, name);
        fill(&mut window, "Words", "MICE helper");
        assert!(says(&window, "mice were here") && !says(&window, "husk tight"));
        assert!(says(&window, "1 of 2 lines"));
        fill(&mut window, "Words", "oats");
        assert!(says(&window, "No line has these words."));
        fill(&mut window, "Words", " ");
        fill(&mut window, "Ear number", "5");
        assert!(says(&window, "husk tight") && !says(&window, "mice were here"));
        window.key_press_modifiers(Modifiers::NONE, Key::Escape);
        window.run();
        assert!(!says(&window, "husk tight"));
    }
}

#[test]
fn a_project_goes_out_as_a_package_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pocket.ron");
    worked_on(&path);
    let (package, again) = (folder.path().join("tables"), folder.path().join("again.ron"));
    let answers = [&package, &package, &again, &package];
    let answers = answers.map(|path| PathAnswer::Chosen(path.clone())).to_vec();
    let mut window = window(&path, Theme::Light, answers);
    perform(&mut window, UserAction::SavePackage);
    settle(&mut window);
    assert!(
        package.join("datapackage.json").is_file(),
        "{:?}",
        window.state().notices()
    );
    let before = window.state().document().project().clone();
    perform(&mut window, UserAction::OpenPackage);
    settle(&mut window);
    assert!(again.is_file(), "{:?}", window.state().notices());
    assert_eq!(window.state().document().project(), &before);
    let written = format::read(&std::fs::read(&again).unwrap()).unwrap();
    assert_eq!(written, before);
    // A package that was spoilt is told by its line, and nothing is taken.
    let ears = std::fs::read_to_string(package.join("ears.csv")).unwrap();
    let spoilt = ears.replacen("\r\n1,", "\r\none,", 1);
    std::fs::remove_file(package.join("ears.csv")).unwrap();
    std::io::Write::write_all(
        &mut std::fs::File::create(package.join("ears.csv")).unwrap(),
        spoilt.as_bytes(),
    )
    .unwrap();
    perform(&mut window, UserAction::OpenPackage);
    settle(&mut window);
    let notices = format!("{:?}", window.state().notices());
    assert!(notices.contains("ears.csv, line 2, column 'id'"), "{notices}");
}

#[test]
fn a_project_is_packed_and_opens_in_another_folder() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pocket.ron");
    worked_on(&path);
    let (zip, moved) = (folder.path().join("pocket.zip"), folder.path().join("moved"));
    let other = folder.path().join("other");
    let answers = [&zip, &zip, &moved, &zip, &moved, &path, &other];
    let answers = answers.map(|path| PathAnswer::Chosen(path.clone())).to_vec();
    let mut window = window(&path, Theme::Light, answers);
    let before = window.state().document().project().clone();
    perform(&mut window, UserAction::SavePacked);
    settle(&mut window);
    assert!(zip.is_file(), "{:?}", window.state().notices());
    perform(&mut window, UserAction::OpenPacked);
    settle(&mut window);
    let opened = format!("Unpacked and opened: {}.", moved.join("pocket.ron").display());
    let notices = format!("{:?}", window.state().notices());
    assert!(notices.contains(&opened), "{notices}");
    assert_eq!(window.state().document().project(), &before);
    // Where something is, and where no zip is, nothing is written and the project stays open.
    for sentence in [
        "There is something of this name already. Choose another name:",
        "Nothing was unpacked: this is not a zip. Choose a packed copy of a project:",
    ] {
        perform(&mut window, UserAction::OpenPacked);
        settle(&mut window);
        let notices = format!("{:?}", window.state().notices());
        assert!(notices.contains(sentence), "{notices}");
    }
    assert!(!other.exists());
    assert_eq!(window.state().document().project(), &before);
}

#[test]
fn photos_that_are_not_in_a_packed_copy_are_told() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("filled.ron");
    std::io::Write::write_all(
        &mut std::fs::File::create(&path).unwrap(),
        include_bytes!("data/filled.ron"),
    )
    .unwrap();
    let zip = folder.path().join("filled.zip");
    let mut window = window(&path, Theme::Dark, vec![PathAnswer::Chosen(zip.clone())]);
    perform(&mut window, UserAction::SavePacked);
    settle(&mut window);
    assert!(zip.is_file());
    let notices = format!("{:?}", window.state().notices());
    assert!(
        notices.contains("not in the packed copy.") && notices.contains("is missing"),
        "{notices}"
    );
}

#[test]
fn the_passport_table_is_saved_from_the_menu() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("pocket.ron");
    worked_on(&path);
    let table = folder.path().join("passport.csv");
    let mut window = window(&path, Theme::Light, vec![PathAnswer::Chosen(table.clone())]);
    common::press(&mut window, "Project");
    window.run();
    common::shot(&mut window, "project-menu");
    window.get_by_label_contains("Save a passport table…").click();
    window.run();
    settle(&mut window);
    let text = std::fs::read_to_string(&table).unwrap();
    assert!(
        text.starts_with("PUID,INSTCODE,") && text.contains(",Zea,mays,maize,"),
        "{text}"
    );
}
