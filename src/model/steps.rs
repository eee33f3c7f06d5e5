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
    packed: Vec<Packed>,
    /// The newest ones; empty only when there are none at all.
    open: Vec<Transaction>,
}

/// Steps as deflated JSON.
#[derive(Debug, Clone)]
struct Packed(Arc<[u8]>);

impl Packed {
    /// Packs steps; none when they would not come back as they are.
    fn new(steps: &[Transaction]) -> Option<Self> {
        let text = serde_json::to_vec(steps).ok()?;
        let mut encoder = DeflateEncoder::new(Vec::new(), Compression::fast());
        encoder.write_all(&text).ok()?;
        let packed = Self(encoder.finish().ok()?.into());
        (packed.unpacked().as_deref() == Some(steps)).then_some(packed)
    }

    fn unpacked(&self) -> Option<Vec<Transaction>> {
        let mut text = Vec::new();
        DeflateDecoder::new(&*self.0).read_to_end(&mut text).ok()?;
        serde_json::from_slice(&text).ok()
    }
}

impl Steps {
    pub(super) fn push(&mut self, step: Transaction) {
        self.open.push(step);
        // What cannot be packed stays as it is until there is twice as much.
        if self.open.len() >= OPEN * BLOCK
            && self.open.len().is_multiple_of(BLOCK)
            && let Some(packed) = Packed::new(&self.open[..BLOCK])
        {
            self.open.drain(..BLOCK);
            self.packed.push(packed);
        }
    }

    pub(super) fn pop(&mut self) -> Option<Transaction> {
        let step = self.open.pop()?;
        if self.open.is_empty()
            && let Some(packed) = self.packed.pop()
        {
            // It was read back when it was packed.
            self.open = packed.unpacked().unwrap_or_default();
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
        let older = self.packed.iter().rev().filter_map(Packed::unpacked);
        let older = older.flat_map(|steps| steps.into_iter().rev());
        self.open.iter().rev().cloned().chain(older)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{Change, Season, SeasonId};

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

    #[test]
    fn old_steps_take_little_room() {
        let mut steps = Steps::default();
        (0..3_200).for_each(|at| steps.push(step(at)));
        assert!(steps.open.len() < OPEN * BLOCK);
        let one = serde_json::to_vec(&step(1)).unwrap_or_default().len();
        let packed: usize = steps.packed.iter().map(|packed| packed.0.len()).sum();
        assert!(packed < 3_200 * one / 8, "{packed} bytes of {}", 3_200 * one);
    }
}
