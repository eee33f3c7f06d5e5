//! How the figures of a choice move with the cold germination cutoff, all other cutoffs as they are.

use super::choice::{self, Choice, Facts, Given};
use super::estimates::Estimates;
use super::price;
use super::words::{plural, tenths};
use crate::genetics::{Kinship, Span};
use crate::model::Cutoffs;

/// Steps of the cutoff in percent.
const STEP: u8 = 5;

/// The figures of the choice at one cutoff.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// The least cold germination, in percent.
    pub cutoff_percent: f64,
    /// Ears kept.
    pub kept: usize,
    /// Mother rows kept.
    pub mothers_kept: usize,
    /// Effective size with pollen of unrelated plants; `None` when none is kept.
    pub effective_size: Option<f64>,
    /// Mean likely percent of the kept.
    pub likely_percent: Option<f64>,
    /// Mean maturity days of the kept.
    pub maturity_days: Option<f64>,
    /// Kept ears expected to be below the cutoff in truth.
    pub expected_below: Option<f64>,
    /// What the next generation may gain, in percent points.
    pub response: Option<Span>,
}

/// One figure that moves with the cutoff.
#[derive(Debug, Clone, Copy)]
pub struct CurveFigure {
    /// What it is, with its unit.
    pub name: &'static str,
    /// Whether it is a number of things, which is never between two whole numbers.
    pub is_whole: bool,
    value: fn(&CurvePoint) -> Option<f64>,
}

impl CurveFigure {
    /// All figures, in the order in which they are drawn.
    pub const ALL: [Self; 6] = [
        Self::whole("Ears kept", |one| Some(one.kept as f64)),
        Self::whole("Mothers kept", |one| Some(one.mothers_kept as f64)),
        Self::new("Effective size", |one| one.effective_size),
        Self::new("Likely, of the kept, %", |one| one.likely_percent),
        Self::new("Maturity days of the kept", |one| one.maturity_days),
        Self::new("Response, greatest, points", |one| {
            one.response.map(|span| span.high)
        }),
    ];

    const fn new(name: &'static str, value: fn(&CurvePoint) -> Option<f64>) -> Self {
        let is_whole = false;
        Self {
            name,
            is_whole,
            value,
        }
    }

    const fn whole(name: &'static str, value: fn(&CurvePoint) -> Option<f64>) -> Self {
        let is_whole = true;
        Self {
            name,
            is_whole,
            value,
        }
    }

    /// The figure at one cutoff; `None` where it is not known.
    pub fn at(&self, point: &CurvePoint) -> Option<f64> {
        (self.value)(point)
    }
}

/// The figures at cutoffs over the whole way.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// From 0 to 100 %, the cutoff that is set among them.
    pub points: Vec<CurvePoint>,
    /// The place of the cutoff that is set; `None` while it is switched off.
    pub here: Option<usize>,
}

impl Curve {
    /// Cutoffs in percent and the figure at each where it is known. A cutoff at which nothing is kept has no mean, so the
    /// line may end before 100 %.
    pub fn line(&self, figure: CurveFigure) -> Vec<[f64; 2]> {
        let known = |one: &CurvePoint| Some([one.cutoff_percent, figure.at(one)?]);
        self.points.iter().filter_map(known).collect()
    }

    /// Says what the next step up and the next step down would change, a sentence each.
    pub fn sentences(&self) -> Vec<String> {
        let Some(here) = self.here else {
            return Vec::new();
        };
        let from = &self.points[here];
        let next = |place: Option<usize>| place.and_then(|place| self.points.get(place));
        let step = |to: &CurvePoint| {
            format!(
                "At {} % instead of {} %: {}, {}{}.",
                to.cutoff_percent,
                from.cutoff_percent,
                change(from.kept, to.kept, "ear"),
                change(from.mothers_kept, to.mothers_kept, "mother"),
                moved(from, to)
            )
        };
        let steps = [next(here.checked_sub(1)), next(Some(here + 1))];
        steps.into_iter().flatten().map(step).collect()
    }
}

/// Says `9 ears fewer`.
fn change(from: usize, to: usize, one: &str) -> String {
    let by = plural(from.abs_diff(to), one);
    match from.cmp(&to) {
        std::cmp::Ordering::Less => format!("{by} more"),
        std::cmp::Ordering::Equal => format!("as many {one}s"),
        std::cmp::Ordering::Greater => format!("{by} fewer"),
    }
}

/// Says the means that differ once they are rounded, each with a comma before it.
fn moved(from: &CurvePoint, to: &CurvePoint) -> String {
    let said = |what: &str, unit: &str, before: Option<f64>, after: Option<f64>| {
        let (before, after) = (tenths(before?), tenths(after?));
        (before != after).then(|| format!(", {what} {after} {unit} instead of {before} {unit}"))
    };
    [
        said("likely", "%", from.likely_percent, to.likely_percent),
        said("maturity", "days", from.maturity_days, to.maturity_days),
    ]
    .into_iter()
    .flatten()
    .collect()
}

pub(super) fn compute(
    facts: &Facts,
    estimates: &Estimates,
    basis: &price::Basis,
    given: &Given<'_>,
) -> Curve {
    let set = given.cutoffs.germination_percent;
    let mut percents: Vec<f64> = (0..=100 / STEP).map(|step| f64::from(step * STEP)).collect();
    percents.extend(set.filter(|set| (0.0..=100.0).contains(set)));
    percents.sort_unstable_by(f64::total_cmp);
    percents.dedup();
    let points: Vec<CurvePoint> = percents
        .into_iter()
        .map(|percent| {
            let cutoffs = Cutoffs {
                germination_percent: Some(percent),
                ..given.cutoffs.clone()
            };
            let given = Given {
                cutoffs: &cutoffs,
                ..*given
            };
            let choice = choice::compute(facts, estimates, &given);
            point(percent, &choice, basis)
        })
        .collect();
    let here = set.and_then(|set| {
        points
            .iter()
            .position(|one| one.cutoff_percent.total_cmp(&set).is_eq())
    });
    Curve { points, here }
}

fn point(percent: f64, choice: &Choice, basis: &price::Basis) -> CurvePoint {
    let price = price::compute(basis, choice);
    let summary = &choice.summary;
    CurvePoint {
        cutoff_percent: percent,
        kept: summary.kept,
        mothers_kept: summary.mothers_kept,
        effective_size: price.kinship.map(|kinship| Kinship::effective_size(kinship.open)),
        likely_percent: summary.likely_percent.kept,
        maturity_days: summary.maturity_days.kept,
        expected_below: summary.expected_below,
        response: price.response,
    }
}
