//! `summary`: how sound the tests are, the model, every ear's figures, and what the choice costs.

use std::io::Write;

use jiff::civil::Date;
use serde::Serialize;
use wintercrib::insight::{
    Basis, BeforeQuery, Choice, DesignEars, Estimates, Frost, Insight, PercentRange, Slope, Soundness,
    Speeds, Standing, TrayEffect, TraySound, heat_units_c, is_frosted, tray_totals,
};
use wintercrib::model::{Cutoffs, Document, Germinated, Project, SeasonId, Test};
use wintercrib::stats::Fit;

use super::before::BeforeFacts;
use super::cold_days::ColdDaysFacts;
use super::field::FieldFacts;
use super::index::IndexFacts;
use super::lines::LinesFacts;
use super::pedigree::PedigreeFacts;
use super::price::PriceFacts;
use super::response::ResponseFacts;
use super::retest::RetestFacts;
use super::sets::SetsFacts;
use super::shares::SharesFacts;
use super::sowing::SowingFacts;
use super::speed::SpeedFacts;
use super::storage::StorageFacts;
use super::weather::WeatherFacts;
use super::{Stop, Summary, project};

pub(super) fn run(summary: &Summary, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(&summary.file)?;
    if !opened.problems.is_empty() {
        project::tell(&format!(
            "{} in this project, so figures may be wrong. 'wintercrib check {}' lists them",
            project::there_are(opened.problems.len(), "problem"),
            summary.file.display()
        ));
    }
    let season = project::season(opened.document.project(), summary.season)?;
    let page = Page::new(&opened.document, season, project::now().date());
    if summary.json {
        serde_json::to_writer_pretty(&mut *out, &page).map_err(std::io::Error::from)?;
        writeln!(out)?;
    } else {
        page.write(out)?;
    }
    Ok(())
}

/// Everything that a summary says. The names of its fields are the keys of the JSON and stay as they are.
#[derive(Debug, Serialize)]
struct Page {
    program_version: &'static str,
    project: String,
    project_id: String,
    population: String,
    season_year: i16,
    season_planted_on: Option<String>,
    tests: Vec<TestFacts>,
    to_do: Vec<String>,
    model: Model,
    cutoffs: CutoffFacts,
    sets_of_cutoffs: SetsFacts,
    index: IndexFacts,
    choice: ChoiceFacts,
    price: PriceFacts,
    shares: SharesFacts,
    kernels_for_a_stand: Option<SowingFacts>,
    field: Option<FieldFacts>,
    lines_of_mothers: LinesFacts,
    pedigree: PedigreeFacts,
    response_over_seasons: ResponseFacts,
    weather: WeatherFacts,
    storage: StorageFacts,
    retest: RetestFacts,
    up_by_early_count_share_percent: Option<f64>,
    ears: Vec<EarFacts>,
}

/// A test and how far its scoring has come.
#[derive(Debug, Serialize)]
struct TestFacts {
    name: String,
    laid_on: Option<String>,
    cold_celsius: f64,
    early_count_day: Option<u16>,
    final_count_day: u16,
    kernels_per_cell: u16,
    replicates: u16,
    check_lot: String,
    cells_to_count: usize,
    cells_with_early_count: usize,
    cells_with_final_count: usize,
    before_the_test: BeforeFacts,
    soundness_remarks: Vec<String>,
    soundness: SoundnessFacts,
    trays: Vec<TrayFacts>,
    cold_days: ColdDaysFacts,
}

/// What the finished trays say about the test itself.
#[derive(Debug, Serialize)]
struct SoundnessFacts {
    finished_trays: usize,
    ears_germinated_percent: Option<f64>,
    trays_differ_ratio_statistic: Option<f64>,
    trays_differ_degrees: Option<usize>,
    trays_differ_p_value: Option<f64>,
    slopes_ratio_statistic: Option<f64>,
    slopes_degrees: Option<usize>,
    slopes_p_value: Option<f64>,
    slopes_allowed_for: bool,
    row_slope: Option<SlopeFacts>,
    column_slope: Option<SlopeFacts>,
    neighbours: Vec<NeighbourFacts>,
    findings: Vec<FindingFacts>,
}

