//! Everything that the journal of a project knows: who did what when, from the first change on.
//!
//! The journal is only ever appended to; a save adds a mark and removes nothing. It begins again when its project file
//! was changed by something else or when it was damaged, and then the whole old one is kept beside it.

use super::companion;
use super::journal::{self, JournalFault};
use super::replay::{as_mark, event_of, parse_event};
use crate::model::{Document, Event, Fault, Project, Versions, compare_versions};
use std::path::{Path, PathBuf};

/// What the journal of a project holds.
#[derive(Debug, Default)]
pub struct History {
    /// The events, oldest first.
    pub events: Vec<Event>,
    /// What a person should know about them, one sentence or two each.
    pub notes: Vec<String>,
    /// Older journals that were set aside.
    pub set_aside: Vec<PathBuf>,
}

/// Reads the history of the project at `path` out of its journal. Nothing is written.
///
/// # Errors
/// A journal that the system does not let be read.
pub fn read(path: &Path) -> Result<History, JournalFault> {
    let journal = companion(path, "", ".journal");
    let contents = journal::read(&journal)?;
    let mut history = History::default();
    let mut unreadable = 0;
    for line in &contents.lines {
        if as_mark(&line.payload).is_some() {
            continue;
        }
        match parse_event(line) {
            Ok(event) => history.events.push(event),
            Err(why) => {
                tracing::warn!("line {} of the journal cannot be read: {why}", line.number);
                unreadable += 1;
            }
        }
    }
    if unreadable > 0 {
        history.notes.push(format!(
            "{unreadable} lines of the journal were written by another version of the program and cannot be shown."
        ));
    }
    if let Some(damage) = &contents.damage {
        history.notes.push(format!(
            "Line {} of the journal cannot be read: {}. What was done from there on is not shown.",
            damage.line, damage.what
        ));
    }
    history.set_aside = set_aside(&journal);
    if !history.set_aside.is_empty() {
        let names: Vec<String> = history
            .set_aside
            .iter()
            .map(|path| path.display().to_string())
            .collect();
        history.notes.push(format!(
            "The journal began again when its project was changed by something else or it was damaged; what was done \
             before is kept in {} and is not shown.",
            names.join(", ")
        ));
    }
    Ok(history)
}

/// Puts another version of a project beside ours. A document that was opened knows its newest steps alone; where the two
/// parted before them, all that the journal of one of these project files knows is looked through.
///
/// # Errors
/// That it is a version of another project.
pub fn compare_with(document: &Document, files: &[&Path], there: &Project) -> Result<Versions, Fault> {
    let near = compare_versions(document, there)?;
    if near.parting.is_some() {
        return Ok(near);
    }
    for file in files {
        match read(file) {
            Ok(history) if history.events.is_empty() => {}
            Ok(history) => {
                let whole = Document::with_history(document.project().clone(), history.events);
                let far = compare_versions(&whole, there)?;
                if far.parting.is_some() {
                    return Ok(far);
                }
            }
            Err(why) => tracing::warn!("the journal of {} cannot be read: {why}", file.display()),
        }
    }
    Ok(near)
}

/// Reads one line of a journal, its line end included: a change, or none for the mark of a save.
///
/// # Errors
/// What is wrong with the line, in words that follow its number.
pub fn change_in(line: &[u8]) -> Result<Option<Event>, String> {
    let payload = journal::parse_line(line)?;
    if as_mark(payload).is_some() {
        return Ok(None);
    }
    event_of(payload).map(Some)
}

/// The journals that were set aside, in the order in which their names were given.
fn set_aside(journal: &Path) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let mut name = companion(journal, "", ".set-aside");
    while name.exists() {
        found.push(name);
        name = companion(journal, "", &format!(".set-aside-{}", found.len() + 1));
    }
    found
}
