//! The one way in which a project changes: command, transaction, commit.

use super::change::{Area, Change, Revisions, Stamp, Transaction};
use super::command::Command;
use super::ids::TrayId;
use super::next_season;
use super::problem::{Fault, Place, Problem};
use super::project::Project;
use super::steps::Steps;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Something that happened to a document, as the journal keeps it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum Event {
    /// A transaction was committed.
    Commit {
        /// Who and when.
        stamp: Stamp,
        /// What.
        transaction: Transaction,
        /// Whether it became one step with the transaction before it.
        #[serde(default, skip_serializing_if = "std::ops::Not::not")]
        merged: bool,
    },
    /// The last step was taken back.
    Undo {
        /// Who and when.
        stamp: Stamp,
    },
    /// The step taken back last was done again.
    Redo {
        /// Who and when.
        stamp: Stamp,
    },
}

/// What a commit, an undo or a redo did.
#[derive(Debug, Clone, PartialEq)]
pub struct Committed {
    /// What happened, in the grower's words.
    pub label: String,
    /// The places that it touched; empty when there was nothing to change.
    pub places: Vec<Place>,
}

/// A project that is being worked on, with its history.
#[derive(Debug, Clone)]
pub struct Document {
    project: Arc<Project>,
    revisions: Revisions,
    /// How often each tray that was changed was changed.
    tray_revisions: BTreeMap<TrayId, u64>,
    done: Steps,
    undone: Steps,
    /// Whether the last step still takes transactions with its merge key.
    open_step: bool,
    /// Digests of the planting lists that are on disk.
    sealed: BTreeSet<String>,
    events: Vec<Event>,
    unsaved_events: u64,
}

impl Document {
    /// Begins to work on a project as it is on disk. Its planting lists are sealed: not even undo removes them.
    pub fn new(project: Project) -> Self {
        let sealed = project.lists.iter().map(|list| list.digest.clone()).collect();
        Self {
            project: Arc::new(project),
            revisions: Revisions::default(),
            tray_revisions: BTreeMap::new(),
            done: Steps::default(),
            undone: Steps::default(),
            open_step: false,
            sealed,
            events: Vec::new(),
            unsaved_events: 0,
        }
    }

    /// Begins to work on a project whose earlier events are known, so that undo reaches behind the opening.
    /// The events must be the ones that led to this project, oldest first; the oldest may be missing.
    pub fn with_history(project: Project, events: impl IntoIterator<Item = Event>) -> Self {
        let mut document = Self::new(project);
        for event in events {
            match event {
                Event::Commit {
                    transaction, merged, ..
                } => {
                    document.remember(transaction, merged);
                }
                Event::Undo { .. } => {
                    // A step from before the first known event may have been undone: then history begins later.
                    match document.done.pop() {
                        Some(step) => document.undone.push(step),
                        None => document.undone.clear(),
                    }
                }
                Event::Redo { .. } => {
                    if let Some(step) = document.undone.pop() {
                        document.done.push(step);
                    }
                }
            }
        }
        document.open_step = false;
        document
    }

    /// Gives the project as it is now.
    pub fn project(&self) -> &Project {
        &self.project
    }

    /// Gives the project as it is now, to be read by another thread; later commits do not touch it.
    pub fn snapshot(&self) -> Arc<Project> {
        Arc::clone(&self.project)
    }

    /// Gives the revisions of all kinds of records.
    pub fn revisions(&self) -> &Revisions {
        &self.revisions
    }

    /// Gives the revisions of some kinds of records, as a key for what is derived from them.
    pub fn revision_key<const N: usize>(&self, areas: [Area; N]) -> [u64; N] {
        self.revisions.key(areas)
    }

    /// Gives the revision of one tray, which counts the changes to it, to its cells and to their counts: a key for what
    /// is derived from one tray.
    pub fn tray_revision(&self, tray: TrayId) -> u64 {
        self.tray_revisions.get(&tray).copied().unwrap_or(0)
    }

    /// Carries out a command. A refused command changes nothing.
    pub fn run(&mut self, command: &Command, stamp: &Stamp) -> Result<Committed, Problem> {
        let transaction = command.transaction(&self.project, stamp)?;
        self.commit(transaction, stamp)
    }

    /// Commits a transaction: all its changes, or none when one of them breaks an invariant.
    pub fn commit(&mut self, transaction: Transaction, stamp: &Stamp) -> Result<Committed, Problem> {
        let label = transaction.label.clone();
        if transaction.changes.iter().all(Change::is_nothing) {
            return Ok(Committed {
                label,
                places: Vec::new(),
            });
        }
        next_season::check_closed(&self.project, &transaction)?;
        for change in &transaction.changes {
            if let Change::List(swap) = change
                && let Some(list) = &swap.before
            {
                return Err(Problem::new(change.place(), Fault::Frozen(list.version)));
            }
        }
        self.apply(&transaction)?;
        let places = transaction.changes.iter().map(Change::place).collect();
        let merged = self.open_step
            && transaction.merge_key.is_some()
            && self
                .done
                .last()
                .is_some_and(|last| last.merge_key == transaction.merge_key);
        self.remember(transaction.clone(), merged);
        self.note(Event::Commit {
            stamp: stamp.clone(),
            transaction,
            merged,
        });
        Ok(Committed { label, places })
    }

