//! The part of `summary` that lists the ears worth testing again.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{Hindrance, Retest, RetestEar};
use wintercrib::model::Project;

use super::summary::{chance, write_table};

/// So many ears are listed for a person where a tray holds fewer.
const FEWEST_LISTED: usize = 20;

/// The ears in falling order of the benefit per kernel. Keys carry their units.
#[derive(Debug, Serialize)]
pub(super) struct RetestFacts {
    sentence: String,
    kernels_of_an_ear: u32,
    ears_in_a_tray: usize,
    ears: Vec<RetestEarFacts>,
    waiting_for_a_value_ear_numbers: Vec<u32>,
}

/// One ear that may be tested again.
#[derive(Debug, Serialize)]
struct RetestEarFacts {
    ear_number: u32,
    ear_code: String,
    germinated_kernels: u32,
    counted_kernels: u32,
    at_or_above_cutoff_probability: f64,
    wrong_now_probability: f64,
    wrong_after_retest_probability: f64,
    benefit_probability: f64,
    benefit_per_kernel_probability: f64,
    kernels_in_packets: Option<i64>,
    hindrance: Option<&'static str>,
    sentence: String,
}

impl RetestFacts {
    pub(super) fn new(project: &Project, retest: &Retest) -> Self {
        let tray = retest.per_tray.max(1);
        Self {
            sentence: retest.gain(retest.first(tray)),
            kernels_of_an_ear: retest.kernels,
            ears_in_a_tray: retest.per_tray,
            ears: retest
                .ears
                .iter()
                .map(|ear| RetestEarFacts::new(project, ear))
                .collect(),
            waiting_for_a_value_ear_numbers: retest
                .waiting
                .iter()
                .filter_map(|ear| project.ears.get(*ear))
                .map(|ear| ear.number)
                .collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        writeln!(out, "\nTo test again")?;
        if self.ears.is_empty() {
            return writeln!(out, "  There is no ear whose kernels cannot tell.");
        }
        writeln!(out, "  The first tray: {}", self.sentence)?;
        let head = [
            "Ear",
            "Code",
            "Germ.",
            "At cutoff",
            "Wrong now",
            "Wrong after",
            "Benefit per 100 kernels",
            "Left",
            "Hindrance",
        ];
        let listed = self.ears_in_a_tray.max(FEWEST_LISTED);
        let rows = self.ears.iter().take(listed).map(RetestEarFacts::row);
        let rows: Vec<Vec<String>> = std::iter::once(head.map(str::to_owned).to_vec())
            .chain(rows)
            .collect();
        write_table(out, &rows)?;
        if self.ears.len() > listed {
            writeln!(out, "  and {} more; --json lists all.", self.ears.len() - listed)?;
        }
        if !self.waiting_for_a_value_ear_numbers.is_empty() {
            let count = self.waiting_for_a_value_ear_numbers.len();
            let waits = if count == 1 { "1 ear waits" } else { "ears wait" };
            let number = if count == 1 {
                String::new()
            } else {
                format!("{count} ")
            };
            writeln!(out, "  {number}{waits} for a value and not for kernels.")?;
        }
        Ok(())
    }
}

impl RetestEarFacts {
    fn new(project: &Project, ear: &RetestEar) -> Self {
        Self {
            ear_number: ear.number,
            ear_code: project
                .ears
                .get(ear.ear)
                .map_or_else(String::new, |ear| ear.code.to_string()),
            germinated_kernels: ear.counts.k(),
            counted_kernels: ear.counts.n(),
            at_or_above_cutoff_probability: ear.probability,
            wrong_now_probability: ear.change.wrong_now,
            wrong_after_retest_probability: ear.change.wrong_after,
            benefit_probability: ear.change.benefit(),
            benefit_per_kernel_probability: ear.change.benefit_per_kernel(),
            kernels_in_packets: ear.left,
            hindrance: ear.hindrance.as_ref().map(|hindrance| match hindrance {
                Hindrance::Lies { .. } => "lies uncounted in a test",
                Hindrance::Short => "too few kernels",
                Hindrance::Reserved { .. } => "takes kernels that a list reserves",
                Hindrance::NoUse => "no result would change the decision",
            }),
            sentence: ear.sentence(),
        }
    }

    fn row(&self) -> Vec<String> {
        vec![
            self.ear_number.to_string(),
            self.ear_code.clone(),
            format!("{}/{}", self.germinated_kernels, self.counted_kernels),
            chance(self.at_or_above_cutoff_probability),
            chance(self.wrong_now_probability),
            chance(self.wrong_after_retest_probability),
            format!("{:.2}", 100.0 * self.benefit_per_kernel_probability),
            self.kernels_in_packets
                .map_or_else(|| "-".to_owned(), |left| left.to_string()),
            self.hindrance.unwrap_or_default().to_owned(),
        ]
    }
}
