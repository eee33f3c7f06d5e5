//! Tray geometry, fields and randomisation from an explicit seed. Pure.
//!
//! A layout is a function of its [`Request`] and of nothing else: the same request gives the same layout in
//! every version of the program, on every computer. A test holds one layout as a literal; it must never be
//! edited.

mod deal;
mod draw;
pub mod fault;
pub mod field;
pub mod grid;
mod landmarks;
mod late;
pub mod plan;
pub mod trays;
mod turns;

pub use fault::LayoutFault;
pub use field::{
    Detassel, Field, FieldRequest, FieldRow, RowContent, Walk, is_detasselled, lay_bulk, lay_field,
    sisters_side_by_side,
};
pub use grid::{Grid, SizeMm, grid_of};
pub use landmarks::{landmark_cells, landmarks_tell};
pub use late::{Lying, OpenTray, SpareCell, place_late};
pub use plan::{Content, Layout, Request, Tray, lay_out};
pub use trays::{Spread, Stock, Trays};
