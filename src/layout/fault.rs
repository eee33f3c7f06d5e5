//! What a layout refuses at its entrance.

use super::field::MOST_FIELD_ROWS;
use super::grid::MOST_PER_SIDE;
use super::trays::{MOST_CELLS, MOST_TRAYS};

/// A layout that cannot be made: what is in the way, and what to do.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum LayoutFault {
    /// A length that is not finite, or not above zero where it must be.
    #[error("the {what} of {value} mm cannot be used. Give a length in millimetres above zero.")]
    Length {
        /// Which length: container width, cell height and so on.
        what: &'static str,
        /// Length given, in millimetres.
        value: f64,
    },
    /// A length that is not finite or is below zero, where zero is allowed.
    #[error("the {what} of {value} mm cannot be used. Give a length in millimetres of zero or more.")]
    Distance {
        /// Which length: margin or aisle.
        what: &'static str,
        /// Length given, in millimetres.
        value: f64,
    },
    /// Not one whole cell fits between the margins.
    #[error(
        "no whole cell of {cell_mm} mm fits into {room_mm} mm of {side}. \
         Use a smaller cell, a smaller margin or a larger container."
    )]
    NoCellFits {
        /// Width or height.
        side: &'static str,
        /// Length of the cell along that side, in millimetres.
        cell_mm: f64,
        /// Length between the margins along that side, in millimetres.
        room_mm: f64,
    },
    /// A grid without rows or columns, or with too many.
    #[error(
        "a grid of {rows} rows and {columns} columns cannot be used. Each must be from 1 to {MOST_PER_SIDE}."
    )]
    GridSize {
        /// Rows asked for.
        rows: u32,
        /// Columns asked for.
        columns: u32,
    },
    /// Nothing to lay.
    #[error("there are no ears to lay. Choose at least one.")]
    NoItems,
    /// No replicate asked for.
    #[error("a layout with 0 replicates holds nothing. Ask for at least 1.")]
    NoReplicates,
    /// Check lots and landmarks leave no cell for an ear.
    #[error(
        "a tray of {cells} cells has no room for one ear beside {checks} check cells and \
         {landmarks} landmarks. Use fewer of these or a larger grid."
    )]
    NoRoom {
        /// Cells of one tray.
        cells: u32,
        /// Check cells asked for in each tray.
        checks: u16,
        /// Landmarks asked for in each tray.
        landmarks: u16,
    },
    /// Drying batches that do not belong to the ears.
    #[error(
        "there are drying batches of {batches} ears for {ears} ears. Give one for each ear, or none at all."
    )]
    BatchesOfOthers {
        /// Ears to lay.
        ears: usize,
        /// Ears whose drying batch is given.
        batches: usize,
    },
    /// Fewer trays than cells of an ear, which must lie in different trays.
    #[error(
        "all cells fit into {trays}, but the {replicates} cells of an ear must lie in as many different trays. \
         Ask for fewer cells of each ear, use smaller containers, or give each replicate trays of its own.",
        trays = if *.trays == 1 { "1 tray".to_owned() } else { format!("{} trays", .trays) }
    )]
    TooFewTrays {
        /// Trays that hold all cells.
        trays: u64,
        /// Cells asked for of each ear.
        replicates: u16,
    },
    /// No free spare cell for a late ear in a tray that does not hold it yet.
    #[error(
        "{late} cells of late ears are needed, and only {placed} find a spare cell in a tray without the same ear. \
         Add fewer ears, or design a second test for them."
    )]
    NoSpare {
        /// Late cells asked for.
        late: usize,
        /// Those that found a cell before this one.
        placed: usize,
    },
    /// More trays than can be numbered.
    #[error(
        "{trays} trays would be needed and the most is {MOST_TRAYS}. \
         Use a larger grid, fewer ears or fewer replicates."
    )]
    TooManyTrays {
        /// Trays needed.
        trays: u64,
    },
    /// More cells than a layout may have.
    #[error(
        "{cells} cells would be needed and the most is {MOST_CELLS}. \
         Use a smaller grid, fewer ears or fewer replicates."
    )]
    TooManyCells {
        /// Cells of all trays together.
        cells: u64,
    },
    /// Blocks of a field without rows.
    #[error("a block of 0 rows holds nothing. Give it at least 1 row.")]
    NoRowsInBlock,
    /// More rows than a field may have.
    #[error(
        "{rows} rows would be needed, and the most is {MOST_FIELD_ROWS}. Plant fewer ears or fewer replicates."
    )]
    TooManyRows {
        /// Rows needed.
        rows: u64,
    },
}
