//! Genetics of choosing ears: how hard a choice selects, what may come of it, what it costs in kinship. Pure.
//!
//! Plain numbers in, plain numbers out, no type of the model. Input without an answer gives `None`: no panic,
//! no NaN. Shares, rates and heritabilities run from 0 to 1; a response comes in the unit of its deviation.

pub mod ahead;
pub mod beside;
pub mod chain;
pub mod half_sib;
pub mod inbreeding;
pub mod index;
pub mod intensity;
pub mod line;
pub mod optimum;
pub mod pedigree;
pub mod response;
pub mod shift;
pub mod uncertain;

pub use beside::{Beside, Chance, CheckSpread, Reading, Unit, above_check, mean_of_families};
pub use chain::{Chain, Link, chains};
pub use half_sib::{Likeness, Recombination, likeness};
pub use inbreeding::{Kinship, coancestries, effective_size, kinship, mean_coancestry, rate_of_inbreeding};
pub use index::{Term, index, terms};
pub use intensity::{Truncation, finite_intensity, truncation};
pub use line::{Line, line};
pub use optimum::{Candidates, NoShares, Shares, frontier, least_coancestry, optimum_shares, whole_kernels};
pub use response::{Span, correlated_response, response, response_span};
pub use shift::{Group, Shift, shift};
pub use uncertain::Uncertain;
