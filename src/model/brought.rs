//! What is kept of an ear that was grown in another project.

use super::count::Pass;
use super::problem::{Fault, check_text};
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Where an ear came from that was grown in another project, and what was seen of it there. It is history: nothing is
/// reckoned from it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Brought {
    /// The name of the other project.
    pub project: String,
    /// The text that tells the other project from all others.
    pub project_id: String,
    /// The day on which it was brought.
    pub on: Date,
    /// Its number there.
    pub number: u32,
    /// The label of its mother row there; empty when that was not known.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub row: String,
    /// Rules that came with the seed.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub restrictions: String,
    /// Values of traits that this project does not have, each in words.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub figures: Vec<String>,
    /// What was counted of it there, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub counts: Vec<BroughtCount>,
}

/// A count that was in force in another project, as text with its figures.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct BroughtCount {
    /// The test, its recipe and the cell, in words.
    pub test: String,
    /// When in the test.
    pub pass: Pass,
    /// The day, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<Date>,
    /// Who counted; empty when nobody said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// Germinated kernels, by the rule of the other project.
    pub germinated: u32,
    /// Counted kernels: all but the missing.
    pub counted: u32,
    /// What was seen, in words.
    pub seen: String,
}

impl Brought {
    pub(super) fn check(&self) -> Result<(), Fault> {
        check_text("the name of the other project", &self.project)?;
        check_text("the id of the other project", &self.project_id)?;
        check_text("the row in the other project", &self.row)?;
        check_text("the restrictions", &self.restrictions)?;
        for figure in &self.figures {
            check_text("a value from the other project", figure)?;
        }
        self.counts.iter().try_for_each(BroughtCount::check)
    }
}

impl BroughtCount {
    fn check(&self) -> Result<(), Fault> {
        check_text("the test of the other project", &self.test)?;
        check_text("who counted", &self.by)?;
        check_text("what was seen in the other project", &self.seen)?;
        if self.germinated > self.counted {
            return Err(Fault::Mismatch(format!(
                "of {} kernels {} germinated in the other project, which cannot be; restore the file from a copy",
                self.counted, self.germinated
            )));
        }
        Ok(())
    }

    /// Says it: `Cold test of 2025, 13 °C, tray 3 B4: final count 8 of 10, 7 strong, 1 weak, 2 dead (2026-02-14)`.
    pub fn text(&self) -> String {
        let made: Vec<String> = [
            (!self.by.is_empty()).then(|| self.by.clone()),
            self.on.map(|day| day.to_string()),
        ]
        .into_iter()
        .flatten()
        .collect();
        let made = if made.is_empty() {
            String::new()
        } else {
            format!(" ({})", made.join(", "))
        };
        format!(
            "{}: {} count {} of {}, {}{made}",
            self.test, self.pass, self.germinated, self.counted, self.seen
        )
    }
}
