//! What a design needs, said before anything is made.

use crate::insight::CELLS_AN_HOUR;
use crate::layout;
use crate::model::{CellContent, EarId, Project, plural};
use crate::ui::panes::tray_drawing::{Drawing, DrawnCell};
use std::collections::BTreeMap;

/// The figures of a design.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Figures {
    /// The different grids, largest number of trays first.
    pub grids: Vec<TrayGrid>,
    pub trays: usize,
    pub cells: usize,
    /// Ears in it.
    pub ears: usize,
    /// Cells that hold an ear.
    pub ear_cells: usize,
    pub checks: usize,
    pub landmarks: usize,
    pub spare: usize,
    /// Kernels of all ears and checks.
    pub kernels: u64,
    /// Kernels of all ears.
    pub ear_kernels: u64,
    /// Mother rows of its ears.
    pub mother_rows: usize,
    /// The most ears of one mother row in one tray.
    pub most_of_a_row: usize,
    /// Drying batches of its ears.
    pub batches: usize,
    /// The most ears of one drying batch in one tray.
    pub most_of_a_batch: usize,
    /// Numbers of the ears none of whose packets holds enough kernels.
    pub short: Vec<u32>,
    /// Ears without a packet.
    pub no_packet: usize,
}

/// Trays with the same rows, columns and landmarks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TrayGrid {
    pub rows: usize,
    pub columns: usize,
    pub landmarks: usize,
    pub trays: usize,
}

impl TrayGrid {
    fn all(drawing: &Drawing) -> Vec<Self> {
        let mut counts: BTreeMap<_, usize> = BTreeMap::new();
        for tray in &drawing.trays {
            let is_landmark = |cell: &&DrawnCell| cell.content == CellContent::Landmark;
            let landmarks = tray.cells.iter().filter(is_landmark).count();
            *counts
                .entry((tray.shape.rows, tray.shape.columns, landmarks))
                .or_default() += 1;
        }
        let mut grids: Vec<Self> = counts
            .into_iter()
            .map(|((rows, columns, landmarks), trays)| Self {
                rows,
                columns,
                landmarks,
                trays,
            })
            .collect();
        grids.sort_by_key(|grid| std::cmp::Reverse(grid.trays));
        grids
    }

    fn is_telling(self) -> bool {
        let (rows, columns) = (self.rows as u16, self.columns as u16);
        layout::Grid::new(rows, columns).is_ok_and(|grid| layout::landmarks_tell(grid, self.landmarks as u16))
    }
}

impl Figures {
    /// Counts what is in a drawing.
    pub fn of(project: &Project, drawing: &Drawing) -> Self {
        let mut figures = Self {
            grids: TrayGrid::all(drawing),
            trays: drawing.trays.len(),
            cells: drawing.trays.iter().map(|tray| tray.cells.len()).sum(),
            ..Self::default()
        };
        let mut needed: BTreeMap<EarId, i64> = BTreeMap::new();
        let mut mothers: BTreeMap<_, usize> = BTreeMap::new();
        let mut batches: BTreeMap<&str, usize> = BTreeMap::new();
        for tray in &drawing.trays {
            let mut here: BTreeMap<_, usize> = BTreeMap::new();
            let mut dried_here: BTreeMap<&str, usize> = BTreeMap::new();
            for cell in &tray.cells {
                figures.kernels += u64::from(cell.kernels);
                match cell.content {
                    CellContent::Ear(ear) => {
                        figures.ear_cells += 1;
                        *needed.entry(ear).or_default() += i64::from(cell.kernels);
                        let Some(ear) = project.ears.get(ear) else {
                            continue;
                        };
                        if let Some(row) = ear.row {
                            *here.entry(row).or_default() += 1;
                        }
                        if !ear.batch.trim().is_empty() {
                            *dried_here.entry(ear.batch.trim()).or_default() += 1;
                        }
                    }
                    CellContent::Check(_) => figures.checks += 1,
                    CellContent::Landmark => figures.landmarks += 1,
                    CellContent::Spare => figures.spare += 1,
                }
            }
            for (row, count) in here {
                let most = mothers.entry(row).or_default();
                *most = (*most).max(count);
            }
            for (batch, count) in dried_here {
                let most = batches.entry(batch).or_default();
                *most = (*most).max(count);
            }
        }
        figures.ears = needed.len();
        figures.mother_rows = mothers.len();
        figures.most_of_a_row = mothers.values().copied().max().unwrap_or(0);
        figures.batches = batches.len();
        figures.most_of_a_batch = batches.values().copied().max().unwrap_or(0);
        for (ear, kernels) in needed {
            figures.ear_kernels += kernels.unsigned_abs();
            let mut packets = project.packets_of(ear).peekable();
            if packets.peek().is_none() {
                figures.no_packet += 1;
            } else if !packets.any(|packet| packet.balance().is_none_or(|balance| balance >= kernels)) {
                figures.short.extend(project.ears.get(ear).map(|ear| ear.number));
            }
        }
        figures.short.sort_unstable();
        figures
    }

