//! Frozen planting lists.

use super::ear_code::EarCode;
use super::ids::{EarId, ListId, SeasonId};
use super::problem::{Fault, Place, check_text};
use super::season::Sowing;
use super::selection::Cutoffs;
use super::table::Record;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};
use std::fmt::Write as _;

/// One ear of a planting list, with what was known of it when the list was frozen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ListEntry {
    /// The ear.
    pub ear: EarId,
    /// Its code.
    pub code: EarCode,
    /// Its number within the season.
    pub number: u32,
    /// The label of its mother row; empty when unknown.
    pub mother: String,
    /// Germinated and counted kernels; none for an ear that was not scored.
    pub germinated: Option<(u32, u32)>,
    /// What its cold germination is likely to be, in percent; none for an ear that was not scored.
    pub likely_percent: Option<f64>,
    /// Days from planting to maturity, if known.
    pub maturity_days: Option<f64>,
    /// Kernels to plant.
    pub plant: u32,
    /// Kernels to keep back.
    pub keep: u32,
    /// Why it is on the list: 'cutoffs' or the grower's word with its reason.
    pub why: String,
    /// What its kernels are likely to give, where they are reckoned for a wanted stand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sowing: Option<EntrySowing>,
}

/// What the kernels to plant of an ear are likely to give, beside the plants that are wanted of it.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct EntrySowing {
    /// The fewest kernels that give the wanted plants as surely as wanted; none where no packet holds so many.
    pub needed: Option<u32>,
    /// Plants that the kernels to plant give on average.
    pub plants: f64,
    /// The lower end of the range that holds their number with a probability of 90 %.
    pub plants_low: u32,
    /// The upper end of that range.
    pub plants_high: u32,
    /// The probability of the wanted plants, 0 to 1.
    pub probability: f64,
    /// The most plants that are as sure as wanted.
    pub sure_plants: u32,
}

impl EntrySowing {
    /// Says what stands in the way of the wanted plants where so many kernels are planted, in a word or two; nothing
    /// where nothing does.
    pub fn limited_by(&self, planted: u32) -> &'static str {
        match self.needed {
            None => "its germination",
            Some(needed) if planted < needed => "its packet",
            Some(_) => "",
        }
    }
}

/// A planting list that was frozen. Nothing changes it: a revision is another list that replaces it.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlantingList {
    /// The list's id.
    pub id: ListId,
    /// The season whose ears it lists.
    pub season: SeasonId,
    /// The season's year, as it was printed.
    pub year: i16,
    /// The project's name, as it was printed.
    pub project: String,
    /// 1 for the first list of a season, 2 for its revision, and so on.
    pub version: u16,
    /// Why it replaces the list before it; empty for the first.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub reason: String,
    /// The day when it was frozen.
    pub frozen_on: Date,
    /// Who froze it.
    pub frozen_by: String,
    /// The cutoffs in force.
    pub cutoffs: Cutoffs,
    /// The cutoffs in words, with the names that traits had then.
    pub rules: String,
    /// The plants that were wanted of each ear, where the kernels were reckoned for a stand.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sowing: Option<Sowing>,
    /// The ears, by number.
    pub entries: Vec<ListEntry>,
    /// Ears held in reserve for rows that fail, the likeliest to germinate first; of each as many kernels as could be
    /// planted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reserves: Vec<ListEntry>,
    /// SHA-256 of [`PlantingList::text`], in hexadecimal digits.
    pub digest: String,
}

impl PlantingList {
    /// Writes everything that is fixed as plain text with one line for each ear. The digest is the SHA-256 of
    /// exactly these bytes, so that anybody can verify it with a common program such as `sha256sum`.
    pub fn text(&self) -> String {
        let mut text = String::new();
        let mut line = |key: &str, value: &str| {
            text.push_str(key);
            text.push_str(": ");
            text.push_str(value);
            text.push('\n');
        };
        line(
            "planting list",
            &format!("{} {} version {}", self.project, self.year, self.version),
        );
        line("frozen on", &self.frozen_on.to_string());
        line("frozen by", &self.frozen_by);
        if !self.reason.is_empty() {
            line("replaces the version before because", &self.reason);
        }
        line("cutoffs", &self.rules);
        line("ears", &self.entries.len().to_string());
        line("mothers", &self.mothers().to_string());
        line("kernels to plant", &self.kernels().to_string());
        let mut columns =
            "number, code, mother row, germinated, counted, likely percent, maturity days, plant, keep, why"
                .to_owned();
        if let Some(sowing) = self.sowing {
            line("kernels of each ear for", &sowing.text());
            columns.push_str(
                ", kernels needed, likely plants, at least plants, at most plants, probability, sure plants",
            );
        }
        line("columns", &columns);
        write_entries(&mut text, &self.entries);
        if !self.reserves.is_empty() {
            // Writing to a String cannot fail.
            writeln!(text, "held in reserve: {}", self.reserves.len()).unwrap_or_default();
            write_entries(&mut text, &self.reserves);
        }
        text
    }

