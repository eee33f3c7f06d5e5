//! Where two versions of a project parted.
//!
//! The other version says nothing of its own history, so that is read from ours: a step is in it where a field of a record
//! is as the step left it, and is not where one still is as it was before. Where both are found in the wrong order,
//! somebody took a step back or both did the same, and what was done in between is doubtful. What is
//! doubtful is asked.

use super::renumber::content;
use super::{fields, written};
use crate::model::change::{Change, Swap, Transaction};
use crate::model::document::Document;
use crate::model::problem::Place;
use crate::model::project::Project;
use crate::model::table::{Record, Table};
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// Paths of fields, by the record.
pub(super) type Doubtful = BTreeMap<Place, BTreeSet<Vec<String>>>;

/// Where another version left our history.
#[derive(Debug, Clone, PartialEq)]
pub struct Parting {
    /// So many of our steps are not in the other version.
    pub steps: usize,
    /// What the first of them did; none when there are none.
    pub label: Option<String>,
    /// The project as both had it.
    pub(super) base: Project,
    /// Fields of which it is not known whether the other version knew our change of them; an empty path for a record that
    /// was added or removed.
    pub(super) doubtful: Doubtful,
}

/// A field of a record, by its path; without a path the whole record.
type At = (Place, Vec<String>);

/// How something that one of our steps changed stands in the other version.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Stands {
    /// As it was before.
    Before,
    /// As it became.
    After,
    /// In another way.
    Otherwise,
}

impl Stands {
    fn of<T: PartialEq>(theirs: &T, before: &T, after: &T) -> Self {
        if theirs == before {
            Self::Before
        } else if theirs == after {
            Self::After
        } else {
            Self::Otherwise
        }
    }
}

/// A field that one of our steps changed, or a record that it added or removed, beside the other version.
struct Beside {
    at: At,
    stands: Stands,
    /// Whether there was something afterwards: that both took something away proves nothing.
    stays: bool,
    /// Whether it became later what it is there.
    is_later: bool,
}

/// One of our steps beside the other version.
#[derive(Default)]
struct Step {
    changes: Vec<Beside>,
    /// Whether it added a record whose id names something else there.
    is_another: bool,
    /// Whether it is proved to be in the other version.
    is_there: bool,
    /// Whether it is proved to be missing.
    is_missing: bool,
}

impl Step {
    fn new(step: &Transaction, there: &Project) -> Self {
        let mut found = Self::default();
        // What was taken over from another version is as it is there without having been known there.
        if !step.takes_over {
            for change in &step.changes {
                found.look_at(change, there);
                found.is_another |= is_another(change, there);
            }
        }
        found
    }

    fn look_at(&mut self, change: &Change, there: &Project) {
        match change {
            Change::About(swap) => {
                if let (Some(before), Some(after)) = swap.sides() {
                    self.look_into(Place::Project, before, after, &there.about);
                }
            }
            Change::Season(swap) => self.look(swap, &there.seasons),
            Change::Row(swap) => self.look(swap, &there.rows),
            Change::Trait(swap) => self.look(swap, &there.traits),
            Change::Ear(swap) => self.look(swap, &there.ears),
            Change::Packet(swap) => self.look(swap, &there.packets),
            Change::Test(swap) => self.look(swap, &there.tests),
            Change::Tray(swap) => self.look(swap, &there.trays),
            Change::Cell(swap) => self.look(swap, &there.cells),
            Change::Count(swap) => self.look(swap, &there.counts),
            Change::Selection(swap) => self.look(swap, &there.selections),
            Change::List(swap) => self.look(swap, &there.lists),
            Change::Log(swap) => self.look(swap, &there.logs),
            Change::Event(swap) => self.look(swap, &there.events),
            Change::Photo(swap) => self.look(swap, &there.photos),
            Change::Plan(swap) => self.look(swap, &there.plans),
            Change::FieldRow(swap) => self.look(swap, &there.field_rows),
            Change::Weather(swap) => self.look(swap, &there.weather),
            Change::Store(swap) => self.look(swap, &there.stores),
        }
    }

    fn look<R: Record>(&mut self, swap: &Swap<R>, there: &Table<R>) {
        let (before, after) = swap.sides();
        let Some(id) = after.or(before).map(Record::id) else {
            return;
        };
        let theirs = there.get(id);
        match (before, after, theirs) {
            (Some(before), Some(after), Some(theirs)) => {
                self.look_into(R::place(id), before, after, theirs);
            }
            _ => self.changes.push(Beside {
                at: (R::place(id), Vec::new()),
                stands: Stands::of(&theirs, &before, &after),
                stays: after.is_some(),
                is_later: false,
            }),
        }
    }

