//! The part of `summary` that says what the choice costs and buys.

use std::io::Write;

use serde::Serialize;
use wintercrib::genetics::Kinship;
use wintercrib::insight::{Mean, Price, TraitShift};
use wintercrib::stats::Confidence;

/// Keys carry their units. What cannot be told is null. The sentences say the assumptions.
#[derive(Debug, Serialize)]
pub(super) struct PriceFacts {
    it_buys: Vec<String>,
    it_costs: Vec<String>,
    taken_for_granted: Vec<String>,
    kept_scored_ears: usize,
    scored_ears: usize,
    kept_observed: Option<MeanFacts>,
    all_observed: Option<MeanFacts>,
    kept_likely: Option<MeanFacts>,
    all_likely: Option<MeanFacts>,
    likely_differential_percent_points: Option<f64>,
    observed_differential_percent_points: Option<f64>,
    intensity_reached_standard_deviations: Option<f64>,
    intensity_of_the_best_standard_deviations: Option<f64>,
    heritability_low_share: Option<f64>,
    heritability_high_share: Option<f64>,
    heritability_narrowed_by_grower: bool,
    kernels_of_one_ear_correlation: Option<f64>,
    kernels_of_one_ear_correlation_standard_error: Option<f64>,
    response_low_percent_points: Option<f64>,
    response_high_percent_points: Option<f64>,
    maturity_explains_percent_points: Option<f64>,
    maturity_explains_95_low_percent_points: Option<f64>,
    maturity_explains_95_high_percent_points: Option<f64>,
    maturity_explains_share: Option<f64>,
    pedigree_seasons: usize,
    pollen_plants_assumed: Option<usize>,
    pollen_plants_said_by_grower: bool,
    open_pollen_effective_size: Option<f64>,
    open_pollen_inbreeding_per_season_percent: Option<f64>,
    closed_plot_effective_size: Option<f64>,
    closed_plot_inbreeding_per_season_percent: Option<f64>,
    traits: Vec<ShiftFacts>,
}

/// A mean in percent and its range.
#[derive(Debug, Serialize)]
struct MeanFacts {
    mean_percent: f64,
    low_percent: Option<f64>,
    high_percent: Option<f64>,
    confidence_share: f64,
}

/// How the kept ears differ from all in one trait, in its unit.
#[derive(Debug, Serialize)]
struct ShiftFacts {
    name: String,
    unit: String,
    kept_mean: f64,
    all_mean: f64,
    kept_ears: usize,
    all_ears: usize,
    difference: f64,
    difference_95_low: Option<f64>,
    difference_95_high: Option<f64>,
    difference_standard_deviations: Option<f64>,
    asked_for_by_a_cutoff: bool,
    comes_along_unasked: bool,
    sentence: String,
}

impl MeanFacts {
    fn new(mean: Mean, confidence: Confidence) -> Self {
        Self {
            mean_percent: mean.percent,
            low_percent: mean.range.map(|range| range.low),
            high_percent: mean.range.map(|range| range.high),
            confidence_share: confidence.level(),
        }
    }
}

impl From<&TraitShift> for ShiftFacts {
    fn from(one: &TraitShift) -> Self {
        Self {
            name: one.name.clone(),
            unit: one.unit.clone(),
            kept_mean: one.kept,
            all_mean: one.all,
            kept_ears: one.kept_known,
            all_ears: one.all_known,
            difference: one.shift.difference,
            difference_95_low: one.shift.interval.map(|span| span.low),
            difference_95_high: one.shift.interval.map(|span| span.high),
            difference_standard_deviations: one.shift.deviations,
            asked_for_by_a_cutoff: one.is_asked,
            comes_along_unasked: one.comes_along(),
            sentence: one.sentence(),
        }
    }
}

impl PriceFacts {
    pub(super) fn new(price: &Price) -> Self {
        let observed = |mean| MeanFacts::new(mean, Confidence::P95);
        let likely = |mean| MeanFacts::new(mean, Confidence::P90);
        let heritability = price.heritability;
        let interval = price.maturity.and_then(|part| part.interval);
        let open = price.kinship.map(|one| one.open);
        let closed = price.kinship.map(|one| one.closed);
        Self {
            it_buys: price.buys(),
            it_costs: price.costs(),
            taken_for_granted: price.assumptions(),
            kept_scored_ears: price.kept_scored,
            scored_ears: price.scored,
            kept_observed: price.observed.kept.map(observed),
            all_observed: price.observed.all.map(observed),
            kept_likely: price.likely.kept.map(likely),
            all_likely: price.likely.all.map(likely),
            likely_differential_percent_points: price.likely.difference(),
            observed_differential_percent_points: price.observed.difference(),
            intensity_reached_standard_deviations: price.reached,
            intensity_of_the_best_standard_deviations: price.intensity,
            heritability_low_share: heritability.map(|one| one.range.low),
            heritability_high_share: heritability.map(|one| one.range.high),
            heritability_narrowed_by_grower: heritability.is_some_and(|one| one.is_narrowed),
            kernels_of_one_ear_correlation: heritability.map(|one| one.likeness.correlation),
            kernels_of_one_ear_correlation_standard_error: heritability
                .map(|one| one.likeness.standard_error),
            response_low_percent_points: price.response.map(|span| span.low),
            response_high_percent_points: price.response.map(|span| span.high),
            maturity_explains_percent_points: price.maturity.map(|part| part.explained),
            maturity_explains_95_low_percent_points: interval.map(|span| span.low),
            maturity_explains_95_high_percent_points: interval.map(|span| span.high),
            maturity_explains_share: price.maturity.and_then(|part| part.part()),
            pedigree_seasons: price.kinship.map_or(0, |one| one.seasons_back),
            pollen_plants_assumed: price.kinship.map(|one| one.pollen_plants),
            pollen_plants_said_by_grower: price.kinship.is_some_and(|one| one.is_said),
            open_pollen_effective_size: open.map(Kinship::effective_size),
            open_pollen_inbreeding_per_season_percent: open.map(|one| 100.0 * one.inbreeding()),
            closed_plot_effective_size: closed.map(Kinship::effective_size),
            closed_plot_inbreeding_per_season_percent: closed.map(|one| 100.0 * one.inbreeding()),
            traits: price.shifts.iter().map(ShiftFacts::from).collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        let traits = self.traits.iter().map(|one| one.sentence.clone()).collect();
        for (title, sentences) in [
            ("What the choice buys", &self.it_buys),
            ("What the choice costs", &self.it_costs),
            ("Kept against all", &traits),
            ("Taken for granted", &self.taken_for_granted),
        ] {
            if !sentences.is_empty() {
                writeln!(out, "\n{title}")?;
            }
            for sentence in sentences {
                writeln!(out, "  {sentence}")?;
            }
        }
        Ok(())
    }
}
