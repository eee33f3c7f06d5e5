//! Mending what lies where, or what was read where: each repair is one step that can be undone.

use super::change::{Change, Transaction};
use super::command::find;
use super::count::{Count, Pass, Tally};
use super::ids::{CellId, CountId, EarId, TrayId};
use super::problem::{Fault, Place, Problem};
use super::project::Project;
use super::test::{Cell, CellContent, Test, Tray, cell_name};
use super::withdrawals::Withdrawals;
use std::collections::BTreeMap;

/// One repair of trays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Repair {
    /// What is in the wrong place.
    pub moved: Moved,
    /// How it gets to the right one.
    pub kind: RepairKind,
}

impl Repair {
    /// Gives the place at which the repair begins.
    pub fn place(&self) -> Place {
        place(self.kind)
    }

    /// Gives each cell that the repair reaches, and the cell whose content or count it gets; none for nothing.
    pub fn moves(&self, project: &Project) -> Result<Vec<(CellId, Option<CellId>)>, Problem> {
        moves(project, self)
    }

    /// Gives the tray that is mended, the first of two; none when it does not exist.
    pub fn tray(&self, project: &Project) -> Option<TrayId> {
        match self.place() {
            Place::Cell(cell) => project.cells.get(cell).map(|cell| cell.tray),
            Place::Tray(tray) => Some(tray),
            _ => None,
        }
    }
}

/// What a repair moves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Moved {
    /// What lies in the cells: it was laid otherwise than planned. Counts stay with the cells in which they were made.
    Laid,
    /// What the first scorer read in one pass: it was written down for the wrong cells.
    Counts(Pass),
}

/// How a repair moves things.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RepairKind {
    /// By one cell, from a cell on, over the cells that hold something to count.
    Shift {
        /// The first cell of those that are wrong.
        from: CellId,
        /// Where it belongs: in the next cell, or in the one before.
        to_next: bool,
        /// How far the shift reaches.
        end: ShiftEnd,
        /// Whether what falls off at one end comes to the other; else the cell left over has nothing.
        round: bool,
    },
    /// Two cells change places.
    SwapCells(CellId, CellId),
    /// Two trays of the same rows and columns change places.
    SwapTrays(TrayId, TrayId),
    /// The tray was turned by half a turn.
    Turn(TrayId),
    /// Left and right were taken for each other.
    MirrorColumns(TrayId),
    /// Top and bottom were taken for each other.
    MirrorRows(TrayId),
}

/// How far a shift reaches.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ShiftEnd {
    /// To the end of the row.
    Row,
    /// To the end of the tray.
    Tray,
}

/// A cell, and the one whose content it gets; none for nothing.
type Move = (CellId, Option<CellId>);

/// Works out what a repair changes.
pub(super) fn transaction(project: &Project, repair: &Repair) -> Result<Transaction, Problem> {
    let moves = moves(project, repair)?;
    let changes = match repair.moved {
        Moved::Laid => move_content(project, &moves)?,
        Moved::Counts(pass) => move_counts(project, &moves, pass)?,
    };
    if changes.is_empty() {
        let text = match repair.moved {
            Moved::Laid => "nothing would change; choose other cells".to_owned(),
            Moved::Counts(pass) => format!(
                "nothing would change: these cells have no {pass} counts that differ; choose other cells or another count"
            ),
        };
        return Err(Problem::new(place(repair.kind), Fault::Mismatch(text)));
    }
    Ok(Transaction::new(label(project, repair), changes))
}

fn place(kind: RepairKind) -> Place {
    match kind {
        RepairKind::Shift { from, .. } => Place::Cell(from),
        RepairKind::SwapCells(cell, _) => Place::Cell(cell),
        RepairKind::SwapTrays(tray, _)
        | RepairKind::Turn(tray)
        | RepairKind::MirrorColumns(tray)
        | RepairKind::MirrorRows(tray) => Place::Tray(tray),
    }
}

