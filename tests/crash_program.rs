//! The program itself, killed or refused by the system at any moment: everything that it said is on the disk is there
//! afterwards, and at most the one change that it was about to say.
//!
//! `wintercrib replay FILE --journal -` takes changes from its standard input and says `N on disk` after each, as the foot
//! of the window does. Two ways to stop it: a kill after a random time, again and again; and, under `strace`, a kill or an
//! error at every single call of the system that touches files.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

mod dice;
mod store_sample;

use std::io::{Read as _, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command as Process, Stdio};
use std::sync::{Arc, mpsc};
use std::thread::JoinHandle;
use std::time::Duration;

use dice::Dice;
use store_sample::{empty, harvest, note, put, stamp};
use tempfile::TempDir;
use wintercrib::model::{Document, Project};
use wintercrib::store::project_file::{self, Opened};
use wintercrib::store::{digest_hex, format};

/// Ears of the sample.
const EARS: u32 = 12;

/// A project on the disk, the journal lines of changes to it, and what it is after each of them.
struct Work {
    folder: TempDir,
    /// Lines as the program keeps them, with their checksums.
    lines: Vec<String>,
    /// What the project is after so many of them.
    states: Vec<Arc<Project>>,
}

impl Work {
    /// Makes `changes` changes to notes and ears, every seventh taken back and done again.
    fn new(changes: u32) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let made = folder.path().join("made.ron");
        let Opened {
            mut document, file, ..
        } = project_file::create(&made, empty(), "the test").unwrap();
        harvest(&mut document);
        let mut states = Vec::new();
        file.save_job(&mut document)
            .unwrap()
            .run()
            .unwrap()
            .tell(&mut document);
        states.push(document.snapshot());
        // The project is read back, so that it does not share its journal with the one that is made here.
        std::fs::copy(&made, folder.path().join("crib.ron")).unwrap();
        let before = journal_lines(&made).len();
        for number in 1..=changes {
            match number % 7 {
                5 => {
                    document.undo(&stamp()).unwrap().unwrap();
                }
                6 => {
                    document.redo(&stamp()).unwrap().unwrap();
                }
                _ => edit(&mut document, number),
            }
            file.flush(&mut document).unwrap();
            states.push(document.snapshot());
        }
        let lines = journal_lines(&made).split_off(before);
        assert_eq!(lines.len(), changes as usize);
        Self {
            folder,
            lines,
            states,
        }
    }

    fn path(&self) -> PathBuf {
        self.folder.path().join("crib.ron")
    }

    /// Opens the project and says how many changes it has: those that were said to be on the disk, or one more.
    fn found(&self, said: usize, how: &str) -> usize {
        let bytes = std::fs::read(self.path()).unwrap();
        format::read(&bytes).unwrap_or_else(|fault| panic!("{how}: {fault}"));
        let opened = project_file::open(&self.path(), "the test").unwrap();
        assert_eq!(
            opened.file.read_only(),
            None,
            "{how}: a killed process leaves no lock"
        );
        assert_eq!(opened.problems, [], "{how}");
        let strange = opened.notes.iter().find(|note| note.contains("something else"));
        assert_eq!(strange, None, "{how}");
        let found = opened.document.snapshot();
        let left: Vec<String> = std::fs::read_dir(self.folder.path())
            .unwrap()
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .filter(|name| name.contains(".writing-") || name.contains("set-aside"))
            .collect();
        assert!(left.is_empty(), "{how}: opening clears up: {left:?}");
        [said, said + 1]
            .into_iter()
            .find(|&number| self.states.get(number).is_some_and(|state| **state == *found))
            .unwrap_or_else(|| panic!("{how}: after {said} changes: {:?}", opened.notes))
    }
}

fn edit(document: &mut Document, number: u32) {
    note(document, number % EARS + 1, &format!("edit {number}"));
}

fn journal_lines(project: &Path) -> Vec<String> {
    let text = std::fs::read_to_string(project.with_extension("ron.journal")).unwrap();
    text.lines().map(str::to_owned).collect()
}

/// The last change that was said to be on the disk.
fn last_said(output: &str) -> usize {
    let whole = output.rsplit_once('\n').map_or("", |(whole, _half)| whole);
    whole
        .lines()
        .filter_map(|line| line.strip_suffix(" on disk"))
        .next_back()
        .map_or(0, |number| number.parse().unwrap())
}

