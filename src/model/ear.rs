//! Ears and what is measured on them.

use super::brought::Brought;
use super::ear_code::EarCode;
use super::ids::{EarId, RowId, SeasonId, TraitId};
use super::problem::{Fault, Place, check_name, check_number, check_text};
use super::table::Record;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// The most days from planting to maturity that are taken for true.
pub const MOST_MATURITY_DAYS: u16 = 366;

/// The most heat units that are taken for true, in degrees Celsius times days: a year of the warmest days that count.
pub const MOST_HEAT_UNITS_C: f64 = 7_500.0;

/// The greatest number of an ear within its season; it still fits into an ear code.
pub const MOST_EAR_NUMBER: u32 = 9_999_999;

/// One harvested ear.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Ear {
    /// The ear's id.
    pub id: EarId,
    /// The season of its harvest.
    pub season: SeasonId,
    /// Its number within the season, from 1.
    pub number: u32,
    /// Its permanent code.
    pub code: EarCode,
    /// The row of its mother plant, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub row: Option<RowId>,
    /// The day when its plant was planted, if not its row's day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planted: Option<Date>,
    /// The day when it matured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub matured: Option<Date>,
    /// The day when it was picked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub picked: Option<Date>,
    /// Days from planting to maturity, where they were noted instead of dates.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maturity_days: Option<u16>,
    /// Heat units from planting to maturity, where they were reckoned, in degrees Celsius times days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heat_units_c: Option<f64>,
    /// Whether frost reached it before it was brought in, if the grower said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frosted: Option<bool>,
    /// Values of the project's traits.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub values: BTreeMap<TraitId, f64>,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// The batch in which it was dried; empty when nobody said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub batch: String,
    /// Where it came from, if it was grown in another project.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub brought: Option<Box<Brought>>,
}

impl Ear {
    pub(super) fn check(&self) -> Result<(), Fault> {
        if self.number == 0 {
            return Err(Fault::EarNumberZero);
        }
        let most = f64::from(MOST_EAR_NUMBER);
        check_number("the ear number", f64::from(self.number), 1.0, most)?;
        if let Some(days) = self.maturity_days {
            check_number(
                "maturity days",
                f64::from(days),
                1.0,
                f64::from(MOST_MATURITY_DAYS),
            )?;
        }
        if let Some(heat) = self.heat_units_c {
            check_number("heat units", heat, 0.0, MOST_HEAT_UNITS_C)?;
        }
        for value in self.values.values() {
            check_number("a trait's value", *value, f64::MIN, f64::MAX)?;
        }
        check_text("the drying batch", &self.batch)?;
        if let Some(brought) = &self.brought {
            brought.check()?;
        }
        check_text("the note", &self.note)
    }
}

impl Record for Ear {
    type Id = EarId;
    const NAME: &'static str = "ear";

    fn id(&self) -> EarId {
        self.id
    }

    fn place(id: EarId) -> Place {
        Place::Ear(id)
    }
}

/// Which direction of a trait the grower wants.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Better {
    /// More is better.
    Higher,
    /// Less is better.
    Lower,
    /// It is only recorded.
    Neither,
}

/// Anything that is measured on an ear, with its unit, its range and the wanted direction.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Trait {
    /// The trait's id.
    pub id: TraitId,
    /// Its name.
    pub name: String,
    /// Its unit, empty for a grade or a plain number.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub unit: String,
    /// The least value that is possible.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least: Option<f64>,
    /// The greatest value that is possible.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most: Option<f64>,
    /// The wanted direction.
    pub better: Better,
    /// Digits shown after the point.
    pub decimals: u8,
    /// What some of its values mean, such as 1: 'cylindrical'.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub anchors: BTreeMap<i32, String>,
}

impl Trait {
    pub(super) fn check(&self) -> Result<(), Fault> {
        check_name("trait", &self.name)?;
        check_text("the unit", &self.unit)?;
        for meaning in self.anchors.values() {
            check_text("the meaning of a value", meaning)?;
        }
        let (least, most) = (self.least.unwrap_or(f64::MIN), self.most.unwrap_or(f64::MAX));
        check_number("the least value", least, f64::MIN, f64::MAX)?;
        check_number("the greatest value", most, least, f64::MAX)?;
        check_number("the digits after the point", f64::from(self.decimals), 0.0, 6.0)
    }

    /// Refuses a value outside the trait's range.
    pub fn check_value(&self, value: f64) -> Result<(), Fault> {
        check_number(
            &self.name,
            value,
            self.least.unwrap_or(f64::MIN),
            self.most.unwrap_or(f64::MAX),
        )
    }

    /// Gives the name with the unit in brackets.
    pub fn title(&self) -> String {
        if self.unit.is_empty() {
            self.name.clone()
        } else {
            format!("{} ({})", self.name, self.unit)
        }
    }

    /// Writes a value with the trait's digits.
    pub fn format(&self, value: f64) -> String {
        format!("{value:.*}", usize::from(self.decimals))
    }
}

impl Record for Trait {
    type Id = TraitId;
    const NAME: &'static str = "trait";

    fn id(&self) -> TraitId {
        self.id
    }

    fn place(id: TraitId) -> Place {
        Place::Trait(id)
    }
}
