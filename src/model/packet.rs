//! Packets of kernels and their ledgers.

use super::ids::{EarId, ListId, PacketId, TestId};
use super::problem::{Fault, Place, check_number, check_text};
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
        matches!(self, Self::Shelled | Self::Recounted)
    }

    /// Names the reason as it stands in a ledger.
    pub fn name(self) -> &'static str {
        match self {
            Self::Shelled => "shelled",
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
    /// Kernels in and out, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub ledger: Vec<LedgerLine>,
}

impl Packet {
    /// Gives the kernels in the packet now; `None` when they were never counted.
    pub fn balance(&self) -> Option<i64> {
        let counted = self.ledger.iter().any(|line| line.reason.is_a_count());
        counted.then(|| self.ledger.iter().map(|line| i64::from(line.kernels)).sum())
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        check_text("the packet's place", &self.location)?;
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
