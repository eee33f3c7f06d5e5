//! Germination tests, their trays and cells.

use super::ids::{CellId, EarId, SeasonId, TestId, TrayId};
use super::problem::{Fault, Place, check_name, check_number, check_text};
use super::table::Record;
use super::words::plural;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// Millimetres in an inch, by definition.
pub const MM_PER_INCH: f64 = 25.4;

/// The most kernels of one cell.
pub const MOST_KERNELS_PER_CELL: u16 = 400;

/// The most cells of one ear.
pub const MOST_REPLICATES: u16 = 20;

/// What one tray looks like and how many are wanted of everything.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrayPlan {
    /// Inner width of the container, in millimetres: along a row of cells.
    pub width_mm: f64,
    /// Inner depth of the container, in millimetres: along a column of cells.
    pub height_mm: f64,
    /// Margin on each side that holds no cells, in millimetres.
    pub margin_mm: f64,
    /// Width of a cell, in millimetres.
    pub cell_width_mm: f64,
    /// Height of a cell, in millimetres.
    pub cell_height_mm: f64,
    /// Kernels laid in a cell.
    pub kernels: u16,
    /// Cells of each ear, each in a block of trays of its own.
    pub replicates: u16,
    /// Cells of the check lot in each tray.
    pub checks: u16,
    /// Cells left empty on purpose in each tray.
    pub landmarks: u16,
    /// Width of the strip without kernels between neighbouring cells, in millimetres.
    #[serde(default, skip_serializing_if = "is_nought")]
    pub aisle_mm: f64,
    /// How the cells of one ear are spread over the trays.
    #[serde(default, skip_serializing_if = "Spread::is_default")]
    pub spread: Spread,
    /// Trays of other sizes, which are used first; their cells are as large as those of all.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<OtherContainer>,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde's skip_serializing_if passes a reference"
)]
fn is_nought(length: &f64) -> bool {
    *length == 0.0
}

/// How the cells of one ear are spread over the trays.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Spread {
    /// Each replicate is a block of trays of its own, in which every ear lies once.
    #[default]
    Blocks,
    /// Anywhere, but never twice in one tray.
    Anywhere,
}

impl Spread {
    #[expect(
        clippy::trivially_copy_pass_by_ref,
        reason = "serde's skip_serializing_if passes a reference"
    )]
    fn is_default(&self) -> bool {
        *self == Self::default()
    }
}

/// Trays of another size in the same test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct OtherContainer {
    /// What it is called.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub name: String,
    /// Inner width, in millimetres.
    pub width_mm: f64,
    /// Inner depth, in millimetres.
    pub height_mm: f64,
    /// Margin on each side that holds no cells, in millimetres.
    pub margin_mm: f64,
    /// How many of them there are.
    pub trays: u16,
}

impl OtherContainer {
    /// Gives its name, or what it is called without one: `Other size 2`. `number` is that of [`Tray::container`].
    pub fn title(&self, number: u16) -> String {
        match self.name.trim() {
            "" => format!("Other size {number}"),
            name => name.to_owned(),
        }
    }

    fn check(&self) -> Result<(), Fault> {
        check_text("the container's name", &self.name)?;
        check_container(self.width_mm, self.height_mm, self.margin_mm)?;
        check_number(
            "the number of trays of this size",
            f64::from(self.trays),
            1.0,
            9999.0,
        )
    }
}

fn check_container(width_mm: f64, height_mm: f64, margin_mm: f64) -> Result<(), Fault> {
    check_number("the tray's width in mm", width_mm, 10.0, 10_000.0)?;
    check_number("the tray's depth in mm", height_mm, 10.0, 10_000.0)?;
    check_number("the margin in mm", margin_mm, 0.0, 1_000.0)
}

/// The most other sizes of trays in one test.
pub const MOST_OTHER_CONTAINERS: usize = 20;

impl Default for TrayPlan {
    /// A tray of 16 by 12 inches in cells of 2 by 3 inches, so 4 rows of 8: 10 kernels a cell, 2 checks, 2 landmarks.
    fn default() -> Self {
        Self {
            width_mm: 16.0 * MM_PER_INCH,
            height_mm: 12.0 * MM_PER_INCH,
            margin_mm: 0.0,
            cell_width_mm: 2.0 * MM_PER_INCH,
            cell_height_mm: 3.0 * MM_PER_INCH,
            kernels: 10,
            replicates: 1,
            checks: 2,
            landmarks: 2,
            aisle_mm: 0.0,
            spread: Spread::Blocks,
            others: Vec::new(),
        }
    }
}

