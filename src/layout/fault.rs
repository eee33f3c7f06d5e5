//! What a layout refuses at its entrance.

use super::grid::MOST_PER_SIDE;
use super::plan::{MOST_CELLS, MOST_TRAYS};

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
}
