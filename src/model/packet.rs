//! Packets of kernels and their ledgers.

use super::ids::{EarId, ListId, PacketId, StoreId, TestId};
use super::problem::{Fault, Place, check_number, check_text};
use super::store_place::MOISTURE_PERCENT;
use super::table::Record;
use jiff::civil::Date;
use serde::{Deserialize, Serialize};

/// The most kernels that one ledger line takes.
pub const MOST_KERNELS: u32 = 1_000_000;

/// Why kernels came into a packet or went out of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum LedgerReason {
    /// Shelled from the ear into the packet.
    Shelled,
    /// Came with the ear from another project.
    Brought,
    /// Counted again; the line is the difference to the earlier balance.
    Recounted,
    /// Laid in a test.
    Test(TestId),
    /// Planted.
    Planted,
    /// Planted as a frozen list says.
    PlantedFrom(ListId),
    /// Given away.
    Given,
    /// Lost or spoilt.
    Lost,
}

impl LedgerReason {
    /// Says whether somebody counted the packet's kernels.
    pub fn is_a_count(self) -> bool {
        matches!(self, Self::Shelled | Self::Brought | Self::Recounted)
    }

    /// Names the reason as it stands in a ledger.
    pub fn name(self) -> &'static str {
        match self {
            Self::Shelled => "shelled",
            Self::Brought => "came from another project",
            Self::Recounted => "counted again",
            Self::Test(_) => "laid in a test",
            Self::Planted | Self::PlantedFrom(_) => "planted",
            Self::Given => "given away",
            Self::Lost => "lost",
        }
    }
}

/// One line of a packet's ledger.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct LedgerLine {
    /// The day, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<Date>,
    /// Kernels in (positive) or out (negative).
    pub kernels: i32,
    /// Why.
    pub reason: LedgerReason,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// A physical envelope with kernels of one ear.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Packet {
    /// The packet's id.
    pub id: PacketId,
    /// The ear whose kernels it holds.
    pub ear: EarId,
    /// Where it lies, such as a box and a slot.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub location: String,
    /// The storage place that it is kept in, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub store: Option<StoreId>,
    /// Moisture of the kernels in percent of their fresh weight, if it was measured.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moisture_percent: Option<f64>,
    /// The day on which the moisture was measured, if known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moisture_on: Option<Date>,
    /// Kernels in and out, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ledger: Vec<LedgerLine>,
}

impl Packet {
    /// Makes a packet of an ear of which nothing is known yet.
    pub fn new(id: PacketId, ear: EarId) -> Self {
        Self {
            id,
            ear,
            location: String::new(),
            store: None,
            moisture_percent: None,
            moisture_on: None,
            ledger: Vec::new(),
        }
    }

    /// Gives the kernels in the packet now; `None` when they were never counted.
    pub fn balance(&self) -> Option<i64> {
        let counted = self.ledger.iter().any(|line| line.reason.is_a_count());
        counted.then(|| self.ledger.iter().map(|line| i64::from(line.kernels)).sum())
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        check_text("the packet's place", &self.location)?;
        if let Some(percent) = self.moisture_percent {
            let [least, most] = MOISTURE_PERCENT;
            check_number("the moisture of the seed in %", percent, least, most)?;
        }
        let mut balance = 0_i64;
        let mut counted = false;
        for line in &self.ledger {
            check_text("the ledger's note", &line.note)?;
            let limit = f64::from(MOST_KERNELS);
            check_number(
                "the kernels of a ledger line",
                f64::from(line.kernels),
                -limit,
                limit,
            )?;
            balance += i64::from(line.kernels);
            counted |= line.reason.is_a_count();
            // Kernels may leave a packet before anybody counted it: until then there is no balance to break.
            if counted && balance < 0 {
                let line = line.reason.name().to_owned();
                return Err(Fault::NegativeBalance {
                    packet: self.id.0,
                    balance,
                    line,
                });
            }
        }
        Ok(())
    }
}

impl Record for Packet {
    type Id = PacketId;
    const NAME: &'static str = "packet";

    fn id(&self) -> PacketId {
        self.id
    }

    fn place(id: PacketId) -> Place {
        Place::Packet(id)
    }
}
