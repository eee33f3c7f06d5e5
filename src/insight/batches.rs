//! Whether the drying batches of the ears in a test differ in cold germination.
//!
//! Ears are dried in batches, and one that got too hot or went in too damp germinates less. But a batch also holds ears of
//! some mother rows and of some days of the harvest more than others, so the counts alone do not say what did it.

use super::design::Fitted;
use super::soundness::{Finding, FindingKind, SHUFFLES, Total, probability, sum};
use super::todo::Urgency;
use super::words::{percent, some_of, tenths};
use crate::genetics::line;
use crate::model::{EarId, Place, Project, RowId, TestId};
use crate::stats::Counts;
use crate::stats::beta_binomial::FEWEST_UNITS;
use crate::stats::groups::{GroupTest, Grouped, Shuffled, groups_differ};
use std::collections::{BTreeMap, HashMap};

/// Batches are called different below this probability of as much by chance. Common practice, no source. How often that
/// happens where they are not is simulated in `tests/stats_groups.rs`.
const BATCHES_AT: f64 = 0.01;
/// And from so many percent points on. Common practice, no source.
const CLEAR_POINTS: f64 = 5.0;

/// An ear in a test, with what is asked about its drying.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Dried {
    ear: EarId,
    row: Option<RowId>,
    batch: String,
    days: Option<u16>,
}

/// Gives the ears in the trays of a test whose drying batch is known.
pub(super) fn dried(project: &Project, test: TestId) -> Vec<Dried> {
    let cells = project.cells_of_test(test);
    let mut ears: Vec<EarId> = cells.filter_map(|cell| cell.content.ear()).collect();
    ears.sort_unstable();
    ears.dedup();
    let ears = ears.into_iter().filter_map(|ear| project.ears.get(ear));
    ears.filter(|ear| !ear.batch.trim().is_empty())
        .map(|ear| Dried {
            ear: ear.id,
            row: ear.row,
            batch: ear.batch.trim().to_owned(),
            days: project.maturity_days(ear),
        })
        .collect()
}

/// One batch as it was counted.
struct Batch<'a> {
    name: &'a str,
    ears: Vec<&'a Dried>,
    total: Total,
}

impl Batch<'_> {
    fn mean_days(&self) -> Option<f64> {
        let days: Option<Vec<f64>> = self.ears.iter().map(|ear| Some(f64::from(ear.days?))).collect();
        let days = days?;
        Some(days.iter().sum::<f64>() / days.len().max(1) as f64)
    }
}

/// Says that the batches clearly differ, if they do. Batches of fewer than [`FEWEST_UNITS`] scored ears are left out.
pub(super) fn compute(test: TestId, dried: &[Dried], fitted: &Fitted) -> Option<Finding> {
    let model = fitted.best()?;
    let effects = model.unit_effects();
    let effect_of = |ear: EarId| *effects.get(*fitted.arranged.units.get(&ear)?)?;
    let mut counts: HashMap<EarId, Vec<Counts>> = HashMap::new();
    for cell in &fitted.cells {
        if let Some(ear) = cell.ear() {
            counts.entry(ear).or_default().push(cell.counts);
        }
    }
    let mut by_name: BTreeMap<&str, Vec<&Dried>> = BTreeMap::new();
    for ear in dried.iter().filter(|ear| effect_of(ear.ear).is_some()) {
        by_name.entry(&ear.batch).or_default().push(ear);
    }
    by_name.retain(|_, ears| ears.len() >= FEWEST_UNITS);
    let batches: Vec<Batch<'_>> = by_name
        .into_iter()
        .map(|(name, ears)| {
            let own = ears.iter().filter_map(|ear| counts.get(&ear.ear)).flatten();
            Batch {
                name,
                total: sum(own),
                ears,
            }
        })
        .collect();
    if batches.len() < 2 {
        return None;
    }
    let units: Vec<Grouped> = (0..)
        .zip(&batches)
        .flat_map(|(group, batch)| batch.ears.iter().map(move |ear| (group, *ear)))
        .filter_map(|(group, ear)| {
            Some(Grouped {
                value: effect_of(ear.ear)?,
                group,
                block: ear.row.map(|row| row.0 as usize),
            })
        })
        .collect();
    let found = groups_differ(&units, SHUFFLES, u64::from(test.0))?;
    if found.p_value >= BATCHES_AT {
        return None;
    }
    let maturity = beyond_maturity(&batches, &units, found.p_value, u64::from(test.0));
    told(&batches, found, maturity, model.has_tray_effects())
}

/// What is left of the difference once maturity days are allowed for.
#[derive(Debug, Clone, Copy)]
enum Maturity {
    /// They are not known of all ears.
    NotKnown,
    /// The probability of as much by chance once a straight line by maturity days is taken off.
    Allowed(f64),
}