/// Germination from the first row or column to the last.
#[derive(Debug, Serialize)]
struct SlopeFacts {
    logits_per_step: f64,
    logits_per_step_error: f64,
    first_to_last_percent_points: f64,
    first_to_last_95_low_percent_points: f64,
    first_to_last_95_high_percent_points: f64,
    p_value: f64,
}

/// Whether neighbouring cells of a tray are alike.
#[derive(Debug, Serialize)]
struct NeighbourFacts {
    tray: u16,
    moran_i: f64,
    moran_i_expected: f64,
    alike_p_value: f64,
    cells: usize,
}

#[derive(Debug, Serialize)]
struct FindingFacts {
    kind: &'static str,
    sentence: String,
    evidence: String,
    remedy: String,
}

/// What one tray did, by the main model.
#[derive(Debug, Serialize)]
struct TrayEffectFacts {
    test: String,
    tray: u16,
    average_ear_percent: f64,
    average_ear_in_other_trays_percent: f64,
    effect_percent_points: f64,
    effect_95_low_percent_points: f64,
    effect_95_high_percent_points: f64,
    effect_logits: f64,
    effect_logits_error: f64,
    p_value: f64,
    false_alarms_share: f64,
    is_clear: bool,
}

/// The final counts of one tray, pooled over its cells with ears and over those with the check lot.
#[derive(Debug, Serialize)]
struct TrayFacts {
    tray: u16,
    replicate: u16,
    cells_to_count: usize,
    cells_with_final_count: usize,
    ears_germinated_kernels: u64,
    ears_counted_kernels: u64,
    ears_germinated_percent: Option<f64>,
    check_germinated_kernels: u64,
    check_counted_kernels: u64,
    check_germinated_percent: Option<f64>,
}

/// What is believed of an ear before its own kernels are counted. The beta distribution is the one fitted, or the
/// one with the mean and the spread of the main model: Beta(alpha, beta), alpha = mu theta.
#[derive(Debug, Serialize)]
struct Model {
    kind: &'static str,
    sentence: String,
    counts_as_germinated: &'static str,
    scored_ears: usize,
    mu_share: f64,
    theta_kernels: f64,
    prior_alpha: f64,
    prior_beta: f64,
    method: &'static str,
    mean_percent: f64,
    spread_percent_points: f64,
    spread_logits: Option<f64>,
    spread_logits_error: Option<f64>,
    cell_correlation_share: Option<f64>,
    log_likelihood: Option<f64>,
    gradient_norm: Option<f64>,
    parameters: Option<usize>,
    newton_steps: Option<usize>,
    tray_effects: Vec<TrayEffectFacts>,
    left_out: Vec<String>,
}

#[derive(Debug, Serialize)]
struct CutoffFacts {
    sentence: String,
    cold_germination_at_least_percent: Option<f64>,
    maturity_at_most_days: Option<f64>,
    vigor_at_least_grade: Option<f64>,
    ears_of_one_mother_at_most: Option<u16>,
    sureness_share: f64,
}

/// What the choice costs and buys.
#[derive(Debug, Serialize)]
struct ChoiceFacts {
    sentence: String,
    remarks: Vec<String>,
    ears: usize,
    plant_ears: usize,
    retest_ears: usize,
    leave_out_ears: usize,
    not_scored_ears: usize,
    mothers: usize,
    mothers_kept: usize,
    effective_mothers: f64,
    kept_cold_germination_observed_percent: Option<f64>,
    all_cold_germination_observed_percent: Option<f64>,
    kept_cold_germination_likely_percent: Option<f64>,
    all_cold_germination_likely_percent: Option<f64>,
    kept_maturity_days: Option<f64>,
    all_maturity_days: Option<f64>,
    counted_at_or_above_cutoff_ears: Option<usize>,
    kept_expected_below_cutoff_ears: Option<f64>,
    kernels_wanted: u64,
    kernels_ready: u64,
    short_of_kernels_ears: usize,
    each_cutoff_alone: Vec<String>,
}

