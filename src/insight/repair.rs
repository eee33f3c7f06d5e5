//! What a repair of trays would change, and whether the counts agree better after it.

use super::progress::content_name;
use super::words::{percent, plural};
use crate::genetics;
use crate::model::{
    CellId, Command, Count, Document, Moved, Pass, Place, Project, Repair, Stamp, TrayId, sentence,
};
use jiff::civil::DateTime;
use std::collections::BTreeSet;

/// What a repair would do.
#[derive(Debug, Clone, PartialEq)]
pub struct RepairPreview {
    /// Why it cannot be done; a sentence.
    pub refused: Option<String>,
    /// The cells that it changes, tray by tray, row by row.
    pub cells: Vec<RepairedCell>,
    /// How the counts of the touched trays agree now.
    pub now: Agreement,
    /// How they would agree after it.
    pub then: Agreement,
    /// The counts that would belong to a landmark or a spare cell, where nothing was laid; they would be withdrawn.
    pub on_empty: Vec<OnEmpty>,
    /// Cells of an ear or a check that are counted now and would have no count.
    pub opened: usize,
}

/// A count that a repair would bring to a cell in which nothing was laid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OnEmpty {
    /// The cell, such as `tray 5 B1`.
    pub name: String,
    /// Kernels that had come up.
    pub emerged: u32,
}

impl RepairPreview {
    /// Whether the landmarks and spare cells speak for the repair, with a sentence: nothing can grow in them. None where
    /// no count would come to one.
    pub fn landmarks(&self) -> Option<(bool, String)> {
        let grown: Vec<&str> = self
            .on_empty
            .iter()
            .filter(|one| one.emerged > 0)
            .map(|one| one.name.as_str())
            .collect();
        let counts = plural(self.on_empty.len(), "count");
        match (self.on_empty.len(), grown.as_slice()) {
            (0, _) => None,
            (_, []) => Some((
                true,
                format!(
                    "{counts} would come to cells where nothing was laid, and nothing had come up there: it fits."
                ),
            )),
            (_, grown) => Some((
                false,
                format!(
                    "{counts} would come to cells where nothing was laid, but kernels had come up in {}: the landmarks speak against this repair.",
                    listed(grown)
                ),
            )),
        }
    }

    /// Says how many cells would have to be counted again, if any.
    pub fn open_again(&self) -> Option<String> {
        match self.opened {
            0 => None,
            1 => Some("1 cell would have no count and is to be counted again.".to_owned()),
            cells => Some(format!(
                "{cells} cells would have no count and are to be counted again."
            )),
        }
    }
}

/// Names some places, the first three of many.
fn listed(names: &[&str]) -> String {
    match names {
        [some @ .., last] if names.len() <= 3 && !some.is_empty() => {
            format!("{} and {last}", some.join(", "))
        }
        _ if names.len() > 3 => format!("{} and {} more", names[..3].join(", "), names.len() - 3),
        _ => names.concat(),
    }
}

/// One cell that a repair changes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RepairedCell {
    /// The cell.
    pub cell: CellId,
    /// Its name with its tray, such as `tray 5 C3`.
    pub name: String,
    /// What lies or was read there now.
    pub now: String,
    /// What would lie or would have been read there.
    pub then: String,
}

/// How early and final counts of some trays agree with each other.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Agreement {
    /// Cells with both counts.
    pub cells: usize,
    /// Cells in which more kernels had emerged early than are seedlings in the end.
    pub more_early: usize,
    /// Correlation of the emerged shares, early against final, from -1 to 1; none for fewer than three cells or
    /// where all are alike.
    pub correlation: Option<f64>,
}

impl Agreement {
    fn of(project: &Project, trays: &BTreeSet<TrayId>) -> Self {
        let mut found = Self::default();
        let mut shares = Vec::new();
        for cell in trays.iter().flat_map(|tray| project.cells_of(*tray)) {
            let count = |pass| project.count_in_force(cell.id, pass).map(|count| count.tally);
            let (Some(first), Some(second)) = (count(Pass::Early), count(Pass::Final)) else {
                continue;
            };
            found.cells += 1;
            found.more_early += usize::from(first.emerged() > second.emerged());
            let share = |emerged: u32, counted: u32| f64::from(emerged) / f64::from(counted.max(1));
            shares.push((
                share(first.emerged(), first.counted()),
                share(second.emerged(), second.counted()),
                1.0,
            ));
        }
        found.correlation = genetics::line(shares.iter().copied())
            .filter(|line| line.points >= 3)
            .map(|line| line.correlation);
        found
    }

    /// Says how the counts agree, in a sentence.
    pub fn sentence(&self) -> String {
        if self.cells == 0 {
            return "No cell of these trays has both an early and a final count, so the counts cannot tell whether it helps.".to_owned();
        }
        let agree = self.correlation.map_or_else(String::new, |r| {
            format!("; early and final agree with a correlation of {r:.2}")
        });
        if self.more_early == 0 {
            format!(
                "In none of {} had more emerged early than in the end{agree}.",
                plural(self.cells, "cell")
            )
        } else {
            format!(
                "In {} of {} had more emerged early than in the end{agree}.",
                self.more_early,
                plural(self.cells, "cell")
            )
        }
    }

