//! The rows of a field plan, and what was seen in them from spring to autumn.

use super::entry::{DateOrder, read_date, read_number, read_whole};
use super::ids::{EarId, FieldRowId, PlanId};
use super::problem::{Fault, Place, check_number, check_text};
use super::project::LengthUnit;
use super::table::Record;
use crate::layout;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// A row of a field plan.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldRow {
    /// The row's id.
    pub id: FieldRowId,
    /// Its plan.
    pub plan: PlanId,
    /// The number on its stake, from 1 in walking order.
    pub stake: u32,
    /// Its replicate, from 1.
    pub replicate: u16,
    /// Its block, from 1.
    pub block: u16,
    /// Its place in the block from the left, from 1.
    pub across: u16,
    /// What is planted in it.
    pub content: FieldContent,
    /// Kernels planted in it.
    pub kernels: u32,
    /// Whether its tassels are pulled.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub detasselled: bool,
    /// What was seen in it.
    #[serde(default, skip_serializing_if = "RowSeen::is_empty")]
    pub seen: RowSeen,
}

/// What is planted in a row of a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum FieldContent {
    /// Kernels of one ear of the list.
    Ear(EarId),
    /// The check lot.
    Check,
    /// The bulk.
    Bulk,
}

impl FieldContent {
    /// The ear, if it is one's.
    pub fn ear(self) -> Option<EarId> {
        if let Self::Ear(ear) = self {
            Some(ear)
        } else {
            None
        }
    }

    /// The same for the layout; which family it is does not matter there.
    pub fn kind(self) -> layout::RowContent {
        match self {
            Self::Ear(_) => layout::RowContent::Family(0),
            Self::Check => layout::RowContent::Check,
            Self::Bulk => layout::RowContent::Bulk,
        }
    }
}

/// Why plants are missing in a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum Loss {
    /// Birds took them.
    Bird,
    /// Insects ate them.
    Insect,
    /// They did not come through the crust of the soil.
    Crust,
    /// Rain washed them out.
    WashedOut,
    /// It is not known.
    Unknown,
}

impl Loss {
    /// All of them, each with the letter by which it is typed and its name.
    pub const ALL: [(Self, char, &'static str); 5] = [
        (Self::Bird, 'B', "bird"),
        (Self::Insect, 'I', "insect"),
        (Self::Crust, 'C', "crust"),
        (Self::WashedOut, 'W', "washed out"),
        (Self::Unknown, 'U', "unknown"),
    ];

    /// Its name.
    pub fn name(self) -> &'static str {
        let mut all = Self::ALL.into_iter();
        all.find(|(loss, ..)| *loss == self).map_or("", |(.., name)| name)
    }

    fn read(text: &str) -> Option<Self> {
        let mut all = Self::ALL.into_iter();
        all.find(|(_, letter, name)| {
            name.eq_ignore_ascii_case(text) || letter.to_string().eq_ignore_ascii_case(text)
        })
        .map(|(loss, ..)| loss)
    }
}

/// What was seen in a row.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RowSeen {
    /// Plants that stood, before any were pulled.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stand: Option<u32>,
    /// The day on which they were counted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stand_on: Option<Date>,
    /// Why plants are missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub loss: Option<Loss>,
    /// Plants that were left after thinning.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub thinned_to: Option<u32>,
    /// Grade of growth from 0 to 9.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vigor: Option<u8>,
    /// The day on which half of the plants shed pollen.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pollen_on: Option<Date>,
    /// The day on which half of the plants showed silk.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub silk_on: Option<Date>,
    /// Height of the plants, in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub plant_height_mm: Option<f64>,
    /// Height at which the upper ear sits, in millimetres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ear_height_mm: Option<f64>,
    /// Plants that lean more than 45 degrees from the root.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub root_lodged: Option<u32>,
    /// Plants broken below the ear.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stalk_lodged: Option<u32>,
    /// Plants that were pulled because they were off-type or ill.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pulled: Option<u32>,
    /// Flavour from 1 to 5, 5 the best.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flavour: Option<u8>,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

impl RowSeen {
    /// Says whether nothing was noted.
    pub fn is_empty(&self) -> bool {
        *self == Self::default()
    }

    fn check(&self) -> Result<(), Fault> {
        for field in RowField::ALL {
            if let Some((what, value, least, most)) = field.number(self) {
                check_number(what, value, least, most)?;
            }
        }
        if let (Some(from), Some(to)) = (self.thinned_to, self.stand)
            && from > to
        {
            return Err(Fault::Mismatch(format!(
                "the row was thinned to {from} plants and had {to}; count the stand before thinning, or correct one of the two"
            )));
        }
        check_text("the note", &self.note)
    }
}

