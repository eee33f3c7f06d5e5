//! The window: shell, theme, widgets that know no domain, one module for each pane.

pub mod agreement;
pub mod app;
pub mod context;
pub mod dialogs;
pub mod ear_card;
pub mod fonts;
pub mod icon;
pub mod label_sheets;
pub mod panes;
pub mod photos;
pub mod side;
pub mod tokens;
pub mod user_actions;
pub mod widgets;
pub mod window;

pub use window::{WindowFault, run};
