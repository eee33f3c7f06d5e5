//! The sheets of labels as they were set up last, kept with the settings of the window: nobody measures a sheet twice.

use crate::exchange::labels::{COMMON_SHEETS, LabelOrder, LabelSheet};
use serde::{Deserialize, Serialize};

/// How one kind of label was printed last.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct KeptSheet {
    /// The sheet.
    pub sheet: LabelSheet,
    /// Whether each label is outlined.
    pub outlines: bool,
    /// Whether each label has a square code.
    pub squares: bool,
}

impl KeptSheet {
    /// What of an order is worth keeping; none where the sheet is impossible.
    pub fn of(order: &LabelOrder) -> Option<Self> {
        order.sheet.check().ok()?;
        Some(Self {
            sheet: order.sheet,
            outlines: order.outlines,
            squares: order.squares,
        })
    }

    /// The order on a full sheet.
    pub fn order(self) -> LabelOrder {
        LabelOrder {
            sheet: self.sheet,
            outlines: self.outlines,
            squares: self.squares,
            ..LabelOrder::default()
        }
    }

    /// Whether the sheet is none of the common ones.
    pub fn is_own(&self) -> bool {
        !COMMON_SHEETS.contains(&self.sheet)
    }
}

/// A kind of label that has a sheet of its own.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LabelKind {
    /// Labels of packets and the slips inside.
    Packets,
    /// Row stakes.
    Stakes,
}

/// What was set up last for each kind; none where nothing was.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct LabelSheets {
    packets: Option<KeptSheet>,
    stakes: Option<KeptSheet>,
}

impl LabelSheets {
    /// Gives what was kept for a kind.
    pub fn of(&self, kind: LabelKind) -> Option<KeptSheet> {
        match kind {
            LabelKind::Packets => self.packets,
            LabelKind::Stakes => self.stakes,
        }
    }

    /// Keeps a sheet for a kind.
    pub fn keep(&mut self, kind: LabelKind, sheet: KeptSheet) {
        match kind {
            LabelKind::Packets => self.packets = Some(sheet),
            LabelKind::Stakes => self.stakes = Some(sheet),
        }
    }
}
