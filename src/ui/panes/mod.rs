//! One module for each pane. A pane reads the document and asks for changes through its context; it never
//! changes anything itself.

mod field;
mod field_prints;
mod file_look;
pub mod harvest;
mod labels;
mod picture_menu;
pub mod planting;
mod print_preview;
mod repair;
pub mod scoring;
pub mod seasons;
pub mod selection;
mod table_preview;
mod tray_drawing;
pub mod trays;
