//! Golden files of format 1 in which every field of every record is filled: one project file, and one journal. They are never
//! edited. When a field's written name or form changes, they do not open any more, or come out differently: then the old form
//! has to be read too.
#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

use std::path::{Path, PathBuf};

use jiff::civil::date;
use serde_json::Value;
use wintercrib::model::{Change, Document, Event, Project, Stamp, Transaction};
use wintercrib::store::{format, history, project_file};

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/data")
        .join(name)
}

fn stamp(minute: i8) -> Stamp {
    Stamp {
        at: date(2026, 2, 10).at(19, minute, 0, 0),
        by: "Grower A".to_owned(),
    }
}

fn filled() -> Project {
    format::read(&std::fs::read(data("format-1-filled.ron")).unwrap()).unwrap()
}

/// All records of a project as one step of an empty one.
fn all_records(project: &Project) -> Transaction {
    let mut changes = Vec::new();
    changes.extend(project.seasons.iter().cloned().map(Change::add));
    changes.extend(project.traits.iter().cloned().map(Change::add));
    changes.extend(project.stores.iter().cloned().map(Change::add));
    changes.extend(project.rows.iter().cloned().map(Change::add));
    changes.extend(project.ears.iter().cloned().map(Change::add));
    changes.extend(project.packets.iter().cloned().map(Change::add));
    changes.extend(project.tests.iter().cloned().map(Change::add));
    changes.extend(project.trays.iter().cloned().map(Change::add));
    changes.extend(project.cells.iter().cloned().map(Change::add));
    changes.extend(project.counts.iter().cloned().map(Change::add));
    changes.extend(project.logs.iter().cloned().map(Change::add));
    changes.extend(project.events.iter().cloned().map(Change::add));
    changes.extend(project.photos.iter().cloned().map(Change::add));
    changes.extend(project.selections.iter().cloned().map(Change::add));
    changes.extend(project.lists.iter().cloned().map(Change::add));
    changes.extend(project.plans.iter().cloned().map(Change::add));
    changes.extend(project.field_rows.iter().cloned().map(Change::add));
    changes.extend(project.weather.iter().cloned().map(Change::add));
    Transaction::new("Add all there is", changes)
}

/// What the golden journal tells: every record added in one step, taken back, done again; keystrokes of a note that became
/// one step; a version taken over.
fn live_through(document: &mut Document, all: Transaction) {
    let trait_of = |document: &Document| document.project().traits.iter().next().unwrap().clone();
    document.commit(all, &stamp(1)).unwrap();
    document.close_step();
    document.undo(&stamp(2)).unwrap().unwrap();
    document.redo(&stamp(3)).unwrap().unwrap();
    for unit in ["p", "po", "pod"] {
        let before = trait_of(document);
        let mut after = before.clone();
        unit.clone_into(&mut after.unit);
        let typed = Transaction::new("Type a unit", vec![Change::replace(&before, after)]);
        document.commit(typed.merging("unit"), &stamp(4)).unwrap();
    }
    document.close_step();
    let before = trait_of(document);
    let mut after = before.clone();
    after.decimals = 3;
    let taken = Transaction::new("Take over a version", vec![Change::replace(&before, after)]);
    document.commit(taken.taking_over(), &stamp(5)).unwrap();
    let about = document.project().about.clone();
    let mut renamed = about.clone();
    "Every Field".clone_into(&mut renamed.name);
    let named = Transaction::new("Name it", vec![Change::replace(&about, renamed)]);
    document.commit(named, &stamp(6)).unwrap();
}

fn body(text: &str) -> &str {
    text.split_once("project:").unwrap().1
}

#[test]
fn every_field_of_the_golden_file_is_read_and_written_as_it_was() {
    let golden = std::fs::read_to_string(data("format-1-filled.ron")).unwrap();
    let project = filled();
    assert_eq!(project.validate(), []);
    let written = format::write(&project).unwrap();
    let mut lines = body(&written).lines().zip(body(&golden).lines());
    assert_eq!(lines.find(|(now, then)| now != then), None);
    assert_eq!(body(&written).len(), body(&golden).len());
}

