//! The counts of another copy of the project beside ours: what both say, what only one says, and where they differ.
//!
//! Copies share what was there when they parted. Ids of what came later are given in each copy anew, so a count is known
//! again by its cell, its pass, its scorer and what it says, never by its id.

use super::command::{Seen, Taken};
use super::count::Count;
use super::ids::CellId;
use super::problem::Fault;
use super::project::Project;
use super::test::{Cell, CellContent, Test};
use super::words::plural;

/// A count here beside one there, of the same cell in the same pass.
#[derive(Debug, Clone, PartialEq)]
pub struct Pair {
    /// Our count.
    pub here: Count,
    /// The count of the other copy.
    pub there: Count,
    /// Whether the other one can also be kept as that of a second scorer.
    pub can_keep_both: bool,
}

/// What becomes of two counts that differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keep {
    /// Ours stays. The other one is noted before it, so that nobody is asked again.
    Here,
    /// The other one corrects ours.
    There,
    /// Ours stays, and the other one becomes that of a second scorer.
    Both,
}

/// The counts of another copy of the project beside ours.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Comparison {
    /// Counts that both copies had when they parted, or that were taken over before.
    pub shared: usize,
    /// Cells read twice with the same result.
    pub agreeing: Vec<Pair>,
    /// Counts that only the other copy has.
    pub additions: Vec<Count>,
    /// Cells read twice with different results.
    pub differing: Vec<Pair>,
    /// What cannot be compared, and why, a sentence each.
    pub apart: Vec<String>,
}

/// Puts the counts of another copy beside ours. Fails when it is a copy of another project.
pub fn compare(here: &Project, there: &Project) -> Result<Comparison, Fault> {
    if here.about.id != there.about.id {
        return Err(Fault::Mismatch(format!(
            "this is no copy of the same project but of '{}'; choose a copy of '{}'",
            there.about.name, here.about.name
        )));
    }
    let mut found = Comparison::default();
    for test in there.tests.iter() {
        compare_test(here, there, test, &mut found);
    }
    Ok(found)
}

fn compare_test(here: &Project, there: &Project, test: &Test, found: &mut Comparison) {
    if is_same_test(here, there, test) {
        for cell in there.cells_of_test(test.id) {
            compare_cell(here, there, cell, found);
        }
        return;
    }
    let counted = there
        .cells_of_test(test.id)
        .filter(|cell| there.is_counted(cell.id))
        .count();
    if counted > 0 {
        found.apart.push(format!(
            "Test {} of the other copy is not in this one; {} counted there are left out.",
            test.name,
            plural(counted, "cell")
        ));
    }
}

/// A test is the same when it was designed before the copies parted: an id alone may mean two different ones.
fn is_same_test(here: &Project, there: &Project, test: &Test) -> bool {
    let year = |project: &Project, test: &Test| project.seasons.get(test.season).map(|season| season.year);
    here.tests.get(test.id).is_some_and(|ours| {
        ours.seed == test.seed && ours.plan == test.plan && year(here, ours) == year(there, test)
    })
}

fn compare_cell(here: &Project, there: &Project, cell: &Cell, found: &mut Comparison) {
    let standing: Vec<&Count> = there
        .counts_of(cell.id)
        .filter(|count| !there.is_corrected(count.id))
        .collect();
    if standing.is_empty() {
        return;
    }
    if let Some(why) = why_not_the_same(here, there, cell) {
        return found.apart.push(why);
    }
    for count in standing {
        compare_count(here, there, cell.id, count, found);
    }
}

/// Says why a cell of the other copy is not the cell of ours with the same id.
fn why_not_the_same(here: &Project, there: &Project, cell: &Cell) -> Option<String> {
    let place = |project: &Project, cell: &Cell| {
        let tray = project.trays.get(cell.tray);
        (tray.map(|tray| (tray.test, tray.number)), cell.row, cell.column)
    };
    let number = there.trays.get(cell.tray).map_or(0, |tray| tray.number);
    let name = format!("Tray {number} {}", cell.name());
    let left_out = "its counts in the other copy are left out";
    let Some(ours) = here
        .cells
        .get(cell.id)
        .filter(|ours| place(here, ours) == place(there, cell))
    else {
        return Some(format!(
            "{name} of the other copy is no cell of this one; {left_out}."
        ));
    };
    let (one, two) = (content(here, ours), content(there, cell));
    if one != two {
        return Some(format!("{name} holds {one} here and {two} there; {left_out}."));
    }
    let (one, two) = (here.sown(ours), there.sown(cell));
    (one != two).then(|| {
        format!(
            "{name} holds {} here and {two} there; {left_out}.",
            plural(usize::from(one), "kernel")
        )
    })
}

fn content(project: &Project, cell: &Cell) -> String {
    match cell.content {
        CellContent::Ear(ear) => project.ears.get(ear).map_or_else(
            || "an ear that is gone".to_owned(),
            |ear| format!("ear {}", ear.code),
        ),
        CellContent::Check(number) => format!("check {number}"),
        CellContent::Landmark => "a landmark".to_owned(),
        CellContent::Spare => "nothing".to_owned(),
    }
}

