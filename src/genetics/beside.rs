//! The mean of a population that was tested in families, and how far it lies above a check that lay beside it.

use super::uncertain::Uncertain;
use std::collections::BTreeMap;

/// One reading of a unit, or of the check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Reading {
    /// In which block it was taken, such as a tray.
    pub block: usize,
    /// What was read.
    pub value: f64,
    /// How much it counts among the readings of its unit, above 0: for a share its count.
    pub weight: f64,
}

/// One unit of the population, such as an ear.
#[derive(Debug, Clone, PartialEq)]
pub struct Unit {
    /// Its family, such as the ears of one mother row; `None` for a unit without sisters.
    pub family: Option<usize>,
    /// Its readings.
    pub readings: Vec<Reading>,
}

impl Unit {
    /// The mean of its readings by their weights; `None` without readings.
    fn mean(&self, of: impl Fn(&Reading) -> f64) -> Option<f64> {
        let weights: f64 = self.readings.iter().map(|one| one.weight).sum();
        let sum: f64 = self.readings.iter().map(|one| one.weight * of(one)).sum();
        (weights > 0.0).then(|| sum / weights)
    }
}

/// The variance of the mean of residuals that come in families: `g / (g - 1) sum_f (sum of its residuals)^2 / n^2`, with
/// `g - 1` degrees of freedom. All in one family are taken for strangers, for nothing else can be told.
///
/// Source: the cluster-robust variance of a mean, Liang and Zeger 1986, Biometrika 73:13 (from memory).
fn variance_of_mean(residuals: &[(Option<usize>, f64)]) -> Option<(f64, f64)> {
    let mut families: BTreeMap<(bool, usize), f64> = BTreeMap::new();
    for (place, (family, residual)) in residuals.iter().enumerate() {
        let family = family.map_or((true, place), |family| (false, family));
        *families.entry(family).or_default() += residual;
    }
    let sums: Vec<f64> = if families.len() > 1 {
        families.into_values().collect()
    } else {
        residuals.iter().map(|(_, residual)| *residual).collect()
    };
    let (groups, count) = (sums.len() as f64, residuals.len() as f64);
    if groups < 2.0 {
        return None;
    }
    let squares: f64 = sums.iter().map(|sum| sum * sum).sum();
    Some((groups / (groups - 1.0) * squares / (count * count), groups - 1.0))
}

/// The mean of the units, each counting alike. `None` for fewer than two units with readings.
pub fn mean_of_families(units: &[Unit]) -> Option<Uncertain> {
    let values: Vec<(Option<usize>, f64)> = units
        .iter()
        .filter_map(|unit| Some((unit.family, unit.mean(|one| one.value)?)))
        .collect();
    let mean = values.iter().map(|(_, value)| value).sum::<f64>() / values.len() as f64;
    let residuals: Vec<(Option<usize>, f64)> = values
        .iter()
        .map(|(family, value)| (*family, value - mean))
        .collect();
    let (variance, freedom) = variance_of_mean(&residuals)?;
    Some(Uncertain {
        value: mean,
        variance,
        freedom,
    })
}

/// The variance of one reading of a check by chance alone, from the check's mean and the weight of the reading.
pub type Chance = fn(f64, f64) -> f64;

/// By what the spread of the check's readings is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CheckSpread {
    /// By readings of the same block.
    Within,
    /// By readings of different blocks, what the blocks did included.
    Among,
    /// By chance alone: the readings differ less than chance makes them, or there is only one.
    Chance,
}

/// How far a population lies above a check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Beside {
    /// The population's mean less the check's, block by block.
    pub above: Uncertain,
    /// The check's mean in these blocks, each weighing as much as units of the population lie in it.
    pub check: Uncertain,
    /// Units that are compared.
    pub units: usize,
    /// Readings of the check that they are compared with.
    pub readings: usize,
    /// Blocks in which both lie.
    pub blocks: usize,
    /// By what the spread of the check is known.
    pub spread: CheckSpread,
}

