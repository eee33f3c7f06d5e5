//! A small harvest, made through commands, for the tests of the store.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

use std::fs::File;
use std::io::Write as _;
use std::path::Path;
use wintercrib::model::{
    About, Command, Document, EarDraft, EarEdit, EarField, EarId, EarValue, Existing, Project, SeasonId,
    Stamp,
};

/// Who and when, for all changes of a test.
pub fn stamp() -> Stamp {
    Stamp {
        at: jiff::civil::date(2026, 11, 25).at(19, 30, 0, 0),
        by: "the tester".to_owned(),
    }
}

/// An empty project.
pub fn empty() -> Project {
    Project::new(About::new("DEMO small crib", "sample-1"))
}

/// A command that adds ears by their numbers.
pub fn add_ears(numbers: impl IntoIterator<Item = u32>) -> Command {
    let draft = |number: u32| EarDraft {
        number: Some(number),
        row: Some(format!("r{}", number % 3 + 1)),
        maturity_days: Some(80 + number as u16 % 20),
        kernels: Some(300),
        note: (number == 2).then(|| "says \"früh\", \\ and so on".to_owned()),
        ..EarDraft::default()
    };
    Command::AddEars {
        season: SeasonId(1),
        drafts: numbers.into_iter().map(draft).collect(),
        existing: Existing::Refuse,
    }
}

/// Begins season 2026 with ears 1 to 12.
pub fn harvest(document: &mut Document) {
    let season = Command::AddSeason {
        year: 2026,
        planted: Some(jiff::civil::date(2026, 5, 9)),
    };
    for command in [season, add_ears(1..=12)] {
        document.run(&command, &stamp()).unwrap();
    }
}

/// Writes the note of an ear, as a step of its own.
pub fn note(document: &mut Document, ear: u32, text: &str) {
    let edit = EarEdit {
        ear: EarId(ear),
        field: EarField::Note,
        value: EarValue::Text(text.to_owned()),
    };
    document.run(&Command::EditEars(vec![edit]), &stamp()).unwrap();
    document.close_step();
}

/// Puts bytes into a file as another program would, in place.
pub fn put(path: &Path, bytes: &[u8]) {
    File::create(path).unwrap().write_all(bytes).unwrap();
}

// Each test file uses a part of it; naming the parts keeps the rest from being called dead code.
const _: () = {
    let _: fn(&mut Document) = harvest;
    let _: fn(&mut Document, u32, &str) = note;
    let _: fn(&Path, &[u8]) = put;
};
