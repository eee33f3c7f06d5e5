//! What the lines of a journal mean, and which of them a project file lacks.

use std::collections::VecDeque;
use std::path::Path;

use serde::{Deserialize, Serialize};

use super::journal::{self, Cut, JournalFault, Line};
use crate::model::{Document, Event, Project, cut_message};

/// At most so many events before the last save can be undone after opening.
const HISTORY_EVENTS: usize = 500;

/// Events before the last save are read for undo until their text exceeds this, in bytes; more would be felt at opening.
const HISTORY_BYTES: usize = 512 * 1024;

/// So many saves back a file may be without that the whole journal has to be read again for it.
const MARKS_KEPT: usize = 4;

/// Forgets, while a journal is read, the events that the newest saves contain and that are too old for undo after opening.
#[derive(Default)]
struct Forgetting {
    /// The lines of the newest marks.
    marks: VecDeque<usize>,
    /// Events before this line are forgotten.
    forgotten: usize,
}

impl Forgetting {
    fn after_line(&mut self, lines: &mut [Line]) {
        let at = lines.len() - 1;
        if !is_mark(&lines[at].payload) {
            return;
        }
        self.marks.push_back(at);
        if self.marks.len() <= MARKS_KEPT {
            return;
        }
        let Some(oldest) = self.marks.pop_front() else {
            return;
        };
        let (mut events, mut bytes) = (0, 0);
        let mut from = oldest;
        while from > self.forgotten && events <= HISTORY_EVENTS && bytes <= HISTORY_BYTES {
            from -= 1;
            if !is_mark(&lines[from].payload) {
                events += 1;
                bytes += lines[from].payload.len();
            }
        }
        for line in &mut lines[self.forgotten..from] {
            if !is_mark(&line.payload) {
                line.payload = String::new();
            }
        }
        self.forgotten = from;
    }
}

/// Reads of a journal what opening a file with this digest needs: of the events that it contains only the newest.
pub(super) fn read_for(path: &Path, file_digest: &str) -> Result<journal::Contents, JournalFault> {
    let mut forgetting = Forgetting::default();
    let contents = journal::read_line_by_line(path, |lines| forgetting.after_line(lines))?;
    if Plan::new(&contents, file_digest.to_owned()).needs(forgetting.forgotten) {
        return journal::read(path);
    }
    Ok(contents)
}

/// One line of the journal.
#[derive(Debug, Serialize, Deserialize)]
pub(super) enum Entry {
    /// Something that was done.
    Did(Event),
    /// From here on a file with this digest may be there; it contains the first `through` events of this journal.
    Mark { digest: String, through: usize },
}

/// What to do with a journal, found by the digest of the file beside it.
pub(super) struct Plan<'a> {
    contents: &'a journal::Contents,
    /// The lines of events, as indices into the journal's lines.
    events: Vec<usize>,
    /// How many of them the file contains; `None` if the journal does not know the file.
    through: Option<usize>,
    /// How many of them the newest save contains.
    saved: usize,
    digest: String,
}

/// How the journal goes on after opening.
pub(super) struct Ready {
    /// Where to cut it before the next line.
    pub(super) cut: Cut,
    /// The lines to write before the next one.
    pub(super) first: Vec<String>,
    /// How many events it then has.
    pub(super) events: usize,
    /// The lines of those events that the file lacks.
    pub(super) unsaved: Vec<String>,
}

impl<'a> Plan<'a> {
    pub(super) fn new(contents: &'a journal::Contents, file_digest: String) -> Self {
        let mut events = Vec::new();
        let mut through = None;
        let mut saved = 0;
        for (index, line) in contents.lines.iter().enumerate() {
            let Some((digest, contained)) = as_mark(&line.payload) else {
                events.push(index);
                continue;
            };
            // A mark that counts more events than are before it was made by hand.
            if contained <= events.len() {
                saved = contained;
                if digest == file_digest {
                    through = Some(contained);
                }
            }
        }
        Self {
            contents,
            events,
            through,
            saved,
            digest: file_digest,
        }
    }

