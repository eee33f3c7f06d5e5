//! The part of `summary` that says what a test was able to tell before it was made.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{Before, PlanFigures, Telling};

use super::summary::write_table;

/// Points of an operating characteristic: every so many percent.
const STEP: usize = 5;

/// Keys carry their units. What cannot be told is null.
#[derive(Debug, Serialize)]
pub(super) struct BeforeFacts {
    sentences: Vec<String>,
    spread_sentence: String,
    cutoff_percent: Option<f64>,
    tell_apart_lower_percent: f64,
    tell_apart_higher_percent: f64,
    tell_apart_kernels_of_an_ear: Option<u32>,
    tell_apart_least_germinated_kernels: Option<u32>,
    tell_apart_sentence: String,
    /// The test's own plan, and after it the others that are set beside it.
    plans: Vec<PlanFacts>,
}

#[derive(Debug, Serialize)]
struct PlanFacts {
    kernels_per_cell: u16,
    replicates: u16,
    kernels_of_all_ears: u64,
    trays: Option<u32>,
    laying_hours: f64,
    share_of_packet_percent: Option<f64>,
    short_of_kernels_ears: usize,
    least_germinated_to_pass_kernels: Option<u32>,
    operating_characteristic: Vec<PassFacts>,
    expected_to_pass_percent: Option<f64>,
    passed_observed_percent: Option<f64>,
    passed_true_percent: Option<f64>,
    winners_curse_percent_points: Option<f64>,
    passed_below_cutoff_percent: Option<f64>,
}

/// A point of the operating characteristic.
#[derive(Debug, Serialize)]
struct PassFacts {
    true_percent: f64,
    passes_percent: f64,
}

impl BeforeFacts {
    pub(super) fn new(before: &Before, tell: [f64; 2]) -> Self {
        let asked = before.plans.first().and_then(|plan| plan.telling.as_ref());
        Self {
            sentences: asked.map_or_else(Vec::new, Telling::sentences),
            spread_sentence: before.spread.clone(),
            cutoff_percent: before.cutoff_percent,
            tell_apart_lower_percent: tell[0],
            tell_apart_higher_percent: tell[1],
            tell_apart_kernels_of_an_ear: before.told.map(|told| told.kernels),
            tell_apart_least_germinated_kernels: before.told.map(|told| told.least),
            tell_apart_sentence: before.tell.clone(),
            plans: before.plans.iter().map(PlanFacts::new).collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(out, "  Before the test")?;
        let tell = std::iter::once(&self.tell_apart_sentence);
        for sentence in self.sentences.iter().chain(tell) {
            writeln!(out, "    {sentence}")?;
        }
        writeln!(out, "    {}", self.spread_sentence)?;
        let head = [
            "Kernels",
            "Cells",
            "All kernels",
            "Trays",
            "Hours",
            "Packet %",
            "Passes with",
            "Pass %",
            "True %",
            "Flattered by",
            "Below %",
        ];
        let mut rows = vec![head.map(str::to_owned).to_vec()];
        rows.extend(self.plans.iter().map(PlanFacts::row));
        write_table(out, &rows)
    }
}

impl PlanFacts {
    fn new(plan: &PlanFigures) -> Self {
        let telling = plan.telling.as_ref();
        let chosen = telling.and_then(|telling| telling.chosen);
        let curve = telling.map_or(&[][..], |telling| &telling.curve[..]);
        Self {
            kernels_per_cell: plan.kernels,
            replicates: plan.replicates,
            kernels_of_all_ears: plan.all_kernels,
            trays: plan.trays,
            laying_hours: plan.hours,
            share_of_packet_percent: plan.packet_percent,
            short_of_kernels_ears: plan.short,
            least_germinated_to_pass_kernels: telling.map(|telling| telling.least),
            operating_characteristic: curve
                .iter()
                .step_by(STEP)
                .map(|&[true_percent, passes_percent]| PassFacts {
                    true_percent,
                    passes_percent,
                })
                .collect(),
            expected_to_pass_percent: chosen.map(|chosen| 100.0 * chosen.share),
            passed_observed_percent: chosen.map(|chosen| 100.0 * chosen.observed),
            passed_true_percent: chosen.map(|chosen| 100.0 * chosen.true_rate),
            winners_curse_percent_points: chosen.map(|chosen| 100.0 * chosen.excess()),
            passed_below_cutoff_percent: chosen.map(|chosen| 100.0 * chosen.below),
        }
    }

    fn row(&self) -> Vec<String> {
        let number = |value: Option<f64>, decimals: usize| {
            value.map_or_else(|| "-".to_owned(), |value| format!("{value:.decimals$}"))
        };
        let count = |value: Option<u32>| value.map_or_else(|| "-".to_owned(), |value| value.to_string());
        vec![
            self.kernels_per_cell.to_string(),
            self.replicates.to_string(),
            self.kernels_of_all_ears.to_string(),
            count(self.trays),
            format!("{:.1}", self.laying_hours),
            number(self.share_of_packet_percent, 0),
            count(self.least_germinated_to_pass_kernels),
            number(self.expected_to_pass_percent, 0),
            number(self.passed_true_percent, 1),
            number(self.winners_curse_percent_points, 1),
            number(self.passed_below_cutoff_percent, 0),
        ]
    }
}
