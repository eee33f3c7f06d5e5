//! Laying kernels: which cells hold them since when, and what that takes out of the packets.

use super::change::{Change, Transaction};
use super::command::{batches_of, family_of, find};
use super::count::Count;
use super::ear::Ear;
use super::ids::{CellId, CountId, EarId, TestId, TrayId};
use super::packet::LedgerReason;
use super::problem::{Fault, Place, Problem};
use super::project::Project;
use super::test::{Cell, CellContent, Spread, Test};
use super::withdrawals::Withdrawals;
use super::words::plural;
use crate::layout::{LayoutFault, Lying, OpenTray, place_late};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// Lays all cells of some trays, or of all, that were not laid before.
pub(super) fn lay_test(
    project: &Project,
    test: TestId,
    trays: &[TrayId],
    on: Date,
) -> Result<Transaction, Problem> {
    let test = find(&project.tests, test)?;
    if let Some(day) = test.laid {
        let text = format!("this test was laid on {day} already; undo that if it is wrong");
        return Err(Problem::new(Place::Test(test.id), Fault::Mismatch(text)));
    }
    for id in trays {
        let tray = find(&project.trays, *id)?;
        if tray.test != test.id {
            let text = format!(
                "tray {} is of another test; choose a tray of this test",
                tray.number
            );
            return Err(Problem::new(Place::Tray(tray.id), Fault::Mismatch(text)));
        }
    }
    let counted = project
        .cells_of_test(test.id)
        .filter(|cell| cell.content.is_counted());
    let (waiting, rest): (Vec<&Cell>, Vec<&Cell>) =
        counted.partition(|cell| cell.laid_on.is_none() && (trays.is_empty() || trays.contains(&cell.tray)));
    if waiting.is_empty() {
        let text = "all cells of these trays were laid already; choose other trays".to_owned();
        return Err(Problem::new(Place::Test(test.id), Fault::Mismatch(text)));
    }
    let is_last = rest.iter().all(|cell| cell.laid_on.is_some());
    let mut changes = Vec::new();
    if is_last {
        changes.push(Change::replace(
            test,
            Test {
                laid: Some(on),
                ..test.clone()
            },
        ));
    } else {
        changes.extend(waiting.iter().map(|cell| {
            let after = Cell {
                laid_on: Some(on),
                ..(*cell).clone()
            };
            Change::replace(*cell, after)
        }));
    }
    let mut needed: BTreeMap<EarId, i64> = BTreeMap::new();
    for cell in &waiting {
        if let Some(ear) = cell.content.ear() {
            *needed.entry(ear).or_default() += i64::from(project.sown(cell));
        }
    }
    let mut packets = Withdrawals::for_test(project, test.id);
    for (ear, kernels) in needed {
        packets.take(ear, kernels, Some(on));
    }
    changes.extend(packets.changes()?);
    let numbers: Vec<String> = trays
        .iter()
        .filter_map(|id| project.trays.get(*id))
        .map(|tray| tray.number.to_string())
        .collect();
    let label = match numbers.as_slice() {
        [] => format!("Lay test {}", test.name),
        [one] => format!("Lay tray {one} of test {}", test.name),
        _ => format!("Lay trays {} of test {}", numbers.join(", "), test.name),
    };
    Ok(Transaction::new(label, changes))
}

/// Lays kernels in single cells of one test.
pub(super) fn lay_cells(
    project: &Project,
    cells: &[(CellId, u16)],
    on: Date,
) -> Result<Transaction, Problem> {
    let (first, test) = the_test(project, cells.iter().map(|(cell, _)| *cell))?;
    let mut changes = Vec::new();
    let mut packets = Withdrawals::for_test(project, test.id);
    let mut laid = BTreeSet::new();
    for (id, kernels) in cells {
        let cell = find(&project.cells, *id)?;
        if !cell.content.is_counted() {
            return Err(Problem::new(Place::Cell(*id), Fault::NothingToCount));
        }
        if let Some(day) = project.laid_on(cell) {
            let text = format!(
                "cell {} was laid on {day} already; take it up first, or change its kernels",
                cell.name()
            );
            return Err(Problem::new(Place::Cell(*id), Fault::Mismatch(text)));
        }
        if !laid.insert(*id) {
            let text = format!("cell {} is to be laid twice at once; lay it once", cell.name());
            return Err(Problem::new(Place::Cell(*id), Fault::Mismatch(text)));
        }
        let after = Cell {
            laid: (*kernels != test.plan.kernels).then_some(*kernels),
            laid_on: Some(on),
            ..cell.clone()
        };
        if let Some(ear) = cell.content.ear() {
            packets.take(ear, i64::from(*kernels), Some(on));
        }
        changes.push(Change::replace(cell, after));
    }
    let waits = |cell: &Cell| cell.content.is_counted() && cell.laid_on.is_none() && !laid.contains(&cell.id);
    if test.laid.is_none() && !project.cells_of_test(test.id).any(waits) {
        changes.push(Change::replace(
            test,
            Test {
                laid: Some(on),
                ..test.clone()
            },
        ));
    }
    changes.extend(packets.changes()?);
    Ok(Transaction::new(
        format!("Lay {}", cells_text(project, first, cells.len())),
        changes,
    ))
}

