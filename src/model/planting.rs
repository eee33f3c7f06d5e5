//! Planting from a frozen list: what that takes out of the packets.

use super::change::{Change, Transaction};
use super::command::find;
use super::ids::{EarId, ListId, PacketId};
use super::packet::{LedgerReason, Packet};
use super::planting_list::{ListEntry, PlantingList};
use super::problem::{Fault, Place, Problem};
use super::project::Project;
use super::withdrawals::Withdrawals;
use super::words::plural;
use jiff::civil::Date;
use std::collections::BTreeSet;

/// Kernels of an ear: how many lie in its packets, and for how many of them a planting list speaks.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Stock {
    /// Kernels in all packets; `None` when they were never counted.
    pub on_hand: Option<i64>,
    /// Kernels that the list in force has still to plant.
    pub reserved: u32,
}

impl Stock {
    /// Kernels that nothing speaks for, below 0 when the list wants more than there are; `None` when they were never
    /// counted.
    pub fn free(self) -> Option<i64> {
        Some(self.on_hand? - i64::from(self.reserved))
    }
}

impl Project {
    /// Kernels of an ear that were planted from a list.
    pub fn planted_from(&self, ear: EarId, list: ListId) -> i64 {
        let lines = self.packets_of(ear).flat_map(|packet| &packet.ledger);
        lines
            .filter(|line| line.reason == LedgerReason::PlantedFrom(list))
            .map(|line| -i64::from(line.kernels))
            .sum()
    }

    /// Says whether an entry of a list has been planted.
    pub fn is_planted(&self, list: &PlantingList, entry: &ListEntry) -> bool {
        let mut lines = self.packets_of(entry.ear).flat_map(|packet| &packet.ledger);
        lines.any(|line| line.reason == LedgerReason::PlantedFrom(list.id))
    }

    /// Gives the day on which an entry of a list was planted, if that was noted.
    pub fn planted_on(&self, list: &PlantingList, entry: &ListEntry) -> Option<Date> {
        let lines = self.packets_of(entry.ear).flat_map(|packet| &packet.ledger);
        let planted = lines.filter(|line| line.reason == LedgerReason::PlantedFrom(list.id));
        planted.filter_map(|line| line.on).min()
    }

    /// Kernels of an ear on hand, and of them those that the list in force of its season has still to plant. A list that
    /// was replaced reserves nothing.
    pub fn stock_of(&self, ear: EarId) -> Stock {
        let list = self
            .ears
            .get(ear)
            .and_then(|known| self.list_in_force(known.season));
        let entry = |list: &&PlantingList| list.entries.iter().any(|entry| entry.ear == ear);
        let reserved = list.filter(entry).map_or(0, |list| self.reserved_by(list, ear));
        Stock {
            on_hand: self.kernels_of(ear),
            reserved,
        }
    }

    /// Kernels of an ear that a list has still to plant.
    pub fn reserved_by(&self, list: &PlantingList, ear: EarId) -> u32 {
        let entry = list.entries.iter().find(|entry| entry.ear == ear);
        entry
            .filter(|entry| !self.is_planted(list, entry))
            .map_or(0, |entry| entry.plant)
    }
}

/// Takes what a list plants out of the packets: of some of its ears, or of all that are not planted yet. An ear without
/// a packet gets one, so that its planting is known.
pub(super) fn plant(
    project: &Project,
    list: ListId,
    ears: &[EarId],
    on: Date,
) -> Result<Transaction, Problem> {
    let list = in_force(project, list, "plant from that one")?;
    let refuse = |text: String| Err(Problem::new(Place::List(list.id), Fault::Mismatch(text)));
    let wanted: BTreeSet<EarId> = ears.iter().copied().collect();
    let mut packets = Withdrawals::for_list(project, list.id);
    let mut added = Vec::new();
    let mut next = project.packets.next_number();
    let mut planted = 0;
    for entry in &list.entries {
        if !wanted.is_empty() && !wanted.contains(&entry.ear) {
            continue;
        }
        if project.is_planted(list, entry) {
            if wanted.is_empty() {
                continue;
            }
            return refuse(format!(
                "ear {} was planted from this list already; undo that if it is wrong",
                entry.number
            ));
        }
        if project.packets_of(entry.ear).next().is_none() {
            let mut packet = Packet::new(PacketId(next), entry.ear);
            next += 1;
            packet.ledger.push(packets.line(i64::from(entry.plant), Some(on)));
            added.push(Change::add(packet));
        } else {
            packets.take(entry.ear, i64::from(entry.plant), Some(on));
        }
        planted += 1;
    }
    let listed: BTreeSet<EarId> = list.entries.iter().map(|entry| entry.ear).collect();
    if let Some(ear) = wanted.iter().find(|ear| !listed.contains(ear)) {
        let ear = find(&project.ears, *ear)?;
        return refuse(format!(
            "ear {} is not on this list; choose ears that are",
            ear.number
        ));
    }
    if planted == 0 {
        return refuse("everything on this list was planted already; undo that if it is wrong".to_owned());
    }
    let mut changes = packets.changes()?;
    changes.extend(added);
    let label = format!("Plant {} of list {}", plural(planted, "ear"), list.version);
    Ok(Transaction::new(label, changes))
}

/// Finds a list that nothing has replaced; of another one says what is to be done instead.
pub(super) fn in_force<'a>(
    project: &'a Project,
    list: ListId,
    instead: &str,
) -> Result<&'a PlantingList, Problem> {
    let list = find(&project.lists, list)?;
    let later = project
        .list_in_force(list.season)
        .filter(|later| later.id != list.id);
    let Some(later) = later else { return Ok(list) };
    let text = format!(
        "planting list {} was replaced by list {}; {instead}",
        list.version, later.version
    );
    Err(Problem::new(Place::List(list.id), Fault::Mismatch(text)))
}