/// One ear's figures. What was not measured is null.
#[derive(Debug, Serialize)]
struct EarFacts {
    ear_number: u32,
    ear_code: String,
    mother_row: Option<String>,
    germinated_kernels: Option<u32>,
    counted_kernels: Option<u32>,
    cold_germination_observed_percent: Option<f64>,
    cold_germination_observed_95_low_percent: Option<f64>,
    cold_germination_observed_95_high_percent: Option<f64>,
    cold_germination_likely_percent: Option<f64>,
    cold_germination_likely_90_low_percent: Option<f64>,
    cold_germination_likely_90_high_percent: Option<f64>,
    at_or_above_cutoff_probability: Option<f64>,
    place_percent_points: Option<f64>,
    vigor_mean_grade: Option<f64>,
    speed: SpeedFacts,
    maturity_days: Option<u16>,
    heat_units_celsius_days: Option<f64>,
    frosted: Option<bool>,
    frost: String,
    kernels_in_packets: Option<i64>,
    stand: &'static str,
    why: Vec<String>,
}

impl Page {
    fn new(document: &Document, season: SeasonId, today: Date) -> Self {
        let project = document.project();
        let insight = Insight::default();
        let estimates = insight.estimates(document, season);
        let cutoffs = insight.cutoffs(document, season);
        let choice = insight.choice(document, season, &cutoffs);
        let speeds = insight.speeds(document, season);
        let record = project.seasons.get(season);
        Self {
            program_version: env!("CARGO_PKG_VERSION"),
            project: project.about.name.clone(),
            project_id: project.about.id.clone(),
            population: project.about.population.clone(),
            season_year: record.map_or(0, |season| season.year),
            season_planted_on: record
                .and_then(|season| season.planted)
                .map(|day| day.to_string()),
            tests: project
                .tests_of(season)
                .map(|test| TestFacts::new(document, &insight, test))
                .collect(),
            to_do: insight
                .todo(document, today)
                .iter()
                .map(|line| line.sentence.clone())
                .collect(),
            model: Model::new(project, &estimates),
            cutoffs: CutoffFacts::new(project, &cutoffs),
            sets_of_cutoffs: SetsFacts::new(&insight.sets(document, season, &cutoffs)),
            index: IndexFacts::new(project, &insight.index(document, season, &cutoffs)),
            choice: ChoiceFacts::new(project, &choice),
            price: PriceFacts::new(&insight.price(document, season, &cutoffs)),
            shares: SharesFacts::new(&insight.shares(document, season, &cutoffs)),
            kernels_for_a_stand: Option::as_ref(&insight.sowings(document, season, &cutoffs))
                .map(SowingFacts::new),
            field: FieldFacts::new(document, &insight, season, today),
            lines_of_mothers: LinesFacts::new(&insight.lines_of_mothers(document)),
            pedigree: PedigreeFacts::new(
                project,
                &insight.pedigree(document),
                record.map(|season| season.year),
            ),
            response_over_seasons: ResponseFacts::new(&insight.response(document)),
            weather: WeatherFacts::new(document, &insight, season),
            storage: StorageFacts::new(project, &insight.storage(document)),
            retest: RetestFacts::new(project, &insight.retest(document, season, &cutoffs)),
            up_by_early_count_share_percent: speeds.early_percent,
            ears: choice
                .standings
                .iter()
                .map(|standing| EarFacts::new(project, standing, &speeds))
                .collect(),
        }
    }
}

impl TestFacts {
    fn new(document: &Document, insight: &Insight, test: &Test) -> Self {
        let project = document.project();
        let progress = insight.progress(document, test.id);
        let sound = insight.soundness(document, test.id);
        let trays: Vec<TrayFacts> = project
            .trays_of(test.id)
            .map(|tray| {
                let [ears, checks] = tray_totals(project, tray.id);
                let own = progress.of(tray.id);
                TrayFacts {
                    tray: tray.number,
                    replicate: tray.replicate,
                    cells_to_count: own.map_or(0, |own| own.cells),
                    cells_with_final_count: own.map_or(0, |own| own.last),
                    ears_germinated_kernels: ears.germinated,
                    ears_counted_kernels: ears.counted,
                    ears_germinated_percent: ears.percent(),
                    check_germinated_kernels: checks.germinated,
                    check_counted_kernels: checks.counted,
                    check_germinated_percent: checks.percent(),
                }
            })
            .collect();
        Self {
            name: test.name.clone(),
            laid_on: test.laid.map(|day| day.to_string()),
            cold_celsius: test.recipe.cold_c,
            early_count_day: test.recipe.early_day,
            final_count_day: test.recipe.final_day,
            kernels_per_cell: test.plan.kernels,
            replicates: test.plan.replicates,
            check_lot: test.check_lot.clone(),
            cells_to_count: progress.cells,
            cells_with_early_count: progress.early,
            cells_with_final_count: progress.last,
            before_the_test: before(document, insight, test),
            soundness_remarks: remarks(&trays, &sound),
            soundness: SoundnessFacts::new(&sound),
            trays,
            cold_days: ColdDaysFacts::new(project, test, &insight.cold_days(document, test.id)),
        }
    }
}

