//! Damage on the disk: every byte of a project and of its journal changed, and either nothing is different or it is said.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

mod store_sample;

use std::fs;
use std::path::Path;

use store_sample::{add_ears, empty, note, put, stamp};
use wintercrib::model::{Command, Document, Project};
use wintercrib::store::project_file::{self, Opened};

/// A project of three ears with two saves and changes behind the last one; gives what it is.
fn sample(path: &Path) -> Project {
    let Opened {
        mut document, file, ..
    } = project_file::create(path, empty(), "the test").unwrap();
    let season = Command::AddSeason {
        year: 2026,
        planted: None,
    };
    for command in [season, add_ears(1..=3)] {
        document.run(&command, &stamp()).unwrap();
    }
    file.save_job(&mut document).unwrap().run().unwrap();
    for number in 1..=3 {
        note(&mut document, number, &format!("edit {number}"));
        if number == 1 {
            file.save_job(&mut document).unwrap().run().unwrap();
        }
    }
    document.undo(&stamp()).unwrap();
    file.flush(&mut document).unwrap();
    document.project().clone()
}

/// Changes each byte of a file in some ways, one at a time, and opens the project. Gives how often that made no
/// difference and how often it was said.
fn each_byte_changed(path: &Path, damaged: &Path, good: &Project) -> (u32, u32) {
    let whole = fs::read(damaged).unwrap();
    let (mut harmless, mut said) = (0, 0);
    for at in 0..whole.len() {
        for change in [0x01, 0x10, 0x80] {
            let mut bytes = whole.clone();
            bytes[at] ^= change;
            put(damaged, &bytes);
            let is_said = match project_file::read(path) {
                Ok(opened) if opened.document.project() == good => {
                    harmless += 1;
                    continue;
                }
                Ok(opened) => !opened.notes.is_empty(),
                Err(fault) => !fault.to_string().is_empty(),
            };
            assert!(
                is_said,
                "byte {at} of {}, changed by {change:#x}: {:?}",
                damaged.display(),
                String::from_utf8_lossy(&bytes[at.saturating_sub(20)..(at + 20).min(bytes.len())])
            );
            said += 1;
        }
    }
    put(damaged, &whole);
    (harmless, said)
}

#[test]
fn every_changed_byte_is_harmless_or_said() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    let good = sample(&path);
    let journal = path.with_extension("ron.journal");
    for damaged in [&path, &journal] {
        let (harmless, said) = each_byte_changed(&path, damaged, &good);
        let name = damaged.file_name().unwrap().display();
        println!("{name}: {harmless} changed bytes made no difference, {said} were said");
        assert!(said > 1_000, "{said}");
    }
}

#[test]
fn every_cut_is_harmless_or_said() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    let good = sample(&path);
    for damaged in [&path, &path.with_extension("ron.journal")] {
        let whole = fs::read(damaged).unwrap();
        for cut in 0..whole.len() {
            put(damaged, &whole[..cut]);
            match project_file::read(&path) {
                Ok(opened) => {
                    let is_same = opened.document.project() == &good;
                    // A journal that ends with a whole line is one that was never longer.
                    let is_shorter = whole[..cut].ends_with(b"\n") || cut == 0;
                    assert!(is_same || is_shorter || !opened.notes.is_empty(), "cut at {cut}");
                }
                Err(fault) => assert!(!fault.to_string().is_empty()),
            }
        }
        put(damaged, &whole);
    }
}

/// Takes the journal away, or puts something else in its place, while the project is open.
fn beneath_the_program(harm: impl Fn(&Path)) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    let journal = path.with_extension("ron.journal");
    sample(&path);
    let Opened {
        mut document, file, ..
    } = project_file::open(&path, "the test").unwrap();
    let edit = |document: &mut Document, text: &str| {
        note(document, 1, text);
        file.flush(document).unwrap();
    };
    let now = || project_file::read(&path).unwrap().document.project().clone();
    edit(&mut document, "before");
    let job = file.save_job(&mut document).unwrap();
    edit(&mut document, "while a save is on its way");
    harm(&journal);
    edit(&mut document, "after");
    assert_eq!(&now(), document.project());
    let notes = file.take_notes();
    assert_eq!(notes.len(), 1, "{notes:?}");
    assert!(notes[0].contains("begun again"), "{notes:?}");
    // The save that began before ends after, and then another.
    job.run().unwrap().tell(&mut document);
    assert_eq!(&now(), document.project());
    edit(&mut document, "last");
    assert_eq!(&now(), document.project());
    file.save_job(&mut document)
        .unwrap()
        .run()
        .unwrap()
        .tell(&mut document);
    edit(&mut document, "behind the save");
    harm(&journal);
    edit(&mut document, "behind the second harm");
    assert_eq!(&now(), document.project());
    drop(file);
    let mut again = project_file::open(&path, "the test").unwrap();
    assert_eq!(again.document.project(), document.project());
    // What was done since the last save can still be taken back.
    assert!(again.document.undo(&stamp()).unwrap().is_some());
}

#[test]
fn a_journal_that_is_removed_or_replaced_beneath_the_program_costs_nothing() {
    beneath_the_program(|journal| fs::remove_file(journal).unwrap());
    beneath_the_program(|journal| put(journal, b"another machine's\n"));
    beneath_the_program(|journal| {
        let old = fs::read(journal).unwrap();
        fs::remove_file(journal).unwrap();
        put(journal, &old);
    });
    beneath_the_program(|journal| {
        let mut longer = fs::read(journal).unwrap();
        longer.extend(b"a line of another machine\n");
        put(journal, &longer);
    });
}
