//! Laying a test: the cells in the order in which they are laid, with what lies there and what is left in the packet.

use crate::model::{Cell, CellId, EarId, Project, TestId, TrayId};

/// One cell to lay kernels in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LayingStep {
    /// The cell.
    pub cell: CellId,
    /// Its tray.
    pub tray: TrayId,
    /// The tray's number.
    pub tray_number: u16,
    /// The cell's name within the tray.
    pub name: String,
    /// The cell's row within the tray, from 1.
    pub row: u16,
    /// The ear; none for the check lot.
    pub ear: Option<EarId>,
    /// What is written large: the ear's number, or the check lot.
    pub title: String,
    /// What is written beside it: the ear's code with its check character; empty for the check lot.
    pub code: String,
    /// The ear's number; none for the check lot.
    pub number: Option<u32>,
    /// The label of the mother row; empty when it is not known.
    pub mother: String,
    /// Where the packet lies; empty when it is not known.
    pub location: String,
    /// Kernels in the packet now; none when they were never counted or there is no packet.
    pub in_packet: Option<i64>,
    /// Kernels laid, or to be laid.
    pub kernels: u16,
    /// Whether kernels lie there.
    pub is_laid: bool,
    /// Whether it is the last cell of its row of the tray that holds something.
    pub ends_row: bool,
}

/// All cells of a test that hold something, tray by tray, row by row.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Laying {
    /// The cells in the order in which they are laid.
    pub steps: Vec<LayingStep>,
    /// How many of them are laid.
    pub laid: usize,
    /// Trays of the test.
    pub trays: usize,
}

/// What a number that was read back from a packet tells.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReadBack {
    /// It is the ear that belongs into the cell.
    Fits,
    /// It belongs into another cell of the same tray: that many cells further on (positive) or before (negative).
    Shifted(i64),
    /// It is not an ear of this tray.
    Elsewhere,
}

impl Laying {
    /// Gives the place of the next cell to lay at or behind a place, beginning again at the start.
    pub fn next(&self, from: usize) -> Option<usize> {
        let waits = |place: &usize| !self.steps[*place].is_laid;
        (from..self.steps.len())
            .find(waits)
            .or_else(|| (0..from.min(self.steps.len())).find(waits))
    }

    /// Gives the place of a cell.
    pub fn place_of(&self, cell: CellId) -> Option<usize> {
        self.steps.iter().position(|step| step.cell == cell)
    }

    /// Gives the cells of the same row of the same tray, in order.
    pub fn row_of(&self, place: usize) -> impl Iterator<Item = &LayingStep> {
        let row = |step: &LayingStep| (step.tray, step.row);
        let (before, from) = self.steps.split_at(place.min(self.steps.len()));
        let here = from.first().map(row);
        let is_other = |step: &LayingStep| Some(row(step)) != here;
        // The cells of a row stand side by side.
        let begin = before.iter().rposition(is_other).map_or(0, |other| other + 1);
        let end = from.iter().position(is_other).unwrap_or(from.len());
        self.steps[begin..before.len() + end].iter()
    }

    /// Says what it means that the packet of this ear number was the last one used at a place.
    pub fn read_back(&self, place: usize, number: u32) -> ReadBack {
        let Some(here) = self.steps.get(place) else {
            return ReadBack::Elsewhere;
        };
        if here.number == Some(number) {
            return ReadBack::Fits;
        }
        let found = self
            .steps
            .iter()
            .position(|step| step.tray == here.tray && step.number == Some(number));
        found.map_or(ReadBack::Elsewhere, |found| {
            ReadBack::Shifted(found as i64 - place as i64)
        })
    }
}

pub(super) fn laying(project: &Project, test: TestId) -> Laying {
    let Some(record) = project.tests.get(test) else {
        return Laying::default();
    };
    let mut steps: Vec<LayingStep> = Vec::new();
    for tray in project.trays_of(test) {
        for cell in project.cells_of(tray.id).filter(|cell| cell.content.is_counted()) {
            let ends_row = true;
            if let Some(last) = steps.last_mut()
                && last.tray == tray.id
                && last.row == cell.row
            {
                last.ends_row = false;
            }
            steps.push(LayingStep {
                tray_number: tray.number,
                ends_row,
                ..step(project, &record.check_lot, cell)
            });
        }
    }
    Laying {
        laid: steps.iter().filter(|step| step.is_laid).count(),
        trays: project.trays_of(test).count(),
        steps,
    }
}

fn step(project: &Project, check_lot: &str, cell: &Cell) -> LayingStep {
    let ear = cell.content.ear().and_then(|ear| project.ears.get(ear));
    let packet = ear.and_then(|ear| project.packets_of(ear.id).next());
    let lot = if check_lot.is_empty() {
        "check lot".to_owned()
    } else {
        check_lot.to_owned()
    };
    LayingStep {
        cell: cell.id,
        tray: cell.tray,
        tray_number: 0,
        name: cell.name(),
        row: cell.row,
        ear: ear.map(|ear| ear.id),
        title: ear.map_or(lot, |ear| ear.number.to_string()),
        code: ear.map_or_else(String::new, |ear| ear.code.to_string()),
        number: ear.map(|ear| ear.number),
        mother: ear.map_or_else(String::new, |ear| project.mother_label(ear).to_owned()),
        location: packet.map_or_else(String::new, |packet| packet.location.clone()),
        in_packet: ear.and_then(|ear| project.kernels_of(ear.id)),
        kernels: project.sown(cell),
        is_laid: project.laid_on(cell).is_some(),
        ends_row: false,
    }
}