/// Something that is noted of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RowField {
    /// Plants that stood.
    Stand,
    /// The day on which they were counted.
    StandOn,
    /// Why plants are missing.
    Loss,
    /// Plants left after thinning.
    ThinnedTo,
    /// Grade of growth.
    Vigor,
    /// The day on which half shed pollen.
    PollenOn,
    /// The day on which half showed silk.
    SilkOn,
    /// Height of the plants.
    PlantHeight,
    /// Height of the ears.
    EarHeight,
    /// Plants that lean from the root.
    RootLodged,
    /// Plants broken below the ear.
    StalkLodged,
    /// Plants pulled as off-type or ill.
    Pulled,
    /// Flavour.
    Flavour,
    /// A note.
    Note,
}

impl RowField {
    /// All of them, in the order of the year.
    pub const ALL: [Self; 14] = [
        Self::Stand,
        Self::StandOn,
        Self::Loss,
        Self::ThinnedTo,
        Self::Vigor,
        Self::PollenOn,
        Self::SilkOn,
        Self::PlantHeight,
        Self::EarHeight,
        Self::RootLodged,
        Self::StalkLodged,
        Self::Pulled,
        Self::Flavour,
        Self::Note,
    ];

    /// Its title, as it heads a column.
    pub fn title(self) -> &'static str {
        match self {
            Self::Stand => "Stand",
            Self::StandOn => "Counted on",
            Self::Loss => "Loss",
            Self::ThinnedTo => "Thinned to",
            Self::Vigor => "Vigor",
            Self::PollenOn => "Half shed",
            Self::SilkOn => "Half silk",
            Self::PlantHeight => "Plant height",
            Self::EarHeight => "Ear height",
            Self::RootLodged => "Root lodged",
            Self::StalkLodged => "Stalk lodged",
            Self::Pulled => "Pulled",
            Self::Flavour => "Flavour",
            Self::Note => "Note",
        }
    }

    /// What is typed, in a sentence.
    pub fn hint(self) -> &'static str {
        match self {
            Self::Stand => "Plants that stand, counted before any are pulled; all rows at the same age",
            Self::StandOn => "The day on which the stand was counted",
            Self::Loss => "B bird, I insect, C crust, W washed out, U unknown",
            Self::ThinnedTo => "Plants left after thinning",
            Self::Vigor => "Growth from 0, weakest, to 9",
            Self::PollenOn => "The day on which half of the plants shed pollen; T for today",
            Self::SilkOn => "The day on which half of the plants show silk; T for today",
            Self::PlantHeight => "Height of the plants to the tip of the tassel, a mean of ten",
            Self::EarHeight => "Height at which the upper ear sits, a mean of ten",
            Self::RootLodged => "Plants that lean more than 45 degrees from the root",
            Self::StalkLodged => "Plants broken below the ear",
            Self::Pulled => "Plants pulled because they were off-type or ill",
            Self::Flavour => "Flavour of a sister ear from 1 to 5, 5 the best",
            Self::Note => "Anything else",
        }
    }

    /// Says whether it is a day, which one key can note as today.
    pub fn is_day(self) -> bool {
        matches!(self, Self::StandOn | Self::PollenOn | Self::SilkOn)
    }

    /// Says whether it is a height, which is typed in the project's unit of length.
    pub fn is_height(self) -> bool {
        matches!(self, Self::PlantHeight | Self::EarHeight)
    }

    /// Its number in what was seen, with what it is and its limits.
    fn number(self, seen: &RowSeen) -> Option<(&'static str, f64, f64, f64)> {
        const MOST: f64 = 1_000_000.0;
        let count = |what, value: Option<u32>| Some((what, f64::from(value?), 0.0, MOST));
        match self {
            Self::Stand => count("the stand", seen.stand),
            Self::ThinnedTo => count("the plants after thinning", seen.thinned_to),
            Self::RootLodged => count("the plants that lean", seen.root_lodged),
            Self::StalkLodged => count("the broken plants", seen.stalk_lodged),
            Self::Pulled => count("the plants pulled", seen.pulled),
            Self::Vigor => Some(("the vigor", f64::from(seen.vigor?), 0.0, 9.0)),
            Self::Flavour => Some(("the flavour", f64::from(seen.flavour?), 1.0, 5.0)),
            Self::PlantHeight => Some((
                "the height of the plants in mm",
                seen.plant_height_mm?,
                0.0,
                10_000.0,
            )),
            Self::EarHeight => Some(("the height of the ears in mm", seen.ear_height_mm?, 0.0, 10_000.0)),
            Self::StandOn | Self::Loss | Self::PollenOn | Self::SilkOn | Self::Note => None,
        }
    }

    /// Says whether anything was noted of it.
    pub fn is_noted(self, seen: &RowSeen) -> bool {
        match self {
            Self::StandOn => seen.stand_on.is_some(),
            Self::PollenOn => seen.pollen_on.is_some(),
            Self::SilkOn => seen.silk_on.is_some(),
            Self::Loss => seen.loss.is_some(),
            Self::Note => !seen.note.is_empty(),
            _ => self.number(seen).is_some(),
        }
    }

    /// Writes what was seen as it is typed; empty for nothing.
    pub fn text(self, seen: &RowSeen, unit: LengthUnit) -> String {
        let day = |day: Option<Date>| day.map(|day| day.to_string()).unwrap_or_default();
        match self {
            Self::StandOn => day(seen.stand_on),
            Self::PollenOn => day(seen.pollen_on),
            Self::SilkOn => day(seen.silk_on),
            Self::Loss => seen.loss.map(|loss| loss.name().to_owned()).unwrap_or_default(),
            Self::Note => seen.note.clone(),
            Self::PlantHeight | Self::EarHeight => {
                self.number(seen).map_or_else(String::new, |(_, mm, ..)| {
                    ((mm / unit.millimetres() * 100.0).round() / 100.0).to_string()
                })
            }
            _ => self
                .number(seen)
                .map_or_else(String::new, |(_, value, ..)| value.to_string()),
        }
    }

    /// Takes what was typed; an empty text takes back what was noted. `T` or `today` for a day is `today`. A stand
    /// that is counted gets that day too, where none was noted.
    ///
    /// # Errors
    /// The text cannot be read as what the field holds.
    pub fn put(self, seen: &mut RowSeen, typed: &str, unit: LengthUnit, today: Date) -> Result<(), Fault> {
        let text = typed.trim();
        let is_empty = text.is_empty();
        let whole = || -> Result<Option<u32>, Fault> {
            if is_empty {
                Ok(None)
            } else {
                read_whole(self.title(), text, 1_000_000).map(Some)
            }
        };
        let grade = || -> Result<Option<u8>, Fault> {
            Ok(whole()?.map(|grade| u8::try_from(grade).unwrap_or(u8::MAX)))
        };
        let day = || -> Result<Option<Date>, Fault> {
            match text {
                "" => Ok(None),
                _ if text.eq_ignore_ascii_case("t") || text.eq_ignore_ascii_case("today") => Ok(Some(today)),
                _ => read_date(text, DateOrder::Unknown).map(Some),
            }
        };
        let height = || -> Result<Option<f64>, Fault> {
            if is_empty {
                return Ok(None);
            }
            let height = read_number(self.title(), text)? * unit.millimetres();
            Ok(Some((height * 1000.0).round() / 1000.0))
        };
        match self {
            Self::Stand => {
                seen.stand = whole()?;
                seen.stand_on = match seen.stand {
                    Some(_) => seen.stand_on.or(Some(today)),
                    None => None,
                };
            }
            Self::StandOn => seen.stand_on = day()?,
            Self::Loss => {
                seen.loss = if is_empty {
                    None
                } else {
                    Some(Loss::read(text).ok_or_else(|| {
                        Fault::Mismatch(format!(
                            "'{text}' is not a kind of loss; type B for bird, I insect, C crust, W washed out or U unknown"
                        ))
                    })?)
                };
            }
            Self::ThinnedTo => seen.thinned_to = whole()?,
            Self::Vigor => seen.vigor = grade()?,
            Self::PollenOn => seen.pollen_on = day()?,
            Self::SilkOn => seen.silk_on = day()?,
            Self::PlantHeight => seen.plant_height_mm = height()?,
            Self::EarHeight => seen.ear_height_mm = height()?,
            Self::RootLodged => seen.root_lodged = whole()?,
            Self::StalkLodged => seen.stalk_lodged = whole()?,
            Self::Pulled => seen.pulled = whole()?,
            Self::Flavour => seen.flavour = grade()?,
            Self::Note => text.clone_into(&mut seen.note),
        }
        seen.check()
    }
}

impl FieldRow {
    pub(super) fn check(&self) -> Result<(), Fault> {
        check_number("the number of the stake", f64::from(self.stake), 1.0, 1e6)?;
        check_number("the replicate", f64::from(self.replicate), 1.0, 65_535.0)?;
        check_number("the block", f64::from(self.block), 1.0, 65_535.0)?;
        check_number("the place in the block", f64::from(self.across), 1.0, 65_535.0)?;
        check_number("the kernels", f64::from(self.kernels), 0.0, 1_000_000.0)?;
        self.seen.check()
    }
}

impl Record for FieldRow {
    type Id = FieldRowId;
    const NAME: &'static str = "row of the field";

    fn id(&self) -> FieldRowId {
        self.id
    }

    fn place(id: FieldRowId) -> Place {
        Place::FieldRow(id)
    }
}
