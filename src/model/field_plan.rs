//! The plan of a field in which a frozen list is planted.

use super::ids::{ListId, PlanId};
use super::problem::{Fault, Place, check_name, check_number, check_text};
use super::table::Record;
use super::test::MM_PER_INCH;
use crate::layout;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Most rows side by side in a block.
pub const MOST_ROWS_PER_BLOCK: u16 = 2_000;
/// Most times that a family is planted in one field.
pub const MOST_FIELD_REPLICATES: u16 = 20;

/// The plan of a field: what was asked for, and what was seen around it. Its rows are records of their own.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldPlan {
    /// The plan's id.
    pub id: PlanId,
    /// The planting list; a list has one plan.
    pub list: ListId,
    /// The number from which the order was drawn.
    pub seed: u64,
    /// What was asked for.
    pub shape: FieldShape,
    /// Other corn that flowers near it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub neighbours: Vec<Neighbour>,
    /// The rounds of detasselling, in the order in which they were noted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rounds: Vec<DetasselRound>,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// How a list is planted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum FieldWay {
    /// A row for each ear.
    #[default]
    Families,
    /// The kernels of all ears mixed, the same number of each.
    Bulk,
}

/// The order in which the rows are walked and their stakes are numbered.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Walk {
    /// Every block from its left side to its right.
    Straight,
    /// The first block from left to right, the next one back.
    #[default]
    Serpentine,
}

/// Which rows have their tassels pulled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Detassel {
    /// None.
    #[default]
    Nothing,
    /// Every other row of a block.
    EveryOther,
    /// All but the rows of bulk.
    AllButBulk,
}

impl Walk {
    /// The same for the layout.
    pub fn rule(self) -> layout::Walk {
        match self {
            Self::Straight => layout::Walk::Straight,
            Self::Serpentine => layout::Walk::Serpentine,
        }
    }
}

impl Detassel {
    /// The same for the layout.
    pub fn rule(self) -> layout::Detassel {
        match self {
            Self::Nothing => layout::Detassel::Nothing,
            Self::EveryOther => layout::Detassel::EveryOther,
            Self::AllButBulk => layout::Detassel::AllButBulk,
        }
    }
}

/// What a field is asked to be. Blocks lie one behind the other, their rows side by side.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct FieldShape {
    /// How the list is planted.
    #[serde(default)]
    pub way: FieldWay,
    /// How often each family is planted.
    pub replicates: u16,
    /// Rows side by side in a block at most, without its border rows.
    pub rows_per_block: u16,
    /// Border rows at each side of a block.
    pub borders: u16,
    /// Length of a row, in millimetres, without the border plants at its ends.
    pub row_length_mm: f64,
    /// Distance from row to row, in millimetres.
    pub row_spacing_mm: f64,
    /// Distance from plant to plant in a row, in millimetres.
    pub plant_spacing_mm: f64,
    /// Kernels that are laid at each place of a row.
    pub kernels_per_place: u16,
    /// Length of the border plants at each end of a row, in millimetres.
    pub end_mm: f64,
    /// The path between two blocks, in millimetres.
    pub path_mm: f64,
    /// Families between one check row and the next; none for no check rows.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub check_every: Option<u16>,
    /// Families between one row of bulk and the next; none for no rows of bulk.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bulk_every: Option<u16>,
    /// Which rows have their tassels pulled.
    #[serde(default)]
    pub detassel: Detassel,
    /// How it is walked.
    #[serde(default)]
    pub walk: Walk,
}

impl FieldShape {
    /// A common shape in inches: rows of 17 feet, 36 inches apart, with a plant every 10 inches, which is 20 plants. One
    /// replicate, one border row at each side, a check row every ten families.
    pub fn in_inches() -> Self {
        Self {
            way: FieldWay::Families,
            replicates: 1,
            rows_per_block: 20,
            borders: 1,
            row_length_mm: 204.0 * MM_PER_INCH,
            row_spacing_mm: 36.0 * MM_PER_INCH,
            plant_spacing_mm: 10.0 * MM_PER_INCH,
            kernels_per_place: 2,
            end_mm: 0.0,
            path_mm: 48.0 * MM_PER_INCH,
            check_every: Some(10),
            bulk_every: None,
            detassel: Detassel::Nothing,
            walk: Walk::Serpentine,
        }
    }

    /// The like in metres: rows of 5 metres, 90 centimetres apart, with a plant every 25 centimetres.
    pub fn in_metres() -> Self {
        Self {
            row_length_mm: 5_000.0,
            row_spacing_mm: 900.0,
            plant_spacing_mm: 250.0,
            path_mm: 1_200.0,
            ..Self::in_inches()
        }
    }

    /// Places for plants in a row: as many whole distances as its length holds.
    pub fn places(&self) -> u32 {
        // A length that was typed in other units is a hair off.
        (self.row_length_mm / self.plant_spacing_mm + 1e-6).floor() as u32
    }

    /// Kernels that a row has room for.
    pub fn kernels_per_row(&self) -> u32 {
        self.places() * u32::from(self.kernels_per_place)
    }

