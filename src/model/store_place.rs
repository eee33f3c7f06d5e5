//! Places where packets are kept, and by which rules their seed is looked after.

use super::ids::StoreId;
use super::problem::{Fault, Place, check_name, check_number, check_text};
use super::table::Record;
use serde::{Deserialize, Serialize};

/// The coldest and the warmest that a store can be, in degrees Celsius.
pub const STORE_C: [f64; 2] = [-80.0, 60.0];

/// The least and the greatest moisture that is believed of seed, in percent of its fresh weight.
pub const MOISTURE_PERCENT: [f64; 2] = [1.0, 60.0];

/// A place where packets are kept, such as a cellar shelf or a freezer.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StorePlace {
    /// The place's id.
    pub id: StoreId,
    /// What it is called; a slot in it is said by each packet.
    pub name: String,
    /// How warm it usually is, in degrees Celsius, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub temperature_c: Option<f64>,
    /// Relative humidity of its air, in percent, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub humidity_percent: Option<f64>,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

impl StorePlace {
    /// Checks its texts and numbers.
    pub fn check(&self) -> Result<(), Fault> {
        check_name(Self::NAME, &self.name)?;
        check_text("the note", &self.note)?;
        if let Some(celsius) = self.temperature_c {
            check_number("the temperature in °C", celsius, STORE_C[0], STORE_C[1])?;
        }
        match self.humidity_percent {
            Some(percent) => check_number("the humidity in %", percent, 0.0, 100.0),
            None => Ok(()),
        }
    }
}

impl Record for StorePlace {
    type Id = StoreId;
    const NAME: &'static str = "storage place";

    fn id(&self) -> StoreId {
        self.id
    }

    fn place(id: StoreId) -> Place {
        Place::Store(id)
    }
}

/// When stored seed is to be tested again or grown anew. All of it is the grower's to change.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StorageRules {
    /// Seasons after its harvest, or after its last test, from which seed that is carried over is to be tested again.
    pub test_after: u8,
    /// Seasons after its harvest from which the last seed of a line is called old.
    pub old_after: u8,
    /// Fewer kernels than these are called few.
    pub few_kernels: u32,
    /// A lower germination in the last test, in percent, is called low.
    pub low_percent: u8,
}

impl StorageRules {
    /// Test again after two seasons, old after four, few below fifty kernels, low below 60 %. Common practice, no source.
    pub const COMMON: Self = Self {
        test_after: 2,
        old_after: 4,
        few_kernels: 50,
        low_percent: 60,
    };
    /// The most seasons that a rule can name.
    pub const MOST_SEASONS: u8 = 50;

    /// Says whether they are the usual ones.
    pub fn is_common(&self) -> bool {
        *self == Self::COMMON
    }

    /// Checks that they are possible.
    pub fn check(&self) -> Result<(), Fault> {
        let most = f64::from(Self::MOST_SEASONS);
        check_number(
            "the seasons until seed is tested again",
            f64::from(self.test_after),
            1.0,
            most,
        )?;
        check_number(
            "the seasons until seed is called old",
            f64::from(self.old_after),
            1.0,
            most,
        )?;
        check_number(
            "the kernels that are called few",
            f64::from(self.few_kernels),
            0.0,
            100_000.0,
        )?;
        check_number(
            "the germination that is called low, in %",
            f64::from(self.low_percent),
            0.0,
            100.0,
        )
    }
}

impl Default for StorageRules {
    fn default() -> Self {
        Self::COMMON
    }
}
