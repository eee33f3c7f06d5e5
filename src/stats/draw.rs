//! Draws from a seed.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng;

/// A whole number below `end`, every one equally likely to within one in 2^32.
pub(crate) fn below(dice: &mut Pcg64, end: usize) -> usize {
    ((u128::from(dice.next_u64()) * end as u128) >> 64) as usize
}

/// A number from 0 to below 1, all equally likely.
pub(crate) fn uniform(dice: &mut Pcg64) -> f64 {
    const STEP: f64 = 1.0 / (1_u64 << 53) as f64;
    (dice.next_u64() >> 11) as f64 * STEP
}