fn label(project: &Project, repair: &Repair) -> String {
    let what = match repair.moved {
        Moved::Laid => "what lies in".to_owned(),
        Moved::Counts(pass) => format!("the {pass} counts of"),
    };
    let name = |place| project.place_name(place);
    match repair.kind {
        RepairKind::Shift {
            from, to_next, end, ..
        } => {
            let reach = match end {
                ShiftEnd::Row => "row",
                ShiftEnd::Tray => "tray",
            };
            let way = if to_next { "on" } else { "back" };
            format!(
                "Shift {what} {} to the end of its {reach} one cell {way}",
                name(Place::Cell(from))
            )
        }
        RepairKind::SwapCells(a, b) => {
            format!(
                "Swap {what} {} and {}",
                name(Place::Cell(a)),
                name(Place::Cell(b))
            )
        }
        RepairKind::SwapTrays(a, b) => {
            format!(
                "Swap {what} {} and {}",
                name(Place::Tray(a)),
                name(Place::Tray(b))
            )
        }
        RepairKind::Turn(tray) => format!("Turn {what} {} by half a turn", name(Place::Tray(tray))),
        RepairKind::MirrorColumns(tray) => format!("Mirror {what} {} left to right", name(Place::Tray(tray))),
        RepairKind::MirrorRows(tray) => format!("Mirror {what} {} top to bottom", name(Place::Tray(tray))),
    }
}

fn moves(project: &Project, repair: &Repair) -> Result<Vec<Move>, Problem> {
    match repair.kind {
        RepairKind::Shift { .. } => shift(project, repair.kind),
        RepairKind::SwapCells(a, b) => swap_cells(project, a, b),
        RepairKind::SwapTrays(a, b) => swap_trays(project, a, b),
        RepairKind::Turn(tray) => turn(project, tray, |tray, row, column| {
            (tray.rows + 1 - row, tray.columns + 1 - column)
        }),
        RepairKind::MirrorColumns(tray) => turn(project, tray, |tray, row, column| {
            (row, tray.columns + 1 - column)
        }),
        RepairKind::MirrorRows(tray) => {
            turn(project, tray, |tray, row, column| (tray.rows + 1 - row, column))
        }
    }
}

fn shift(project: &Project, kind: RepairKind) -> Result<Vec<Move>, Problem> {
    let RepairKind::Shift {
        from,
        to_next,
        end,
        round,
    } = kind
    else {
        return Ok(Vec::new());
    };
    let first = find(&project.cells, from)?;
    let cells: Vec<CellId> = project
        .cells_of(first.tray)
        .filter(|cell| (cell.row, cell.column) >= (first.row, first.column))
        .filter(|cell| end == ShiftEnd::Tray || cell.row == first.row)
        .filter(|cell| cell.content.is_counted())
        .map(|cell| cell.id)
        .collect();
    if cells.len() < 2 {
        let text = format!(
            "behind cell {} there is no other cell with something to count; begin further ahead",
            first.name()
        );
        return Err(Problem::new(Place::Cell(from), Fault::Mismatch(text)));
    }
    let last = cells.len() - 1;
    let source = |index: usize| match (to_next, index) {
        (true, 0) => round.then(|| cells[last]),
        (true, _) => Some(cells[index - 1]),
        (false, _) if index == last => round.then(|| cells[0]),
        (false, _) => Some(cells[index + 1]),
    };
    Ok((0..cells.len())
        .map(|index| (cells[index], source(index)))
        .collect())
}

fn swap_cells(project: &Project, a: CellId, b: CellId) -> Result<Vec<Move>, Problem> {
    let tests = [a, b].map(|id| {
        let cell = find(&project.cells, id)?;
        Ok(find(&project.trays, cell.tray)?.test)
    });
    let [one, two] = tests;
    if one? != two? || a == b {
        let text = "two different cells of one test are needed; choose another cell".to_owned();
        return Err(Problem::new(Place::Cell(b), Fault::Mismatch(text)));
    }
    Ok(vec![(a, Some(b)), (b, Some(a))])
}

fn swap_trays(project: &Project, a: TrayId, b: TrayId) -> Result<Vec<Move>, Problem> {
    let (one, two) = (find(&project.trays, a)?, find(&project.trays, b)?);
    if one.test != two.test || a == b || (one.rows, one.columns) != (two.rows, two.columns) {
        let text = format!(
            "trays {} and {} are not two trays of one test with the same rows and columns; choose another tray",
            one.number, two.number
        );
        return Err(Problem::new(Place::Tray(b), Fault::Mismatch(text)));
    }
    let pairs = project
        .cells_of(a)
        .filter_map(|cell| Some((cell.id, project.cell_at(b, cell.row, cell.column)?.id)));
    Ok(pairs
        .flat_map(|(one, two)| [(one, Some(two)), (two, Some(one))])
        .collect())
}

fn turn(
    project: &Project,
    tray: TrayId,
    image: impl Fn(&Tray, u16, u16) -> (u16, u16),
) -> Result<Vec<Move>, Problem> {
    let tray = find(&project.trays, tray)?;
    let source = |cell: &Cell| {
        let (row, column) = image(tray, cell.row, cell.column);
        let source = project.cell_at(tray.id, row, column).map(|source| source.id);
        source.ok_or_else(|| {
            let text = format!(
                "tray {} has no cell {}, so it cannot be turned; swap cells instead",
                tray.number,
                cell_name(row, column)
            );
            Problem::new(Place::Tray(tray.id), Fault::Mismatch(text))
        })
    };
    project
        .cells_of(tray.id)
        .map(|cell| Ok((cell.id, Some(source(cell)?))))
        .collect()
}

