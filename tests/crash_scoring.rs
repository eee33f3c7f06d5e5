//! Killing the program at any moment while a tray is typed in its window: at most the cell in hand is lost, and of a score
//! sheet that is typed at most the row in hand.
//!
//! The tests start this very test program again as a child that opens a project file in a window and types, and kill it.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

mod common;
mod scoring_keys;
mod tray_sample;

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::Path;
use std::process::{Command as Process, Stdio};
use std::time::Duration;

use common::{fill, press, says};
use egui::{Key, Theme};
use egui_kittest::Harness;
use scoring_keys::{answer, cells, keys, laid, project, score, tally};
use tray_sample::now;
use wintercrib::model::{Cell, Count, Document, Tally};
use wintercrib::store::{format, project_file};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

/// Environment variables that tell the child what to do.
const PATH: &str = "WINTERCRIB_TEST_SCORING_PATH";
const HOW: &str = "WINTERCRIB_TEST_SCORING_HOW";

/// What is typed for the cells, in turn, and what it means.
fn script(at: usize) -> (&'static str, Tally, Option<u8>) {
    let script = [
        ("8*7", tally(8, 0, 0, 2), Some(7)),
        ("81*6", tally(8, 1, 0, 1), Some(6)),
        ("108", tally(10, 0, 0, 0), Some(8)),
        ("621*5", tally(6, 2, 1, 1), Some(5)),
        ("10E", tally(10, 0, 0, 0), None),
        // A wrong key, taken back.
        ("9-7*4", tally(7, 0, 0, 3), Some(4)),
    ];
    script[at % script.len()]
}

fn acknowledge(window: &Harness<'_, App>) {
    println!("ack {}", project(window).counts.len());
    std::io::stdout().flush().unwrap();
}

/// Presses one key and says how many counts are on the disk by then.
fn one_key(window: &mut Harness<'_, App>, key: char) {
    keys(window, &key.to_string());
    acknowledge(window);
}

fn type_cells(window: &mut Harness<'_, App>) {
    while project(window).counts.len() < cells(project(window)).len() {
        while says(window, "Is it blank?") || says(window, "Read back the last cell") {
            one_key(window, 'E');
        }
        for key in script(project(window).counts.len()).0.chars() {
            one_key(window, key);
        }
    }
}

fn type_rows(window: &mut Harness<'_, App>) {
    press(window, "Options");
    press(window, "Type a score sheet…");
    window.run_steps(4);
    fill(window, "Day", "2026-11-30");
    window.key_press(Key::Enter);
    window.run_steps(6);
    let all = cells(project(window));
    loop {
        let begun = project(window).counts.len();
        let Some(first) = all.get(begun) else { return };
        let row = all
            .iter()
            .filter(|cell| (cell.tray, cell.row) == (first.tray, first.row));
        let mut sums = [0; 4];
        for at in begun..begun + row.count() {
            let (text, tally, _) = script(at);
            let parts = [tally.strong, tally.weak, tally.abnormal, tally.dead];
            for (sum, part) in sums.iter_mut().zip(parts) {
                *sum += part;
            }
            text.chars().for_each(|key| one_key(window, key));
        }
        let [strong, weak, abnormal, dead] = sums;
        for key in format!("{strong}+{weak}+{abnormal}+{dead}E").chars() {
            one_key(window, key);
        }
        assert!(project(window).counts.len() > begun, "the total agrees");
    }
}

/// The child: types until it is killed or all is typed.
#[test]
#[ignore = "started by the other tests, in a process that they kill"]
fn child() {
    let Ok(path) = std::env::var(PATH) else { return };
    let mut window = common::harness([1280.0, 800.0], Theme::Light).build_eframe(move |creation| {
        let mut app = App::start(creation, Some(Path::new(&path)), now);
        app.show(Pane::Scoring);
        app
    });
    window.run_steps(4);
    acknowledge(&window);
    match std::env::var(HOW).unwrap().as_str() {
        "cells" => type_cells(&mut window),
        "rows" => type_rows(&mut window),
        other => panic!("no such way: {other}"),
    }
    // All is typed: the window stands there until it is killed.
    for _ in 0..10_000 {
        acknowledge(&window);
        std::thread::sleep(Duration::from_millis(5));
    }
}

