//! Trays that look as if one of their two counts was written down for the wrong cells, each with what mends it.
//!
//! Early and final counts of a cell go together. Where they go together much better with the final ones moved, the
//! tray was read one cell off, turned, or two of its cells, or two whole trays, were taken for each other. Which of the
//! two counts is the wrong one, they do not tell: that is for the grower to look up.

use super::soundness::FindingKind;
use super::words::{capital, plural, some_of};
use crate::model::{
    Cell, CellId, Moved, Pass, Place, Project, Repair, RepairKind, ShiftEnd, Tray, TrayId, row_letters,
};
use crate::stats::alignment::{
    Habit, How, Misread as Fault, Twice, across, belonging, misreads, swapped_trays,
};
use crate::stats::beta_binomial::FEWEST_UNITS;
use std::sync::Arc;

/// A tray that looks misread, and what mends it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Misread {
    pub(super) tray: TrayId,
    /// The tray's number within the test.
    pub(super) number: u16,
    /// The other tray and its number, where two were taken for each other.
    pub(super) other: Option<(TrayId, u16)>,
    pub(super) kind: FindingKind,
    /// Where to look.
    pub(super) place: Place,
    /// The cells whose final counts move, in reading order.
    pub(super) cells: Vec<CellId>,
    /// What it looks like, to be said behind the tray's name: ` row C looks as if …`.
    pub(super) what: String,
    pub(super) evidence: String,
    pub(super) remedy: String,
    pub(super) repair: Repair,
}

impl Misread {
    /// Whether counts of this tray are wrong.
    pub(super) fn is_about(&self, tray: TrayId) -> bool {
        self.tray == tray || self.other.is_some_and(|(other, _)| other == tray)
    }

    /// Says what it looks like where the tray needs no name; `None` where it is about other trays.
    pub(super) fn within(&self, tray: TrayId) -> Option<String> {
        match self.other {
            None => (self.tray == tray).then(|| capital(self.what.trim_start())),
            Some((other, number)) => {
                let number = if self.tray == tray {
                    number
                } else if other == tray {
                    self.number
                } else {
                    return None;
                };
                Some(format!(
                    "Its final counts look as if they were those of tray {number}, and those of tray {number} as if they were its own."
                ))
            }
        }
    }
}

/// The cells of a tray with an early count in force, in reading order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Seen {
    cells: Vec<CellId>,
    twice: Vec<Twice>,
    /// Rows and columns of the tray.
    size: [u32; 2],
}

impl Seen {
    /// Cells with both counts, and those that still lack the final one.
    fn both_and_open(&self) -> [usize; 2] {
        let both = self.twice.iter().filter(|twice| twice.last.is_some()).count();
        [both, self.twice.len() - both]
    }
}

pub(super) fn seen(project: &Project, tray: &Tray) -> Seen {
    let cells = project.cells_of(tray.id).filter(|cell| cell.content.is_counted());
    let (cells, twice) = cells
        .filter_map(|cell| {
            let emerged = |pass| Some(project.count_in_force(cell.id, pass)?.tally.emerged());
            let twice = Twice {
                row: u32::from(cell.row),
                column: u32::from(cell.column),
                sown: u32::from(project.sown(cell)),
                early: emerged(Pass::Early)?,
                last: emerged(Pass::Final),
            };
            Some((cell.id, twice))
        })
        .unzip();
    Seen {
        cells,
        twice,
        size: [tray.rows, tray.columns].map(u32::from),
    }
}

/// The trays that teach how early counts follow from final ones. Once three cells in four lie in trays of which all early
/// counts have their final ones, these alone: then a count in any other tray changes nothing of what was learnt.
pub(super) fn teachers(trays: &[Arc<Seen>]) -> Vec<Arc<Seen>> {
    const DONE_SHARE: usize = 3;
    let (mut done, mut open) = (0, 0);
    for tray in trays {
        let [both, left] = tray.both_and_open();
        *if left == 0 { &mut done } else { &mut open } += both;
    }
    let is_enough = done >= FEWEST_UNITS && done >= DONE_SHARE * open;
    let teaches = |tray: &&Arc<Seen>| {
        let [both, left] = tray.both_and_open();
        both > 0 && (left == 0 || !is_enough)
    };
    trays.iter().filter(teaches).cloned().collect()
}

pub(super) fn habit(teachers: &[Arc<Seen>]) -> Option<Habit> {
    Habit::of(teachers.iter().flat_map(|seen| &seen.twice).copied())
}

/// What looks misread within one tray.
#[derive(Debug)]
pub(super) struct InTray {
    found: Vec<Misread>,
    /// How much likelier the early counts are once all that is mended: the logarithm of the ratio.
    ln_likelier: f64,
    /// Whether its two counts look like those of two different trays.
    is_stranger: bool,
}

