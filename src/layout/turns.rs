//! Turns that are even at every moment.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Gives turns to takers in proportion to their weights, as evenly as whole turns allow: after any number of turns
/// each taker has had its share of them, rounded up or down. It gives as many as asked for, or as many as all weights
/// together if that is fewer.
///
/// Each taker's n-th turn has a first and a last moment at which that holds; the most urgent turn is given first, and
/// the lower taker goes first among equals. So takers of equal weight take turns in a circle.
///
/// Source: that such turns exist is Tijdeman 1980, Discrete Mathematics 32:323 (the chairman assignment problem); that
/// the most urgent first finds them, Steiner and Yeomans 1993, Management Science 39:728 (both from memory).
pub(super) fn even_turns(weights: &[usize], turns: usize) -> Vec<usize> {
    let total: usize = weights.iter().sum();
    let turns = turns.min(total);
    let mut given = vec![0_usize; weights.len()];
    // The next turn of each taker is in one of the two, by its first moment or by its last.
    let mut waiting: BinaryHeap<_> = (0..weights.len())
        .filter(|&taker| weights[taker] > 0)
        .map(|taker| Reverse((0, taker)))
        .collect();
    let mut ready = BinaryHeap::new();
    let mut order = Vec::with_capacity(turns);
    while order.len() < turns {
        while let Some(&Reverse((first, taker))) = waiting.peek()
            && first <= order.len()
        {
            waiting.pop();
            let last = ((given[taker] + 1) * total).div_ceil(weights[taker]);
            ready.push(Reverse((last, taker)));
        }
        let Some(Reverse((_, taker))) = ready.pop() else {
            break;
        };
        order.push(taker);
        given[taker] += 1;
        waiting.push(Reverse((given[taker] * total / weights[taker], taker)));
    }
    order
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn equal_takers_take_turns_in_a_circle() {
        assert_eq!(even_turns(&[5, 5, 5], 7), [0, 1, 2, 0, 1, 2, 0]);
        assert_eq!(even_turns(&[7], 3), [0, 0, 0]);
        assert_eq!(even_turns(&[], 3), [] as [usize; 0]);
        assert_eq!(even_turns(&[0, 2], 9), [1, 1]);
    }

    #[test]
    fn a_taker_of_one_fourth_takes_each_fourth_turn() {
        assert_eq!(even_turns(&[6, 2], 8), [0, 0, 0, 1, 0, 0, 0, 1]);
    }

    proptest! {
        #[test]
        fn every_taker_has_its_share_at_every_moment(weights in prop::collection::vec(1..60_usize, 1..30)) {
            let total: usize = weights.iter().sum();
            let order = even_turns(&weights, total);
            prop_assert_eq!(order.len(), total);
            let mut given = vec![0; weights.len()];
            for (turn, taker) in order.into_iter().enumerate() {
                given[taker] += 1;
                for (taker, &weight) in weights.iter().enumerate() {
                    let share = (turn + 1) * weight;
                    prop_assert!((share / total..=share.div_ceil(total)).contains(&given[taker]));
                }
            }
        }
    }
}
