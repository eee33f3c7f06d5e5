//! Whether groups of units differ by more than chance lets them, by shuffling.

use std::collections::{BTreeMap, BTreeSet};

use rand_pcg::Pcg64;

use super::draw::below;

/// A unit with its value.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Grouped {
    /// The value, such as how well it grew; a unit whose value is not finite is passed over.
    pub value: f64,
    /// The group that is asked about.
    pub group: usize,
    /// The block, such as the family, within which units are alike for other reasons; `None` for a unit alone.
    pub block: Option<usize>,
}

/// What was shuffled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shuffled {
    /// Units within their blocks: the groups are compared inside blocks only, so what the blocks are plays no part.
    WithinBlocks,
    /// Units of one block and group together: blocks lie mostly in one group each, so what a group did cannot be told from
    /// what its blocks are, but blocks that differ are no false alarm.
    Together,
}

/// The result of [`groups_differ`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GroupTest {
    /// What was shuffled.
    pub shuffled: Shuffled,
    /// Units that took part.
    pub units: usize,
    /// The probability of groups at least as different if the groups told nothing.
    pub p_value: f64,
}

/// Shuffles end after so many that were as different: then the probability is large and known well enough.
const ENOUGH: u32 = 50;

/// Tests whether groups differ, by the sum of squares between them; `None` with fewer than two groups, or where nothing
/// could be shuffled or no value differs.
///
/// Where half of the units or more lie in blocks of several groups, values are shuffled within these blocks, else groups
/// are dealt anew to the units of one block and group together. A permutation test (Fisher 1935, The Design of
/// Experiments), ended early as by Besag and Clifford 1991, Biometrika 78:301 (both from memory). The same seed gives the
/// same answer.
pub fn groups_differ(units: &[Grouped], shuffles: u32, seed: u64) -> Option<GroupTest> {
    let units: Vec<Grouped> = units
        .iter()
        .copied()
        .filter(|unit| unit.value.is_finite())
        .collect();
    let mut groups_of_block: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    for unit in &units {
        if let Some(block) = unit.block {
            groups_of_block.entry(block).or_default().insert(unit.group);
        }
    }
    let is_split = |unit: &&Grouped| unit.block.is_some_and(|block| groups_of_block[&block].len() > 1);
    let split: Vec<Grouped> = units.iter().filter(is_split).copied().collect();
    let mut dice = Pcg64::new(u128::from(seed), 0xa02_bdbf_7bb3_c0a7);
    if !split.is_empty() && 2 * split.len() >= units.len() {
        let mut blocks: BTreeMap<usize, Vec<Grouped>> = BTreeMap::new();
        for unit in &split {
            blocks.entry(unit.block.unwrap_or(0)).or_default().push(*unit);
        }
        let p_value = within(&blocks.into_values().collect::<Vec<_>>(), shuffles, &mut dice)?;
        return Some(GroupTest {
            shuffled: Shuffled::WithinBlocks,
            units: split.len(),
            p_value,
        });
    }
    Some(GroupTest {
        shuffled: Shuffled::Together,
        units: units.len(),
        p_value: together(&units, shuffles, &mut dice)?,
    })
}

/// Sum and number of values by group, the groups numbered anew from 0.
struct Sums(Vec<(f64, f64)>);

impl Sums {
    fn add(&mut self, group: usize, value: f64, units: f64) {
        let (sum, count) = &mut self.0[group];
        *sum += value;
        *count += units;
    }

    /// The sum of squares between groups, for values whose mean is zero.
    fn between(&self) -> f64 {
        self.0.iter().map(|(sum, count)| sum * sum / count.max(1.0)).sum()
    }
}

fn numbered(groups: impl Iterator<Item = usize>) -> BTreeMap<usize, usize> {
    let all: BTreeSet<usize> = groups.collect();
    all.into_iter().zip(0..).collect()
}

/// The share of shuffles that are at least as different, this order counted as one of them.
fn share(observed: f64, total: f64, shuffles: u32, mut shuffle: impl FnMut() -> f64) -> Option<f64> {
    if total.is_nan() || total <= 0.0 {
        return None;
    }
    let mut alike = 0;
    for made in 1..=shuffles {
        alike += u32::from(shuffle() >= observed - 1e-12 * total);
        if alike == ENOUGH {
            return Some(f64::from(alike) / f64::from(made));
        }
    }
    Some((f64::from(alike) + 1.0) / (f64::from(shuffles) + 1.0))
}

fn within(blocks: &[Vec<Grouped>], shuffles: u32, dice: &mut Pcg64) -> Option<f64> {
    let number = numbered(blocks.iter().flatten().map(|unit| unit.group));
    let mut values: Vec<Vec<f64>> = Vec::new();
    let mut total = 0.0;
    for block in blocks {
        let mean = block.iter().map(|unit| unit.value).sum::<f64>() / block.len() as f64;
        let centred: Vec<f64> = block.iter().map(|unit| unit.value - mean).collect();
        total += centred.iter().map(|value| value * value).sum::<f64>();
        values.push(centred);
    }
    let groups: Vec<Vec<usize>> = blocks
        .iter()
        .map(|block| block.iter().map(|unit| number[&unit.group]).collect())
        .collect();
    let between = |values: &[Vec<f64>]| {
        let mut sums = Sums(vec![(0.0, 0.0); number.len()]);
        for (values, groups) in values.iter().zip(&groups) {
            for (value, group) in values.iter().zip(groups) {
                sums.add(*group, *value, 1.0);
            }
        }
        sums.between()
    };
    let observed = between(&values);
    share(observed, total, shuffles, || {
        for block in &mut values {
            for last in (1..block.len()).rev() {
                block.swap(last, below(dice, last + 1));
            }
        }
        between(&values)
    })
}

fn together(units: &[Grouped], shuffles: u32, dice: &mut Pcg64) -> Option<f64> {
    let number = numbered(units.iter().map(|unit| unit.group));
    if number.len() < 2 {
        return None;
    }
    let mean = units.iter().map(|unit| unit.value).sum::<f64>() / units.len() as f64;
    let total = units.iter().map(|unit| (unit.value - mean).powi(2)).sum();
    // A unit without a block is one by itself.
    let mut clusters: BTreeMap<(Option<usize>, usize), (f64, f64)> = BTreeMap::new();
    for (at, unit) in units.iter().enumerate() {
        let key = (unit.block, unit.block.map_or(at, |_| unit.group));
        let (sum, count) = clusters.entry(key).or_default();
        *sum += unit.value - mean;
        *count += 1.0;
    }
    let mut groups: Vec<usize> = clusters
        .keys()
        .map(|(block, key)| number[&block.map_or_else(|| units[*key].group, |_| *key)])
        .collect();
    let clusters: Vec<(f64, f64)> = clusters.into_values().collect();
    let between = |groups: &[usize]| {
        let mut sums = Sums(vec![(0.0, 0.0); number.len()]);
        for ((value, units), group) in clusters.iter().zip(groups) {
            sums.add(*group, *value, *units);
        }
        sums.between()
    };
    let observed = between(&groups);
    share(observed, total, shuffles, || {
        for last in (1..groups.len()).rev() {
            groups.swap(last, below(dice, last + 1));
        }
        between(&groups)
    })
}
