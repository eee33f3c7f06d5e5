//! Draws without bias from an explicit seed. Only the raw stream comes from a library, and the golden layout
//! pins it.

use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng;

pub(super) struct Draw(Pcg64);

impl Draw {
    /// A stream that depends on the seed only.
    pub(super) fn new(seed: u64) -> Self {
        const STREAM: u128 = 0x0a02_bdbf_7bb3_c0a7_ac28_fa16_a64a_bf96;
        // Neighbouring seeds are set far apart before they become a state.
        let high = mix(seed);
        let state = (u128::from(high) << 64) | u128::from(mix(high));
        Self(Pcg64::new(state, STREAM))
    }

    /// A number below `end`, all equally likely; 0 when `end` is 0 or 1.
    ///
    /// Source: Lemire 2019, ACM Trans. Model. Comput. Simul. 29:3 (from memory).
    pub(super) fn below(&mut self, end: usize) -> usize {
        if end <= 1 {
            return 0;
        }
        let end = end as u64;
        let reject_below = end.wrapping_neg() % end;
        loop {
            let product = u128::from(self.0.next_u64()) * u128::from(end);
            if product as u64 >= reject_below {
                return (product >> 64) as usize;
            }
        }
    }

    /// Puts the slice into random order, all orders equally likely.
    pub(super) fn shuffle<T>(&mut self, slice: &mut [T]) {
        for last in (1..slice.len()).rev() {
            let other = self.below(last + 1);
            slice.swap(last, other);
        }
    }
}

/// The finaliser of SplitMix64 (Steele, Lea and Flood 2014; constants from memory).
fn mix(seed: u64) -> u64 {
    let z = seed.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_order_of_three_is_equally_likely() {
        let mut draw = Draw::new(7);
        let mut seen = [0u32; 27];
        for _ in 0..60_000 {
            let mut order = [0, 1, 2];
            draw.shuffle(&mut order);
            seen[order[0] * 9 + order[1] * 3 + order[2]] += 1;
        }
        let counts: Vec<u32> = seen.into_iter().filter(|&count| count > 0).collect();
        assert_eq!(counts.len(), 6);
        // Five standard deviations of a binomial count with mean 10,000.
        assert!(
            counts.iter().all(|count| count.abs_diff(10_000) < 456),
            "{counts:?}"
        );
    }

    #[test]
    fn neighbouring_seeds_give_different_streams() {
        let first = |seed| Draw::new(seed).below(1 << 40);
        let mut seen: Vec<usize> = (0..1_000).map(first).collect();
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen.len(), 1_000);
        assert_eq!(first(3), first(3));
    }
}
