//! Statistics: slices in, numbers out, no type of the model. Pure.
//!
//! Impossible input is refused once, where [`Counts`], [`Confidence`], [`Cutoff`] and [`Prior`] are made;
//! everything that takes them is total: no panic, no NaN.

pub mod alignment;
mod beta;
pub mod beta_binomial;
pub mod choosing;
pub mod consistency;
pub mod correlation;
pub mod cutoff;
pub(crate) mod draw;
pub mod exact_interval;
pub mod fault;
pub mod groups;
pub mod heat;
pub mod interval;
pub mod mixed;
pub mod posterior;
pub mod series;
pub mod shares;
pub mod sowing;
pub mod speed;
pub mod telling;

pub use beta_binomial::{Fit, Fitted, WeakReason, fit};
pub use cutoff::{Cutoff, least_germinated, probability_selected, reaches};
pub use fault::StatsFault;
pub use interval::{Confidence, Counts, Interval, wilson};
pub use posterior::{Posterior, Prior};
pub use shares::effective_number;
