//! A change of a layout by hand: which cells it touches, and what speaks against it.

use super::progress::content_name;
use super::repair::{RepairedCell, trial};
use super::words::plural;
use crate::model::{
    Cell, CellContent, Command, Document, EarId, Packet, Place, Project, RowId, Spread, Test, TestId, TrayId,
    sentence,
};
use std::collections::{BTreeMap, BTreeSet};

/// What a change by hand would do to the trays of a test.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct HandChange {
    /// Why it cannot be done; a sentence.
    pub refused: Option<String>,
    /// The cells in which something else would lie, tray by tray in reading order.
    pub cells: Vec<RepairedCell>,
    /// Kernels that would be taken out of packets.
    pub kernels: i64,
    /// What speaks against it, a sentence each.
    pub cautions: Vec<String>,
}

impl HandChange {
    /// Says what would lie where, in a sentence.
    pub fn sentence(&self) -> String {
        let cells = self.cells.iter().map(|cell| match cell.then.as_str() {
            "spare" => format!("{} becomes spare", cell.name),
            "landmark" => format!("the landmark goes to {}", cell.name),
            then => format!("{then} goes to {}", cell.name),
        });
        sentence(&cells.collect::<Vec<_>>().join("; "))
    }
}

/// Tries a command on a copy of the project.
pub(super) fn preview(document: &Document, test: TestId, command: &Command) -> HandChange {
    let project = document.project();
    let trial = match trial(document, command) {
        Ok(trial) => trial,
        Err(refused) => {
            return HandChange {
                refused: Some(refused),
                cells: Vec::new(),
                kernels: 0,
                cautions: Vec::new(),
            };
        }
    };
    let after = trial.project();
    let changed: Vec<(&Cell, &Cell)> = project
        .cells_of_test(test)
        .filter_map(|cell| Some((cell, after.cells.get(cell.id)?)))
        .filter(|(before, after)| before.content != after.content)
        .collect();
    let cells = changed.iter().map(|(before, after_)| RepairedCell {
        cell: before.id,
        name: project.place_name(Place::Cell(before.id)),
        now: content_name(project, before.content),
        then: content_name(after, after_.content),
    });
    let ears: BTreeSet<EarId> = changed
        .iter()
        .filter_map(|(_, cell)| cell.content.ear())
        .collect();
    HandChange {
        refused: None,
        cells: cells.collect(),
        kernels: left(project, &ears) - left(after, &ears),
        cautions: cautions(project, after, test, &changed),
    }
}

/// Kernels in the counted packets of some ears.
fn left(project: &Project, ears: &BTreeSet<EarId>) -> i64 {
    let packets = ears.iter().flat_map(|ear| project.packets_of(*ear));
    packets.filter_map(Packet::balance).sum()
}

fn cautions(project: &Project, after: &Project, test: TestId, changed: &[(&Cell, &Cell)]) -> Vec<String> {
    let Some(record) = project.tests.get(test) else {
        return Vec::new();
    };
    let mut found = Vec::new();
    for (before, _) in changed {
        if before.content == CellContent::Landmark {
            found.push(format!(
                "{} is a landmark: without it a turned or shifted tray may not show itself.",
                project.place_name(Place::Cell(before.id))
            ));
        }
    }
    let ears: BTreeSet<EarId> = changed
        .iter()
        .filter_map(|(_, cell)| cell.content.ear())
        .collect();
    found.extend(ears.iter().flat_map(|ear| doubled(after, record, *ear)));
    let touched: BTreeSet<TrayId> = changed.iter().map(|(_, cell)| cell.tray).collect();
    found.extend(crowded(project, after, test, &touched));
    found
}

/// Says in which block of trays an ear would lie more than once. In one tray it never may.
fn doubled(after: &Project, test: &Test, ear: EarId) -> Vec<String> {
    if test.plan.spread != Spread::Blocks {
        return Vec::new();
    }
    let number = after.ears.get(ear).map_or(0, |ear| ear.number);
    let mut blocks: BTreeMap<u16, usize> = BTreeMap::new();
    for cell in after.cells_of_ear(ear) {
        if let Some(tray) = after.trays.get(cell.tray).filter(|tray| tray.test == test.id) {
            *blocks.entry(tray.replicate).or_default() += 1;
        }
    }
    let many = blocks.into_iter().filter(|(_, count)| *count > 1);
    many.map(|(block, _)| format!("Ear {number} would lie more than once in replicate {block}."))
        .collect()
}

/// Says in which of some trays a mother row would be more frequent than in any tray before.
fn crowded(project: &Project, after: &Project, test: TestId, touched: &BTreeSet<TrayId>) -> Vec<String> {
    let rows_in = |project: &Project, tray: TrayId| {
        let mut rows: BTreeMap<RowId, usize> = BTreeMap::new();
        let ears = project.cells_of(tray).filter_map(|cell| cell.content.ear());
        for row in ears.filter_map(|ear| project.ears.get(ear).and_then(|ear| ear.row)) {
            *rows.entry(row).or_default() += 1;
        }
        rows
    };
    let mut most: BTreeMap<RowId, usize> = BTreeMap::new();
    for tray in project.trays_of(test) {
        for (row, count) in rows_in(project, tray.id) {
            let known = most.entry(row).or_default();
            *known = count.max(*known);
        }
    }
    let mut found = Vec::new();
    for tray in after.trays_of(test).filter(|tray| touched.contains(&tray.id)) {
        for (row, count) in rows_in(after, tray.id) {
            let before = most.get(&row).copied().unwrap_or(0);
            if count > before.max(1) {
                let label = after.rows.get(row).map_or("", |row| row.label.as_str());
                found.push(format!(
                    "Tray {} would hold {} of mother row {label}; the layout had at most {before} of it in a tray.",
                    tray.number,
                    plural(count, "ear")
                ));
            }
        }
    }
    found
}
