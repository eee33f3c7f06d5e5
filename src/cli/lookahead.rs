//! `lookahead`: what a plan may bring over seasons, by simulation.

use std::io::Write;
use std::path::PathBuf;

use serde::Serialize;
use wintercrib::genetics::ahead::{
    Band, NoLook, Outlook, Plan, Pollen, Round, SeasonAhead, Sure, batch, batches, outlook, replicates,
};
use wintercrib::insight::{AheadStart, Insight, outcome_sentences, plan_sentence, pollen_name};
use wintercrib::jobs::{JobContext, spread, threads};
use wintercrib::model::capital;
use wintercrib::stats::Cutoff;

use super::{Stop, project};

/// The most replicates that are run: more tell nothing more.
const MOST_REPLICATES: u32 = 100_000;

/// What a look ahead needs. What nobody said of the plan goes on as in the season.
#[derive(Debug, PartialEq)]
pub struct LookAhead {
    /// The project.
    pub(super) file: PathBuf,
    /// The year of the season; none for the latest.
    pub(super) season: Option<i16>,
    /// How often it is simulated.
    pub(super) replicates: u32,
    /// The number from which it is drawn.
    pub(super) seed: u64,
    /// The changes of the plan.
    pub(super) changes: Changes,
    /// For a program to read, not a person.
    pub(super) json: bool,
}

/// A limit that goes on, is left out, or is another one.
#[derive(Debug, Default, Clone, Copy, PartialEq)]
pub enum Change<T> {
    /// As in the season.
    #[default]
    AsNow,
    /// No limit.
    Off,
    /// This one.
    To(T),
}

impl<T> Change<T> {
    fn of(self, now: Option<T>) -> Option<T> {
        match self {
            Self::AsNow => now,
            Self::Off => None,
            Self::To(value) => Some(value),
        }
    }
}

/// What is other than in the season.
#[derive(Debug, Default, PartialEq)]
pub struct Changes {
    /// Seasons looked ahead.
    pub(super) seasons: Option<u32>,
    /// Ears tested.
    pub(super) ears: Option<u32>,
    /// Kernels of each.
    pub(super) kernels: Option<u32>,
    /// Ears kept, at most.
    pub(super) kept: Option<u32>,
    /// The cutoff in percent, or none at all.
    pub(super) cutoff: Change<f64>,
    /// How sure it must be that an ear reaches it.
    pub(super) sureness: Option<f64>,
    /// Most ears of one mother row, or no cap at all.
    pub(super) cap: Change<u32>,
    /// Plants grown of each kept ear.
    pub(super) plants: Option<u32>,
    /// The effective number of kept ears, in percent of their number.
    pub(super) evenness: Option<f64>,
    /// Ears that pass the other limits, in percent.
    pub(super) passing: Option<f64>,
    /// Who sheds the pollen.
    pub(super) pollen: Option<Pollen>,
    /// Foreign pollen, in percent.
    pub(super) foreign: Option<f64>,
}

impl Changes {
    fn apply(&self, plan: Plan) -> Result<Plan, Stop> {
        let sureness = self
            .sureness
            .or(plan.cutoff.map(|sure| sure.sureness))
            .unwrap_or(0.7);
        let percent = self.cutoff.of(plan.cutoff.map(|sure| sure.cutoff.percent()));
        let cutoff = percent
            .map(Cutoff::from_percent)
            .transpose()
            .map_err(|fault| Stop::cannot(capital(&fault.to_string())))?;
        let kept = self.kept.unwrap_or(plan.kept);
        let ears = self.ears.unwrap_or(plan.ears);
        Ok(Plan {
            ears,
            kernels: self.kernels.unwrap_or(plan.kernels),
            kept,
            cutoff: cutoff.map(|cutoff| Sure { cutoff, sureness }),
            cap: self.cap.of(plan.cap),
            passing: self.passing.map_or(plan.passing, |percent| percent / 100.0),
            plants_each: self.plants.unwrap_or(plan.plants_each),
            evenness: self.evenness.map_or(plan.evenness, |percent| percent / 100.0),
            pollen: self.pollen.unwrap_or(plan.pollen),
            foreign: self.foreign.map_or(plan.foreign, |percent| percent / 100.0),
            seasons: self.seasons.unwrap_or(plan.seasons),
        })
    }
}