    /// Whether events before this line are needed.
    fn needs(&self, line: usize) -> bool {
        let Some(contained) = self.through.filter(|_| line > 0) else {
            return false;
        };
        if self.events.get(contained).is_some_and(|&index| index < line) || self.reads_all(contained) {
            return true;
        }
        let mut bytes = 0;
        for (number, &index) in self.events[..contained].iter().rev().enumerate() {
            bytes += self.contents.lines[index].payload.len();
            if number == HISTORY_EVENTS || bytes > HISTORY_BYTES {
                return false;
            }
            if index < line {
                return true;
            }
        }
        false
    }

    /// Whether an undo or redo is to be replayed: it may reach back any number of steps.
    fn reads_all(&self, contained: usize) -> bool {
        let moves_in_history = |index: &usize| {
            ["Did(Undo", "Did(Redo"]
                .iter()
                .any(|begin| self.contents.lines[*index].payload.starts_with(begin))
        };
        self.events[contained..].iter().any(moves_in_history)
    }

    /// Brings the project up to the newest change that can be replayed. Says what happened in `notes`.
    pub(super) fn carry_out(
        &self,
        project: Project,
        journal: &Path,
        notes: &mut Vec<String>,
    ) -> (Document, Ready) {
        let Some(contained) = self.through else {
            notes.extend(self.unknown_note(journal));
            return (Document::new(project), self.begun_again());
        };
        let mut document = Document::with_history(project, self.history(contained));
        let unsaved = &self.events[contained..];
        for (done, &index) in unsaved.iter().enumerate() {
            let line = &self.contents.lines[index];
            if let Err(why) = replay(&mut document, line) {
                notes.extend(replayed_note(done));
                notes.push(format!(
                    "The change in line {} of the journal could not be replayed ({why}), so it was left out, and the {} \
                     after it too. With your next change the whole journal is kept as {}.",
                    line.number,
                    unsaved.len() - done - 1,
                    journal::set_aside_name(journal).display()
                ));
                return (document, self.ended_before(index, contained, done));
            }
        }
        notes.extend(replayed_note(unsaved.len()));
        let ready = Ready {
            cut: self.contents.cut(),
            first: Vec::new(),
            events: self.events.len(),
            unsaved: self.unsaved(contained, unsaved.len()),
        };
        (document, ready)
    }

    /// The lines of so many events behind those that the file contains.
    fn unsaved(&self, contained: usize, number: usize) -> Vec<String> {
        self.events[contained..contained + number]
            .iter()
            .map(|&index| self.contents.lines[index].payload.clone())
            .collect()
    }

    /// A journal that does not know the file begins again.
    fn begun_again(&self) -> Ready {
        let keep_copy = !self.contents.lines.is_empty() || self.contents.cut().keep_copy;
        Ready {
            cut: Cut { length: 0, keep_copy },
            first: vec![self.mark(0)],
            events: 0,
            unsaved: Vec::new(),
        }
    }

    /// A journal that was replayed up to a line ends before it. The mark that fits the file may lie behind, so it is
    /// written again.
    fn ended_before(&self, index: usize, contained: usize, done: usize) -> Ready {
        let length = index
            .checked_sub(1)
            .map_or(0, |before| self.contents.lines[before].end);
        Ready {
            cut: Cut {
                length,
                keep_copy: true,
            },
            first: vec![self.mark(contained)],
            events: contained + done,
            unsaved: self.unsaved(contained, done),
        }
    }