/// Compares a population with a check that lay in the same blocks. Readings in blocks without the check are left out.
///
/// The check of a block weighs as much as the units' readings in it, so what a block did to all of its readings cancels
/// out. The spread among units is taken around the means of their blocks, family by family; that of the check within
/// blocks, or among them where no block has two readings, and never below chance, where that is known. `None` where no block has both, for
/// fewer than two units, and where nothing tells how a reading of the check varies.
pub fn above_check(units: &[Unit], check: &[Reading], chance: Option<Chance>) -> Option<Beside> {
    let mut of_block: BTreeMap<usize, Vec<Reading>> = BTreeMap::new();
    for reading in check.iter().filter(|one| one.weight > 0.0) {
        of_block.entry(reading.block).or_default().push(*reading);
    }
    let units: Vec<Unit> = units
        .iter()
        .map(|unit| {
            let readings = unit.readings.iter().copied();
            Unit {
                family: unit.family,
                readings: readings
                    .filter(|one| one.weight > 0.0 && of_block.contains_key(&one.block))
                    .collect(),
            }
        })
        .filter(|unit| !unit.readings.is_empty())
        .collect();
    let count = units.len() as f64;
    // How much of the population lies in each block, and its mean there.
    let mut blocks: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
    for unit in &units {
        let weights: f64 = unit.readings.iter().map(|one| one.weight).sum();
        for one in &unit.readings {
            let share = one.weight / weights / count;
            let block = blocks.entry(one.block).or_default();
            block.0 += share;
            block.1 += share * one.value;
        }
    }
    let means: BTreeMap<usize, f64> = blocks
        .iter()
        .map(|(block, (share, sum))| (*block, sum / share))
        .collect();
    let residuals: Vec<(Option<usize>, f64)> = units
        .iter()
        .filter_map(|unit| Some((unit.family, unit.mean(|one| one.value - means[&one.block])?)))
        .collect();
    let (variance, freedom) = variance_of_mean(&residuals)?;
    // What the means of the blocks took of the spread.
    let left = count - blocks.len() as f64;
    if left < 1.0 {
        return None;
    }
    let population = Uncertain {
        value: blocks.values().map(|(_, sum)| sum).sum(),
        variance: variance * (count - 1.0) / left,
        freedom,
    };
    of_block.retain(|block, _| blocks.contains_key(block));
    let share = |block: &usize| blocks[block].0;
    let (check, spread) = check_mean(&of_block, share, chance)?;
    Some(Beside {
        above: population.less(check),
        check,
        units: units.len(),
        readings: of_block.values().map(Vec::len).sum(),
        blocks: blocks.len(),
        spread,
    })
}