    /// Says whether the counts would agree better than before: fewer impossible cells, or as many and a closer
    /// correlation. None when they cannot tell.
    pub fn is_better_than(&self, before: &Self) -> Option<bool> {
        if self.cells == 0 || before.cells == 0 {
            return None;
        }
        match self.more_early.cmp(&before.more_early) {
            std::cmp::Ordering::Less => Some(true),
            std::cmp::Ordering::Greater => Some(false),
            std::cmp::Ordering::Equal => {
                let difference = self.correlation? - before.correlation?;
                (difference.abs() > 0.02).then_some(difference > 0.0)
            }
        }
    }
}

/// Carries out a command on a copy of the document; a refusal is a sentence.
pub(super) fn trial(document: &Document, command: &Command) -> Result<Document, String> {
    let stamp = Stamp {
        at: DateTime::MIN,
        by: String::new(),
    };
    let mut trial = Document::new(document.project().clone());
    match trial.run(command, &stamp) {
        Ok(_) => Ok(trial),
        Err(problem) => Err(sentence(&problem.fault.to_string())),
    }
}

pub(super) fn preview(document: &Document, repair: &Repair) -> RepairPreview {
    let project = document.project();
    let trial = match trial(document, &Command::Repair(*repair)) {
        Ok(trial) => trial,
        Err(refused) => {
            return RepairPreview {
                refused: Some(refused),
                cells: Vec::new(),
                now: Agreement::default(),
                then: Agreement::default(),
                on_empty: Vec::new(),
                opened: 0,
            };
        }
    };
    let after = trial.project();
    let test = repair.tray(project).and_then(|tray| project.test_of_tray(tray));
    let mut cells = Vec::new();
    let mut touched = BTreeSet::new();
    for cell in test.into_iter().flat_map(|test| project.cells_of_test(test.id)) {
        let (now, then) = (text(project, repair, cell.id), text(after, repair, cell.id));
        if now != then {
            touched.insert(cell.tray);
            cells.push(RepairedCell {
                cell: cell.id,
                name: project.place_name(Place::Cell(cell.id)),
                now,
                then,
            });
        }
    }
    RepairPreview {
        refused: None,
        now: Agreement::of(project, &touched),
        then: Agreement::of(after, &touched),
        on_empty: on_empty(project, after, repair),
        opened: opened(project, after, repair),
        cells,
    }
}

/// The counts in force of a cell that a repair is about: of its pass, or all where what was laid moves.
fn counts_of<'a>(project: &'a Project, repair: &Repair, cell: CellId) -> impl Iterator<Item = &'a Count> {
    let moved = repair.moved;
    let standing = project
        .counts_of(cell)
        .filter(|count| !count.void && !project.is_corrected(count.id));
    standing.filter(move |count| match moved {
        Moved::Laid => true,
        Moved::Counts(pass) => count.pass == pass && !count.second,
    })
}

/// The counts that a repair would bring to a cell in which nothing was laid.
fn on_empty(project: &Project, after: &Project, repair: &Repair) -> Vec<OnEmpty> {
    let moves = repair.moves(project).unwrap_or_default();
    let is_empty = |project: &Project, cell: CellId| {
        project
            .cells
            .get(cell)
            .is_some_and(|cell| !cell.content.is_counted())
    };
    let counted = moves.into_iter().filter_map(|(to, from)| {
        // What lies moves under the counts of its cell; a count moves over what lies.
        let read = if repair.moved == Moved::Laid {
            Some(to)
        } else {
            from
        };
        is_empty(after, to).then_some((to, read?))
    });
    let emerged = |(to, read)| {
        let most = counts_of(project, repair, read)
            .map(|count| count.tally.emerged())
            .max()?;
        Some(OnEmpty {
            name: project.place_name(Place::Cell(to)),
            emerged: most,
        })
    };
    counted.filter_map(emerged).collect()
}

/// The cells with something to count that have a count now and would have none.
fn opened(project: &Project, after: &Project, repair: &Repair) -> usize {
    let moves = repair.moves(project).unwrap_or_default();
    let has = |project: &Project, cell: CellId| counts_of(project, repair, cell).next().is_some();
    let is_counted = |cell: CellId| {
        after
            .cells
            .get(cell)
            .is_some_and(|cell| cell.content.is_counted())
    };
    let cells = moves.into_iter().map(|(to, _)| to);
    cells
        .filter(|cell| is_counted(*cell) && has(project, *cell) && !has(after, *cell))
        .count()
}

/// Says what lies in a cell, or what was read there in the pass that is repaired.
fn text(project: &Project, repair: &Repair, cell: CellId) -> String {
    let Some(cell) = project.cells.get(cell) else {
        return String::new();
    };
    match repair.moved {
        Moved::Laid => content_name(project, cell.content),
        Moved::Counts(pass) => match project.count_in_force(cell.id, pass) {
            Some(count) => {
                let (up, of) = (count.tally.emerged(), count.tally.counted());
                let share = if of == 0 {
                    String::new()
                } else {
                    format!(" ({})", percent(100.0 * f64::from(up) / f64::from(of)))
                };
                format!("{up} of {of} up{share}")
            }
            None => "no count".to_owned(),
        },
    }
}
