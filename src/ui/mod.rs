//! The window: shell, theme, widgets that know no domain, one module for each pane.

pub mod fonts;
pub mod tokens;
pub mod widgets;