/// Runs a child until it has pressed so many keys and `pause` has passed, kills it, and gives how many counts it has
/// acknowledged: also those that it still wrote into the pipe before it died.
fn run_and_kill(path: &Path, how: &str, presses: usize, pause: Duration) -> usize {
    let mut child = Process::new(std::env::current_exe().unwrap())
        .args(["child", "--exact", "--ignored", "--nocapture"])
        .env(PATH, path)
        .env(HOW, how)
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let (mut pressed, mut acknowledged, mut killed) = (0, 0, false);
    while let Some(line) = lines.next().transpose().unwrap() {
        // The test harness writes its own words before the first one.
        if let Some((_, number)) = line.split_once("ack ") {
            acknowledged = number.parse().unwrap();
            pressed += 1;
        }
        if !killed && pressed > presses {
            std::thread::sleep(pause);
            child.kill().unwrap();
            killed = true;
        }
    }
    child.wait().unwrap();
    assert!(killed, "the child ended by itself after {pressed} keys");
    acknowledged
}

fn put(path: &Path, document: &Document) {
    let text = format::write(document.project()).unwrap();
    std::fs::File::create(path)
        .unwrap()
        .write_all(text.as_bytes())
        .unwrap();
}

/// Checks that the counts are those of the first cells, each whole.
fn check(document: &Document, all: &[Cell], round: usize) {
    let found: Vec<&Count> = document.project().counts.iter().collect();
    for (at, count) in found.iter().enumerate() {
        let (_, tally, vigor) = script(at);
        assert_eq!(count.cell, all[at].id, "round {round}, count {at}");
        assert_eq!(
            (count.tally, count.vigor),
            (tally, vigor),
            "round {round}, count {at}"
        );
    }
}

/// Kills a child in each round, and opens what it left; `most` cells may be on the disk beyond those acknowledged.
fn kill_again_and_again(how: &str, rounds: usize, most: impl Fn(&[Cell], usize) -> usize) {
    let folder = tempfile::tempdir().unwrap();
    let mut path = folder.path().join("crib.ron");
    let document = laid(24);
    let all = cells(document.project());
    put(&path, &document);
    let (mut counted, mut lost_keys) = (0, 0);
    // A fixed sequence that looks like chance (a linear congruential generator), so that a failure can be repeated.
    let mut chance: u64 = 20_261_201;
    let mut draw = |below: u64| {
        chance = chance
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (chance >> 33) % below
    };
    for round in 0..rounds {
        let presses = 1 + draw(if how == "rows" { 60 } else { 14 }) as usize;
        let pause = Duration::from_micros(draw(25_000));
        let acknowledged = run_and_kill(&path, how, presses, pause);
        let opened = project_file::open(&path, "the test").unwrap();
        assert_eq!(opened.file.read_only(), None, "a killed process leaves no lock");
        assert_eq!(opened.problems, []);
        check(&opened.document, &all, round);
        let found = opened.document.project().counts.len();
        assert!(
            (acknowledged..=acknowledged + most(&all, acknowledged)).contains(&found),
            "round {round}: {acknowledged} counts were said to be on the disk, and {found} are"
        );
        assert!(found >= counted, "round {round}: what was there is gone");
        lost_keys += usize::from(found == counted);
        counted = found;
        drop(opened);
        if counted == all.len() {
            path = folder.path().join(format!("crib-{round}.ron"));
            put(&path, &document);
            counted = 0;
        }
    }
    assert!(lost_keys < rounds, "some cells were counted");
}

#[test]
fn killed_after_any_key_while_a_tray_is_typed() {
    kill_again_and_again("cells", 32, |_, _| 1);
}

#[test]
fn killed_after_any_key_while_a_score_sheet_is_typed() {
    let in_row = |all: &[Cell], counted: usize| {
        let row = all.get(counted).map(|cell| (cell.tray, cell.row));
        all.iter()
            .filter(|cell| Some((cell.tray, cell.row)) == row)
            .count()
    };
    kill_again_and_again("rows", 10, in_row);
}

const _: () = {
    let _: fn(&mut Harness<'_, App>, &str) -> usize = score;
    let _: fn(&mut Harness<'_, App>) -> usize = answer;
};