/// What the test was able to tell before it was made, by its own plan and the season's cutoff.
fn before(document: &Document, insight: &Insight, test: &Test) -> BeforeFacts {
    let tell = BeforeQuery::usual_tell(insight.cutoffs(document, test.season).germination_percent);
    let query = BeforeQuery {
        ears: DesignEars {
            season: test.season,
            like: Some(test.id),
            with_untested: false,
        },
        plan: test.plan.clone(),
        tell,
        beside: BeforeQuery::USUAL_PLANS.to_vec(),
    };
    BeforeFacts::new(&insight.before(document, &query), tell)
}

/// What the counts of a test say about the test itself, a sentence each.
fn remarks(trays: &[TrayFacts], sound: &Soundness) -> Vec<String> {
    if trays.iter().all(|tray| tray.ears_counted_kernels == 0) {
        return vec!["No ear has a final count yet.".to_owned()];
    }
    let found = sound.findings.iter().map(|finding| finding.sentence.clone());
    let mut remarks: Vec<String> = found.collect();
    let unfinished: usize = trays
        .iter()
        .map(|tray| tray.cells_to_count.saturating_sub(tray.cells_with_final_count))
        .sum();
    if unfinished > 0 {
        remarks.push(format!("{unfinished} cells have no final count yet."));
    }
    remarks
}

impl Model {
    fn new(project: &Project, estimates: &Estimates) -> Self {
        let fitted = match &estimates.basis {
            Basis::Main(model) => Some(model),
            Basis::StandIn { .. } => None,
        };
        let (mean, kernels) = (estimates.population.mean, estimates.population.kernels());
        Self {
            kind: match &estimates.basis {
                Basis::Main(model) if model.spread().is_some() => "fitted",
                Basis::Main(_) => "no spread",
                Basis::StandIn { fit, .. } => match fit {
                    Fit::Fitted(_) => "fitted",
                    Fit::NoSpread { .. } => "no spread",
                    Fit::WeakPrior { .. } => "weak prior",
                },
            },
            sentence: estimates.outcome.clone(),
            counts_as_germinated: match estimates.germinated {
                Germinated::StrongAndWeak => "strong and weak",
                Germinated::StrongOnly => "strong only",
            },
            scored_ears: estimates.scored(),
            mu_share: mean,
            theta_kernels: kernels,
            prior_alpha: mean * kernels,
            prior_beta: (1.0 - mean) * kernels,
            method: match &estimates.basis {
                Basis::Main(_) => "main model",
                Basis::StandIn { fit, .. } => match fit {
                    Fit::Fitted(_) | Fit::NoSpread { .. } => "beta-binomial",
                    Fit::WeakPrior { .. } => "weak prior",
                },
            },
            mean_percent: 100.0 * mean,
            spread_percent_points: 100.0 * estimates.population.deviation,
            spread_logits: fitted.and_then(|model| model.spread()).map(|spread| spread.value),
            spread_logits_error: fitted.and_then(|model| model.spread()).map(|spread| spread.error),
            cell_correlation_share: fitted
                .and_then(|model| model.cell_correlation())
                .map(|found| found.value),
            log_likelihood: fitted.map(|model| model.log_likelihood()),
            gradient_norm: fitted.map(|model| model.gradient_norm()),
            parameters: fitted.map(|model| model.parameters()),
            newton_steps: fitted.map(|model| model.steps()),
            tray_effects: estimates
                .trays
                .iter()
                .map(|effect| TrayEffectFacts::new(project, effect))
                .collect(),
            left_out: estimates.left_out.clone(),
        }
    }
}

