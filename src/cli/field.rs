//! The part of `summary` that says how the list in force is planted, and what was seen in its field.

use std::io::Write;

use jiff::civil::Date;
use serde::Serialize;
use wintercrib::insight::{FieldAgainstTray, FieldLine, Insight, field_sentence};
use wintercrib::model::{Document, FieldContent, SeasonId};

/// Keys carry their units. What was not noted is null.
#[derive(Debug, Serialize)]
pub(super) struct FieldFacts {
    list_version: u16,
    sentence: String,
    rows_across: u16,
    blocks: u16,
    width_mm: f64,
    length_mm: f64,
    kernels_per_row: u32,
    findings: Vec<String>,
    rows: Vec<RowFacts>,
    field_and_trays: AgainstFacts,
    flowering_sentences: Vec<String>,
    detasselling_sentence: Option<String>,
}

/// A row in walking order.
#[derive(Debug, Serialize)]
struct RowFacts {
    stake: u32,
    replicate: u16,
    block: u16,
    place: u16,
    planted: &'static str,
    ear_number: Option<u32>,
    kernels: u32,
    detasselled: bool,
    stand_plants: Option<u32>,
    stand_percent: Option<f64>,
    stand_on: Option<Date>,
    loss: Option<&'static str>,
    thinned_to_plants: Option<u32>,
    vigor_grade: Option<u8>,
    half_shed_on: Option<Date>,
    half_silk_on: Option<Date>,
    plant_height_mm: Option<f64>,
    ear_height_mm: Option<f64>,
    root_lodged_plants: Option<u32>,
    stalk_lodged_plants: Option<u32>,
    pulled_plants: Option<u32>,
    flavour_grade: Option<u8>,
    note: String,
}

/// The stand beside what the trays said.
#[derive(Debug, Serialize)]
struct AgainstFacts {
    ears: usize,
    correlation: Option<f64>,
    correlation_95_low: Option<f64>,
    correlation_95_high: Option<f64>,
    field_factor: Option<f64>,
    sentences: Vec<String>,
}

impl FieldFacts {
    /// Looks at the field of the list in force; `None` where none is planned.
    pub(super) fn new(document: &Document, insight: &Insight, season: SeasonId, today: Date) -> Option<Self> {
        let project = document.project();
        let list = project.list_in_force(season)?;
        let plan = project.plan_of(list.id)?;
        let view = insight.field_plan(document, plan.id);
        let view = view.as_ref().as_ref()?;
        let number = |row: &FieldLine| project.ears.get(row.content.ear()?).map(|ear| ear.number);
        Some(Self {
            list_version: list.version,
            sentence: field_sentence(project, view),
            rows_across: view.rows_across,
            blocks: view.blocks,
            width_mm: view.width_mm,
            length_mm: view.length_mm,
            kernels_per_row: view.kernels_per_row,
            findings: view
                .findings
                .iter()
                .map(|finding| finding.sentence.clone())
                .collect(),
            rows: view
                .rows
                .iter()
                .map(|row| RowFacts::new(row, number(row)))
                .collect(),
            field_and_trays: AgainstFacts::new(&insight.field_against_tray(document, plan.id)),
            flowering_sentences: insight.flowering(document, plan.id).sentences.clone(),
            detasselling_sentence: insight.detasselling(document, plan.id, today),
        })
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(out, "\nField of planting list {}", self.list_version)?;
        writeln!(out, "  {}", self.sentence)?;
        let said = self
            .findings
            .iter()
            .chain(&self.field_and_trays.sentences)
            .chain(&self.flowering_sentences)
            .chain(&self.detasselling_sentence);
        for sentence in said {
            writeln!(out, "  {sentence}")?;
        }
        Ok(())
    }
}

impl RowFacts {
    fn new(row: &FieldLine, ear_number: Option<u32>) -> Self {
        let seen = &row.seen;
        Self {
            stake: row.stake,
            replicate: row.replicate,
            block: row.block,
            place: row.across,
            planted: match row.content {
                FieldContent::Ear(_) => "ear",
                FieldContent::Check => "check lot",
                FieldContent::Bulk => "bulk",
            },
            ear_number,
            kernels: row.kernels,
            detasselled: row.detasselled,
            stand_plants: seen.stand,
            stand_percent: row.stand_percent(),
            stand_on: seen.stand_on,
            loss: seen.loss.map(wintercrib::model::Loss::name),
            thinned_to_plants: seen.thinned_to,
            vigor_grade: seen.vigor,
            half_shed_on: seen.pollen_on,
            half_silk_on: seen.silk_on,
            plant_height_mm: seen.plant_height_mm,
            ear_height_mm: seen.ear_height_mm,
            root_lodged_plants: seen.root_lodged,
            stalk_lodged_plants: seen.stalk_lodged,
            pulled_plants: seen.pulled,
            flavour_grade: seen.flavour,
            note: seen.note.clone(),
        }
    }
}

impl AgainstFacts {
    fn new(against: &FieldAgainstTray) -> Self {
        Self {
            ears: against.ears.len(),
            correlation: against.correlation.map(|found| found.r),
            correlation_95_low: against.correlation.map(|found| found.interval.low),
            correlation_95_high: against.correlation.map(|found| found.interval.high),
            field_factor: against.field_factor,
            sentences: against.sentences.clone(),
        }
    }
}