/// What a killed program left, looked at before anybody clears up.
#[derive(Debug, Default)]
struct Left {
    /// A temporary file: killed while a save wrote it.
    temporary: u32,
    /// A mark of a save whose file is not there yet: killed between the mark and the replacement.
    marked: u32,
    /// A line without an end: killed while it wrote the journal.
    half_line: u32,
    /// Changes that the file lacks.
    behind: u32,
    /// Nothing was said yet.
    silent: u32,
    /// A change was on the disk and not said yet.
    one_more: u32,
}

impl Left {
    fn look(&mut self, project: &Path) {
        let names = std::fs::read_dir(project.parent().unwrap()).unwrap();
        let names: Vec<String> = names
            .map(|entry| entry.unwrap().file_name().into_string().unwrap())
            .collect();
        self.temporary += u32::from(names.iter().any(|name| name.contains(".writing-")));
        let Ok(journal) = std::fs::read_to_string(project.with_extension("ron.journal")) else {
            return;
        };
        self.half_line += u32::from(!journal.is_empty() && !journal.ends_with('\n'));
        let digest = digest_hex(&std::fs::read(project).unwrap());
        let last_mark = journal.lines().rfind(|line| line.contains(" Mark("));
        self.marked += u32::from(last_mark.is_some_and(|mark| !mark.contains(&digest)));
        self.behind += u32::from(
            journal
                .lines()
                .next_back()
                .is_some_and(|line| !line.contains(" Mark(")),
        );
    }
}

/// Does something on a thread of its own.
fn beside<T: Send + 'static>(name: &str, work: impl FnOnce() -> T + Send + 'static) -> JoinHandle<T> {
    std::thread::Builder::new()
        .name(name.to_owned())
        .spawn(work)
        .unwrap()
}

#[test]
fn killed_a_thousand_times() {
    const ROUNDS: u32 = 1_000;
    const CHANGES: u32 = 400;
    let mut dice = Dice(rand_pcg::Pcg64::new(20_261_128, 1));
    let (mut left, mut said_in_all, mut rounds) = (Left::default(), 0, 0);
    while rounds < ROUNDS {
        let work = Work::new(CHANGES);
        let mut at = 0;
        while at < work.lines.len() && rounds < ROUNDS {
            rounds += 1;
            let every = 1 + rounds % 5;
            let mut program = Process::new(env!("CARGO_BIN_EXE_wintercrib"))
                .args(["replay", "--journal", "-", "--save-every", &every.to_string()])
                .arg(work.path())
                .stdin(Stdio::piped())
                .stdout(Stdio::piped())
                .stderr(Stdio::null())
                .spawn()
                .unwrap();
            let mut input = program.stdin.take().unwrap();
            let rest = work.lines[at..].join("\n") + "\n";
            // The killed program closes the pipe while this is still writing.
            let feeding = beside("feeding", move || input.write_all(rest.as_bytes()).is_ok());
            let mut output = program.stdout.take().unwrap();
            let (began, has_begun) = mpsc::channel();
            let reading = beside("reading", move || {
                let mut first = [0];
                let read = output.read(&mut first).unwrap();
                // Nobody listens any more when the program was killed before.
                began.send(()).unwrap_or_default();
                let mut text = String::from_utf8(first[..read].to_vec()).unwrap();
                output.read_to_string(&mut text).unwrap();
                text
            });
            // Every fourth time it is killed while it starts, otherwise while it works.
            let most = if rounds.is_multiple_of(4) {
                60_000.0
            } else {
                has_begun.recv().unwrap();
                30_000.0
            };
            std::thread::sleep(Duration::from_micros((most * dice.uniform()) as u64));
            program.kill().unwrap();
            program.wait().unwrap();
            feeding.join().unwrap();
            let said = last_said(&reading.join().unwrap());
            left.look(&work.path());
            let found = work.found(at + said, &format!("kill {rounds}"));
            left.silent += u32::from(said == 0);
            left.one_more += u32::from(found > at + said);
            said_in_all += said;
            at = found;
        }
    }
    println!("{rounds} kills, {said_in_all} changes said to be on the disk, none lost; {left:?}");
    assert!(said_in_all > 100, "the program came to work: {left:?}");
}