    /// The newest events that the file contains, for undo, within the limits of what opening may take.
    ///
    /// When an undo or redo is to be replayed it may reach back any number of steps, so then all events are read.
    fn history(&self, contained: usize) -> Vec<Event> {
        let lines = &self.contents.lines;
        let reads_all = self.reads_all(contained);
        let mut bytes = 0;
        let mut past = VecDeque::new();
        for &index in self.events[..contained].iter().rev() {
            bytes += lines[index].payload.len();
            if !reads_all && (past.len() == HISTORY_EVENTS || bytes > HISTORY_BYTES) {
                break;
            }
            match parse_event(&lines[index]) {
                Ok(event) => past.push_front(event),
                Err(why) => {
                    tracing::warn!(
                        "undo reaches back to line {} of the journal only: {why}",
                        lines[index].number
                    );
                    break;
                }
            }
        }
        // A keystroke that became one step with events not read would be undone alone, and half a step is none.
        while matches!(past.front(), Some(Event::Commit { merged: true, .. })) {
            past.pop_front();
        }
        past.into()
    }

    fn mark(&self, through: usize) -> String {
        mark_text(&self.digest, through)
    }

    fn unknown_note(&self, journal: &Path) -> Option<String> {
        if self.contents.lines.is_empty() {
            return None;
        }
        let lost = match self.events.len() - self.saved {
            0 => "The journal had no change that its last save lacked, but undo does not reach back before now.".to_owned(),
            1 => "The 1 change in the journal after its last save was not replayed onto it.".to_owned(),
            number => format!("The {number} changes in the journal after its last save were not replayed onto it."),
        };
        Some(format!(
            "The file was changed by something else since this program saved it, and is shown as it is. {lost} \
             With your next change the old journal is kept as {}.",
            journal::set_aside_name(journal).display()
        ))
    }
}

/// Says what is damaged in a journal, if anything.
pub(super) fn damage_note(contents: &journal::Contents) -> Option<String> {
    let damage = contents.damage.as_ref()?;
    Some(if damage.lines_after == 0 {
        format!(
            "The last line of the journal (line {}) cannot be read: {}. An interrupted write leaves such a line; the \
             one change in it was dropped.",
            damage.line, damage.what
        )
    } else {
        format!(
            "Line {} of the journal is damaged: {}. Neither it nor the {} lines after it were replayed. With your next \
             change the whole journal is kept beside the project under a name that ends in .set-aside.",
            damage.line, damage.what, damage.lines_after
        )
    })
}

fn replayed_note(number: usize) -> Option<String> {
    match number {
        0 => None,
        1 => Some("1 change made after the last save was replayed from the journal.".to_owned()),
        _ => Some(format!(
            "{number} changes made after the last save were replayed from the journal."
        )),
    }
}

fn replay(document: &mut Document, line: &Line) -> Result<(), String> {
    let event = parse_event(line)?;
    let has_step = match &event {
        Event::Commit { .. } => true,
        Event::Undo { .. } => document.undo_label().is_some(),
        Event::Redo { .. } => document.redo_label().is_some(),
    };
    if !has_step {
        return Err("the step that it takes back or does again is not known".to_owned());
    }
    document.replay(event).map_err(|problem| problem.to_string())
}

pub(super) fn parse_event(line: &Line) -> Result<Event, String> {
    event_of(&line.payload)
}

/// Reads the event of a line without its checksum.
pub(super) fn event_of(payload: &str) -> Result<Event, String> {
    match ron::from_str(payload) {
        Ok(Entry::Did(event)) => Ok(event),
        Ok(Entry::Mark { .. }) => Err("it is a mark of a save".to_owned()),
        Err(error) => Err(cut_message(error.to_string())),
    }
}

/// Reads a mark of a save; `None` for an event, without reading that, which would be most of the work of opening.
pub(super) fn as_mark(payload: &str) -> Option<(String, usize)> {
    if !is_mark(payload) {
        return None;
    }
    match ron::from_str(payload) {
        Ok(Entry::Mark { digest, through }) => Some((digest, through)),
        _ => None,
    }
}

fn is_mark(payload: &str) -> bool {
    payload.starts_with("Mark(")
}

/// The text of the mark of a save.
pub(super) fn mark_text(digest: &str, through: usize) -> String {
    entry_text(&Entry::Mark {
        digest: digest.to_owned(),
        through,
    })
}

/// The text of an entry, one line.
pub(super) fn entry_text(entry: &Entry) -> String {
    ron::to_string(entry).expect("events are plain records, which RON can express")
}
