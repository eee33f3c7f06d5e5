//! Draws from a seed.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng;

/// A whole number below `end`, every one equally likely to within one in 2^32.
pub(super) fn below(dice: &mut Pcg64, end: usize) -> usize {
    ((u128::from(dice.next_u64()) * end as u128) >> 64) as usize
}