/// Moves what lies in the cells. Kernels that were counted stay with their cell; those only planned or laid go along.
fn move_content(project: &Project, moves: &[Move]) -> Result<Vec<Change>, Problem> {
    let mut changes = Vec::new();
    let mut kernels: BTreeMap<EarId, i64> = BTreeMap::new();
    let mut next = project.counts.next_number();
    let mut test: Option<&Test> = None;
    let mut tally = |cell: &Cell, sign: i64| {
        if let (CellContent::Ear(ear), Some(_)) = (cell.content, project.laid_on(cell)) {
            *kernels.entry(ear).or_default() += sign * i64::from(project.sown(cell));
        }
    };
    for (to, from) in moves {
        let before = find(&project.cells, *to)?;
        test = test.or(project.test_of_tray(before.tray));
        let source = from.map(|from| find(&project.cells, from)).transpose()?;
        let laid = if project.is_counted(*to) {
            before.laid
        } else {
            source.and_then(|source| source.laid)
        };
        let content = source.map_or(CellContent::Spare, |source| source.content);
        let after = Cell {
            content,
            laid: laid.filter(|_| content.is_counted()),
            laid_on: source.and_then(|source| source.laid_on),
            ..before.clone()
        };
        if after == *before {
            continue;
        }
        tally(before, -1);
        tally(&after, 1);
        if !after.content.is_counted() {
            let standing = project
                .counts_of(*to)
                .filter(|count| !count.void && !project.is_corrected(count.id));
            for count in standing {
                changes.push(Change::add(withdrawal(count, CountId(next))));
                next += 1;
            }
        }
        changes.push(Change::replace(before, after));
    }
    if let Some(test) = test {
        let mut packets = Withdrawals::for_test(project, test.id);
        for (ear, more) in kernels {
            packets.adjust(ear, more, test.laid);
        }
        changes.extend(packets.changes()?);
    }
    Ok(changes)
}

fn withdrawal(count: &Count, id: CountId) -> Count {
    Count {
        id,
        tally: Tally::default(),
        mould: false,
        vigor: None,
        note: String::new(),
        root_mm: None,
        shoot_mm: None,
        overruled: String::new(),
        void: true,
        corrects: Some(count.id),
        ..count.clone()
    }
}

/// Moves what was read in one pass: each cell gets a correction that holds what was read in its source.
fn move_counts(project: &Project, moves: &[Move], pass: Pass) -> Result<Vec<Change>, Problem> {
    let mut changes = Vec::new();
    let mut next = project.counts.next_number();
    for (to, from) in moves {
        let target = find(&project.cells, *to)?;
        if !target.content.is_counted() {
            continue;
        }
        let standing = project.standing_count(*to, pass, false);
        let read = from.and_then(|from| project.count_in_force(from, pass));
        let count = match (read, standing) {
            (Some(read), _) => Count {
                id: CountId(next),
                cell: *to,
                tally: fitted(project, read, target)?,
                corrects: standing.map(|count| count.id),
                ..read.clone()
            },
            (None, Some(standing)) if !standing.void => withdrawal(standing, CountId(next)),
            (None, _) => continue,
        };
        let is_same = standing.is_some_and(|standing| {
            Count {
                id: standing.id,
                corrects: standing.corrects,
                ..count.clone()
            } == *standing
        });
        if is_same {
            continue;
        }
        changes.push(Change::add(count));
        next += 1;
    }
    Ok(changes)
}

/// Fits what was read to the kernels laid in the cell to which it belongs: the difference is missing kernels.
fn fitted(project: &Project, read: &Count, target: &Cell) -> Result<Tally, Problem> {
    let more = i64::from(project.sown(target)) - i64::from(read.tally.sum());
    let missing = i64::from(read.tally.missing) + more;
    let Ok(missing) = u16::try_from(missing) else {
        let text = format!(
            "{} kernels were counted, but only {} were laid in cell {}, to which they would belong; correct the kernels laid first",
            read.tally.sum(),
            project.sown(target),
            target.name()
        );
        return Err(Problem::new(Place::Cell(target.id), Fault::Mismatch(text)));
    };
    Ok(Tally {
        missing,
        ..read.tally
    })
}