/// Makes cells of one test empty again.
pub(super) fn take_up(project: &Project, cells: &[CellId]) -> Result<Transaction, Problem> {
    let (first, test) = the_test(project, cells.iter().copied())?;
    let mut changes = Vec::new();
    let mut packets = Withdrawals::for_test(project, test.id);
    let taken: BTreeSet<CellId> = cells.iter().copied().collect();
    for id in &taken {
        let cell = find(&project.cells, *id)?;
        if project.laid_on(cell).is_none() || !cell.content.is_counted() {
            let text = format!("cell {} was not laid, so nothing can be taken up", cell.name());
            return Err(Problem::new(Place::Cell(*id), Fault::Mismatch(text)));
        }
        if project.is_counted(*id) {
            let text = format!(
                "cell {} was counted, so its kernels did lie there; correct the count instead",
                cell.name()
            );
            return Err(Problem::new(Place::Cell(*id), Fault::Mismatch(text)));
        }
        if let Some(ear) = cell.content.ear() {
            packets.put_back(ear, i64::from(project.sown(cell)));
        }
        let after = Cell {
            laid: None,
            laid_on: None,
            ..cell.clone()
        };
        if *cell != after {
            changes.push(Change::replace(cell, after));
        }
    }
    if let Some(day) = test.laid {
        // The test is no longer laid as a whole: from now on each of its other cells says its own day.
        let others = project
            .cells_of_test(test.id)
            .filter(|cell| cell.content.is_counted() && cell.laid_on.is_none() && !taken.contains(&cell.id));
        changes.extend(others.map(|cell| {
            let after = Cell {
                laid_on: Some(day),
                ..cell.clone()
            };
            Change::replace(cell, after)
        }));
        changes.push(Change::replace(
            test,
            Test {
                laid: None,
                ..test.clone()
            },
        ));
    }
    changes.extend(packets.changes()?);
    Ok(Transaction::new(
        format!("Take up {}", cells_text(project, first, taken.len())),
        changes,
    ))
}

/// Gives the first of some cells and the test of all of them.
fn the_test(project: &Project, cells: impl Iterator<Item = CellId>) -> Result<(CellId, &Test), Problem> {
    let mut found: Option<(CellId, &Test)> = None;
    for id in cells {
        let cell = find(&project.cells, id)?;
        let tray = find(&project.trays, cell.tray)?;
        let test = find(&project.tests, tray.test)?;
        match found {
            Some((_, one)) if one.id != test.id => {
                let text = "these cells are of two tests; do one test after the other".to_owned();
                return Err(Problem::new(Place::Cell(id), Fault::Mismatch(text)));
            }
            Some(_) => {}
            None => found = Some((id, test)),
        }
    }
    found.ok_or_else(|| {
        let text = "no cells were chosen; choose the cells first".to_owned();
        Problem::new(Place::Project, Fault::Mismatch(text))
    })
}

fn cells_text(project: &Project, first: CellId, cells: usize) -> String {
    if cells == 1 {
        project.place_name(Place::Cell(first))
    } else {
        plural(cells, "cell")
    }
}

/// Adds ears to spare cells: each to the tray that holds the fewest ears of its mother row, then of its drying batch, then
/// to the one with the most spare cells, then to the one with the lowest number. No other ear moves.
pub(super) fn add_ears(
    project: &Project,
    test: TestId,
    ears: &[EarId],
    laid_on: Option<Date>,
) -> Result<Transaction, Problem> {
    let test = find(&project.tests, test)?;
    let at = |text: String| Problem::new(Place::Test(test.id), Fault::Mismatch(text));
    if ears.is_empty() {
        return Err(Problem::new(Place::Test(test.id), Fault::NoEars("add")));
    }
    if test.laid.is_some() && laid_on.is_none() {
        return Err(at(
            "this test was laid already; say on which day the late ears were laid".to_owned(),
        ));
    }
    let mut late = Vec::new();
    let mut once = BTreeSet::new();
    for id in ears {
        let ear = find(&project.ears, *id)?;
        let lies = |cell: &Cell| {
            project
                .test_of_tray(cell.tray)
                .is_some_and(|own| own.id == test.id)
        };
        if project.cells_of_ear(*id).any(lies) || !once.insert(*id) {
            return Err(at(format!(
                "ear {} is in this test already; leave it out of the late ears",
                ear.number
            )));
        }
        late.push(ear);
    }
    let mut changes = Vec::new();
    let mut packets = Withdrawals::for_test(project, test.id);
    for (ear, cell) in late_cells(project, test, &late).map_err(|fault| at(fault.to_string()))? {
        let after = Cell {
            content: CellContent::Ear(ear.id),
            laid_on,
            ..cell.clone()
        };
        if laid_on.is_some() {
            packets.take(ear.id, i64::from(project.sown(cell)), laid_on);
        }
        changes.push(Change::replace(cell, after));
    }
    changes.extend(packets.changes()?);
    let label = format!("Add {} to test {}", plural(ears.len(), "late ear"), test.name);
    Ok(Transaction::new(label, changes))
}

