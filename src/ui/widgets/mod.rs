//! Widgets that know no domain: they are given words and numbers, and give back what the grower did.

pub mod dialog;
pub mod grid;
pub mod legend;
pub mod notice;
pub mod number_field;
pub mod page_preview;
pub mod parts;
pub mod path_prompt;
pub mod segmented;
pub mod still_plot;
