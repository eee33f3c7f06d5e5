//! Killing the program at any moment: every acknowledged edit is there afterwards, and at most one more.
//!
//! The tests start this very test program again as a child that edits and saves a project, and kill it.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

mod store_sample;

use std::io::{BufRead as _, BufReader, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command as Process, Stdio};
use std::sync::Arc;
use std::time::Duration;

use store_sample::{empty, harvest, note};
use wintercrib::jobs::Worker;
use wintercrib::model::Document;
use wintercrib::store::project_file::{self, Opened};
use wintercrib::store::{format, lock};

const EARS: u32 = 12;

/// Environment variables that tell the child what to do.
const PATH: &str = "WINTERCRIB_TEST_CRASH_PATH";
const HOW: &str = "WINTERCRIB_TEST_CRASH_HOW";
const FIRST: &str = "WINTERCRIB_TEST_CRASH_FIRST";

/// Edit `number` writes its number into the note of one ear.
fn edit(document: &mut Document, number: u32) {
    note(document, number % EARS + 1, &format!("edit {number}"));
}

/// The notes of all ears after the edits 1 to `last`.
fn notes_after(last: u32) -> Vec<String> {
    let mut document = Document::new(empty());
    harvest(&mut document);
    (1..=last).for_each(|number| edit(&mut document, number));
    notes(&document)
}

fn notes(document: &Document) -> Vec<String> {
    document
        .project()
        .ears
        .iter()
        .map(|ear| ear.note.clone())
        .collect()
}

/// The child: edits until it is killed, and says `ack N` when edit N is on the disk.
#[test]
#[ignore = "started by the other tests, in a process that they kill"]
fn child() {
    let Ok(path) = std::env::var(PATH) else { return };
    let how = std::env::var(HOW).unwrap();
    let first: u32 = std::env::var(FIRST).unwrap().parse().unwrap();
    let Opened {
        mut document, file, ..
    } = project_file::open(path.as_ref(), &lock::this_process()).unwrap();
    assert_eq!(file.read_only(), None);
    let mut worker = Worker::new("saver", Arc::new(|| {})).unwrap();
    for number in first.. {
        edit(&mut document, number);
        file.flush(&mut document).unwrap();
        println!("ack {number}");
        std::io::stdout().flush().unwrap();
        match how.as_str() {
            "edit" => {}
            "save" => file
                .save_job(&mut document)
                .unwrap()
                .run()
                .unwrap()
                .tell(&mut document),
            "save beside" => {
                while let Some(done) = worker.poll() {
                    let wintercrib::jobs::Outcome::Finished(saved) = done.outcome else {
                        panic!("{done:?}")
                    };
                    let saved: Result<project_file::Saved, project_file::StoreFault> = saved;
                    saved.unwrap().tell(&mut document);
                }
                if worker.pending() == 0 {
                    let job = file.save_job(&mut document).unwrap();
                    worker.submit("save", move |_| job.run());
                }
            }
            other => panic!("no such way: {other}"),
        }
    }
}

/// Runs a child until it has acknowledged `acks` edits and `pause` has passed, kills it, and gives the last
/// acknowledged edit: also those that it still wrote into the pipe before it died.
fn run_and_kill(path: &Path, how: &str, first: u32, acks: u32, pause: Duration) -> u32 {
    let mut child = Process::new(std::env::current_exe().unwrap())
        .args(["child", "--exact", "--ignored", "--nocapture"])
        .env(PATH, path)
        .env(HOW, how)
        .env(FIRST, first.to_string())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let mut last = first - 1;
    let mut killed = false;
    while let Some(line) = lines.next().transpose().unwrap() {
        // The test harness writes its own words before the first one.
        if let Some((_, number)) = line.split_once("ack ") {
            last = number.parse().unwrap();
        }
        if !killed && last >= first + acks - 1 {
            std::thread::sleep(pause);
            child.kill().unwrap();
            killed = true;
        }
    }
    child.wait().unwrap();
    assert!(killed, "the child ended by itself after edit {last}");
    last
}

fn kill_again_and_again(how: &str, rounds: u32) {
    let folder = tempfile::tempdir().unwrap();
    let path: PathBuf = folder.path().join("crib.ron");
    let Opened {
        mut document, file, ..
    } = project_file::create(&path, empty(), "the test").unwrap();
    harvest(&mut document);
    file.save_job(&mut document).unwrap().run().unwrap();
    drop(file);
    let mut first = 1;
    for round in 0..rounds {
        let pause = Duration::from_micros(u64::from(round) * 370 % 5000);
        let acknowledged = run_and_kill(&path, how, first, 1 + round % 4, pause);
        let bytes = std::fs::read(&path).unwrap();
        format::read(&bytes).unwrap_or_else(|fault| panic!("round {round}: {fault}"));

        let opened = project_file::open(&path, "the test").unwrap();
        assert_eq!(opened.file.read_only(), None, "a killed process leaves no lock");
        assert_eq!(opened.problems, []);
        let found = notes(&opened.document);
        let kept = if found == notes_after(acknowledged) {
            acknowledged
        } else {
            assert_eq!(
                found,
                notes_after(acknowledged + 1),
                "round {round}, edit {acknowledged}: {:?}",
                opened.notes
            );
            acknowledged + 1
        };
        assert!(
            !opened.notes.iter().any(|note| note.contains("something else")),
            "{:?}",
            opened.notes
        );
        let name =
            |entry: std::io::Result<std::fs::DirEntry>| entry.unwrap().file_name().into_string().unwrap();
        let left: Vec<String> = std::fs::read_dir(folder.path()).unwrap().map(name).collect();
        assert!(
            !left.iter().any(|name| name.contains(".writing-")),
            "opening clears up: {left:?}"
        );
        assert!(!left.iter().any(|name| name.contains("set-aside")), "{left:?}");
        first = kept + 1;
    }
    assert!(first > rounds, "every round made at least one edit");
}

#[test]
fn killed_between_edits() {
    kill_again_and_again("edit", 16);
}

#[test]
fn killed_while_saving_after_every_edit() {
    kill_again_and_again("save", 16);
}

#[test]
fn killed_while_a_save_runs_beside_the_edits() {
    kill_again_and_again("save beside", 16);
}
