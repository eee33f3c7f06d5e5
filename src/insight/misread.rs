//! Trays that look as if one of their two counts was written down for the wrong cells, each with what mends it.
//!
//! Early and final counts of a cell go together. Where they go together much better with the final ones moved, the
//! tray was read one cell off, turned, or two of its cells were taken for each other. Which of the two counts is the
//! wrong one, they do not tell: that is for the grower to look up.

use super::soundness::FindingKind;
use super::words::{plural, some_of};
use crate::model::{
    Cell, CellId, Moved, Pass, Place, Project, Repair, RepairKind, ShiftEnd, TestId, Tray, TrayId,
    row_letters,
};
use crate::stats::alignment::{Habit, How, Misread as Fault, Twice, misreads};

/// A tray that looks misread, and what mends it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Misread {
    pub(super) tray: TrayId,
    /// The tray's number within the test.
    pub(super) number: u16,
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

/// The cells of a tray with an early count in force, in reading order.
fn seen(project: &Project, tray: &Tray) -> (Vec<CellId>, Vec<Twice>) {
    let cells = project.cells_of(tray.id).filter(|cell| cell.content.is_counted());
    cells
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
        .unzip()
}

/// Looks at all trays of a test, also while they are being counted.
pub(super) fn compute(project: &Project, test: TestId) -> Vec<Misread> {
    let trays: Vec<(&Tray, Vec<CellId>, Vec<Twice>)> = project
        .trays_of(test)
        .map(|tray| {
            let (cells, seen) = seen(project, tray);
            (tray, cells, seen)
        })
        .collect();
    let all = trays.iter().flat_map(|(.., seen)| seen).copied();
    let Some(habit) = Habit::of(all) else {
        return Vec::new();
    };
    trays
        .iter()
        .flat_map(|(tray, cells, seen)| {
            let size = [tray.rows, tray.columns].map(u32::from);
            let mut mended: Vec<Twice> = seen.clone();
            let faults = misreads(&habit, seen, size).into_iter();
            faults
                .map(|fault| {
                    let before = mended.clone();
                    for (place, source) in fault.how.moves(seen, size) {
                        mended[place].last = source.and_then(|source| before[source].last);
                    }
                    told(project, tray, cells, [&before, &mended], fault, size)
                })
                .collect::<Vec<_>>()
        })
        .collect()
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
        kind,
        place: match kind {
            FindingKind::Turned => Place::Tray(tray.id),
            _ => Place::Cell(cells[moved[0]]),
        },
        cells: moved.iter().map(|place| cells[*place]).collect(),
        what,
        evidence: evidence([before, after], &moved, fault, name),
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
    fault: Fault,
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
        parts.push(format!(
            "Early and final counts of these cells have a correlation of {as_read:.2} as they stand, and of {mended:.2} once moved."
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
        "Moved, the counts are {} likelier; fewer than 1 of 100 trays without a fault look like this.",
        times(fault.ln_likelier)
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