    /// Width and length of a field, in millimetres, when its longest block has so many rows without borders.
    pub fn size_mm(&self, rows_across: u16, blocks: u16) -> (f64, f64) {
        let rows = f64::from(rows_across) + 2.0 * f64::from(self.borders);
        let blocks = f64::from(blocks);
        let length =
            blocks * (self.row_length_mm + 2.0 * self.end_mm) + (blocks - 1.0).max(0.0) * self.path_mm;
        (rows * self.row_spacing_mm, length)
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        let whole = |what: &str, value: u16, least: f64, most: u16| {
            check_number(what, f64::from(value), least, f64::from(most))
        };
        whole("the replicates", self.replicates, 1.0, MOST_FIELD_REPLICATES)?;
        whole(
            "the rows of a block",
            self.rows_per_block,
            1.0,
            MOST_ROWS_PER_BLOCK,
        )?;
        whole("the border rows", self.borders, 0.0, 50)?;
        whole("the kernels at a place", self.kernels_per_place, 1.0, 20)?;
        for (what, every) in [
            ("the families between check rows", self.check_every),
            ("the families between rows of bulk", self.bulk_every),
        ] {
            whole(what, every.unwrap_or(1), 1.0, MOST_ROWS_PER_BLOCK)?;
        }
        check_number("the length of a row in mm", self.row_length_mm, 100.0, 1e6)?;
        check_number("the distance of rows in mm", self.row_spacing_mm, 50.0, 10_000.0)?;
        check_number(
            "the distance of plants in mm",
            self.plant_spacing_mm,
            10.0,
            10_000.0,
        )?;
        check_number("the border plants at the ends in mm", self.end_mm, 0.0, 100_000.0)?;
        check_number("the path between blocks in mm", self.path_mm, 0.0, 100_000.0)?;
        if self.places() == 0 {
            return Err(Fault::Mismatch(
                "a row is shorter than the distance of two plants; make it longer or the plants closer"
                    .to_owned(),
            ));
        }
        Ok(())
    }
}

/// Other corn that may bring its pollen.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Neighbour {
    /// What grows there.
    pub what: String,
    /// How far away, in metres.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub distance_m: Option<f64>,
    /// Where, seen from the field, such as 'north-west'.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub direction: String,
    /// The first day on which its tassels shed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheds_from: Option<Date>,
    /// The last day on which they shed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sheds_to: Option<Date>,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

impl Neighbour {
    fn check(&self) -> Result<(), Fault> {
        check_name("neighbour", &self.what)?;
        check_text("the direction", &self.direction)?;
        check_text("the note", &self.note)?;
        if let Some(distance) = self.distance_m {
            check_number("the distance in m", distance, 0.0, 100_000.0)?;
        }
        if let (Some(from), Some(to)) = (self.sheds_from, self.sheds_to)
            && to < from
        {
            return Err(Fault::Mismatch(format!(
                "{} stops shedding on {to}, before it begins on {from}; correct one of the two days",
                self.what
            )));
        }
        Ok(())
    }
}

/// A round of detasselling.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct DetasselRound {
    /// The day.
    pub on: Date,
    /// Plants whose tassels were pulled.
    #[serde(default)]
    pub pulled: u32,
    /// Plants that shed already.
    #[serde(default)]
    pub shed: u32,
    /// Who did it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// A free note, such as the rows.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

impl DetasselRound {
    fn check(&self) -> Result<(), Fault> {
        check_number("the plants pulled", f64::from(self.pulled), 0.0, 1e7)?;
        check_number("the plants that shed", f64::from(self.shed), 0.0, 1e7)?;
        check_text("the name of the person", &self.by)?;
        check_text("the note", &self.note)
    }
}

impl FieldPlan {
    pub(super) fn check(&self) -> Result<(), Fault> {
        self.shape.check()?;
        self.neighbours.iter().try_for_each(Neighbour::check)?;
        self.rounds.iter().try_for_each(DetasselRound::check)?;
        check_text("the note", &self.note)
    }
}

impl Record for FieldPlan {
    type Id = PlanId;
    const NAME: &'static str = "field plan";

    fn id(&self) -> PlanId {
        self.id
    }

    fn place(id: PlanId) -> Place {
        Place::Plan(id)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 60 families of 20 plants at 10 by 36 inches take rows of 17 feet and about 3,000 square feet: the worked example
    /// of a seed budget, by plain arithmetic.
    #[test]
    fn sixty_families_take_three_thousand_square_feet() {
        let shape = FieldShape {
            borders: 0,
            rows_per_block: 60,
            ..FieldShape::in_inches()
        };
        assert_eq!(shape.places(), 20);
        let (width, length) = shape.size_mm(60, 1);
        let square_feet = width * length / (12.0 * MM_PER_INCH).powi(2);
        assert!((square_feet - 3_060.0).abs() < 1e-6, "{square_feet}");
        assert_eq!(FieldShape::in_metres().places(), 20);
    }
}