/// Picks spare cells for late ears, as many for each as the test has replicates: one in each block of trays, or anywhere
/// in different trays.
fn late_cells<'a>(
    project: &'a Project,
    test: &Test,
    late: &[&'a Ear],
) -> Result<Vec<(&'a Ear, &'a Cell)>, LayoutFault> {
    let cells = project.cells_of_test(test.id);
    let laid = cells.filter_map(|cell| project.ears.get(cell.content.ear()?));
    // The batches of all are numbered together.
    let ears: BTreeMap<EarId, &Ear> = laid
        .chain(late.iter().copied())
        .map(|ear| (ear.id, ear))
        .collect();
    let all: Vec<&Ear> = ears.into_values().collect();
    let batches = batches_of(&all);
    let lying: BTreeMap<EarId, Lying> = all
        .iter()
        .zip(batches)
        .map(|(ear, batch)| {
            let lying = Lying {
                item: u64::from(ear.id.0),
                group: family_of(ear),
                batch,
            };
            (ear.id, lying)
        })
        .collect();
    let blocks = match test.plan.spread {
        Spread::Blocks => (1..=test.plan.replicates).map(|block| (Some(block), 1)).collect(),
        Spread::Anywhere => vec![(None, usize::from(test.plan.replicates))],
    };
    let mut found = Vec::new();
    for (block, times) in blocks {
        let trays: Vec<Vec<&Cell>> = project
            .trays_of(test.id)
            .filter(|tray| block.is_none_or(|block| tray.replicate == block))
            .map(|tray| project.cells_of(tray.id).collect())
            .collect();
        let open: Vec<OpenTray> = trays
            .iter()
            .map(|cells| OpenTray {
                spare: (0..cells.len())
                    .filter(|&cell| cells[cell].content == CellContent::Spare)
                    .collect(),
                lying: cells
                    .iter()
                    .filter_map(|cell| lying.get(&cell.content.ear()?).copied())
                    .collect(),
            })
            .collect();
        let wanted: Vec<&Ear> = late
            .iter()
            .flat_map(|ear| std::iter::repeat_n(*ear, times))
            .collect();
        let places = place_late(
            &open,
            &wanted.iter().map(|ear| lying[&ear.id]).collect::<Vec<_>>(),
        )?;
        for (ear, place) in wanted.into_iter().zip(places) {
            found.push((ear, trays[place.tray][place.cell]));
        }
    }
    Ok(found)
}

/// Notes another number of kernels in a cell. Its line in the packet's ledger and its counts follow.
pub(super) fn set_laid(
    project: &Project,
    cell: CellId,
    kernels: Option<u16>,
) -> Result<Transaction, Problem> {
    let before = find(&project.cells, cell)?;
    if !before.content.is_counted() {
        return Err(Problem::new(Place::Cell(cell), Fault::NothingToCount));
    }
    let after = Cell {
        laid: kernels,
        ..before.clone()
    };
    let more = i32::from(project.sown(&after)) - i32::from(project.sown(before));
    let mut changes = vec![Change::replace(before, after)];
    if let (Some(ear), Some(test)) = (before.content.ear(), project.test_of_tray(before.tray)) {
        let reason = LedgerReason::Test(test.id);
        let line = project
            .packets_of(ear)
            .flat_map(|packet| &packet.ledger)
            .find(|line| line.reason == reason);
        if let (Some(line), Some(_)) = (line, project.laid_on(before)) {
            let mut packets = Withdrawals::for_test(project, test.id);
            packets.adjust(ear, i64::from(more), before.laid_on.or(line.on));
            changes.extend(packets.changes()?);
        }
    }
    let in_force = project
        .counts_of(cell)
        .filter(|count| more != 0 && !count.void && !project.is_corrected(count.id));
    for (id, count) in (project.counts.next_number()..).zip(in_force) {
        // Fewer kernels than were seen: the invariant on sums then refuses the whole, and says so.
        let missing = (i32::from(count.tally.missing) + more).max(0);
        changes.push(Change::add(Count {
            id: CountId(id),
            tally: super::count::Tally {
                missing: missing as u16,
                ..count.tally
            },
            corrects: Some(count.id),
            ..count.clone()
        }));
    }
    let label = format!("Note the kernels laid in {}", before.name());
    Ok(Transaction::new(label, changes))
}