    /// Says how many cells the trays have.
    pub fn grid(&self) -> String {
        let grid = |grid: &TrayGrid| format!("{} rows of {}", grid.rows, grid.columns);
        if let [only] = self.grids.as_slice() {
            return format!("Each tray has {} cells.", grid(only));
        }
        let each = self.grids.iter().map(|own| {
            let verb = if own.trays == 1 { "has" } else { "have" };
            format!("{} {verb} {} cells", plural(own.trays, "tray"), grid(own))
        });
        format!("{}.", each.collect::<Vec<_>>().join(", "))
    }

    /// Says which trays a turn or a shift would not show in, if any.
    pub fn blind(&self) -> Option<String> {
        let blind: Vec<&TrayGrid> = self.grids.iter().filter(|grid| !grid.is_telling()).collect();
        let first = blind.first()?;
        if blind.iter().all(|grid| grid.landmarks == 0) {
            return Some("Without landmarks a turned or shifted tray does not show itself.".to_owned());
        }
        Some(format!(
            "No landmarks of that number show every turn and shift of a tray with {} rows of {} cells; ask for another number or use another grid.",
            first.rows, first.columns
        ))
    }

    /// Says at which pace the time of laying is reckoned.
    pub fn pace() -> String {
        format!(
            "Laying is reckoned at about {CELLS_AN_HOUR} cells an hour by hand: common practice, no source."
        )
    }

    /// Says how evenly the mother rows and the drying batches are spread.
    pub fn balance(&self) -> String {
        let rows = self.balance_of_rows();
        if self.batches < 2 || self.trays < 2 {
            return rows;
        }
        format!(
            "{rows} Each drying batch is spread over the trays too: at most {} of a batch in one tray.",
            self.most_of_a_batch
        )
    }

    fn balance_of_rows(&self) -> String {
        match (self.mother_rows, self.trays) {
            (0, _) => "The mother rows of these ears are not known, so they cannot be spread.".to_owned(),
            (_, 1) => format!(
                "One tray holds all mother rows: at most {} of a row in it.",
                match self.most_of_a_row {
                    1 => "1 ear".to_owned(),
                    many => format!("{many} ears"),
                }
            ),
            _ => format!(
                "Each mother row is spread over the trays: at most {} of a row in one tray.",
                self.most_of_a_row
            ),
        }
    }

    /// Says which packets cannot be laid, if any.
    pub fn shortage(&self) -> Option<String> {
        if self.short.is_empty() {
            return None;
        }
        let shown: Vec<String> = self.short.iter().take(8).map(ToString::to_string).collect();
        let more = self.short.len() - shown.len();
        let more = if more == 0 {
            String::new()
        } else {
            format!(" and {more} more")
        };
        let packets = if self.short.len() == 1 {
            "1 packet has".to_owned()
        } else {
            format!("{} packets have", self.short.len())
        };
        let ears = if self.short.len() == 1 { "ear" } else { "ears" };
        Some(format!(
            "{packets} too few kernels: {ears} {}{more}.",
            shown.join(", ")
        ))
    }
}