impl TrayEffectFacts {
    fn new(project: &Project, effect: &TrayEffect) -> Self {
        Self {
            test: project
                .tests
                .get(effect.test)
                .map_or_else(String::new, |test| test.name.clone()),
            tray: project.trays.get(effect.tray).map_or(0, |tray| tray.number),
            average_ear_percent: effect.percent,
            average_ear_in_other_trays_percent: effect.others_percent,
            effect_percent_points: effect.points,
            effect_95_low_percent_points: effect.points_95.low,
            effect_95_high_percent_points: effect.points_95.high,
            effect_logits: effect.logits.value,
            effect_logits_error: effect.logits.error,
            p_value: effect.p_value,
            false_alarms_share: effect.false_alarms,
            is_clear: effect.is_clear(),
        }
    }
}

impl SlopeFacts {
    fn new(slope: &Slope) -> Self {
        Self {
            logits_per_step: slope.logits.value,
            logits_per_step_error: slope.logits.error,
            first_to_last_percent_points: slope.points,
            first_to_last_95_low_percent_points: slope.points_95.low,
            first_to_last_95_high_percent_points: slope.points_95.high,
            p_value: slope.p_value,
        }
    }
}

impl SoundnessFacts {
    fn new(sound: &Soundness) -> Self {
        let told = |tray: &TraySound| {
            let found = tray.neighbours?;
            Some(NeighbourFacts {
                tray: tray.number,
                moran_i: found.moran,
                moran_i_expected: found.expected,
                alike_p_value: found.p_alike,
                cells: found.values,
            })
        };
        Self {
            finished_trays: sound.trays.len(),
            ears_germinated_percent: sound.ears.percent(),
            trays_differ_ratio_statistic: sound.tray_test.map(|test| test.statistic),
            trays_differ_degrees: sound.tray_test.map(|test| test.degrees),
            trays_differ_p_value: sound.tray_test.map(|test| test.p_value),
            slopes_ratio_statistic: sound.slope_test.map(|test| test.statistic),
            slopes_degrees: sound.slope_test.map(|test| test.degrees),
            slopes_p_value: sound.slope_test.map(|test| test.p_value),
            slopes_allowed_for: sound.are_slopes_clear,
            row_slope: sound.by_row.as_ref().map(SlopeFacts::new),
            column_slope: sound.by_column.as_ref().map(SlopeFacts::new),
            neighbours: sound.trays.iter().filter_map(told).collect(),
            findings: sound
                .findings
                .iter()
                .map(|finding| FindingFacts {
                    kind: finding.kind.name(),
                    sentence: finding.sentence.clone(),
                    evidence: finding.evidence.clone(),
                    remedy: finding.remedy.clone(),
                })
                .collect(),
        }
    }
}

impl CutoffFacts {
    fn new(project: &Project, cutoffs: &Cutoffs) -> Self {
        Self {
            sentence: project.cutoffs_text(cutoffs),
            cold_germination_at_least_percent: cutoffs.germination_percent,
            maturity_at_most_days: cutoffs.maturity_days,
            vigor_at_least_grade: cutoffs.vigor,
            ears_of_one_mother_at_most: cutoffs.cap_per_mother,
            sureness_share: cutoffs.sureness,
        }
    }
}

impl ChoiceFacts {
    fn new(project: &Project, choice: &Choice) -> Self {
        let all = &choice.summary;
        Self {
            sentence: all.sentence(),
            remarks: all.remarks(),
            ears: all.ears,
            plant_ears: all.kept,
            retest_ears: all.retest,
            leave_out_ears: all.left_out,
            not_scored_ears: all.not_scored,
            mothers: all.mothers,
            mothers_kept: all.mothers_kept,
            effective_mothers: all.effective_mothers,
            kept_cold_germination_observed_percent: all.observed_percent.kept,
            all_cold_germination_observed_percent: all.observed_percent.all,
            kept_cold_germination_likely_percent: all.likely_percent.kept,
            all_cold_germination_likely_percent: all.likely_percent.all,
            kept_maturity_days: all.maturity_days.kept,
            all_maturity_days: all.maturity_days.all,
            counted_at_or_above_cutoff_ears: all.counted_at_or_above,
            kept_expected_below_cutoff_ears: all.expected_below,
            kernels_wanted: all.kernels_wanted,
            kernels_ready: all.kernels_ready,
            short_of_kernels_ears: all.short.len(),
            each_cutoff_alone: all.alone.iter().map(|alone| alone.sentence(project)).collect(),
        }
    }
}