impl TrayPlan {
    pub(super) fn check(&self) -> Result<(), Fault> {
        check_container(self.width_mm, self.height_mm, self.margin_mm)?;
        check_number("the aisle between cells in mm", self.aisle_mm, 0.0, 1_000.0)?;
        if self.others.len() > MOST_OTHER_CONTAINERS {
            return Err(Fault::TooMany {
                what: plural(self.others.len(), "other size of tray"),
                most: MOST_OTHER_CONTAINERS as u32,
            });
        }
        self.others.iter().try_for_each(OtherContainer::check)?;
        check_number("the cell's width in mm", self.cell_width_mm, 5.0, 10_000.0)?;
        check_number("the cell's height in mm", self.cell_height_mm, 5.0, 10_000.0)?;
        let kernels = f64::from(MOST_KERNELS_PER_CELL);
        check_number("the kernels per cell", f64::from(self.kernels), 1.0, kernels)?;
        let replicates = f64::from(MOST_REPLICATES);
        check_number("the replicates", f64::from(self.replicates), 1.0, replicates)?;
        check_number("the check cells per tray", f64::from(self.checks), 0.0, 100.0)?;
        check_number("the landmarks per tray", f64::from(self.landmarks), 0.0, 100.0)
    }
}

/// Temperatures and days of a test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    /// Temperature of the cold days, in degrees Celsius.
    pub cold_c: f64,
    /// Day of the early count, counted from the day of laying; none without an early count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub early_day: Option<u16>,
    /// Day of the final count, counted from the day of laying.
    pub final_day: u16,
    /// What the kernels lie on.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub medium: String,
    /// Warmer days after the cold ones; none for one temperature throughout.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub warm: Option<WarmDays>,
    /// How far the temperature may be from the wanted one, in degrees Celsius; none for [`USUAL_BAND_C`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub band_c: Option<f64>,
    /// Days between two looks at the water; none for no reminder.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub water_every: Option<u16>,
}

/// How far the temperature may be from the wanted one where the recipe does not say, in degrees Celsius. Common
/// practice, no source.
pub const USUAL_BAND_C: f64 = 1.5;

/// The warmer days of a test that begins cold.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WarmDays {
    /// Their temperature, in degrees Celsius.
    pub c: f64,
    /// Their first day, counted from the day of laying.
    pub from_day: u16,
}

impl Default for Recipe {
    /// 13 °C, early count on day 6, final count on day 12.
    fn default() -> Self {
        Self {
            cold_c: 13.0,
            early_day: Some(6),
            final_day: 12,
            medium: String::new(),
            warm: None,
            band_c: None,
            water_every: None,
        }
    }
}

impl Recipe {
    /// Gives the wanted temperature on a day, counted from the day of laying, in degrees Celsius.
    pub fn wanted_c(&self, day: i64) -> f64 {
        match self.warm {
            Some(warm) if day >= i64::from(warm.from_day) => warm.c,
            _ => self.cold_c,
        }
    }

    /// Gives how far the temperature may be from the wanted one, in degrees Celsius.
    pub fn band(&self) -> f64 {
        self.band_c.unwrap_or(USUAL_BAND_C)
    }

    fn check(&self) -> Result<(), Fault> {
        check_number("the temperature in °C", self.cold_c, -5.0, 45.0)?;
        check_number("the day of the final count", f64::from(self.final_day), 1.0, 90.0)?;
        if let Some(day) = self.early_day {
            check_number(
                "the day of the early count",
                f64::from(day),
                1.0,
                f64::from(self.final_day),
            )?;
        }
        if let Some(warm) = self.warm {
            check_number("the temperature of the warm days in °C", warm.c, -5.0, 45.0)?;
            let last = f64::from(self.final_day);
            check_number("the first warm day", f64::from(warm.from_day), 1.0, last)?;
        }
        if let Some(band) = self.band_c {
            check_number("the band around the temperature in °C", band, 0.1, 20.0)?;
        }
        if let Some(days) = self.water_every {
            check_number("the days between looks at the water", f64::from(days), 1.0, 90.0)?;
        }
        check_text("the medium", &self.medium)
    }
}

/// One germination test of a season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Test {
    /// The test's id.
    pub id: TestId,
    /// The season whose ears it tests.
    pub season: SeasonId,
    /// Its name.
    pub name: String,
    /// The trays it was designed for.
    pub plan: TrayPlan,
    /// Temperatures and days.
    pub recipe: Recipe,
    /// The number from which the layout was drawn; the same number gives the same layout.
    pub seed: u64,
    /// The name of the check lot.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub check_lot: String,
    /// The day when the last kernels were laid; none before.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid: Option<Date>,
}

impl Test {
    pub(super) fn check(&self) -> Result<(), Fault> {
        check_name("test", &self.name)?;
        check_text("the check lot's name", &self.check_lot)?;
        self.plan.check()?;
        self.recipe.check()
    }
}

