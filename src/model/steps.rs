//! The steps that undo takes back, so many as there are, in little memory.
//!
//! A step holds each of its records whole, before and after, so that taking it back needs no code of its own; but a
//! selection with its words is large and is changed often. Undo mostly reaches back a few steps. So the newest steps are
//! kept as they are and the older ones are packed, a block at a time: from step to step almost everything is the same.

use super::change::Transaction;
use flate2::Compression;
use flate2::read::DeflateDecoder;
use flate2::write::DeflateEncoder;
use std::io::{Read as _, Write as _};
use std::sync::Arc;

/// So many steps are packed together.
const BLOCK: usize = 32;
/// So many blocks of steps are kept unpacked at most.
const OPEN: usize = 4;

/// Steps in the order in which they were done.
#[derive(Debug, Clone, Default)]
pub(super) struct Steps {
    older: Vec<Block>,
    /// The newest ones; empty only when there are none at all.
    open: Vec<Transaction>,
}

/// Steps that undo will hardly reach.
#[derive(Debug, Clone)]
enum Block {
    /// Deflated JSON.
    Packed(Arc<[u8]>),
    /// As they are: packed, they would not come back so.
    Plain(Arc<[Transaction]>),
}

impl Block {
    fn new(steps: Vec<Transaction>) -> Self {
        let packed = pack(&steps).filter(|packed| unpack(packed).as_ref() == Some(&steps));
        match packed {
            Some(packed) => Self::Packed(packed.into()),
            None => Self::Plain(steps.into()),
        }
    }

    fn steps(&self) -> Vec<Transaction> {
        match self {
            Self::Packed(packed) => unpack(packed).expect("it was read back when it was packed"),
            Self::Plain(steps) => steps.to_vec(),
        }
    }
}

fn pack(steps: &[Transaction]) -> Option<Vec<u8>> {
    let text = serde_json::to_vec(steps).ok()?;
    let mut encoder = DeflateEncoder::new(Vec::new(), Compression::fast());
    encoder.write_all(&text).ok()?;
    encoder.finish().ok()
}

fn unpack(packed: &[u8]) -> Option<Vec<Transaction>> {
    let mut text = Vec::new();
    DeflateDecoder::new(packed).read_to_end(&mut text).ok()?;
    serde_json::from_slice(&text).ok()
}

impl Steps {
    pub(super) fn push(&mut self, step: Transaction) {
        self.open.push(step);
        if self.open.len() == OPEN * BLOCK {
            self.older.push(Block::new(self.open.drain(..BLOCK).collect()));
        }
    }

    pub(super) fn pop(&mut self) -> Option<Transaction> {
        let step = self.open.pop()?;
        if self.open.is_empty()
            && let Some(block) = self.older.pop()
        {
            self.open = block.steps();
        }
        Some(step)
    }

    pub(super) fn last(&self) -> Option<&Transaction> {
        self.open.last()
    }

    pub(super) fn last_mut(&mut self) -> Option<&mut Transaction> {
        self.open.last_mut()
    }

    pub(super) fn clear(&mut self) {
        *self = Self::default();
    }

    /// All steps, the newest first.
    pub(super) fn back(&self) -> impl Iterator<Item = Transaction> {
        let older = self.older.iter().rev();
        let older = older.flat_map(|block| block.steps().into_iter().rev());
        self.open.iter().rev().cloned().chain(older)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Change, Season, SeasonId, ShareRange};

    /// A step that changes a long note in one place.
    fn step(number: usize) -> Transaction {
        let season = |number: usize| {
            let mut season = Season::new(SeasonId(1), 2026);
            let lines: Vec<String> = (0..200)
                .map(|line| format!("bed {line}: {}", line * 7919))
                .collect();
            season.note = format!("{number} {}", lines.join(", "));
            season
        };
        let change = Change::replace(&season(number), season(number + 1));
        Transaction::new(format!("Step {number}"), vec![change])
    }

    #[test]
    fn any_number_of_steps_comes_back_in_order() {
        for number in [0, 1, BLOCK * OPEN - 1, BLOCK * OPEN, BLOCK * OPEN + 1, 1_000] {
            let mut steps = Steps::default();
            (0..number).for_each(|at| steps.push(step(at)));
            assert_eq!(steps.last().is_none(), number == 0);
            let back: Vec<Transaction> = steps.back().collect();
            assert!(back.iter().rev().eq(&(0..number).map(step).collect::<Vec<_>>()));
            // Some are taken back and others done, as people do.
            let mut expected = number;
            for turn in 0..number {
                assert_eq!(steps.pop(), Some(step(expected - 1)), "{number} {turn}");
                expected -= 1;
                if turn % 3 == 0 {
                    steps.push(step(expected));
                    expected += 1;
                }
                if expected == 0 {
                    break;
                }
                assert_eq!(steps.last(), Some(&step(expected - 1)));
            }
            while let Some(last) = steps.pop() {
                expected -= 1;
                assert_eq!(last, step(expected));
            }
            assert_eq!(expected, 0);
        }
    }

    /// A number that JSON has no word for; no project has one, but undo must not depend on that.
    #[test]
    fn what_cannot_be_packed_stays_as_it_is() {
        let odd = |number: usize| {
            let mut step = step(number);
            if number == 40
                && let Some(Change::Season(swap)) = step.changes.first_mut()
                && let Some(season) = &mut swap.after
            {
                season.heritability = Some(ShareRange {
                    least: f64::INFINITY,
                    most: 1.0,
                });
            }
            step
        };
        let mut steps = Steps::default();
        (0..500).for_each(|at| steps.push(odd(at)));
        let is_plain = |block: &&Block| matches!(block, Block::Plain(_));
        assert_eq!(steps.older.iter().filter(is_plain).count(), 1);
        for at in (0..500).rev() {
            assert_eq!(steps.pop(), Some(odd(at)));
        }
    }

    #[test]
    fn old_steps_take_little_room() {
        let mut steps = Steps::default();
        (0..3_200).for_each(|at| steps.push(step(at)));
        assert!(steps.open.len() < OPEN * BLOCK);
        let one = serde_json::to_vec(&step(1)).unwrap_or_default().len();
        let packed = |block: &Block| match block {
            Block::Packed(packed) => packed.len(),
            Block::Plain(_) => panic!("all of them can be packed"),
        };
        let packed: usize = steps.older.iter().map(packed).sum();
        assert!(packed < 3_200 * one / 8, "{packed} bytes of {}", 3_200 * one);
    }
}