/// Looks at one tray, also while it is being counted.
pub(super) fn in_tray(project: &Project, tray: TrayId, seen: &Seen, habit: &Habit) -> InTray {
    let faults = misreads(habit, &seen.twice, seen.size);
    let mut mended = seen.twice.clone();
    let mut found = Vec::new();
    for fault in &faults {
        let before = mended.clone();
        for (place, source) in fault.how.moves(&seen.twice, seen.size) {
            mended[place].last = source.and_then(|source| before[source].last);
        }
        if let Some(tray) = project.trays.get(tray) {
            found.push(told(
                project,
                tray,
                &seen.cells,
                [&before, &mended],
                *fault,
                seen.size,
            ));
        }
    }
    InTray {
        found,
        ln_likelier: faults.iter().map(|fault| fault.ln_likelier).sum(),
        is_stranger: belonging(habit, &seen.twice) < 0.0,
    }
}

/// Puts together what looks misread in each tray of a test, and the trays that were taken for each other. A pair of
/// trays is told only where that explains their counts better than faults of each of them do.
pub(super) fn of_test(
    project: &Project,
    habit: &Habit,
    trays: &[(TrayId, Arc<Seen>, Arc<InTray>)],
) -> Vec<Misread> {
    let strangers: Vec<&(TrayId, Arc<Seen>, Arc<InTray>)> =
        trays.iter().filter(|(.., within)| within.is_stranger).collect();
    let counts: Vec<(&[Twice], [u32; 2])> = strangers
        .iter()
        .map(|(_, seen, _)| (seen.twice.as_slice(), seen.size))
        .collect();
    let pairs: Vec<Misread> = swapped_trays(habit, &counts, trays.len())
        .into_iter()
        .filter_map(|pair| {
            let (first, second) = (strangers[pair.first], strangers[pair.second]);
            let by_itself = first.2.ln_likelier + second.2.ln_likelier;
            (pair.ln_likelier > by_itself)
                .then(|| told_of_trays(project, [first, second], pair.ln_likelier))
                .flatten()
        })
        .collect();
    let alone = trays
        .iter()
        .filter(|(tray, ..)| pairs.iter().all(|pair| !pair.is_about(*tray)))
        .flat_map(|(.., within)| within.found.iter().cloned());
    let mut found: Vec<Misread> = alone.collect();
    found.extend(pairs);
    found.sort_by_key(|misread| misread.number);
    found
}

fn told_of_trays(
    project: &Project,
    [first, second]: [&(TrayId, Arc<Seen>, Arc<InTray>); 2],
    ln_likelier: f64,
) -> Option<Misread> {
    let [one, two] = [first.0, second.0].map(|tray| project.trays.get(tray));
    let (one, two) = (one?, two?);
    let (of_first, of_second) = (&first.1, &second.1);
    let before = [&of_first.twice[..], &of_second.twice[..]].concat();
    let mut after = before.clone();
    let moves = across(&of_first.twice, &of_second.twice);
    for (place, source) in &moves {
        after[*place].last = source.and_then(|source| before[source].last);
    }
    let moved: Vec<usize> = moves.iter().map(|(place, _)| *place).collect();
    let cells = [&of_first.cells[..], &of_second.cells[..]].concat();
    let name = |place: usize| {
        let tray = if place < of_first.cells.len() { one } else { two };
        let cell = project
            .cells
            .get(cells[place])
            .map_or_else(String::new, Cell::name);
        format!("{} {cell}", tray.number)
    };
    Some(Misread {
        tray: one.id,
        number: one.number,
        other: Some((two.id, two.number)),
        kind: FindingKind::SwappedTrays,
        place: Place::Tray(one.id),
        what: format!(
            " and tray {} look as if the final counts of each were written down for the other.",
            two.number
        ),
        evidence: evidence([&before, &after], &moved, ln_likelier, "tests", name),
        remedy: "Look at both score sheets and at the trays. If the final counts are wrong, one repair swaps those of the two trays; if the early ones are, swap these.".to_owned(),
        repair: Repair {
            moved: Moved::Counts(Pass::Final),
            kind: RepairKind::SwapTrays(one.id, two.id),
        },
        cells,
    })
}