/// Tests the batches again with a straight line of germination by maturity days taken off. `units` are the ears of the
/// batches in order, `before` is the probability without that.
fn beyond_maturity(batches: &[Batch<'_>], units: &[Grouped], before: f64, seed: u64) -> Maturity {
    let ears = batches.iter().flat_map(|batch| &batch.ears);
    let days: Option<Vec<f64>> = ears.map(|ear| Some(f64::from(ear.days?))).collect();
    let Some(days) = days.filter(|days| days.len() == units.len()) else {
        return Maturity::NotKnown;
    };
    let points = days
        .iter()
        .zip(units)
        .map(|(days, unit)| (*days, unit.value, 1.0));
    // Where all ears are alike in maturity there is nothing to take off.
    let Some(line) = line(points) else {
        return Maturity::Allowed(before);
    };
    let left: Vec<Grouped> = days
        .iter()
        .zip(units)
        .map(|(days, unit)| Grouped {
            value: line.residual(*days, unit.value),
            ..*unit
        })
        .collect();
    Maturity::Allowed(groups_differ(&left, SHUFFLES, seed).map_or(1.0, |found| found.p_value))
}

/// Tells of the batch that is furthest from the others.
fn told(batches: &[Batch<'_>], found: GroupTest, maturity: Maturity, has_trays: bool) -> Option<Finding> {
    let all = batches.iter().fold(Total::default(), |all, batch| Total {
        germinated: all.germinated + batch.total.germinated,
        counted: all.counted + batch.total.counted,
    });
    let apart = |batch: &Batch<'_>| {
        let others = all.without(batch.total);
        Some((batch.total.percent()?, others.percent()?))
    };
    let points = |(own, others): (f64, f64)| own - others;
    let known = batches.iter().filter_map(|batch| Some((batch, apart(batch)?)));
    // Of two batches each is as far from the other: then the lower one is told.
    let far = |shares: (f64, f64)| ((1e6 * points(shares).abs()).round(), points(shares) < 0.0);
    let (batch, (own, others)) = known.max_by(|a, b| {
        let (a, b) = (far(a.1), far(b.1));
        a.0.total_cmp(&b.0).then(a.1.cmp(&b.1))
    })?;
    let difference = own - others;
    if difference.abs() < CLEAR_POINTS {
        return None;
    }
    let names: Vec<String> = batches
        .iter()
        .map(|batch| format!("'{}' {}", batch.name, batch.total.text()))
        .collect();
    let how = match found.shuffled {
        Shuffled::WithinBlocks => "shuffled within mother rows, so these are not the reason",
        Shuffled::Together => {
            "sisters of one batch shuffled together, for mother rows lie mostly in one batch each"
        }
    };
    let mut evidence = vec![
        format!("Germinated by batch: {}.", some_of(&names)),
        format!(
            "If batches made no difference, so much would be seen with a probability of {} (permutation test over {} ears{}; {how}).",
            probability(found.p_value),
            found.units,
            if has_trays { ", trays allowed for" } else { "" }
        ),
    ];
    let days: Option<Vec<String>> = batches
        .iter()
        .map(|batch| Some(format!("'{}' {}", batch.name, tenths(batch.mean_days()?))))
        .collect();
    evidence.extend(days.map(|days| format!("Mean maturity days: {}.", some_of(&days))));
    let is_beyond = match maturity {
        Maturity::NotKnown => {
            evidence.push("Whether maturity is the reason cannot be told.".to_owned());
            false
        }
        Maturity::Allowed(p_value) => {
            evidence.push(format!(
                "With a straight line by maturity days taken off the probability is {}.",
                probability(p_value)
            ));
            p_value < BATCHES_AT
        }
    };
    let (word, may) = if difference < 0.0 {
        ("lower", "better")
    } else {
        ("higher", "worse")
    };
    let mut others_too: Vec<&str> = Vec::new();
    if !is_beyond {
        others_too.push("maturity");
    }
    if found.shuffled == Shuffled::Together {
        others_too.push("mother rows");
    }
    let doubt = if others_too.is_empty() {
        String::new()
    } else {
        format!(
            " That may as well come from {}, which the batches share out unevenly.",
            others_too.join(" or ")
        )
    };
    Some(Finding {
        kind: FindingKind::Batches,
        urgency: Urgency::Open,
        sentence: format!(
            "Drying batch '{}' was {word} by {:.0} points: {} of its kernels germinated, {} of those of the other batches.{doubt}",
            batch.name,
            difference.abs(),
            percent(own.round()),
            percent(others.round())
        ),
        evidence: evidence.join(" "),
        remedy: format!(
            "Look up how it was dried: how hot, how long, how damp it went in. The likely percents do not allow for batches: if drying did it, its ears are {may} than they look, so compare ears within a batch before you choose between batches."
        ),
        place: Place::Ear(batch.ears.first()?.ear),
        suggested: None,
    })
}
