//! Widgets that know no domain: they are given words and numbers, and give back what the grower did.

pub mod grid;