fn told(
    project: &Project,
    tray: &Tray,
    cells: &[CellId],
    [before, after]: [&[Twice]; 2],
    fault: Fault,
    size: [u32; 2],
) -> Misread {
    let moved: Vec<usize> = fault.how.moves(before, size).iter().map(|one| one.0).collect();
    let name = |place: usize| {
        project
            .cells
            .get(cells[place])
            .map_or_else(String::new, Cell::name)
    };
    let (kind, what, mending, repair) = match fault.how {
        How::Shift {
            first,
            to_next,
            to_end_of_tray,
            round,
        } => {
            let begins_row = first == 0 || before[first - 1].row != before[first].row;
            let row = row_letters(before[first].row as u16);
            let way = if to_next { "on" } else { "back" };
            let (whole, part) = match (to_end_of_tray, begins_row) {
                (false, true) => (format!(" row {row}"), "The row"),
                (false, false) => (
                    format!(" row {row} from {} on", name(first)),
                    "That part of the row",
                ),
                (true, _) => (
                    format!(" from {} to its end", name(first)),
                    "That part of the tray",
                ),
            };
            let kind = RepairKind::Shift {
                from: cells[first],
                to_next,
                end: if to_end_of_tray {
                    ShiftEnd::Tray
                } else {
                    ShiftEnd::Row
                },
                round,
            };
            (
                FindingKind::Shifted,
                format!(
                    "{whole}: its final counts fit the early ones much better when each is moved one cell {way}. {part} looks as if it was read one cell off."
                ),
                format!("moves the final counts one cell {way}"),
                kind,
            )
        }
        How::Turn | How::MirrorColumns | How::MirrorRows => {
            let (what, mending, kind) = match fault.how {
                How::MirrorColumns => (
                    "left and right were taken for each other",
                    "mirrors them",
                    RepairKind::MirrorColumns(tray.id),
                ),
                How::MirrorRows => (
                    "top and bottom were taken for each other",
                    "mirrors them",
                    RepairKind::MirrorRows(tray.id),
                ),
                _ => (
                    "it stood the other way round",
                    "turns them by half a turn",
                    RepairKind::Turn(tray.id),
                ),
            };
            (
                FindingKind::Turned,
                format!(" looks as if {what} in one of its two counts."),
                format!("takes the final counts and {mending}"),
                kind,
            )
        }
        How::Swap(a, b) => (
            FindingKind::Swapped,
            format!(
                " cells {} and {} look as if they were taken for each other in one of their two counts.",
                name(a),
                name(b)
            ),
            "swaps their two final counts".to_owned(),
            RepairKind::SwapCells(cells[a], cells[b]),
        ),
    };
    let look = match kind {
        FindingKind::Turned => "Look where the landmarks lie",
        _ => "Look at the cells and the score sheet again",
    };
    Misread {
        tray: tray.id,
        number: tray.number,
        other: None,
        kind,
        place: match kind {
            FindingKind::Turned => Place::Tray(tray.id),
            _ => Place::Cell(cells[moved[0]]),
        },
        cells: moved.iter().map(|place| cells[*place]).collect(),
        what,
        evidence: evidence([before, after], &moved, fault.ln_likelier, "trays", name),
        remedy: format!(
            "{look}. If the final counts are wrong, one repair {mending}; if the early ones are, move those the other way."
        ),
        repair: Repair {
            moved: Moved::Counts(Pass::Final),
            kind: repair,
        },
    }
}

/// Says how the two counts go together as they stand and as they would.
fn evidence(
    [before, after]: [&[Twice]; 2],
    moved: &[usize],
    ln_likelier: f64,
    sound: &str,
    name: impl Fn(usize) -> String,
) -> String {
    let mut parts = Vec::new();
    let pairs = |all: &[Twice]| -> Vec<(f64, f64)> {
        let known = moved
            .iter()
            .filter_map(|place| Some((all[*place].early, all[*place].last?)));
        known
            .map(|(early, last)| (f64::from(early), f64::from(last)))
            .collect()
    };
    if let (Some(as_read), Some(mended)) = (correlation(&pairs(before)), correlation(&pairs(after)))
        && moved.len() > 2
    {
        // Adding nothing turns a rounded -0 into 0.
        let [as_read, mended] =
            [as_read, mended].map(|found| format!("{:.2}", (100.0 * found).round() / 100.0 + 0.0));
        parts.push(format!(
            "Early and final counts of these cells have a correlation of {as_read} as they stand, and of {mended} once moved."
        ));
    }
    let more: Vec<String> = moved
        .iter()
        .filter(|place| {
            before[**place]
                .last
                .is_some_and(|last| before[**place].early > last)
        })
        .map(|place| name(*place))
        .collect();
    if !more.is_empty() {
        let kind = if more.len() == 1 { "cell" } else { "cells" };
        parts.push(format!(
            "In {kind} {} more had emerged early than are seedlings in the end.",
            some_of(&more)
        ));
    }
    parts.push(format!(
        "Moved, the counts are {} likelier; fewer than 1 of 100 {sound} without a fault look like this.",
        times(ln_likelier)
    ));
    parts.join(" ")
}

/// Says how many times likelier, to two figures.
fn times(ln_likelier: f64) -> String {
    const MOST: f64 = 1e6;
    let times = ln_likelier.exp();
    if times >= MOST {
        return "more than a million times".to_owned();
    }
    let step = 10_f64.powf((times.max(1.0).log10() - 1.0).floor().max(0.0));
    plural(((times / step).round() * step) as usize, "time")
}

/// Pearson's correlation; `None` where one side does not vary.
fn correlation(pairs: &[(f64, f64)]) -> Option<f64> {
    let count = pairs.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / count;
    let (x, y) = (mean(|pair| pair.0), mean(|pair| pair.1));
    let (mut xx, mut yy, mut xy) = (0.0, 0.0, 0.0);
    for pair in pairs {
        xx += (pair.0 - x).powi(2);
        yy += (pair.1 - y).powi(2);
        xy += (pair.0 - x) * (pair.1 - y);
    }
    (xx > 0.0 && yy > 0.0).then(|| xy / (xx * yy).sqrt())
}