#[test]
fn every_change_of_the_golden_journal_is_carried_out() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    std::fs::copy(data("format-1-empty.ron"), &path).unwrap();
    std::fs::copy(
        data("format-1-filled.journal"),
        folder.path().join("crib.ron.journal"),
    )
    .unwrap();
    let opened = project_file::read(&path).unwrap();
    assert_eq!(
        opened.notes,
        ["8 changes made after the last save were replayed from the journal."]
    );
    let mut expected = Document::new(Project::new(opened_about(&path)));
    live_through(&mut expected, all_records(&filled()));
    assert!(opened.document.project() == expected.project());
    // The text of each event is what would be written today.
    let events = history::read(&path).unwrap().events;
    let mut document = Document::new(Project::new(opened_about(&path)));
    live_through(&mut document, all_records(&filled()));
    assert!(events == document.take_events());
    assert!(matches!(events[4], Event::Commit { merged: true, .. }));
    let fresh = tempfile::tempdir().unwrap();
    write_journal(&fresh.path().join("crib.ron"), &path);
    let lines = |path: &Path| std::fs::read_to_string(path).unwrap();
    assert!(
        lines(&fresh.path().join("crib.ron.journal")) == lines(&data("format-1-filled.journal")),
        "written today it would be another text"
    );
}

fn opened_about(path: &Path) -> wintercrib::model::About {
    format::read(&std::fs::read(path).unwrap()).unwrap().about.clone()
}

/// Writes the journal again beside the empty golden file.
fn write_journal(path: &Path, empty: &Path) {
    std::fs::copy(empty, path).unwrap();
    let mut opened = project_file::open(path, "a test").unwrap();
    live_through(&mut opened.document, all_records(&filled()));
    opened.file.flush(&mut opened.document).unwrap();
}

/// A file in which a field is missing opens, or the field is named: what old files lack is not for the program to fail on.
#[test]
fn a_missing_field_is_filled_in_or_named() {
    let whole = serde_json::to_value(filled()).unwrap();
    let (mut filled_in, mut named) = (Vec::new(), Vec::new());
    for (table, records) in whole.as_object().unwrap() {
        let first = match records {
            Value::Array(list) => list.first(),
            other => Some(other),
        };
        for field in first.unwrap().as_object().unwrap().keys() {
            let mut without = whole.clone();
            let record = match &mut without[table] {
                Value::Array(list) => &mut list[0],
                other => other,
            };
            record.as_object_mut().unwrap().remove(field).unwrap();
            match serde_json::from_value::<Project>(without) {
                Ok(_) => filled_in.push(format!("{table}.{field}")),
                Err(why) => {
                    assert!(
                        why.to_string().contains(&format!("missing field `{field}`")),
                        "{why}"
                    );
                    named.push(format!("{table}.{field}"));
                }
            }
        }
        // A file from before there was such a table.
        let mut without = whole.clone();
        without.as_object_mut().unwrap().remove(table).unwrap();
        let read = serde_json::from_value::<Project>(without);
        assert!(read.is_ok() || table == "about", "{table}: {read:?}");
    }
    assert!(
        filled_in.len() > 60 && named.len() > 60,
        "{} {}",
        filled_in.len(),
        named.len()
    );
    assert!(filled_in.contains(&"ears.note".to_owned()) && named.contains(&"ears.code".to_owned()));
}

/// Made once, when the format was new; a released format's files are never written again.
#[test]
#[ignore = "writes golden files"]
#[expect(
    clippy::disallowed_methods,
    reason = "the files are under version control and need no copy beside them"
)]
fn write_the_golden_files() {
    std::fs::copy(data("filled.ron"), data("format-1-filled.ron")).unwrap();
    let mut about = filled().about.clone();
    about.name = "Empty Field".to_owned();
    let folder = tempfile::tempdir().unwrap();
    let empty = folder.path().join("empty.ron");
    std::fs::write(&empty, format::write(&Project::new(about)).unwrap()).unwrap();
    let path = folder.path().join("crib.ron");
    write_journal(&path, &empty);
    std::fs::copy(&empty, data("format-1-empty.ron")).unwrap();
    std::fs::copy(
        folder.path().join("crib.ron.journal"),
        data("format-1-filled.journal"),
    )
    .unwrap();
}
