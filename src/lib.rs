//! Wintercrib: a workbench for a grower who improves an open-pollinated corn population.
//!
//! The rooms, their doors and the one way in which a project changes are described in `DEVELOPERS.md`.

pub mod demo;
pub mod exchange;
pub mod genetics;
pub mod insight;
pub mod jobs;
pub mod layout;
pub mod model;
pub mod photo;
pub mod stats;
pub mod store;
pub mod ui;