    fn look_into<T: Serialize>(&mut self, place: Place, before: &T, after: &T, theirs: &T) {
        let [before, after, theirs] = [before, after, theirs].map(|record| fields::each(&written(record)));
        let names: BTreeSet<&Vec<String>> = before.keys().chain(after.keys()).collect();
        for name in names {
            let (one, two, other) = (before.get(name), after.get(name), theirs.get(name));
            if one != two {
                self.changes.push(Beside {
                    at: (place, name.clone()),
                    stands: Stands::of(&other, &one, &two),
                    stays: two.is_some(),
                    is_later: false,
                });
            }
        }
    }
}

/// Finds where the other version left our history; none where no step of ours is proved to be in it: then the two parted
/// before our history begins, and nobody knows where.
pub(super) fn find(document: &Document, there: &Project) -> Option<Parting> {
    let mut steps: Vec<Step> = document
        .steps_back()
        .map(|step| Step::new(&step, there))
        .collect();
    let mut later: BTreeSet<At> = BTreeSet::new();
    for step in &mut steps {
        for change in &mut step.changes {
            change.is_later = later.contains(&change.at);
            step.is_missing |= change.stands == Stands::Before && !change.is_later;
        }
        let after = step
            .changes
            .iter()
            .filter(|change| change.stands == Stands::After);
        later.extend(after.map(|change| change.at.clone()));
    }
    steps.reverse();
    let mut earlier: BTreeSet<At> = BTreeSet::new();
    for step in &mut steps {
        let before = step
            .changes
            .iter()
            .filter(|change| change.stands == Stands::Before);
        earlier.extend(before.map(|change| change.at.clone()));
        step.is_there = step
            .changes
            .iter()
            .any(|change| change.stands == Stands::After && change.stays && !earlier.contains(&change.at));
    }
    let number = steps.len();
    let possible = steps.iter().position(|step| step.is_another).unwrap_or(number);
    let shared = 1 + steps[..possible].iter().rposition(|step| step.is_there)?;
    let is_missing = |step: &Step| step.is_missing && !step.is_there;
    let parted = steps[..shared].iter().position(is_missing).unwrap_or(shared);
    // Where nothing proves that a step was known there, what is neither as before nor as it became may be their change of
    // ours, or one that was made beside ours.
    let mut doubtful = Doubtful::new();
    for (at, step) in steps[..shared].iter().enumerate() {
        for change in &step.changes {
            let is_unproved = !step.is_there && change.stands == Stands::Otherwise && !change.is_later;
            if at >= parted || is_unproved {
                let (place, path) = change.at.clone();
                doubtful.entry(place).or_default().insert(path);
            }
        }
    }
    let back = number - parted;
    let mut base = document.project().clone();
    let mut label = None;
    for step in document.steps_back().take(back) {
        for change in step.changes.iter().rev() {
            let back = change.inverse();
            if !base.is_before(&back) {
                // The history is not that of this project, or some of it is lost.
                return None;
            }
            base.apply(&back);
        }
        label = Some(step.label);
    }
    Some(Parting {
        steps: back,
        label,
        base,
        doubtful,
    })
}

/// Says whether a change adds a record whose id names something else in the other version: by what never changes of it.
fn is_another(change: &Change, there: &Project) -> bool {
    match change {
        Change::Ear(swap) => born_otherwise(swap, &there.ears, |ear| ear.code),
        Change::Test(swap) => born_otherwise(swap, &there.tests, |test| test.seed),
        Change::Count(swap) => born_otherwise(swap, &there.counts, content),
        Change::List(swap) => born_otherwise(swap, &there.lists, |list| list.digest.clone()),
        Change::Photo(swap) => born_otherwise(swap, &there.photos, |photo| photo.digest.clone()),
        _ => false,
    }
}

fn born_otherwise<R: Record, M: PartialEq>(swap: &Swap<R>, there: &Table<R>, mark: impl Fn(&R) -> M) -> bool {
    let (None, Some(added)) = swap.sides() else {
        return false;
    };
    there
        .get(added.id())
        .is_some_and(|theirs| mark(theirs) != mark(added))
}