impl EarFacts {
    fn new(project: &Project, standing: &Standing, speeds: &Speeds) -> Self {
        let estimate = standing.estimate.as_ref();
        let low = |range: PercentRange| range.low;
        let high = |range: PercentRange| range.high;
        let ear = project.ears.get(standing.ear);
        Self {
            ear_number: standing.number,
            ear_code: ear.map_or_else(String::new, |ear| ear.code.to_string()),
            mother_row: standing
                .row
                .and_then(|row| project.rows.get(row))
                .map(|row| row.label.clone()),
            germinated_kernels: estimate.map(|one| one.counts.k()),
            counted_kernels: estimate.map(|one| one.counts.n()),
            cold_germination_observed_percent: estimate.map(|one| one.observed_percent),
            cold_germination_observed_95_low_percent: estimate.map(|one| low(one.observed_95)),
            cold_germination_observed_95_high_percent: estimate.map(|one| high(one.observed_95)),
            cold_germination_likely_percent: estimate.map(|one| one.likely_percent),
            cold_germination_likely_90_low_percent: estimate.map(|one| low(one.likely_90)),
            cold_germination_likely_90_high_percent: estimate.map(|one| high(one.likely_90)),
            at_or_above_cutoff_probability: standing.probability,
            place_percent_points: estimate.and_then(|one| one.place_points),
            vigor_mean_grade: estimate.and_then(|one| one.vigor),
            speed: speeds.of(standing.ear).map_or_else(SpeedFacts::default, |speed| {
                SpeedFacts::new(speed, speeds.early_percent)
            }),
            maturity_days: standing.maturity_days,
            heat_units_celsius_days: ear.and_then(|ear| heat_units_c(project, ear)),
            frosted: ear.and_then(|ear| is_frosted(project, ear)),
            frost: ear.map_or_else(String::new, |ear| Frost::of(project, ear).sentence),
            kernels_in_packets: standing.kernels,
            stand: standing.stand.name(),
            why: standing
                .why
                .iter()
                .map(|reason| reason.sentence(project))
                .collect(),
        }
    }
}

/// Stands where nothing was measured.
const NONE: &str = "-";

impl Page {
    fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(out, "{}, season {}", self.project, self.season_year)?;
        for test in &self.tests {
            test.write(out)?;
        }
        if !self.to_do.is_empty() {
            writeln!(out, "\nTo do")?;
        }
        for line in &self.to_do {
            writeln!(out, "  {line}")?;
        }
        self.model.write(out)?;
        writeln!(out, "\nCutoffs\n  {}", self.cutoffs.sentence)?;
        self.sets_of_cutoffs.write(out)?;
        for line in &self.choice.each_cutoff_alone {
            writeln!(out, "  alone, {line}")?;
        }
        self.choice.write(out)?;
        self.price.write(out)?;
        self.index.write(out)?;
        match &self.kernels_for_a_stand {
            Some(sowing) => sowing.write(out)?,
            None => self.shares.write(out)?,
        }
        self.retest.write(out)?;
        if let Some(field) = &self.field {
            field.write(out)?;
        }
        self.lines_of_mothers.write(out)?;
        self.pedigree.write(out)?;
        if self.response_over_seasons.has_two_seasons() {
            self.response_over_seasons.write(out)?;
        }
        self.weather.write(out)?;
        self.storage.write_short(out)?;
        writeln!(out, "\nEars")?;
        let mut head: Vec<String> = [
            "Ear",
            "Code",
            "Mother",
            "Germ.",
            "Observed %",
            "95 % range",
            "Likely %",
            "90 % range",
            "At cutoff",
            "Early %",
            "Vigor",
            "Days",
            "Stand",
            "Why",
        ]
        .map(str::to_owned)
        .to_vec();
        if let Some(percent) = self.cutoffs.cold_germination_at_least_percent {
            head[8] = format!("P(>={percent} %)");
        }
        let rows = self.ears.iter().map(EarFacts::row);
        let rows: Vec<Vec<String>> = std::iter::once(head).chain(rows).collect();
        write_table(out, &rows)
    }
}