impl Record for Test {
    type Id = TestId;
    const NAME: &'static str = "test";

    fn id(&self) -> TestId {
        self.id
    }

    fn place(id: TestId) -> Place {
        Place::Test(id)
    }
}

/// One tray of a test.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tray {
    /// The tray's id.
    pub id: TrayId,
    /// Its test.
    pub test: TestId,
    /// Its number within the test, from 1.
    pub number: u16,
    /// The replicate that it belongs to, from 1.
    pub replicate: u16,
    /// Rows of cells.
    pub rows: u16,
    /// Columns of cells.
    pub columns: u16,
    /// Its container: 0 for that of the plan, from 1 for [`TrayPlan::others`] in their order.
    #[serde(default, skip_serializing_if = "is_first")]
    pub container: u16,
}

#[expect(
    clippy::trivially_copy_pass_by_ref,
    reason = "serde's skip_serializing_if passes a reference"
)]
fn is_first(container: &u16) -> bool {
    *container == 0
}

impl Tray {
    pub(super) fn check(&self) -> Result<(), Fault> {
        check_number("the tray's number", f64::from(self.number), 1.0, 9999.0)?;
        check_number("the tray's replicate", f64::from(self.replicate), 1.0, 20.0)?;
        check_number("the tray's rows", f64::from(self.rows), 1.0, 1000.0)?;
        check_number("the tray's columns", f64::from(self.columns), 1.0, 1000.0)
    }
}

impl Record for Tray {
    type Id = TrayId;
    const NAME: &'static str = "tray";

    fn id(&self) -> TrayId {
        self.id
    }

    fn place(id: TrayId) -> Place {
        Place::Tray(id)
    }
}

/// What lies in a cell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum CellContent {
    /// Kernels of an ear.
    Ear(EarId),
    /// Kernels of the check lot; the number tells the check cells of a tray apart, from 1.
    Check(u16),
    /// Nothing, on purpose, so that a shifted or turned tray shows itself.
    Landmark,
    /// Nothing; free for a late ear.
    Spare,
}

impl CellContent {
    /// Says whether there are kernels to count.
    pub fn is_counted(self) -> bool {
        matches!(self, Self::Ear(_) | Self::Check(_))
    }

    /// Gives the ear whose kernels lie there.
    pub fn ear(self) -> Option<EarId> {
        match self {
            Self::Ear(ear) => Some(ear),
            Self::Check(_) | Self::Landmark | Self::Spare => None,
        }
    }
}

/// One rectangle of a tray.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cell {
    /// The cell's id.
    pub id: CellId,
    /// Its tray.
    pub tray: TrayId,
    /// Row, from 1 at the top.
    pub row: u16,
    /// Column, from 1 at the left.
    pub column: u16,
    /// What lies in it.
    pub content: CellContent,
    /// Kernels laid, where they are not the number that the test says.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid: Option<u16>,
    /// The day when they were laid, where it is not the day of the whole test.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub laid_on: Option<Date>,
}

impl Cell {
    pub(super) fn check(&self) -> Result<(), Fault> {
        let most = f64::from(MOST_KERNELS_PER_CELL);
        check_number(
            "the kernels laid in the cell",
            f64::from(self.laid.unwrap_or(1)),
            1.0,
            most,
        )
    }

    /// Gives the cell's name within its tray: a letter for the row and a number for the column, such as `B3`.
    pub fn name(&self) -> String {
        cell_name(self.row, self.column)
    }
}

/// Names the cell at a row and column (both from 1): `A1`, `B3`, `AA12`.
pub fn cell_name(row: u16, column: u16) -> String {
    row_letters(row) + &column.to_string()
}

/// Gives the letters of a row of cells, counted from 1: `A`, `B`, `AA`.
pub fn row_letters(row: u16) -> String {
    let mut letters = Vec::new();
    let mut rest = row.max(1);
    while rest > 0 {
        letters.push(char::from(b'A' + ((rest - 1) % 26) as u8));
        rest = (rest - 1) / 26;
    }
    letters.iter().rev().collect()
}

impl Record for Cell {
    type Id = CellId;
    const NAME: &'static str = "cell";

    fn id(&self) -> CellId {
        self.id
    }

    fn place(id: CellId) -> Place {
        Place::Cell(id)
    }
}

#[cfg(test)]
mod tests {
    use super::cell_name;

    #[test]
    fn cells_are_named_like_a_map() {
        assert_eq!(cell_name(1, 1), "A1");
        assert_eq!(cell_name(4, 8), "D8");
        assert_eq!(cell_name(26, 1), "Z1");
        assert_eq!(cell_name(27, 12), "AA12");
        assert_eq!(cell_name(703, 2), "AAA2");
    }
}
