//! Seasons and their rows.

use super::ids::{EarId, RowId, SeasonId};
use super::problem::{Fault, Place, check_name, check_number, check_text};
use super::table::Record;
use super::words::plural;
use jiff::civil::{Date, DateTime};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// One cycle of the population: planted, harvested, tested, selected.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Season {
    /// The season's id.
    pub id: SeasonId,
    /// The year of its harvest, by which it is named.
    pub year: i16,
    /// The day when the rows were planted, where a row does not say otherwise.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planted: Option<Date>,
    /// Kernels that must stay in every packet when the rest is planted.
    pub remnant: u32,
    /// Kernels that are to be planted of each chosen ear.
    pub plant_each: u32,
    /// Numbers inside ear codes that were given out once and whose ears were removed.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub retired_serials: BTreeSet<u32>,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// Plants that shed pollen over the rows, if the grower said; none for as many as are planted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pollen_plants: Option<u32>,
    /// Where that pollen came from, if the grower said; none for both bounds: an open field and a closed plot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pollen: Option<PollenSource>,
    /// The heritability that the grower believes in, from 0 to 1; none for the range that the counts allow.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub heritability: Option<ShareRange>,
    /// The plants that are wanted of each chosen ear, where kernels are reckoned for a stand; none for
    /// [`Sowing::COMMON`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sowing: Option<Sowing>,
    /// The day on which it was closed; none while it is open. What was harvested, counted and chosen in a closed season
    /// is changed only after it was opened with a reason.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub closed: Option<Date>,
    /// How often it was opened again, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub openings: Vec<Opening>,
}

/// The opening of a closed season, to correct something.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Opening {
    /// When.
    pub at: DateTime,
    /// Who; empty when nobody said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// Why.
    pub reason: String,
}

/// Plants that are wanted in the row of each chosen ear, from which the kernels to plant are reckoned.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Sowing {
    /// Plants that are wanted at least, 1 to 500.
    pub plants: u32,
    /// With which probability, 0.5 to 0.99.
    pub sureness: f64,
    /// The part of the kernels which germinate in a tray that become plants in the field too, 0.01 to 1.
    pub field_factor: f64,
}

impl Sowing {
    /// Twenty plants with a probability of 90 %, every kernel that germinates in a tray becoming a plant in the field.
    /// Common practice, no source.
    pub const COMMON: Self = Self {
        plants: 20,
        sureness: 0.9,
        field_factor: 1.0,
    };
    /// The most plants that can be wanted.
    pub const MOST_PLANTS: u32 = 500;
    /// The least and greatest sureness.
    pub const SURENESS: [f64; 2] = [0.5, 0.99];
    /// The least and greatest field factor.
    pub const FIELD_FACTOR: [f64; 2] = [0.01, 1.0];

    /// Says what is wanted, such as `at least 20 plants with a probability of 90 %`, and the field factor where it is not
    /// one.
    pub fn text(&self) -> String {
        let factor = if self.field_factor < 1.0 {
            format!(", field factor {}", self.field_factor)
        } else {
            String::new()
        };
        format!(
            "at least {} with a probability of {} %{factor}",
            plural(self.plants as usize, "plant"),
            // As it was typed, without the tail of a binary fraction.
            (1e6 * self.sureness).round() / 1e4,
        )
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        let ([sure_from, sure_to], [part_from, part_to]) = (Self::SURENESS, Self::FIELD_FACTOR);
        let most = f64::from(Self::MOST_PLANTS);
        check_number("the wanted plants", f64::from(self.plants), 1.0, most)?;
        check_number("the sureness of the stand", self.sureness, sure_from, sure_to)?;
        check_number("the field factor", self.field_factor, part_from, part_to)
    }
}

/// Where the pollen over the rows of a season came from.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PollenSource {
    /// The part that plants of the season's own rows shed, 0 to 1; the rest came from unrelated plants.
    pub own: f64,
    /// The rows that shed it where all others were detasselled; empty for all rows.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub rows: BTreeSet<RowId>,
}

impl PollenSource {
    /// An open field: all pollen came from unrelated plants.
    pub const OPEN_FIELD: Self = Self {
        own: 0.0,
        rows: BTreeSet::new(),
    };
    /// A closed plot: all pollen came from the season's own rows.
    pub const OWN_ROWS: Self = Self {
        own: 1.0,
        rows: BTreeSet::new(),
    };

    fn check(&self) -> Result<(), Fault> {
        check_number("the part of the pollen from the own rows", self.own, 0.0, 1.0)
    }
}

/// A range of shares, from 0 to 1.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ShareRange {
    /// The least share.
    pub least: f64,
    /// The greatest share.
    pub most: f64,
}

impl Season {
    /// Makes a season with common kernel numbers: 20 to keep back, 30 to plant.
    pub fn new(id: SeasonId, year: i16) -> Self {
        Self {
            id,
            year,
            planted: None,
            remnant: 20,
            plant_each: 30,
            retired_serials: BTreeSet::new(),
            note: String::new(),
            pollen_plants: None,
            pollen: None,
            heritability: None,
            sowing: None,
            closed: None,
            openings: Vec::new(),
        }
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        check_number("the year", f64::from(self.year), 1800.0, 2200.0)?;
        check_number("the remnant", f64::from(self.remnant), 0.0, 100_000.0)?;
        check_number("the kernels to plant", f64::from(self.plant_each), 0.0, 100_000.0)?;
        if let Some(plants) = self.pollen_plants {
            check_number(
                "the plants that shed pollen",
                f64::from(plants),
                1.0,
                10_000_000.0,
            )?;
        }
        if let Some(pollen) = &self.pollen {
            pollen.check()?;
        }
        if let Some(range) = self.heritability {
            check_number("the least heritability", range.least, 0.0, 1.0)?;
            check_number("the greatest heritability", range.most, range.least, 1.0)?;
        }
        if let Some(sowing) = self.sowing {
            sowing.check()?;
        }
        check_text("the note", &self.note)
    }

    /// The plants that are wanted where kernels are reckoned for a stand.
    pub fn wanted(&self) -> Sowing {
        self.sowing.unwrap_or(Sowing::COMMON)
    }
}

impl Record for Season {
    type Id = SeasonId;
    const NAME: &'static str = "season";

    fn id(&self) -> SeasonId {
        self.id
    }

    fn place(id: SeasonId) -> Place {
        Place::Season(id)
    }
}

/// Where the seed of a row came from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub enum RowSource {
    /// It is not known.
    Unknown,
    /// One ear of an earlier season, the mother of all ears of the row.
    Ear(EarId),
    /// A bulk of many ears, named.
    Bulk(String),
    /// A check lot, named.
    CheckLot(String),
}

/// A family planted in a season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Row {
    /// The row's id.
    pub id: RowId,
    /// Its season.
    pub season: SeasonId,
    /// What stands on its stake.
    pub label: String,
    /// Where its seed came from.
    pub source: RowSource,
    /// The day when it was planted, if not the season's day.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub planted: Option<Date>,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

impl Row {
    pub(super) fn check(&self) -> Result<(), Fault> {
        check_name("row", &self.label)?;
        check_text("the note", &self.note)
    }
}

impl Record for Row {
    type Id = RowId;
    const NAME: &'static str = "row";

    fn id(&self) -> RowId {
        self.id
    }

    fn place(id: RowId) -> Place {
        Place::Row(id)
    }
}