impl TestFacts {
    fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        let laid = self
            .laid_on
            .as_ref()
            .map_or("not laid yet".to_owned(), |day| format!("laid on {day}"));
        writeln!(
            out,
            "\nTest '{}': {laid}, {} °C, final count on day {}, {} kernels in a cell",
            self.name, self.cold_celsius, self.final_count_day, self.kernels_per_cell
        )?;
        writeln!(
            out,
            "  Final counts: {} of {} cells; early counts: {}.",
            self.cells_with_final_count, self.cells_to_count, self.cells_with_early_count
        )?;
        let is_told = |remark: &&String| self.soundness.findings.iter().all(|one| one.sentence != **remark);
        for remark in self.soundness_remarks.iter().filter(is_told) {
            writeln!(out, "  {remark}")?;
        }
        self.soundness.write(out)?;
        let mut rows = vec![
            ["Tray", "Counted", "Ears", "Ears %", "Check lot", "Check %"]
                .map(str::to_owned)
                .to_vec(),
        ];
        for tray in &self.trays {
            rows.push(vec![
                tray.tray.to_string(),
                format!("{}/{}", tray.cells_with_final_count, tray.cells_to_count),
                format!("{}/{}", tray.ears_germinated_kernels, tray.ears_counted_kernels),
                tenths(tray.ears_germinated_percent),
                format!("{}/{}", tray.check_germinated_kernels, tray.check_counted_kernels),
                tenths(tray.check_germinated_percent),
            ]);
        }
        write_table(out, &rows)?;
        self.cold_days.write(out)?;
        self.before_the_test.write(out)
    }
}

impl Model {
    fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(out, "\nHow much ears differ\n  {}", self.sentence)?;
        write!(
            out,
            "  Method: {}; mean {:.1} %, spread {:.1} points",
            self.method, self.mean_percent, self.spread_percent_points
        )?;
        if let Some((likelihood, norm)) = self.log_likelihood.zip(self.gradient_norm) {
            write!(
                out,
                "; log-likelihood {likelihood:.3}, steepest slope left {norm:.0e}"
            )?;
        }
        writeln!(out, ".")?;
        if self.tray_effects.is_empty() {
            return Ok(());
        }
        let has_tests = self
            .tray_effects
            .iter()
            .any(|one| one.test != self.tray_effects[0].test);
        let mut rows = vec![
            [
                "Tray",
                "Average ear %",
                "Other trays %",
                "Points",
                "95 % range",
                "p",
            ]
            .map(str::to_owned)
            .to_vec(),
        ];
        for one in &self.tray_effects {
            rows.push(vec![
                if has_tests {
                    format!("{} {}", one.test, one.tray)
                } else {
                    one.tray.to_string()
                },
                format!("{:.1}", one.average_ear_percent),
                format!("{:.1}", one.average_ear_in_other_trays_percent),
                format!("{:.1}", one.effect_percent_points),
                format!(
                    "{:.1} to {:.1}",
                    one.effect_95_low_percent_points, one.effect_95_high_percent_points
                ),
                chance(one.p_value),
            ]);
        }
        write_table(out, &rows)
    }
}

impl SoundnessFacts {
    fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        for finding in &self.findings {
            writeln!(out, "  {}", finding.sentence)?;
            writeln!(out, "    {}", finding.evidence)?;
            writeln!(out, "    {}", finding.remedy)?;
        }
        if let Some(p_value) = self.trays_differ_p_value {
            writeln!(
                out,
                "  If no tray differed, the trays would differ as much with a probability of {}.",
                chance(p_value)
            )?;
        }
        Ok(())
    }
}

