//! The part of `summary` that says how many kernels of each kept ear a wanted stand takes.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{EarSowing, Sowings};

/// Keys carry their units. What cannot be told is null.
#[derive(Debug, Serialize)]
pub(super) struct SowingFacts {
    sentences: Vec<String>,
    taken_for_granted: String,
    refusal: Option<String>,
    wanted_plants: u32,
    wanted_probability: f64,
    field_factor_share: f64,
    kernels: u64,
    ears: Vec<EarFacts>,
}

/// The kernels of one ear.
#[derive(Debug, Serialize)]
struct EarFacts {
    number: u32,
    needed_kernels: Option<u32>,
    above_remnant_kernels: Option<u32>,
    plant_kernels: u32,
    likely_plants: f64,
    likely_90_low_plants: u32,
    likely_90_high_plants: u32,
    wanted_plants_probability: f64,
    sure_plants: u32,
    limited_by: &'static str,
}

impl EarFacts {
    fn new(one: &EarSowing) -> Self {
        Self {
            number: one.number,
            needed_kernels: one.told.needed,
            above_remnant_kernels: one.above,
            plant_kernels: one.plant,
            likely_plants: one.told.plants,
            likely_90_low_plants: one.told.plants_low,
            likely_90_high_plants: one.told.plants_high,
            wanted_plants_probability: one.told.probability,
            sure_plants: one.told.sure_plants,
            limited_by: one.limited_by(),
        }
    }
}

impl SowingFacts {
    pub(super) fn new(sowings: &Sowings) -> Self {
        let way = std::iter::once(sowings.way());
        Self {
            sentences: way.chain(sowings.sentences()).collect(),
            taken_for_granted: sowings.assumptions(),
            refusal: sowings.refusal.clone(),
            wanted_plants: sowings.wanted.plants,
            wanted_probability: sowings.wanted.sureness,
            field_factor_share: sowings.wanted.field_factor,
            kernels: sowings.kernels(),
            ears: sowings.ears.iter().map(EarFacts::new).collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(out, "\nKernels of each ear")?;
        let assumed = std::iter::once(&self.taken_for_granted);
        for sentence in self.sentences.iter().chain(&self.refusal).chain(assumed) {
            writeln!(out, "  {sentence}")?;
        }
        Ok(())
    }
}