fn compare_count(here: &Project, there: &Project, cell: CellId, count: &Count, found: &mut Comparison) {
    // Known again also where it was taken over as that of a second scorer.
    let is_known = here.counts_of(cell).any(|ours| is_same_record(ours, count));
    let standing = here.standing_count(cell, count.pass, count.second);
    let standing = standing.filter(|ours| !ours.void);
    match standing {
        _ if is_known => found.shared += 1,
        Some(ours) if count.void => {
            // Only a count that they have seen can have been withdrawn by them.
            let withdrawn = count.corrects.and_then(|withdrawn| there.counts.get(withdrawn));
            if withdrawn.is_some_and(|withdrawn| says_the_same(withdrawn, ours)) {
                found.differing.push(pair(here, there, ours, count));
            }
        }
        None if count.void => {}
        None => found.additions.push(count.clone()),
        Some(ours) if says_the_same(ours, count) => found.agreeing.push(pair(here, there, ours, count)),
        Some(ours) => found.differing.push(pair(here, there, ours, count)),
    }
}

fn pair(here: &Project, there: &Project, ours: &Count, count: &Count) -> Pair {
    let second = |project: &Project| {
        let second = project.standing_count(ours.cell, count.pass, true);
        second.is_some_and(|second| !second.void)
    };
    let is_free = !second(here) && !second(there);
    Pair {
        here: ours.clone(),
        there: count.clone(),
        can_keep_both: is_free && !count.second && !count.void,
    }
}

/// Says whether two counts are one and the same record, whatever their ids.
fn is_same_record(one: &Count, two: &Count) -> bool {
    one.pass == two.pass
        && one.void == two.void
        && (&one.by, one.on, &one.note) == (&two.by, two.on, &two.note)
        && (&one.overruled, one.scheme) == (&two.overruled, two.scheme)
        && says_the_same(one, two)
}

/// Says whether two counts found the same in a cell.
fn says_the_same(one: &Count, two: &Count) -> bool {
    (one.tally, one.vigor, one.mould) == (two.tally, two.vigor, two.mould)
        && (one.root_mm, one.shoot_mm) == (two.root_mm, two.shoot_mm)
}

impl Comparison {
    /// Says whether nothing of the other copy is new here.
    pub fn is_nothing_new(&self) -> bool {
        self.additions.is_empty() && self.differing.is_empty() && self.second_readings().next().is_none()
    }

    /// Gives the agreeing counts of another scorer, which are worth keeping: two people have read these cells.
    pub fn second_readings(&self) -> impl Iterator<Item = &Pair> {
        self.agreeing
            .iter()
            .filter(|pair| pair.can_keep_both && pair.here.by != pair.there.by)
    }

    /// Gives the counts that are to be taken over: those that we lack, of the differing ones what is to be kept, and the
    /// agreeing ones of another scorer as those of a second scorer. Where ours is kept, the other one corrects it and ours
    /// corrects that again: so both stay in the history, and the same copy says nothing new another time.
    pub fn taken(&self, keep: &[Keep]) -> Vec<Taken> {
        let mut found: Vec<Taken> = self
            .additions
            .iter()
            .map(|count| taken(count, count.second))
            .collect();
        found.extend(self.second_readings().map(|pair| taken(&pair.there, true)));
        for (pair, keep) in self.differing.iter().zip(keep) {
            match keep {
                Keep::Both if pair.can_keep_both => found.push(taken(&pair.there, true)),
                Keep::There => found.push(taken(&pair.there, pair.there.second)),
                Keep::Here | Keep::Both => {
                    found.push(taken(&pair.there, pair.there.second));
                    found.push(taken(&pair.here, pair.here.second));
                }
            }
        }
        found
    }

    /// Says what a merge does, such as `9 counts taken over, ours kept in 3 cells`.
    pub fn done(&self, keep: &[Keep]) -> String {
        let kept = self
            .differing
            .iter()
            .zip(keep)
            .filter(|(pair, keep)| **keep == Keep::Here || (**keep == Keep::Both && !pair.can_keep_both))
            .count();
        let over = self.additions.len() + self.second_readings().count() + self.differing.len() - kept;
        let ours = match kept {
            0 => String::new(),
            kept => format!(", ours kept in {}", plural(kept, "cell")),
        };
        format!("{} taken over{ours}", plural(over, "count"))
    }
}

fn taken(count: &Count, second: bool) -> Taken {
    Taken {
        seen: Seen {
            second,
            mould: count.mould,
            vigor: count.vigor,
            note: count.note.clone(),
            root_mm: count.root_mm,
            shoot_mm: count.shoot_mm,
            overruled: count.overruled.clone(),
            ..Seen::new(count.cell, count.pass, count.tally)
        },
        on: count.on,
        by: count.by.clone(),
        is_void: count.void,
        scheme: Some(count.scheme),
    }
}
