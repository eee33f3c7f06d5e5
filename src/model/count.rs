//! What was seen in a cell on one day.

use super::ids::{CellId, CountId};
use super::problem::{Fault, Place, check_number, check_text};
use super::table::Record;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use std::fmt;

/// When in a test a count is made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Pass {
    /// The early count: strong and weak together are the kernels that have emerged.
    Early,
    /// A count on the given day, between the early and the final one.
    Between(u16),
    /// The final count, which decides.
    Final,
}

impl fmt::Display for Pass {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Early => f.pad("early"),
            Self::Between(day) => f.pad(&format!("day {day}")),
            Self::Final => f.pad("final"),
        }
    }
}

/// Which seedlings count as germinated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Germinated {
    /// Strong and weak normal seedlings.
    #[default]
    StrongAndWeak,
    /// Strong normal seedlings only.
    StrongOnly,
}

/// The kernels of a cell by category.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tally {
    /// Normal seedlings, strong.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub strong: u16,
    /// Normal seedlings, weak or slow.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub weak: u16,
    /// Abnormal seedlings.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub abnormal: u16,
    /// Dead kernels.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub dead: u16,
    /// Firm, swollen kernels that have not germinated.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub fresh: u16,
    /// Kernels that were not there to be counted.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub missing: u16,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde's skip_serializing_if passes a reference"
)]
fn is_zero(number: &u16) -> bool {
    *number == 0
}

impl Tally {
    /// Gives the kernels of one category.
    pub fn of(&self, category: Category) -> u16 {
        match category {
            Category::Strong => self.strong,
            Category::Weak => self.weak,
            Category::Abnormal => self.abnormal,
            Category::Dead => self.dead,
            Category::Fresh => self.fresh,
            Category::Missing => self.missing,
        }
    }

    /// Gives the kernels of one category, to be changed.
    pub fn of_mut(&mut self, category: Category) -> &mut u16 {
        match category {
            Category::Strong => &mut self.strong,
            Category::Weak => &mut self.weak,
            Category::Abnormal => &mut self.abnormal,
            Category::Dead => &mut self.dead,
            Category::Fresh => &mut self.fresh,
            Category::Missing => &mut self.missing,
        }
    }

    /// Says the kernels of each category that has any, such as `8 strong, 2 dead`.
    pub fn text(&self) -> String {
        let parts: Vec<String> = Category::ALL
            .into_iter()
            .filter(|category| self.of(*category) > 0)
            .map(|category| format!("{} {}", self.of(category), category.name()))
            .collect();
        parts.join(", ")
    }

    /// Gives the sum of all categories.
    pub fn sum(&self) -> u32 {
        [
            self.strong,
            self.weak,
            self.abnormal,
            self.dead,
            self.fresh,
            self.missing,
        ]
        .into_iter()
        .map(u32::from)
        .sum()
    }

    /// Gives the kernels that could be counted: all but the missing ones.
    pub fn counted(&self) -> u32 {
        self.sum() - u32::from(self.missing)
    }

    /// Gives the germinated kernels.
    pub fn germinated(&self, rule: Germinated) -> u32 {
        match rule {
            Germinated::StrongAndWeak => u32::from(self.strong) + u32::from(self.weak),
            Germinated::StrongOnly => u32::from(self.strong),
        }
    }

    /// Gives the kernels that have sprouted at all: strong, weak and abnormal.
    pub fn emerged(&self) -> u32 {
        u32::from(self.strong) + u32::from(self.weak) + u32::from(self.abnormal)
    }
}

/// One count of one cell. Counts are never changed: a correction is a new count that names the old one.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Count {
    /// The count's id.
    pub id: CountId,
    /// The cell.
    pub cell: CellId,
    /// When in the test.
    pub pass: Pass,
    /// The day, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<Date>,
    /// Who counted.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// Whether it is the count of a second scorer, which is compared with the first but does not decide.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub second: bool,
    /// The kernels by category.
    pub tally: Tally,
    /// Whether there was mould.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub mould: bool,
    /// Grade of growth from 0 (none) to 9 (best).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vigor: Option<u8>,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// The count that this one corrects.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrects: Option<CountId>,
    /// Whether it only withdraws the count that it corrects: nothing is known of this cell in this pass any more.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub void: bool,
    /// Median length of the roots, in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub root_mm: Option<f64>,
    /// Median length of the shoots, in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub shoot_mm: Option<f64>,
    /// Why a guard was overruled; empty when none was.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub overruled: String,
    /// The version of the scheme by which it was counted.
    #[serde(default, skip_serializing_if = "is_zero")]
    pub scheme: u16,
}

/// One category of kernels.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Category {
    /// Normal seedlings, strong.
    Strong,
    /// Normal seedlings, weak or slow.
    Weak,
    /// Abnormal seedlings.
    Abnormal,
    /// Dead kernels.
    Dead,
    /// Firm, swollen kernels that have not germinated.
    Fresh,
    /// Kernels that were not there to be counted.
    Missing,
}

impl Category {
    /// All categories, in the usual order.
    pub const ALL: [Self; 6] = [
        Self::Strong,
        Self::Weak,
        Self::Abnormal,
        Self::Dead,
        Self::Fresh,
        Self::Missing,
    ];

    /// Names the category.
    pub fn name(self) -> &'static str {
        match self {
            Self::Strong => "strong",
            Self::Weak => "weak",
            Self::Abnormal => "abnormal",
            Self::Dead => "dead",
            Self::Fresh => "fresh",
            Self::Missing => "missing",
        }
    }
}

/// By which categories kernels are counted, and in which order they are typed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Scheme {
    /// The categories that are counted, in the order in which they are typed.
    pub order: Vec<Category>,
    /// Rises with every change, so that each count says by which scheme it was made.
    pub version: u16,
}

impl Default for Scheme {
    fn default() -> Self {
        Self {
            order: Category::ALL.to_vec(),
            version: 0,
        }
    }
}

impl Scheme {
    pub(super) fn is_default(&self) -> bool {
        *self == Self::default()
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        let mut once = self.order.clone();
        once.sort_unstable();
        once.dedup();
        if once.len() != self.order.len() {
            let text = "a category of the counts is there twice; leave it out once".to_owned();
            return Err(Fault::Mismatch(text));
        }
        if !self.order.contains(&Category::Strong) {
            let text = "the counts need the category 'strong'; put it back".to_owned();
            return Err(Fault::Mismatch(text));
        }
        Ok(())
    }
}

impl Count {
    pub(super) fn check(&self) -> Result<(), Fault> {
        if let Some(vigor) = self.vigor {
            check_number("vigor", f64::from(vigor), 0.0, 9.0)?;
        }
        if let Pass::Between(day) = self.pass {
            check_number("the day of the count", f64::from(day), 0.0, 90.0)?;
        }
        if let Some(length) = self.root_mm {
            check_number("the root in mm", length, 0.0, 1_000.0)?;
        }
        if let Some(length) = self.shoot_mm {
            check_number("the shoot in mm", length, 0.0, 1_000.0)?;
        }
        if self.void && (self.corrects.is_none() || self.tally != Tally::default()) {
            let text = "it withdraws a count, so it must name that count and hold no kernels of its own; correct one of them";
            return Err(Fault::Mismatch(text.to_owned()));
        }
        check_text("the scorer's name", &self.by)?;
        check_text("the reason for overruling", &self.overruled)?;
        check_text("the note", &self.note)
    }
}

impl Record for Count {
    type Id = CountId;
    const NAME: &'static str = "count";

    fn id(&self) -> CountId {
        self.id
    }

    fn place(id: CountId) -> Place {
        Place::Count(id)
    }
}