impl ChoiceFacts {
    fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(out, "\nThe choice\n  {}", self.sentence)?;
        writeln!(
            out,
            "  {} to plant, {} to retest, {} left out, {} not scored; effective mothers {:.1}",
            self.plant_ears,
            self.retest_ears,
            self.leave_out_ears,
            self.not_scored_ears,
            self.effective_mothers
        )?;
        let pairs = [
            (
                "Observed cold germination %",
                self.kept_cold_germination_observed_percent,
                self.all_cold_germination_observed_percent,
            ),
            (
                "Likely cold germination %",
                self.kept_cold_germination_likely_percent,
                self.all_cold_germination_likely_percent,
            ),
            ("Maturity days", self.kept_maturity_days, self.all_maturity_days),
        ];
        let mut rows = vec![["Mean", "kept", "all"].map(str::to_owned).to_vec()];
        rows.extend(pairs.map(|(what, kept, all)| vec![what.to_owned(), tenths(kept), tenths(all)]));
        write_table(out, &rows)?;
        if let Some(below) = self.kept_expected_below_cutoff_ears {
            writeln!(
                out,
                "  Of the kept ears, {below:.1} are expected to be below the cutoff in truth."
            )?;
        }
        writeln!(
            out,
            "  Kernels to plant: {} wanted, {} ready beside the remnant.",
            self.kernels_wanted, self.kernels_ready
        )?;
        for remark in &self.remarks {
            writeln!(out, "  {remark}")?;
        }
        Ok(())
    }
}

impl EarFacts {
    fn row(&self) -> Vec<String> {
        let or_none = |text: Option<String>| text.unwrap_or_else(|| NONE.to_owned());
        let range = |low: Option<f64>, high: Option<f64>| {
            or_none(low.zip(high).map(|(low, high)| format!("{low:.0} to {high:.0}")))
        };
        let counts = self.germinated_kernels.zip(self.counted_kernels);
        let [early, vigor] = self.speed.cells();
        vec![
            self.ear_number.to_string(),
            self.ear_code.clone(),
            self.mother_row.clone().unwrap_or_else(|| "unknown".to_owned()),
            or_none(counts.map(|(germinated, counted)| format!("{germinated}/{counted}"))),
            or_none(
                self.cold_germination_observed_percent
                    .map(|percent| format!("{percent:.0}")),
            ),
            range(
                self.cold_germination_observed_95_low_percent,
                self.cold_germination_observed_95_high_percent,
            ),
            or_none(
                self.cold_germination_likely_percent
                    .map(|percent| format!("{percent:.0}")),
            ),
            range(
                self.cold_germination_likely_90_low_percent,
                self.cold_germination_likely_90_high_percent,
            ),
            or_none(self.at_or_above_cutoff_probability.map(chance)),
            early,
            vigor,
            or_none(self.maturity_days.map(|days| days.to_string())),
            self.stand.to_owned(),
            self.why.first().cloned().unwrap_or_default(),
        ]
    }
}

fn tenths(value: Option<f64>) -> String {
    value.map_or_else(|| NONE.to_owned(), |value| format!("{value:.1}"))
}

/// A probability, which rounding must not turn from 'almost' into 'certainly'.
pub(super) fn chance(chance: f64) -> String {
    if chance > 0.99 && chance < 1.0 {
        ">0.99".to_owned()
    } else if chance > 0.0 && chance < 0.01 {
        "<0.01".to_owned()
    } else {
        format!("{chance:.2}")
    }
}

/// Writes rows, the first of which is the head, in columns: figures to the right, words to the left.
pub(super) fn write_table(out: &mut dyn Write, rows: &[Vec<String>]) -> std::io::Result<()> {
    let columns = rows.iter().map(Vec::len).max().unwrap_or(0);
    let cell = |row: &'_ Vec<String>, column: usize| row.get(column).map_or(0, |text| text.chars().count());
    let widths: Vec<usize> = (0..columns)
        .map(|column| rows.iter().map(|row| cell(row, column)).max().unwrap_or(0))
        .collect();
    let is_figures = |column: usize| {
        rows.iter()
            .skip(1)
            .filter_map(|row| row.get(column))
            .all(|text| text.starts_with(|first: char| first.is_ascii_digit() || "-<>".contains(first)))
    };
    let right: Vec<bool> = (0..columns).map(is_figures).collect();
    for row in rows {
        let padded = row.iter().enumerate().map(|(column, text)| {
            let width = widths[column];
            if right[column] {
                format!("{text:>width$}")
            } else {
                format!("{text:<width$}")
            }
        });
        let line = padded.collect::<Vec<_>>().join("  ");
        writeln!(out, "  {}", line.trim_end())?;
    }
    Ok(())
}