    /// Says the cutoffs in one line, as they were frozen.
    pub fn cutoffs_text(&self) -> &str {
        &self.rules
    }

    /// Computes the SHA-256 of the text in small hexadecimal digits.
    pub fn compute_digest(&self) -> String {
        Sha256::digest(self.text().as_bytes())
            .iter()
            .fold(String::new(), |mut hex, byte| {
                write!(hex, "{byte:02x}").unwrap_or_default();
                hex
            })
    }

    /// Gives the first twelve digits of the digest, as prints show it.
    pub fn short_digest(&self) -> &str {
        self.digest.get(..12).unwrap_or(&self.digest)
    }

    /// Says whether an ear is on the list, to be planted or in reserve.
    pub fn names(&self, ear: EarId) -> bool {
        let mut all = self.entries.iter().chain(&self.reserves);
        all.any(|entry| entry.ear == ear)
    }

    /// Counts the different mother rows; all ears of unknown mother count as one.
    pub fn mothers(&self) -> usize {
        self.entries
            .iter()
            .map(|entry| entry.mother.as_str())
            .collect::<std::collections::BTreeSet<_>>()
            .len()
    }

    /// Counts the kernels to plant.
    pub fn kernels(&self) -> u64 {
        self.entries.iter().map(|entry| u64::from(entry.plant)).sum()
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        check_text("the name of the person", &self.frozen_by)?;
        check_text("the reason", &self.reason)?;
        check_text("the project's name", &self.project)?;
        check_text("the cutoffs in words", &self.rules)?;
        if let Some(sowing) = self.sowing {
            sowing.check()?;
        }
        if self.frozen_by.trim().is_empty() {
            return Err(Fault::NoPerson);
        }
        if self.entries.is_empty() {
            return Err(Fault::NothingChosen);
        }
        if self.version == 0 {
            return Err(Fault::ListVersion(self.version));
        }
        if self.version > 1 && self.reason.trim().is_empty() {
            return Err(Fault::NoReason("replace a frozen planting list"));
        }
        for entry in self.entries.iter().chain(&self.reserves) {
            check_text("the mother row", &entry.mother)?;
            check_text("the reason of an ear", &entry.why)?;
            for number in [entry.likely_percent, entry.maturity_days].into_iter().flatten() {
                super::problem::check_number("a figure of the list", number, 0.0, 1e6)?;
            }
            if let Some(sowing) = entry.sowing {
                super::problem::check_number("the likely plants", sowing.plants, 0.0, 1e6)?;
                super::problem::check_number("the probability of a stand", sowing.probability, 0.0, 1.0)?;
            }
        }
        let found = self.compute_digest();
        if found != self.digest {
            let first = |digest: &str| digest.chars().take(12).collect::<String>();
            return Err(Fault::DigestDiffers {
                version: self.version,
                frozen: first(&self.digest),
                found: first(&found),
            });
        }
        Ok(())
    }
}

fn write_entries(text: &mut String, entries: &[ListEntry]) {
    for entry in entries {
        let or_empty = |value: Option<String>| value.unwrap_or_default();
        // Writing to a String cannot fail.
        write!(
            text,
            "{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}\t{}",
            entry.number,
            entry.code,
            entry.mother,
            or_empty(entry.germinated.map(|(germinated, _)| germinated.to_string())),
            or_empty(entry.germinated.map(|(_, counted)| counted.to_string())),
            or_empty(entry.likely_percent.map(|percent| format!("{percent:.1}"))),
            or_empty(entry.maturity_days.map(|days| format!("{days:.0}"))),
            entry.plant,
            entry.keep,
            entry.why,
        )
        .unwrap_or_default();
        if let Some(sowing) = entry.sowing {
            write!(
                text,
                "\t{}\t{:.1}\t{}\t{}\t{:.2}\t{}",
                or_empty(sowing.needed.map(|kernels| kernels.to_string())),
                sowing.plants,
                sowing.plants_low,
                sowing.plants_high,
                sowing.probability,
                sowing.sure_plants,
            )
            .unwrap_or_default();
        }
        text.push('\n');
    }
}

impl Record for PlantingList {
    type Id = ListId;
    const NAME: &'static str = "planting list";

    fn id(&self) -> ListId {
        self.id
    }

    fn place(id: ListId) -> Place {
        Place::List(id)
    }
}
