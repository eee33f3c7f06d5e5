//! What a design needs, said before anything is made.

use crate::insight::CELLS_AN_HOUR;
use crate::model::{CellContent, EarId, Project};
use crate::ui::panes::tray_drawing::Drawing;
use std::collections::BTreeMap;

/// The figures of a design.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Figures {
    pub rows: usize,
    pub columns: usize,
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
    /// Numbers of the ears none of whose packets holds enough kernels.
    pub short: Vec<u32>,
    /// Ears without a packet.
    pub no_packet: usize,
}

impl Figures {
    /// Counts what is in a drawing.
    pub fn of(project: &Project, drawing: &Drawing) -> Self {
        let shape = &drawing.shape;
        let mut figures = Self {
            rows: shape.rows,
            columns: shape.columns,
            trays: drawing.trays.len(),
            cells: drawing.trays.len() * shape.rows * shape.columns,
            ..Self::default()
        };
        let mut needed: BTreeMap<EarId, i64> = BTreeMap::new();
        let mut mothers: BTreeMap<_, usize> = BTreeMap::new();
        for tray in &drawing.trays {
            let mut here: BTreeMap<_, usize> = BTreeMap::new();
            for cell in &tray.cells {
                figures.kernels += u64::from(cell.kernels);
                match cell.content {
                    CellContent::Ear(ear) => {
                        figures.ear_cells += 1;
                        *needed.entry(ear).or_default() += i64::from(cell.kernels);
                        if let Some(row) = project.ears.get(ear).and_then(|ear| ear.row) {
                            *here.entry(row).or_default() += 1;
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
        }
        figures.ears = needed.len();
        figures.mother_rows = mothers.len();
        figures.most_of_a_row = mothers.values().copied().max().unwrap_or(0);
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

    /// Says at which pace the time of laying is reckoned.
    pub fn pace() -> String {
        format!(
            "Laying is reckoned at about {CELLS_AN_HOUR} cells an hour by hand: common practice, no source."
        )
    }

    /// Says how evenly the mother rows are spread.
    pub fn balance(&self) -> String {
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