pub(super) fn run(asked: &LookAhead, out: &mut dyn Write) -> Result<(), Stop> {
    if asked.replicates == 0 || asked.replicates > MOST_REPLICATES {
        return Err(Stop::cannot(format!(
            "{} replicates cannot be run. Give 1 to {MOST_REPLICATES} with --replicates",
            asked.replicates
        )));
    }
    let opened = project::read(&asked.file)?;
    let document = &opened.document;
    let season = project::season(document.project(), asked.season)?;
    let insight = Insight::default();
    let ahead = insight.ahead(document, season, &insight.cutoffs(document, season));
    let start = ahead
        .start
        .as_ref()
        .map_err(|why| Stop::cannot(why.trim_end_matches('.')))?;
    let plan = asked.changes.apply(start.plan)?;
    let refuse = |why: NoLook| Stop::cannot(capital(&why.to_string()));
    plan.check().map_err(refuse)?;
    let piece = |piece| {
        replicates(
            &start.population,
            &plan,
            asked.seed,
            batch(asked.replicates, piece),
        )
    };
    let job = JobContext::at_once();
    let found: Vec<Vec<Round>> = spread(batches(asked.replicates), threads(), &job, piece)
        .into_iter()
        .flatten()
        .collect::<Result<Vec<_>, _>>()
        .map_err(refuse)?
        .concat();
    let seen = outlook(&found).ok_or_else(|| Stop::cannot("Nothing came out of the simulation"))?;
    let page = Page::new(document.project(), ahead.year, asked, start, &plan, &seen);
    if asked.json {
        serde_json::to_writer_pretty(&mut *out, &page).map_err(std::io::Error::from)?;
        writeln!(out)?;
    } else {
        page.write(out)?;
    }
    Ok(())
}

/// All that is said. The names of the fields are the keys of the JSON and stay as they are.
#[derive(Debug, Serialize)]
struct Page {
    program_version: &'static str,
    project: String,
    project_id: String,
    season_year: i16,
    seed: u64,
    replicates: usize,
    population: PopulationFacts,
    plan: PlanFacts,
    sentences: Vec<String>,
    taken_for_granted: Vec<String>,
    effective_size: Option<f64>,
    seasons: Vec<SeasonFacts>,
}

#[derive(Debug, Serialize)]
struct PopulationFacts {
    mean_logit: f64,
    ears_deviation_logits: f64,
    heritability_low_share: f64,
    heritability_high_share: f64,
    inherited_low_share: f64,
    inherited_high_share: f64,
    kernels_of_one_ear_correlation: f64,
    mother_rows: usize,
}

#[derive(Debug, Serialize)]
struct PlanFacts {
    sentence: String,
    seasons: u32,
    ears_tested: u32,
    kernels_of_an_ear: u32,
    ears_kept_at_most: u32,
    cutoff_percent: Option<f64>,
    sureness_probability: Option<f64>,
    cap_ears_of_a_mother_row: Option<u32>,
    passing_other_limits_percent: f64,
    plants_of_a_kept_ear: u32,
    evenness_percent: f64,
    pollen: &'static str,
    foreign_pollen_percent: f64,
}

/// The population after so many seasons.
#[derive(Debug, Serialize)]
struct SeasonFacts {
    season: u32,
    gain_percent_points: Option<f64>,
    germination_percent: BandFacts,
    genetic_value_logits: BandFacts,
    inbreeding_percent: BandFacts,
    coancestry: BandFacts,
    effective_size: Option<f64>,
    additive_variance_left_share: Option<f64>,
    ears_kept_before: BandFacts,
    mother_rows_kept_before: BandFacts,
    lines_of_mothers_left: BandFacts,
    too_few_kept_share_of_replicates: f64,
    too_few_ears_share_of_replicates: f64,
}

/// The mean, and the points below which 5, 50 and 95 % of the replicates lie.
#[derive(Debug, Serialize)]
struct BandFacts {
    mean: f64,
    at_5_percent_of_replicates: f64,
    at_50_percent_of_replicates: f64,
    at_95_percent_of_replicates: f64,
}

impl BandFacts {
    fn new(band: Band, factor: f64) -> Self {
        Self {
            mean: factor * band.mean,
            at_5_percent_of_replicates: factor * band.low,
            at_50_percent_of_replicates: factor * band.middle,
            at_95_percent_of_replicates: factor * band.high,
        }
    }
}

