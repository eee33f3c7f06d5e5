//! `summary`: how sound the tests are, the model, every ear's figures, and what the choice costs.

use std::io::Write;

use jiff::civil::Date;
use serde::Serialize;
use wintercrib::insight::{Choice, Estimates, Insight, PercentRange, Standing};
use wintercrib::model::{CellContent, Cutoffs, Document, Germinated, Pass, Project, SeasonId, Tally, Test};
use wintercrib::stats::Fit;

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
    choice: ChoiceFacts,
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
    soundness_remarks: Vec<String>,
    trays: Vec<TrayFacts>,
}

/// The final counts of one tray, pooled over its cells with ears and over those with the check lot.
#[derive(Debug, Serialize)]
struct TrayFacts {
    tray: u16,
    replicate: u16,
    cells_to_count: usize,
    cells_with_final_count: usize,
    ears_germinated_kernels: u32,
    ears_counted_kernels: u32,
    ears_germinated_percent: Option<f64>,
    check_germinated_kernels: u32,
    check_counted_kernels: u32,
    check_germinated_percent: Option<f64>,
}

/// What is believed of an ear before its own kernels are counted: Beta(alpha, beta), alpha = mu theta.
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
    vigor_mean_grade: Option<f64>,
    maturity_days: Option<u16>,
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
            model: Model::new(&estimates),
            cutoffs: CutoffFacts::new(project, &cutoffs),
            choice: ChoiceFacts::new(project, &choice),
            ears: choice
                .standings
                .iter()
                .map(|standing| EarFacts::new(project, standing))
                .collect(),
        }
    }
}

impl TestFacts {
    fn new(document: &Document, insight: &Insight, test: &Test) -> Self {
        let project = document.project();
        let progress = insight.progress(document, test.id);
        let trays: Vec<TrayFacts> = project
            .trays_of(test.id)
            .map(|tray| {
                let (mut ears, mut checks) = (Pool::default(), Pool::default());
                for cell in project.cells_of(tray.id) {
                    let Some(count) = project.count_in_force(cell.id, Pass::Final) else {
                        continue;
                    };
                    match cell.content {
                        CellContent::Ear(_) => ears.add(&count.tally, project.about.germinated),
                        CellContent::Check(_) => checks.add(&count.tally, project.about.germinated),
                        CellContent::Landmark | CellContent::Spare => {}
                    }
                }
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
            soundness_remarks: remarks(&trays),
            trays,
        }
    }
}

/// What the counts of a test say about the test itself.
fn remarks(trays: &[TrayFacts]) -> Vec<String> {
    let mut remarks = Vec::new();
    let germinated: u32 = trays.iter().map(|tray| tray.ears_germinated_kernels).sum();
    let counted: u32 = trays.iter().map(|tray| tray.ears_counted_kernels).sum();
    if counted == 0 {
        return vec!["No ear has a final count yet.".to_owned()];
    }
    // Limits: common practice, no source.
    if germinated * 10 > counted * 9 {
        remarks.push("More than 90 % germinated: the test was too easy to tell ears apart.".to_owned());
    } else if germinated * 10 < counted * 3 {
        remarks.push("Less than 30 % germinated: the test was too harsh to tell ears apart.".to_owned());
    }
    let unfinished: usize = trays
        .iter()
        .map(|tray| tray.cells_to_count.saturating_sub(tray.cells_with_final_count))
        .sum();
    if unfinished > 0 {
        remarks.push(format!("{unfinished} cells have no final count yet."));
    }
    remarks
}

#[derive(Default)]
struct Pool {
    germinated: u32,
    counted: u32,
}

impl Pool {
    fn add(&mut self, tally: &Tally, rule: Germinated) {
        self.germinated += tally.germinated(rule);
        self.counted += tally.counted();
    }

    fn percent(&self) -> Option<f64> {
        (self.counted > 0).then(|| 100.0 * f64::from(self.germinated) / f64::from(self.counted))
    }
}

impl Model {
    fn new(estimates: &Estimates) -> Self {
        Self {
            kind: match estimates.fit {
                Fit::Fitted(_) => "fitted",
                Fit::NoSpread { .. } => "no spread",
                Fit::WeakPrior { .. } => "weak prior",
            },
            sentence: estimates.outcome.clone(),
            counts_as_germinated: match estimates.germinated {
                Germinated::StrongAndWeak => "strong and weak",
                Germinated::StrongOnly => "strong only",
            },
            scored_ears: estimates.scored(),
            mu_share: estimates.prior.mean(),
            theta_kernels: estimates.prior.strength(),
            prior_alpha: estimates.prior.alpha(),
            prior_beta: estimates.prior.beta(),
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
    fn new(project: &Project, standing: &Standing) -> Self {
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
            vigor_mean_grade: estimate.and_then(|one| one.vigor),
            maturity_days: standing.maturity_days,
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
        writeln!(out, "\nHow much ears differ\n  {}", self.model.sentence)?;
        writeln!(out, "\nCutoffs\n  {}", self.cutoffs.sentence)?;
        for line in &self.choice.each_cutoff_alone {
            writeln!(out, "  alone, {line}")?;
        }
        self.choice.write(out)?;
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
        for remark in &self.soundness_remarks {
            writeln!(out, "  {remark}")?;
        }
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
        write_table(out, &rows)
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
fn chance(chance: f64) -> String {
    if chance > 0.99 && chance < 1.0 {
        ">0.99".to_owned()
    } else if chance > 0.0 && chance < 0.01 {
        "<0.01".to_owned()
    } else {
        format!("{chance:.2}")
    }
}

/// Writes rows, the first of which is the head, in columns: figures to the right, words to the left.
fn write_table(out: &mut dyn Write, rows: &[Vec<String>]) -> std::io::Result<()> {
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
