//! A fault of the program itself: what was on the disk stays, a report lies beside the project, and the next opening tells
//! of it.
//!
//! The test starts this very test program again as a child that opens a project, changes it and panics.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

mod common;
mod store_sample;

use std::path::Path;
use std::process::{Command as Process, Output};

use common::{press, says, shot};
use egui::Theme;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use store_sample::{empty, harvest, stamp};
use wintercrib::model::{Command, Document};
use wintercrib::store::project_file::{self, Opened};
use wintercrib::store::{fault_report, lock};
use wintercrib::ui::app::App;

const PATH: &str = "WINTERCRIB_TEST_FAULT_PATH";

#[test]
#[ignore = "started by the other tests, in a process that panics"]
fn child() {
    let Ok(path) = std::env::var(PATH) else { return };
    let Opened {
        mut document, file, ..
    } = project_file::open(path.as_ref(), &lock::this_process()).unwrap();
    fault_report::now_open(Some(file.path()));
    fault_report::watch();
    let season = Command::AddSeason {
        year: 2027,
        planted: None,
    };
    document.run(&season, &stamp()).unwrap();
    file.flush(&mut document).unwrap();
    let work = || panic!("a slip of the pen");
    if std::env::var_os("WINTERCRIB_TEST_FAULT_ON_WORKER").is_some() {
        let worker = std::thread::Builder::new().name("worker".to_owned());
        assert!(worker.spawn(work).unwrap().join().is_err());
    } else {
        work();
    }
}

fn stopped(path: &Path, on_worker: bool) -> Output {
    let mut child = Process::new(std::env::current_exe().unwrap());
    child
        .args(["child", "--exact", "--ignored", "--nocapture"])
        .env(PATH, path);
    if on_worker {
        child.env("WINTERCRIB_TEST_FAULT_ON_WORKER", "1");
    }
    child.output().unwrap()
}

fn sample(path: &Path) {
    let Opened {
        mut document, file, ..
    } = project_file::create(path, empty(), "the test").unwrap();
    harvest(&mut document);
    file.save_job(&mut document).unwrap().run().unwrap();
}

fn window(path: &Path) -> Harness<'static, App> {
    let mut app = App::in_memory(Document::new(empty()), || {
        jiff::civil::date(2026, 11, 28).at(9, 0, 0, 0)
    });
    assert!(app.open_path(path));
    let mut window = common::harness([1280.0, 800.0], Theme::Light).build_eframe(|_| app);
    window.run();
    window
}

#[test]
fn a_fault_leaves_a_report_and_the_next_opening_tells_of_it_once() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    sample(&path);
    let ended = stopped(&path, false);
    assert!(!ended.status.success());
    let said = String::from_utf8(ended.stderr).unwrap();
    for part in [
        "A fault of the program stopped it",
        "a slip of the pen",
        "crib.ron.journal",
        "crib.ron.fault.txt",
    ] {
        assert!(said.contains(part), "'{part}' is not in {said}");
    }
    let report = std::fs::read_to_string(folder.path().join("crib.ron.fault.txt")).unwrap();
    for part in [
        "a slip of the pen",
        "tests/crash_fault.rs",
        "Version 0.1.0",
        "crash_fault::child",
    ] {
        assert!(report.contains(part), "'{part}' is not in {report}");
    }
    // While it is told, nothing else of the window is drawn.
    let mut told = window(&path);
    assert!(says(&told, "The program stopped by a fault of its own"));
    assert!(says(&told, "crib.ron.fault-told.txt"));
    assert!(told.query_by_label("Harvest").is_none());
    shot(&mut told, "stopped_by_a_fault");
    press(&mut told, "Take back: Begin season 2027");
    told.run();
    let project = told.state().document().project();
    assert!(
        project.season_of_year(2027).is_none(),
        "the last step is taken back"
    );
    assert!(project.season_of_year(2026).is_some());
    assert!(told.query_by_label("Harvest").is_some());
    drop(told);
    assert!(!says(&window(&path), "The program stopped by a fault of its own"));
}

#[test]
fn a_spoilt_last_step_leaves_the_earlier_saves() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    sample(&path);
    stopped(&path, false);
    let mut told = window(&path);
    press(&mut told, "Earlier saves…");
    told.run();
    assert!(says(&told, "of each quarter of a year for ever"));
}

#[test]
fn a_fault_beside_the_window_says_that_the_work_goes_on() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    sample(&path);
    let ended = stopped(&path, true);
    assert!(ended.status.success());
    let said = String::from_utf8(ended.stderr).unwrap();
    assert!(
        said.contains("A fault of the program ended a piece of work"),
        "{said}"
    );
    assert!(said.contains("Nothing of your project is touched"), "{said}");
    assert!(folder.path().join("crib.ron.fault-beside.txt").is_file());
    assert!(!says(&window(&path), "The program stopped by a fault of its own"));
}