/// The mean of the check over blocks by their shares, and by what its spread is known.
fn check_mean(
    of_block: &BTreeMap<usize, Vec<Reading>>,
    share: impl Fn(&usize) -> f64,
    chance: Option<Chance>,
) -> Option<(Uncertain, CheckSpread)> {
    let mean = |readings: &[Reading]| {
        let weights: f64 = readings.iter().map(|one| one.weight).sum();
        readings.iter().map(|one| one.weight * one.value).sum::<f64>() / weights
    };
    let all: Vec<Reading> = of_block.values().flatten().copied().collect();
    let overall = mean(&all);
    let value = of_block
        .iter()
        .map(|(block, readings)| share(block) * mean(readings))
        .sum();
    // The variance of the mean for one unit of variance of a reading.
    let parts: f64 = of_block
        .iter()
        .map(|(block, readings)| share(block).powi(2) / readings.len() as f64)
        .sum();
    let squares = |from: &dyn Fn(usize) -> f64| -> f64 {
        let readings = of_block.iter().flat_map(|(block, readings)| {
            let middle = from(*block);
            readings.iter().map(move |one| (one.value - middle).powi(2))
        });
        readings.sum()
    };
    let within = (all.len() - of_block.len()) as f64;
    let seen = if within > 0.0 {
        let means: BTreeMap<usize, f64> = of_block
            .iter()
            .map(|(block, readings)| (*block, mean(readings)))
            .collect();
        Some((
            squares(&|block| means[&block]) / within,
            within,
            CheckSpread::Within,
        ))
    } else if all.len() > 1 {
        let freedom = all.len() as f64 - 1.0;
        Some((squares(&|_| overall) / freedom, freedom, CheckSpread::Among))
    } else {
        None
    };
    let by_chance = chance.map(|chance| {
        let each = all.iter().map(|one| chance(overall, one.weight));
        each.sum::<f64>() / all.len() as f64
    });
    let (variance, freedom, spread) = match (seen, by_chance) {
        (Some(seen), Some(least)) if seen.0 < least => (least, f64::INFINITY, CheckSpread::Chance),
        (Some(seen), _) => seen,
        (None, Some(least)) => (least, f64::INFINITY, CheckSpread::Chance),
        (None, None) => return None,
    };
    let mean = Uncertain {
        value,
        variance: parts * variance,
        freedom,
    };
    Some((mean, spread))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn reading(block: usize, value: f64) -> Reading {
        Reading {
            block,
            value,
            weight: 10.0,
        }
    }

    fn unit(family: Option<usize>, block: usize, value: f64) -> Unit {
        Unit {
            family,
            readings: vec![reading(block, value)],
        }
    }

    /// Of units without sisters it is the common standard error of a mean: 2, 4, 4, 6 have mean 4, variance 8/3, and so
    /// 2/3 for the mean; in two families of two, sums of residuals -2 and 2, it is 2/1 8/16 = 1.
    #[test]
    fn sisters_count_together() {
        let values = [2.0, 4.0, 4.0, 6.0];
        let strangers: Vec<Unit> = values.iter().map(|value| unit(None, 0, *value)).collect();
        let mean = mean_of_families(&strangers).unwrap();
        assert_eq!((mean.value, mean.freedom), (4.0, 3.0));
        assert!((mean.variance - 2.0 / 3.0).abs() < 1e-12);
        let families: Vec<Unit> = values
            .iter()
            .enumerate()
            .map(|(at, value)| unit(Some(at / 2), 0, *value))
            .collect();
        let mean = mean_of_families(&families).unwrap();
        assert!((mean.variance - 1.0).abs() < 1e-12 && (mean.freedom - 1.0).abs() < 1e-12);
        assert_eq!(mean_of_families(&strangers[..1]), None);
    }

    #[test]
    fn what_a_block_does_cancels_out() {
        let mut dry = Vec::new();
        for (at, value) in [70.0, 50.0, 90.0, 60.0, 80.0, 70.0].into_iter().enumerate() {
            dry.push(unit(None, at % 2, value));
        }
        let check = [
            reading(0, 60.0),
            reading(0, 50.0),
            reading(1, 60.0),
            reading(1, 70.0),
        ];
        let plain = above_check(&dry, &check, None).unwrap();
        // Block 0: 70, 90, 80 against 55; block 1: 50, 60, 70 against 65.
        assert!((plain.above.value - (25.0 - 5.0) / 2.0).abs() < 1e-12);
        assert_eq!(
            (plain.units, plain.readings, plain.blocks, plain.spread),
            (6, 4, 2, CheckSpread::Within)
        );
        let wetter: Vec<Unit> = dry
            .iter()
            .map(|unit| {
                let mut unit = unit.clone();
                unit.readings[0].value += 7.0 * unit.readings[0].block as f64;
                unit
            })
            .collect();
        let wet_check = check.map(|one| reading(one.block, one.value + 7.0 * one.block as f64));
        let wetter = above_check(&wetter, &wet_check, None).unwrap();
        assert!((wetter.above.value - plain.above.value).abs() < 1e-9);
        assert!((wetter.above.variance - plain.above.variance).abs() < 1e-9);
        // By hand: units 4 2 (10^2) / 36 6/5 5/4 = 100/3; check 1/2 of (50 + 50)/2 over 4 readings, two blocks of half.
        let by_hand = 6.0 / 5.0 * 400.0 / 36.0 * 5.0 / 4.0 + 50.0 * (0.25 / 2.0 + 0.25 / 2.0);
        assert!((plain.above.variance - by_hand).abs() < 1e-9, "{plain:?}");
    }

    #[test]
    fn chance_is_the_least_spread_of_a_check() {
        let units: Vec<Unit> = (0..4).map(|at| unit(None, 0, 60.0 + f64::from(at))).collect();
        let chance: Option<Chance> = Some(|_, weight| 1000.0 / weight);
        let even = [reading(0, 60.0), reading(0, 60.0)];
        let found = above_check(&units, &even, chance).unwrap();
        assert_eq!(found.spread, CheckSpread::Chance);
        assert!((found.check.variance - 50.0).abs() < 1e-9);
        let one = above_check(&units, &even[..1], chance).unwrap();
        assert_eq!((one.spread, one.check.variance), (CheckSpread::Chance, 100.0));
        assert_eq!(above_check(&units, &even[..1], None), None);
    }

    #[test]
    fn units_beside_no_check_are_left_out() {
        let mut units: Vec<Unit> = (0..4).map(|at| unit(None, 0, 60.0 + f64::from(at))).collect();
        units.push(unit(None, 1, 1000.0));
        let check = [reading(0, 60.0), reading(0, 62.0), reading(2, 0.0)];
        let found = above_check(&units, &check, None).unwrap();
        assert_eq!((found.units, found.readings, found.blocks), (4, 2, 1));
        assert!((found.above.value - 0.5).abs() < 1e-12);
        assert_eq!(above_check(&units, &[reading(5, 1.0)], None), None);
        assert_eq!(above_check(&[], &check, None), None);
    }

    #[test]
    fn a_check_with_one_reading_a_block_is_known_by_its_blocks() {
        let units: Vec<Unit> = (0..6).map(|at| unit(None, at % 2, 60.0 + at as f64)).collect();
        let check = [reading(0, 60.0), reading(1, 64.0)];
        let found = above_check(&units, &check, None).unwrap();
        assert_eq!(found.spread, CheckSpread::Among);
        // Half of each block, variance 8: 8 (1/4 + 1/4).
        assert!((found.check.variance - 4.0).abs() < 1e-12);
    }
}