impl Page {
    fn new(
        project: &wintercrib::model::Project,
        season_year: i16,
        asked: &LookAhead,
        start: &AheadStart,
        plan: &Plan,
        seen: &Outlook,
    ) -> Self {
        let population = &start.population;
        Self {
            program_version: env!("CARGO_PKG_VERSION"),
            project: project.about.name.clone(),
            project_id: project.about.id.clone(),
            season_year,
            seed: asked.seed,
            replicates: seen.replicates,
            population: PopulationFacts {
                mean_logit: population.mean_logit,
                ears_deviation_logits: population.deviation_logits,
                heritability_low_share: start.heritability.low,
                heritability_high_share: start.heritability.high,
                inherited_low_share: population.inherited.low,
                inherited_high_share: population.inherited.high,
                kernels_of_one_ear_correlation: start.likeness.correlation,
                mother_rows: population.rows.len(),
            },
            plan: PlanFacts {
                sentence: plan_sentence(plan),
                seasons: plan.seasons,
                ears_tested: plan.ears,
                kernels_of_an_ear: plan.kernels,
                ears_kept_at_most: plan.kept,
                cutoff_percent: plan.cutoff.map(|sure| sure.cutoff.percent()),
                sureness_probability: plan.cutoff.map(|sure| sure.sureness),
                cap_ears_of_a_mother_row: plan.cap,
                passing_other_limits_percent: 100.0 * plan.passing,
                plants_of_a_kept_ear: plan.plants_each,
                evenness_percent: 100.0 * plan.evenness,
                pollen: pollen_name(plan.pollen),
                foreign_pollen_percent: 100.0 * plan.foreign,
            },
            sentences: outcome_sentences(plan, seen),
            taken_for_granted: start.assumptions(plan),
            effective_size: seen.effective_size(),
            seasons: seen
                .seasons
                .iter()
                .map(|season| SeasonFacts::new(season, seen.gain_points(season.season as usize)))
                .collect(),
        }
    }

    fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(
            out,
            "{}, from season {}: {} replicates, seed {}",
            self.project, self.season_year, self.replicates, self.seed
        )?;
        writeln!(out, "{}", self.plan.sentence)?;
        writeln!(
            out,
            "\n  Season  Germination %  9 in 10        Gain  Inbred %  Coancestry  Kept  Mothers  Lines left"
        )?;
        for one in &self.seasons {
            let band = &one.germination_percent;
            writeln!(
                out,
                "  {:>6}  {:>13.1}  {:>4.1} to {:>4.1}  {:>+6.1}  {:>8.1}  {:>10.3}  {:>4.0}  {:>7.1}  {:>10.1}",
                one.season,
                band.mean,
                band.at_5_percent_of_replicates,
                band.at_95_percent_of_replicates,
                one.gain_percent_points.unwrap_or(0.0),
                one.inbreeding_percent.mean,
                one.coancestry.mean,
                one.ears_kept_before.mean,
                one.mother_rows_kept_before.mean,
                one.lines_of_mothers_left.mean,
            )?;
        }
        writeln!(out)?;
        for sentence in &self.sentences {
            writeln!(out, "{sentence}")?;
        }
        writeln!(out, "\nTaken for granted")?;
        for sentence in &self.taken_for_granted {
            writeln!(out, "  {sentence}")?;
        }
        Ok(())
    }
}

impl SeasonFacts {
    fn new(season: &SeasonAhead, gain: Option<f64>) -> Self {
        let plain = |band| BandFacts::new(band, 1.0);
        Self {
            season: season.season,
            gain_percent_points: gain,
            germination_percent: plain(season.germination_percent),
            genetic_value_logits: plain(season.value_logits),
            inbreeding_percent: BandFacts::new(season.inbreeding, 100.0),
            coancestry: plain(season.coancestry),
            effective_size: season.effective_size,
            additive_variance_left_share: season.variance_left,
            ears_kept_before: plain(season.rows),
            mother_rows_kept_before: plain(season.mothers),
            lines_of_mothers_left: plain(season.lineages),
            too_few_kept_share_of_replicates: season.short,
            too_few_ears_share_of_replicates: season.small,
        }
    }
}