    /// Takes back the last step; `None` when there is none.
    pub fn undo(&mut self, stamp: &Stamp) -> Result<Option<Committed>, Problem> {
        let Some(step) = self.done.last() else {
            return Ok(None);
        };
        let inverse = step.inverse();
        for change in &inverse.changes {
            if let Change::List(swap) = change
                && let Some(list) = &swap.before
                && self.sealed.contains(&list.digest)
            {
                return Err(Problem::new(change.place(), Fault::Frozen(list.version)));
            }
        }
        self.apply(&inverse)?;
        self.open_step = false;
        if let Some(step) = self.done.pop() {
            self.undone.push(step);
        }
        self.note(Event::Undo { stamp: stamp.clone() });
        let places = inverse.changes.iter().map(Change::place).collect();
        Ok(Some(Committed {
            label: inverse.label,
            places,
        }))
    }

    /// Does again the step taken back last; `None` when there is none.
    pub fn redo(&mut self, stamp: &Stamp) -> Result<Option<Committed>, Problem> {
        let Some(step) = self.undone.last().cloned() else {
            return Ok(None);
        };
        self.apply(&step)?;
        self.open_step = false;
        if let Some(step) = self.undone.pop() {
            self.done.push(step);
        }
        self.note(Event::Redo { stamp: stamp.clone() });
        let places = step.changes.iter().map(Change::place).collect();
        Ok(Some(Committed {
            label: step.label,
            places,
        }))
    }

    /// Does again what a journal says. The event is not given out by [`Document::take_events`] again.
    ///
    /// Fails when the event does not fit the project, or takes back or repeats a step that is not known here.
    pub fn replay(&mut self, event: Event) -> Result<(), Problem> {
        self.carry_out(event)?;
        self.events.clear();
        Ok(())
    }

    /// Carries out what another journal says, as something done now; [`Document::take_events`] gives it out.
    ///
    /// Fails as [`Document::replay`] does.
    pub fn carry_out(&mut self, event: Event) -> Result<(), Problem> {
        match event {
            Event::Commit {
                stamp,
                transaction,
                merged,
            } => {
                self.open_step = merged;
                self.commit(transaction, &stamp)?;
            }
            Event::Undo { stamp } => {
                self.undo(&stamp)?.ok_or_else(unknown_step)?;
            }
            Event::Redo { stamp } => {
                self.redo(&stamp)?.ok_or_else(unknown_step)?;
            }
        }
        self.open_step = false;
        Ok(())
    }

    /// Ends the step that takes keystrokes: the grower left the field, stopped dragging or pressed Enter.
    pub fn close_step(&mut self) {
        self.open_step = false;
    }

    /// Gives the steps that undo would take back, the last one first.
    pub fn steps_back(&self) -> impl Iterator<Item = Transaction> {
        self.done.back()
    }

    /// Names the step that undo would take back.
    pub fn undo_label(&self) -> Option<&str> {
        self.done.last().map(|step| step.label.as_str())
    }

    /// Names the step that redo would do again.
    pub fn redo_label(&self) -> Option<&str> {
        self.undone.last().map(|step| step.label.as_str())
    }

    /// Takes out the events since the last call, for the journal.
    pub fn take_events(&mut self) -> Vec<Event> {
        std::mem::take(&mut self.events)
    }

    /// Gives the number of events since the project file was saved.
    pub fn unsaved_events(&self) -> u64 {
        self.unsaved_events
    }

    /// Notes that a snapshot was saved, taken when there had been this many unsaved events. Its planting lists
    /// are sealed from now on.
    pub fn mark_saved(&mut self, saved: &Project, events: u64) {
        self.unsaved_events = self.unsaved_events.saturating_sub(events);
        self.sealed
            .extend(saved.lists.iter().map(|list| list.digest.clone()));
    }

    fn note(&mut self, event: Event) {
        self.events.push(event);
        self.unsaved_events += 1;
    }

    fn remember(&mut self, transaction: Transaction, merged: bool) {
        self.undone.clear();
        self.open_step = transaction.merge_key.is_some();
        match self.done.last_mut() {
            Some(last) if merged => last.absorb(&transaction),
            _ => self.done.push(transaction),
        }
    }

    fn apply(&mut self, transaction: &Transaction) -> Result<(), Problem> {
        let project = Arc::make_mut(&mut self.project);
        let mut problem = None;
        let mut applied = 0;
        for change in &transaction.changes {
            if !project.is_before(change) {
                let text =
                    "the record is no longer what it was when this was asked for; look again and repeat it";
                problem = Some(Problem::new(change.place(), Fault::Mismatch(text.to_owned())));
                break;
            }
            project.apply(change);
            applied += 1;
        }
        if problem.is_none() {
            problem = transaction
                .changes
                .iter()
                .find_map(|change| project.check_change(change).err());
        }
        if let Some(problem) = problem {
            for change in transaction.changes[..applied].iter().rev() {
                project.apply(&change.inverse());
            }
            return Err(problem);
        }
        for area in transaction.changes.iter().map(Change::area) {
            self.revisions.bump(area);
        }
        let touched: BTreeSet<TrayId> = transaction
            .changes
            .iter()
            .flat_map(|change| self.project.trays_touched(change))
            .collect();
        for tray in touched {
            *self.tray_revisions.entry(tray).or_default() += 1;
        }
        Ok(())
    }
}

fn unknown_step() -> Problem {
    let text = "it takes back or repeats a step that is not known here; restore the file and its journal together from a copy";
    Problem::new(Place::Project, Fault::Mismatch(text.to_owned()))
}