/// The calls by which the program touches files.
const CALLS: [&str; 11] = [
    "openat",
    "write",
    "fdatasync",
    "fsync",
    "rename",
    "ftruncate",
    "unlink",
    "read",
    "flock",
    "fchmod,chmod",
    "copy_file_range,sendfile",
];

/// Runs the program on a fresh copy of the project with one call of the system going wrong; says whether that call was
/// reached, and what the program wrote.
fn with_fault(work: &Work, call: &str, fault: &str) -> (bool, String, String) {
    let path = work.path();
    for entry in std::fs::read_dir(work.folder.path()).unwrap() {
        let entry = entry.unwrap().path();
        if !entry
            .file_name()
            .unwrap()
            .to_str()
            .unwrap()
            .starts_with("made.ron")
        {
            let remove = if entry.is_dir() {
                std::fs::remove_dir_all
            } else {
                std::fs::remove_file
            };
            remove(entry).unwrap();
        }
    }
    std::fs::copy(work.folder.path().join("made.ron"), &path).unwrap();
    // An older journal that does not know the file, so that the program has to set it aside and begin again, would be
    // another test; here it begins with none.
    let input = work.folder.path().join("made.ron.input");
    put(&input, (work.lines.join("\n") + "\n").as_bytes());
    let trace = work.folder.path().join("made.ron.trace");
    let ended = Process::new("strace")
        .args(["-f", "-o"])
        .arg(&trace)
        .args([
            "-e",
            &format!("trace={call}"),
            "-e",
            &format!("inject={call}:{fault}"),
        ])
        .arg(env!("CARGO_BIN_EXE_wintercrib"))
        .args(["replay", "--journal", "-", "--save-every", "2"])
        .arg(&path)
        .stdin(std::fs::File::open(&input).unwrap())
        .output()
        .unwrap();
    let trace = std::fs::read_to_string(&trace).unwrap();
    let was_reached = trace.contains("(INJECTED)") || trace.contains("+++ killed by SIGKILL +++");
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (was_reached, text(ended.stdout), text(ended.stderr))
}

/// Whether calls of the system can be made to fail here.
fn can_inject() -> bool {
    let outcome = Process::new("strace").args(["-o", "/dev/null", "true"]).output();
    let works = outcome.is_ok_and(|ended| ended.status.success());
    if !works {
        eprintln!(
            "NOT TESTED HERE: calls of the system that fail. Install strace, and allow it to trace, to test it."
        );
    }
    works
}

#[test]
fn killed_at_every_call_of_the_system() {
    if !can_inject() {
        return;
    }
    let work = Work::new(6);
    let mut stops = 0;
    for call in CALLS {
        for nth in 1.. {
            let how = format!("killed at {call} {nth}");
            let (was_reached, output, _) = with_fault(&work, call, &format!("signal=SIGKILL:when={nth}"));
            if !was_reached {
                assert!(
                    output.contains("6 changes carried out, and saved"),
                    "{how}: {output}"
                );
                break;
            }
            stops += 1;
            work.found(last_said(&output), &how);
        }
    }
    println!("killed at {stops} calls of the system, nothing lost");
    assert!(stops > 100, "{stops}");
}

#[test]
fn refused_at_every_call_of_the_system() {
    if !can_inject() {
        return;
    }
    let work = Work::new(6);
    let mut refusals = 0;
    for (call, errors) in [
        ("openat", &["EACCES", "EROFS", "EMFILE"][..]),
        ("write", &["ENOSPC", "EIO"]),
        ("fdatasync", &["EIO"]),
        ("fsync", &["EIO", "ENOSPC"]),
        ("rename", &["EACCES", "ENOSPC"]),
        ("ftruncate", &["EIO"]),
        ("flock", &["ENOSYS", "EIO"]),
    ] {
        for error in errors {
            // One call fails, or it and all after it: a disk that stays full.
            for on in ["", "+"] {
                for nth in 1.. {
                    let how = format!("{error} at {call} {nth}{on}");
                    let fault = format!("error={error}:when={nth}{on}");
                    let (was_reached, output, told) = with_fault(&work, call, &fault);
                    if !was_reached {
                        break;
                    }
                    refusals += 1;
                    assert!(!told.contains("A fault of the program"), "{how}: {told}");
                    work.found(last_said(&output), &how);
                }
            }
        }
    }
    println!("refused at {refusals} calls of the system, nothing lost");
    assert!(refusals > 200, "{refusals}");
}
